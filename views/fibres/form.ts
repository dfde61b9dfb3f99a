import { type Html, html } from '../html.ts';
import { choice, type FormState, field, formNotice, type Option, selectField, textArea } from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';

export const fibreClassOptions: readonly Option[] = [
  { value: 'cellulose', label: 'cellulose (cotton, linen, hemp, viscose)' },
  { value: 'protein', label: 'protein (wool, silk)' },
  { value: 'polyamide', label: 'polyamide (nylon)' },
  { value: 'polyester', label: 'polyester' },
  { value: 'acetate', label: 'acetate' },
  { value: 'acrylic', label: 'acrylic' },
  { value: 'blend', label: 'blend' },
];

/** New, edit and refused are this one form. */
export const fibreForm = (props: {
  form: FormState;
  fibreId: number | null;
  name: string | null;
  currency: string;
}): Html => {
  const { form } = props;
  return html`${pageHead({ title: props.name ?? 'New fibre', crumb: { href: '/fibres', label: 'Fibres' } })}
<form method="post" action="${props.fibreId === null ? '/fibres' : `/fibres/${props.fibreId}`}"
  class="stack">${formNotice(form)}
  <input type="hidden" name="version" value="${form.typed['version'] ?? ''}">
  <fieldset class="panel"><legend>The goods</legend><div class="grid">
    ${field({ name: 'name', label: 'Name', form, required: true, autofocus: props.fibreId === null })}
    ${selectField({ name: 'class', label: 'Fibre class', form, options: fibreClassOptions, required: true })}
    ${choice({
      name: 'kind',
      label: 'Kind',
      form,
      options: [
        { value: 'cloth', label: 'Cloth' },
        { value: 'yarn', label: 'Yarn' },
      ],
    })}
    ${field({
      name: 'construction',
      label: 'Construction',
      form,
      placeholder: 'plain weave, 2/2 twill, single jersey',
    })}
    ${field({
      name: 'costPerKg',
      label: 'Cost per kg',
      form,
      unit: props.currency,
      inputmode: 'decimal',
      size: 'short',
    })}
  </div></fieldset>
  <fieldset class="panel"><legend>Cloth</legend><div class="grid">
    ${field({
      name: 'arealMass',
      label: 'Mass per area',
      form,
      unit: 'g/m²',
      size: 'short',
      hint: 'Or type 5 oz/yd², or 16 momme.',
    })}
    ${field({ name: 'width', label: 'Width', form, placeholder: '140 cm', size: 'short' })}
  </div></fieldset>
  <fieldset class="panel"><legend>Yarn</legend><div class="grid">
    ${field({
      name: 'countText',
      label: 'Count, as on the label',
      form,
      placeholder: 'Nm 2/30',
      size: 'short',
      hint: 'Kept as typed: 2/30 and 30/2 both occur.',
    })}
    ${field({ name: 'putUpMass', label: 'Mass of a put-up', form, placeholder: '100 g', size: 'short' })}
    ${field({ name: 'putUpLength', label: 'Length of a put-up', form, placeholder: '400 m', size: 'short' })}
  </div></fieldset>
  <fieldset class="panel"><legend>In the wash and in the bath</legend><div class="grid">
    ${field({
      name: 'regain',
      label: 'Regain',
      form,
      unit: '%',
      inputmode: 'decimal',
      size: 'short',
      hint: 'Water on oven-dry mass: cotton 8.5, flax 12, silk 11, carded wool 13.6 (US) or 17 (EU). Needed for damp goods.',
    })}
    ${field({
      name: 'shrinkLength',
      label: 'Shrinks lengthwise',
      form,
      unit: '%',
      inputmode: 'decimal',
      size: 'short',
    })}
    ${field({ name: 'shrinkWidth', label: 'Shrinks widthwise', form, unit: '%', inputmode: 'decimal', size: 'short' })}
    ${field({
      name: 'uptake',
      label: 'Dye needed against the library cloth',
      form,
      unit: '%',
      inputmode: 'decimal',
      size: 'short',
      hint: '100 when it takes the dye as your swatch cloth does; 120 when it needs a fifth more for the same shade.',
    })}
    ${textArea({ name: 'note', label: 'Note', form })}
  </div></fieldset>
  <button class="primary">Save</button> <a class="button quiet" href="/fibres">Leave it</a>
</form>`;
};
