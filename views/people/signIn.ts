import { type Html, html } from '../html.ts';
import { type FormState, field, formNotice } from '../kit/field.ts';
import { doorMark } from './door.ts';

/** Sign in. `to` is a path of ours where the visitor wanted to go. */
export const signInDoor = (props: {
  form: FormState;
  to: string;
  studioName: string;
}): Html => html`<section class="door">
  ${doorMark}<h1>${props.studioName}</h1><p class="lead">Swatch library and production log</p>
  <form method="post" action="/sign-in" class="stack">${formNotice(props.form)}
    <input type="hidden" name="to" value="${props.to}">
    ${field({
      name: 'name',
      label: 'Your name',
      form: props.form,
      required: true,
      autocomplete: 'username',
      autofocus: true,
    })}
    ${field({
      name: 'passphrase',
      label: 'Passphrase',
      form: props.form,
      type: 'password',
      required: true,
      autocomplete: 'current-password',
    })}
    <button class="primary big">Sign in</button>
  </form>
  <p class="apart"><a class="button quiet" href="/bench-device">This is a bench device: sign in with a
    code</a></p></section>`;
