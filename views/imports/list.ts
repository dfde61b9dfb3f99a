import { type Html, html } from '../html.ts';
import { type FormState, field, formNotice, selectField } from '../kit/field.ts';
import { badge, emptyState, fact, pageHead } from '../kit/pageHead.ts';
import { type Show, when } from '../kit/show.ts';

export const KIND_NAMES: Readonly<Record<string, string>> = {
  swatches: 'Swatches with formulas',
  dyes: 'Dyes',
  stock: 'Stock: containers',
  customers: 'Customers',
  fibres: 'Fibres',
  auxiliaries: 'Auxiliaries',
};

export interface ImportItem {
  id: number;
  kind: string;
  fileName: string;
  rowCount: number;
  madeAt: number;
  madeByName?: string;
  undoneAt: number | null;
}

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
  <p>Nothing is saved until you have seen every row. Best in this order: fibres, dyes and auxiliaries, then stock and swatches.</p>
  <form method="post" action="/imports/drafts" enctype="multipart/form-data" class="stack">${formNotice(p.form)}<div class="grid">
    ${selectField({ name: 'kind', label: 'It holds', form: p.form, required: true, options: Object.entries(KIND_NAMES).map(([value, label]) => ({ value, label })) })}
    ${field({ name: 'file', label: 'File', form: p.form, type: 'file', required: true })}
  </div><button class="primary">Read it</button></form>
</section>
${
  p.drafts.length > 0 &&
  html`<section class="panel"><h2>Not imported yet</h2><ul class="rows">${p.drafts.map(
    (d) =>
      html`<li class="list-row"><span class="grow"><a href="/imports/drafts/${d.id}"><b>${d.fileName}</b></a><br><span class="fine">${KIND_NAMES[d.kind]}, ${when(p.show, d.madeAt)}</span></span><form method="post" action="/imports/drafts/${d.id}/discarding"><button class="quiet">Drop it<span class="visually-hidden">: ${d.fileName}</span></button></form></li>`,
  )}</ul></section>`
}
<section class="panel"><h2>Imported</h2>${
  p.imports.length === 0
    ? emptyState({
        title: 'Nothing imported yet',
        words: 'What comes with a file can be taken back as long as nothing stands on it.',
      })
    : html`<table class="plain shelf"><thead><tr><th scope="col">File</th><th scope="col">Holds</th><th scope="col" class="num">Rows</th><th scope="col">When</th><th scope="col">Who</th></tr></thead><tbody>${p.imports.map(
        (i) =>
          html`<tr><th scope="row"><a href="/imports/${i.id}">${i.fileName}</a> ${i.undoneAt !== null && badge({ label: 'taken back', tone: 'plain' })}</th><td data-label="Holds">${KIND_NAMES[i.kind]}</td><td class="num" data-label="Rows">${i.rowCount}</td><td data-label="When">${when(p.show, i.madeAt)}</td><td data-label="Who">${i.madeByName}</td></tr>`,
      )}</tbody></table>`
}</section>`;

const PLACES: Readonly<Record<string, { label: string; href: (id: number) => string | null }>> = {
  swatch: { label: 'Swatches', href: (id) => `/swatches/${id}` },
  recipe: { label: 'Recipes', href: (id) => `/recipes/${id}` },
  revision: { label: 'Revisions of recipes', href: () => null },
  dye: { label: 'Dyes', href: (id) => `/dyes/${id}` },
  stockLot: { label: 'Containers', href: (id) => `/stock/${id}` },
  auxiliary: { label: 'Auxiliaries', href: (id) => `/auxiliaries/${id}` },
  fibre: { label: 'Fibres', href: (id) => `/fibres/${id}` },
  undyed: { label: 'Goods before dyeing', href: (id) => `/fibres/${id}` },
  method: { label: 'Methods', href: (id) => `/methods/${id}` },
  customer: { label: 'Customers', href: (id) => `/customers/${id}` },
};

/** One import: what came with it, and the way to take it back. */
export const importedPage = (p: {
  row: ImportItem;
  refused: string;
  groups: readonly { thing: string; count: number; items: readonly { id: number; name: string }[] }[];
  show: Show;
}): Html => {
  const { row } = p;
  return html`${pageHead({
    title: row.fileName,
    crumb: { href: '/imports', label: 'Import' },
    lead: `${KIND_NAMES[row.kind]}, imported ${when(p.show, row.madeAt)}.`,
  })}
${p.refused && html`<p class="notice bad" role="alert" tabindex="-1" data-focus>${p.refused}</p>`}
<section class="panel"><h2>What came</h2><dl class="facts">${p.groups.map((g) => fact(PLACES[g.thing]?.label ?? g.thing, g.count))}</dl>
${p.groups
  .filter((g) => g.items.length > 0)
  .map(
    (g) =>
      html`<details ${p.groups.length === 1 && html`open`}><summary>${PLACES[g.thing]?.label ?? g.thing}</summary><ul>${g.items.map(
        (i) => {
          const href = PLACES[g.thing]?.href(i.id) ?? null;
          return html`<li>${href === null ? i.name : html`<a href="${href}">${i.name}</a>`}</li>`;
        },
      )}</ul>${g.count > g.items.length && html`<p class="fine">and ${g.count - g.items.length} more</p>`}</details>`,
  )}</section>
<section class="panel"><h2>${row.undoneAt === null ? 'Take it back' : 'Taken back'}</h2>${
    row.undoneAt === null
      ? html`<p>Everything that came with it goes, or nothing does: not while a lot, an order or anything else stands on it.</p><form method="post" action="/imports/${row.id}/undoing"><button>Take this import back</button></form>`
      : html`<p>${when(p.show, row.undoneAt)}. What it had brought is gone.</p>`
  }</section>`;
};
