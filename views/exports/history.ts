import type { BatchHistoryLot, ColumnDoc, HistoryTotals, Reconciliation } from '../../server/exports/schemas.ts';
import { type Html, html } from '../html.ts';
import { nowCalled } from '../kit/called.ts';
import { type FormState, field, formNotice, type Option, selectField } from '../kit/field.ts';
import { badge, emptyState, fact, pageHead, pager } from '../kit/pageHead.ts';
import { day, goodsMass, money, percent, type Show } from '../kit/show.ts';

interface HistoryPageProps {
  form: FormState;
  choices: { customers: readonly Option[]; methods: readonly Option[]; fibres: readonly Option[] };
  ranges: readonly { label: string; href: string; current: boolean }[];
  /** null when the filter could not be read. */
  totals: HistoryTotals | null;
  lots: readonly BatchHistoryLot[];
  show: Show;
  /** Day on which the last lot of all was closed. */
  lastClosedOn: string | null;
  exportHrefs: { lot: string; costLine: string; lotXlsx: string; costLineXlsx: string; save: string };
  /** That what is shown is what the ledger says; null with the totals. */
  proof: Reconciliation | null;
  columns: { lot: readonly ColumnDoc[]; costLine: readonly ColumnDoc[] };
  nextHref: string | null;
  firstHref: string | null;
}

const cameOut = (l: BatchHistoryLot): Html => {
  if (l.firstQuality === null) return html`—`;
  const rest = [
    l.seconds ? `${l.seconds} seconds` : '',
    l.rework ? `${l.rework} rework` : '',
    l.scrap ? `${l.scrap} scrap` : '',
  ].filter(Boolean);
  return html`<b>${l.firstQuality}</b> first${
    rest.length > 0 && html`<br><span class="fine">${rest.join(', ')}</span>`
  }`;
};

const row = (l: BatchHistoryLot, show: Show): Html => html`<tr>
  <th scope="row"><a href="/lots/${l.lotId}">${l.number}</a><br><span class="fine">${day(l.finishedOn)}</span>${
    l.status === 'abandoned' &&
    html`<br>${badge({
      label: 'given up',
      tone: 'bad',
    })}`
  }</th>
  <td class="history-what">${
    l.shades && html`<b>${l.shades}</b>${nowCalled(l.shades, l.shadesNow)} on `
  }${l.goodsText}<br><span class="fine">${goodsMass(show, l.dryMassMg)} ${l.fibreName}${nowCalled(
    l.fibreName,
    l.fibreNameNow,
  )} · ${l.methodName}${nowCalled(l.methodName, l.methodNameNow)}</span></td>
  <td data-label="For">${l.customers || '—'}${nowCalled(l.customers, l.customersNow)}${
    l.orders && html`<br><span class="fine">order ${l.orders}</span>`
  }</td>
  <td class="num" data-label="Came out">${cameOut(l)}</td>
  <td class="num" data-label="Material">${money(show, l.materialMinor)}</td>
  <td class="num" data-label="Labour">${money(show, l.labourMinor)}</td>
  <td class="num" data-label="Overhead, other">${money(show, l.overheadMinor + l.otherMinor)}</td>
  <td class="num" data-label="Total"><b>${money(show, l.totalMinor)}</b><br><span class="fine">est. ${money(
    show,
    l.estimateMinor,
  )}</span>${l.sharePpm < 1_000_000 && html`<br><span class="fine">${percent(l.sharePpm, 1)} of the lot</span>`}</td>
  <td class="num" data-label="Per good piece">${
    l.unitCostMinor === null ? '—' : money(show, Math.round(l.unitCostMinor))
  }</td>
</tr>`;

const table = (
  p: HistoryPageProps,
  t: HistoryTotals,
): Html => html`<div class="panel table-wrap"><table class="plain shelf history">
<caption class="visually-hidden">Closed lots with what they cost, newest first</caption>
<thead><tr><th scope="col">Lot</th><th scope="col">What was dyed</th><th scope="col">For</th><th scope="col"
  class="num">Came out</th><th scope="col" class="num">Material</th><th scope="col" class="num">Labour</th>
  <th scope="col" class="num">Overhead, other</th><th scope="col" class="num">Total</th><th scope="col" class="num">Per
    good piece</th></tr></thead>
<tbody>${p.lots.map((l) => row(l, p.show))}</tbody>
<tfoot><tr><th scope="row" colspan="3">${
  t.lots === 1 ? '1 lot' : `All ${t.lots} lots`
}</th><td class="num" data-label="First quality">${t.firstQuality}</td><td class="num" data-label="Material">${money(
  p.show,
  t.materialMinor,
)}</td><td class="num" data-label="Labour">${money(
  p.show,
  t.labourMinor,
)}</td><td class="num" data-label="Overhead, other">${money(
  p.show,
  t.overheadMinor + t.otherMinor,
)}</td><td class="num" data-label="Total">${money(p.show, t.totalMinor)}</td><td></td></tr></tfoot>
</table></div>${pager({ nextHref: p.nextHref, firstHref: p.firstHref })}`;

