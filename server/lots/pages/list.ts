import { z } from 'zod';
import { lotsPage } from '../../../views/lots/list.ts';
import { LOT_STATUSES } from '../../calc/lotTerms.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { showOf } from '../../settings/show.ts';
import { lotListed } from '../present/lot.ts';
import { listLots } from '../queries.ts';

const SHOWN = 40;

/** What does not read is left out: a list is shown all the same. */
const Filter = z.object({
  status: z.enum(LOT_STATUSES).nullable().catch(null),
  words: z
    .string()
    .catch('')
    .transform((words) => words.slice(0, 100).trim()),
  before: z
    .string()
    .regex(/^[1-9]\d*$/)
    .transform(Number)
    .nullable()
    .catch(null),
});

export const showLots = page({
  query: Filter,
  show({ db }, { query: { status, words, before }, request, reply }) {
    const rows = listLots(db, { status, words, before, limit: SHOWN + 1 });
    const base = new URLSearchParams({ ...(status ? { status } : {}), ...(words ? { words } : {}) });
    const next = new URLSearchParams([...base, ['before', String(rows[SHOWN - 1]?.id)]]);
    return sendPage(request, reply, {
      title: 'Production log',
      section: 'lots',
      body: lotsPage({
        lots: rows.slice(0, SHOWN).map((r) => ({ ...lotListed(r), estimateMinor: r.estimateMinor })),
        show: showOf(db),
        status,
        words,
        nextHref: rows.length > SHOWN ? `/lots?${next}` : null,
        firstHref: before === null ? null : `/lots?${base}`,
      }),
    });
  },
});
