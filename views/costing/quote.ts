import type { QuoteLine } from '../../server/costing/schemas.ts';
import { type Html, html } from '../html.ts';
import { choice, type FormState, field, formNotice } from '../kit/field.ts';
import { fact, pageHead } from '../kit/pageHead.ts';
import { day, money, type Show } from '../kit/show.ts';

interface QuoteProps {
  order: { id: number; number: string; orderedOn: string; dueOn: string | null };
  customerName: string;
  form: FormState;
  /** null when the terms could not be read. */
  lines: readonly QuoteLine[] | null;
  totalMinor: number | null;
  paperHref: string | null;
  show: Show;
}

const SHARED = { mass: 'shared by dry mass', pieces: 'shared by pieces', equally: 'shared equally' } as const;
const pct = (value: number | null): string => (value === null ? '—' : `${value.toFixed(1)} %`);

const lineRow = (l: QuoteLine, show: Show): Html => html`<tr>
  <th scope="row">${l.description}<br><span class="fine">${
    l.pieces === null ? 'pieces not said' : `${l.pieces} pieces`
  }${l.agreedMinor !== null && html` · agreed ${money(show, l.agreedMinor)}`}</span></th>
  <td data-label="Cost">${
    l.lots.length === 0
      ? html`<a href="/lots/new?orderLineId=${l.orderLineId}">Plan a lot</a> <span class="fine">to know what it
        costs</span>`
      : l.lots.map(
          (lot) =>
            html`<p class="quote-lot"><a href="${
              lot.isActual ? `/costing/lots/${lot.lotId}` : `/lots/${lot.lotId}`
            }">Lot ${lot.number}</a> ${money(
              show,
              lot.costMinor,
            )} <span class="fine">${lot.isActual ? 'as it cost' : 'by its plan'}${
              lot.sharedBy && `, ${SHARED[lot.sharedBy]}`
            }</span></p>`,
        )
  }${l.setUpMinor > 0 && html`<p class="quote-lot">Set-up ${money(show, l.setUpMinor)}</p>`}</td>
  <td class="num" data-label="A piece">${l.price ? money(show, l.price.pieceMinor) : '—'}</td>
  <td class="num" data-label="The line">${
    l.price
      ? html`<b>${money(show, l.price.lineMinor)}</b>${
          l.price.byMinimum && html`<br><span class="fine">minimum charge</span>`
        }`
      : '—'
  }</td>
  <td class="num" data-label="Markup, on cost">${pct(l.price?.markupPct ?? null)}</td>
  <td class="num" data-label="Margin, of price">${pct(l.price?.marginPct ?? null)}</td></tr>`;

/** What to ask for an order: the studio's own sheet, with what it costs. */
export const quotePage = (p: QuoteProps): Html => html`${pageHead({
  title: html`Quote for order ${p.order.number}`,
  crumb: { href: `/orders/${p.order.id}`, label: `Order ${p.order.number}` },
  lead: `for ${p.customerName}, from the plans of its lots`,
  actions: p.paperHref && html`<a class="button primary" href="${p.paperHref}">The customer’s copy</a>`,
})}
<form method="get" action="/orders/${p.order.id}/quote" class="panel">${formNotice(p.form)}<div class="grid">
  ${choice({
    name: 'basis',
    label: 'Reckoned',
    form: p.form,
    options: [
      { value: 'markup', label: 'markup, on the cost' },
      { value: 'margin', label: 'margin, of the price' },
    ],
    hint: '50 % markup is 33.3 % margin.',
  })}
  ${field({ name: 'pct', label: 'How much', form: p.form, unit: '%', inputmode: 'decimal', size: 'short' })}
  ${field({
    name: 'setUp',
    label: 'Set-up of each lot',
    form: p.form,
    unit: p.show.currency,
    inputmode: 'decimal',
    size: 'short',
    hint: 'Stock solutions, washing out: often more than the dye.',
  })}
  ${field({
    name: 'minimum',
    label: 'Minimum charge of a line',
    form: p.form,
    unit: p.show.currency,
    inputmode: 'decimal',
    size: 'short',
  })}
  <div class="field"><button class="primary">Reckon</button></div></div></form>
${
  p.lines !== null &&
  html`<section class="panel"><h2>Suggested prices</h2><table class="plain shelf"><caption
    class="visually-hidden">Suggested price of each line with its cost</caption><thead><tr>
    <th scope="col">Line</th><th scope="col">Cost</th><th scope="col" class="num">A piece</th><th scope="col"
      class="num">The line</th><th scope="col" class="num">Markup, on cost</th><th scope="col" class="num">Margin, of
      price</th></tr></thead><tbody>${p.lines.map((l) => lineRow(l, p.show))}</tbody>
<tfoot><tr><th scope="row" colspan="3">${
    p.lines.some((l) => l.price === null) ? 'Lines that could be reckoned' : 'Together'
  }</th><td class="num" data-label="Together"><b>${money(
    p.show,
    p.totalMinor,
  )}</b></td><td></td><td></td></tr></tfoot></table>
<p class="fine">Before tax. A piece is rounded up to the smallest coin, and a line is so many of it.</p></section>`
}`;

/** The customer's copy: prices, and nothing of what they are made of. */
export const quotePaper = (p: {
  studioName: string;
  order: QuoteProps['order'];
  customer: { name: string; contact: string };
  lines: readonly QuoteLine[];
  totalMinor: number | null;
  quotedOn: string;
  backHref: string;
  show: Show;
}): Html => html`<p class="no-print actions"><a class="button" href="${p.backHref}">Back</a><button class="primary"
  data-print>Print</button></p>
<article class="panel quote-paper"><h1>Quote</h1><dl class="facts">${fact('From', p.studioName)}${fact(
  'For',
  html`${p.customer.name}${p.customer.contact && html`<br><span class="fine">${p.customer.contact}</span>`}`,
)}${fact('Order', p.order.number)}${fact('Day', day(p.quotedOn))}${
  p.order.dueOn && fact('Due', day(p.order.dueOn))
}</dl>
<table class="plain"><thead><tr><th scope="col">What</th><th scope="col" class="num">Pieces</th><th scope="col"
  class="num">A piece</th><th scope="col" class="num">Price</th></tr></thead><tbody>${p.lines.map(
    (l) =>
      html`<tr><th scope="row">${l.description}</th><td class="num">${l.pieces ?? ''}</td><td class="num">${
        l.price?.pieceMinor != null ? money(p.show, l.price.pieceMinor) : ''
      }</td><td class="num">${l.price ? money(p.show, l.price.lineMinor) : 'to follow'}</td></tr>`,
  )}</tbody><tfoot><tr><th scope="row" colspan="3">Together</th><td class="num"><b>${money(
    p.show,
    p.totalMinor,
  )}</b></td></tr></tfoot></table><p class="fine">Before tax.</p></article>`;
