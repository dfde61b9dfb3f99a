import { z } from 'zod';
import { NextPage, pagedByNumber, pageOf } from '../../http/paging.ts';
import { operation } from '../../http/routes.ts';
import { idParams } from '../../typedFields.ts';
import { orderInList, orderResource } from '../present.ts';
import { ordersInHand, ordersOfStatus } from '../queries.ts';
import { MoveBody, OrderBody, OrderHeadBody, OrderListed, OrderResource, orderStatus } from '../schemas.ts';
import { type Move, move } from '../statuses.ts';
import { saveOrderHead, takeOrder } from '../takeOrder.ts';

const PAGE = 200;

export const listSomeOrders = operation({
  id: 'listOrders',
  summary: 'Orders in hand, the most urgent first; with a status, those of it, newest first',
  query: z.object({ status: orderStatus.optional(), ...pagedByNumber(PAGE) }),
  answer: z.object({ orders: z.array(OrderListed), next: NextPage }),
  run: ({ db }, { query: { status, after, limit } }) => {
    if (status === undefined) return { orders: ordersInHand(db).map(orderInList), next: null };
    const { shown, next } = pageOf(ordersOfStatus(db, status, after ?? null, limit + 1), limit, (row) => row.id);
    return { orders: shown.map(orderInList), next };
  },
});

export const getOrder = operation({
  id: 'getOrder',
  summary: 'One order with its lines and the lots that serve them',
  params: idParams,
  answer: OrderResource,
  run: ({ db }, { params }) => orderResource(db, params.id),
});

export const addOrder = operation({
  id: 'addOrder',
  summary: 'Take an order with its lines',
  body: OrderBody,
  answer: OrderResource,
  status: 201,
  run: ({ db }, { body }) => orderResource(db, takeOrder(db, body).id),
});

export const saveOrder = operation({
  id: 'saveOrder',
  summary: 'Save number, customer, days and note against the version that was read',
  params: idParams,
  body: OrderHeadBody,
  answer: OrderResource,
  run: ({ db }, { params, body: { version, ...input } }) =>
    orderResource(db, saveOrderHead(db, params.id, input, version).id),
});

const moving = (noun: Move, id: string, summary: string) =>
  operation({
    id,
    summary,
    params: idParams,
    body: MoveBody,
    answer: OrderResource,
    run: ({ db }, { params, body }) => orderResource(db, move(db, params.id, noun, body ?? {}).id),
  });

export const startOrder = moving('work', 'startOrder', 'Take an order in work');
export const markOrderReady = moving('readiness', 'markOrderReady', 'Say that an order is ready');
export const deliverOrder = moving('delivery', 'deliverOrder', 'Say that an order has been delivered');
export const cancelOrder = moving('cancellation', 'cancelOrder', 'Cancel an order');
export const reopenOrder = moving('reopening', 'reopenOrder', 'Open an order again');
