import type { SwatchShown } from '../../server/swatches/schemas.ts';
import { Html, html } from '../html.ts';
import { day, percent } from '../kit/show.ts';
import { colourWords, tileChip } from './tile.ts';

export interface CardProps {
  swatch: SwatchShown;
  readings: readonly { text: string; areaSharePpm: number | null }[];
  address: string;
  /** SVG of our own making. */
  qrSvg: string;
}

/** One page to print: the tag to fix the sample to, with its formula and the way back to its page. */
export const swatchCard = ({
  swatch: s,
  readings,
  address,
  qrSvg,
}: CardProps): Html => html`<p class="no-print actions"><a class="button"
  href="/swatches/${s.swatchId}">Back</a><button class="primary" data-print>Print</button></p>
<article class="card">
  <div class="card-sample"><span class="card-hole" aria-hidden="true"></span><p>Fix the sample here</p></div>
  <div class="card-words">
    <header><h1>${s.name}</h1><p class="card-code">${s.code}</p></header>
    <p>${s.recipeName}, revision ${s.revisionNumber} · <b>${percent(s.depthPpm)}</b> owg on
      ${s.fibreName}<br>${s.methodName}</p>
    <table class="plain"><thead><tr><th scope="col">Dye</th><th scope="col" class="num">Share</th><th scope="col"
      class="num">Own depth</th></tr></thead><tbody>${s.components.map(
        (c) =>
          html`<tr><td><b>${c.code}</b> ${c.name}</td><td class="num">${percent(c.sharePpm)}</td><td
          class="num">${percent(c.ownDepthPpm)}</td></tr>`,
      )}</tbody></table>
    ${readings.map(
      (r) =>
        html`<p class="card-reading">${r.text}${
          r.areaSharePpm !== null &&
          html` ·
      ${percent(r.areaSharePpm)} of the area`
        }</p>`,
    )}
    <p class="fine">Dyed ${day(s.dyedOn)} by ${s.madeBy.name}${
      s.containers.length > 0 &&
      html`, from
      ${s.containers.map((c) => c.code).join(', ')}`
    }${s.cardPlace && html` · kept in ${s.cardPlace}`}</p>
    ${s.note && html`<p>${s.note}</p>`}
  </div>
  <div class="card-foot"><div class="qr" role="img"
    aria-label="QR code of this swatch’s page">${new Html(qrSvg)}</div><p
    class="fine">${address}<br>${colourWords(s)}; go by the sample, not by the printed patch</p><div
    class="card-chip">${tileChip(s)}</div></div>
</article>`;
