import { type Html, html } from '../html.ts';
import { checkbox, type FormState, field, formNotice, type Option, selectField, textArea } from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';

export interface FinishProps {
  lotId: number;
  number: string;
  goodsText: string;
  pieces: number | null;
  form: FormState;
  currency: string;
  people: readonly Option[];
  steps: readonly { stepId: number; name: string }[];
  unweighed: readonly string[];
  clientId: string;
}

/** Finish: the outcome and the time that hands spent, then the lot is closed for good. */
export const finishPage = (p: FinishProps): Html => html`${pageHead({
  title: `Finish lot ${p.number}`,
  crumb: { href: `/lots/${p.lotId}/bench`, label: 'Bench' },
  lead: html`${p.goodsText}. Once finished, the lot’s plan, record and costs stand as they are.`,
})}
<form method="post" action="/lots/${p.lotId}/outcome" class="stack">${formNotice(
  p.form,
)}<input type="hidden" name="clientId" value="${p.clientId}">
  <fieldset class="panel"><legend>Outcome${p.pieces !== null && html` of ${p.pieces} pieces`}</legend><div class="grid">
    ${field({
      name: 'firstQuality',
      label: 'First quality',
      form: p.form,
      inputmode: 'numeric',
      size: 'short',
      required: true,
    })}
    ${field({
      name: 'seconds',
      label: 'Seconds',
      form: p.form,
      inputmode: 'numeric',
      size: 'short',
      hint: 'Sold down for shade or mark faults.',
    })}
    ${field({ name: 'rework', label: 'To rework', form: p.form, inputmode: 'numeric', size: 'short' })}
    ${field({ name: 'scrap', label: 'Scrap', form: p.form, inputmode: 'numeric', size: 'short' })}
    ${field({
      name: 'secondsValue',
      label: 'What the seconds will bring',
      form: p.form,
      unit: p.currency,
      inputmode: 'decimal',
      size: 'short',
    })}
  </div>
  ${textArea({ name: 'note', label: 'How it came out', form: p.form })}
  ${textArea({ name: 'doDifferently', label: 'What to do differently next time', form: p.form })}
  </fieldset>
  <fieldset class="panel"><legend>Hands</legend><p class="fine">Time that somebody worked on it, not the time it lay.
    Planned times are filled in: put what it was.</p>
  <div class="labour-rows">${p.steps.map(
    (s, i) =>
      html`<div class="labour-row"><input type="hidden" name="stepId.${i}" value="${s.stepId}">${field({
        name: `time.${i}`,
        label: s.name,
        form: p.form,
        placeholder: '20 min',
      })}${selectField({ name: `personId.${i}`, label: `Who, ${s.name}`, form: p.form, options: p.people })}</div>`,
  )}
  <div class="labour-row"><input type="hidden" name="stepId.${p.steps.length}" value="">${field({
    name: `time.${p.steps.length}`,
    label: 'Anything else',
    form: p.form,
    placeholder: '15 min',
  })}${selectField({
    name: `personId.${p.steps.length}`,
    label: 'Who, anything else',
    form: p.form,
    options: p.people,
  })}</div></div></fieldset>
  ${
    p.unweighed.length > 0 &&
    html`<div class="notice warn">${checkbox({
      name: 'unweighedConfirmed',
      label: html`There is no reading of ${p.unweighed.join(
        ', ',
      )}. Finish without: the cost will lack it, and stock will not have moved.`,
      form: p.form,
    })}</div>`
  }
  <button class="primary big">Finish the lot</button>
</form>
<details class="panel"><summary>Give the lot up instead</summary><form method="post"
  action="/lots/${p.lotId}/abandonment" class="stack"><input type="hidden" name="clientId" value="${p.clientId}-up">
  ${field({ name: 'reason', label: 'Why', form: p.form, required: true })}<button>Give it up</button></form></details>`;
