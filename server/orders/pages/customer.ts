import { customerPage } from '../../../views/orders/customer.ts';
import { archivingPages } from '../../http/archiving.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { allows } from '../../people/guards.ts';
import { showOf } from '../../settings/show.ts';
import { today } from '../../settings/today.ts';
import { idParams } from '../../typedFields.ts';
import { setCustomerArchived, theCustomer } from '../customers.ts';
import { customerResource, orderInList } from '../present.ts';
import { ordersOfCustomer } from '../queries.ts';

export const showCustomer = page({
  params: idParams,
  show: (deps, { params, request, reply }) => {
    const { db } = deps;
    const customer = theCustomer(db, params.id);
    return sendPage(request, reply, {
      title: customer.name,
      section: 'orders',
      body: customerPage({
        customer: customerResource(customer),
        orders: ordersOfCustomer(db, customer.id).map(orderInList),
        todayOn: today(deps),
        show: showOf(db),
        mayWork: allows(request.actor, 'work'),
      }),
    });
  },
});

export const { archive: archiveCustomer, restore: restoreCustomer } = archivingPages({
  at: '/customers',
  setArchived: setCustomerArchived,
});
