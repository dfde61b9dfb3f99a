import type { AuxiliaryOnShelf } from '../../server/auxiliaries/schemas.ts';
import { nearlyOutPpm, supply } from '../../server/calc/shelf.ts';
import { type Html, html } from '../html.ts';
import { jar, quantity } from '../kit/containers.ts';
import { emptyState, pageHead } from '../kit/pageHead.ts';
import { putAwayList, shelfWatch } from '../kit/shelf.ts';
import { percent, type Show, volume } from '../kit/show.ts';

/** Form, hydrate and grade in a line. */
export const make = (a: AuxiliaryOnShelf): string =>
  [a.form, a.hydrate, a.grade && `grade: ${a.grade}`].filter(Boolean).join(' · ');

const row = (a: AuxiliaryOnShelf, show: Show, todayOn: string): Html => {
  const { leftPpm } = supply({ ...a, nearlyOutPpm });
  return html`<tr><th scope="row"><span class="shelf-name">${jar({
    hex: null,
    leftPpm,
    label: `${percent(leftPpm, 0)} left`,
  })}<span><a href="/auxiliaries/${a.auxiliaryId}"><b>${a.name}</b></a><br>
  <span class="fine"><b>${a.code}</b> · ${make(a)}</span></span></span></th>
  <td data-label="Kept in solution">${a.solutionConcPpm === null ? '—' : percent(a.solutionConcPpm)}</td>
  <td class="num" data-label="On hand"><b>${quantity(show, a.unit, a.onHandQuantity)}</b>${
    a.solutionUl > 0 && html`<br><span class="fine">+ ${volume(show, a.solutionUl)} solution</span>`
  }</td>
  <td>${shelfWatch(a, todayOn)}</td></tr>`;
};

/** Soda, salt, acid, urea, detergent: whatever goes into the pot beside dye. */
export const auxiliariesPage = (props: {
  auxiliaries: readonly AuxiliaryOnShelf[];
  archived: readonly Pick<AuxiliaryOnShelf, 'auxiliaryId' | 'code' | 'name'>[];
  mayWork: boolean;
  show: Show;
  todayOn: string;
}): Html => html`${pageHead({
  title: 'Auxiliaries',
  lead: 'Soda, salt, acid, urea, detergent: whatever goes into the pot beside dye.',
  actions:
    props.mayWork &&
    html`<a class="button" href="/stock/new">Receive a container</a>
    <a class="button primary" href="/auxiliaries/new">Add an auxiliary</a>`,
})}
${
  props.auxiliaries.length === 0
    ? emptyState({
        title: 'No auxiliaries yet',
        words: 'Methods call for them by name. Form, hydrate and grade decide what a gram and a cup of it are.',
        ...(props.mayWork ? { action: { href: '/auxiliaries/new', label: 'Add an auxiliary' } } : {}),
      })
    : html`<div class="panel">
<table class="plain shelf"><caption class="visually-hidden">Auxiliaries with what is on hand</caption>
<thead><tr><th scope="col">Auxiliary</th><th scope="col">Kept in solution</th>
<th scope="col" class="num">On hand</th><th scope="col">Watch</th></tr></thead>
<tbody>${props.auxiliaries.map((a) => row(a, props.show, props.todayOn))}</tbody></table></div>`
}
${putAwayList(props.archived.map((a) => ({ ...a, href: `/auxiliaries/${a.auxiliaryId}` })))}`;
