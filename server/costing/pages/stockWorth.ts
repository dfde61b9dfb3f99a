import { z } from 'zod';
import { stockWorthPage } from '../../../views/costing/stockWorth.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { dayOf, instantsOfDay } from '../../settings/days.ts';
import { theStudio } from '../../settings/queries.ts';
import { showOf } from '../../settings/show.ts';
import { optionalDay } from '../../typedFields.ts';
import { stockProof } from '../stockProof.ts';

export const showStockWorth = page({
  query: z.object({ on: z.string().max(40).optional() }),
  show: async (deps, { query, request, reply }) => {
    const { zone, costing } = theStudio(deps.db);
    const typed = query.on ?? dayOf(deps.now(), zone);
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
        worth: on === null ? null : await stockProof(deps.db, instantsOfDay(on, zone).endAt - 1),
        show: showOf(deps.db),
      }),
    });
  },
});
