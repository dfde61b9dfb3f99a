import { type Html, html, type Value } from '../html.ts';
import { quantity } from '../kit/containers.ts';
import { choice, type FormState, field, formNotice, type Option, selectField, textArea } from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';
import { safety } from '../kit/safety.ts';
import { day, grams, millilitres, percent, type Show, volume } from '../kit/show.ts';

interface Container {
  id: number;
  code: string;
  itemName: string;
  unit: 'mg' | 'ul';
  onHandQuantity: number;
}

const keeper = (form: FormState): Html =>
  html`<input type="hidden" name="clientId" value="${form.typed['clientId'] ?? ''}">`;

/** Receive a container. */
export const receiptForm = (props: {
  form: FormState;
  items: readonly Option[];
  currency: string;
  proposedCode: string | null;
}): Html => {
  const { form } = props;
  return html`${pageHead({
    title: 'Receive a container',
    crumb: { href: '/stock', label: 'Stock' },
    lead: 'Price, freight and quantity stand once saved: a later price belongs to a later container.',
  })}
<form method="post" action="/stock" class="stack">${formNotice(form)}${keeper(form)}
  <fieldset class="panel"><legend>What came</legend><div class="grid">
    ${selectField({ name: 'item', label: 'Holds', form, options: props.items, required: true, none: 'Choose a dye, an auxiliary or goods' })}
    ${field({ name: 'quantity', label: 'Quantity', form, required: true, placeholder: '250 g', size: 'short', hint: 'A mass; of a liquid a volume. Net, as on the label or weighed.' })}
    ${field({ name: 'price', label: 'Price paid', form, required: true, unit: props.currency, inputmode: 'decimal', size: 'short' })}
    ${field({ name: 'freight', label: 'Its share of the freight', form, unit: props.currency, inputmode: 'decimal', size: 'short' })}
    ${field({ name: 'code', label: 'Label on the container', form, size: 'short', ...(props.proposedCode ? { placeholder: props.proposedCode } : {}), hint: props.proposedCode ? html`Left empty, it becomes <b>${props.proposedCode}</b>.` : 'Left empty, it is made from the code of what it holds.' })}
  </div></fieldset>
  <fieldset class="panel"><legend>From whom, and how long it keeps</legend><div class="grid">
    ${field({ name: 'supplier', label: 'Supplier', form })}
    ${field({ name: 'makerLot', label: 'Maker’s lot number', form, hint: 'A recall is found by it.' })}
    ${field({ name: 'strength', label: 'Strength', form, required: true, unit: '%', inputmode: 'decimal', size: 'short', hint: 'Against your usual powder. 110 when it takes a tenth less of it.' })}
    ${field({ name: 'receivedOn', label: 'Received on', form, type: 'date', required: true, size: 'short' })}
    ${field({ name: 'openedOn', label: 'Opened on', form, type: 'date', size: 'short' })}
    ${field({ name: 'bestBeforeOn', label: 'Best before', form, type: 'date', size: 'short', hint: 'From the label. Fibre-reactive powder is commonly given a year, and keeps longer dry and cool.' })}
    ${textArea({ name: 'note', label: 'Note', form, rows: 2 })}
  </div></fieldset>
  <p><button class="primary">Put it on the shelf</button> <a class="button quiet" href="/stock">Cancel</a></p>
</form>`;
};

/** Correct what is known of a container. */
export const containerForm = (props: { form: FormState; container: Container; isSolution: boolean }): Html => {
  const { form, container: c } = props;
  return html`${pageHead({ title: `Edit ${c.code}`, crumb: { href: `/stock/${c.id}`, label: c.code }, lead: c.itemName })}
<form method="post" action="/stock/${c.id}" class="stack">${formNotice(form)}<input type="hidden" name="version" value="${form.typed['version'] ?? ''}">
  <fieldset class="panel"><legend>The container</legend><div class="grid">
    ${field({ name: 'supplier', label: 'Supplier', form })}
    ${field({ name: 'makerLot', label: 'Maker’s lot number', form })}
    ${field({ name: 'strength', label: props.isSolution ? 'Strength of the powder in it' : 'Strength', form, required: true, unit: '%', inputmode: 'decimal', size: 'short', hint: 'Lots that were weighed already keep what they were weighed by.' })}
    ${field({ name: 'openedOn', label: 'Opened on', form, type: 'date', size: 'short' })}
    ${field({ name: 'bestBeforeOn', label: 'Best before', form, type: 'date', size: 'short' })}
    ${textArea({ name: 'note', label: 'Note', form, rows: 3 })}
  </div></fieldset>
  <p class="fine">Quantity and price belong to the receipt and stand. A wrong count is put right by a stock-take.</p>
  <p><button class="primary">Save</button> <a class="button quiet" href="/stock/${c.id}">Cancel</a></p>
</form>`;
};

