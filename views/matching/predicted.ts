import { ONE_CLOTH } from '../../server/calc/match/sureness.ts';
import type { PredictedShown } from '../../server/matching/schemas.ts';
import { type Html, html } from '../html.ts';
import { type FormState, field, type Option, selectField } from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';
import { percent } from '../kit/show.ts';

export interface RestsOnView {
  swatchId: number;
  code: string;
  name: string;
  hex: string | null;
}

export interface KnownView
  extends Pick<PredictedShown, 'known' | 'hex' | 'inGamut' | 'name' | 'deltaE90' | 'sureInWords' | 'calibratedOn'> {
  /** 'L* 48.6  a* −13.8  b* 1.8, D65/10°'. */
  text: string;
  familiarInWords: string;
  /** Why the ± is wider than elsewhere; '' where it is not. */
  whyWide: string;
  /** What one trial would do to the ±. */
  afterTrial: string;
  /** Said while the model has not caught up with the library; '' when it has. */
  learning: string;
  restsOn: readonly RestsOnView[];
}

export type PredictedView = KnownView | { known: false; message: string };

export interface PredictedProps {
  revisionId: number;
  recipeName: string;
  depthPpm: number;
  fibreId: number | null;
  methodId: number | null;
  goodsName: string;
  methodName: string;
  answer: PredictedView | null;
  fibres: readonly Option[];
  methods: readonly Option[];
  form: FormState;
  proposalsHref: string | null;
}

const PREDICTED = 'predicted';

/** What was predicted, marked so that nobody takes it for a dyed thing: a chip with a torn edge and the word on it. */
export const predictedChip = (p: { hex: string; name: string }): Html =>
  html`<svg class="predicted-chip" viewBox="0 0 100 60" preserveAspectRatio="none" role="img"
    aria-label="Predicted: ${p.name}"><path
    d="M0 0H100V54L92 60 84 54 76 60 68 54 60 60 52 54 44 60 36 54 28 60 20 54 12 60 4 54 0 57Z"
    fill="${p.hex}"/></svg>`;

export const sentence = (words: string): string => `${words.charAt(0).toUpperCase()}${words.slice(1)}`;

export const restsOnList = (restsOn: readonly RestsOnView[]): Html | '' =>
  restsOn.length === 0
    ? ''
    : html`<ul class="rests-on">${restsOn.map(
        (r) =>
          html`<li><a href="/swatches/${r.swatchId}">${
            r.hex &&
            html`<svg class="chip rests-chip" viewBox="0 0 10 10" aria-hidden="true"><rect width="10" height="10"
              fill="${r.hex}"/></svg>`
          }<span>${r.code} ${r.name}</span></a></li>`,
      )}</ul>`;

const answerPart = (answer: PredictedView): Html =>
  answer.known
    ? html`<div class="predicted-answer">${predictedChip(answer)}
  <div><p class="predicted-name"><span class="predicted-word">predicted</span> ${answer.name},
    <b>± ${answer.deltaE90.toFixed(1)}</b> ΔE</p>
  <p>${sentence(answer.sureInWords)}; ${answer.familiarInWords}. Nine of ten dyeings come out
    within ${answer.deltaE90.toFixed(1)} (CIEDE2000)${
      answer.calibratedOn < 20 &&
      html`, by a wide guess while only ${answer.calibratedOn} held-out ${
        answer.calibratedOn === 1 ? 'swatch stands' : 'swatches stand'
      } behind it`
    }.</p>
  ${answer.whyWide && html`<p>${answer.whyWide}</p>`}
  <p class="fine">${ONE_CLOTH} ${answer.afterTrial}</p>
  ${answer.learning && html`<p class="fine" role="status">${answer.learning}</p>`}
  <p class="fine">${answer.text} · ${answer.hex}${!answer.inGamut && ', outside the screen’s range'}</p>
  ${
    answer.restsOn.length > 0 && html`<p class="fine">Most alike of your swatches:</p>${restsOnList(answer.restsOn)}`
  }</div></div>`
    : html`<div class="notice"><p>${answer.message}</p></div>`;

const goodsLine = (p: PredictedProps): Html | '' =>
  p.answer === null
    ? ''
    : html`<p class="fine">At ${percent(p.depthPpm)} on ${p.goodsName}, ${p.methodName}. <a
        href="/colour/predicted?revisionId=${p.revisionId}&fibreId=${p.fibreId ?? ''}&methodId=${
          p.methodId ?? ''
        }">At another depth, on other goods</a></p>`;

/** "What would it look like": what a changed depth or other goods swap. */
export const predictedPart = (p: PredictedProps): Html =>
  html`<div id="${PREDICTED}" class="predicted" aria-live="polite">${
    p.answer === null
      ? html`<p class="fine">Choose goods and a method, and the colour that your swatches lead to expect stands
        here.</p>`
      : answerPart(p.answer)
  }${goodsLine(p)}${
    p.proposalsHref !== null && html`<p><a href="${p.proposalsHref}">Other recipes for this colour</a></p>`
  }</div>`;

const goodsForm = (p: PredictedProps): Html =>
  html`<form class="predicted-goods" action="/colour/predicted" method="get" hx-get="/colour/predicted"
    hx-target="#${PREDICTED}" hx-swap="outerHTML" hx-trigger="input delay:250ms, submit">
  <input type="hidden" name="revisionId" value="${p.revisionId}">
  ${selectField({ name: 'fibreId', label: 'On', form: p.form, options: p.fibres, none: 'choose' })}
  ${selectField({ name: 'methodId', label: 'By', form: p.form, options: p.methods, none: 'choose' })}
  ${field({ name: 'depth', label: 'At a depth of', form: p.form, unit: '% owg', inputmode: 'decimal', size: 'short' })}
  <noscript><button>Show</button></noscript></form>`;

/** The same as a page of its own. */
export const predictedPage = (p: PredictedProps): Html =>
  html`${pageHead({
    title: `What would ${p.recipeName} look like?`,
    crumb: { href: '/recipes', label: 'Recipes' },
    lead: html`Predicted from your own swatches, at ${percent(p.depthPpm)}${p.goodsName && html` on ${p.goodsName}`}${
      p.methodName && html`, ${p.methodName}`
    }. A swatch dyed and read is always better.`,
  })}
<section class="panel">${goodsForm(p)}${predictedPart(p)}</section>
<p><a href="/colour/knowledge">What is known of which dye, and from how many samples</a></p>`;
