import { z } from 'zod';
import { emptyForm, type FormState } from '../../../views/kit/field.ts';
import { orderPage } from '../../../views/orders/order.ts';
import type { Deps } from '../../deps.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { allows } from '../../people/guards.ts';
import { showOf } from '../../settings/show.ts';
import { today } from '../../settings/today.ts';
import { idParams } from '../../typedFields.ts';
import { theCustomer } from '../customers.ts';
import * as mixing from '../mixing.ts';
import { theOrderLine } from '../orderLines.ts';
import { customerResource, linesShown } from '../present.ts';
import { type Move, move, movesOf } from '../statuses.ts';
import { theOrder } from '../takeOrder.ts';

function rendering(deps: Deps, orderId: number, mayWork: boolean, form: FormState): Rendering {
  const { db } = deps;
  const order = theOrder(db, orderId);
  const lines = linesShown(db, orderId);
  const prices = lines.flatMap(({ priceMinor }) => (priceMinor === null ? [] : [priceMinor]));
  return {
    title: `Order ${order.number}`,
    section: 'orders',
    body: orderPage({
      order: { ...order, orderId },
      customer: customerResource(theCustomer(db, order.customerId)),
      lines,
      priceMinor: prices.length === 0 ? null : prices.reduce((sum, price) => sum + price, 0),
      todayOn: today(deps),
      show: showOf(db),
      mayWork,
      moves: movesOf(order.status),
      form,
    }),
  };
}

export const showOrder = page({
  params: idParams,
  show: (deps, { params, request, reply }) =>
    sendPage(request, reply, rendering(deps, params.id, allows(request.actor, 'work'), emptyForm)),
});

/** One of the buttons that move an order on. */
export const moveOrder = (noun: Move) =>
  page({
    params: idParams,
    show: (deps, { params, request, reply }) =>
      submitForm(request, reply, {
        schema: z.object({ shortConfirmed: z.string().optional() }),
        save: ({ shortConfirmed }) => {
          const said = { shortConfirmed: shortConfirmed === 'yes' };
          return `/orders/${move(deps.db, params.id, noun, said).id}`;
        },
        again: (form) => rendering(deps, params.id, true, form),
      }),
  });

export const noteMixing = page({
  params: idParams,
  show: (deps, { params, request, reply }) => {
    const { order } = theOrderLine(deps.db, params.id);
    const name = `mixingNote.${params.id}`;
    return submitForm(request, reply, {
      schema: z.object({ [name]: z.string().max(1000, 'At most 1000 characters.').default('') }),
      save: (input) => {
        mixing.noteMixing(deps.db, params.id, input[name] ?? '');
        return `/orders/${order.id}`;
      },
      again: (form) => rendering(deps, order.id, true, form),
    });
  },
});
