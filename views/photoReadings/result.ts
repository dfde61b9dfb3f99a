import { type Html, html } from '../html.ts';
import { colourPatch } from '../kit/colourPatch.ts';
import { hiddenFields } from '../kit/hiddenFields.ts';

/** A colour that was read, as the page tells it. */
export interface ShownColour {
  hex: string;
  inGamut: boolean;
  name: string;
  plusMinus: number;
  text: string;
  d65Text: string;
  nearHref: string;
}

export type PhotoResultProps =
  | { outcome: 'cornersNeeded'; message: string; copyWords: string }
  | {
      outcome: 'read';
      corners: string;
      patchPlaces: string;
      cornersFrom: 'found' | 'given';
      cardName: string;
      heldOutMedian: number | null;
      uncorrectedMedian: number;
      patches: readonly { name: string; hex: string; photoHex: string; heldOutDeltaE: number | null; off: boolean }[];
      warnings: readonly { words: string; bad: boolean; note: boolean }[];
      goods:
        | (ShownColour & {
            spread: number;
            between: number | null;
            places: readonly ShownColour[];
            bands: readonly (ShownColour & { areaSharePct: number })[];
          })
        | null;
      keep: { action: string; name: string; hidden: readonly (readonly [string, string])[] } | null;
      copyWords: string;
    };
type Read = Extract<PhotoResultProps, { outcome: 'read' }>;

/** Element that every new reading replaces. */
export const PHOTO_RESULT = 'photo-result';

