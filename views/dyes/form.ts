import { type Html, html } from '../html.ts';
import { choice, type FormState, field, formNotice, type Option, selectField } from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';
import { safetyFields } from '../kit/safety.ts';

export const dyeClassOptions: readonly Option[] = [
  { value: 'reactive', label: 'fibre-reactive (cotton, linen, viscose, silk)' },
  { value: 'acid', label: 'acid (wool, silk, nylon)' },
  { value: 'metalComplex', label: 'metal-complex (wool, silk, nylon)' },
  { value: 'direct', label: 'direct (cellulose)' },
  { value: 'basic', label: 'basic (acrylic, tannined cellulose)' },
  { value: 'disperse', label: 'disperse (polyester, acetate)' },
  { value: 'vat', label: 'vat (indigo and its kin)' },
  { value: 'natural', label: 'natural' },
];

/** New, edit and refused are this one form. */
export const dyeForm = (props: { form: FormState; dyeId: number | null; name: string | null }): Html => {
  const { form } = props;
  const at = props.dyeId === null ? '/dyes' : `/dyes/${props.dyeId}`;
  return html`${pageHead({
    title: props.name ?? 'New dye',
    crumb: props.dyeId === null ? { href: '/dyes', label: 'Dyes' } : { href: at, label: props.name ?? 'Dye' },
  })}
<form method="post" action="${at}" class="stack">${formNotice(form)}
  <input type="hidden" name="version" value="${form.typed['version'] ?? ''}">
  <fieldset class="panel"><legend>The dye</legend><div class="grid">
    ${field({ name: 'name', label: 'Name', form, required: true, autofocus: props.dyeId === null })}
    ${field({
      name: 'code',
      label: 'Short code',
      form,
      required: true,
      size: 'short',
      hint: 'On cards, jars and lines of a weigh-up. Each dye has its own.',
    })}
    ${selectField({ name: 'class', label: 'Class', form, options: dyeClassOptions, required: true })}
    ${field({
      name: 'ciName',
      label: 'C.I. generic name',
      form,
      placeholder: 'C.I. Reactive Blue 21',
      hint: 'From the jar or its data sheet, where it is known.',
    })}
    ${choice({
      name: 'colourant',
      label: 'Colourant',
      form,
      options: [
        { value: 'single', label: 'Single' },
        { value: 'mixed', label: 'Shop-mixed' },
      ],
      hint: 'A shop-mixed blend may split on the goods and cannot be predicted as one.',
    })}
    ${field({
      name: 'shownHex',
      label: 'Colour of its chip',
      form,
      placeholder: '#2f7f8c',
      size: 'short',
      hint: 'Only for finding it on screen; it is no measurement.',
    })}
  </div></fieldset>
  <fieldset class="panel"><legend>Depth on weight of goods</legend><div class="grid">
    ${field({ name: 'pale', label: 'Pale', form, unit: '%', inputmode: 'decimal', size: 'short' })}
    ${field({ name: 'medium', label: 'Medium', form, unit: '%', inputmode: 'decimal', size: 'short' })}
    ${field({ name: 'deep', label: 'Deep', form, unit: '%', inputmode: 'decimal', size: 'short' })}
    ${field({
      name: 'solutionLifeDays',
      label: 'Its stock solution keeps',
      form,
      unit: 'days',
      inputmode: 'numeric',
      size: 'short',
      hint: 'Sets the best-before day of solutions. Sheets differ widely: trust your own.',
    })}
  </div></fieldset>
  ${safetyFields(form, 'H317 H334')}
  <p><button class="primary">Save</button> <a class="button quiet" href="${at}">Cancel</a></p>
</form>`;
};