const nothing = (p: HistoryPageProps): Html =>
  p.lastClosedOn === null
    ? emptyState({
        title: 'No lot has been finished yet',
        words:
          'When a lot is finished at the bench, what it cost is written down once and for all, and shows here: by the containers really used, the hours really worked.',
        action: { href: '/lots', label: 'To the production log' },
      })
    : emptyState({
        title: 'No lot was closed like that',
        words: html`Nothing fits this range and these conditions. The last lot was closed on ${day(p.lastClosedOn)}.`,
        action: { href: '/history?from=&to=', label: 'Show everything' },
      });

const exact = (whole: number, unit: 'mg' | 'ul'): string =>
  `${(whole / 1000).toFixed(3)} ${unit === 'mg' ? 'g' : 'mL'}`;

/** Containers shown that tie; one that does not is always shown. */
const TIED_SHOWN = 60;

/** The line that proves the sums, and what it is made of. */
function proofPanel(p: Reconciliation, show: Show): Html {
  const differs = (c: Reconciliation['containers'][number]): boolean => c.lineQuantity !== c.ledgerQuantity;
  const differing = p.containers.filter(differs);
  const tied = p.containers.filter((c) => !differs(c));
  const hidden = tied.length - TIED_SHOWN;
  return html`<details class="panel proof" ${!p.ties && html`open`}><summary><h2>${
    p.ties ? 'Ties to the ledger' : 'Does not tie to the ledger'
  }</h2> ${badge(p.ties ? { label: 'difference 0', tone: 'good' } : { label: 'see below', tone: 'bad' })}</summary>
<div class="table-wrap"><table class="plain"><caption class="visually-hidden">What must be
  equal</caption><thead><tr><th scope="col">What must be equal</th><th scope="col" class="num">One side</th>
  <th scope="col" class="num">Other side</th><th scope="col" class="num">Difference</th></tr></thead><tbody>
<tr><th scope="row">${p.lines.lines} cost lines / the sums above</th><td class="num">${money(
    show,
    p.lines.costMinor,
  )}</td><td class="num">${money(show, p.historyMinor)}</td><td class="num">${money(
    show,
    p.lines.costMinor - p.historyMinor,
  )}</td></tr>
${(['mg', 'ul'] as const).map(
  (unit) =>
    html`<tr><th scope="row">${
      unit === 'mg' ? 'Weighed' : 'Measured'
    } out, by the cost lines / by the stock ledger</th><td class="num">${exact(
      p[unit].lineQuantity,
      unit,
    )}</td><td class="num">${exact(p[unit].ledgerQuantity, unit)}</td><td class="num">${exact(
      p[unit].lineQuantity - p[unit].ledgerQuantity,
      unit,
    )}</td></tr>`,
)}
<tr><th scope="row">Materials, by the cost lines / by the ledger at the containers’ own prices <span class="fine">the
  difference is rounding, moving averages and corrected rates</span></th>
  <td class="num">${money(show, p.materialMinor)}</td><td class="num">${money(show, p.ledgerMinor)}</td>
  <td class="num">${money(show, p.valuationDifferenceMinor)}</td></tr></tbody></table></div>
<h3>Container by container</h3><div class="table-wrap" role="region" aria-label="Container by container"
  tabindex="0"><table class="plain"><thead><tr><th scope="col">Container</th><th scope="col" class="num">By cost
  lines</th><th scope="col" class="num">By ledger</th><th scope="col" class="num">Cost by lines</th><th scope="col"
  class="num">At its price</th></tr></thead><tbody>${[...differing, ...tied.slice(0, TIED_SHOWN)].map(
    (c) => html`<tr><th scope="row"><a href="/stock/${c.stockLotId}">${c.code}</a> <span
      class="fine">${c.itemName}</span></th>
  <td class="num">${exact(c.lineQuantity, c.unit)}</td>
  <td class="num">${exact(c.ledgerQuantity, c.unit)}${differs(c) && html` <b>differs</b>`}</td>
  <td class="num">${money(show, c.lineCostMinor)}</td>
  <td class="num">${money(show, c.ledgerCostMinor)}</td></tr>`,
  )}</tbody></table></div>${
    hidden > 0 && html`<p class="hint">${hidden} more containers tie; the XLSX file lists them all.</p>`
  }</details>`;
}

