import { dyeClassNames } from '../../server/calc/classFit.ts';
import { durationText } from '../../server/calc/quantity.ts';
import type { MethodInList } from '../../server/methods/schemas.ts';
import { type Html, html } from '../html.ts';
import { emptyState, pageHead } from '../kit/pageHead.ts';
import { percent } from '../kit/show.ts';

/** '20 : 1' from mL/kg. */
export const ratioText = (mlPerKg: number | null): string => (mlPerKg === null ? '—' : `${mlPerKg / 1000} : 1`);

const card = (m: MethodInList): Html =>
  html`<li class="book-card"><h2><a href="/methods/${m.methodId}">${m.name}</a></h2>
      ${m.summary && html`<p>${m.summary}</p>`}
      <p class="big-number">${durationText({ durationS: m.durationS })}</p>
      <p class="fine">${m.stepCount === 1 ? 'one step' : `${m.stepCount} steps`}, hands on ${durationText({
        durationS: m.handsOnS,
      })}</p>
      <dl class="mini-facts">${miniFact('Dye class', m.dyeClass === null ? 'any' : dyeClassNames[m.dyeClass])}
      ${miniFact('Bath', ratioText(m.bathMlPerKg))}
      ${m.soakMlPerKg !== null && miniFact('Soak', ratioText(m.soakMlPerKg))}
      ${miniFact('Loss', percent(m.lossPpm))}</dl></li>`;
const miniFact = (term: string, words: string): Html => html`<div><dt>${term}</dt><dd>${words}</dd></div>`;

/** Procedures that the studio repeats. */
export const methodsPage = (props: { methods: readonly MethodInList[]; mayWork: boolean }): Html => html`${pageHead({
  title: 'Methods',
  lead: 'Procedures that come out the same each time: steps, times, baths, and what goes into them.',
  actions: props.mayWork && html`<a class="button primary" href="/methods/new">Write a method</a>`,
})}
${
  props.methods.length === 0
    ? emptyState({
        title: 'No method written down yet',
        words:
          'Start with the one you could do asleep. Its times become timers on the bench, ' +
          'and its lines become the weigh-up.',
        ...(props.mayWork ? { action: { href: '/methods/new', label: 'Write a method' } } : {}),
      })
    : html`<ul class="book-cards">${props.methods.map(card)}</ul>`
}`;
