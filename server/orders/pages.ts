import { z } from 'zod';
import type { FormState, Typed } from '../../views/kit/field.ts';
import { mass, plainMoney } from '../../views/kit/show.ts';
import { customerForm, customerPage, customersPage } from '../../views/orders/customers.ts';
import { type LineChoices, newOrderForm, orderHeadForm, orderLineForm } from '../../views/orders/form.ts';
import { ordersPage } from '../../views/orders/list.ts';
import { orderPage } from '../../views/orders/show.ts';
import type { CustomerRow, OrderRow } from '../db/tables/orders.ts';
import type { Deps } from '../deps.ts';
import { notFound } from '../errors.ts';
import type { App } from '../http/app.ts';
import { besideRows, submitForm, typedRows } from '../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../http/page.ts';
import { allows } from '../people/guards.ts';
import { displayOfSwatches } from '../readings/queries.ts';
import { dayOf } from '../settings/days.ts';
import { theStudio } from '../settings/queries.ts';
import { showOf } from '../settings/show.ts';
import { idParams } from '../typedFields.ts';
import { mixedLines, noteMixing } from './mixing.ts';
import { progressOfOrder } from './progress.ts';
import {
  countsByStatus,
  customerById,
  customerChoices,
  fibreChoices,
  insertCustomer,
  lineIsServed,
  linesOfOrder,
  listCustomers,
  type OrderLineWithOrder,
  orderById,
  orderLineById,
  ordersInHand,
  ordersOfCustomer,
  ordersOfStatus,
  recipeSuggestions,
  swatchSuggestions,
  wordsOfWants,
} from './queries.ts';
import { CustomerForm, NewOrderForm, OrderHeadForm, OrderLineForm, orderStatus } from './schemas.ts';
import { move, moveNames, movesOf } from './statuses.ts';
import {
  addLine,
  archiveCustomer,
  lineInputsOf,
  proposedNumber,
  removeLine,
  saveCustomer,
  saveLine,
  saveOrderHead,
  takeTypedOrder,
} from './takeOrder.ts';

const PAGE = 60;
const LINE = [
  'description',
  'fibreId',
  'pieces',
  'dryMass',
  'wantedSwatch',
  'wantedRecipe',
  'wantedNote',
  'toleranceFormula',
  'toleranceLimit',
  'price',
] as const;

function found<T>(row: T | undefined, what: string): T {
  if (!row) throw notFound(what);
  return row;
}

const linesOf = (typed: Typed) => ({ lines: typedRows(typed, LINE) });
const versioned = (typed: Typed): unknown => ({ ...typed, version: typed['version'] || undefined });

