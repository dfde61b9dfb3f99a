import type { WeighUpAtScale } from '../../server/calc/overWeighing.ts';
import { durationText } from '../../server/calc/quantity.ts';
import { type Html, html, type Value } from '../html.ts';
import { ids } from '../ids.ts';
import { type FormState, field, fieldError, formNotice } from '../kit/field.ts';
import { clockBeside, grams, millilitres, type Show, temperature } from '../kit/show.ts';
import { benchForm } from './benchForm.ts';
import { askedFor, type ContainerFigures } from './containerFigures.ts';
import type { LotStatus } from './lotsPage.ts';
import { type PlacementAtBench, placementAtBench } from './placement.ts';
import { toleranceBar } from './toleranceBar.ts';
import { voiceFields } from './voiceNote.ts';
import { goodsNow, type ScaleView, waysOutPanel } from './waysOut.ts';
import { cautionsList } from './weighUp.ts';

export interface BenchLineView {
  componentId: number;
  code: string;
  name: string;
  colourOrdinal: number | null;
  colourName: string | null;
  vessel: 'bath' | 'soak' | null;
  unit: 'mg' | 'ul';
  concPct: number | null;
  planned: number;
  target: number;
  step: number;
  tolerance: number;
  actual: number | undefined;
  /** By the books, where a correction after the closing says otherwise than the scale. */
  corrected: number | null;
  difference: number | null;
  differencePct: number | null;
  state: 'waiting' | 'under' | 'within' | 'over';
  /** How the plan says it, beside the name: “, 1 % solution”; '' of powder. */
  form: string;
  containers: readonly (ContainerFigures & {
    id: number;
    code: string;
    label: string;
    /** By its card, in its own unit. */
    onHand: number;
    /** Why the line does not propose it; '' of one that it may propose. */
    notProposed: string;
    chosen: boolean;
  })[];
  weighings: readonly {
    entryId: number;
    at: number;
    amount: string;
    containerId: number;
    container: string;
    /** Taken back by its maker or the studio since. */
    recalled: boolean;
    person: string;
    state: 'counts' | 'voided' | 'discarded';
    /** In the line's own unit. */
    counts: number;
  }[];
}

export interface BenchStepView {
  stepId: number;
  name: string;
  plannedDurationS: number;
  plannedTempC: number | null;
  note: string;
  state: 'waiting' | 'running' | 'overdue' | 'done' | 'skipped';
  startedAt: number | null;
  endedAt: number | null;
  remainingS: number | null;
  expectedEndAt: number | null;
}

export interface LogView {
  entryId: number;
  kind: string;
  at: number;
  person: string;
  text: Value;
  /** The same without markup. */
  words: string;
  /** What must be known of its time; '' of most. */
  told: string;
  stepName: string | null;
  photo: string | null;
  voidedReason: string | null;
  voidable: boolean;
  /** A choice at the scale, and no entry. */
  undo: boolean;
}

/** In which order the lines come to the scale. */
export type WeighOrder = 'plan' | 'smallest' | 'dye';

export interface BenchProps {
  order: WeighOrder;
  lotId: number;
  number: string;
  status: LotStatus;
  /** Said of orders that were cancelled; empty when there are none. */
  cancelled: string;
  goodsText: string;
  dryMassMg: number;
  plannedDryMassMg: number;
  show: Show;
  nowAt: number;
  lines: readonly BenchLineView[];
  /** The line that fills the screen; null when the weigh-up is done. */
  currentId: number | null;
  /** The weigh-up as it stands, from which the ways out of an over-weighed line are worked out. */
  weighUp: WeighUpAtScale;
  /** What the bench is asked: about a choice that was not applied, or one whose cause was voided. */
  questions: readonly {
    questionId: number;
    words: string;
    asks: 'choice' | 'undo';
    line: { componentId: number; name: string; isOver: boolean } | null;
  }[];
  steps: readonly BenchStepView[];
  readyAt: number | null;
  log: readonly LogView[];
  /** Rises with all that is new at this bench, so that the page knows whether it is behind. */
  newest: number;
  person: { personId: number; name: string };
  cautions: readonly string[];
  /** What the method asks for; `recorded` is what was last kept. */
  fields: readonly {
    label: string;
    kind: string;
    unit: string;
    choices: readonly string[];
    recorded: string | null;
  }[];
  deviations: {
    instead: readonly { value: string; of: string; name: string; planned: string }[];
    did: readonly { value: string; words: string; of: readonly string[] }[];
  };
  placement: Pick<PlacementAtBench, 'plan' | 'cloth' | 'colours'>;
  /** Ids for the forms on this page, so that sending one twice records once. */
  newId: () => string;
  /** The form that was refused, by name, with what was typed. */
  refused: { form: string; state: FormState } | null;
}

