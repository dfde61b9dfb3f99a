import { type Html, html } from '../html.ts';
import { checkbox, choice, type FormState, field, formNotice, type Option, selectField } from '../kit/field.ts';

export const doorMark = html`<svg class="door-mark" viewBox="0 0 64 64" aria-hidden="true"><path d="M8 6h36l12 12v40H8z" /><circle cx="43" cy="19" r="4" /></svg>`;

export const passphraseHint = 'Twelve characters or more. Four unrelated words are good.';

export const readabilityOptions: readonly Option[] = [
  { value: '1000', label: '1 g' },
  { value: '100', label: '0.1 g' },
  { value: '10', label: '0.01 g' },
  { value: '1', label: '0.001 g' },
];

/** Sign in. `to` is a path of ours where the visitor wanted to go. */
export const signInDoor = (props: {
  form: FormState;
  to: string;
  studioName: string;
}): Html => html`<section class="door">
  ${doorMark}<h1>${props.studioName}</h1><p class="lead">Swatch library and production log</p>
  <form method="post" action="/sign-in" class="stack">${formNotice(props.form)}
    <input type="hidden" name="to" value="${props.to}">
    ${field({ name: 'name', label: 'Your name', form: props.form, required: true, autocomplete: 'username', autofocus: true })}
    ${field({ name: 'passphrase', label: 'Passphrase', form: props.form, type: 'password', required: true, autocomplete: 'current-password' })}
    <button class="primary big">Sign in</button>
  </form>
  <p class="apart"><a class="button quiet" href="/bench-device">This is a bench device: sign in with a code</a></p></section>`;

export interface FirstRunProps {
  form: FormState;
  asksCode: boolean;
  zones: readonly string[];
  currencies: readonly Option[];
}

/** The first-run page: one form from an empty folder to a studio. */
export const firstRunDoor = ({
  form,
  asksCode,
  zones,
  currencies,
}: FirstRunProps): Html => html`<section class="door wide">
  ${doorMark}<h1>A new studio</h1>
  <p class="lead">One form, then you are at the swatch wall. Everything here can be changed later in Settings.</p>
  <form method="post" action="/first-run" class="stack">${formNotice(form)}
    ${asksCode && html`<div class="notice">${field({ name: 'code', label: 'One-time code', form, required: true, inputmode: 'numeric', hint: 'You are on another device than the server. The six digits stand in its terminal.' })}</div>`}
    <fieldset class="panel"><legend>The studio</legend><div class="grid">
      ${field({ name: 'studioName', label: 'Name of the studio', form, required: true, autofocus: true })}
      ${selectField({ name: 'currency', label: 'Currency', form, options: currencies, required: true })}
      ${field({ name: 'zone', label: 'Time zone', form, required: true, list: 'zones' })}
      <datalist id="zones">${zones.map((z) => html`<option value="${z}"></option>`)}</datalist>
      ${choice({
        name: 'units',
        label: 'Units on screen',
        form,
        options: [
          { value: 'metric', label: 'Metric (g, mL)' },
          { value: 'us', label: 'US (lb, oz, gal)' },
        ],
        hint: 'You can type either, anywhere.',
      })}
      ${choice({ name: 'readabilityMg', label: 'Your dye scale reads to', form, options: readabilityOptions, hint: 'The last digit it shows. Weigh-ups are rounded to it.' })}
    </div></fieldset>
    <fieldset class="panel"><legend>You</legend><div class="grid">
      ${field({ name: 'ownerName', label: 'Your name', form, required: true, autocomplete: 'username' })}
      ${field({ name: 'passphrase', label: 'Passphrase', form, type: 'password', required: true, autocomplete: 'new-password', hint: passphraseHint })}
    </div></fieldset>
    ${checkbox({ name: 'sample', label: html`<b>Start with the sample studio</b>: an invented dye works with swatches, recipes, orders and a year of lots, to look round in.`, form })}
    <button class="primary big">Open the studio</button>
  </form></section>`;

const roleWords: Readonly<Record<string, string>> = {
  owner: 'owner: everything, the people and the backups too',
  dyer: 'dyer: plan, log, change the library and the stock',
  viewer: 'viewer: look at everything, change nothing',
  bench: 'bench device: log what happens at the bench',
};

/** What a role may do, in words. */
export const roleText = (role: string): string => roleWords[role] ?? role;

/** Behind a one-time link: the person invited says who they are. */
export const invitationDoor = (props: {
  form: FormState;
  token: string;
  studioName: string;
  role: string;
}): Html => html`<section class="door">
  ${doorMark}<h1>${props.studioName}</h1><p class="lead">You are invited as ${roleText(props.role)}.</p>
  <form method="post" action="/invitation/${props.token}" class="stack">${formNotice(props.form)}
    ${field({ name: 'name', label: 'Your name', form: props.form, required: true, autocomplete: 'username', autofocus: true, hint: 'As the log will say it, and as you will sign in.' })}
    ${field({ name: 'passphrase', label: 'Passphrase', form: props.form, type: 'password', required: true, autocomplete: 'new-password', hint: passphraseHint })}
    <button class="primary big">Come in</button>
  </form></section>`;

/** Behind a one-time link: another passphrase for somebody who lost theirs. */
export const passphraseDoor = (props: {
  form: FormState;
  token: string;
  studioName: string;
  personName: string;
}): Html => html`<section class="door">
  ${doorMark}<h1>${props.studioName}</h1><p class="lead">A new passphrase for ${props.personName}. Every other device signed in under this name is signed out.</p>
  <form method="post" action="/invitation/${props.token}" class="stack">${formNotice(props.form)}
    <input type="text" name="name" value="${props.personName}" autocomplete="username" class="visually-hidden" tabindex="-1" aria-hidden="true" readonly>
    ${field({ name: 'passphrase', label: 'New passphrase', form: props.form, type: 'password', required: true, autocomplete: 'new-password', autofocus: true, hint: passphraseHint })}
    <button class="primary big">Save and come in</button>
  </form></section>`;

/** A tablet or phone that stays at the bench signs in by the code on the owner’s screen. */
export const benchDoor = (props: { form: FormState; studioName: string }): Html => html`<section class="door">
  ${doorMark}<h1>${props.studioName}</h1><p class="lead">Bench device</p>
  <form method="post" action="/bench-device" class="stack">${formNotice(props.form)}
    ${field({ name: 'code', label: 'Code', form: props.form, required: true, autocomplete: 'one-time-code', autofocus: true, placeholder: 'ABCD-2345', hint: 'The owner finds it under People, at this device’s name. It lasts ten minutes and works once.' })}
    <button class="primary big">Sign this device in</button>
  </form>
  <p class="apart"><a class="button quiet" href="/sign-in">Sign in with a name instead</a></p></section>`;
