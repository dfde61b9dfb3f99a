import { z } from 'zod';
import type { CustomerRow, OrderLineRow } from '../db/tables/orders.ts';
import type { Deps } from '../deps.ts';
import { notFound } from '../errors.ts';
import type { App } from '../http/app.ts';
import { NextPage, pagedByNumber, pageOf } from '../http/paging.ts';
import { idParams } from '../typedFields.ts';
import { noteMixing } from './mixing.ts';
import { type LineProgress, progressOfOrder } from './progress.ts';
import {
  customerById,
  insertCustomer,
  linesOfOrder,
  listCustomers,
  type OrderOverview,
  orderById,
  orderLineById,
  ordersInHand,
  ordersOfStatus,
} from './queries.ts';
import {
  CustomerBody,
  CustomerResource,
  MixingBody,
  MoveBody,
  OrderBody,
  OrderHeadBody,
  OrderLineBody,
  OrderLineResource,
  OrderListed,
  OrderResource,
  orderStatus,
} from './schemas.ts';
import { move, moveNames } from './statuses.ts';
import { addLine, archiveCustomer, removeLine, saveCustomer, saveLine, saveOrderHead, takeOrder } from './takeOrder.ts';

const PAGE = 200;

const customerResource = ({ id, archivedAt, ...row }: CustomerRow) => ({
  ...row,
  customerId: id,
  archived: archivedAt !== null,
});
const listed = ({ id, ...row }: OrderOverview) => ({ ...row, orderId: id });
const lineResource = ({ id, ...line }: OrderLineRow, progress: LineProgress | undefined) => ({
  ...line,
  orderLineId: id,
  lots: progress?.lots ?? [],
  goodPieces: progress?.goodPieces ?? 0,
});

