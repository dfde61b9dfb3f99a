import type { ShadeShift } from '../../server/calc/colour/tolerance.ts';
import type { NearTile } from '../../server/near/schemas.ts';
import { type Html, html } from '../html.ts';
import { colourPair } from '../kit/colourPatch.ts';
import { percent } from '../kit/show.ts';

export interface NearHitProps
  extends Pick<
    NearTile,
    | 'swatchId'
    | 'code'
    | 'name'
    | 'depthPpm'
    | 'fibreName'
    | 'dyes'
    | 'hex'
    | 'inGamut'
    | 'deltaE'
    | 'words'
    | 'areaSharePpm'
    | 'adaptedFrom'
  > {
  shift: ShadeShift;
  towards: { a: number; b: number };
}

const LIGHTNESS: Readonly<Record<ShadeShift['lightness'], string>> = { lighter: '↑', darker: '↓', level: '' };

/** An arrow in the plane of a* and b*: redder to the right, yellower up. Turned by a transform, since style is not
 *  allowed. */
const compass = (towards: { a: number; b: number }): Html => {
  const turn = (Math.atan2(-towards.b, towards.a) * 180) / Math.PI;
  return html`<svg class="compass" viewBox="-8 -8 16 16" aria-hidden="true"><circle r="7"/><path
    d="M-5 0H5M1.6 -3.4L5 0L1.6 3.4" transform="rotate(${turn.toFixed(0)})"/></svg>`;
};

/** Which way the swatch lies from the colour looked for, with an arrow before each word. */
export const shiftWords = (shift: ShadeShift, towards: { a: number; b: number }): Html => {
  const hue = [shift.redGreen, shift.yellowBlue].filter((w) => w !== 'level');
  const parts = [
    shift.lightness !== 'level' &&
      html`<span class="shift"><span aria-hidden="true">${LIGHTNESS[shift.lightness]}</span> ${shift.lightness}</span>`,
    hue.length > 0 && html`<span class="shift">${compass(towards)} ${hue.join(', ')}</span>`,
    shift.chroma !== 'level' && html`<span class="shift">${shift.chroma}</span>`,
  ].filter((p) => p !== false);
  return html`<span class="shifts">${parts.length > 0 ? parts : html`<span class="shift">level with it</span>`}</span>`;
};

/** A candidate beside the standard, edge to edge, so that the eye sees their border and nothing else. */
export const nearTile = (p: { hit: NearHitProps; standardHex: string }): Html => {
  const { hit } = p;
  return html`<li class="near-tile"><a href="/swatches/${hit.swatchId}">
  ${colourPair({ left: p.standardHex, right: hit.hex, label: `The colour looked for beside ${hit.name}` })}
  <span class="near-words"><span class="near-delta"><span class="fine">ΔE</span> ${hit.deltaE.toFixed(
    1,
  )}</span><span class="near-name">${hit.name}</span>
  <span class="near-say">${hit.words}</span>${shiftWords(hit.shift, hit.towards)}
  <span class="fine">${hit.code} · ${percent(
    hit.depthPpm,
  )} · ${hit.fibreName}</span><span class="fine">${hit.dyes}</span>${
    hit.areaSharePpm !== null &&
    hit.areaSharePpm < 1_000_000 &&
    html`<span class="fine">${percent(hit.areaSharePpm, 0)} of its area has this colour</span>`
  }${hit.adaptedFrom && html`<span class="fine">adapted from ${hit.adaptedFrom}</span>`}${
    !hit.inGamut && html`<span class="fine">outside the screen’s range</span>`
  }</span></a></li>`;
};
