import { type Html, html } from '../html.ts';
import { colourChip } from '../kit/colourChip.ts';
import { colourPair, colourPatch } from '../kit/colourPatch.ts';
import { columnHeads } from '../kit/columnHeads.ts';
import { type FormState, formNotice } from '../kit/field.ts';
import { badge, pageHead } from '../kit/pageHead.ts';
import { grams, mass, percent, type Show } from '../kit/show.ts';

export interface OfferView {
  additions: readonly {
    code: string;
    name: string;
    shownHex: string | null;
    depthPpm: number;
    massMg: number;
    ownDye: boolean;
    onHandMg: number;
  }[];
  hex: string;
  deltaE2000: number;
  deltaE90: number;
  words: string;
}

export interface CorrectionPageProps {
  lotId: number;
  lotNumber: string;
  finished: boolean;
  recipeName: string;
  dryMassMg: number;
  standard: { swatchId: number; code: string; name: string; hex: string; text: string };
  came: { hex: string; text: string };
  adaptation: string;
  tolerance: number;
  toleranceOf: string;
  advice:
    | { known: false; message: string }
    | {
        known: true;
        deltaE2000Now: number;
        deltaInWords: string;
        verdict: 'leave' | 'add' | 'nearer' | 'cannot';
        targetLighter: boolean;
        seeming: readonly { code: string; depthPpm: number; recipeDepthPpm: number }[];
        offers: readonly OfferView[];
      };
  darkerHref: string;
  form: FormState;
  mayLog: boolean;
  show: Show;
}

const VERDICT = {
  leave: { label: 'within tolerance: leave it', tone: 'good' },
  add: { label: 'an addition brings it within tolerance', tone: 'good' },
  nearer: { label: 'additions bring it nearer, not within', tone: 'warn' },
  cannot: { label: 'no addition helps: strip, or overdye darker', tone: 'bad' },
} as const;

const offer = (p: CorrectionPageProps, one: OfferView, i: number): Html =>
  html`<li class="proposal panel">${colourPair({
    left: p.standard.hex,
    right: one.hex,
    label: 'Wanted, left, beside what is predicted after the addition',
  })}
  <h3>Addition ${i + 1}</h3>
  <ul class="plain-list">${one.additions.map(
    (a) =>
      html`<li class="list-row">${colourChip({
        hex: a.shownHex,
        label: a.name,
      })}<span class="grow"><b>${a.code}</b> ${a.name}<br><span class="fine">${percent(a.depthPpm)} of the goods${
        !a.ownDye && ', a dye that is not in it yet'
      }${
        a.onHandMg < a.massMg && ', more than is in stock'
      }</span></span><span class="big-number">${grams(a.massMg, 1)}</span></li>`,
  )}</ul>
  <p><span class="predicted-word">predicted</span> ΔE <b>${one.deltaE2000.toFixed(1)} ± ${one.deltaE90.toFixed(
    1,
  )}</b> from the standard</p>
  ${
    p.mayLog &&
    html`<form method="post" action="/lots/${p.lotId}/correction"><input type="hidden" name="offer" value="${i}"><input
      type="hidden" name="words" value="${one.words}"><input type="hidden" name="standard"
      value="${p.standard.swatchId}"><button class="primary">Note it in the lot’s log</button></form>`
  }</li>`;

/** What to do with a lot that came out off its standard. */
export const correctionPage = (p: CorrectionPageProps): Html => {
  const { advice } = p;
  return html`${pageHead({
    title: `Correct the shade of lot ${p.lotNumber}`,
    crumb: { href: `/lots/${p.lotId}`, label: `Lot ${p.lotNumber}` },
    lead: html`${p.recipeName} · ${mass(p.show, p.dryMassMg)} dry`,
  })}${formNotice(p.form)}
<div class="off-shade">
  <figure>${colourPatch({
    hex: p.standard.hex,
    label: `Standard ${p.standard.code}`,
    css: 'near-big',
  })}<figcaption><b>Standard</b> <a href="/swatches/${
    p.standard.swatchId
  }">${p.standard.code} ${p.standard.name}</a><br><span class="fine">${p.standard.text}</span></figcaption></figure>
  <figure>${colourPatch({
    hex: p.came.hex,
    label: 'What came out',
    css: 'near-big',
  })}<figcaption><b>Came out</b><br><span class="fine">${p.came.text}</span></figcaption></figure>
</div>
${p.adaptation && html`<p class="fine">${p.adaptation}</p>`}
${
  !advice.known
    ? html`<div class="notice"><p>${advice.message}</p><p>Shade it by eye: small additions, each dyed through before
      the next is judged.</p></div>`
    : html`<section class="panel"><p>${badge(VERDICT[advice.verdict])}</p>
  <p>ΔE <b>${advice.deltaE2000Now.toFixed(1)}</b> from the standard: ${advice.deltaInWords}.
    Tolerance ${p.tolerance.toFixed(1)} (CIEDE2000), of ${p.toleranceOf}.</p>
  ${
    advice.targetLighter &&
    html`<p class="caution"><span>The standard is lighter or cleaner than these goods. Dye cannot be taken out by
      adding dye: stripping, or another use for the lot.</span></p>`
  }
  ${
    advice.seeming.length > 0 &&
    html`<div class="table-wrap"><table class="plain"><caption>What the goods seem to hold, from their
      colour</caption><thead><tr>${columnHeads([
        'Dye',
        { num: 'Recipe' },
        { num: 'Seems' },
      ])}</tr></thead><tbody>${advice.seeming.map(
        (s) =>
          html`<tr><th scope="row">${s.code}</th><td class="num">${percent(s.recipeDepthPpm, 2)}</td>
          <td class="num">${percent(s.depthPpm, 2)}</td></tr>`,
      )}</tbody></table></div>`
  }</section>
  ${
    advice.offers.length > 0 &&
    advice.verdict !== 'leave' &&
    html`<h2>Additions</h2><ol class="proposals">${advice.offers.map((one, i) => offer(p, one, i))}</ol>`
  }`
}
<section class="panel"><h2>Before you add</h2><ul>
  <li>Additions only: start with half of it, dye it through, rinse and dry a corner, and look again.</li>
  <li>Masses are for powder of standard strength; the studio’s scale may need a stock solution for so little.</li>
  <li>A fresh addition takes up faster than the first dye: add it dissolved, at the start temperature of the method,
    with the goods moving.</li>
  <li>Predicted figures come from whole dyeings of your swatches, not from additions; the ± is as wide as for a recipe
    dyed afresh.</li></ul>
  <p>Nothing fits? <a href="${p.darkerHref}">Look for a darker colour to overdye it to</a>, or strip it by the method
    for this dye and start again; a stripped lot seldom takes dye as evenly as new goods.</p></section>`;
};
