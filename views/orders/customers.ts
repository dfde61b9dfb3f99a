import type { CustomerInList } from '../../server/orders/schemas.ts';
import { type Html, html } from '../html.ts';
import { emptyState, pageHead } from '../kit/pageHead.ts';
import { day } from '../kit/show.ts';

const row = (c: CustomerInList): Html =>
  html`<tr><td><a href="/customers/${c.customerId}"><b>${c.name}</b></a>${
    c.contact && html`<br><span class="fine">${c.contact}</span>`
  }</td><td class="num">${c.openOrders === 0 ? '—' : c.openOrders}</td><td class="num">${c.orderCount}</td>
  <td class="num">${day(c.lastOrderedOn)}</td></tr>`;

export const customersPage = (props: {
  customers: readonly CustomerInList[];
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
    : html`<div class="panel table-wrap"><table class="plain"><thead><tr><th scope="col">Customer</th>
<th scope="col" class="num">In hand</th><th scope="col" class="num">Orders</th><th scope="col"
  class="num">Last</th></tr>
</thead><tbody>${props.customers.map(row)}</tbody></table></div>`
}`;
