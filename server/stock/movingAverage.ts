import { movingAverageAfter } from '../calc/cost.ts';
import { nearestInteger } from '../calc/rounding.ts';
import type { Db } from '../db/open.ts';
import type { StockLotRow } from '../db/tables/stock.ts';
import { notFound } from '../errors.ts';
import { entriesOfItem, makingOfSolution } from './queries.ts';

type Container = Pick<StockLotRow, 'id' | 'dyeId' | 'auxiliaryId'>;
type Average = NonNullable<ReturnType<typeof movingAverageAfter>>;

/** What a unit of a container costs at the moving average of its item, as a fraction in the container's own unit (mg, or µL of
 *  a liquid or solution): the ledger of all containers of the item is replayed up to that instant, by mass as bought. All
 *  containers of one dye count as alike, whatever strength their sellers gave them.
 *  Before the first receipt (a reading that was made before the jar was typed in) the receipts known to date value it. */
export const movingAverageRate = (
  db: Db,
  container: Container,
  at: number,
): { priceMinor: number; perQuantity: number } => rateAt(db, averageOfItem(db, container, at), container);

/** The same of many containers, by their ids: an item's ledger is replayed once, however many containers it lies in. */
export function movingAverageRates(
  db: Db,
  containers: readonly Container[],
  at: number,
): Map<number, { priceMinor: number; perQuantity: number }> {
  const averages = new Map<string, Average>();
  return new Map(
    containers.map((c) => {
      const item = `${c.dyeId}:${c.auxiliaryId}`;
      const average = averages.get(item) ?? averageOfItem(db, c, at);
      averages.set(item, average);
      return [c.id, rateAt(db, average, c)];
    }),
  );
}

function averageOfItem(db: Db, item: Omit<Container, 'id'>, at: number): Average {
  const eventsUntil = (until: number) =>
    entriesOfItem(db, item, until).map((e) => ({
      quantity: e.quantity * e.perUnit,
      ...(e.paidMinor === null ? {} : { paidMinor: e.paidMinor }),
    }));
  const average =
    movingAverageAfter({ events: eventsUntil(at) }) ??
    movingAverageAfter({ events: eventsUntil(Number.MAX_SAFE_INTEGER) });
  if (!average) throw notFound('receipt of this item');
  return average;
}

function rateAt(db: Db, average: Average, container: Container): { priceMinor: number; perQuantity: number } {
  const solution = makingOfSolution(db, container.id);
  const quantity = solution ? (average.quantity * solution.volumeUl) / solution.massMg : average.quantity;
  return {
    priceMinor: nearestInteger({ value: average.valueMinor, field: 'price' }),
    perQuantity: Math.max(1, nearestInteger({ value: quantity, field: 'quantity' })),
  };
}
