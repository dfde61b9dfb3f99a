import { z } from 'zod';
import { found } from '../../errors.ts';
import { seeOther, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { lotById } from '../../lots/queries.ts';
import { idParams } from '../../typedFields.ts';
import { benchRendering, orderOf } from '../benchDoor.ts';

export const showBench = page({
  params: idParams,
  query: z.object({
    line: z.coerce.number().int().nullable().catch(null),
    order: z.string().optional().catch(undefined),
  }),
  show(deps, { params, query, request, reply }) {
    const lot = found(lotById(deps.db, params.id), 'lot');
    if (lot.finishedAt !== null) return seeOther(reply, `/lots/${lot.id}`);
    const order = orderOf(query.order);
    return sendPage(request, reply, benchRendering(deps, request, lot.id, { line: query.line, order }));
  },
});
