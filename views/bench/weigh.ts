import { type Html, html } from '../html.ts';
import { type FormState, fieldError } from '../kit/field.ts';
import { amount, clockBeside, grams } from '../kit/show.ts';
import { benchForm } from './benchForm.ts';
import { askedFor } from './containerFigures.ts';
import { KEPT, keptMark } from './keptMark.ts';
import type { BenchCarried, BenchDrawn, LineAtBench, WeighingAtBench, WeighOrder } from './props.ts';
import { toleranceBar } from './toleranceBar.ts';
import { stateOf, undoForm } from './undoForm.ts';
import { type ScaleView, waysOutPanel } from './waysOut.ts';

const stateWords: Record<LineAtBench['state'], string> = {
  waiting: 'to weigh',
  under: 'wants more',
  within: 'in',
  over: 'over',
};

const tabWords = (l: LineAtBench): string => {
  if (l.kept?.unread) return KEPT;
  const said =
    l.actual === undefined ? stateWords.waiting : `${amount(l.unit, l.actual, l.step)} ${stateWords[l.state]}`;
  return l.kept ? `${said}, ${KEPT}` : said;
};

const lineTab = (
  l: LineAtBench,
  p: BenchDrawn,
): Html => html`<li><a href="/lots/${p.lotId}/bench?line=${l.componentId}&order=${p.order}"
  class="line-tab is-${l.state}" data-line="${l.componentId}"
  ${l.componentId === p.currentId && html`aria-current="true"`}>
  <span class="line-state">${
    l.state === 'within' ? '●' : l.state === 'over' ? '▲' : l.state === 'under' ? '◐' : '○'
  }</span><span class="line-name"><b>${l.code}</b> ${l.name}${
    l.colourOrdinal !== null && html`<span class="fine"> · colour ${l.colourOrdinal}</span>`
  }${l.vessel && html`<span class="fine"> · ${l.vessel}</span>`}</span>
  <span class="num">${amount(
    l.unit,
    l.target,
    l.step,
  )}<br><span class="fine line-words">${tabWords(l)}</span></span></a></li>`;

/** So many containers are tapped; more are chosen from a list, and one alone is no choice. */
const MAX_TAPPED = 4;

const containerChoice = (l: LineAtBench, form: FormState): Html | '' => {
  if (l.containers.length === 0) return '';
  const invalid = form.errors['stockLotId'] && html`aria-invalid="true" aria-describedby="f-stockLotId-error"`;
  const [only] = l.containers;
  if (only && l.containers.length === 1 && only.notProposed === '' && !form.errors['stockLotId'])
    return html`<p class="fine from-container"><input type="hidden" name="stockLotId" value="${only.id}">from
      <b>${only.label}</b></p>`;
  const none = !l.containers.some((c) => c.chosen);
  return l.containers.length > MAX_TAPPED
    ? html`<div class="field"><label for="container">Container</label><select id="container" name="stockLotId" required
      ${invalid}>${none && html`<option value="">Choose the container</option>`}${l.containers.map(
        (c) => html`<option value="${c.id}"
      ${c.chosen && html`selected`}>${c.label}${c.notProposed && `: ${c.notProposed}`}</option>`,
      )}</select>${fieldError('stockLotId', form)}</div>`
    : html`<fieldset class="field containers"><legend>Container</legend><div class="tap-choices">${l.containers.map(
        (c) =>
          html`<label class="tap-choice"><input type="radio" name="stockLotId" required value="${c.id}" ${
            c.chosen && html`checked`
          } ${invalid}><span>${c.label}${c.notProposed && html` <small>${c.notProposed}</small>`}</span></label>`,
      )}</div>${fieldError('stockLotId', form)}</fieldset>`;
};

/** What the screen asks for: the container that is chosen decides it. */
export const asked = (l: LineAtBench): ReturnType<typeof askedFor> =>
  askedFor(l, l.containers.find((c) => c.chosen) ?? null);

/** A line that wants nothing more is shown as it was planned. */
const shownOf = (l: LineAtBench): ReturnType<typeof askedFor> =>
  l.state === 'waiting' || l.state === 'under' ? asked(l) : askedFor(l, null);

/** What is in a colour's cup altogether, for the scale that is not set back to nothing between two powders. */
const cupTotal = (l: LineAtBench, p: BenchDrawn): Html | '' => {
  const own = p.lines.filter((x) => l.colourOrdinal !== null && x.colourOrdinal === l.colourOrdinal && x.unit === 'mg');
  if (own.length < 2) return '';
  const sum = (of: (x: LineAtBench) => number): number => own.reduce((total, x) => total + of(x), 0);
  const step = Math.min(...own.map((x) => x.step));
  const unread = own.some((x) => x.kept?.unread) ? ', and what is not read yet' : '';
  return html`<p class="cup-total fine">Cup of colour ${l.colourOrdinal}: <b>${grams(
    sum((x) => x.actual ?? 0),
    step,
  )}</b> in it${unread}, ${grams(
    sum((x) => x.target),
    step,
  )} when full</p>`;
};

