import { finiteIn } from './calcError.ts';

/** How a studio's own use becomes a reorder point, unless the page is asked otherwise (common practice):
 *  the use of the last quarter; two weeks until a parcel comes; two weeks more for a late parcel or a large order;
 *  and a purchase that lasts another quarter. An item younger than four weeks is counted as if it were four weeks old, since
 *  a first busy day says little about a month. */
export const reorderRule = { windowDays: 90, leadTimeDays: 14, safetyDays: 14, coverDays: 90, leastDays: 28 } as const;

export interface ReorderRule {
  readonly windowDays: number;
  readonly leadTimeDays: number;
  readonly safetyDays: number;
  readonly coverDays: number;
  readonly leastDays: number;
}

const days = { min: 0 };

/** Mean use a day, the stock at which to order again, and how long what there is will last:
 *    mean = used in the window / days of the window (or since the first receipt, at least leastDays)
 *    reorder point = mean · (lead time + safety)     lasts = on hand / mean
 *  usedQuantity ≥ 0, onHandQuantity in one unit (below nothing counts as nothing) · knownDays ≥ 0 since the first receipt.
 *  Not rounded; lastsDays null when nothing is used. Throws CalcError. Common practice. */
export function reorderPoint(input: {
  usedQuantity: number;
  onHandQuantity: number;
  knownDays: number;
  rule: ReorderRule;
}): { meanDailyQuantity: number; reorderQuantity: number; lastsDays: number | null } {
  const { rule } = input;
  const window = finiteIn('windowDays', rule.windowDays, { min: 1 });
  const known = Math.min(window, Math.max(finiteIn('knownDays', input.knownDays, days), rule.leastDays));
  const meanDailyQuantity = finiteIn('usedQuantity', input.usedQuantity, { min: 0 }) / known;
  const ahead = finiteIn('leadTimeDays', rule.leadTimeDays, days) + finiteIn('safetyDays', rule.safetyDays, days);
  const onHand = Math.max(0, finiteIn('onHandQuantity', input.onHandQuantity));
  return {
    meanDailyQuantity,
    reorderQuantity: meanDailyQuantity * ahead,
    lastsDays: meanDailyQuantity === 0 ? null : onHand / meanDailyQuantity,
  };
}

/** How much to buy so that, once it has come, there is enough for the planned lots, the safety and the time to cover:
 *    buy = mean · (lead + safety + cover) + planned − on hand, not below nothing.  Throws CalcError. Common practice. */
export function purchaseQuantity(input: {
  meanDailyQuantity: number;
  onHandQuantity: number;
  plannedQuantity: number;
  rule: ReorderRule;
}): number {
  const { leadTimeDays, safetyDays, coverDays } = input.rule;
  const wanted =
    finiteIn('meanDailyQuantity', input.meanDailyQuantity, { min: 0 }) * (leadTimeDays + safetyDays + coverDays) +
    finiteIn('plannedQuantity', input.plannedQuantity, { min: 0 });
  return Math.max(0, wanted - Math.max(0, finiteIn('onHandQuantity', input.onHandQuantity)));
}
