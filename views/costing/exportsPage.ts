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
import { badge, emptyState, pageHead } from '../kit/pageHead.ts';
import { day } from '../kit/show.ts';
import type { ColumnDoc } from './historyPage.ts';

type Span = 'fixed' | 'thisMonth' | 'lastMonth' | 'thisYear' | 'lastYear' | 'everything';

export interface SavedExportItem {
  id: number;
  name: string;
  rows: 'lot' | 'costLine';
  format: 'csv' | 'xlsx';
  span: Span;
  from: string | null;
  to: string | null;
  order: string | null;
  columnCount: number;
}

const SPANS: Record<Span, string> = {
  thisMonth: 'this month',
  lastMonth: 'last month',
  thisYear: 'this year',
  lastYear: 'last year',
  everything: 'everything',
  fixed: 'fixed days',
};

const rowWords = { lot: 'one row a lot', costLine: 'one row a cost line' } as const;

const item = (e: SavedExportItem, mayWork: boolean): Html => html`<li class="panel saved-export"><h2>${e.name}</h2>
  <p>${rowWords[e.rows]} · ${e.columnCount === 0 ? 'all columns' : e.columnCount === 1 ? '1 column' : `${e.columnCount} columns`}${e.order && ` · order ${e.order}`}</p>
  <p>${badge({ label: SPANS[e.span], tone: 'plain' })} ${e.from === null && e.to === null ? 'whenever it was closed' : html`closed ${e.from && `from ${day(e.from)}`} ${e.to && `to ${day(e.to)}`}`}</p>
  <div class="actions">${(['xlsx', 'csv'] as const).map((f) => html`<a class="button ${f === e.format && 'primary'}" href="/exports/${e.id}/file.${f}" download>${f.toUpperCase()}<span class="visually-hidden"> of ${e.name}</span></a>`)}
  ${mayWork && html`<a class="button quiet" href="/exports/${e.id}/edit">Change<span class="visually-hidden"> ${e.name}</span></a><form method="post" action="/exports/${e.id}/removal"><button class="quiet">Forget<span class="visually-hidden"> ${e.name}</span></button></form>`}</div>
  <p class="fine">By a token: <code>/api/v1/exports/saved/${e.id}.${e.format}</code></p></li>`;

/** Files that are wanted again and again. */
export const exportsPage = (p: { exports: readonly SavedExportItem[]; mayWork: boolean }): Html => html`${pageHead({
  title: 'Saved exports',
  crumb: { href: '/history', label: 'Batch history' },
  lead: 'A file that is wanted every month, under one name and one address.',
  actions: p.mayWork && html`<a class="button primary" href="/exports/new">Save an export</a>`,
})}
${
  p.exports.length === 0
    ? emptyState({
        title: 'None saved yet',
        words:
          'Choose days, conditions and columns once. The file then comes by one press, or to a script by one address.',
        ...(p.mayWork ? { action: { href: '/exports/new', label: 'Save an export' } } : {}),
      })
    : html`<ul class="book-cards">${p.exports.map((e) => item(e, p.mayWork))}</ul>`
}`;

const columnChoice = (rows: 'lot' | 'costLine', columns: readonly ColumnDoc[], form: FormState): Html =>
  html`<details class="panel" ${form.typed['rows'] === rows && html`open`}><summary><h2>Columns of ${rowWords[rows]}</h2></summary>
  <p>Tick the ones wanted; none ticked means all.</p><div class="column-choice">${columns.map((c) => checkbox({ name: `${rows}.column.${c.name}`, label: html`<code>${c.name}</code>`, hint: html`${c.meaning}${c.unit && html` <span class="fine">${c.unit}</span>`}`, form }))}</div></details>`;

/** New, changed and refused in one. */
export const exportForm = (p: {
  form: FormState;
  savedId: number | null;
  choices: { customers: readonly Option[]; methods: readonly Option[]; fibres: readonly Option[] };
  columns: { lot: readonly ColumnDoc[]; costLine: readonly ColumnDoc[] };
}): Html => {
  const { form } = p;
  return html`${pageHead({ title: p.savedId === null ? 'Save an export' : 'Change an export', crumb: { href: '/exports', label: 'Saved exports' } })}
<form method="post" action="${p.savedId === null ? '/exports' : `/exports/${p.savedId}`}" class="stack">${formNotice(form)}
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
  ${selectField({ name: 'span', label: 'Days', form, options: Object.entries(SPANS).map(([value, label]) => ({ value, label })), required: true, hint: 'All but fixed days move with the calendar.' })}
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
