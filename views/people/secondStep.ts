import { type Html, html } from '../html.ts';
import { type FormState, field, fieldError } from '../kit/field.ts';
import { doorMark } from './door.ts';

/** A form that a passkey answers: its script asks the browser with these options and puts the answer into the form. */
export const passkeyForm = (p: {
  action: string;
  does: 'make' | 'use';
  options: string;
  form: FormState;
  fields?: Html;
  label: string;
}): Html => html`<form method="post" action="${p.action}" class="stack" data-passkey="${p.does}"
  data-options="${p.options}">
    <input type="hidden" name="answer" value="">${p.fields}
    <p class="field-error" data-passkey-words role="alert" hidden></p>${fieldError('answer', p.form)}
    <button class="primary big">${p.label}</button></form>`;

/** Between passphrase and studio. */
export const secondStepDoor = (p: {
  form: FormState;
  studioName: string;
  name: string;
  /** What the browser needs to ask for a passkey; null where none answers here. */
  options: string | null;
  hasApp: boolean;
}): Html => html`<section class="door">
  ${doorMark}<h1>${p.studioName}</h1><p class="lead">The second step for ${p.name}</p>
  ${p.form.errors[''] && html`<div class="notice bad apart" role="alert"><p>${p.form.errors['']}</p></div>`}
  ${
    p.options !== null &&
    html`${passkeyForm({
      action: '/second-step/passkey',
      does: 'use',
      options: p.options,
      form: p.form,
      label: 'Use your passkey',
    })}<p class="apart">or</p>`
  }
  <form method="post" action="/second-step" class="stack">
    ${field({
      name: 'code',
      label: 'Code',
      form: p.form,
      required: true,
      autocomplete: 'one-time-code',
      autofocus: p.options === null,
      hint: p.hasApp
        ? 'Six digits from the app on your phone, or one of the codes on paper.'
        : 'One of the codes on paper.',
    })}
    <button class="${p.options === null ? 'primary big' : ''}">Come in</button>
  </form>
  <p class="apart"><a href="/sign-in">Begin again</a></p>
  <p class="fine">Phone and paper both lost? An owner can end your second step under People. The only owner finds the
    way in the guide’s section on people.</p></section>`;
