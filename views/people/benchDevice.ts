import { type Html, html } from '../html.ts';
import { type FormState, field, formNotice } from '../kit/field.ts';
import { doorMark } from './door.ts';

/** A tablet or phone that stays at the bench signs in by the code on the owner’s screen. */
export const benchDoor = (props: { form: FormState; studioName: string }): Html => html`<section class="door">
  ${doorMark}<h1>${props.studioName}</h1><p class="lead">Bench device</p>
  <form method="post" action="/bench-device" class="stack">${formNotice(props.form)}
    ${field({
      name: 'code',
      label: 'Code',
      form: props.form,
      required: true,
      autocomplete: 'one-time-code',
      autofocus: true,
      placeholder: 'ABCD-2345',
      hint: 'The owner finds it under People, at this device’s name. It lasts ten minutes and works once.',
    })}
    <button class="primary big">Sign this device in</button>
  </form>
  <p class="apart"><a class="button quiet" href="/sign-in">Sign in with a name instead</a></p></section>`;
