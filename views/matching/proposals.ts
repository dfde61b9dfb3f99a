import { lampInWords, ONE_CLOTH } from '../../server/calc/match/sureness.ts';
import { type Html, html } from '../html.ts';
import { colourChip } from '../kit/colourChip.ts';
import { colourPair } from '../kit/colourPatch.ts';
import { choice, type FormState, field, formNotice, type Option, selectField } from '../kit/field.ts';
import { hiddenFields } from '../kit/hiddenFields.ts';
import { badge, emptyState, pageHead } from '../kit/pageHead.ts';
import { money, percent, type Show } from '../kit/show.ts';
import { type StandardProps, standardHead } from '../near/standard.ts';
import { type NearHitProps, nearTile } from '../near/tile.ts';
import { type KnownView, restsOnList, sentence } from './predicted.ts';

export interface ProposalView {
  components: readonly {
    dyeId: number;
    code: string;
    name: string;
    shownHex: string | null;
    depthPpm: number;
    inStock: boolean;
  }[];
  totalDepthPpm: number;
  predicted: KnownView;
  deltaE2000: number;
  deltaInWords: string;
  underLamp: { hex: string; fromTarget: number | null; fromFirst: number | null; deltaE90: number; byCurves: boolean };
  dyeCostMinorPer100g: number | null;
  /** What the buttons send. */
  formula: string;
  why: string;
}

export interface ProposalsPageProps {
  target: StandardProps | null;
  /** Of the wanted colour: what every form carries on. */
  targetFields: readonly (readonly [string, string])[];
  /** null while no colour or no goods were chosen. */
  answer:
    | {
        known: true;
        proposals: readonly ProposalView[];
        adaptation: string;
        learned: string;
        /** Said while the model has not caught up with the library; '' when it has. */
        learning: string;
        notKnown: readonly string[];
        allowedCount: number;
      }
    | { known: false; message: string }
    | null;
  near: readonly NearHitProps[];
  recipe: { recipeId: number; name: string } | null;
  fibreId: number | null;
  methodId: number | null;
  likeSwatchId: number | null;
  trialName: string;
  asked: string;
  form: FormState;
  take: FormState;
  fibres: readonly Option[];
  methods: readonly Option[];
  mayWork: boolean;
  show: Show;
}

const wishes = (p: ProposalsPageProps): Html =>
  html`<form class="stack" action="/colour/proposals" method="get">${hiddenFields(p.targetFields)}
  <div class="grid">
  ${selectField({ name: 'fibreId', label: 'On', form: p.form, options: p.fibres, required: true })}
  ${selectField({ name: 'methodId', label: 'By', form: p.form, options: p.methods, required: true })}
  ${selectField({
    name: 'dyes',
    label: 'From',
    form: p.form,
    options: [
      { value: 'fitting', label: 'all dyes that suit' },
      { value: 'inStock', label: 'dyes in stock' },
      { value: 'favourites', label: 'the eight most used' },
    ],
  })}
  ${choice({
    name: 'maxDyes',
    label: 'Of at most',
    form: p.form,
    options: ['1', '2', '3', '4'].map((v) => ({ value: v, label: v === '1' ? '1 dye' : v })),
  })}</div>
  <details class="wish-depths"><summary>Depth limits</summary><div class="grid">
  ${field({
    name: 'least',
    label: 'Least of one dye',
    form: p.form,
    unit: '% owg',
    inputmode: 'decimal',
    size: 'short',
  })}
  ${field({
    name: 'most',
    label: 'Most of one dye',
    form: p.form,
    unit: '% owg',
    inputmode: 'decimal',
    size: 'short',
    hint: 'Empty: as deep as your swatches reach.',
  })}</div></details>
  <p><button class="primary">Propose</button></p></form>`;

const lamp = (u: ProposalView['underLamp'], first: boolean): Html => {
  const byWhat = u.byCurves
    ? ''
    : ' None of these swatches has a curve, so what another lamp does to them is an estimate.';
  if (u.fromTarget === null) {
    return html`<span class="fine">Lamp light: not known against this target, which has no curve${
      !first && u.fromFirst !== null && html`; ΔE ${u.fromFirst.toFixed(1)} from the first proposal under illuminant A`
    }.${byWhat}</span>`;
  }
  const { label, isGood } = lampInWords({ fromTarget: u.fromTarget, deltaE90: u.deltaE90 });
  return html`${badge({
    label,
    tone: isGood ? 'good' : 'warn',
  })} <span class="fine">ΔE ${u.fromTarget.toFixed(1)} ± ${u.deltaE90.toFixed(
    1,
  )} from the target under illuminant A.${byWhat}</span>`;
};

const take = (p: ProposalsPageProps, one: ProposalView): Html | '' =>
  !p.mayWork || p.fibreId === null || p.methodId === null
    ? ''
    : html`<form method="post" action="/colour/proposals" class="take">${hiddenFields([
        ['formula', one.formula],
        ['fibreId', String(p.fibreId)],
        ['methodId', String(p.methodId)],
        ['name', p.trialName],
        ['why', one.why],
        ['asked', p.asked],
        ['recipeId', p.recipe === null ? '' : String(p.recipe.recipeId)],
        ['likeSwatchId', p.likeSwatchId === null ? '' : String(p.likeSwatchId)],
      ])}
  <span class="take-trial"><button class="primary" name="as" value="trial">Plan a trial</button><label><span
    class="visually-hidden">Dry mass of the trial piece</span><select name="mass">${[
      '5 g',
      '10 g',
      '20 g',
      '50 g',
      '100 g',
    ].map(
      (m) => html`<option value="${m}" ${m === (p.take.typed['mass'] ?? '10 g') && html`selected`}>of ${m}</option>`,
    )}</select></label></span>
  <button name="as" value="recipe">Make it a recipe</button>${
    p.recipe && html`<button name="as" value="revision">New revision of ${p.recipe.name}</button>`
  }</form>`;