/** Bands of variegated goods, drawn by their shares. */
const bandBar = (bands: NonNullable<Read['goods']>['bands']): Html => {
  let x = 0;
  return html`<svg class="read-chip" viewBox="0 0 100 10" preserveAspectRatio="none" role="img"
    aria-label="Its ${bands.length} colours by their share">${bands.map((b) => {
      const rect = html`<rect x="${x.toFixed(2)}" width="${(b.areaSharePct + 0.3).toFixed(
        2,
      )}" height="10" fill="${b.hex}"/>`;
      x += b.areaSharePct;
      return rect;
    })}</svg>`;
};

/** Spots further apart than this (CIEDE2000) are hardly one colour. */
const SPOTS_APART = 4;

const spreadWords = (spread: number): string =>
  spread < 2 ? 'even' : spread < 5 ? 'lightly textured' : 'folds, texture or several colours';

const goodsPart = (p: Read, goods: NonNullable<Read['goods']>): Html => {
  const several = goods.bands.length > 1;
  return html`<section class="panel read-goods"><h2>${
    several ? `${goods.bands.length} colours of the goods` : 'Colour of the goods'
  }</h2>
  <div class="read-main">${
    several ? bandBar(goods.bands) : colourPatch({ hex: goods.hex, label: goods.name, css: 'read-chip' })
  }
  <div><p class="read-lab">${several ? 'Variegated' : goods.name}</p><p>${
    several ? html`Mean: ${goods.text}` : goods.text
  } <b>± ${goods.plusMinus.toFixed(1)}</b></p>
  <p class="fine">± is CIEDE2000, nine times in ten, as far as the card tells. Spread within: ${goods.spread.toFixed(
    1,
  )}, ${spreadWords(goods.spread)}.${
    goods.between !== null && html` Mean of ${goods.places.length} spots, ${goods.between.toFixed(1)} apart.`
  }${!goods.inGamut && html` Outside the screen’s range.`} ${goods.d65Text}.</p></div></div>
  ${
    goods.between !== null &&
    goods.between > SPOTS_APART &&
    html`<p class="notice warn">The spots lie ${goods.between.toFixed(
      1,
    )} apart: are they of the same goods? For goods of several colours draw round an area.</p>`
  }
  <div class="read-go">${
    p.keep &&
    html`<form method="post" action="${p.keep.action}">${hiddenFields(
      p.keep.hidden,
    )}<button class="primary">Keep it on ${p.keep.name}</button></form>`
  }<a class="button ${p.keep || several ? '' : 'primary'}" href="${goods.nearHref}">${
    several ? 'Find near the mean' : 'Find near it'
  }</a></div>
  ${
    several
      ? html`<ul class="read-list">${goods.bands.map(
          (b) =>
            html`<li>${colourPatch({
              hex: b.hex,
              label: b.name,
              css: 'chip chip-small',
            })}<span class="read-what"><b>${b.areaSharePct.toFixed(
              0,
            )} %</b> ${b.name}<br><span class="fine">${b.text} ± ${b.plusMinus.toFixed(
              1,
            )}</span></span><a class="button" href="${b.nearHref}">Near<span class="visually-hidden">
              the ${b.name}</span></a></li>`,
        )}</ul>`
      : goods.places.length > 1 &&
        html`<ol class="read-list">${goods.places.map(
          (s, i) =>
            html`<li>${colourPatch({
              hex: s.hex,
              label: s.name,
              css: 'chip chip-small',
            })}<span class="read-what">Spot ${i + 1}: ${s.name}<br><span class="fine">${s.text} ± ${s.plusMinus.toFixed(
              1,
            )}</span></span><a class="button" href="${s.nearHref}">Near<span class="visually-hidden">
              spot ${i + 1}</span></a><button type="button" class="quiet" data-drop-spot="${i}">Take out<span
              class="visually-hidden"> spot ${i + 1}</span></button></li>`,
        )}</ol>`
  }</section>`;
};

const patchList = (p: Read): Html =>
  html`<details class="panel read-card"><summary>${p.cardName}: ${
    p.cornersFrom === 'found' ? 'found by itself' : 'at the given corners'
  }${p.heldOutMedian !== null && html`, patches held out ΔE ${p.heldOutMedian.toFixed(1)}`}</summary>
  <p class="fine">Each patch as it should be, and below it as the photo has it before correction.${
    p.heldOutMedian === null
      ? html` Too few patches to hold any out.`
      : html` The figure: how far a fit that did not see the patch reads it off (CIEDE2000; before
        correction ${p.uncorrectedMedian.toFixed(1)} in the median).`
  }</p>
  <ul class="patch-grid">${p.patches.map(
    (patch) =>
      html`<li><svg viewBox="0 0 10 10" preserveAspectRatio="none" aria-hidden="true"><rect width="10" height="5"
        fill="${patch.hex}"/><rect y="5" width="10" height="5" fill="${patch.photoHex}"/></svg><span
        class="patch-say">${
          patch.heldOutDeltaE !== null && html`<b>${patch.off && '▲ '}${patch.heldOutDeltaE.toFixed(1)}</b> `
        }${patch.name}</span></li>`,
  )}</ul></details>`;

const sayOf = (goods: NonNullable<Read['goods']>): string =>
  goods.bands.length > 1
    ? `${goods.bands.length} colours, most of it ${goods.bands[0]?.name}`
    : `${goods.name}, ± ${goods.plusMinus.toFixed(1)}`;

/** What a photo says: of the card, of the goods, and what to do next. */
export const photoResult = (p: PhotoResultProps): Html => {
  const copy = p.copyWords !== '' && html`<p class="notice">${p.copyWords}</p>`;
  if (p.outcome === 'cornersNeeded') {
    return html`<div id="${PHOTO_RESULT}" data-outcome="cornersNeeded" data-say="The card was not found.">
      <div class="notice warn" role="alert"><p>${p.message}</p></div>${copy}</div>`;
  }
  return html`<div id="${PHOTO_RESULT}" data-outcome="read" data-corners="${p.corners}" data-patches="${p.patchPlaces}"
    data-off="${p.patches
      .map((patch) => (patch.off ? 1 : 0))
      .join(',')}" data-say="${p.goods ? sayOf(p.goods) : 'The card was read. Tap the goods in the photo.'}">
  ${copy}${
    p.goods
      ? goodsPart(p, p.goods)
      : html`<section class="panel read-goods"><h2>The card was read</h2><p>Now tap the goods in the photo, or draw
        round an area of them.</p></section>`
  }
  ${
    p.warnings.length > 0 &&
    html`<ul class="read-warnings">${p.warnings.map(
      (w) => html`<li class="notice ${w.bad ? 'bad' : w.note ? '' : 'warn'}"><p>${w.words}</p></li>`,
    )}</ul>`
  }
  ${patchList(p)}</div>`;
};
