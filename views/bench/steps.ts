import { durationText } from '../../server/calc/quantity.ts';
import { type Html, html } from '../html.ts';
import { clockBeside, temperature } from '../kit/show.ts';
import { benchForm } from './benchForm.ts';
import { keptMark } from './keptMark.ts';
import type { BenchDrawn, StepAtBench } from './props.ts';
import { stateOf } from './undoForm.ts';

const timer = (s: StepAtBench, p: BenchDrawn): Html | string => {
  const isUnderWay = s.state === 'running' || s.state === 'overdue';
  if (!isUnderWay && s.kept)
    return html`<span class="fine">ended ${clockBeside(p.show, s.endedAt ?? 0, p.nowAt)} </span>${keptMark()}`;
  if (isUnderWay) {
    const left = s.remainingS ?? 0;
    // When its planned time is up, also once that is past; the schedule’s own end of an overdue step is never
    // before now.
    return html`<span class="timer ${s.state}" data-ends-at="${
      s.remainingS === null ? '' : Math.round(p.nowAt + left * 1000)
    }" data-now="${p.nowAt}"><b>${left >= 0 ? countdown(left) : html`over by ${countdown(-left)}`}</b></span>${
      s.kept && html` <span class="fine">began ${clockBeside(p.show, s.startedAt ?? 0, p.nowAt)} </span>${keptMark()}`
    }`;
  }
  if (s.state === 'done')
    return html`<span class="fine">${clockBeside(p.show, s.startedAt ?? 0, p.nowAt)} to ${clockBeside(
      p.show,
      s.endedAt ?? 0,
      p.nowAt,
    )}, ${durationText({
      durationS: Math.round(((s.endedAt ?? 0) - (s.startedAt ?? 0)) / 1000),
    })}</span>`;
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

export const stepsPanel = (p: BenchDrawn): Html => {
  const form = stateOf(p, 'step');
  const next = p.steps.find((s) => s.state === 'waiting');
  /** The step that begins when this one ends: one tap for both. */
  const following = (s: StepAtBench): StepAtBench | undefined => {
    const after = p.steps[p.steps.indexOf(s) + 1];
    return after?.state === 'waiting' ? after : undefined;
  };
  return html`<section class="bench-steps" aria-label="Steps"><h2>Steps${
    p.readyAt !== null && html` <span class="fine">ready about ${clockBeside(p.show, p.readyAt, p.nowAt)}</span>`
  }</h2>
  ${form.errors[''] && html`<p class="field-error">${form.errors['']}</p>`}${
    form.errors['at'] && html`<p class="field-error">${form.errors['at']}</p>`
  }
  <ol class="steps">${p.steps.map(
    (s) => html`<li class="step is-${s.state}" data-key="step-${s.stepId}"><div class="grow"><b>${s.name}</b> <span
      class="fine">${durationText({ durationS: s.plannedDurationS })}${
        s.plannedTempC !== null &&
        html`
      at ${temperature(p.show, s.plannedTempC)}`
      }</span><br><span
      class="step-time">${timer(s, p)}</span>${s.note && html`<p class="fine">${s.note}</p>`}</div>
    ${
      s.state === 'waiting' &&
      benchForm(
        p,
        'steps',
        html`<input type="hidden" name="stepId" value="${s.stepId}"><input
      type="hidden" name="kind" value="stepStart"><button class="${s === next ? 'primary big' : ''}">Start <span
      class="visually-hidden">${s.name}</span></button>`,
        { words: s.name, key: `start ${s.stepId}` },
      )
    }
    ${
      (s.state === 'running' || s.state === 'overdue') &&
      benchForm(
        p,
        'steps',
        html`<input type="hidden" name="stepId"
      value="${s.stepId}"><input type="hidden" name="kind" value="stepEnd">${
        following(s) &&
        html`<button
      class="primary big" name="next" value="${following(s)?.stepId}"
      data-next="${following(s)?.name}">Next: ${following(s)?.name}</button>`
      }<button
      class="${following(s) ? '' : 'primary big'}">End <span
      class="visually-hidden">${s.name}</span></button>`,
        { words: s.name, className: 'step-ends', key: `end ${s.stepId}` },
      )
    }</li>`,
  )}</ol></section>`;
};
