import { nearestInteger } from '../calc/rounding.ts';
import type { Db } from '../db/open.ts';
import type { StockLotRow } from '../db/tables/stock.ts';
import { notFound } from '../errors.ts';
import { containersOfItem, makingOfSolution } from './queries.ts';
import { valuationSpans, worthOfItem } from './worth.ts';

type Container = Pick<StockLotRow, 'id' | 'dyeId' | 'auxiliaryId'>;
interface Average {
  valueMinor: number;
  quantity: number;
}

/** What a unit of a container costs at the moving average of its item, as a fraction in the container's own unit (mg, or µL of
 *  a liquid or solution): the money that is in stock at that instant, by the quantity that it is for, both as the books have
 *  them. So what a late receipt, late freight or a credit changed is in the next issue. All containers of one dye count as
 *  alike, whatever strength their sellers gave them.
 *  Before the first receipt (a reading that was made before the jar was typed in) the receipts known to date value it. */
export const movingAverageRate = (
  db: Db,
  container: Container,
  at: number,
): { priceMinor: number; perQuantity: number } => rateAt(db, averageOfItem(db, container, at), container);

/** The same of many containers, by their ids: an item's books are gone through once, however many containers it lies in. */
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

function averageOfItem(db: Db, { dyeId, auxiliaryId }: Omit<Container, 'id'>, at: number): Average {
  const item = { dyeId, auxiliaryId, fibreId: null };
  const spans = valuationSpans(db, item);
  const isAverage = spans.findLast((s) => s.from <= at)?.valuation === 'movingAverage';
  const always = [{ from: Number.MIN_SAFE_INTEGER, valuation: 'movingAverage' as const }];
  const { average } = worthOfItem(db, item, at, isAverage ? spans : always);
  if (average) return average;
  const bought = containersOfItem(db, item).filter((c) => c.sourceId === null);
  if (bought.length === 0) throw notFound('receipt of this item');
  return {
    valueMinor: bought.reduce((sum, c) => sum + c.paidMinor, 0),
    quantity: bought.reduce((sum, c) => sum + c.receivedQuantity, 0),
  };
}

function rateAt(db: Db, average: Average, container: Container): { priceMinor: number; perQuantity: number } {
  const solution = makingOfSolution(db, container.id);
  const quantity = solution ? (average.quantity * solution.volumeUl) / solution.massMg : average.quantity;
  return {
    priceMinor: Math.max(0, nearestInteger({ value: average.valueMinor, field: 'price' })),
    perQuantity: Math.max(1, nearestInteger({ value: quantity, field: 'quantity' })),
  };
}
