import { type DyeClass, dyeClassNames } from '../../server/calc/classFit.ts';
import { nearlyOutPpm, supply } from '../../server/calc/shelf.ts';
import { type Html, html } from '../html.ts';
import { colourChip } from '../kit/colourChip.ts';
import {
  type ContainerItem,
  containerTable,
  jar,
  keepingBadge,
  shelfValueMinor,
  supplyBadge,
} from '../kit/containers.ts';
import { choice, type FormState, field, formNotice, type Option, selectField, textArea } from '../kit/field.ts';
import { badge, emptyState, fact, pageHead } from '../kit/pageHead.ts';
import { safety } from '../kit/safety.ts';
import { mass, money, percent, type Show, volume } from '../kit/show.ts';

export const dyeClassOptions: readonly Option[] = [
  { value: 'reactive', label: 'fibre-reactive (cotton, linen, viscose, silk)' },
  { value: 'acid', label: 'acid (wool, silk, nylon)' },
  { value: 'metalComplex', label: 'metal-complex (wool, silk, nylon)' },
  { value: 'direct', label: 'direct (cellulose)' },
  { value: 'basic', label: 'basic (acrylic, tannined cellulose)' },
  { value: 'disperse', label: 'disperse (polyester, acetate)' },
  { value: 'vat', label: 'vat (indigo and its kin)' },
  { value: 'natural', label: 'natural' },
];

export interface DyeItem {
  id: number;
  code: string;
  name: string;
  class: DyeClass;
  ciName: string;
  shownHex: string | null;
  singleColourant: number;
  palePpm: number | null;
  mediumPpm: number | null;
  deepPpm: number | null;
  onHandMg: number;
  receivedMg: number;
  solutionUl: number;
  openContainers: number;
  recalledContainers: number;
  bestBeforeOn: string | null;
}

const bands = (d: DyeItem): Html =>
  d.palePpm === null && d.mediumPpm === null && d.deepPpm === null
    ? html`<span class="fine">not noted</span>`
    : html`${percent(d.palePpm)} · ${percent(d.mediumPpm)} · ${percent(d.deepPpm)}`;

const watch = (d: DyeItem, todayOn: string): Html =>
  html`<span class="badges">${d.recalledContainers > 0 && badge({ label: 'a container is recalled', tone: 'bad' })}${
    d.openContainers === 0
      ? badge({ label: 'none on the shelf', tone: 'plain' })
      : supplyBadge({ onHandQuantity: d.onHandMg, receivedQuantity: d.receivedMg })
  }${keepingBadge({ bestBeforeOn: d.bestBeforeOn, todayOn, isSolution: false })}</span>`;

/** All the colourants that the studio buys. */
export const dyesPage = (props: {
  dyes: readonly DyeItem[];
  archived: readonly { id: number; code: string; name: string }[];
  mayWork: boolean;
  show: Show;
  todayOn: string;
}): Html => html`${pageHead({
  title: 'Dyes',
  lead: 'The colourants you buy, what the shelf holds of each, and how deep they go.',
  actions:
    props.mayWork &&
    html`<a class="button" href="/stock/new">Receive a container</a><a class="button primary" href="/dyes/new">Add a dye</a>`,
})}
${
  props.dyes.length === 0
    ? emptyState({
        title: 'No dyes yet',
        words: 'Start with the primaries that you mix from. Class and depth bands make plans and warnings right.',
        ...(props.mayWork ? { action: { href: '/dyes/new', label: 'Add a dye' } } : {}),
      })
    : html`<div class="panel"><table class="plain shelf"><caption class="visually-hidden">Dyes with what is on hand</caption>
