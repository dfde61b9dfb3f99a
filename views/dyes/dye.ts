import { dyeClassNames } from '../../server/calc/classFit.ts';
import type { DyeOnShelf, RecipeWithDye, SwatchWithDye } from '../../server/dyes/schemas.ts';
import { type Html, html } from '../html.ts';
import { colourChip } from '../kit/colourChip.ts';
import { type ContainerItem, shelfValueMinor } from '../kit/containers.ts';
import { fact, pageHead } from '../kit/pageHead.ts';
import { safety } from '../kit/safety.ts';
import { putAwayButton, putAwayNotice, shelfContainers } from '../kit/shelf.ts';
import { mass, money, percent, type Show, volume } from '../kit/show.ts';
import { depthBands, watchDye } from './list.ts';

interface DyePageProps {
  dye: DyeOnShelf;
  containers: readonly ContainerItem[];
  closedCount: number;
  recipes: readonly RecipeWithDye[];
  swatches: readonly SwatchWithDye[];
  swatchCount: number;
  mayWork: boolean;
  show: Show;
  todayOn: string;
}

const facts = ({ dye: d, containers, show, todayOn }: DyePageProps): Html =>
  html`<section class="panel shelf-facts"><h2 class="visually-hidden">Facts</h2><div class="shelf-hero">${colourChip({
    hex: d.shownHex,
    label: d.name,
    size: 'small',
  })}
  <div><span class="big-number">${mass(show, d.onHandMg)}</span><br><span class="fine">of powder on hand</span></div>
  <div class="badges">${watchDye(d, todayOn)}</div></div>
  <dl class="facts">
  ${fact('Class', dyeClassNames[d.class])}${fact('Colourant', d.singleColourant ? 'single' : 'shop-mixed blend')}
  ${fact('Pale · medium · deep', depthBands(d))}
  ${fact('In solution', d.solutionUl > 0 ? volume(show, d.solutionUl) : 'none')}
  ${fact('A solution keeps', d.solutionLifeDays === null ? 'not noted' : `${d.solutionLifeDays} days`)}
  ${fact('On the shelf, at the receipts’ prices', money(show, shelfValueMinor(containers)))}</dl>${
    d.note && html`<p class="note-text">${d.note}</p>`
  }</section>`;

const usedIn = ({ dye, recipes, swatches, swatchCount }: DyePageProps): Html =>
  html`<div class="cols"><section class="panel"><h2>Recipes that use it</h2>${
    recipes.length === 0
      ? html`<p class="fine">None yet.</p>`
      : html`<ul class="shelf-list">${recipes.map(
          (r) =>
            html`<li><a href="/recipes/${r.recipeId}">${r.name}</a>${
              r.usedInRevision < r.latestRevision &&
              html` <span class="fine">up to revision ${r.usedInRevision}; no longer in ${r.latestRevision}</span>`
            }</li>`,
        )}</ul>`
  }</section>
<section class="panel"><h2>Swatches dyed with it</h2>${
    swatches.length === 0
      ? html`<p class="fine">None yet.</p>`
      : html`<ul class="shelf-swatches">${swatches.map(
          (s) =>
            html`<li><a href="/swatches/${s.swatchId}">${colourChip({
              hex: s.hex,
              label: s.name,
            })}<span>${s.code}<br><span class="fine">${percent(s.depthPpm)}</span></span></a></li>`,
        )}</ul>${
          swatchCount > swatches.length &&
          html`<p><a href="/swatches?dyeId=${dye.dyeId}">All ${swatchCount} swatches</a></p>`
        }`
  }</section></div>`;

/** One dye: what it is, what is on the shelf, what was dyed with it. */
export const dyePage = (props: DyePageProps): Html => {
  const { dye: d, containers, closedCount, mayWork, show, todayOn } = props;
  const at = `/dyes/${d.dyeId}`;
  return html`${pageHead({
    title: d.name,
    crumb: { href: '/dyes', label: 'Dyes' },
    lead: html`${d.code}${d.ciName && ` · ${d.ciName}`}`,
    actions:
      mayWork &&
      html`<a class="button" href="${at}/edit">Edit</a>
      <a class="button primary" href="/stock/new?item=dye-${d.dyeId}">Receive a container</a>`,
  })}
${d.archived && putAwayNotice('dye')}
<div class="cols lean">${facts(props)}
  ${safety({ hazardCodes: d.hazardCodes, sdsUrl: d.sdsUrl, powder: true })}</div>
${shelfContainers({
  item: `dye-${d.dyeId}`,
  name: d.name,
  containers,
  closedCount,
  words: 'Receive a container with its price and maker’s lot number: cost and recall follow from it.',
  hex: d.shownHex,
  mayWork,
  show,
  todayOn,
})}
${usedIn(props)}
${mayWork && putAwayButton({ at, noun: 'dye', archived: d.archived })}`;
};