const columnTable = (caption: string, columns: readonly ColumnDoc[]): Html =>
  html`<h3>${caption}</h3><div class="table-wrap" role="region" aria-label="${caption}" tabindex="0">
    <table class="plain"><thead><tr><th scope="col">Column</th><th scope="col">Unit</th>
    <th scope="col">Meaning</th></tr></thead><tbody>${columns.map(
      (c) => html`<tr><th scope="row"><code>${c.name}</code></th><td>${c.unit}</td><td>${c.meaning}</td></tr>`,
    )}</tbody></table></div>`;

/** What lots cost: a range of days, sums, a row a lot, and the way out into a spreadsheet. */
export const historyPage = (p: HistoryPageProps): Html => {
  const { form, totals: t } = p;
  return html`${pageHead({
    title: 'Batch history',
    lead: 'What every closed lot cost, as it was written when it was finished.',
  })}
<nav class="tabs" aria-label="Range"><ul>${p.ranges.map(
    (r) => html`<li><a href="${r.href}" ${r.current && html`aria-current="page"`}>${r.label}</a></li>`,
  )}</ul></nav>
<form method="get" action="/history" class="panel">${formNotice(form)}<div class="grid history-filter">
  ${field({ name: 'from', label: 'From', form, type: 'date' })}
  ${field({ name: 'to', label: 'To, that day included', form, type: 'date' })}
  ${field({ name: 'order', label: 'Order no.', form, size: 'short' })}
  ${selectField({ name: 'customerId', label: 'Customer', form, options: p.choices.customers, none: 'any' })}
  ${selectField({ name: 'methodId', label: 'Method', form, options: p.choices.methods, none: 'any' })}
  ${selectField({ name: 'fibreId', label: 'Fibre', form, options: p.choices.fibres, none: 'any' })}
  <div class="field"><button class="primary">Show</button></div>
</div></form>
${
  t !== null &&
  (t.lots === 0
    ? nothing(p)
    : html`<section class="panel" aria-labelledby="sums"><h2 id="sums">Sums</h2><dl class="facts">
  ${fact('Lots', html`<span class="big-number">${t.lots}</span>`)}
  ${fact('Total cost', html`<span class="big-number">${money(p.show, t.totalMinor)}</span>`)}
  ${fact('Material', money(p.show, t.materialMinor))}
  ${fact('Labour', money(p.show, t.labourMinor))}
  ${fact('Overhead', money(p.show, t.overheadMinor))}
  ${t.otherMinor !== 0 && fact('Other', money(p.show, t.otherMinor))}
  ${fact('Planned', money(p.show, t.estimateMinor))}
  ${fact('First quality', `${t.firstQuality} pieces`)}
</dl>
<div class="actions history-out"><a class="button" href="${
        p.exportHrefs.lot
      }" download>CSV, one row a lot</a><a class="button" href="${
        p.exportHrefs.costLine
      }" download>CSV, one row a cost line</a><a class="button" href="${
        p.exportHrefs.lotXlsx
      }" download>XLSX, one row a lot</a><a class="button" href="${
        p.exportHrefs.costLineXlsx
      }" download>XLSX, one row a cost line</a></div>
<p class="fine history-save"><a href="${
        p.exportHrefs.save
      }">Save this as an export</a> · <a href="/exports">Saved exports</a></p></section>
${
  p.proof
    ? proofPanel(p.proof, p.show)
    : p.totals &&
      html`<p class="hint">So many lots are not proved against the ledger on the page: the proof comes with the XLSX
        file, or for a shorter time.</p>`
}
<h2>Lots</h2>${table(p, t)}`)
}
<details class="panel history-columns"><summary><h2>What the columns of the files mean</h2></summary>
<p>CSV: UTF-8, commas, a decimal point, days as year-month-day. XLSX: the same columns, with this list and the proof on
  sheets of their own. All add to the sums above, to the last cent. The same comes from
  <code>/api/v1/exports/lots.csv</code> and <code>.xlsx</code> with a token.</p>
${columnTable('One row a lot', p.columns.lot)}${columnTable('One row a cost line', p.columns.costLine)}</details>`;
};
