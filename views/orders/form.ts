import { type Html, html } from '../html.ts';
import { type FormState, fieldError, formNotice } from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';
import { rowsOf } from '../kit/rows.ts';
import { headFields } from './head.ts';
import { type LineChoices, lineFields, suggestions } from './line.ts';

/** Takes an order with its lines. */
export const newOrderForm = (props: {
  form: FormState;
  customers: readonly { id: number; name: string }[];
  choices: LineChoices;
}): Html => {
  const { form, choices } = props;
  return html`${pageHead({ title: 'Take an order', crumb: { href: '/orders', label: 'Orders' } })}
<form method="post" action="/orders" class="stack">${formNotice(form)}
  <fieldset class="panel"><legend>Who and when</legend>${headFields(form, props.customers, true)}</fieldset>
  <fieldset class="panel"><legend>What is wanted</legend>${fieldError('lines', form)}
    <p class="hint">A shade can be named by a swatch, a recipe, words, or all three: “like SW-031, a shade deeper”.</p>
    <ol class="rows" id="line-rows" data-rows>${rowsOf(form.typed, 'description', 1).map(
      (row) => html`<li class="row-card">${lineFields(form, choices, row)}</li>`,
    )}</ol><button type="button" data-add-row="line-rows">Another line</button></fieldset>
  ${suggestions(choices)}
  <p class="actions"><button class="primary big">Take the order</button></p></form>`;
};
