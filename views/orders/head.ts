import { type Html, html } from '../html.ts';
import { type FormState, field, formNotice, selectField, type Typed, textArea } from '../kit/field.ts';
import { otherVersion } from '../kit/otherVersion.ts';
import { pageHead } from '../kit/pageHead.ts';

const LABELS = {
  number: 'Order number',
  customerId: 'Customer',
  orderedOn: 'Ordered',
  dueOn: 'Due',
  note: 'Note',
} as const;

export const headFields = (form: FormState, customers: readonly { id: number; name: string }[], isNew: boolean): Html =>
  html`<div class="grid">
  ${selectField({
    name: 'customerId',
    label: LABELS.customerId,
    form,
    none: isNew ? 'a new one, named beside' : '—',
    options: customers.map((c) => ({ value: String(c.id), label: c.name })),
  })}
  ${isNew && field({ name: 'newCustomer', label: 'New customer', form, placeholder: 'only if not in the list' })}
  ${field({ name: 'number', label: LABELS.number, form, required: true, size: 'short' })}
  ${field({ name: 'orderedOn', label: LABELS.orderedOn, form, type: 'date', required: true, size: 'short' })}
  ${field({ name: 'dueOn', label: LABELS.dueOn, form, type: 'date', size: 'short' })}
  ${textArea({ name: 'note', label: LABELS.note, form, rows: 2 })}</div>`;

export const orderHeadForm = (props: {
  form: FormState;
  orderId: number;
  number: string;
  customers: readonly { id: number; name: string }[];
  current: Typed;
}): Html =>
  html`${pageHead({
    title: html`Order ${props.number}: who and when`,
    crumb: { href: `/orders/${props.orderId}`, label: `Order ${props.number}` },
  })}
${otherVersion({ typed: props.form.typed, current: props.current, labels: LABELS })}
<form method="post" action="/orders/${props.orderId}" class="stack">${formNotice(props.form)}
  <input type="hidden" name="version" value="${props.current['version'] ?? ''}">
  <fieldset class="panel"><legend>Who and when</legend>${headFields(props.form, props.customers, false)}</fieldset>
  <p class="actions"><button class="primary">Save</button></p></form>`;
