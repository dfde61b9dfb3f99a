import type { Job } from '../../server/costing/schemas.ts';
import { type Html, html } from '../html.ts';
import { chartLegend, chartPatterns, stackBar } from '../kit/chart.ts';
import { type FormState, field } from '../kit/field.ts';
import { fact, pageHead } from '../kit/pageHead.ts';
import { goodsMass, mass, money, type Show, volume, when } from '../kit/show.ts';
import { type ByKind, KINDS, kindList, kindParts, kindsIn } from './costKinds.ts';
import { type CostLineItem, costLineHead, costLineRow } from './lines.ts';

interface LotCostPageProps {
  lotId: number;
  number: string;
  goodsText: string;
  dryMassMg: number;
  totalMinor: number;
  estimateMinor: number;
  perKgMinor: number | null;
  byKind: ByKind;
  estimateByKind: ByKind;
  lines: readonly (CostLineItem & { stands: boolean })[];
  ledger: readonly {
    entryId: number;
    stockLotId: number;
    stockLotCode: string;
    unit: 'mg' | 'ul';
    kind: string;
    quantity: number;
    at: number;
    reason: string;
    personName: string;
  }[];
  job: Job;
  reworkOf: { lotId: number; number: string } | null;
  /** Agreed prices of the lines it served, against the cost of a good piece. */
  prices: readonly {
    orderId: number;
    orderNumber: string;
    description: string;
    pieceMinor: number;
    markupPct: number;
    marginPct: number;
  }[];
  reworkForm: FormState;
  mayOwn: boolean;
  mayWork: boolean;
  show: Show;
}

const unit = (show: Show, minor: number | null): string => (minor === null ? '—' : money(show, Math.round(minor)));
const share = (pct: number | null): string => (pct === null ? '—' : `${pct.toFixed(1)} %`);

const besideEstimate = (p: LotCostPageProps): Html => {
  const kinds = kindList.filter((k) => p.byKind[k] !== 0 || p.estimateByKind[k] !== 0);
  const most = Math.max(p.totalMinor, p.estimateMinor, 1);
  return html`<section class="panel"><h2>Estimate beside actual</h2>${chartLegend(
    kindsIn([p.byKind, p.estimateByKind]),
  )}
<table class="plain"><caption class="visually-hidden">Estimate beside actual, by kind</caption><thead><tr>
  <th scope="col">Kind</th><th scope="col" class="num">Estimate</th><th scope="col" class="num">Actual</th>
  <th scope="col" class="num">Difference</th></tr></thead><tbody>${kinds.map(
    (k) =>
      html`<tr><th scope="row">${KINDS[k].label}</th><td class="num">${money(
        p.show,
        p.estimateByKind[k],
      )}</td><td class="num">${money(p.show, p.byKind[k])}</td><td class="num">${money(
        p.show,
        p.byKind[k] - p.estimateByKind[k],
      )}</td></tr>`,
  )}</tbody><tfoot><tr><th scope="row">The lot</th><td class="num">${money(
    p.show,
    p.estimateMinor,
  )}</td><td class="num">${money(p.show, p.totalMinor)}</td><td class="num">${money(
    p.show,
    p.totalMinor - p.estimateMinor,
  )}</td></tr></tfoot></table>
<p class="fine bar-label">Estimate</p>${stackBar({
    label: `Estimate ${money(p.show, p.estimateMinor)}`,
    parts: kindParts(p.estimateByKind),
    most,
  })}
<p class="fine bar-label">Actual</p>${stackBar({
    label: `Actual ${money(p.show, p.totalMinor)}`,
    parts: kindParts(p.byKind),
    most,
  })}</section>`;
};

const rework = (p: LotCostPageProps): Html => html`<section class="panel" id="rework"><h2>Rework and seconds</h2>
<dl class="facts">${fact('Good pieces', `${p.job.goodCount} of ${p.job.startedCount} begun`)}${fact(
  'Yield',
  share(p.job.yieldPct),
)}${fact('Right first time', share(p.job.rightFirstTimePct))}${fact(
  'Seconds will bring',
  money(p.show, p.job.secondsValueMinor),
)}${fact('Rework cost', money(p.show, p.job.reworkMinor))}${fact(
  'Weighed and thrown away',
  money(p.show, p.job.wastedMinor),
)}</dl>
${
  p.job.reworks.length > 0 &&
  html`<ul class="plain-list">${p.job.reworks.map(
    (r) =>
      html`<li class="list-row"><span class="grow"><a href="/costing/lots/${r.lotId}">Lot ${r.number}</a> dyed pieces
        of it again <span class="fine">${r.firstQuality} came out good</span></span>${money(p.show, r.costMinor)}</li>`,
  )}</ul>`
}
<p>${
  p.reworkOf
    ? html`This lot dyed pieces of <a href="/costing/lots/${p.reworkOf.lotId}">lot ${
        p.reworkOf.number
      }</a> again: its cost is counted there too, as rework.`
    : 'This lot is noted as no other lot’s rework.'
}</p>
${
  p.mayWork &&
  html`<details ${Object.keys(p.reworkForm.errors).length > 0 && html`open`}><summary>${
    p.reworkOf ? 'Change that' : 'It dyed pieces of another lot again'
  }</summary><form method="post" action="/costing/lots/${p.lotId}/rework" class="stack">${field({
    name: 'ofNumber',
    label: 'Number of that lot',
    form: p.reworkForm,
    size: 'short',
    hint: 'Left empty: of none.',
  })}<button>Save</button></form></details>`
}</section>`;