export function pages(app: App, deps: Deps): void {
  const { db } = deps;
  const todayOn = (): string => dayOf(deps.now(), theStudio(db).zone);
  const choices = (): LineChoices => ({
    fibres: fibreChoices(db),
    swatches: swatchSuggestions(db),
    recipes: recipeSuggestions(db),
    currency: theStudio(db).currency,
  });

  // ───────────── customers ─────────────
  const typedCustomer = (c: CustomerRow): Typed => ({
    name: c.name,
    contact: c.contact,
    note: c.note,
    version: String(c.version),
  });
  const customerFormPage = (form: FormState, row: CustomerRow | null): Rendering => ({
    title: row?.name ?? 'New customer',
    section: 'orders',
    body: customerForm({
      form,
      customerId: row?.id ?? null,
      name: row?.name ?? null,
      current: row && typedCustomer(row),
    }),
  });

  app.get('/customers', { config: { may: 'look' } }, async (request, reply) =>
    sendPage(request, reply, {
      title: 'Customers',
      section: 'orders',
      body: customersPage({ customers: listCustomers(db), mayWork: allows(request.actor, 'work') }),
    }),
  );

  app.get('/customers/new', { config: { may: 'work' } }, async (request, reply) =>
    sendPage(request, reply, customerFormPage({ typed: {}, errors: {} }, null)),
  );

  app.post('/customers', { config: { may: 'work' } }, async (request, reply) =>
    submitForm(request, reply, {
      schema: CustomerForm,
      shape: versioned,
      save: ({ version: _version, ...input }) => `/customers/${insertCustomer(db, input).id}`,
      again: (form) => customerFormPage(form, null),
    }),
  );

  app.get('/customers/:id', { config: { may: 'look' }, schema: { params: idParams } }, async (request, reply) => {
    const customer = found(customerById(db, request.params.id), 'customer');
    return sendPage(request, reply, {
      title: customer.name,
      section: 'orders',
      body: customerPage({
        customer,
        orders: ordersOfCustomer(db, customer.id),
        todayOn: todayOn(),
        show: showOf(db),
        mayWork: allows(request.actor, 'work'),
      }),
    });
  });

  app.get('/customers/:id/edit', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const row = found(customerById(db, request.params.id), 'customer');
    return sendPage(request, reply, customerFormPage({ typed: typedCustomer(row), errors: {} }, row));
  });

  app.post('/customers/:id', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const { id } = request.params;
    found(customerById(db, id), 'customer');
    return submitForm(request, reply, {
      schema: CustomerForm,
      save: ({ version, ...input }) => `/customers/${saveCustomer(db, id, input, version ?? 0).id}`,
      shape: versioned,
      again: (form) => customerFormPage(form, found(customerById(db, id), 'customer')),
    });
  });

  for (const [noun, archived] of [
    ['archiving', true],
    ['restoring', false],
  ] as const) {
    app.post(
      `/customers/:id/${noun}`,
      { config: { may: 'work' }, schema: { params: idParams } },
      async (request, reply) => {
        archiveCustomer(db, request.params.id, archived ? deps.now() : null);
        return seeOther(reply, `/customers/${request.params.id}`);
      },
    );
  }

  // ───────────── orders ─────────────
  app.get(
    '/orders',
    {
      config: { may: 'look' },
      schema: {
        querystring: z.object({
          status: orderStatus.nullable().catch(null).default(null),
          before: z.coerce.number().int().positive().nullable().catch(null).default(null),
        }),
      },
    },
    async (request, reply) => {
      const { status, before } = request.query;
      const rows = status === null ? ordersInHand(db) : ordersOfStatus(db, status, before, PAGE + 1);
      const shown = status === null ? rows : rows.slice(0, PAGE);
      return sendPage(request, reply, {
        title: 'Orders',
        section: 'orders',
        body: ordersPage({
          view: status ?? 'hand',
          orders: shown,
          counts: countsByStatus(db),
          todayOn: todayOn(),
          show: showOf(db),
          nextHref: rows.length > shown.length ? `/orders?status=${status}&before=${shown.at(-1)?.id}` : null,
          firstHref: before === null ? null : `/orders?status=${status}`,
          mayWork: allows(request.actor, 'work'),
        }),
      });
    },
  );

  const newOrderPage = (form: FormState): Rendering => ({
    title: 'Take an order',
    section: 'orders',
    scripts: ['rows.js'],
    body: newOrderForm({
      form: { typed: form.typed, errors: besideRows(form.errors, linesOf(form.typed)) },
      customers: customerChoices(db),
      choices: choices(),
    }),
  });

  app.get(
    '/orders/new',
    {
      config: { may: 'work' },
      schema: {
        querystring: z.object({
          customerId: z.string().max(15).catch('').default(''),
          swatch: z.string().max(60).catch('').default(''),
          recipe: z.string().max(120).catch('').default(''),
        }),
      },
    },
    async (request, reply) => {
      const { customerId, swatch, recipe } = request.query;
      const orderedOn = todayOn();
      const typed = {
        customerId,
        number: proposedNumber(db, orderedOn),
        orderedOn,
        'wantedSwatch.0': swatch,
        'wantedRecipe.0': recipe,
      };
      return sendPage(request, reply, newOrderPage({ typed, errors: {} }));
    },
  );

  app.post('/orders', { config: { may: 'work' } }, async (request, reply) =>
    submitForm(request, reply, {
      schema: NewOrderForm(theStudio(db).currency),
      shape: (typed) => ({ ...typed, version: undefined, ...linesOf(typed) }),
      save: (form) => `/orders/${takeTypedOrder(db, form).id}`,
      again: newOrderPage,
    }),
  );

  const orderRendering = (orderId: number, mayWork: boolean, form: FormState): Rendering => {
    const order = found(orderById(db, orderId), 'order');
    const lines = linesOfOrder(db, order.id);
    const progress = progressOfOrder(db, order.id);
    const mixed = new Map(mixedLines(db, order.id).map((m) => [m.orderLineId, m.lotNumbers]));
    const colours = displayOfSwatches(
      db,
      lines.flatMap((l) => (l.swatch ? [l.swatch.swatchId] : [])),
    );
    const prices = lines.flatMap((l) => (l.line.priceMinor === null ? [] : [l.line.priceMinor]));
    return {
      title: `Order ${order.number}`,
      section: 'orders',
      body: orderPage({
        order,
        customer: found(customerById(db, order.customerId), 'customer'),
        lines: lines.map(({ line, fibre, swatch, recipe }) => ({
          ...line,
          orderLineId: line.id,
          fibre,
          swatch: swatch && {
            ...swatch,
            hex: colours.get(swatch.swatchId)?.hex ?? null,
            bands: colours.get(swatch.swatchId)?.bands ?? [],
          },
          recipe,
          goodPieces: progress.get(line.id)?.goodPieces ?? 0,
          lots: progress.get(line.id)?.lots ?? [],
          mixedLots: mixed.get(line.id) ?? [],
        })),
        priceMinor: prices.length === 0 ? null : prices.reduce((sum, price) => sum + price, 0),
        todayOn: todayOn(),
        show: showOf(db),
        mayWork,
        moves: movesOf(order.status),
        form,
      }),
    };
  };
  const nothingTyped: FormState = { typed: {}, errors: {} };

  app.get('/orders/:id', { config: { may: 'look' }, schema: { params: idParams } }, async (request, reply) =>
    sendPage(request, reply, orderRendering(request.params.id, allows(request.actor, 'work'), nothingTyped)),
  );

  const typedHead = (o: OrderRow): Typed => ({
    number: o.number,
    customerId: String(o.customerId),
    orderedOn: o.orderedOn,
    dueOn: o.dueOn ?? '',
    note: o.note,
    version: String(o.version),
  });
  const headPage = (form: FormState, order: OrderRow): Rendering => {
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
        current: typedHead(order),
      }),
    };
  };

  app.get('/orders/:id/edit', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const order = found(orderById(db, request.params.id), 'order');
    return sendPage(request, reply, headPage({ typed: typedHead(order), errors: {} }, order));
  });

  app.post('/orders/:id', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const { id } = request.params;
    found(orderById(db, id), 'order');
    return submitForm(request, reply, {
      schema: OrderHeadForm,
      shape: versioned,
      save: ({ version, ...input }) => `/orders/${saveOrderHead(db, id, input, version ?? 0).id}`,
      again: (form) => headPage(form, found(orderById(db, id), 'order')),
    });
  });

  for (const noun of moveNames) {
    app.post(`/orders/:id/${noun}`, { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) =>
      submitForm(request, reply, {
        schema: z.object({ shortConfirmed: z.string().optional() }),
        save: (typed) => {
          const said = { shortConfirmed: typed.shortConfirmed === 'yes' };
          return `/orders/${move(db, request.params.id, noun, said).id}`;
        },
        again: (form) => orderRendering(request.params.id, true, form),
      }),
    );
  }

  // ───────────── lines ─────────────
  const typedLine = ({ line, order }: OrderLineWithOrder): Typed => {
    const show = showOf(db);
    const wants = wordsOfWants(db, line);
    return {
      description: line.description,
      fibreId: line.fibreId === null ? '' : String(line.fibreId),
      pieces: line.pieces === null ? '' : String(line.pieces),
      dryMass: line.dryMassMg === null ? '' : mass(show, line.dryMassMg),
      wantedSwatch: wants.swatch,
      wantedRecipe: wants.recipe,
      wantedNote: line.wantedNote,
      toleranceFormula: line.toleranceFormula ?? '',
      toleranceLimit: line.toleranceMilli === null ? '' : String(line.toleranceMilli / 1000),
      price: line.priceMinor === null ? '' : plainMoney(show, line.priceMinor),
      version: String(order.version),
    };
  };
  app.post(
    '/order-lines/:id/mixing',
    { config: { may: 'work' }, schema: { params: idParams } },
    async (request, reply) => {
      const { order } = found(orderLineById(db, request.params.id), 'order line');
      const name = `mixingNote.${request.params.id}`;
      return submitForm(request, reply, {
        schema: z.object({ [name]: z.string().max(1000, 'At most 1000 characters.').default('') }),
        save: (input) => {
          noteMixing(db, request.params.id, input[name] ?? '');
          return `/orders/${order.id}`;
        },
        again: (form) => orderRendering(order.id, true, form),
      });
    },
  );

  const linePage = (form: FormState, order: OrderRow, row: OrderLineWithOrder | null): Rendering => ({
    title: `Order ${order.number}: a line`,
    section: 'orders',
    body: orderLineForm({
      form,
      order,
      orderLineId: row?.line.id ?? null,
      choices: choices(),
      current: row && typedLine(row),
      mayRemove: row !== null && !lineIsServed(db, row.line.id),
    }),
  });
  const beside = (_: number, field: string): string => field;

  app.get('/orders/:id/lines/new', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) =>
    sendPage(
      request,
      reply,
      linePage({ typed: {}, errors: {} }, found(orderById(db, request.params.id), 'order'), null),
    ),
  );

  app.post('/orders/:id/lines', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const order = found(orderById(db, request.params.id), 'order');
    return submitForm(request, reply, {
      schema: OrderLineForm(theStudio(db).currency),
      save: (form) => {
        for (const input of lineInputsOf(db, [form], beside)) addLine(db, order.id, input);
        return `/orders/${order.id}`;
      },
      again: (form) => linePage(form, order, null),
    });
  });

  app.get(
    '/order-lines/:id/edit',
    { config: { may: 'work' }, schema: { params: idParams } },
    async (request, reply) => {
      const row = found(orderLineById(db, request.params.id), 'order line');
      return sendPage(request, reply, linePage({ typed: typedLine(row), errors: {} }, row.order, row));
    },
  );

  app.post('/order-lines/:id', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const { id } = request.params;
    const row = found(orderLineById(db, id), 'order line');
    return submitForm(request, reply, {
      schema: OrderLineForm(theStudio(db).currency),
      save: (form, typed) => {
        for (const input of lineInputsOf(db, [form], beside)) saveLine(db, id, input, Number(typed['version']));
        return `/orders/${row.order.id}`;
      },
      again: (form) => {
        const now = found(orderLineById(db, id), 'order line');
        return linePage(form, now.order, now);
      },
    });
  });

  app.post(
    '/order-lines/:id/removal',
    { config: { may: 'work' }, schema: { params: idParams } },
    async (request, reply) => seeOther(reply, `/orders/${removeLine(db, request.params.id).id}`),
  );
}
