import type { FormState, Typed } from '../../../views/kit/field.ts';
import { orderHeadForm } from '../../../views/orders/head.ts';
import type { Db } from '../../db/open.ts';
import type { OrderRow } from '../../db/tables/orders.ts';
import { submitForm, versionTyped } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { idParams } from '../../typedFields.ts';
import { customerById, customerChoices } from '../queries.ts';
import { OrderHeadForm } from '../schemas.ts';
import { saveOrderHead, theOrder } from '../takeOrder.ts';

const typedOf = (order: OrderRow): Typed => ({
  number: order.number,
  customerId: String(order.customerId),
  orderedOn: order.orderedOn,
  dueOn: order.dueOn ?? '',
  note: order.note,
  version: String(order.version),
});

function headPage(db: Db, form: FormState, order: OrderRow): Rendering {
  const customers = customerChoices(db);
  const own = customerById(db, order.customerId);
  return {
    title: `Order ${order.number}`,
    section: 'orders',
    body: orderHeadForm({
      form,
      orderId: order.id,
      number: order.number,
      customers: own && own.archivedAt !== null ? [...customers, own] : customers,
      current: typedOf(order),
    }),
  };
}

export const editHead = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const order = theOrder(db, params.id);
    return sendPage(request, reply, headPage(db, { typed: typedOf(order), errors: {} }, order));
  },
});

export const saveHead = page({
  params: idParams,
  show: ({ db }, { params: { id }, request, reply }) => {
    theOrder(db, id);
    return submitForm(request, reply, {
      schema: OrderHeadForm,
      shape: versionTyped,
      save: ({ version, ...input }) => `/orders/${saveOrderHead(db, id, input, version ?? 0).id}`,
      again: (form) => headPage(db, form, theOrder(db, id)),
    });
  },
});