<thead><tr><th scope="col">Dye</th><th scope="col">Class</th><th scope="col">Pale · medium · deep</th><th scope="col" class="num">On hand</th><th scope="col">Watch</th></tr></thead><tbody>${props.dyes.map(
        (d) => {
          const { leftPpm } = supply({ onHandQuantity: d.onHandMg, receivedQuantity: d.receivedMg, nearlyOutPpm });
          return html`<tr><th scope="row"><span class="shelf-name">${colourChip({ hex: d.shownHex, label: d.name })}<span><a href="/dyes/${d.id}"><b>${d.name}</b></a><br><span class="fine"><b>${d.code}</b>${d.ciName && ` · ${d.ciName}`}</span></span></span></th>
  <td data-label="Class">${dyeClassNames[d.class]}${d.singleColourant === 0 && html`<br><span class="fine">shop-mixed</span>`}</td>
  <td data-label="Depth bands">${bands(d)}</td>
  <td class="num" data-label="On hand"><span class="with-jar"><span><b>${mass(props.show, d.onHandMg)}</b>${d.solutionUl > 0 && html`<br><span class="fine">+ ${volume(props.show, d.solutionUl)} solution</span>`}</span>${jar({ hex: d.shownHex, leftPpm, label: `${percent(leftPpm, 0)} left` })}</span></td>
  <td>${watch(d, props.todayOn)}</td></tr>`;
        },
      )}</tbody></table></div>`
}
${
  props.archived.length > 0 &&
  html`<details class="fold"><summary>Put away (${props.archived.length})</summary><ul class="shelf-list">${props.archived.map(
    (d) => html`<li><a href="/dyes/${d.id}">${d.name}</a> <span class="fine">${d.code}</span></li>`,
  )}</ul></details>`
}`;

export interface DyePageProps {
  dye: DyeItem & {
    solutionLifeDays: number | null;
    hazardCodes: string;
    sdsUrl: string;
    note: string;
    archivedAt: number | null;
  };
  containers: readonly ContainerItem[];
  closedCount: number;
  recipes: readonly { recipeId: number; name: string; usedInRevision: number; latestRevision: number }[];
  swatches: readonly { swatchId: number; code: string; name: string; depthPpm: number; hex: string | null }[];
  swatchCount: number;
  mayWork: boolean;
  show: Show;
  todayOn: string;
}

/** One dye: what it is, what is on the shelf, what was dyed with it. */
export const dyePage = (props: DyePageProps): Html => {
  const { dye: d, show } = props;
  return html`${pageHead({
    title: d.name,
    crumb: { href: '/dyes', label: 'Dyes' },
    lead: html`${d.code}${d.ciName && ` · ${d.ciName}`}`,
    actions:
      props.mayWork &&
      html`<a class="button" href="/dyes/${d.id}/edit">Edit</a><a class="button primary" href="/stock/new?item=dye-${d.id}">Receive a container</a>`,
  })}
${d.archivedAt !== null && html`<p class="notice shelf-notice">This dye is put away: it is on no list. <b>Put it back</b> below to use it again.</p>`}
<div class="cols lean"><section class="panel shelf-facts"><h2 class="visually-hidden">Facts</h2><div class="shelf-hero">${colourChip({ hex: d.shownHex, label: d.name, size: 'small' })}
  <div><span class="big-number">${mass(show, d.onHandMg)}</span><br><span class="fine">of powder on hand</span></div>
  <div class="badges">${watch(d, props.todayOn)}</div></div>
  <dl class="facts">
  ${fact('Class', dyeClassNames[d.class])}${fact('Colourant', d.singleColourant === 1 ? 'single' : 'shop-mixed blend')}
  ${fact('Pale · medium · deep', bands(d))}
  ${fact('In solution', d.solutionUl > 0 ? volume(show, d.solutionUl) : 'none')}
  ${fact('A solution keeps', d.solutionLifeDays === null ? 'not noted' : `${d.solutionLifeDays} days`)}
  ${fact('On the shelf, at the receipts’ prices', money(show, shelfValueMinor(props.containers)))}</dl>${d.note && html`<p class="note-text">${d.note}</p>`}</section>
  ${safety({ hazardCodes: d.hazardCodes, sdsUrl: d.sdsUrl, powder: true })}</div>
<section><h2>Containers</h2>
${
  props.containers.length === 0
    ? emptyState({
        title: 'Nothing on the shelf',
        words: 'Receive a container with its price and maker’s lot number: cost and recall follow from it.',
        ...(props.mayWork ? { action: { href: `/stock/new?item=dye-${d.id}`, label: 'Receive a container' } } : {}),
      })
    : containerTable({
        containers: props.containers,
        show,
        todayOn: props.todayOn,
        caption: `Containers of ${d.name}`,
        hex: d.shownHex,
      })
}
${props.closedCount > 0 && html`<p><a href="/stock?item=dye-${d.id}&amp;closed=yes">${props.closedCount} closed ${props.closedCount === 1 ? 'container' : 'containers'}</a></p>`}</section>
<div class="cols"><section class="panel"><h2>Recipes that use it</h2>${
    props.recipes.length === 0
      ? html`<p class="fine">None yet.</p>`
      : html`<ul class="shelf-list">${props.recipes.map(
          (r) =>
            html`<li><a href="/recipes/${r.recipeId}">${r.name}</a>${r.usedInRevision < r.latestRevision && html` <span class="fine">up to revision ${r.usedInRevision}; no longer in ${r.latestRevision}</span>`}</li>`,
        )}</ul>`
  }</section>
<section class="panel"><h2>Swatches dyed with it</h2>${
    props.swatches.length === 0
      ? html`<p class="fine">None yet.</p>`
      : html`<ul class="shelf-swatches">${props.swatches.map(
          (s) =>
            html`<li><a href="/swatches/${s.swatchId}">${colourChip({ hex: s.hex, label: s.name })}<span>${s.code}<br><span class="fine">${percent(s.depthPpm)}</span></span></a></li>`,
        )}</ul>${props.swatchCount > props.swatches.length && html`<p><a href="/swatches?dyeId=${d.id}">All ${props.swatchCount} swatches</a></p>`}`
  }</section></div>
${props.mayWork && html`<form method="post" action="/dyes/${d.id}/archiving"><input type="hidden" name="archived" value="${d.archivedAt === null ? 'yes' : 'no'}"><button class="quiet">${d.archivedAt === null ? 'Put this dye away' : 'Put this dye back'}</button></form>`}`;
};

