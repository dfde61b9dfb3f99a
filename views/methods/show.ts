import { dyeClassNames } from '../../server/calc/classFit.ts';
import { durationText } from '../../server/calc/quantity.ts';
import { type Html, html } from '../html.ts';
import { badge, fact, pageHead } from '../kit/pageHead.ts';
import { percent, type Show, temperature } from '../kit/show.ts';
import { type MethodItem, ratioText } from './list.ts';

export type Basis = 'owg' | 'gPerL' | 'mlPerL' | 'fixedMass' | 'fixedVolume';

const UNITS: Record<Basis, string> = {
  owg: '% of goods',
  gPerL: 'g/L',
  mlPerL: 'mL/L',
  fixedMass: 'g',
  fixedVolume: 'mL',
};

/** '50 g/L' from thousandths of the unit of its basis; a converted amount is shown to three decimals at most. */
export const basedAmount = (basis: Basis, amountMilli: number): string => `${amountMilli / 1000} ${UNITS[basis]}`;

export interface StepItem {
  name: string;
  durationS: number;
  tempC: number | null;
  handsOnS: number;
  note: string;
}

export interface MethodShowProps {
  method: Omit<MethodItem, 'durationS' | 'handsOnS' | 'stepCount'> & { cautions: string; archivedAt: number | null };
  steps: readonly StepItem[];
  auxiliaries: readonly {
    auxiliaryId: number;
    name: string;
    vessel: 'bath' | 'soak';
    basis: Basis;
    amountMilli: number;
    asTyped: string;
  }[];
  fields: readonly { label: string; kind: keyof typeof kindWords; unit: string; choices: readonly string[] }[];
  lotCount: number;
  swatchCount: number;
  show: Show;
  mayWork: boolean;
}

/** The day of a method at a glance: each step as long as it takes, hands-on time dark. */
const strip = (steps: readonly StepItem[]): Html | '' => {
  const total = steps.reduce((sum, s) => sum + s.durationS, 0);
  if (total === 0) return '';
  let x = 0;
  const bars = steps.map((s, i) => {
    const width = (1000 * s.durationS) / total;
    const hands = (1000 * s.handsOnS) / total;
    const bar = html`<rect class="step-bar ${i % 2 === 0 ? 'even' : 'odd'}" x="${x}" y="0" width="${width}" height="36" /><rect class="hands-bar" x="${x}" y="24" width="${hands}" height="12" />`;
    x += width;
    return bar;
  });
  return html`<figure class="method-strip"><svg viewBox="0 0 1000 36" preserveAspectRatio="none" role="img" aria-label="Steps in proportion to their time">${bars}</svg><figcaption class="fine">Each step in proportion to its time; the dark foot is hands-on.</figcaption></figure>`;
};

export const kindWords = {
  text: 'words',
  number: 'a number',
  mass: 'a mass',
  temperature: 'a temperature',
  duration: 'a time span',
  choice: 'one of several',
} as const;

/** What an entry takes: 'a mass, kg', 'one of: over the ice, under the ice'. */
const entryWords = (f: MethodShowProps['fields'][number]): string =>
  f.kind === 'choice' ? `one of: ${f.choices.join(', ')}` : [kindWords[f.kind], f.unit].filter(Boolean).join(', ');

