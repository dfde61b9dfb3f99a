import type { Customer, OrderInList } from '../../server/orders/schemas.ts';
import { type Html, html } from '../html.ts';
import { archiveButton } from '../kit/archive.ts';
import { badge, pageHead } from '../kit/pageHead.ts';
import type { Show } from '../kit/show.ts';
import { orderTable } from './list.ts';

export const customerPage = (props: {
  customer: Customer;
  orders: readonly OrderInList[];
  todayOn: string;
  show: Show;
  mayWork: boolean;
}): Html => {
  const { customer } = props;
  const at = `/customers/${customer.customerId}`;
  return html`${pageHead({
    title: customer.name,
    crumb: { href: '/customers', label: 'Customers' },
    lead: customer.contact,
    actions:
      props.mayWork &&
      html`<a class="button primary" href="/orders/new?customerId=${customer.customerId}">Take an order</a><a
        class="button" href="${at}/edit">Change</a>`,
  })}
${
  customer.archived &&
  html`<p class="notice">${badge({
    label: 'archived',
    tone: 'plain',
  })} Not in the list any more.</p>`
}
${customer.note && html`<p class="panel order-note">${customer.note}</p>`}
<h2>Orders</h2>
${
  props.orders.length === 0
    ? html`<p class="panel">Nothing ordered yet.</p>`
    : orderTable({ orders: props.orders, todayOn: props.todayOn, show: props.show, withCustomer: false })
}
${
  props.mayWork &&
  archiveButton({
    at,
    archived: customer.archived,
    put: 'Put in the archive',
    take: 'Take out of the archive',
  })
}`;
};
