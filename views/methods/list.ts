import { type DyeClass, dyeClassNames } from '../../server/calc/classFit.ts';
import { durationText } from '../../server/calc/quantity.ts';
import { type Html, html } from '../html.ts';
import { emptyState, pageHead } from '../kit/pageHead.ts';
import { percent } from '../kit/show.ts';

export interface MethodItem {
  id: number;
  name: string;
  dyeClass: DyeClass | null;
  summary: string;
  bathMlPerKg: number | null;
  soakMlPerKg: number | null;
  lossPpm: number;
  durationS: number;
  handsOnS: number;
  stepCount: number;
}

/** '20 : 1' from mL/kg. */
export const ratioText = (mlPerKg: number | null): string => (mlPerKg === null ? '—' : `${mlPerKg / 1000} : 1`);

/** Procedures that the studio repeats. */
export const methodsPage = (props: { methods: readonly MethodItem[]; mayWork: boolean }): Html => html`${pageHead({
  title: 'Methods',
  lead: 'Procedures that come out the same each time: steps, times, baths, and what goes into them.',
  actions: props.mayWork && html`<a class="button primary" href="/methods/new">Write a method</a>`,
})}
${
  props.methods.length === 0
    ? emptyState({
        title: 'No method written down yet',
        words:
          'Start with the one you could do asleep. Its times become timers on the bench, and its lines become the weigh-up.',
        ...(props.mayWork ? { action: { href: '/methods/new', label: 'Write a method' } } : {}),
      })
    : html`<ul class="book-cards">${props.methods.map(
        (m) => html`<li class="book-card"><h2><a href="/methods/${m.id}">${m.name}</a></h2>
      ${m.summary && html`<p>${m.summary}</p>`}
      <p class="big-number">${durationText({ durationS: m.durationS })}</p>
      <p class="fine">${m.stepCount === 1 ? 'one step' : `${m.stepCount} steps`}, hands on ${durationText({ durationS: m.handsOnS })}</p>
      <dl class="mini-facts"><div><dt>Dye class</dt><dd>${m.dyeClass === null ? 'any' : dyeClassNames[m.dyeClass]}</dd></div><div><dt>Bath</dt><dd>${ratioText(m.bathMlPerKg)}</dd></div>${
        m.soakMlPerKg !== null && html`<div><dt>Soak</dt><dd>${ratioText(m.soakMlPerKg)}</dd></div>`
      }<div><dt>Loss</dt><dd>${percent(m.lossPpm)}</dd></div></dl></li>`,
      )}</ul>`
}`;
