import { z } from 'zod';
import { stockWorthPage } from '../../views/costing/stockWorthPage.ts';
import type { Deps } from '../deps.ts';
import type { App } from '../http/app.ts';
import { sendPage } from '../http/page.ts';
import { dayOf, instantsOfDay } from '../settings/days.ts';
import { theStudio } from '../settings/queries.ts';
import { showOf } from '../settings/show.ts';
import { jsonDay, optionalDay } from '../typedFields.ts';
import { StockWorthResource } from './schemas.ts';
import { stockProof } from './stockProof.ts';

export function pages(app: App, deps: Deps): void {
  const { db } = deps;
  app.get(
    '/costing/stock',
    { config: { may: 'look' }, schema: { querystring: z.object({ on: z.string().max(40).optional() }) } },
    async (request, reply) => {
      const { zone, costing } = theStudio(db);
      const typed = request.query.on ?? dayOf(deps.now(), zone);
      const read = optionalDay().safeParse(typed);
      const on = read.success ? read.data : null;
      const errors: Record<string, string> = on === null ? { on: 'That is not a day: try 2026-03-31.' } : {};
      return sendPage(request, reply, {
        title: 'What stock is worth',
        section: 'costing',
        status: on === null ? 422 : 200,
        body: stockWorthPage({
          form: { typed: { on: typed }, errors },
          valuation: costing,
          worth: on === null ? null : await stockProof(db, instantsOfDay(on, zone).endAt - 1),
          show: showOf(db),
        }),
      });
    },
  );
}

export function api(app: App, deps: Deps): void {
  const { db } = deps;
  app.get(
    '/costing/stock',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getStockWorth',
        tags: ['Costing'],
        summary: 'What stock is worth at the end of a day: paid = issued + written off + in stock, by material',
        querystring: z.object({ on: jsonDay.optional().meta({ description: 'today when left out' }) }),
        response: { 200: StockWorthResource },
      },
    },
    async (request) => {
      const { zone, currency } = theStudio(db);
      const on = request.query.on ?? dayOf(deps.now(), zone);
      return { currency, on, ...(await stockProof(db, instantsOfDay(on, zone).endAt - 1)) };
    },
  );
}