const deedPage = (props: {
  container: Container;
  title: string;
  lead: Value;
  action: string;
  form: FormState;
  fields: Value;
  button: string;
  show: Show;
}): Html => {
  const { container: c } = props;
  return html`${pageHead({ title: props.title, crumb: { href: `/stock/${c.id}`, label: c.code }, lead: html`${c.itemName}. By the ledger: <b>${quantity(props.show, c.unit, c.onHandQuantity)}</b>.` })}
<form method="post" action="/stock/${c.id}/${props.action}" class="stack deed">${formNotice(props.form)}${keeper(props.form)}
  <div class="panel stack"><p>${props.lead}</p>${props.fields}</div>
  <p><button class="primary big">${props.button}</button> <a class="button quiet" href="/stock/${c.id}">Cancel</a></p></form>`;
};

const example = (c: Container): string => (c.unit === 'mg' ? '182 g' : '350 mL');

export const stockTakeForm = (props: { container: Container; form: FormState; show: Show }): Html =>
  deedPage({
    ...props,
    title: `Count ${props.container.code}`,
    lead: 'Weigh the container, take off its tare, and type what is really there. The difference becomes an entry; nothing is overwritten.',
    action: 'stock-takes',
    button: 'Record the count',
    fields: html`${field({ name: 'counted', label: 'What is there', form: props.form, required: true, autofocus: true, inputmode: 'text', placeholder: example(props.container), size: 'short', hint: '0 when there is nothing.' })}
    ${field({ name: 'reason', label: 'Why', form: props.form, required: true })}`,
  });

export const wasteForm = (props: { container: Container; form: FormState; show: Show }): Html =>
  deedPage({
    ...props,
    title: `Write off from ${props.container.code}`,
    lead: 'What was lost without dyeing anything: spilt, spoilt, past its life.',
    action: 'wastes',
    button: 'Write it off',
    fields: html`${field({ name: 'quantity', label: 'How much', form: props.form, required: true, autofocus: true, placeholder: example(props.container), size: 'short' })}
    ${field({ name: 'reason', label: 'Why', form: props.form, required: true, placeholder: 'spilt' })}`,
  });

export const moneyForm = (props: { container: Container; form: FormState; show: Show }): Html =>
  deedPage({
    ...props,
    title: `Late money on ${props.container.code}`,
    lead: 'What came after the receipt: freight or a bill that was late, a credit note, a price reduced afterwards. It counts for what is still in stock; lots that were closed before keep their cost, and their part of it shows as a price difference of that day.',
    action: 'money',
    button: 'Write it down',
    fields: html`${choice({
      name: 'kind',
      label: 'It is',
      form: props.form,
      options: [
        { value: 'freight', label: 'Freight or duty' },
        { value: 'bill', label: 'Another bill' },
        { value: 'credit', label: 'A credit: money back' },
      ],
    })}${field({ name: 'amount', label: `Amount (${props.show.currency})`, form: props.form, required: true, size: 'short', hint: 'Always more than nothing; what was written wrongly is set right by its opposite.' })}
    ${field({ name: 'on', label: 'Day of the bill or the credit note', form: props.form, type: 'date', size: 'short' })}
    ${field({ name: 'reason', label: 'What for', form: props.form, required: true, placeholder: 'credit note 118, two bags were damp' })}`,
  });

export const closingForm = (props: { container: Container; form: FormState; show: Show }): Html =>
  deedPage({
    ...props,
    title: `Close ${props.container.code}`,
    lead: 'A closed container is offered to no plan. Its ledger stays, and ends at nothing. It can be opened again.',
    action: 'closing',
    button: 'Close the container',
    fields: html`${choice({
      name: 'how',
      label: 'It is',
      form: props.form,
      options: [
        { value: 'empty', label: 'Empty' },
        { value: 'discarded', label: 'Thrown away' },
      ],
      hint: 'Empty: what the ledger still shows is a stock-take’s difference. Thrown away: it is written off as waste.',
    })}${field({ name: 'reason', label: 'Why', form: props.form, hint: 'Needed when something is thrown away. Waste dye goes by your local rule.' })}`,
  });