const amount = (unit: 'mg' | 'ul', value: number, step: number): string =>
  unit === 'mg' ? grams(value, step) : millilitres(value, step);
const stateOf = (p: BenchProps, form: string, typed: Record<string, string> = {}): FormState =>
  p.refused?.form === form ? p.refused.state : { typed, errors: {} };

const stateWords: Record<BenchLineView['state'], string> = {
  waiting: 'to weigh',
  under: 'wants more',
  within: 'in',
  over: 'over',
};

const lineTab = (
  l: BenchLineView,
  p: BenchProps,
): Html => html`<li><a href="/lots/${p.lotId}/bench?line=${l.componentId}&order=${p.order}" class="line-tab is-${l.state}" data-line="${l.componentId}" ${l.componentId === p.currentId && html`aria-current="true"`}>
  <span class="line-state">${l.state === 'within' ? '●' : l.state === 'over' ? '▲' : l.state === 'under' ? '◐' : '○'}</span><span class="line-name"><b>${l.code}</b> ${l.name}${l.colourOrdinal !== null && html`<span class="fine"> · colour ${l.colourOrdinal}</span>`}${l.vessel && html`<span class="fine"> · ${l.vessel}</span>`}</span>
  <span class="num">${amount(l.unit, l.target, l.step)}<br><span class="fine line-words">${l.actual === undefined ? stateWords[l.state] : html`${amount(l.unit, l.actual, l.step)} ${stateWords[l.state]}`}</span></span></a></li>`;

/** So many containers are tapped; more are chosen from a list, and one alone is no choice. */
const MAX_TAPPED = 4;

