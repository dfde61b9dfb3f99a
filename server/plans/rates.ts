import { costMinorOfQuantity } from '../calc/cost.ts';
import type { Db } from '../db/open.ts';
import { moneySince } from '../stock/queries.ts';

/** A rate kept as the fraction it was: so many minor units for so much of a quantity. */
export interface Rate {
  priceMinor: number;
  perQuantity: number;
}

/** cost = round(quantity × priceMinor / perQuantity), rounded once; negative quantities for what is taken back. */
export function costMinorOf(quantity: number, { priceMinor, perQuantity }: Rate): number {
  const cost = costMinorOfQuantity({ quantity: Math.abs(quantity), unitCostMinor: priceMinor / perQuantity });
  return quantity < 0 && cost !== 0 ? -cost : cost;
}

/** What a container's content costs: what was paid for what was received, freight in it. */
export const rateOfStockLot = (lot: { priceMinor: number; freightMinor: number; receivedQuantity: number }): Rate => ({
  priceMinor: lot.priceMinor + lot.freightMinor,
  perQuantity: lot.receivedQuantity,
});

/** The same with the late freight, bills and credits that are known of it until an instant. */
export const rateOfContainer = (
  db: Db,
  lot: { id: number; priceMinor: number; freightMinor: number; receivedQuantity: number },
  at: number,
): Rate => rateOfStockLot({ ...lot, freightMinor: lot.freightMinor + moneySince(db, lot.id, at) });

/** Time at a rate per hour, in seconds. */
export const rateOfTime = (minorPerHour: number): Rate => ({ priceMinor: minorPerHour, perQuantity: 3600 });
