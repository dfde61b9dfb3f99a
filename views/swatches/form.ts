import { type Html, html } from '../html.ts';
import { type FormState, field, formNotice, type Option, selectField } from '../kit/field.ts';
import { emptyState, pageHead } from '../kit/pageHead.ts';
import { cardFields } from './cardFields.ts';
import { readingFields } from './readingFields.ts';

interface SwatchChoices {
  revisions: readonly Option[];
  fibres: readonly Option[];
  methods: readonly Option[];
  containers: readonly Option[];
}

export const photoField = (form: FormState, hint: string): Html =>
  field({ name: 'photo', label: 'Photo', form, type: 'file', hint });

const containerRow = (form: FormState, n: number, options: readonly Option[]): Html =>
  selectField({ name: `stockLot.${n}`, label: `Container ${n + 1}`, form, options, none: 'not noted' });

/** A new swatch; a refused one is the same form with its messages. */
export const newSwatchForm = (props: { form: FormState; choices: SwatchChoices }): Html => {
  const { form, choices } = props;
  const head = pageHead({
    title: 'New swatch',
    crumb: { href: '/swatches', label: 'Swatch library' },
    lead: 'One dyed sample: its formula, its goods, its method, and the colour that came of it.',
  });
  const missing = [
    choices.revisions.length === 0 ? html`<a href="/recipes/new">a recipe</a>` : null,
    choices.fibres.length === 0 ? html`<a href="/fibres/new">goods</a>` : null,
    choices.methods.length === 0 ? html`<a href="/methods/new">a method</a>` : null,
  ].filter((x) => x !== null);
  if (missing.length > 0) {
    return html`${head}${emptyState({
      title: 'Something is needed first',
      words: html`A swatch stands on a recipe, goods and a method. Add
        ${missing.map((m, i) => html`${i > 0 && ' and '}${m}`)}, then come back.`,
    })}`;
  }
  const containers = Math.max(
    3,
    ...Object.keys(form.typed).map((name) => Number(/^stockLot\.(\d+)$/.exec(name)?.[1] ?? -1) + 1),
  );
  return html`${head}
<form method="post" action="/swatches" enctype="multipart/form-data" class="stack">${formNotice(form)}
  <fieldset class="panel"><legend>The card</legend><div class="grid">
    ${field({ name: 'name', label: 'Name', form, required: true, placeholder: 'Reed, wet slate, old brick' })}
    ${field({ name: 'code', label: 'Card number', form, required: true, size: 'short' })}
    ${field({ name: 'cardPlace', label: 'Where the card is kept', form, placeholder: 'ring 3, box “blues”' })}
    ${field({ name: 'dyedOn', label: 'Dyed on', form, type: 'date', required: true, size: 'short' })}
  </div></fieldset>
  <fieldset class="panel"><legend>How it was dyed</legend><div class="grid">
    ${selectField({
      name: 'revisionId',
      label: 'Recipe',
      form,
      options: choices.revisions,
      required: true,
      none: 'choose',
      hint: html`Not there? <a href="/recipes/new">Write the recipe first</a>.`,
    })}
    ${field({
      name: 'depth',
      label: 'Depth',
      form,
      unit: '% owg',
      inputmode: 'decimal',
      size: 'short',
      required: true,
      hint: 'All dyes together, on weight of goods.',
    })}
    ${selectField({ name: 'fibreId', label: 'Goods', form, options: choices.fibres, required: true, none: 'choose' })}
    ${selectField({
      name: 'methodId',
      label: 'Method',
      form,
      options: choices.methods,
      required: true,
      none: 'choose',
    })}
    ${field({ name: 'dryMass', label: 'Dry mass of the sample', form, placeholder: '10 g', size: 'short' })}
  </div></fieldset>
  <fieldset class="panel"><legend>Its colour</legend>${readingFields(form)}
    <div class="grid">${photoField(form, 'JPEG, PNG, WebP or AVIF. Where it was taken is not kept.')}</div></fieldset>
  <fieldset class="panel"><legend>Also worth noting</legend><div class="grid container-rows">
    ${Array.from({ length: containers }, (_, n) => containerRow(form, n, choices.containers))}</div>
    ${form.errors['stockLotIds'] && html`<p class="field-error">${form.errors['stockLotIds']}</p>`}
    <div class="grid">${cardFields(form, 'what went well, what to do differently')}</div></fieldset>
  <p><button class="primary big">Keep the swatch</button></p>
</form>`;
};