export const methodPage = (props: MethodShowProps): Html => {
  const { method: m, steps, show } = props;
  const sum = (of: 'durationS' | 'handsOnS'): number => steps.reduce((total, s) => total + s[of], 0);
  const cautions = m.cautions.split('\n').filter((line) => line.trim() !== '');
  return html`${pageHead({
    title: m.name,
    crumb: { href: '/methods', label: 'Methods' },
    lead: m.summary,
    actions:
      props.mayWork &&
      html`<a class="button primary" href="/methods/${m.id}/edit">Change</a><a class="button" href="/methods/new?from=${m.id}">Start from a copy</a>`,
  })}
${m.archivedAt !== null && html`<p class="notice">${badge({ label: 'archived', tone: 'plain' })} New lots cannot be planned by it.</p>`}
<section class="panel"><h2 class="visually-hidden">In figures</h2><dl class="facts big-facts">
  ${fact('From start to end', html`<span class="big-number">${durationText({ durationS: sum('durationS') })}</span>`)}
  ${fact('Hands on', html`<span class="big-number">${durationText({ durationS: sum('handsOnS') })}</span>`)}
  ${m.bathMlPerKg !== null && fact('Bath to goods', html`<span class="big-number">${ratioText(m.bathMlPerKg)}</span>`)}
  ${m.soakMlPerKg !== null && fact('Soak to goods', html`<span class="big-number">${ratioText(m.soakMlPerKg)}</span>`)}
  ${fact('Loss allowance', html`<span class="big-number">${percent(m.lossPpm)}</span>`)}
  ${fact('Dye class', m.dyeClass === null ? 'any' : dyeClassNames[m.dyeClass])}
</dl></section>
${cautions.length > 0 && html`<div class="cautions">${cautions.map((line) => html`<div class="notice warn caution"><p>${line}</p></div>`)}</div>`}
<section class="panel"><h2>Steps</h2>
  ${
    steps.length === 0
      ? html`<p>No steps yet: the bench will have no timers to offer.</p>`
      : html`${strip(steps)}<ol class="step-list">${steps.map(
          (s) =>
            html`<li><div class="step-head"><h3>${s.name}</h3><p class="step-time">${durationText({ durationS: s.durationS })}</p></div>
        <p class="fine">${[
          s.tempC === null ? '' : `at ${temperature(show, s.tempC)}`,
          s.handsOnS === 0 ? 'no hands needed' : `hands on ${durationText({ durationS: s.handsOnS })}`,
        ]
          .filter(Boolean)
          .join(' · ')}</p>${s.note && html`<p>${s.note}</p>`}</li>`,
        )}</ol>`
  }</section>
<div class="cols">
<section class="panel"><h2>What goes in</h2>
  ${
    props.auxiliaries.length === 0
      ? html`<p>Nothing but dye and water.</p>`
      : html`<div class="table-wrap"><table class="plain"><thead><tr><th scope="col">Auxiliary</th><th scope="col">Into</th><th scope="col" class="num">Amount</th></tr></thead><tbody>${props.auxiliaries.map(
          (a) =>
            html`<tr><td><a href="/auxiliaries/${a.auxiliaryId}">${a.name}</a></td><td>${a.vessel}</td><td class="num"><b>${basedAmount(a.basis, a.amountMilli)}</b>${
              a.asTyped && !sameWords(a.asTyped, basedAmount(a.basis, a.amountMilli))
                ? html`<br><span class="fine">typed “${a.asTyped}”</span>`
                : ''
            }</td></tr>`,
        )}</tbody></table></div><p class="fine">Percentages grow with the goods; grams and millilitres per litre grow with the water.</p>`
  }</section>
<section class="panel"><h2>What the bench asks for</h2>
  ${
    props.fields.length === 0
      ? html`<p>Nothing beyond weighings, times and notes.</p>`
      : html`<dl class="mini-facts">${props.fields.map((f) => html`<div><dt>${f.label}</dt><dd>${entryWords(f)}</dd></div>`)}</dl>`
  }</section>
</div>
<p>Standing on this method: ${countWords(props.lotCount, 'lot', 'lots')} and ${countWords(props.swatchCount, 'swatch', 'swatches')}. Each lot keeps the steps it was planned with, so a change here rewrites none of them.</p>
${
  props.mayWork &&
  html`<form method="post" action="/methods/${m.id}/${m.archivedAt === null ? 'archiving' : 'restoring'}"><button class="quiet">${m.archivedAt === null ? 'Put this method in the archive' : 'Take it out of the archive'}</button></form>`
}`;
};

/** Whether typed words only repeat the figure: '50' and '50 g/L' both say 50 g/L. */
const sameWords = (typed: string, figure: string): boolean => {
  const plain = (t: string): string =>
    t
      .toLowerCase()
      .replace(/[\s]|ofgoods|owg/g, '')
      .replace(',', '.');
  const wanted = plain(figure);
  return plain(typed) === wanted || plain(typed) === wanted.replace(/[^\d.].*$/, '');
};

const countWords = (n: number, one: string, many: string): string =>
  n === 0 ? `no ${many}` : n === 1 ? `one ${one}` : `${n} ${many}`;
