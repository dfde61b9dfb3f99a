import type { ImportOf } from '../../server/imports/schemas.ts';
import { type Html, html } from '../html.ts';
import { type FormState, field, formNotice, selectField } from '../kit/field.ts';
import { badge, emptyState, pageHead } from '../kit/pageHead.ts';
import { type Show, when } from '../kit/show.ts';

export const KIND_NAMES: Readonly<Record<string, string>> = {
  swatches: 'Swatches with formulas',
  dyes: 'Dyes',
  stock: 'Stock: containers',
  customers: 'Customers',
  fibres: 'Fibres',
  auxiliaries: 'Auxiliaries',
};

export type ImportItem = Omit<ImportOf, 'importId'> & { id: number; madeByName?: string };

/** Send a file; what was imported before. */
export const importsPage = (p: {
  form: FormState;
  drafts: readonly { id: string; kind: string; fileName: string; madeAt: number }[];
  imports: readonly ImportItem[];
  show: Show;
}): Html => html`${pageHead({
  title: 'Import',
  crumb: { href: '/settings', label: 'Settings' },
  lead: 'From the spreadsheet you have today: CSV or XLSX, one row a thing, names of the columns in the first row.',
  actions: html`<a class="button" href="/settings/export">Export</a>`,
})}
<section class="panel"><h2>A file</h2>
  <p>Nothing is saved until you have seen every row. Best in this order: fibres, dyes and auxiliaries, then stock and
    swatches.</p>
  <form method="post" action="/imports/drafts" enctype="multipart/form-data" class="stack">${formNotice(
    p.form,
  )}<div class="grid">
    ${selectField({
      name: 'kind',
      label: 'It holds',
      form: p.form,
      required: true,
      options: Object.entries(KIND_NAMES).map(([value, label]) => ({ value, label })),
    })}
    ${field({ name: 'file', label: 'File', form: p.form, type: 'file', required: true })}
  </div><button class="primary">Read it</button></form>
</section>
${
  p.drafts.length > 0 &&
  html`<section class="panel"><h2>Not imported yet</h2><ul class="rows">${p.drafts.map(
    (d) =>
      html`<li class="list-row"><span class="grow"><a href="/imports/drafts/${d.id}"><b>${d.fileName}</b></a><br><span
        class="fine">${KIND_NAMES[d.kind]}, ${when(
          p.show,
          d.madeAt,
        )}</span></span><form method="post" action="/imports/drafts/${d.id}/discarding"><button class="quiet">Drop
        it<span class="visually-hidden">: ${d.fileName}</span></button></form></li>`,
  )}</ul></section>`
}
<section class="panel"><h2>Imported</h2>${
  p.imports.length === 0
    ? emptyState({
        title: 'Nothing imported yet',
        words: 'What comes with a file can be taken back as long as nothing stands on it.',
      })
    : html`<table class="plain shelf"><thead><tr><th scope="col">File</th><th scope="col">Holds</th><th scope="col"
      class="num">Rows</th><th scope="col">When</th><th scope="col">Who</th></tr></thead><tbody>${p.imports.map(
        (i) =>
          html`<tr><th scope="row"><a href="/imports/${i.id}">${i.fileName}</a> ${
            i.undoneAt !== null &&
            badge({
              label: 'taken back',
              tone: 'plain',
            })
          }</th><td data-label="Holds">${
            KIND_NAMES[i.kind]
          }</td><td class="num" data-label="Rows">${i.rowCount}</td><td data-label="When">${when(
            p.show,
            i.madeAt,
          )}</td><td data-label="Who">${i.madeByName}</td></tr>`,
      )}</tbody></table>`
}</section>`;
