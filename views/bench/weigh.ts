import type { LineShown } from '../../server/lots/schemas.ts';
import { type Html, html } from '../html.ts';
import { type FormState, fieldError } from '../kit/field.ts';
import { amount, clockBeside, grams } from '../kit/show.ts';
import { benchForm } from './benchForm.ts';
import { askedFor } from './containerFigures.ts';
import type { BenchProps, WeighOrder } from './props.ts';
import { toleranceBar } from './toleranceBar.ts';
import { stateOf, undoForm } from './undoForm.ts';
import { type ScaleView, waysOutPanel } from './waysOut.ts';

const stateWords: Record<LineShown['state'], string> = {
  waiting: 'to weigh',
  under: 'wants more',
  within: 'in',
  over: 'over',
};

const lineTab = (
  l: LineShown,
  p: BenchProps,
): Html => html`<li><a href="/lots/${p.lotId}/bench?line=${l.componentId}&order=${p.order}" class="line-tab is-${l.state}" data-line="${l.componentId}" ${l.componentId === p.currentId && html`aria-current="true"`}>
  <span class="line-state">${l.state === 'within' ? '●' : l.state === 'over' ? '▲' : l.state === 'under' ? '◐' : '○'}</span><span class="line-name"><b>${l.code}</b> ${l.name}${l.colourOrdinal !== null && html`<span class="fine"> · colour ${l.colourOrdinal}</span>`}${l.vessel && html`<span class="fine"> · ${l.vessel}</span>`}</span>
  <span class="num">${amount(l.unit, l.target, l.step)}<br><span class="fine line-words">${l.actual === undefined ? stateWords[l.state] : html`${amount(l.unit, l.actual, l.step)} ${stateWords[l.state]}`}</span></span></a></li>`;

/** So many containers are tapped; more are chosen from a list, and one alone is no choice. */
const MAX_TAPPED = 4;

const containerChoice = (l: LineShown, form: FormState): Html | '' => {
  if (l.containers.length === 0) return '';
  const invalid = form.errors['stockLotId'] && html`aria-invalid="true" aria-describedby="f-stockLotId-error"`;
  const data = (c: LineShown['containers'][number]): Html =>
    html`value="${c.id}" data-code="${c.code}" data-counts="${c.counts}" data-unit="${c.unit}" data-step="${c.step}" data-form="${c.form}" data-left="${c.onHand}"`;
  const [only] = l.containers;
  if (only && l.containers.length === 1 && only.notProposed === '' && !form.errors['stockLotId'])
    return html`<p class="fine from-container"><input type="hidden" name="stockLotId" ${data(only)}>from <b>${only.label}</b></p>`;
  const none = !l.containers.some((c) => c.chosen);
  return l.containers.length > MAX_TAPPED
    ? html`<div class="field"><label for="container">Container</label><select id="container" name="stockLotId" required ${invalid}>${none && html`<option value="">Choose the container</option>`}${l.containers.map((c) => html`<option ${data(c)} ${c.chosen && html`selected`}>${c.label}${c.notProposed && `: ${c.notProposed}`}</option>`)}</select>${fieldError('stockLotId', form)}</div>`
    : html`<fieldset class="field containers"><legend>Container</legend><div class="tap-choices">${l.containers.map((c) => html`<label class="tap-choice"><input type="radio" name="stockLotId" required ${data(c)} ${c.chosen && html`checked`} ${invalid}><span>${c.label}${c.notProposed && html` <small>${c.notProposed}</small>`}</span></label>`)}</div>${fieldError('stockLotId', form)}</fieldset>`;
};

/** What the screen asks for: the container that is chosen decides it. */
const asked = (l: LineShown): ReturnType<typeof askedFor> => askedFor(l, l.containers.find((c) => c.chosen) ?? null);

/** A line that wants nothing more is shown as it was planned. */
const shownOf = (l: LineShown): ReturnType<typeof askedFor> =>
  l.state === 'waiting' || l.state === 'under' ? asked(l) : askedFor(l, null);

/** What is in a colour's cup altogether, for the scale that is not set back to nothing between two powders. */
const cupTotal = (l: LineShown, p: BenchProps): Html | '' => {
  const own = p.lines.filter((x) => l.colourOrdinal !== null && x.colourOrdinal === l.colourOrdinal && x.unit === 'mg');
  if (own.length < 2) return '';
  const sum = (of: (x: LineShown) => number): number => own.reduce((total, x) => total + of(x), 0);
  const step = Math.min(...own.map((x) => x.step));
  return html`<p class="cup-total fine" data-step="${step}">Cup of colour ${l.colourOrdinal}: <b>${grams(
    sum((x) => x.actual ?? 0),
    step,
  )}</b> in it, ${grams(
    sum((x) => x.target),
    step,
  )} when full</p>`;
};

