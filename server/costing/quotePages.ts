import type { z } from 'zod';
import { quotePage, quotePaper } from '../../views/costing/quotePage.ts';
import type { OrderRow } from '../db/tables/orders.ts';
import type { Deps } from '../deps.ts';
import { notFound } from '../errors.ts';
import type { App } from '../http/app.ts';
import { readInput, typedBody, zodFieldErrors } from '../http/forms.ts';
import { sendPage } from '../http/page.ts';
import { customerById, orderById } from '../orders/queries.ts';
import { dayOf } from '../settings/days.ts';
import { theStudio } from '../settings/queries.ts';
import { showOf } from '../settings/show.ts';
import { idParams } from '../typedFields.ts';
import { type QuoteTerms, quoteOf } from './quote.ts';
import { QuoteForm, QuoteResource, QuoteTermsQuery } from './schemas.ts';

/** What the form begins with, to be typed over. */
const FIRST_TERMS = { basis: 'markup', pct: '60', setUp: '', minimum: '' };

const termsOf = (form: z.output<ReturnType<typeof QuoteForm>>): QuoteTerms => ({
  basis: form.basis,
  pct: form.pct,
  setUpMinor: form.setUp ?? 0,
  minimumMinor: form.minimum ?? 0,
});

export function pages(app: App, deps: Deps): void {
  const { db } = deps;
  const found = (orderId: number): { order: OrderRow; customer: NonNullable<ReturnType<typeof customerById>> } => {
    const order = orderById(db, orderId);
    const customer = order && customerById(db, order.customerId);
    if (!order || !customer) throw notFound('order');
    return { order, customer };
  };

  app.get('/orders/:id/quote', { config: { may: 'look' }, schema: { params: idParams } }, async (request, reply) => {
    const { order, customer } = found(request.params.id);
    const typed = { ...FIRST_TERMS, ...typedBody(request.query) };
    const parsed = QuoteForm(theStudio(db).currency).safeParse(typed);
    const quote = parsed.success ? quoteOf(db, order.id, termsOf(parsed.data)) : null;
    return sendPage(request, reply, {
      title: `Quote for order ${order.number}`,
      section: 'orders',
      status: parsed.success ? 200 : 422,
      body: quotePage({
        order,
        customerName: customer.name,
        form: { typed, errors: parsed.success ? {} : zodFieldErrors(parsed.error) },
        lines: quote?.lines ?? null,
        totalMinor: quote?.totalMinor ?? null,
        paperHref: quote ? `/orders/${order.id}/quote/paper?${new URLSearchParams(typed)}` : null,
        show: showOf(db),
      }),
    });
  });

  app.get(
    '/orders/:id/quote/paper',
    { config: { may: 'look' }, schema: { params: idParams } },
    async (request, reply) => {
      const { order, customer } = found(request.params.id);
      const studio = theStudio(db);
      const typed = { ...FIRST_TERMS, ...typedBody(request.query) };
      const terms = termsOf(readInput(QuoteForm(studio.currency), typed));
      return sendPage(request, reply, {
        title: `Quote for order ${order.number}`,
        section: 'orders',
        shape: 'paper',
        body: quotePaper({
          studioName: studio.name,
          order,
          customer,
          ...quoteOf(db, order.id, terms),
          quotedOn: dayOf(deps.now(), studio.zone),
          backHref: `/orders/${order.id}/quote?${new URLSearchParams(typed)}`,
          show: showOf(db),
        }),
      });
    },
  );
}

export function api(app: App, deps: Deps): void {
  app.get(
    '/orders/:id/quote',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getQuote',
        tags: ['Costing'],
        summary: 'Suggested prices of an order from the plans and costs of its lots',
        params: idParams,
        querystring: QuoteTermsQuery,
        response: { 200: QuoteResource },
      },
    },
    async (request) => ({
      currency: theStudio(deps.db).currency,
      ...quoteOf(deps.db, request.params.id, request.query),
    }),
  );
}
