import type { SavedExport } from '../../server/exports/schemas.ts';
import { type Html, html } from '../html.ts';
import { badge, emptyState, pageHead } from '../kit/pageHead.ts';
import { day } from '../kit/show.ts';

type SavedExportItem = Pick<SavedExport, 'name' | 'rows' | 'format' | 'span' | 'from' | 'to'> & {
  id: number;
  order: string | null;
  columnCount: number;
};

export const SPANS: Record<SavedExport['span'], string> = {
  thisMonth: 'this month',
  lastMonth: 'last month',
  thisYear: 'this year',
  lastYear: 'last year',
  everything: 'everything',
  fixed: 'fixed days',
};

export const rowWords = { lot: 'one row a lot', costLine: 'one row a cost line' } as const;

const item = (e: SavedExportItem, mayWork: boolean): Html => html`<li class="panel saved-export"><h2>${e.name}</h2>
  <p>${rowWords[e.rows]} · ${
    e.columnCount === 0 ? 'all columns' : e.columnCount === 1 ? '1 column' : `${e.columnCount} columns`
  }${e.order && ` · order ${e.order}`}</p>
  <p>${badge({ label: SPANS[e.span], tone: 'plain' })} ${
    e.from === null && e.to === null
      ? 'whenever it was closed'
      : html`closed ${e.from && `from ${day(e.from)}`} ${e.to && `to ${day(e.to)}`}`
  }</p>
  <div class="actions">${(['xlsx', 'csv'] as const).map(
    (f) =>
      html`<a class="button ${
        f === e.format && 'primary'
      }" href="/exports/${e.id}/file.${f}" download>${f.toUpperCase()}<span class="visually-hidden">
        of ${e.name}</span></a>`,
  )}
  ${
    mayWork &&
    html`<a class="button quiet" href="/exports/${e.id}/edit">Change<span class="visually-hidden">
      ${e.name}</span></a><form method="post" action="/exports/${e.id}/removal"><button class="quiet">Forget<span
        class="visually-hidden"> ${e.name}</span></button></form>`
  }</div>
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
