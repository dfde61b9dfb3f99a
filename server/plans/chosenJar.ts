import type { StockLotOverview } from '../stock/queries.ts';
import type { PlanContext } from './planContext.ts';
import type { Rate } from './rates.ts';
import type { PlanInput } from './schemas.ts';

export interface Stock {
  lot: StockLotOverview | null;
  all: readonly StockLotOverview[];
}

/** The container of powder (or liquid as bought) that a line is planned from: the one chosen, else the oldest that holds
 *  anything within its best-before (first in, first out is proposed). With none such the oldest that there is gives the strength to plan
 *  by, and a warning. */
export function chosenStock(input: PlanInput, context: PlanContext, kind: 'dye' | 'auxiliary', id: number): Stock {
  const all = context.stockLots.get(`${kind}:${id}`) ?? [];
  const asBought = all.filter((s) => s.concPpm === null);
  const choice = input.stockLotChoices[`${kind}:${id}`];
  const holding = asBought.filter((s) => s.onHandQuantity > 0);
  const fresh = (s: StockLotOverview): boolean => s.bestBeforeOn === null || s.bestBeforeOn >= context.todayOn;
  return {
    lot: asBought.find((s) => s.id === choice) ?? holding.find(fresh) ?? holding[0] ?? asBought[0] ?? null,
    all,
  };
}

export const rateFrom = (context: PlanContext, container: StockLotOverview | null): Rate | null =>
  container === null ? null : (context.rates.get(container.id) ?? null);

/** A stock solution at hand of this strength, fresh enough and holding enough. */
export const solutionAtHand = (
  stock: Stock,
  concPpm: number,
  volumeUl: number,
  todayOn: string,
): StockLotOverview | null =>
  stock.all.find(
    (s) =>
      s.concPpm === concPpm && s.onHandQuantity >= volumeUl && (s.bestBeforeOn === null || s.bestBeforeOn >= todayOn),
  ) ?? null;
