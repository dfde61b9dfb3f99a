import { type Html, html } from '../html.ts';
import { checkbox, choice, type FormState, field, formNotice, type Option, selectField } from '../kit/field.ts';
import { readabilityOptions } from '../settings/readability.ts';
import { doorMark, passphraseHint } from './door.ts';

export interface FirstRunProps {
  form: FormState;
  zones: readonly string[];
  currencies: readonly Option[];
}

/** The first-run page: one form from an empty folder to a studio. */
export const firstRunDoor = ({ form, zones, currencies }: FirstRunProps): Html => html`<section class="door wide">
  ${doorMark}<h1>A new studio</h1>
  <p class="lead">One form, then you are at the swatch wall. Everything here can be changed later in Settings.</p>
  <form method="post" action="/first-run" class="stack">${formNotice(form)}
    ${
      form.typed['code'] && !form.errors['code']
        ? html`<input type="hidden" name="code" value="${form.typed['code']}">`
        : html`<div class="notice">${field({
            name: 'code',
            label: 'One-time code',
            form,
            required: true,
            inputmode: 'numeric',
            autocomplete: 'one-time-code',
            hint: 'The six digits in the server’s terminal. The link there holds them.',
          })}</div>`
    }
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
      ${choice({
        name: 'readabilityMg',
        label: 'Your dye scale reads to',
        form,
        options: readabilityOptions,
        hint: 'The last digit it shows. Weigh-ups are rounded to it.',
      })}
    </div></fieldset>
    <fieldset class="panel"><legend>You</legend><div class="grid">
      ${field({ name: 'ownerName', label: 'Your name', form, required: true, autocomplete: 'username' })}
      ${field({
        name: 'passphrase',
        label: 'Passphrase',
        form,
        type: 'password',
        required: true,
        autocomplete: 'new-password',
        hint: passphraseHint,
      })}
    </div></fieldset>
    ${checkbox({
      name: 'sample',
      label: html`<b>Start with the sample studio</b>: an invented dye works with swatches, recipes, orders and a year
        of lots, to look round in.`,
      form,
    })}
    <button class="primary big">Open the studio</button>
  </form></section>`;