const readingForm = (l: LineShown, p: BenchProps): Html => {
  const form = l.componentId === p.currentId ? stateOf(p, 'weighing') : { typed: {}, errors: {} };
  const left = Math.max(0, l.target - (l.actual ?? 0));
  return benchForm(
    p,
    'weighings',
    html`<input type="hidden" name="componentId" value="${l.componentId}"><input type="hidden" name="measure" value="${asked(l).measure}">
    ${form.errors[''] && html`<p class="field-error">${form.errors['']}</p>`}
    <div class="reading-row">
      <div class="field reading ${form.errors['amount'] ? 'has-error' : ''}"><label for="reading">${l.actual === undefined ? 'Reading' : 'Added now'}</label>
        <span class="with-unit"><input id="reading" name="amount" inputmode="decimal" autocomplete="off" required value="${form.typed['amount'] ?? ''}" ${form.errors['amount'] && html`aria-invalid="true" aria-describedby="f-amount-error"`} data-keypad><span class="unit">${asked(l).unit}</span></span>${fieldError('amount', form)}</div>
      ${containerChoice(l, form)}
    </div>
    ${l.containers.length === 0 ? html`<p class="notice warn">No container of ${l.name} is open. <a href="/stock/new">Receive one</a>${l.concPct !== null && html` or make a stock solution on its container’s page`}, then come back.</p>` : html`<button class="primary big">${left > 0 && l.actual !== undefined ? 'Add it' : 'It is weighed'}</button>`}${form.typed['confirming'] && html`<button class="big confirm-reading" name="confirmed" value="${form.typed['confirming']}">Yes, it is ${form.typed['confirmingWords']}</button>`}`,
    { className: 'weigh-form stack', words: l.name },
  );
};

export const scaleOf = (p: BenchProps): ScaleView => ({
  weighUp: p.weighUp,
  names: Object.fromEntries(p.lines.map((l) => [String(l.componentId), { code: l.code, name: l.name }])),
  show: p.show,
});

/** One line, large: what to weigh, how much, from which container. */
const linePanel = (
  l: LineShown,
  p: BenchProps,
): Html => html`<div class="now-weigh is-${l.state}" data-key="line-${l.componentId}" data-line="${l.componentId}" data-colour="${l.colourOrdinal ?? ''}" data-name="${l.name}" data-state="${l.state}" data-unit="${l.unit}" data-form="${l.form}" data-target="${l.target}" data-step="${l.step}" data-tolerance="${l.tolerance}" data-actual="${l.actual ?? ''}">
    <p class="now-what">${l.colourName && html`<span class="fine">Colour ${l.colourOrdinal}: ${l.colourName}</span><br>`}${l.vessel && html`<span class="fine">For the ${l.vessel}</span><br>`}<b>${l.code}</b> ${l.name}<span class="now-form">${shownOf(l).form}</span></p>
    <p class="now-target"><span>${shownOf(l).target}</span></p>
    <p class="now-instead" ${shownOf(l).instead === '' && html`hidden`}>${shownOf(l).instead}</p>
    <p class="fine now-about">± ${amount(l.unit, Math.round(l.tolerance), 1)}${l.target !== l.planned && html` · planned ${amount(l.unit, l.planned, l.step)}`}${l.actual !== undefined && html` · <b>in the cup ${amount(l.unit, l.actual, l.step)}${l.state === 'under' && html`, add ${amount(l.unit, l.target - l.actual, l.step)}`}</b>`}</p>
    ${toleranceBar({
      target: l.target,
      tolerance: l.tolerance,
      actual: l.actual,
      label: `${amount(l.unit, l.target, l.step)} give or take ${amount(l.unit, Math.round(l.tolerance), 1)}; ${l.actual === undefined ? 'nothing in the cup' : `${amount(l.unit, l.actual, l.step)} in the cup`}`,
    })}${cupTotal(l, p)}
    ${l.state === 'over' && waysOutPanel({ lotId: p.lotId, order: p.order, scale: scaleOf(p), lineId: String(l.componentId), newId: () => p.newId() })}
    ${l.state === 'within' ? html`<p class="notice good line-verdict">Within tolerance.</p>` : l.state !== 'over' && readingForm(l, p)}
    ${(l.state === 'within' || l.state === 'over') && html`<template data-again>${readingForm(l, p)}</template>`}
    <ul class="weighings">${l.weighings.map((w) => html`<li class="${w.state}" data-key="weighing-${w.entryId}" data-entry="${w.entryId}" data-counts="${w.state === 'counts' ? w.counts : ''}"><span>${clockBeside(p.show, w.at, p.nowAt)} ${w.amount} from ${w.container}${w.recalled && w.state === 'counts' && html` <b>(recalled)</b>`}, ${w.person}</span>${w.state !== 'counts' ? html` <b>${w.state}</b>` : html` ${undoForm(p, w.entryId, `${l.name} ${w.amount}`)}`}</li>`)}</ul>
    </div>`;

/** The weigh-up. Every line is here, all but the current one asleep in templates, so that the page can go on to the next
 *  while the studio's computer cannot be reached. */
export const weighPanel = (p: BenchProps): Html => {
  const l = p.lines.find((x) => x.componentId === p.currentId);
  const done = p.lines.filter((x) => x.state === 'within').length;
  return html`<section class="bench-weigh" id="now" aria-label="Weigh">
  <h2>Weigh <span class="fine">${done} of ${p.lines.length} in</span></h2>
  ${l ? linePanel(l, p) : html`<p class="notice good all-weighed">Everything is weighed.</p>`}
  ${p.lines.length > 2 && orderTabs(p)}<ol class="line-tabs">${p.lines.map((x) => lineTab(x, p))}</ol>
  ${p.lines.filter((x) => x !== l).map((x) => html`<template data-panel="${x.componentId}">${linePanel(x, p)}</template>`)}</section>`;
};

const ORDERS: Record<WeighOrder, string> = { plan: 'as planned', smallest: 'smallest first', dye: 'dye by dye' };

const orderTabs = (p: BenchProps): Html =>
  html`<nav class="tabs" aria-label="Order of weighing">${(['plan', 'smallest', 'dye'] as const).map((o) => html`<a href="/lots/${p.lotId}/bench?order=${o}" ${o === p.order && html`aria-current="true"`}>${ORDERS[o]}</a>`)}</nav>`;
