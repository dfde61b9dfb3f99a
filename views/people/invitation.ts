import { type Html, html } from '../html.ts';
import { type FormState, field, formNotice } from '../kit/field.ts';
import type { Show } from '../kit/show.ts';
import { doorMark, passphraseHint } from './door.ts';
import { roleText } from './roles.ts';
import type { TokenItem } from './tokens.ts';
import { tokensThen } from './tokensThen.ts';

/** Behind a one-time link: the person invited says who they are. */
export const invitationDoor = (props: {
  form: FormState;
  token: string;
  studioName: string;
  role: string;
}): Html => html`<section class="door">
  ${doorMark}<h1>${props.studioName}</h1><p class="lead">You are invited as ${roleText(props.role)}.</p>
  <form method="post" action="/invitation/${props.token}" class="stack">${formNotice(props.form)}
    ${field({
      name: 'name',
      label: 'Your name',
      form: props.form,
      required: true,
      autocomplete: 'username',
      autofocus: true,
      hint: 'As the log will say it, and as you will sign in.',
    })}
    ${field({
      name: 'passphrase',
      label: 'Passphrase',
      form: props.form,
      type: 'password',
      required: true,
      autocomplete: 'new-password',
      hint: passphraseHint,
    })}
    <button class="primary big">Come in</button>
  </form></section>`;

/** Behind a one-time link: another passphrase for somebody who lost theirs. */
export const passphraseDoor = (props: {
  form: FormState;
  token: string;
  studioName: string;
  personName: string;
  tokens: readonly Omit<TokenItem, 'personName'>[];
  show: Show;
}): Html => html`<section class="door">
  ${doorMark}<h1>${props.studioName}</h1><p class="lead">A new passphrase for ${
    props.personName
  }. Every other device signed in under this name is signed out.</p>
  <form method="post" action="/invitation/${props.token}" class="stack">${formNotice(props.form)}
    <input type="text" name="name" value="${
      props.personName
    }" autocomplete="username" class="visually-hidden" tabindex="-1" aria-hidden="true" readonly>
    ${field({
      name: 'passphrase',
      label: 'New passphrase',
      form: props.form,
      type: 'password',
      required: true,
      autocomplete: 'new-password',
      autofocus: true,
      hint: passphraseHint,
    })}
    ${tokensThen(props)}
    <button class="primary big">Save and come in</button>
  </form></section>`;
