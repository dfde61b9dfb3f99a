import { type Html, html } from '../html.ts';
import {
  checkbox,
  choice,
  type FormState,
  field,
  formNotice,
  type Option,
  selectField,
  textArea,
} from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';
import { readingFields } from '../swatches/readingFields.ts';

/** A finished lot goes back into the library: its formula, goods, method and containers are taken over as they were. */
export const lotSwatchPage = (p: {
  lotId: number;
  number: string;
  colours: readonly Option[];
  hasReading: boolean;
  form: FormState;
}): Html => html`${pageHead({
  title: `Swatch of lot ${p.number}`,
  crumb: { href: `/lots/${p.lotId}`, label: `Lot ${p.number}` },
  lead: 'Formula, goods, method and containers come from the lot, at the depth that was really weighed.',
})}
<form method="post" action="/lots/${p.lotId}/swatch" enctype="multipart/form-data" class="stack">${formNotice(p.form)}
  <fieldset class="panel"><legend>The card</legend><div class="grid">
    ${selectField({
      name: 'lotColourId',
      label: 'Colour of the lot',
      form: p.form,
      options: p.colours,
      required: true,
    })}
    ${field({ name: 'name', label: 'Name', form: p.form, required: true })}
    ${field({ name: 'code', label: 'Card number', form: p.form, required: true, size: 'short' })}
    ${field({ name: 'cardPlace', label: 'Where the card is kept', form: p.form, placeholder: 'ring 3, box “blues”' })}
    ${field({ name: 'dyedOn', label: 'Dyed on', form: p.form, type: 'date', required: true, size: 'short' })}
    ${field({ name: 'dryMass', label: 'Dry mass of the sample', form: p.form, placeholder: '10 g', size: 'short' })}
  </div></fieldset>
  <fieldset class="panel"><legend>Its colour</legend>${
    p.hasReading &&
    checkbox({
      name: 'takeReading',
      label: 'Take over the reading of the lot',
      form: p.form,
    })
  }${readingFields(p.form)}
  <div class="grid">${field({ name: 'photo', label: 'Photo', form: p.form, type: 'file' })}</div></fieldset>
  <fieldset class="panel"><legend>Also worth noting</legend><div class="grid">
    ${choice({
      name: 'rating',
      label: 'Rating',
      form: p.form,
      options: [
        { value: '', label: 'none' },
        ...[1, 2, 3, 4, 5].map((n) => ({ value: String(n), label: '★'.repeat(n) })),
      ],
    })}
    ${textArea({ name: 'note', label: 'Note', form: p.form })}</div></fieldset>
  <button class="primary big">Keep the swatch</button>
</form>`;
