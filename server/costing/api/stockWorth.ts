import { z } from 'zod';
import { operation } from '../../http/routes.ts';
import { dayOf, instantsOfDay } from '../../settings/days.ts';
import { theStudio } from '../../settings/queries.ts';
import { jsonDay } from '../../typedFields.ts';
import { StockWorthResource } from '../schemas.ts';
import { stockProof } from '../stockProof.ts';

export const getStockWorth = operation({
  id: 'getStockWorth',
  summary: 'What stock is worth at the end of a day: paid = issued + written off + in stock, by material',
  query: z.object({ on: jsonDay.optional().meta({ description: 'today when left out' }) }),
  answer: StockWorthResource,
  run: async (deps, { query }) => {
    const { zone, currency } = theStudio(deps.db);
    const on = query.on ?? dayOf(deps.now(), zone);
    return { currency, on, ...(await stockProof(deps.db, instantsOfDay(on, zone).endAt - 1)) };
  },
});
