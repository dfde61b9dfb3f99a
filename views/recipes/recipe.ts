import { dyeClassNames } from '../../server/calc/classFit.ts';
import type {
  FormulaLine,
  LotOfRecipe,
  Recipe,
  RevisionShown,
  Scaled,
  SwatchOfRecipe,
} from '../../server/recipes/schemas.ts';
import { type Html, html } from '../html.ts';
import { archiveButton } from '../kit/archive.ts';
import { colourChip } from '../kit/colourChip.ts';
import { field } from '../kit/field.ts';
import { lotStatusBadge } from '../kit/lotStatus.ts';
import { badge, pageHead } from '../kit/pageHead.ts';
import { depthDyed, grams, mass, percent, type Show, when } from '../kit/show.ts';
import { formulaPanel, sharePercent } from './formula.ts';

export type ScaledProps = { revisionId: number; goodsTyped: string } & (
  | { kind: 'none' }
  | { kind: 'unreadable'; why: string }
  | ({ kind: 'scaled'; show: Show } & Scaled)
);

const exact = (mg: number): string => `${(mg / 1000).toFixed(4).replace(/0{1,2}$/, '')} g`;
const signedPct = (pct: number): string =>
  Math.abs(pct) < 0.005 ? '0 %' : `${pct > 0 ? '+' : '−'}${Math.abs(pct).toFixed(2)} %`;

const scaledTable = (props: Scaled & { show: Show }): Html =>
  html`<div class="table-wrap"><table class="plain weigh-table"><thead><tr><th scope="col">Dye</th><th scope="col"
    class="num">Weigh</th></tr></thead>
      <tbody>${props.lines.map(
        (l) =>
          html`<tr><th scope="row">${l.dyeName}${
            !l.weighsWell && html`<br>${badge({ label: 'too little for this scale', tone: 'warn' })}`
          }</th><td class="num"><span class="big">${grams(l.roundedMg, props.readabilityMg)}</span><br>
          <span class="fine">exactly ${exact(l.exactMg)}<br>
          rounding ${signedPct(l.roundingErrorPct)}</span></td></tr>`,
      )}</tbody>
      <tfoot><tr><th scope="row">On ${mass(props.show, props.goodsDryMassMg)} of goods</th><td class="num"><span
        class="big">${grams(props.totalRoundedMg, props.readabilityMg)}</span></td></tr></tfoot></table></div>
      <p class="fine">Rounded to the scale’s ${grams(props.readabilityMg, props.readabilityMg)}. Dye of standard
        strength, nothing added for loss: a lot’s plan knows the containers, the method and the cloth.${
          props.lines.every((l) => l.weighsWell)
            ? ''
            : ' Where it is too little for the scale, the plan offers stock solution.'
        }</p>`;

/** Masses for so much goods: what changing the amount swaps. */
export const scaledMasses = (props: ScaledProps): Html =>
  html`<div id="scaled" aria-live="polite">${
    props.kind === 'none'
      ? html`<p class="fine">Type the dry mass of the goods: 250 g, 1.2 kg, 1 lb 4 oz.</p>`
      : props.kind === 'unreadable'
        ? html`<p class="field-error" id="f-goods-error">${props.why}</p>`
        : scaledTable(props)
  }</div>`;

interface RecipePageProps {
  recipe: Omit<Recipe, 'revisions'>;
  /** Newest first. */
  revisions: readonly RevisionShown[];
  scaled: ScaledProps;
  swatches: readonly SwatchOfRecipe[];
  lots: readonly LotOfRecipe[];
  show: Show;
  mayWork: boolean;
}

/** Revisions side by side, the newest first; what differs from the one before stands out in bold with a mark. */
const sideBySide = (props: RecipePageProps): Html => {
  const { revisions } = props;
  const dyes = new Map<number, string>();
  for (const r of revisions) for (const c of r.components) dyes.set(c.dyeId, c.dyeName);
  const depthOf = (r: RevisionShown | undefined, dyeId: number): FormulaLine | undefined =>
    r?.components.find((c) => c.dyeId === dyeId);
  const cell = (r: RevisionShown, before: RevisionShown | undefined, dyeId: number): Html => {
    const now = depthOf(r, dyeId);
    const was = depthOf(before, dyeId);
    const changed = before !== undefined && now?.depthPpm !== was?.depthPpm;
    const words = now ? html`${percent(now.depthPpm)}<br><span class="fine">${sharePercent(now.sharePpm)}</span>` : '—';
    if (!changed) return html`<td class="num">${words}</td>`;
    const sign = !now ? 'taken out' : !was ? 'new' : now.depthPpm > was.depthPpm ? 'more' : 'less';
    return html`<td class="num changed">${words}<br><span class="change">${sign}</span></td>`;
  };
  const total = (r: RevisionShown, before: RevisionShown | undefined): Html => {
    const changed = before !== undefined && before.totalDepthPpm !== r.totalDepthPpm;
    return html`<td class="num ${changed && 'changed'}"><b>${percent(r.totalDepthPpm)}</b>${
      changed && html`<br><span class="change">${r.totalDepthPpm > before.totalDepthPpm ? 'deeper' : 'paler'}</span>`
    }</td>`;
  };
  return html`<div class="table-wrap" tabindex="0" role="region" aria-label="Revisions side by side"><table
    class="plain revisions"><thead><tr><td></td>${revisions.map(
      (r, i) => html`<th scope="col" class="num">Revision ${r.number}${i === 0 && ', now'}</th>`,
    )}</tr></thead>
  <tbody>${[...dyes].map(
    ([dyeId, name]) =>
      html`<tr><th scope="row">${name}</th>${revisions.map((r, i) => cell(r, revisions[i + 1], dyeId))}</tr>`,
  )}<tr><th scope="row">Total depth</th>${revisions.map((r, i) => total(r, revisions[i + 1]))}</tr>
  <tr><th scope="row">Stated as</th>${revisions.map(
    (r) => html`<td class="num">${r.entryStyle === 'split' ? 'shares' : 'own depths'}</td>`,
  )}</tr>
  <tr><th scope="row">Why</th>${revisions.map((r) => html`<td class="why">${r.why || '—'}</td>`)}</tr>
  <tr><th scope="row">Made</th>${revisions.map(
    (r) => html`<td class="why">${when(props.show, r.madeAt)}<br><span class="fine">${r.madeByName}</span></td>`,
  )}</tr></tbody></table></div>`;
};

