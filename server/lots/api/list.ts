import { z } from 'zod';
import { NextPage, pagedByNumber, pageOf } from '../../http/paging.ts';
import { operation } from '../../http/routes.ts';
import { lotListed } from '../present/lot.ts';
import { listLots } from '../queries.ts';
import { LotListItem, status } from '../schemas.ts';

export const listAllLots = operation({
  id: 'listLots',
  summary: 'Lots, newest first',
  query: z.object({
    status: status.optional(),
    words: z.string().max(100).default(''),
    ...pagedByNumber(50, 200),
  }),
  answer: z.object({ lots: z.array(LotListItem), next: NextPage }),
  run({ db }, { query: { status: wanted, words, after, limit } }) {
    const rows = listLots(db, { status: wanted ?? null, words, before: after ?? null, limit: limit + 1 });
    const { shown, next } = pageOf(rows, limit, (row) => row.id);
    return { lots: shown.map(lotListed), next };
  },
});
