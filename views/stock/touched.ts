import type { StockLot, Touched } from '../../server/stock/schemas.ts';
import { type Html, html, type Value } from '../html.ts';
import { nowCalled } from '../kit/called.ts';
import { quantity } from '../kit/containers.ts';
import { pageHead } from '../kit/pageHead.ts';
import { day, type Show, when } from '../kit/show.ts';

type TouchedProps = { container: TouchedContainer; show: Show } & Touched;
type TouchedContainer = Pick<StockLot, 'code' | 'itemName' | 'unit' | 'recalledAt' | 'recallReason'> & { id: number };

const counted = (n: number, one: string, many: string): string => `${n} ${n === 1 ? one : many}`;

const STATUS: Record<string, string> = {
  planned: 'planned',
  onBench: 'on the bench',
  finished: 'finished',
  abandoned: 'abandoned',
  open: 'open',
  inWork: 'in work',
  ready: 'ready',
  delivered: 'delivered',
  cancelled: 'cancelled',
};

const statusWords = (status: string): string => STATUS[status] ?? status;

/** Everything that something of a container went into, and who got it. */
export const touchedPage = (props: TouchedProps): Html => {
  const { container: c, show } = props;
  const customers = [...new Set(props.orders.map((o) => o.customerName))];
  const lots = new Set(props.lots.map((l) => l.lotId)).size;
  const part = (title: string, empty: string, count: number, table: Value): Html =>
    html`<section><h2>${title} <span class="fine">${count}</span></h2>${
      count === 0 ? html`<p class="fine">${empty}</p>` : html`<div class="panel">${table}</div>`
    }</section>`;
  return html`${pageHead({
    title: `What ${c.code} went into`,
    crumb: { href: `/stock/${c.id}`, label: c.code },
    lead: html`${c.itemName}. Solutions made from it are followed too.`,
    actions: html`<a class="button" href="/stock/${c.id}/touched.csv" download>As CSV</a><button type="button"
      data-print>Print</button>`,
  })}
${
  c.recalledAt !== null &&
  html`<div class="notice bad shelf-notice"><p><b>Recalled</b> on ${when(
    show,
    c.recalledAt,
  )}: ${c.recallReason}</p></div>`
}
<p class="touched-sum">${[
    counted(lots, 'lot', 'lots'),
    counted(props.swatches.length, 'swatch', 'swatches'),
    counted(props.orders.length, 'order line', 'order lines'),
  ].join(', ')}${customers.length > 0 && html`; customers to tell: <b>${customers.join(', ')}</b>`}.</p>
${part(
  'Lots',
  'No lot has used it.',
  props.lots.length,
  html`<table class="plain shelf"><caption class="visually-hidden">Lots that used it</caption><thead><tr>
    <th scope="col">Lot</th><th scope="col">Goods</th><th scope="col">State</th><th scope="col">From container</th>
    <th scope="col" class="num">Used</th></tr></thead><tbody>${props.lots.map(
      (l) =>
        html`<tr><th scope="row"><a href="/lots/${l.lotId}">${l.number}</a></th>
        <td data-label="Goods">${l.goodsText}</td>
        <td data-label="State">${statusWords(l.status)}${
          l.finishedAt !== null && html` <span class="fine">${when(show, l.finishedAt)}</span>`
        }</td>
        <td data-label="From container">${l.throughCode}</td><td class="num" data-label="Used">${
          l.quantity === null ? 'the goods' : quantity(show, l.unit, l.quantity)
        }</td></tr>`,
    )}</tbody></table>`,
)}
${
  props.plannedLots.length > 0 &&
  part(
    'Lots that mean to use it',
    '',
    props.plannedLots.length,
    html`<ul class="shelf-list">${props.plannedLots.map(
      (l) => html`<li><a href="/lots/${l.lotId}">${l.number}</a>
      <span class="fine">${statusWords(
        l.status,
      )}, from ${l.throughCode}: choose another container at the bench</span></li>`,
    )}</ul>`,
  )
}
${part(
  'Orders and customers',
  'No order was served from those lots.',
  props.orders.length,
  html`<table class="plain shelf"><caption class="visually-hidden">Orders served from those
    lots</caption><thead><tr><th scope="col">Order</th><th scope="col">Customer</th><th scope="col">Line</th>
    <th scope="col">State</th><th scope="col">Lot</th></tr></thead><tbody>${props.orders.map(
      (o) =>
        html`<tr><th scope="row"><a href="/orders/${o.orderId}">${o.number}</a></th>
        <td data-label="Customer"><b>${o.customerName}</b>${nowCalled(o.customerName, o.customerNameNow)}${
          o.contact && html`<br><span class="fine">${o.contact}</span>`
        }</td><td data-label="Line">${o.description}</td><td data-label="State">${statusWords(
          o.status,
        )}</td><td data-label="Lot">${o.lotNumber}</td></tr>`,
    )}</tbody></table>`,
)}
${part(
  'Swatches',
  'No swatch was dyed with it.',
  props.swatches.length,
  html`<table class="plain shelf"><caption class="visually-hidden">Swatches dyed with it</caption><thead><tr>
    <th scope="col">Swatch</th><th scope="col">Name</th><th scope="col">Dyed</th><th scope="col">From
      lot</th></tr></thead><tbody>${props.swatches.map(
        (s) =>
          html`<tr><th scope="row"><a href="/swatches/${s.swatchId}">${s.code}</a></th>
        <td data-label="Name">${s.name}</td><td data-label="Dyed">${day(s.dyedOn)}</td>
        <td data-label="From lot">${s.lotNumber ?? '—'}</td></tr>`,
      )}</tbody></table>`,
)}`;
};
