import type { ColumnDoc } from '../../server/exports/schemas.ts';
import { type Html, html } from '../html.ts';
import {
  checkbox,
  choice,
  type FormState,
  field,
  fieldError,
  formNotice,
  type Option,
  selectField,
} from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';
import { rowWords, SPANS } from './list.ts';

const columnChoice = (rows: 'lot' | 'costLine', columns: readonly ColumnDoc[], form: FormState): Html =>
  html`<details class="panel" ${form.typed['rows'] === rows && html`open`}><summary><h2>Columns of ${
    rowWords[rows]
  }</h2></summary>
  <p>Tick the ones wanted; none ticked means all.</p><div class="column-choice">${columns.map((c) =>
    checkbox({
      name: `${rows}.column.${c.name}`,
      label: html`<code>${c.name}</code>`,
      hint: html`${c.meaning}${c.unit && html` <span class="fine">${c.unit}</span>`}`,
      form,
    }),
  )}</div></details>`;

/** New, changed and refused in one. */
export const exportForm = (p: {
  form: FormState;
  savedId: number | null;
  choices: { customers: readonly Option[]; methods: readonly Option[]; fibres: readonly Option[] };
  columns: { lot: readonly ColumnDoc[]; costLine: readonly ColumnDoc[] };
}): Html => {
  const { form } = p;
  return html`${pageHead({
    title: p.savedId === null ? 'Save an export' : 'Change an export',
    crumb: { href: '/exports', label: 'Saved exports' },
  })}
<form method="post" action="${p.savedId === null ? '/exports' : `/exports/${p.savedId}`}" class="stack">${formNotice(
    form,
  )}
<input type="hidden" name="version" value="${form.typed['version'] ?? '1'}">
<section class="panel"><div class="grid">
  ${field({ name: 'name', label: 'Name', form, required: true })}
  ${choice({
    name: 'rows',
    label: 'Rows',
    form,
    options: [
      { value: 'lot', label: 'one a lot' },
      { value: 'costLine', label: 'one a cost line' },
    ],
  })}
  ${choice({
    name: 'format',
    label: 'File',
    form,
    options: [
      { value: 'xlsx', label: 'XLSX' },
      { value: 'csv', label: 'CSV' },
    ],
  })}
  ${selectField({
    name: 'span',
    label: 'Days',
    form,
    options: Object.entries(SPANS).map(([value, label]) => ({ value, label })),
    required: true,
    hint: 'All but fixed days move with the calendar.',
  })}
  ${field({ name: 'from', label: 'From, of fixed days', form, type: 'date' })}
  ${field({ name: 'to', label: 'To, that day included', form, type: 'date' })}
  ${field({ name: 'order', label: 'Order no.', form, size: 'short' })}
  ${selectField({ name: 'customerId', label: 'Customer', form, options: p.choices.customers, none: 'any' })}
  ${selectField({ name: 'methodId', label: 'Method', form, options: p.choices.methods, none: 'any' })}
  ${selectField({ name: 'fibreId', label: 'Fibre', form, options: p.choices.fibres, none: 'any' })}
</div>${fieldError('columns', form)}</section>
${columnChoice('lot', p.columns.lot, form)}${columnChoice('costLine', p.columns.costLine, form)}
<p><button class="primary">Save</button></p></form>`;
};
