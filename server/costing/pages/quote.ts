import type { z } from 'zod';
import { quotePage, quotePaper } from '../../../views/costing/quote.ts';
import type { Db } from '../../db/open.ts';
import type { OrderRow } from '../../db/tables/orders.ts';
import { notFound } from '../../errors.ts';
import { readInput, typedBody, zodFieldErrors } from '../../http/forms.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { customerById, orderById } from '../../orders/queries.ts';
import { dayOf } from '../../settings/days.ts';
import { theStudio } from '../../settings/queries.ts';
import { showOf } from '../../settings/show.ts';
import { idParams } from '../../typedFields.ts';
import { type QuoteTerms, quoteOf } from '../quote.ts';
import { QuoteForm } from '../schemas.ts';

/** What the form begins with, to be typed over. */
const FIRST_TERMS = { basis: 'markup', pct: '60', setUp: '', minimum: '' };

const termsOf = (form: z.output<ReturnType<typeof QuoteForm>>): QuoteTerms => ({
  basis: form.basis,
  pct: form.pct,
  setUpMinor: form.setUp ?? 0,
  minimumMinor: form.minimum ?? 0,
});

const orderToQuote = (
  db: Db,
  orderId: number,
): { order: OrderRow; customer: NonNullable<ReturnType<typeof customerById>> } => {
  const order = orderById(db, orderId);
  const customer = order && customerById(db, order.customerId);
  if (!order || !customer) throw notFound('order');
  return { order, customer };
};

export const showQuote = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const { order, customer } = orderToQuote(db, params.id);
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
  },
});

export const showQuotePaper = page({
  params: idParams,
  show: (deps, { params, request, reply }) => {
    const { order, customer } = orderToQuote(deps.db, params.id);
    const studio = theStudio(deps.db);
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
        ...quoteOf(deps.db, order.id, terms),
        quotedOn: dayOf(deps.now(), studio.zone),
        backHref: `/orders/${order.id}/quote?${new URLSearchParams(typed)}`,
        show: showOf(deps.db),
      }),
    });
  },
});
