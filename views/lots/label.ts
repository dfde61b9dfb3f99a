import { Html, html } from '../html.ts';
import { day, depthDyed } from '../kit/show.ts';

/** The label that goes with the goods: the dye-lot number, large, and the way back to the record. */
export const lotLabel = (p: {
  lotId: number;
  number: string;
  studioName: string;
  goodsText: string;
  fibreName: string;
  colours: readonly { recipeName: string; depthPpm: number }[];
  customers: readonly string[];
  dyedOn: string | null;
  qrSvg: string;
}): Html => html`<article class="label-card">
  <div><p class="fine">${p.studioName} · dye lot</p><h1>${p.number}</h1>
  <p><b>${p.colours.map((c) => c.recipeName).join(', ')}</b> ${
    p.colours.length === 1 && depthDyed(p.colours[0]?.depthPpm ?? 0)
  }<br>${p.goodsText}, ${p.fibreName}${p.dyedOn !== null && html`<br>dyed ${day(p.dyedOn)}`}${
    p.customers.length > 0 && html`<br>for ${p.customers.join('; ')}`
  }</p>
  <p class="fine">Keep goods of one dye lot together.</p></div>
  <div class="qr">${new Html(p.qrSvg)}</div>
</article>
<p class="screen-only"><button class="primary" data-print>Print</button> <a class="button" href="/lots/${p.lotId}">Back
  to the lot</a></p>`;