/** New, edit and refused are this one form. */
export const dyeForm = (props: { form: FormState; dyeId: number | null; name: string | null }): Html => {
  const { form } = props;
  const at = props.dyeId === null ? '/dyes' : `/dyes/${props.dyeId}`;
  return html`${pageHead({
    title: props.name ?? 'New dye',
    crumb: props.dyeId === null ? { href: '/dyes', label: 'Dyes' } : { href: at, label: props.name ?? 'Dye' },
  })}
<form method="post" action="${at}" class="stack">${formNotice(form)}
  <input type="hidden" name="version" value="${form.typed['version'] ?? ''}">
  <fieldset class="panel"><legend>The dye</legend><div class="grid">
    ${field({ name: 'name', label: 'Name', form, required: true, autofocus: props.dyeId === null })}
    ${field({ name: 'code', label: 'Short code', form, required: true, size: 'short', hint: 'On cards, jars and lines of a weigh-up. Each dye has its own.' })}
    ${selectField({ name: 'class', label: 'Class', form, options: dyeClassOptions, required: true })}
    ${field({ name: 'ciName', label: 'C.I. generic name', form, placeholder: 'C.I. Reactive Blue 21', hint: 'From the jar or its data sheet, where it is known.' })}
    ${choice({
      name: 'colourant',
      label: 'Colourant',
      form,
      options: [
        { value: 'single', label: 'Single' },
        { value: 'mixed', label: 'Shop-mixed' },
      ],
      hint: 'A shop-mixed blend may split on the goods and cannot be predicted as one.',
    })}
    ${field({ name: 'shownHex', label: 'Colour of its chip', form, placeholder: '#2f7f8c', size: 'short', hint: 'Only for finding it on screen; it is no measurement.' })}
  </div></fieldset>
  <fieldset class="panel"><legend>Depth on weight of goods</legend><div class="grid">
    ${field({ name: 'pale', label: 'Pale', form, unit: '%', inputmode: 'decimal', size: 'short' })}
    ${field({ name: 'medium', label: 'Medium', form, unit: '%', inputmode: 'decimal', size: 'short' })}
    ${field({ name: 'deep', label: 'Deep', form, unit: '%', inputmode: 'decimal', size: 'short' })}
    ${field({ name: 'solutionLifeDays', label: 'Its stock solution keeps', form, unit: 'days', inputmode: 'numeric', size: 'short', hint: 'Sets the best-before day of solutions. Sheets differ widely: trust your own.' })}
  </div></fieldset>
  <fieldset class="panel"><legend>Safety</legend><div class="grid">
    ${field({ name: 'hazardCodes', label: 'Hazard codes', form, placeholder: 'H317 H334', hint: 'As printed on the safety data sheet.' })}
    ${field({ name: 'sdsUrl', label: 'Address of the safety data sheet', form, type: 'text', inputmode: 'text', placeholder: 'https://', size: 'wide' })}
    ${textArea({ name: 'note', label: 'Note', form, rows: 3 })}
  </div></fieldset>
  <p><button class="primary">Save</button> <a class="button quiet" href="${at}">Cancel</a></p>
</form>`;
};
