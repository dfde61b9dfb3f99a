import { type Html, html } from '../html.ts';
import { choice, type FormState, field, fieldError } from '../kit/field.ts';

const readingRow = (form: FormState, n: number): Html =>
  html`<div class="reading-row">${field({
    name: `colour.${n}`,
    label: 'Colour',
    form,
    placeholder: '52.1 -8 -14 or #3a6b88',
  })}${field({
    name: `share.${n}`,
    label: 'Share of the area',
    form,
    unit: '%',
    inputmode: 'decimal',
    size: 'short',
  })}</div>`;

/** Fields for colours that are typed in; also part of the form of a new swatch. */
export const readingFields = (form: FormState): Html => {
  const typed = Object.keys(form.typed)
    .map((name) => /^(?:colour|share)\.(\d+)$/.exec(name)?.[1])
    .map((n) => Number(n ?? -1));
  const rows = Math.max(1, Math.min(12, Math.max(...typed, -1) + 1));
  return html`<div id="reading-rows"
    class="reading-rows">${Array.from({ length: rows }, (_, n) => readingRow(form, n))}</div>
  ${fieldError('readings', form)}
  <p><button type="button" class="quiet" data-add-row="reading-rows">One more colour</button></p>
  <p class="hint">L* a* b* as three numbers, or a colour code. Several colours with their shares for variegated goods;
    leave the share empty for even goods.</p>
  <div class="grid">${choice({
    name: 'readingSource',
    label: 'Got by',
    form,
    options: [
      { value: 'instrument', label: 'an instrument' },
      { value: 'typed', label: 'typed from elsewhere' },
    ],
  })}
  ${choice({
    name: 'illuminant',
    label: 'Light of L* a* b*',
    form,
    options: [
      { value: 'D65', label: 'D65' },
      { value: 'D50', label: 'D50' },
      { value: 'A', label: 'A' },
    ],
  })}
  ${choice({
    name: 'observer',
    label: 'Observer',
    form,
    options: [
      { value: '2', label: '2°' },
      { value: '10', label: '10°' },
    ],
    hint: 'Both stand on the instrument’s print-out. A colour code is always D65, 2°.',
  })}
  ${field({
    name: 'readingNote',
    label: 'Note on the reading',
    form,
    placeholder: 'four layers, black backing',
  })}</div>`;
};
