import { type Html, html } from '../html.ts';
import { type FormState, field, formNotice, type Typed, textArea } from '../kit/field.ts';
import { otherVersion } from '../kit/otherVersion.ts';
import { badge, emptyState, pageHead } from '../kit/pageHead.ts';
import { day, type Show } from '../kit/show.ts';
import { type OrderItem, orderTable } from './list.ts';

export const customersPage = (props: {
  customers: readonly {
    id: number;
    name: string;
    contact: string;
    openOrders: number;
    orderCount: number;
    lastOrderedOn: string | null;
  }[];
  mayWork: boolean;
}): Html => html`${pageHead({
  title: 'Customers',
  crumb: { href: '/orders', label: 'Orders' },
  actions: props.mayWork && html`<a class="button primary" href="/customers/new">Add a customer</a>`,
})}
${
  props.customers.length === 0
    ? emptyState({
        title: 'No customers yet',
        words: 'Guilds, shops, cafés, yourself: whoever goods are dyed for. One is added with the first order, too.',
        ...(props.mayWork ? { action: { href: '/customers/new', label: 'Add a customer' } } : {}),
      })
    : html`<div class="panel table-wrap"><table class="plain"><thead><tr><th scope="col">Customer</th><th scope="col" class="num">In hand</th><th scope="col" class="num">Orders</th><th scope="col" class="num">Last</th></tr></thead><tbody>${props.customers.map(
        (c) =>
          html`<tr><td><a href="/customers/${c.id}"><b>${c.name}</b></a>${c.contact && html`<br><span class="fine">${c.contact}</span>`}</td><td class="num">${c.openOrders === 0 ? '—' : c.openOrders}</td><td class="num">${c.orderCount}</td><td class="num">${day(c.lastOrderedOn)}</td></tr>`,
      )}</tbody></table></div>`
}`;

export const customerPage = (props: {
  customer: { id: number; name: string; contact: string; note: string; archivedAt: number | null };
  orders: readonly OrderItem[];
  todayOn: string;
  show: Show;
  mayWork: boolean;
}): Html => {
  const { customer } = props;
  return html`${pageHead({
    title: customer.name,
    crumb: { href: '/customers', label: 'Customers' },
    lead: customer.contact,
    actions:
      props.mayWork &&
      html`<a class="button primary" href="/orders/new?customerId=${customer.id}">Take an order</a><a class="button" href="/customers/${customer.id}/edit">Change</a>`,
  })}
${customer.archivedAt !== null && html`<p class="notice">${badge({ label: 'archived', tone: 'plain' })} Not in the list any more.</p>`}
${customer.note && html`<p class="panel order-note">${customer.note}</p>`}
<h2>Orders</h2>
${
  props.orders.length === 0
    ? html`<p class="panel">Nothing ordered yet.</p>`
    : orderTable({ orders: props.orders, todayOn: props.todayOn, show: props.show, withCustomer: false })
}
${
  props.mayWork &&
  html`<form method="post" action="/customers/${customer.id}/${customer.archivedAt === null ? 'archiving' : 'restoring'}"><button class="quiet">${customer.archivedAt === null ? 'Put in the archive' : 'Take out of the archive'}</button></form>`
}`;
};

export const customerForm = (props: {
  form: FormState;
  customerId: number | null;
  name: string | null;
  current: Typed | null;
}): Html => {
  const { form, customerId } = props;
  return html`${pageHead({
    title: props.name ?? 'New customer',
    crumb:
      customerId === null
        ? { href: '/customers', label: 'Customers' }
        : { href: `/customers/${customerId}`, label: props.name ?? '' },
  })}
${props.current && otherVersion({ typed: form.typed, current: props.current, labels: { name: 'Name', contact: 'Contact', note: 'Note' } })}
<form method="post" action="${customerId === null ? '/customers' : `/customers/${customerId}`}" class="panel stack">${formNotice(form)}
  <input type="hidden" name="version" value="${props.current?.['version'] ?? ''}">
  ${field({ name: 'name', label: 'Name', form, required: true, autofocus: customerId === null })}
  ${field({ name: 'contact', label: 'Contact', form, hint: 'As you would write it on the parcel or dial it.' })}
  ${textArea({ name: 'note', label: 'Note', form })}
  <p class="actions"><button class="primary">Save</button></p></form>`;
};
