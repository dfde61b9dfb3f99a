import type { StockWorth } from '../../server/costing/schemas.ts';
import { type Html, html } from '../html.ts';
import { type FormState, field } from '../kit/field.ts';
import { emptyState, pageHead } from '../kit/pageHead.ts';
import { money, type Show } from '../kit/show.ts';

type MaterialRow = Omit<StockWorth['materials'][number], 'wrong' | 'differenceMinor'>;
type Total = Pick<MaterialRow, 'paidMinor' | 'issuedMinor' | 'writtenOffMinor' | 'inStockMinor'>;

const KINDS = { dye: 'Dyes', auxiliary: 'Auxiliaries', fibre: 'Goods' } as const;
const PATHS = { dye: 'dyes', auxiliary: 'auxiliaries', fibre: 'fibres' } as const;

/** What was written off, by what it was; only what there is. */
const partsOf = (m: MaterialRow, show: Show): string =>
  (
    [
      ['thrown away', m.wasteMinor],
      ['by counts', m.countedMinor],
      ['in customers’ goods', m.withoutCostMinor],
      ['rounding', m.roundingMinor],
      ['price differences', m.priceDifferenceMinor],
    ] as const
  )
    .filter(([, minor]) => minor !== 0)
    .map(([words, minor]) => `${words} ${money(show, minor)}`)
    .join(', ');

const figures = (t: Total, show: Show, under: { writtenOff?: string; inStock?: string } = {}): Html =>
  html`<td class="num" data-label="Paid">${money(show, t.paidMinor)}</td><td class="num" data-label="Issued">${money(
    show,
    t.issuedMinor,
  )}</td>
  <td class="num" data-label="Written off">${money(show, t.writtenOffMinor)}${
    under.writtenOff && html`<br><span class="fine">${under.writtenOff}</span>`
  }</td>
  <td class="num" data-label="In stock"><b>${money(show, t.inStockMinor)}</b>${
    under.inStock && html`<br><span class="fine">${under.inStock}</span>`
  }</td>`;

/** Every material on one screen: what was paid for it, and where that has gone by the end of a day. */
export const stockWorthPage = (p: {
  form: FormState;
  valuation: 'specific' | 'movingAverage';
  /** null when the day could not be read. */
  worth: { materials: readonly MaterialRow[]; total: Total } | null;
  show: Show;
}): Html => html`${pageHead({
  title: 'What stock is worth',
  crumb: { href: '/costing', label: 'Costing' },
  lead: html`What was paid for a material has been issued to lots or written off, or is in stock: nothing is left over
    at the end of any day. Dyes and auxiliaries are
    valued ${p.valuation === 'movingAverage' ? 'at a moving average' : 'at what each container cost'}, goods at what
    their container cost.`,
})}
<section class="panel" aria-label="Day"><form method="get" action="/costing/stock" class="past-form">${field({
  name: 'on',
  label: 'At the end of',
  form: p.form,
  type: 'date',
  size: 'short',
})}<button>Show</button></form></section>
${
  p.worth !== null &&
  (p.worth.materials.length === 0
    ? emptyState({
        title: 'Nothing has been received',
        words: 'Receive a container with its price: from then on this page says where the money is.',
      })
    : html`<div class="panel"><table class="plain shelf" id="stock-worth"><caption class="visually-hidden">Materials
      with what was paid, issued, written off and is in stock</caption>
<thead><tr><th scope="col">Material</th><th scope="col" class="num">Paid</th><th scope="col" class="num">Issued</th>
  <th scope="col" class="num">Written off</th><th scope="col" class="num">In stock</th></tr></thead>
${(['dye', 'auxiliary', 'fibre'] as const).map((kind) => {
  const own = p.worth?.materials.filter((m) => m.kind === kind) ?? [];
  return (
    own.length > 0 &&
    html`<tbody><tr><th scope="colgroup" colspan="5">${KINDS[kind]}</th></tr>${own.map(
      (m) =>
        html`<tr><th scope="row"><a
          href="/${PATHS[kind]}/${m.itemId}">${`${m.code} ${m.name}`.trim()}</a></th>${figures(m, p.show, {
            writtenOff: partsOf(m, p.show),
            inStock: m.onBenchMinor === 0 ? '' : `${money(p.show, m.onBenchMinor)} of it weighed out, lot not closed`,
          })}</tr>`,
    )}</tbody>`
  );
})}
<tfoot><tr><th scope="row">Together</th>${figures(p.worth.total, p.show)}</tr></tfoot></table></div>
<p class="fine">Issued is what the cost lines of closed lots say. Rounding is what whole minor units leave over when a
  container, or under a moving average the whole stock of a material, is empty. A price difference is what a late
  bill, a credit or a receipt written down afterwards changed for what had left stock already, or a corrected
  price.</p>`)
}`;