const proposal = (p: ProposalsPageProps, one: ProposalView, i: number): Html =>
  html`<li class="proposal panel">${colourPair({
    left: p.target?.hex ?? '#888888',
    right: one.predicted.hex,
    label: `Wanted, left, beside what is predicted: ${one.predicted.name}`,
  })}
  <h3>Proposal ${i + 1}: <span class="predicted-word">predicted</span> ${one.predicted.name}</h3>
  <dl class="figures"><div><dt>ΔE from wanted</dt><dd
    class="big-number">${one.deltaE2000.toFixed(1)} <small>± ${one.predicted.deltaE90.toFixed(
      1,
    )}</small></dd></div><div><dt>Dye for 100 g</dt><dd class="big-number">${
      one.dyeCostMinorPer100g === null ? '—' : money(p.show, one.dyeCostMinorPer100g)
    }</dd></div></dl>
  <p>If the prediction holds: ${one.deltaInWords}. ${sentence(one.predicted.sureInWords)}; ${
    one.predicted.familiarInWords
  }.${one.predicted.whyWide && html` ${one.predicted.whyWide}`}</p>
  <p>${one.predicted.afterTrial}</p>
  <div class="table-wrap"><table class="plain"><caption class="visually-hidden">Formula of
    proposal ${i + 1}</caption><thead><tr><th scope="col">Dye</th><th scope="col"
    class="num">Depth</th></tr></thead><tbody>${one.components.map(
      (c) =>
        html`<tr><td><span class="chip-row">${colourChip({
          hex: c.shownHex,
          label: c.name,
        })}<span><b>${c.code}</b> ${c.name}${
          !c.inStock && html`<br><span class="fine">none in stock</span>`
        }</span></span></td><td class="num">${percent(c.depthPpm)}</td></tr>`,
    )}</tbody><tfoot><tr><th scope="row">Total</th><td class="num">${percent(
      one.totalDepthPpm,
    )}</td></tr></tfoot></table></div>
  <p>${lamp(one.underLamp, i === 0)}</p>
  <details><summary>Rests on these swatches</summary>${restsOnList(one.predicted.restsOn)}<p class="fine">${
    one.predicted.text
  }${!one.predicted.inGamut && ', outside the screen’s range'}</p></details>
  ${take(p, one)}</li>`;

const answerPart = (p: ProposalsPageProps): Html => {
  const { answer } = p;
  if (answer === null) return html``;
  if (!answer.known) {
    return emptyState({
      title: 'Nothing to learn from',
      words: answer.message,
      action: { href: '/colour/knowledge', label: 'What is known of which dye' },
    });
  }
  return html`<h2>Recipes, predicted</h2>${
    answer.learning && html`<p class="notice" role="status">${answer.learning}</p>`
  }<p class="fine" role="status">${answer.learned} ${ONE_CLOTH} ${answer.adaptation}${
    answer.notKnown.length > 0 &&
    html` Left out, since no two of these swatches hold them: ${answer.notKnown.join(', ')}.`
  }</p>${
    answer.proposals.length === 0
      ? emptyState({
          title: 'No recipe to propose',
          words:
            answer.allowedCount === 0
              ? 'None of the dyes chosen suits these goods by this method.'
              : 'The dyes that are allowed are not known well enough on these goods by this method.',
          action: { href: '/sampling/new', label: 'Plan samples' },
        })
      : html`<ol class="proposals">${answer.proposals.map((one, i) => proposal(p, one, i))}</ol>`
  }`;
};

/** Recipes for a colour, beside the real swatches near it. */
export const proposalsPage = (p: ProposalsPageProps): Html =>
  html`<div class="near-page">${pageHead({
    title: 'Recipes for a colour',
    crumb: { href: '/swatches', label: 'Swatch library' },
    actions: html`<a class="button" href="/swatches/near">${p.target ? 'Another colour' : 'Choose a colour'}</a>`,
    ...(p.target
      ? {}
      : {
          lead: 'Say which colour is wanted, on which goods, and recipes are proposed from what your own swatches teach.',
        }),
  })}${formNotice(p.take)}${Object.entries(p.take.errors).map(([, words]) => html`<p class="field-error">${words}</p>`)}
  ${
    Object.keys(p.form.errors).length > 0 &&
    html`<div class="notice bad" role="alert">${Object.values(p.form.errors).map((w) => html`<p>${w}</p>`)}</div>`
  }
  ${
    p.target === null
      ? html`<section class="panel"><h2>Which colour?</h2><form action="/colour/proposals" method="get"
        class="stack">${field({
          name: 'colour',
          label: 'Type it',
          form: p.form,
          placeholder: '#3a6b88, 52 -8 -14, LCh 52 16 240',
          autocomplete: 'off',
        })}<p><button class="primary">Go on</button></p></form><p>Or <a href="/swatches/near">pick it, photograph it, or
          start from a swatch</a>.</p></section>`
      : html`${standardHead(p.target, 'The wanted colour')}<section class="panel">${wishes(p)}</section>${answerPart(p)}
  ${
    p.near.length > 0 &&
    html`<h2>Real swatches near it</h2><p class="fine">Dyed and read; the wanted colour is on the left of each.</p><ol
      class="near-tiles">${p.near.map((hit) => nearTile({ hit, standardHex: p.target?.hex ?? '#888888' }))}</ol>`
  }`
  }</div>`;