const readingForm = (l: LineAtBench, p: BenchDrawn): Html => {
  // What was refused stands in its own line, until the next reading of it waits.
  const form = l.componentId === p.currentId && !l.kept ? stateOf(p, 'weighing') : { typed: {}, errors: {} };
  const left = Math.max(0, l.target - (l.actual ?? 0));
  const add = l.kept ? `Add ${amount(l.unit, left, l.step)}` : 'Add it';
  return benchForm(
    p,
    'weighings',
    html`<input type="hidden" name="componentId" value="${l.componentId}">
    <input type="hidden" name="measure" value="${asked(l).measure}">
    ${form.errors[''] && html`<p class="field-error">${form.errors['']}</p>`}
    <div class="reading-row">
      <div class="field reading ${form.errors['amount'] ? 'has-error' : ''}"><label for="reading">${
        l.actual === undefined ? 'Reading' : 'Added now'
      }</label>
        <span class="with-unit"><input id="reading" name="amount" inputmode="decimal" autocomplete="off" required
          value="${form.typed['amount'] ?? ''}" ${
            form.errors['amount'] &&
            html`aria-invalid="true"
          aria-describedby="f-amount-error"`
          } data-keypad><span class="unit">${asked(l).unit}</span></span>${fieldError('amount', form)}</div>
      ${containerChoice(l, form)}
    </div>
    ${
      l.containers.length === 0
        ? html`<p class="notice warn">No container of ${l.name} is open. <a
      href="/stock/new">Receive one</a>${
        l.concPct !== null &&
        html` or make a stock solution on its container’s
      page`
      }, then come back.</p>`
        : html`<button
      class="primary big">${left > 0 && l.actual !== undefined ? add : 'It is weighed'}</button>`
    }${
      form.typed['confirming'] &&
      html`<button class="big confirm-reading" name="confirmed" value="${
        form.typed['confirming']
      }">Yes, it is ${form.typed['confirmingWords']}</button>`
    }`,
    { className: 'weigh-form stack', words: l.name, key: l.componentId },
  );
};

const scaleOf = (p: BenchDrawn): ScaleView => ({
  weighUp: p.weighUp,
  names: Object.fromEntries(p.lines.map((l) => [String(l.componentId), { code: l.code, name: l.name }])),
  show: p.show,
});

/** What the page carries, so that it can draw the bench with what waits on its device. */
export const carriedOf = (p: BenchDrawn): BenchCarried & ScaleView => ({
  ...scaleOf(p),
  lotId: p.lotId,
  order: p.order,
  nowAt: p.nowAt,
  lines: p.lines,
  currentId: p.currentId,
  questions: p.questions,
  steps: p.steps,
  readyAt: p.readyAt,
  dryMassMg: p.dryMassMg,
  plannedDryMassMg: p.plannedDryMassMg,
  refused: p.refused,
});

/** What stands in place of the reading's form, or with it: the ways out, a verdict, what was chosen on this device. */
const lineVerdict = (l: LineAtBench, p: BenchDrawn): Html | '' => {
  if (l.kept?.unread) return html`<p class="notice warn line-verdict">It is judged when it is sent.</p>`;
  if (l.state === 'within') return html`<p class="notice good line-verdict">Within tolerance.</p>`;
  if (l.state !== 'over') return readingForm(l, p);
  // Where a reading is only known to the studio’s computer, so are the ways out.
  return p.lines.some((x) => x.kept?.unread)
    ? html`<p class="notice warn line-verdict">Over by ${amount(
        l.unit,
        l.difference ?? 0,
        l.step,
      )}. The ways out are worked out once it is sent; or take the reading back, above.</p>`
    : waysOutPanel({
        lotId: p.lotId,
        order: p.order,
        scale: scaleOf(p),
        lineId: String(l.componentId),
        newId: (way) => p.newId(`way ${way}`),
      });
};

const choicesKept = (l: LineAtBench): Html[] =>
  (l.kept?.choices ?? []).map(({ words, mark, holds }) =>
    holds
      ? html`<p class="notice">${words} ${keptMark(mark)}</p>`
      : html`<p class="notice warn">${words} ${keptMark(mark)} It was chosen on other figures than these: once it is
        sent, you are asked again.</p>`,
  );

const lineAbout = (l: LineAtBench): Html => {
  if (l.kept?.unread) return html`<b>A reading that only the studio’s computer can read is kept on this device.</b>`;
  if (l.kept)
    return html`<b>${
      l.actual === undefined
        ? 'Nothing in the cup.'
        : `In the cup ${amount(l.unit, l.actual, l.step)}, with what is ${KEPT}.`
    }</b>`;
  return html`± ${amount(l.unit, Math.round(l.tolerance), 1)}${
    l.target !== l.planned && html` · planned ${amount(l.unit, l.planned, l.step)}`
  }${
    l.actual !== undefined &&
    html` · <b>in the cup ${amount(l.unit, l.actual, l.step)}${
      l.state === 'under' && html`, add ${amount(l.unit, l.target - l.actual, l.step)}`
    }</b>`
  }`;
};

const weighingItem = (w: WeighingAtBench, l: LineAtBench, p: BenchDrawn): Html =>
  html`<li class="${w.state}" data-key="weighing-${w.entryId}"><span>${clockBeside(
    p.show,
    w.at,
    p.nowAt,
  )} ${w.amount} from ${w.container}${
    w.recalled && w.state === 'counts' && html` <b>(recalled)</b>`
  }, ${w.person}</span>${
    w.undone !== undefined
      ? html` <b>void: ${w.undone}, ${KEPT}</b>`
      : w.state !== 'counts'
        ? html` <b>${w.state}</b>`
        : html` ${undoForm(p, w.entryId, `${l.name} ${w.amount}`)}`
  }</li>`;

/** One line, large: what to weigh, how much, from which container. */
const linePanel = (
  l: LineAtBench,
  p: BenchDrawn,
): Html => html`<div class="now-weigh is-${l.state}" data-key="line-${l.componentId}" data-line="${l.componentId}">
    <p class="now-what">${
      l.colourName && html`<span class="fine">Colour ${l.colourOrdinal}: ${l.colourName}</span><br>`
    }${
      l.vessel && html`<span class="fine">For the ${l.vessel}</span><br>`
    }<b>${l.code}</b> ${l.name}<span class="now-form">${shownOf(l).form}</span></p>
    <p class="now-target"><span>${shownOf(l).target}</span></p>
    <p class="now-instead" ${shownOf(l).instead === '' && html`hidden`}>${shownOf(l).instead}</p>
    <p class="fine now-about">${lineAbout(l)}</p>
    ${toleranceBar({
      target: l.target,
      tolerance: l.tolerance,
      actual: l.kept?.unread ? undefined : l.actual,
      label: `${amount(l.unit, l.target, l.step)} give or take ${amount(l.unit, Math.round(l.tolerance), 1)}; ${
        l.actual === undefined ? 'nothing in the cup' : `${amount(l.unit, l.actual, l.step)} in the cup`
      }`,
    })}${cupTotal(l, p)}
    ${choicesKept(l)}${lineVerdict(l, p)}
    <ul class="weighings">${l.weighings.map((w) => weighingItem(w, l, p))}${(l.kept?.weighings ?? []).map(
      (w) =>
        html`<li class="is-kept" data-key="kept-weighing-${w.clientId}">${clockBeside(
          p.show,
          w.at,
          p.nowAt,
        )} ${w.words} ${keptMark(w.mark)}</li>`,
    )}</ul>
    </div>`;

const allWeighed = (p: BenchDrawn): Html =>
  p.lines.some((l) => l.state !== 'within' || l.kept?.unread)
    ? html`<p class="notice warn all-weighed">Everything is weighed; some lines are judged once they are sent.</p>`
    : html`<p class="notice good all-weighed">Everything is weighed.</p>`;

/** The weigh-up: one line large, the others as tabs. */
export const weighPanel = (p: BenchDrawn): Html => {
  const l = p.lines.find((x) => x.componentId === p.currentId);
  const done = p.lines.filter((x) => x.state === 'within').length;
  return html`<section class="bench-weigh" id="now" aria-label="Weigh">
  <h2>Weigh <span class="fine">${done} of ${p.lines.length} in</span></h2>
  ${l ? linePanel(l, p) : allWeighed(p)}
  ${p.lines.length > 2 && orderTabs(p)}<ol class="line-tabs">${p.lines.map((x) => lineTab(x, p))}</ol></section>`;
};

const ORDERS: Record<WeighOrder, string> = { plan: 'as planned', smallest: 'smallest first', dye: 'dye by dye' };

const orderTabs = (p: BenchDrawn): Html =>
  html`<nav class="tabs" aria-label="Order of weighing">${(['plan', 'smallest', 'dye'] as const).map(
    (o) =>
      html`<a href="/lots/${p.lotId}/bench?order=${o}" ${o === p.order && html`aria-current="true"`}>${ORDERS[o]}</a>`,
  )}</nav>`;
