import { type Html, html } from '../html.ts';
import { fact, pageHead } from '../kit/pageHead.ts';
import { type Show, when } from '../kit/show.ts';
import { type ImportItem, KIND_NAMES } from './list.ts';

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
<section class="panel"><h2>What came</h2><dl class="facts">${p.groups.map((g) =>
    fact(PLACES[g.thing]?.label ?? g.thing, g.count),
  )}</dl>
${p.groups
  .filter((g) => g.items.length > 0)
  .map(
    (g) =>
      html`<details ${p.groups.length === 1 && html`open`}><summary>${
        PLACES[g.thing]?.label ?? g.thing
      }</summary><ul>${g.items.map((i) => {
        const href = PLACES[g.thing]?.href(i.id) ?? null;
        return html`<li>${href === null ? i.name : html`<a href="${href}">${i.name}</a>`}</li>`;
      })}</ul>${g.count > g.items.length && html`<p class="fine">and ${g.count - g.items.length} more</p>`}</details>`,
  )}</section>
<section class="panel"><h2>${row.undoneAt === null ? 'Take it back' : 'Taken back'}</h2>${
    row.undoneAt === null
      ? html`<p>Everything that came with it goes, or nothing does: not while a lot, an order or anything else stands
        on it.</p><form method="post" action="/imports/${row.id}/undoing"><button>Take this import back</button></form>`
      : html`<p>${when(p.show, row.undoneAt)}. What it had brought is gone.</p>`
  }</section>`;
};

export const PLACES: Readonly<Record<string, { label: string; href: (id: number) => string | null }>> = {
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
