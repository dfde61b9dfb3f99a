import { customersPage } from '../../../views/orders/customers.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { allows } from '../../people/guards.ts';
import { customerResource } from '../present.ts';
import { listCustomers } from '../queries.ts';

export const showCustomers = page({
  show: ({ db }, { request, reply }) =>
    sendPage(request, reply, {
      title: 'Customers',
      section: 'orders',
      body: customersPage({
        customers: listCustomers(db).map(customerResource),
        mayWork: allows(request.actor, 'work'),
      }),
    }),
});
