import { type Html, html } from '../html.ts';
import { quantity } from '../kit/containers.ts';
import { type FormState, field, formNotice, textArea } from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';
import { safety } from '../kit/safety.ts';
import { day, grams, millilitres, percent, type Show, volume } from '../kit/show.ts';
import { type Container, keeper } from './deed.ts';

/** Measures at the bench are metric, as the scale is. */
const METRIC: Show = { units: 'metric', currency: '', zone: 'UTC' };

/** What to weigh for a solution, and what to make the weighed powder up to. */
export interface SolutionAnswer {
  concPpm: number;
  volumeUl: number;
  powderMg: number;
  /** Once the powder was weighed. */
  weighed: { massMg: number; makeUpUl: number } | null;
  onHandMg: number;
  readabilityMg: number;
}

export const solutionAnswer = (answer: SolutionAnswer | null): Html =>
  html`<div id="solution-answer" class="solution-answer" aria-live="polite">${
    answer === null
      ? html`<p class="fine">Type volume and strength: the powder to weigh appears here.</p>`
      : html`<p><span class="fine">Weigh</span> <span class="big-number">${grams(
          answer.powderMg,
          answer.readabilityMg,
        )}</span> <span class="fine">of powder, make up to</span> <span class="big-number">${volume(
          METRIC,
          answer.volumeUl,
        )}</span></p>
${
  answer.weighed &&
  html`<p><b>With ${grams(answer.weighed.massMg, answer.readabilityMg)} weighed, make up to ${millilitres(
    answer.weighed.makeUpUl,
    100,
  )}</b>: exactly ${percent(
    answer.concPpm,
  )}. <span class="fine">The water follows the powder, since weighed powder does not go back into the jar.</span></p>`
}
${
  answer.powderMg > answer.onHandMg &&
  html`<p class="notice warn">The ledger shows only ${grams(
    answer.onHandMg,
    answer.readabilityMg,
  )} in this container.</p>`
}`
  }</div>`;

/** Make a stock solution from a container of powder. */
export const solutionForm = (props: {
  container: Container & { unit: 'mg' };
  form: FormState;
  answer: SolutionAnswer | null;
  safety: { hazardCodes: string; sdsUrl: string };
  proposedCode: string;
  lifeDays: number | null;
  proposedBestBeforeOn: string | null;
  show: Show;
}): Html => {
  const { container: c, form } = props;
  const at = `/stock/${c.id}/solutions`;
  return html`${pageHead({
    title: `Make a solution of ${c.code}`,
    crumb: { href: `/stock/${c.id}`, label: c.code },
    lead: html`${c.itemName}. By the ledger: <b>${quantity(props.show, c.unit, c.onHandQuantity)}</b>.`,
  })}
${safety({ ...props.safety, powder: true })}
<form method="post" action="${at}" class="stack" hx-get="${at}/new" hx-validate="false" hx-trigger="input delay:250ms"
  hx-target="#solution-answer" hx-swap="outerHTML">${formNotice(form)}${keeper(form)}
  <fieldset class="panel"><legend>What is wanted</legend><div class="grid">
    ${field({
      name: 'volume',
      label: 'Volume',
      form,
      required: true,
      placeholder: '500 mL',
      size: 'short',
      autofocus: true,
    })}
    ${field({
      name: 'conc',
      label: 'Strength, % w/v',
      form,
      required: true,
      unit: '%',
      inputmode: 'decimal',
      size: 'short',
      hint: '1 % is 10 g in a litre of finished solution.',
    })}
  </div>${solutionAnswer(
    props.answer,
  )}<noscript><p><button formaction="${at}/new" formmethod="get" formnovalidate>Work it
    out</button></p></noscript></fieldset>
  <fieldset class="panel"><legend>What was done</legend><div class="grid">
    ${field({ name: 'mass', label: 'Powder as weighed', form, required: true, placeholder: '5.02 g', size: 'short' })}
    ${field({
      name: 'madeUpTo',
      label: 'Made up to, if otherwise',
      form,
      placeholder: 'as above',
      size: 'short',
      hint: 'Leave it empty when you make it up to the volume above. Filled in, the label tells the strength that came of it.',
    })}
    ${field({ name: 'madeOn', label: 'Made on', form, type: 'date', required: true, size: 'short' })}
    ${field({
      name: 'bestBeforeOn',
      label: 'Best before',
      form,
      type: 'date',
      size: 'short',
      hint:
        props.lifeDays === null
          ? 'How long its solutions keep is not noted for this dye.'
          : html`${props.lifeDays}
        days by the dye’s page: ${day(props.proposedBestBeforeOn)} if made today.`,
    })}
    ${field({
      name: 'code',
      label: 'Label on the bottle',
      form,
      size: 'short',
      placeholder: props.proposedCode,
      hint: html`Left empty, it becomes <b>${props.proposedCode}</b>.`,
    })}
    ${textArea({ name: 'note', label: 'Note', form, rows: 2 })}
  </div></fieldset>
  <p><button class="primary big">Put the solution on the shelf</button> <a class="button quiet"
    href="/stock/${c.id}">Cancel</a></p>
</form>`;
};
