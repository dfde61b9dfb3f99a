import { type Html, html } from '../html.ts';
import { type FormState, field, formNotice, type Option, selectField, type Typed } from '../kit/field.ts';
import { otherVersion } from '../kit/otherVersion.ts';
import { pageHead } from '../kit/pageHead.ts';

export interface LineChoices {
  fibres: readonly { id: number; name: string }[];
  swatches: readonly { code: string; name: string }[];
  recipes: readonly { name: string }[];
  currency: string;
}

const toleranceOptions: readonly Option[] = [
  { value: 'by eye', label: 'by eye' },
  { value: 'CIEDE2000', label: 'CIEDE2000' },
  { value: 'CMC(2:1)', label: 'CMC(2:1)' },
  { value: 'CMC(1:1)', label: 'CMC(1:1)' },
  { value: 'CIE76', label: 'CIE76' },
];

const LABELS = {
  description: 'What',
  fibreId: 'Goods',
  pieces: 'Pieces',
  dryMass: 'Dry mass',
  wantedSwatch: 'Like the swatch',
  wantedRecipe: 'By the recipe',
  wantedNote: 'In words',
  toleranceFormula: 'May differ, measured by',
  toleranceLimit: 'Up to',
  price: 'Price',
} as const;

/** Suggestions for codes and names; others can be typed. */
export const suggestions = (choices: LineChoices): Html =>
  html`<datalist id="swatch-codes">${choices.swatches.map(
    (s) => html`<option value="${s.code}">${s.name}</option>`,
  )}</datalist>
<datalist id="recipe-names">${choices.recipes.map((r) => html`<option value="${r.name}"></option>`)}</datalist>`;

/** The fields of one line; `row` puts it into a repeated group. */
export const lineFields = (form: FormState, choices: LineChoices, row: number | null): Html => {
  const at = (name: string): string => (row === null ? name : `${name}.${row}`);
  return html`<div class="grid line-grid">
  ${field({
    name: at('description'),
    label: LABELS.description,
    form,
    placeholder: '24 napkins, hemmed',
    size: 'wide',
  })}
  ${selectField({
    name: at('fibreId'),
    label: LABELS.fibreId,
    form,
    none: 'not said',
    options: choices.fibres.map((f) => ({ value: String(f.id), label: f.name })),
  })}
  ${field({ name: at('pieces'), label: LABELS.pieces, form, inputmode: 'numeric', size: 'short' })}
  ${field({ name: at('dryMass'), label: LABELS.dryMass, form, placeholder: '1.2 kg', size: 'short' })}
  ${field({
    name: at('price'),
    label: LABELS.price,
    form,
    unit: choices.currency,
    inputmode: 'decimal',
    size: 'short',
  })}
  ${field({
    name: at('wantedSwatch'),
    label: LABELS.wantedSwatch,
    form,
    list: 'swatch-codes',
    placeholder: 'its code',
  })}
  ${field({
    name: at('wantedRecipe'),
    label: LABELS.wantedRecipe,
    form,
    list: 'recipe-names',
    placeholder: 'its name',
  })}
  ${field({ name: at('wantedNote'), label: LABELS.wantedNote, form, placeholder: 'a shade deeper, a touch greener' })}
  ${selectField({
    name: at('toleranceFormula'),
    label: LABELS.toleranceFormula,
    form,
    none: 'nothing agreed',
    options: toleranceOptions,
  })}
  ${field({
    name: at('toleranceLimit'),
    label: LABELS.toleranceLimit,
    form,
    inputmode: 'decimal',
    size: 'short',
    placeholder: '1.5',
  })}
</div>`;
};

/** One line of an order, new or changed. */
export const orderLineForm = (props: {
  form: FormState;
  order: { id: number; number: string };
  orderLineId: number | null;
  choices: LineChoices;
  current: Typed | null;
  mayRemove: boolean;
}): Html => {
  const { form, order, orderLineId } = props;
  return html`${pageHead({
    title: orderLineId === null ? html`Another line for order ${order.number}` : html`A line of order ${order.number}`,
    crumb: { href: `/orders/${order.id}`, label: `Order ${order.number}` },
  })}
${props.current && otherVersion({ typed: form.typed, current: props.current, labels: LABELS })}
<form method="post" action="${orderLineId === null ? `/orders/${order.id}/lines` : `/order-lines/${orderLineId}`}"
  class="stack">${formNotice(form)}
  <input type="hidden" name="version" value="${props.current?.['version'] ?? ''}">
  <fieldset class="panel"><legend>What is wanted</legend>${lineFields(form, props.choices, null)}</fieldset>
  ${suggestions(props.choices)}
  <p class="actions"><button class="primary">Save the line</button></p></form>
${
  props.mayRemove &&
  orderLineId !== null &&
  html`<form method="post"
  action="/order-lines/${orderLineId}/removal"><button class="quiet">Take this line out of the order</button></form>`
}`;
};
