import { z } from 'zod';

/* One dialect for every list that may be long: `limit` says how many are wanted, and what an answer calls `next` is sent as `after`
 * for those that follow; null at the end. What is in it is the list's own business. */

const AFTER = 'the `next` of the answer before; left out for the first page';

const limited = (usual: number, most: number) =>
  z.coerce.number().int().min(1).max(most).default(usual).meta({ description: 'how many at most' });

/** Of lists that go by a number: an id, or a place in the order. */
export const pagedByNumber = (usual: number, most = 500) => ({
  after: z
    .string()
    .regex(/^\d{1,15}$/, 'Send what the answer before called next.')
    .transform(Number)
    .optional()
    .meta({ description: AFTER }),
  limit: limited(usual, most),
});

/** Of lists that go by words, such as a name. */
export const pagedByText = (usual: number, most = 500) => ({
  after: z.string().max(100).optional().meta({ description: AFTER }),
  limit: limited(usual, most),
});

export const NextPage = z
  .string()
  .nullable()
  .meta({ description: 'send as `after` for what follows; null at the end' });

/** A page of rows of which one more than wanted was read, and where the next page begins. */
export function pageOf<Row>(
  rows: readonly Row[],
  limit: number,
  keyOf: (last: Row) => number | string,
): { shown: Row[]; next: string | null } {
  const shown = rows.slice(0, limit);
  const last = shown.at(-1);
  return { shown, next: rows.length > limit && last !== undefined ? String(keyOf(last)) : null };
}
