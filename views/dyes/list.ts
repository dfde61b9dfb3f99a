import { dyeClassNames } from '../../server/calc/classFit.ts';
import { nearlyOutPpm, supply } from '../../server/calc/shelf.ts';
import type { DyeOnShelf } from '../../server/dyes/schemas.ts';
import { type Html, html } from '../html.ts';
import { colourChip } from '../kit/colourChip.ts';
import { jar } from '../kit/containers.ts';
import { emptyState, pageHead } from '../kit/pageHead.ts';
import { putAwayList, shelfWatch } from '../kit/shelf.ts';
import { mass, percent, type Show, volume } from '../kit/show.ts';

export const depthBands = (d: DyeOnShelf): Html =>
  d.palePpm === null && d.mediumPpm === null && d.deepPpm === null
    ? html`<span class="fine">not noted</span>`
    : html`${percent(d.palePpm)} · ${percent(d.mediumPpm)} · ${percent(d.deepPpm)}`;

export const watchDye = (d: DyeOnShelf, todayOn: string): Html =>
  shelfWatch({ ...d, onHandQuantity: d.onHandMg, receivedQuantity: d.receivedMg }, todayOn);

const row = (d: DyeOnShelf, show: Show, todayOn: string): Html => {
  const { leftPpm } = supply({ onHandQuantity: d.onHandMg, receivedQuantity: d.receivedMg, nearlyOutPpm });
  return html`<tr><th scope="row"><span class="shelf-name">${colourChip({ hex: d.shownHex, label: d.name })}<span>
  <a href="/dyes/${d.dyeId}"><b>${d.name}</b></a><br><span class="fine"><b>${d.code}</b>${
    d.ciName && ` · ${d.ciName}`
  }</span></span></span></th>
  <td data-label="Class">${dyeClassNames[d.class]}${
    !d.singleColourant && html`<br><span class="fine">shop-mixed</span>`
  }</td>
  <td data-label="Depth bands">${depthBands(d)}</td>
  <td class="num" data-label="On hand"><span class="with-jar"><span><b>${mass(show, d.onHandMg)}</b>${
    d.solutionUl > 0 && html`<br><span class="fine">+ ${volume(show, d.solutionUl)} solution</span>`
  }</span>${jar({ hex: d.shownHex, leftPpm, label: `${percent(leftPpm, 0)} left` })}</span></td>
  <td>${watchDye(d, todayOn)}</td></tr>`;
};

/** All the colourants that the studio buys. */
export const dyesPage = (props: {
  dyes: readonly DyeOnShelf[];
  archived: readonly Pick<DyeOnShelf, 'dyeId' | 'code' | 'name'>[];
  mayWork: boolean;
  show: Show;
  todayOn: string;
}): Html => html`${pageHead({
  title: 'Dyes',
  lead: 'The colourants you buy, what the shelf holds of each, and how deep they go.',
  actions:
    props.mayWork &&
    html`<a class="button" href="/stock/new">Receive a container</a>
    <a class="button primary" href="/dyes/new">Add a dye</a>`,
})}
${
  props.dyes.length === 0
    ? emptyState({
        title: 'No dyes yet',
        words: 'Start with the primaries that you mix from. Class and depth bands make plans and warnings right.',
        ...(props.mayWork ? { action: { href: '/dyes/new', label: 'Add a dye' } } : {}),
      })
    : html`<div class="panel">
<table class="plain shelf"><caption class="visually-hidden">Dyes with what is on hand</caption>
<thead><tr><th scope="col">Dye</th><th scope="col">Class</th><th scope="col">Pale · medium · deep</th>
<th scope="col" class="num">On hand</th><th scope="col">Watch</th></tr></thead>
<tbody>${props.dyes.map((d) => row(d, props.show, props.todayOn))}</tbody></table></div>`
}
${putAwayList(props.archived.map((d) => ({ ...d, href: `/dyes/${d.dyeId}` })))}`;