const standingOn = (props: RecipePageProps): Html =>
  html`${props.revisions.map((r) => {
    const swatches = props.swatches.filter((s) => s.revisionId === r.revisionId);
    const lots = props.lots.filter((l) => l.revisionId === r.revisionId);
    if (swatches.length + lots.length === 0) return '';
    return html`<section class="panel"><h2>Dyed by revision ${r.number}</h2>
    ${
      swatches.length > 0 &&
      html`<ul class="swatch-strip">${swatches.map(
        (s) =>
          html`<li><a href="/swatches/${s.swatchId}">${colourChip({
            hex: s.hex,
            label: s.name,
            size: 'large',
          })}<b>${s.code}</b><span>${s.name}</span><span class="fine">${percent(s.depthPpm)} on
            ${s.fibreName}</span></a></li>`,
      )}</ul>`
    }
    ${
      lots.length > 0 &&
      html`<ul class="plain-list">${lots.map(
        (l) =>
          html`<li class="list-row"><span class="grow"><a href="/lots/${l.lotId}">Lot ${l.number}</a> · ${l.goodsText}
            <span class="fine">at ${depthDyed(l.depthPpm)}, planned
            ${when(props.show, l.plannedAt)}</span></span>${lotStatusBadge(l.status)}</li>`,
      )}</ul>`
    }</section>`;
  })}`;

/** Asks how much goods, and answers with the masses. */
const scalePanel = ({ recipe, revisions, scaled }: RecipePageProps): Html => {
  const at = `/recipes/${recipe.recipeId}`;
  const form = { typed: { goods: scaled.goodsTyped, revisionId: String(scaled.revisionId) }, errors: {} };
  return html`<section class="panel"><h2>On how much goods?</h2>
  <form method="get" action="${at}" class="scale-form" hx-get="${at}" hx-target="#scaled" hx-swap="outerHTML"
    hx-trigger="input delay:200ms, submit">
    ${field({ name: 'goods', label: 'Dry goods', form, placeholder: '250 g', size: 'short' })}
    ${
      revisions.length > 1
        ? html`<div class="field"><label for="f-revisionId">By revision</label><select id="f-revisionId"
          name="revisionId">${revisions.map(
            (r) =>
              html`<option value="${r.revisionId}"
                ${r.revisionId === scaled.revisionId && html`selected`}>${r.number}</option>`,
          )}</select></div>`
        : ''
    }
    <button>Work out</button>
  </form>
  ${scaledMasses(scaled)}</section>`;
};

export const recipePage = (props: RecipePageProps): Html => {
  const { recipe, revisions } = props;
  const latest = revisions[0];
  const at = `/recipes/${recipe.recipeId}`;
  return html`${pageHead({
    title: recipe.name,
    crumb: { href: '/recipes', label: 'Recipes' },
    lead: html`${dyeClassNames[recipe.dyeClass]}${recipe.note && html` · ${recipe.note}`}`,
    actions:
      props.mayWork &&
      html`${
        latest &&
        !recipe.archived &&
        html`<a class="button primary"
        href="/lots/new?revisionId=${latest.revisionId}">Plan a lot in this shade</a><a class="button"
        href="${at}/revisions/new">New revision</a>`
      }<a class="button" href="${at}/edit">Name and note</a>`,
  })}
${
  recipe.archived &&
  html`<p class="notice">${badge({
    label: 'archived',
    tone: 'plain',
  })} It stands in no list of choices; what was dyed by it keeps it.</p>`
}
${
  latest &&
  html`<div class="cols">
<section class="panel"><h2>Revision ${latest.number}${
    revisions.length > 1 ? ', the newest' : ''
  }</h2>${formulaPanel(latest)}</section>
${scalePanel(props)}</div>
<section class="panel"><h2>What would it look like?</h2><div hx-get="/colour/predicted?revisionId=${latest.revisionId}"
  hx-trigger="load" hx-swap="outerHTML"><p><a href="/colour/predicted?revisionId=${latest.revisionId}">What your
  swatches lead to expect</a></p></div></section>
<section class="panel"><h2>${
    revisions.length > 1 ? 'All revisions, side by side' : 'Where it comes from'
  }</h2>${sideBySide(props)}</section>`
}
${standingOn(props)}
${
  props.swatches.length + props.lots.length === 0 &&
  html`<section class="panel"><h2>Nothing dyed by it yet</h2><p>Dye a sample, and keep it: the swatch will stand here,
    with its colour.</p>${
      props.mayWork &&
      latest &&
      html`<p><a class="button" href="/swatches/new?revisionId=${latest.revisionId}">Add a swatch of it</a></p>`
    }</section>`
}
${
  props.mayWork &&
  archiveButton({
    at,
    archived: recipe.archived,
    put: 'Put this recipe in the archive',
    take: 'Take it out of the archive',
  })
}`;
};
