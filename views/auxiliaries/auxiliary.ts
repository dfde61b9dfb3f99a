import type { AuxiliaryOnShelf, MethodWithAuxiliary } from '../../server/auxiliaries/schemas.ts';
import { nearlyOutPpm, supply } from '../../server/calc/shelf.ts';
import { type Html, html } from '../html.ts';
import { type ContainerItem, jar, quantity, shelfValueMinor } from '../kit/containers.ts';
import { type FormState, fieldError } from '../kit/field.ts';
import { fact, pageHead } from '../kit/pageHead.ts';
import { safety } from '../kit/safety.ts';
import { putAwayButton, putAwayNotice, shelfContainers, shelfWatch } from '../kit/shelf.ts';
import { grams, millilitres, money, percent, type Show, volume } from '../kit/show.ts';
import { make } from './list.ts';

/** What a scoop weighs. */
export interface ScoopAnswer {
  volumeUl: number;
  massMg: number;
}

interface AuxiliaryPageProps {
  auxiliary: AuxiliaryOnShelf;
  form: FormState;
  answer: ScoopAnswer | null;
  containers: readonly ContainerItem[];
  closedCount: number;
  methods: readonly MethodWithAuxiliary[];
  mayWork: boolean;
  show: Show;
  todayOn: string;
}

/** What a scoop weighs, or why it cannot be said. */
export const scoopAnswer = ({ answer, form }: Pick<AuxiliaryPageProps, 'answer' | 'form'>): Html =>
  html`<div id="scoop-answer" class="scoop-answer" aria-live="polite">${fieldError('scoop', form)}${
    answer &&
    html`<p><span class="big-number">${grams(answer.massMg, 100)}</span>
    <span class="fine">in ${millilitres(answer.volumeUl, 1000)}, loosely filled and levelled</span></p>`
  }</div>`;

const cups = (props: AuxiliaryPageProps): Html => {
  const { auxiliary: a, form } = props;
  const at = `/auxiliaries/${a.auxiliaryId}`;
  if (a.form === 'liquid')
    return html`<section class="panel"><h2>Cups and spoons</h2>
    <p>A liquid is measured by volume: 1 US cup = 236.6 mL.</p></section>`;
  if (a.cupMassMg === null)
    return html`<section class="panel"><h2>Cups and spoons</h2><p><b>A cup of it has no mass yet.</b>
    The grade’s bulk density is not noted, and grades differ: a cup of light soda ash holds about 135–154 g, of dense
    about 237–248 g. Note grade and bulk density, or weigh it.</p>
    <p><a class="button" href="${at}/edit">Note the bulk density</a></p></section>`;
  return html`<section class="panel"><h2>Cups and spoons</h2><p><b>1 US cup = ${grams(a.cupMassMg, 100)}</b>
<span class="fine">of the ${a.grade} grade at ${a.bulkDensityGPerL} g/L</span></p>
<form method="get" action="${at}" class="scoop" hx-get="${at}" hx-trigger="input delay:250ms, submit"
  hx-target="#scoop-answer" hx-swap="outerHTML"><div class="field"><label for="f-scoop">A scoop of</label>
<div class="scoop-row"><input id="f-scoop" name="scoop" value="${form.typed['scoop'] ?? ''}" placeholder="1½ cups" ${
    form.errors['scoop'] && html`aria-invalid="true"`
  } aria-describedby="scoop-answer"><button>weighs</button></div></div></form>
${scoopAnswer(props)}</section>`;
};

const facts = ({ auxiliary: a, containers, show, todayOn }: AuxiliaryPageProps): Html =>
  html`<section class="panel shelf-facts"><h2 class="visually-hidden">Facts</h2><div class="shelf-hero">${jar({
    hex: null,
    ...supply({ ...a, nearlyOutPpm }),
    label: 'Level on the shelf',
    size: 'large',
  })}
  <div><span class="big-number">${quantity(show, a.unit, a.onHandQuantity)}</span><br>
  <span class="fine">on hand, as bought</span></div><div class="badges">${shelfWatch(a, todayOn)}</div></div>
  <dl class="facts">${fact('Form', a.form)}${fact('Hydrate', a.hydrate || 'not noted')}
  ${fact('Grade', a.grade || 'not noted')}
  ${a.form === 'solid' && fact('Bulk density', a.bulkDensityGPerL === null ? 'not noted' : `${a.bulkDensityGPerL} g/L`)}
  ${fact('Kept in solution', a.solutionConcPpm === null ? 'no' : `${percent(a.solutionConcPpm)} w/v`)}
  ${fact('In solution now', a.solutionUl > 0 ? volume(show, a.solutionUl) : 'none')}
  ${fact('On the shelf, at the receipts’ prices', money(show, shelfValueMinor(containers)))}</dl>${
    a.note && html`<p class="note-text">${a.note}</p>`
  }</section>`;

const calledForIn = (methods: readonly MethodWithAuxiliary[]): Html =>
  html`<section class="panel"><h2>Methods that call for it</h2>${
    methods.length === 0
      ? html`<p class="fine">None yet.</p>`
      : html`<ul class="shelf-list">${methods.map(
          (m) =>
            html`<li><a href="/methods/${m.methodId}">${m.name}</a>
            <span class="fine">${m.asTyped} ${m.vessel === 'soak' ? 'in the soak' : 'in the bath'}</span></li>`,
        )}</ul>`
  }</section>`;

/** One auxiliary: what it is, what a cup of it weighs, what is on the shelf. */
export const auxiliaryPage = (props: AuxiliaryPageProps): Html => {
  const { auxiliary: a, containers, closedCount, mayWork, show, todayOn } = props;
  const at = `/auxiliaries/${a.auxiliaryId}`;
  const item = `auxiliary-${a.auxiliaryId}`;
  return html`${pageHead({
    title: a.name,
    crumb: { href: '/auxiliaries', label: 'Auxiliaries' },
    lead: html`${a.code} · ${make(a)}`,
    actions:
      mayWork &&
      html`<a class="button" href="${at}/edit">Edit</a>
      <a class="button primary" href="/stock/new?item=${item}">Receive a container</a>`,
  })}
${a.archived && putAwayNotice('auxiliary')}
<div class="cols">${facts(props)}
<div>${cups(props)}
${safety({ hazardCodes: a.hazardCodes, sdsUrl: a.sdsUrl, powder: a.form === 'solid' })}</div></div>
${shelfContainers({
  item,
  name: a.name,
  containers,
  closedCount,
  words: 'Receive a container with its price: the cost of a lot follows from it.',
  mayWork,
  show,
  todayOn,
})}
${calledForIn(props.methods)}
${mayWork && putAwayButton({ at, noun: 'auxiliary', archived: a.archived })}`;
};
