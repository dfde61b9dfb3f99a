import { durationText } from '../../server/calc/quantity.ts';
import type { WrittenLine } from '../../server/costing/schemas.ts';
import { type Html, html, type Value } from '../html.ts';
import { pageHead, pager } from '../kit/pageHead.ts';
import { day, mass, money, percent, type Show, volume, when } from '../kit/show.ts';
import { KINDS } from './costKinds.ts';

export type CostLineItem = Omit<WrittenLine, 'correctsId'> & {
  wasted: number;
  correctsOrdinal: number | null;
  writtenByName: string | null;
  stockLotCode: string | null;
};

export const lineQuantity = (show: Show, unit: CostLineItem['quantityUnit'], quantity: number): string => {
  const sign = quantity < 0 ? '−' : '';
  const amount = Math.abs(quantity);
  if (unit === 'mg') return sign + mass(show, amount);
  if (unit === 'ul') return sign + volume(show, amount);
  return sign + (unit === 's' ? durationText({ durationS: amount }) : String(amount));
};

/** One cost line, with how its cost came about and what it corrects. */
export const costLineRow = (l: CostLineItem, show: Show, more: Value = ''): Html => html`<tr id="line-${l.costLineId}">
  <th scope="row">${l.description}${l.wasted === 1 && html` <b>waste</b>`}<br><span
    class="fine">line ${l.ordinal}, ${KINDS[l.kind].label.toLowerCase()}${
      l.correction !== null &&
      html` · ${
        l.correction === 'addition'
          ? 'forgotten, added'
          : `${l.correction === 'replacement' ? 'stands instead of' : 'takes back'} line ${l.correctsOrdinal},`
      } ${when(show, l.writtenAt)}${l.writtenByName && `, ${l.writtenByName}`}${l.reason && html`: “${l.reason}”`}`
    }</span></th>
  <td class="num" data-label="Quantity">${lineQuantity(show, l.quantityUnit, l.quantity)}</td>
  <td class="num fine" data-label="Rate">${money(show, l.priceMinor)} for ${lineQuantity(
    show,
    l.quantityUnit,
    l.perQuantity,
  )}${l.valuation === 'movingAverage' && html`<br>moving average`}</td>
  <td data-label="From">${
    l.stockLotId === null ? '—' : html`<a href="/stock/${l.stockLotId}">${l.stockLotCode}</a>`
  }</td>
  <td class="num" data-label="Cost"><b>${money(show, l.costMinor)}</b></td>${more}</tr>`;

export const costLineHead = (more: Value = ''): Html =>
  html`<thead><tr><th scope="col">Line</th><th scope="col" class="num">Quantity</th><th scope="col"
    class="num">Rate</th><th scope="col">From</th><th scope="col" class="num">Cost</th>${more}</tr></thead>`;

interface LotOfLines {
  lotId: number;
  number: string;
  finishedOn: string;
  goodsText: string;
  sharePpm: number;
  lines: readonly CostLineItem[];
  /** Sum of these lines, and the part of it that the figure takes. */
  linesMinor: number;
  partMinor: number;
  estimateMinor: number;
}

/** The cost lines that a figure is made of, lot by lot; the parts add to the figure. */
export const linesPage = (p: {
  title: string;
  backHref: string;
  lots: readonly LotOfLines[];
  lotCount: number;
  figureMinor: number;
  estimateMinor: number | null;
  nextHref: string | null;
  firstHref: string | null;
  show: Show;
}): Html => html`${pageHead({
  title: p.title,
  crumb: { href: p.backHref, label: 'Costing' },
  lead: html`${p.lotCount === 1 ? 'One lot' : `${p.lotCount} lots`} make <b>${money(p.show, p.figureMinor)}</b>${
    p.estimateMinor !== null && html`, where their plans foresaw ${money(p.show, p.estimateMinor)}`
  }.`,
})}
${p.lots.map(
  (lot) => html`<section class="panel" aria-labelledby="lot-${lot.lotId}"><h2 id="lot-${lot.lotId}"><a
    href="/costing/lots/${lot.lotId}">Lot ${lot.number}</a> <span class="fine">${day(
      lot.finishedOn,
    )} · ${lot.goodsText}</span></h2>
<table class="plain shelf"><caption class="visually-hidden">Cost lines of
  lot ${lot.number}</caption>${costLineHead()}<tbody>${lot.lines.map((l) => costLineRow(l, p.show))}</tbody>
<tfoot><tr><th scope="row" colspan="4">${
    lot.sharePpm === 1_000_000 ? 'The lot' : html`${percent(lot.sharePpm, 1)} of ${money(p.show, lot.linesMinor)}`
  }${
    p.estimateMinor !== null && html` <span class="fine">estimated ${money(p.show, lot.estimateMinor)}</span>`
  }</th><td class="num" data-label="In the figure"><b>${money(
    p.show,
    lot.partMinor,
  )}</b></td></tr></tfoot></table></section>`,
)}
<p class="lines-sum">Together <b class="big-number">${money(p.show, p.figureMinor)}</b></p>
${pager({ nextHref: p.nextHref, firstHref: p.firstHref })}`;