export function api(app: App, deps: Deps): void {
  const { db } = deps;

  const customer = (customerId: number) => {
    const row = customerById(db, customerId);
    if (!row) throw notFound('customer');
    return row;
  };
  const resource = (orderId: number) => {
    const order = orderById(db, orderId);
    if (!order) throw notFound('order');
    const progress = progressOfOrder(db, orderId);
    const { id, ...row } = order;
    return {
      ...row,
      orderId: id,
      customerName: customer(order.customerId).name,
      lines: linesOfOrder(db, orderId).map(({ line }) => lineResource(line, progress.get(line.id))),
    };
  };
  const lineWithProgress = (orderLineId: number) => {
    const found = orderLineById(db, orderLineId);
    if (!found) throw notFound('order line');
    return lineResource(found.line, progressOfOrder(db, found.order.id).get(orderLineId));
  };

  // ───────────── customers ─────────────
  const ofCustomers = ['Customers'];
  app.get(
    '/customers',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'listCustomers',
        tags: ofCustomers,
        summary: 'Every customer who is not archived',
        response: { 200: z.object({ customers: z.array(CustomerResource) }) },
      },
    },
    async () => ({ customers: listCustomers(db).map(customerResource) }),
  );
  app.get(
    '/customers/:id',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getCustomer',
        tags: ofCustomers,
        summary: 'One customer',
        params: idParams,
        response: { 200: CustomerResource },
      },
    },
    async (request) => customerResource(customer(request.params.id)),
  );
  app.post(
    '/customers',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'addCustomer',
        tags: ofCustomers,
        summary: 'Add a customer',
        body: CustomerBody,
        response: { 201: CustomerResource },
      },
    },
    async (request, reply) => {
      reply.code(201);
      return customerResource(insertCustomer(db, request.body));
    },
  );
  app.put(
    '/customers/:id',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'saveCustomer',
        tags: ofCustomers,
        summary: 'Save a customer against the version that was read',
        params: idParams,
        body: CustomerBody.extend({ version: z.number().int() }).meta({ id: 'ChangedCustomer' }),
        response: { 200: CustomerResource },
      },
    },
    async (request) => {
      const { version, ...input } = request.body;
      return customerResource(saveCustomer(db, request.params.id, input, version));
    },
  );
  for (const [noun, archived] of [
    ['archiving', true],
    ['restoring', false],
  ] as const) {
    app.post(
      `/customers/:id/${noun}`,
      {
        config: { may: 'work' },
        schema: {
          operationId: archived ? 'archiveCustomer' : 'restoreCustomer',
          tags: ofCustomers,
          summary: archived ? 'Put a customer in the archive' : 'Take a customer out of the archive',
          params: idParams,
          response: { 200: CustomerResource },
        },
      },
      async (request) => customerResource(archiveCustomer(db, request.params.id, archived ? deps.now() : null)),
    );
  }

  // ───────────── orders ─────────────
  const tags = ['Orders'];
  app.get(
    '/orders',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'listOrders',
        tags,
        summary: 'Orders in hand, the most urgent first; with a status, those of it, newest first',
        querystring: z.object({
          status: orderStatus.optional(),
          ...pagedByNumber(PAGE),
        }),
        response: { 200: z.object({ orders: z.array(OrderListed), next: NextPage }) },
      },
    },
    async (request) => {
      const { status, after, limit } = request.query;
      if (status === undefined) return { orders: ordersInHand(db).map(listed), next: null };
      const { shown, next } = pageOf(ordersOfStatus(db, status, after ?? null, limit + 1), limit, (row) => row.id);
      return { orders: shown.map(listed), next };
    },
  );
  app.get(
    '/orders/:id',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getOrder',
        tags,
        summary: 'One order with its lines and the lots that serve them',
        params: idParams,
        response: { 200: OrderResource },
      },
    },
    async (request) => resource(request.params.id),
  );
  app.post(
    '/orders',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'addOrder',
        tags,
        summary: 'Take an order with its lines',
        body: OrderBody,
        response: { 201: OrderResource },
      },
    },
    async (request, reply) => {
      const order = takeOrder(db, request.body);
      reply.code(201);
      return resource(order.id);
    },
  );
  app.put(
    '/orders/:id',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'saveOrder',
        tags,
        summary: 'Save number, customer, days and note against the version that was read',
        params: idParams,
        body: OrderHeadBody,
        response: { 200: OrderResource },
      },
    },
    async (request) => {
      const { version, ...input } = request.body;
      return resource(saveOrderHead(db, request.params.id, input, version).id);
    },
  );
  const moveWords = {
    work: ['startOrder', 'Take an order in work'],
    readiness: ['markOrderReady', 'Say that an order is ready'],
    delivery: ['deliverOrder', 'Say that an order has been delivered'],
    cancellation: ['cancelOrder', 'Cancel an order'],
    reopening: ['reopenOrder', 'Open an order again'],
  } as const;
  for (const noun of moveNames) {
    const [operationId, summary] = moveWords[noun];
    app.post(
      `/orders/:id/${noun}`,
      {
        config: { may: 'work' },
        schema: {
          operationId,
          tags,
          summary,
          params: idParams,
          body: MoveBody,
          response: { 200: OrderResource },
        },
      },
      async (request) => resource(move(db, request.params.id, noun, request.body ?? {}).id),
    );
  }

  app.post(
    '/orders/:id/lines',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'addOrderLine',
        tags,
        summary: 'Add a line to an order',
        params: idParams,
        body: OrderLineBody,
        response: { 201: OrderLineResource },
      },
    },
    async (request, reply) => {
      const line = addLine(db, request.params.id, request.body);
      reply.code(201);
      return lineWithProgress(line.id);
    },
  );
  app.get(
    '/order-lines/:id',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getOrderLine',
        tags,
        summary: 'One order line',
        params: idParams,
        response: { 200: OrderLineResource },
      },
    },
    async (request) => lineWithProgress(request.params.id),
  );
  app.put(
    '/order-lines/:id',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'saveOrderLine',
        tags,
        summary: 'Save a line against the version of its order that was read',
        params: idParams,
        body: OrderLineBody.extend({ version: z.number().int() }).meta({ id: 'ChangedOrderLine' }),
        response: { 200: OrderLineResource },
      },
    },
    async (request) => {
      const { version, ...input } = request.body;
      return lineWithProgress(saveLine(db, request.params.id, input, version).id);
    },
  );
  app.post(
    '/order-lines/:id/mixing',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'noteMixing',
        tags,
        summary: 'Note how goods of several lots go together on a line',
        params: idParams,
        body: MixingBody,
        response: { 200: OrderLineResource },
      },
    },
    async (request) => lineWithProgress(noteMixing(db, request.params.id, request.body.note).id),
  );
  app.post(
    '/order-lines/:id/removal',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'removeOrderLine',
        tags,
        summary: 'Take a line out of its order, while no lot serves it',
        params: idParams,
        response: { 200: OrderResource },
      },
    },
    async (request) => resource(removeLine(db, request.params.id).id),
  );
}
