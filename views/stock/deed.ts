import type { StockLot } from '../../server/stock/schemas.ts';
import { type Html, html, type Value } from '../html.ts';
import { quantity } from '../kit/containers.ts';
import { type FormState, formNotice } from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';
import type { Show } from '../kit/show.ts';

export type Container = Pick<StockLot, 'code' | 'itemName' | 'unit' | 'onHandQuantity'> & { id: number };

/** Makes a second press of the button the same request. */
export const keeper = (form: FormState): Html =>
  html`<input type="hidden" name="clientId" value="${form.typed['clientId'] ?? ''}">`;

/** What is done with a container: one form, with what the ledger says of it above. */
export const deedPage = (props: {
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
  return html`${pageHead({
    title: props.title,
    crumb: { href: `/stock/${c.id}`, label: c.code },
    lead: html`${c.itemName}. By the ledger: <b>${quantity(props.show, c.unit, c.onHandQuantity)}</b>.`,
  })}
<form method="post" action="/stock/${c.id}/${props.action}" class="stack deed">${formNotice(props.form)}${keeper(
    props.form,
  )}
  <div class="panel stack"><p>${props.lead}</p>${props.fields}</div>
  <p><button class="primary big">${props.button}</button> <a class="button quiet"
    href="/stock/${c.id}">Cancel</a></p></form>`;
};

export const example = (c: Container): string => (c.unit === 'mg' ? '182 g' : '350 mL');