export const recallForm = (props: { container: Container; form: FormState; show: Show }): Html =>
  deedPage({
    ...props,
    title: `Recall ${props.container.code}`,
    lead: 'Something is wrong with it: wrong shade, wrong strength, a maker’s notice. It and the solutions made from it are offered to no plan from now on, and you get the list of every lot, swatch, order and customer that it touched.',
    action: 'recall',
    button: 'Recall it',
    fields: field({ name: 'reason', label: 'Why', form: props.form, required: true, autofocus: true }),
  });

export const reopeningForm = (props: { container: Container; form: FormState; show: Show }): Html =>
  deedPage({
    ...props,
    title: `Open ${props.container.code} again`,
    lead: 'It was closed in error, or there is some left after all. Weigh it: what is in it becomes an entry of today, and what closing it wrote off as thrown away is taken back.',
    action: 'reopening',
    button: 'Open it again',
    fields: html`${field({ name: 'counted', label: 'What is in it', form: props.form, required: true, autofocus: true, inputmode: 'text', size: 'short', ...(props.form.typed['counted'] ? { hint: 'Filled in is what closing took out of the ledger.' } : { placeholder: example(props.container) }) })}
    ${field({ name: 'reason', label: 'Why', form: props.form, required: true, placeholder: 'closed the wrong jar' })}`,
  });

export const liftingForm = (props: { container: Container; form: FormState; show: Show }): Html =>
  deedPage({
    ...props,
    title: `Lift the recall of ${props.container.code}`,
    lead: 'It and the solutions that were recalled with it are offered to plans again. The recall and its lifting stay on their pages.',
    action: 'recall-lifting',
    button: 'Lift the recall',
    fields: field({ name: 'reason', label: 'Why', form: props.form, required: true, autofocus: true }),
  });

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
      : html`<p><span class="fine">Weigh</span> <span class="big-number">${grams(answer.powderMg, answer.readabilityMg)}</span> <span class="fine">of powder, make up to</span> <span class="big-number">${volume(METRIC, answer.volumeUl)}</span></p>
${answer.weighed && html`<p><b>With ${grams(answer.weighed.massMg, answer.readabilityMg)} weighed, make up to ${millilitres(answer.weighed.makeUpUl, 100)}</b>: exactly ${percent(answer.concPpm)}. <span class="fine">The water follows the powder, since weighed powder does not go back into the jar.</span></p>`}
${answer.powderMg > answer.onHandMg && html`<p class="notice warn">The ledger shows only ${grams(answer.onHandMg, answer.readabilityMg)} in this container.</p>`}`
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
<form method="post" action="${at}" class="stack" hx-get="${at}/new" hx-validate="false" hx-trigger="input delay:250ms" hx-target="#solution-answer" hx-swap="outerHTML">${formNotice(form)}${keeper(form)}
  <fieldset class="panel"><legend>What is wanted</legend><div class="grid">
    ${field({ name: 'volume', label: 'Volume', form, required: true, placeholder: '500 mL', size: 'short', autofocus: true })}
    ${field({ name: 'conc', label: 'Strength, % w/v', form, required: true, unit: '%', inputmode: 'decimal', size: 'short', hint: '1 % is 10 g in a litre of finished solution.' })}
  </div>${solutionAnswer(props.answer)}<noscript><p><button formaction="${at}/new" formmethod="get" formnovalidate>Work it out</button></p></noscript></fieldset>
  <fieldset class="panel"><legend>What was done</legend><div class="grid">
    ${field({ name: 'mass', label: 'Powder as weighed', form, required: true, placeholder: '5.02 g', size: 'short' })}
    ${field({ name: 'madeUpTo', label: 'Made up to, if otherwise', form, placeholder: 'as above', size: 'short', hint: 'Leave it empty when you make it up to the volume above. Filled in, the label tells the strength that came of it.' })}
    ${field({ name: 'madeOn', label: 'Made on', form, type: 'date', required: true, size: 'short' })}
    ${field({ name: 'bestBeforeOn', label: 'Best before', form, type: 'date', size: 'short', hint: props.lifeDays === null ? 'How long its solutions keep is not noted for this dye.' : html`${props.lifeDays} days by the dye’s page: ${day(props.proposedBestBeforeOn)} if made today.` })}
    ${field({ name: 'code', label: 'Label on the bottle', form, size: 'short', placeholder: props.proposedCode, hint: html`Left empty, it becomes <b>${props.proposedCode}</b>.` })}
    ${textArea({ name: 'note', label: 'Note', form, rows: 2 })}
  </div></fieldset>
  <p><button class="primary big">Put the solution on the shelf</button> <a class="button quiet" href="/stock/${c.id}">Cancel</a></p>
</form>`;
};