/** One lot's cost to the last line: what it came from, what was corrected, what it was worth. */
export const lotCostPage = (p: LotCostPageProps): Html => html`${chartPatterns()}${pageHead({
  title: html`Cost of lot ${p.number}`,
  crumb: { href: `/lots/${p.lotId}`, label: `Lot ${p.number}` },
  lead: html`${p.goodsText} · ${goodsMass(p.show, p.dryMassMg)} dry`,
})}
<section class="panel"><h2 class="visually-hidden">In short</h2><dl class="facts">
  ${fact('Cost', html`<span class="big-number">${money(p.show, p.totalMinor)}</span>`)}
  ${fact('A kilogram', html`<span class="big-number">${unit(p.show, p.perKgMinor)}</span>`)}
  ${fact(
    'A good piece',
    html`<span class="big-number">${unit(
      p.show,
      p.job.unitCostMinor,
    )}</span><br><span class="fine">(cost + rework − what seconds bring) / ${p.job.goodCount}</span>`,
  )}
  ${
    p.job.wastedMinor > 0 &&
    fact(
      'A good piece without waste',
      html`<span class="big-number">${unit(
        p.show,
        p.job.stockUnitCostMinor,
      )}</span><br><span class="fine">waste apart, as an expense of its day</span>`,
    )
  }
</dl>
${
  p.prices.length > 0 &&
  html`<div class="table-wrap" role="region" aria-label="Agreed prices" tabindex="0"><table class="plain"><caption
    class="visually-hidden">Agreed prices against the cost of a good piece</caption><thead><tr>
    <th scope="col">Agreed</th><th scope="col" class="num">A piece</th><th scope="col" class="num">Markup, on
      cost</th><th scope="col" class="num">Margin, of price</th></tr></thead><tbody>${p.prices.map(
        (r) => html`<tr>
    <th scope="row"><a href="/orders/${r.orderId}">${r.orderNumber}</a> ${r.description}</th>${[
      unit(p.show, r.pieceMinor),
      `${r.markupPct.toFixed(1)} %`,
      `${r.marginPct.toFixed(1)} %`,
    ].map((figure) => html`<td class="num">${figure}</td>`)}</tr>`,
      )}</tbody></table></div>`
}</section>
${besideEstimate(p)}
<section class="panel" id="lines"><h2>Cost lines</h2><table class="plain shelf"><caption class="visually-hidden">Every
  cost line of the lot</caption>${costLineHead(
    p.mayOwn ? html`<th scope="col"><span class="visually-hidden">Do</span></th>` : '',
  )}
<tbody>${p.lines.map((l) =>
  costLineRow(
    l,
    p.show,
    p.mayOwn
      ? html`<td>${
          l.stands &&
          html`<a class="button quiet" href="/costing/lines/${l.costLineId}/correction/new">Correct<span
            class="visually-hidden"> line ${l.ordinal}</span></a>`
        }</td>`
      : '',
  ),
)}</tbody>
<tfoot><tr><th scope="row" colspan="4">The lot</th><td class="num" data-label="The lot"><b>${money(
  p.show,
  p.totalMinor,
)}</b></td>${p.mayOwn && html`<td></td>`}</tr></tfoot></table>
<p class="fine">A line is never changed. A correction takes it back by a line of the opposite sign and writes what is
  right below, with the reason; what was forgotten is added as a line of its day. The owner does that.</p>
${
  p.mayOwn && html`<p><a class="button" href="/costing/lots/${p.lotId}/additions/new">Add a forgotten cost</a></p>`
}</section>
${rework(p)}
<section class="panel" id="ledger"><h2>From the stock ledger</h2>${
  p.ledger.length === 0
    ? html`<p>Nothing was issued to it.</p>`
    : html`<table class="plain shelf"><caption class="visually-hidden">What the stock ledger issued to the
      lot</caption><thead><tr><th scope="col">Container</th><th scope="col">When</th><th scope="col">What</th>
      <th scope="col" class="num">Quantity</th></tr></thead><tbody>${p.ledger.map(
        (e) =>
          html`<tr><th scope="row"><a href="/stock/${e.stockLotId}">${e.stockLotCode}</a></th>
            <td data-label="When">${when(
              p.show,
              e.at,
            )}</td><td data-label="What">${e.kind === 'reversal' ? 'taken back' : 'issued'}${
              e.reason && html` <span class="fine">${e.reason}</span>`
            } <span class="fine">${e.personName}</span></td><td class="num" data-label="Quantity">${
              e.quantity < 0 ? '−' : '+'
            }${e.unit === 'mg' ? mass(p.show, Math.abs(e.quantity)) : volume(p.show, Math.abs(e.quantity))}</td></tr>`,
      )}</tbody></table>`
}</section>`;
