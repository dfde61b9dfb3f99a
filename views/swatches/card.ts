import { Html, html } from '../html.ts';
import { colourChip } from '../kit/colourChip.ts';
import { day, percent } from '../kit/show.ts';
import { colourWords, type Tile } from './tile.ts';

export interface CardProps {
  tile: Tile & { recipeName: string; methodName: string; dyedOn: string };
  revisionNumber: number;
  components: readonly { code: string; name: string; sharePpm: number; ownDepthPpm: number }[];
  containers: readonly { code: string }[];
  readings: readonly { text: string; areaSharePpm: number | null }[];
  cardPlace: string;
  note: string;
  madeByName: string;
  address: string;
  /** SVG of our own making. */
  qrSvg: string;
}

/** One page to print: the tag to fix the sample to, with its formula and the way back to its page. */
export const swatchCard = (
  p: CardProps,
): Html => html`<p class="no-print actions"><a class="button" href="/swatches/${p.tile.swatchId}">Back</a><button class="primary" data-print>Print</button></p>
<article class="card">
  <div class="card-sample"><span class="card-hole" aria-hidden="true"></span><p>Fix the sample here</p></div>
  <div class="card-words">
    <header><h1>${p.tile.name}</h1><p class="card-code">${p.tile.code}</p></header>
    <p>${p.tile.recipeName}, revision ${p.revisionNumber} · <b>${percent(p.tile.depthPpm)}</b> owg on ${p.tile.fibreName}<br>${p.tile.methodName}</p>
    <table class="plain"><thead><tr><th scope="col">Dye</th><th scope="col" class="num">Share</th><th scope="col" class="num">Own depth</th></tr></thead><tbody>${p.components.map(
      (c) =>
        html`<tr><td><b>${c.code}</b> ${c.name}</td><td class="num">${percent(c.sharePpm)}</td><td class="num">${percent(c.ownDepthPpm)}</td></tr>`,
    )}</tbody></table>
    ${p.readings.map((r) => html`<p class="card-reading">${r.text}${r.areaSharePpm !== null && html` · ${percent(r.areaSharePpm)} of the area`}</p>`)}
    <p class="fine">Dyed ${day(p.tile.dyedOn)} by ${p.madeByName}${p.containers.length > 0 && html`, from ${p.containers.map((c) => c.code).join(', ')}`}${p.cardPlace && html` · kept in ${p.cardPlace}`}</p>
    ${p.note && html`<p>${p.note}</p>`}
  </div>
  <div class="card-foot"><div class="qr" role="img" aria-label="QR code of this swatch’s page">${new Html(p.qrSvg)}</div><p class="fine">${p.address}<br>${colourWords(p.tile)}; go by the sample, not by the printed patch</p><div class="card-chip">${colourChip(
    {
      hex: p.tile.hex,
      label: colourWords(p.tile),
      size: 'tile',
      bands: p.tile.bands.map((b) => ({ hex: b.hex, share: b.sharePpm })),
    },
  )}</div></div>
</article>`;
