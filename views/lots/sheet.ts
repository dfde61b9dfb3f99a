import { durationText } from '../../server/calc/quantity.ts';
import type { Plan } from '../../server/plans/schemas.ts';
import { Html, html } from '../html.ts';
import { mass, percent, type Show, temperature, volume, water } from '../kit/show.ts';
import { amountText } from '../plans/weighUp.ts';

/** The bench sheet: one page of paper with boxes for what the scale and the clock really said. */
export const benchSheet = (p: {
  number: string;
  lotId: number;
  plan: Plan;
  show: Show;
  served: readonly string[];
  qrSvg: string;
}): Html => html`<article class="sheet">
  <header class="sheet-head"><div><p class="fine">Bench sheet</p><h1>Lot ${p.number}</h1><p><b>${
    p.plan.goodsText
  }</b>, ${mass(p.show, p.plan.dryMassMg)} dry ${p.plan.fibreName}${
    p.plan.pieces !== null && html`, ${p.plan.pieces} pieces`
  }<br>${p.plan.methodName}${
    p.served.length > 0 && html`<br>for ${p.served.join('; ')}`
  }</p></div><div class="qr">${new Html(p.qrSvg)}</div></header>
  <p class="screen-only"><button class="primary" data-print>Print</button> <a class="button"
    href="/lots/${p.lotId}">Back to the lot</a></p>
  <table class="plain sheet-table"><thead><tr><th scope="col">Weigh</th><th scope="col" class="num">Planned</th>
    <th scope="col">Actual</th><th scope="col">Container</th></tr></thead><tbody>${p.plan.lines.map((l) => {
      const colour = p.plan.colours.find((c) => c.ordinal === l.colourOrdinal);
      return html`<tr><td><b>${l.code}</b> ${l.name} <span class="fine">${
        colour ? html`${colour.recipeName}, ${l.basisText}` : l.basisText
      }</span></td><td class="num"><b>${amountText(l)}</b>${
        l.concPpm !== null && html`<br><span class="fine">${percent(l.concPpm)} solution</span>`
      }</td><td class="box"></td><td class="fine">${l.stockLotCode ?? ''}</td></tr>`;
    })}
  ${
    p.plan.makeUpWaterUl !== null &&
    html`<tr><td>Make-up water <span class="fine">bath ${volume(
      p.show,
      p.plan.bathUl,
    )}</span></td><td class="num"><b>${water(p.show, p.plan.makeUpWaterUl)}</b></td><td class="box"></td><td></td></tr>`
  }</tbody></table>
  ${
    p.plan.colours.some((c) => c.placement) &&
    html`<p>${p.plan.colours.filter((c) => c.placement).map((c) => html`<b>${c.recipeName}</b>: ${c.placement}. `)}</p>`
  }
  <table class="plain sheet-table"><thead><tr><th scope="col">Step</th><th scope="col" class="num">Planned</th>
    <th scope="col">Start</th><th scope="col">End</th></tr></thead><tbody>${p.plan.steps.map(
      (s) =>
        html`<tr><td>${s.name}${
          s.tempC !== null && html` <span class="fine">${temperature(p.show, s.tempC)}</span>`
        }</td><td class="num">${durationText({
          durationS: s.durationS,
        })}</td><td class="box"></td><td class="box"></td></tr>`,
    )}</tbody></table>
  ${
    p.plan.fields.length > 0 &&
    html`<table class="plain sheet-table"><tbody>${p.plan.fields.map(
      (f) =>
        html`<tr><td>${f.label}${
          f.unit && html` <span class="fine">${f.unit}</span>`
        }</td><td class="box wide"></td></tr>`,
    )}</tbody></table>`
  }
  <div class="sheet-notes"><p class="fine">Otherwise than planned</p></div>
  <ul class="sheet-cautions">${p.plan.cautions.map((c) => html`<li>${c}</li>`)}</ul>
</article>`;
