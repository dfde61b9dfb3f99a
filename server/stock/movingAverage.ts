import { movingAverageAfter } from '../calc/cost.ts';
import { nearestInteger } from '../calc/rounding.ts';
import type { Db } from '../db/open.ts';
import type { StockLotRow } from '../db/tables/stock.ts';
import { notFound } from '../errors.ts';
import { entriesOfItem, makingOfSolution } from './queries.ts';

/** What a unit of a container costs at the moving average of its item, as a fraction in the container's own unit (mg, or µL of
 *  a liquid or solution): the ledger of all containers of the item is replayed up to that instant, by mass as bought. All
 *  containers of one dye count as alike, whatever strength their sellers gave them.
 *  Before the first receipt (a reading that was made before the jar was typed in) the receipts known to date value it. */
export function movingAverageRate(
  db: Db,
  container: Pick<StockLotRow, 'id' | 'dyeId' | 'auxiliaryId'>,
  at: number,
): { priceMinor: number; perQuantity: number } {
  const eventsUntil = (until: number) =>
    entriesOfItem(db, container, until).map((e) => ({
      quantity: e.quantity * e.perUnit,
      ...(e.paidMinor === null ? {} : { paidMinor: e.paidMinor }),
    }));
  const average =
    movingAverageAfter({ events: eventsUntil(at) }) ??
    movingAverageAfter({ events: eventsUntil(Number.MAX_SAFE_INTEGER) });
  if (!average) throw notFound('receipt of this item');
  const solution = makingOfSolution(db, container.id);
  const quantity = solution ? (average.quantity * solution.volumeUl) / solution.massMg : average.quantity;
  return {
    priceMinor: nearestInteger({ value: average.valueMinor, field: 'price' }),
    perQuantity: Math.max(1, nearestInteger({ value: quantity, field: 'quantity' })),
  };
}
