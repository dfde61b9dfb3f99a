import { purchaseQuantity, type ReorderRule, reorderPoint } from '../calc/reorder.ts';
import { roundedToStep } from '../calc/rounding.ts';
import type { Db } from '../db/open.ts';
import { type ItemStock, itemStocks } from './queries.ts';
import type { ItemToBuy } from './schemas.ts';

const DAY_MS = 86_400_000;

/** With what the last container cost, and when the item first came. */
type ItemOfList = ItemToBuy & ItemStock;

/** A mean is not known to the milligram: two digits of it, in whole units. */
const twoDigits = (quantity: number): number =>
  roundedToStep({
    value: quantity,
    step: quantity < 10 ? 1 : 10 ** (Math.floor(Math.log10(quantity)) - 1),
    field: 'quantity',
  });

/** What to buy, by real use and by what planned lots still want. `short`: planned lots want more than there is. `reorder`: at or
 *  below the reorder point. The most urgent come first; what there is enough of comes last. */
export function shoppingList(db: Db, now: number, rule: ReorderRule): ItemOfList[] {
  const order = { short: 0, reorder: 1, enough: 2 };
  return itemStocks(db, now - rule.windowDays * DAY_MS)
    .map((item): ItemOfList => {
      const onHandQuantity = item.onHandQuantity + item.inSolutionQuantity;
      const point = reorderPoint({
        usedQuantity: Math.max(0, item.usedQuantity),
        onHandQuantity,
        knownDays: Math.max(0, (now - item.firstReceivedAt) / DAY_MS),
        rule,
      });
      const free = Math.max(0, onHandQuantity) - item.plannedQuantity;
      const state =
        item.plannedQuantity > 0 && free < 0
          ? 'short'
          : point.meanDailyQuantity > 0 && free <= point.reorderQuantity
            ? 'reorder'
            : 'enough';
      const wanted = purchaseQuantity({
        meanDailyQuantity: point.meanDailyQuantity,
        onHandQuantity,
        plannedQuantity: item.plannedQuantity,
        rule,
      });
      const containers = state === 'enough' ? 0 : Math.max(1, Math.ceil(wanted / item.lastQuantity));
      return {
        ...item,
        ...point,
        meanDailyQuantity: twoDigits(point.meanDailyQuantity),
        reorderQuantity: twoDigits(point.reorderQuantity),
        state,
        containers,
        costMinor: containers * (item.lastPriceMinor + item.lastFreightMinor),
      };
    })
    .sort(
      (x, y) =>
        order[x.state] - order[y.state] || (x.lastsDays ?? Number.MAX_VALUE) - (y.lastsDays ?? Number.MAX_VALUE),
    );
}
