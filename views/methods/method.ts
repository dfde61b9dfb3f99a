import { dyeClassNames } from '../../server/calc/classFit.ts';
import { durationText } from '../../server/calc/quantity.ts';
import type { Method } from '../../server/methods/schemas.ts';
import { type Html, html } from '../html.ts';
import { archiveButton } from '../kit/archive.ts';
import { badge, fact, pageHead } from '../kit/pageHead.ts';
import { percent, type Show, temperature } from '../kit/show.ts';
import { ratioText } from './list.ts';

type Step = Method['steps'][number];
type Line = Method['auxiliaries'][number];
type Entry = Method['fields'][number];

const UNITS: Record<Line['basis'], string> = {
  owg: '% of goods',
  gPerL: 'g/L',
  mlPerL: 'mL/L',
  fixedMass: 'g',
  fixedVolume: 'mL',
};

/** '50 g/L' from thousandths of the unit of its basis; a converted amount is shown to three decimals at most. */
const basedAmount = ({ basis, amountMilli }: Line): string => `${amountMilli / 1000} ${UNITS[basis]}`;

interface MethodPageProps {
  method: Method;
  auxiliaryNames: ReadonlyMap<number, string>;
  lotCount: number;
  swatchCount: number;
  show: Show;
  mayWork: boolean;
}

/** The day of a method at a glance: each step as long as it takes, hands-on time dark. */
const strip = (steps: readonly Step[]): Html | '' => {
  const total = steps.reduce((sum, s) => sum + s.durationS, 0);
  if (total === 0) return '';
  let x = 0;
  const bars = steps.map((s, i) => {
    const width = (1000 * s.durationS) / total;
    const hands = (1000 * s.handsOnS) / total;
    const bar = html`<rect class="step-bar ${i % 2 === 0 ? 'even' : 'odd'}" x="${x}" y="0" width="${width}" height="36"
      /><rect class="hands-bar" x="${x}" y="24" width="${hands}" height="12" />`;
    x += width;
    return bar;
  });
  return html`<figure class="method-strip"><svg viewBox="0 0 1000 36" preserveAspectRatio="none" role="img"
    aria-label="Steps in proportion to their time">${bars}</svg><figcaption class="fine">Each step in proportion to
    its time; the dark foot is hands-on.</figcaption></figure>`;
};

export const kindWords: Readonly<Record<Entry['kind'], string>> = {
  text: 'words',
  number: 'a number',
  mass: 'a mass',
  temperature: 'a temperature',
  duration: 'a time span',
  choice: 'one of several',
};

/** What an entry takes: 'a mass, kg', 'one of: over the ice, under the ice'. */
const entryWords = (f: Entry): string =>
  f.kind === 'choice' ? `one of: ${f.choices.join(', ')}` : [kindWords[f.kind], f.unit].filter(Boolean).join(', ');

const figures = (m: Method): Html => {
  const sum = (of: 'durationS' | 'handsOnS'): number => m.steps.reduce((total, s) => total + s[of], 0);
  const big = (words: string): Html => html`<span class="big-number">${words}</span>`;
  return html`<section class="panel"><h2 class="visually-hidden">In figures</h2><dl class="facts big-facts">
  ${fact('From start to end', big(durationText({ durationS: sum('durationS') })))}
  ${fact('Hands on', big(durationText({ durationS: sum('handsOnS') })))}
  ${m.bathMlPerKg !== null && fact('Bath to goods', big(ratioText(m.bathMlPerKg)))}
  ${m.soakMlPerKg !== null && fact('Soak to goods', big(ratioText(m.soakMlPerKg)))}
  ${fact('Loss allowance', big(percent(m.lossPpm)))}
  ${fact('Dye class', m.dyeClass === null ? 'any' : dyeClassNames[m.dyeClass])}
</dl></section>`;
};

const stepItem = (s: Step, show: Show): Html =>
  html`<li><div class="step-head"><h3>${s.name}</h3><p class="step-time">${durationText({
    durationS: s.durationS,
  })}</p></div>
        <p class="fine">${[
          s.tempC === null ? '' : `at ${temperature(show, s.tempC)}`,
          s.handsOnS === 0 ? 'no hands needed' : `hands on ${durationText({ durationS: s.handsOnS })}`,
        ]
          .filter(Boolean)
          .join(' · ')}</p>${s.note && html`<p>${s.note}</p>`}</li>`;

const lineRow = (line: Line, name: string): Html => {
  const figure = basedAmount(line);
  return html`<tr><td><a href="/auxiliaries/${line.auxiliaryId}">${name}</a></td><td>${line.vessel}</td>
  <td class="num"><b>${figure}</b>${
    line.asTyped && !sameWords(line.asTyped, figure) && html`<br><span class="fine">typed “${line.asTyped}”</span>`
  }</td></tr>`;
};

export const methodPage = (props: MethodPageProps): Html => {
  const { method: m, auxiliaryNames, lotCount, swatchCount, show, mayWork } = props;
  const at = `/methods/${m.methodId}`;
  const cautions = m.cautions.split('\n').filter((line) => line.trim() !== '');
  return html`${pageHead({
    title: m.name,
    crumb: { href: '/methods', label: 'Methods' },
    lead: m.summary,
    actions:
      mayWork &&
      html`<a class="button primary" href="${at}/edit">Change</a>
      <a class="button" href="/methods/new?from=${m.methodId}">Start from a copy</a>`,
  })}
${
  m.archived &&
  html`<p class="notice">${badge({ label: 'archived', tone: 'plain' })} New lots cannot be planned by it.</p>`
}
${figures(m)}
${
  cautions.length > 0 &&
  html`<div class="cautions">${cautions.map(
    (line) => html`<div class="notice warn caution"><p>${line}</p></div>`,
  )}</div>`
}
<section class="panel"><h2>Steps</h2>
  ${
    m.steps.length === 0
      ? html`<p>No steps yet: the bench will have no timers to offer.</p>`
      : html`${strip(m.steps)}<ol class="step-list">${m.steps.map((s) => stepItem(s, show))}</ol>`
  }</section>
<div class="cols">
<section class="panel"><h2>What goes in</h2>
  ${
    m.auxiliaries.length === 0
      ? html`<p>Nothing but dye and water.</p>`
      : html`<div class="table-wrap"><table class="plain"><thead><tr><th scope="col">Auxiliary</th>
      <th scope="col">Into</th><th scope="col" class="num">Amount</th></tr></thead><tbody>${m.auxiliaries.map((line) =>
        lineRow(line, auxiliaryNames.get(line.auxiliaryId) ?? ''),
      )}</tbody></table></div>
      <p class="fine">Percentages grow with the goods; grams and millilitres per litre grow with the water.</p>`
  }</section>
<section class="panel"><h2>What the bench asks for</h2>
  ${
    m.fields.length === 0
      ? html`<p>Nothing beyond weighings, times and notes.</p>`
      : html`<dl class="mini-facts">${m.fields.map(
          (f) => html`<div><dt>${f.label}</dt><dd>${entryWords(f)}</dd></div>`,
        )}</dl>`
  }</section>
</div>
<p>Standing on this method: ${countWords(lotCount, 'lot', 'lots')} and ${countWords(swatchCount, 'swatch', 'swatches')}.
Each lot keeps the steps it was planned with, so a change here rewrites none of them.</p>
${
  mayWork &&
  archiveButton({
    at,
    archived: m.archived,
    put: 'Put this method in the archive',
    take: 'Take it out of the archive',
  })
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
