import { Html, html } from '../html.ts';
import { columnHeads } from '../kit/columnHeads.ts';
import { grams, mass, millilitres, percent } from '../kit/show.ts';
import { ml, type PieceView, type SamplingPlanProps, sheetGrid } from './plan.ts';

type PaperProps = Pick<
  SamplingPlanProps,
  | 'planId'
  | 'name'
  | 'fibreName'
  | 'methodName'
  | 'pieceMassMg'
  | 'liquorMlPerKg'
  | 'gridColumns'
  | 'stocks'
  | 'pieces'
  | 'note'
  | 'show'
> & { qrSvg: string; steps: readonly { name: string; words: string }[]; auxiliaries: readonly string[] };

const cupRow = (c: PieceView): Html =>
  html`<tr><td><b>${c.ordinal}</b></td><td>${percent(c.depthPpm).replace(' %', '')}</td>${c.stockMl.map(
    (v) => html`<td>${ml(v)}</td>`,
  )}<td>${c.waterMl === null ? '' : ml(c.waterMl)}</td></tr>`;

const cupTable = (p: PaperProps, part: readonly PieceView[]): Html =>
  html`<table><thead><tr><th scope="col">Cup</th><th scope="col">%</th>${p.stocks.map(
    (s) => html`<th scope="col">${s.code}</th>`,
  )}<th scope="col">Water</th></tr></thead><tbody>${part.map(cupRow)}</tbody></table>`;

/** The one page for the bench: stocks, every cup, the sheet. */
export const samplingSheet = (p: PaperProps): Html => {
  const half = Math.ceil(p.pieces.length / 2);
  const parts = p.pieces.length > 24 ? [p.pieces.slice(0, half), p.pieces.slice(half)] : [p.pieces];
  return html`<article class="sheet sampling-sheet"><header class="sheet-head"><div><p class="fine">Bench page,
    samples</p><h1>${p.name}</h1><p>${p.pieces.length} pieces
    of ${mass(p.show, p.pieceMassMg)} dry ${p.fibreName}<br>${p.methodName}${
      p.liquorMlPerKg !== null && `, ${p.liquorMlPerKg / 1000} L/kg`
    }</p></div><div class="qr">${new Html(p.qrSvg)}</div></header>
<p class="screen-only"><button class="primary" data-print>Print</button> <a class="button"
  href="/sampling/${p.planId}">Back to the set</a></p>
<table><thead><tr>${columnHeads(['Stock to make', 'Strength', 'Volume', 'Powder'])}</tr></thead><tbody>${p.stocks.map(
    (s) =>
      html`<tr><td><b>${s.code}</b> ${s.name}</td><td>${percent(s.concPpm)} w/v</td><td><b>${millilitres(
        s.makeUl,
        100,
      )}</b></td><td><b>${grams(s.powderMg, 10)}</b></td></tr>`,
  )}</tbody></table>
<h2>Cups, mL of each stock</h2><div class="sheet-cups ${parts.length > 1 ? 'two' : ''}">${parts.map((part) =>
    cupTable(p, part),
  )}</div>
<div class="sheet-foot"><div>${sheetGrid(
    p.pieces.map((c) => ({ ...c, hex: null })),
    p.gridColumns,
  )}<p class="fine">Lay the dry pieces so for one photo, a reference card beside them.</p></div><div>${
    p.auxiliaries.length > 0 && html`<p>${p.auxiliaries.join(' · ')}</p>`
  }<ol class="sheet-steps">${p.steps.map((s) => html`<li>${s.name} <span class="fine">${s.words}</span></li>`)}</ol>${
    p.note && html`<p>${p.note}</p>`
  }</div></div></article>`;
};

/** A label for every piece, to pin or tie on before it goes wet. */
export const samplingLabels = (p: Pick<PaperProps, 'planId' | 'name' | 'fibreName' | 'pieces'>): Html =>
  html`<article class="sheet"><h1 class="screen-only">Labels of ${p.name}</h1><p class="screen-only"><button
    class="primary" data-print>Print</button> <a class="button" href="/sampling/${p.planId}">Back to the set</a></p>
<ol class="labels">${p.pieces.map(
    (c) => html`<li><b>${c.ordinal}</b> ${c.name}<br>${percent(c.depthPpm)} on ${p.fibreName}<br>${p.name}</li>`,
  )}</ol></article>`;