const containerChoice = (l: BenchLineView, form: FormState): Html | '' => {
  if (l.containers.length === 0) return '';
  const invalid = form.errors['stockLotId'] && html`aria-invalid="true" aria-describedby="f-stockLotId-error"`;
  const data = (c: BenchLineView['containers'][number]): Html =>
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
const asked = (l: BenchLineView): ReturnType<typeof askedFor> =>
  askedFor(l, l.containers.find((c) => c.chosen) ?? null);

/** A line that wants nothing more is shown as it was planned. */
const shownOf = (l: BenchLineView): ReturnType<typeof askedFor> =>
  l.state === 'waiting' || l.state === 'under' ? asked(l) : askedFor(l, null);

/** What is in a colour's cup altogether, for the scale that is not set back to nothing between two powders. */
const cupTotal = (l: BenchLineView, p: BenchProps): Html | '' => {
  const own = p.lines.filter((x) => l.colourOrdinal !== null && x.colourOrdinal === l.colourOrdinal && x.unit === 'mg');
  if (own.length < 2) return '';
  const sum = (of: (x: BenchLineView) => number): number => own.reduce((total, x) => total + of(x), 0);
  const step = Math.min(...own.map((x) => x.step));
  return html`<p class="cup-total fine" data-step="${step}">Cup of colour ${l.colourOrdinal}: <b>${grams(
    sum((x) => x.actual ?? 0),
    step,
  )}</b> in it, ${grams(
    sum((x) => x.target),
    step,
  )} when full</p>`;
};

const readingForm = (l: BenchLineView, p: BenchProps): Html => {
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

const scaleOf = (p: BenchProps): ScaleView => ({
  weighUp: p.weighUp,
  names: Object.fromEntries(p.lines.map((l) => [String(l.componentId), { code: l.code, name: l.name }])),
  show: p.show,
});

/** What the record cannot settle by itself, above everything else: each with what to do, in one tap. */
const questionsPanel = (p: BenchProps): Html | '' =>
  p.questions.length > 0
    ? html`<section class="bench-asks" aria-label="Questions">${p.questions.map(
        (q) => html`<div class="notice warn bench-ask" data-key="question-${q.questionId}"><p>${q.words}</p>
  <div class="taps">${q.asks === 'choice' && q.line?.isOver && html`<a class="button" href="/lots/${p.lotId}/bench?line=${q.line.componentId}&order=${p.order}#now" data-ask-line="${q.line.componentId}">Choose again for ${q.line.name}</a>`}
  ${benchForm(p, `questions/${q.questionId}/answer`, html`${q.asks === 'undo' && html`<input type="hidden" name="reason" value="the reading that it was chosen for is void"><button class="primary" name="answer" value="undone">Undo the choice</button>`}<button name="answer" value="left">${q.asks === 'undo' ? 'Keep the choice' : 'Leave it as it is'}</button>`, { className: 'ask-form', words: q.asks === 'undo' ? 'The choice whose reading is void' : 'The choice that was not applied' })}</div></div>`,
      )}</section>`
    : '';

/** One line, large: what to weigh, how much, from which container. */
const linePanel = (
  l: BenchLineView,
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
const weighPanel = (p: BenchProps): Html => {
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

const undoForm = (p: BenchProps, entryId: number, words: string, isChoice = false): Html =>
  html`<details class="void" data-key="void-${entryId}"><summary>Undo</summary>${benchForm(
    p,
    `log/${entryId}/voiding`,
    html`${field({ name: 'reason', label: 'Why it is undone', form: stateOf(p, `void-${entryId}`), required: true, placeholder: isChoice ? 'chosen on a misreading' : 'misread, wrong line' })}<button>Undo it</button>`,
    { words: `Undo: ${words}` },
  )}</details>`;

const timer = (s: BenchStepView, p: BenchProps): Html | string => {
  if (s.state === 'running' || s.state === 'overdue') {
    const left = s.remainingS ?? 0;
    // When its planned time is up, also once that is past; the schedule’s own end of an overdue step is never before now.
    return html`<span class="timer ${s.state}" data-ends-at="${s.remainingS === null ? '' : Math.round(p.nowAt + left * 1000)}" data-now="${p.nowAt}"><b>${left >= 0 ? countdown(left) : html`over by ${countdown(-left)}`}</b></span>`;
  }
  if (s.state === 'done')
    return html`<span class="fine">${clockBeside(p.show, s.startedAt ?? 0, p.nowAt)} to ${clockBeside(p.show, s.endedAt ?? 0, p.nowAt)}, ${durationText({ durationS: Math.round(((s.endedAt ?? 0) - (s.startedAt ?? 0)) / 1000) })}</span>`;
  return s.expectedEndAt === null
    ? ''
    : html`<span class="fine">until about ${clockBeside(p.show, s.expectedEndAt, p.nowAt)}</span>`;
};

/** h:mm:ss, as a kitchen clock shows it. */
export const countdown = (seconds: number): string => {
  const s = Math.floor(seconds);
  const pad = (n: number): string => String(n).padStart(2, '0');
  return s >= 3600
    ? `${Math.floor(s / 3600)}:${pad(Math.floor((s % 3600) / 60))}:${pad(s % 60)}`
    : `${Math.floor(s / 60)}:${pad(s % 60)}`;
};

const stepsPanel = (p: BenchProps): Html => {
  const form = stateOf(p, 'step');
  const next = p.steps.find((s) => s.state === 'waiting');
  /** The step that begins when this one ends: one tap for both. */
  const following = (s: BenchStepView): BenchStepView | undefined => {
    const after = p.steps[p.steps.indexOf(s) + 1];
    return after?.state === 'waiting' ? after : undefined;
  };
  return html`<section class="bench-steps" aria-label="Steps"><h2>Steps${p.readyAt !== null && html` <span class="fine">ready about ${clockBeside(p.show, p.readyAt, p.nowAt)}</span>`}</h2>
  ${form.errors[''] && html`<p class="field-error">${form.errors['']}</p>`}${form.errors['at'] && html`<p class="field-error">${form.errors['at']}</p>`}
  <ol class="steps">${p.steps.map(
    (
      s,
    ) => html`<li class="step is-${s.state}" data-key="step-${s.stepId}" data-step="${s.stepId}" data-state="${s.state}" data-planned-s="${s.plannedDurationS}"><div class="grow"><b>${s.name}</b> <span class="fine">${durationText({ durationS: s.plannedDurationS })}${s.plannedTempC !== null && html` at ${temperature(p.show, s.plannedTempC)}`}</span><br><span class="step-time">${timer(s, p)}</span>${s.note && html`<p class="fine">${s.note}</p>`}</div>
    ${s.state === 'waiting' && benchForm(p, 'steps', html`<input type="hidden" name="stepId" value="${s.stepId}"><input type="hidden" name="kind" value="stepStart"><button class="${s === next ? 'primary big' : ''}">Start <span class="visually-hidden">${s.name}</span></button>`, { words: s.name })}
    ${(s.state === 'running' || s.state === 'overdue') && benchForm(p, 'steps', html`<input type="hidden" name="stepId" value="${s.stepId}"><input type="hidden" name="kind" value="stepEnd">${following(s) && html`<button class="primary big" name="next" value="${following(s)?.stepId}" data-next="${following(s)?.name}">Next: ${following(s)?.name}</button>`}<button class="${following(s) ? '' : 'primary big'}">End <span class="visually-hidden">${s.name}</span></button>`, { words: s.name, className: 'step-ends' })}</li>`,
  )}</ol></section>`;
};

/** Changes that no line of the plan names: one tap. */
const CHANGES = [
  'Folded another way',
  'Placed another way',
  'More water',
  'Less water',
  'Order changed',
  'Stirred less',
];

/** “Instead of … I did …”: two taps, and words only where somebody wants them. */
const deviationForm = (p: BenchProps): Html => {
  const form = stateOf(p, 'deviation');
  const groups: readonly { of: string; label: string }[] = [
    { of: 'time', label: 'Time' },
    { of: 'temp', label: 'Temperature' },
    { of: 'line', label: 'Auxiliary' },
    { of: 'placement', label: 'Placement' },
  ];
  return benchForm(
    p,
    'log',
    html`<input type="hidden" name="kind" value="deviation">
    <fieldset class="instead"><legend>Instead of …</legend>${groups.map((g) => {
      const own = p.deviations.instead.filter((c) => c.of === g.of);
      return (
        own.length > 0 &&
        html`<div class="tap-choices"><span class="fine tap-group">${g.label}</span>${own.map((c) => html`<label class="tap-choice"><input type="radio" name="instead" value="${c.value}" data-of="${c.of}" required ${form.typed['instead'] === c.value && html`checked`}><span>${c.name}${c.planned && html` <small>${c.planned}</small>`}</span></label>`)}</div>`
      );
    })}${fieldError('instead', form)}</fieldset>
    <fieldset class="did"><legend>… I did</legend><p class="fine did-hint">Tap above what it was instead of.</p><div class="taps">${p.deviations.did.map((d) => html`<button name="did" value="${d.value}" class="${d.of.map((of) => `did-${of}`).join(' ')}">${d.words}</button>`)}</div>
    <div class="field did-words"><label for="did-words">In words, if you like</label><input id="did-words" name="text" value="${form.typed['text'] ?? ''}" ${form.errors['text'] && html`aria-invalid="true" aria-describedby="f-text-error"`}>${fieldError('text', form)}${fieldError('did', form)}</div></fieldset>`,
    { className: 'deviation-form' },
  );
};

const logPanel = (
  p: BenchProps,
): Html => html`<section class="bench-log" aria-label="What happens"><h2>What really happens</h2>
  <h3>Otherwise than planned</h3>
  ${deviationForm(p)}
  ${benchForm(p, 'log', html`<input type="hidden" name="kind" value="deviation"><div class="taps" role="group" aria-label="Other changes, one tap">${CHANGES.map((d) => html`<button name="text" value="${d}">${d}</button>`)}</div>`)}
  <h3>How it lies</h3>${placementAtBench({ ...p.placement, href: `/lots/${p.lotId}/placement`, show: p.show })}
  <div class="cols"><div>
  ${benchForm(
    p,
    'log',
    html`<div class="field"><label for="note-text">Note</label><textarea id="note-text" name="text" rows="2" required>${stateOf(p, 'log').typed['text'] ?? ''}</textarea>${fieldError('text', stateOf(p, 'log'))}</div>
    <div class="taps"><button name="kind" value="note">Keep the note</button><button name="kind" value="deviation">It is a change of plan</button></div>`,
    { className: 'stack' },
  )}</div><div class="stack">
  ${benchForm(p, 'log', html`<input type="hidden" name="kind" value="temperature">${field({ name: 'temp', label: 'Temperature', form: stateOf(p, 'temperature'), inputmode: 'decimal', unit: p.show.units === 'us' ? '°F' : '°C', size: 'short', required: true })}<button>Keep <span class="visually-hidden">the temperature</span></button>`, { className: 'inline' })}
  ${benchForm(p, 'photos', html`<div class="field"><label for="photo">Photo</label><input id="photo" type="file" name="photo" accept="image/*" capture="environment" required>${fieldError('photo', stateOf(p, 'photo'))}</div>${field({ name: 'text', label: 'Caption', form: stateOf(p, 'photo') })}<button>Keep the photo</button>`, { multipart: true, className: 'stack' })}
  ${benchForm(p, 'voices', voiceFields(stateOf(p, 'voice')), { multipart: true, className: 'stack voice-form', words: 'Voice note' })}
  </div></div>
  ${
    p.fields.length > 0 &&
    html`<h3>This method asks for</h3><div class="grid">${p.fields.map((f, i) =>
      benchForm(
        p,
        'log',
        html`<input type="hidden" name="kind" value="field"><input type="hidden" name="label" value="${f.label}">${
          f.choices.length > 0
            ? html`<fieldset><legend>${f.label}${f.recorded !== null && html` <span class="fine">kept: ${f.recorded}</span>`}</legend><div class="taps">${f.choices.map((c) => html`<button name="text" value="${c}">${c}</button>`)}</div></fieldset>`
            : html`<div class="inline"><div class="field"><label for="method-field-${i}">${f.label}${f.recorded !== null && html` <span class="fine">kept: ${f.recorded}</span>`}</label><span class="with-unit"><input id="method-field-${i}" name="text" ${f.kind === 'text' ? '' : html`inputmode="decimal"`}>${f.unit && html`<span class="unit">${f.unit}</span>`}</span></div><button>Keep <span class="visually-hidden">${f.label}</span></button></div>`
        }`,
      ),
    )}</div>`
  }
  <h3>Log</h3>${logList(p)}</section>`;

/** The log, newest first on the bench. Voided entries stay, struck out, with the reason. */
const logList = (p: BenchProps): Html =>
  html`<ol class="log">${[...p.log]
    .reverse()
    .map(
      (e) =>
        html`<li class="${e.voidedReason !== null ? 'voided' : ''}" id="entry-${e.entryId}"><span class="log-at">${clockBeside(p.show, e.at, p.nowAt)}</span><span class="log-what">${e.voidedReason !== null ? html`<s>${e.text}</s> <b>void: ${e.voidedReason}</b>` : e.text}${e.stepName && e.kind !== 'stepStart' && e.kind !== 'stepEnd' && html` <span class="fine">(${e.stepName})</span>`}${e.told && html`<br><span class="fine">${e.told}</span>`}${e.photo && html`<br><img src="${e.photo}" alt="Photo at ${clockBeside(p.show, e.at, p.nowAt)}" loading="lazy">`}</span><span class="fine">${e.person}</span>${e.voidable && undoForm(p, e.entryId, e.words, e.undo)}</li>`,
    )}</ol>`;

/** Powder of a recalled container is in a cup of this lot. */
const recalledNotice = (p: BenchProps): Html | '' => {
  const codes = new Set(
    p.lines.flatMap((l) => l.weighings.filter((w) => w.recalled && w.state === 'counts').map((w) => w.container)),
  );
  return codes.size === 0
    ? ''
    : html`<p class="notice bad">Weighed from ${[...codes].join(', ')}, which has been recalled. Ask the owner before you go on.</p>`;
};

/** The bench: the one page for wet hands. The page is this fragment in a bare frame. */
export const bench = (
  p: BenchProps,
): Html => html`<div id="${ids.bench}" class="bench" data-lot="${p.lotId}" data-number="${p.number}" data-order="${p.order}" data-person="${p.person.personId}" data-person-name="${p.person.name}" data-zone="${p.show.zone}" data-now="${p.nowAt}" data-newest="${p.newest}" data-scale="${JSON.stringify(scaleOf(p))}">
  <header class="bench-bar"><h1 class="visually-hidden">Bench, lot ${p.number}</h1><a class="button quiet" href="/lots/${p.lotId}">‹ Lot ${p.number}</a><p><b>${p.goodsText}</b>, <span class="goods-now">${goodsNow(p.show, p.dryMassMg, p.plannedDryMassMg)}</span></p><a class="button" href="/lots/${p.lotId}/outcome">Finish</a></header>
  ${p.cancelled && html`<div class="notice bad" role="status"><p>${p.cancelled}</p></div>`}
  ${p.refused && formNotice({ typed: {}, errors: { '': Object.values(p.refused.state.errors)[0] ?? 'That was not recorded.' } })}
  ${questionsPanel(p)}
  ${recalledNotice(p)}
  <div class="bench-grid"><div>${weighPanel(p)}</div><div>${stepsPanel(p)}${logPanel(p)}<details><summary>Cautions</summary>${cautionsList(p.cautions)}</details></div></div>
</div>`;
