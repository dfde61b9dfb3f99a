import { type ItemWorth, stockWorth, type ValuationSpan, type ValueEvent } from '../calc/stockValue.ts';
import type { Db } from '../db/open.ts';
import { findStudio } from '../settings/queries.ts';
import {
  bookedOfItem,
  type ContainerOfItem,
  containersOfItem,
  type ItemOfStock,
  ledgerOfItem,
  moneyOfItem,
  valuationChangesOf,
} from './queries.ts';

/** What an item's stock is worth at an instant and where the money went, made anew from ledger, late money and cost lines. */
export interface WorthOfItem extends ItemWorth {
  parts: readonly (ContainerOfItem & {
    /** In stock: on the shelf, and weighed out for lots that have not been closed. */
    quantity: number;
    onBenchQuantity: number;
    valueMinor: number;
  })[];
  /** Value of what is weighed out for lots that have not been closed. Part of what is in stock, rounded. */
  onBenchMinor: number;
  /** When the last of it happened: until then and ever after it is worth this. */
  lastAt: number;
}

/** The order of what has one time: stock comes before money on it, both before what a lot took of it. */
const RANK: Record<ValueEvent['what'], number> = {
  receipt: 0,
  dissolved: 1,
  money: 2,
  writtenOff: 3,
  takenBack: 3,
  booked: 4,
};

/** How the studio valued its stock, from the beginning. Goods have always gone at what their own container cost. */
export function valuationSpans(db: Db, item: ItemOfStock): ValuationSpan[] {
  const from = Number.MIN_SAFE_INTEGER;
  if (item.fibreId !== null) return [{ from, valuation: 'specific' }];
  const changes = valuationChangesOf(db);
  const first = changes[0]?.valuationBefore ?? findStudio(db)?.costing ?? 'specific';
  return [{ from, valuation: first }, ...changes.map((c) => ({ from: c.changedAt, valuation: c.valuation }))];
}

/** `spans`: as the studio valued it, unless something else is asked. */
export function worthOfItem(
  db: Db,
  item: ItemOfStock,
  until: number,
  spans: readonly ValuationSpan[] = valuationSpans(db, item),
): WorthOfItem {
  const containers = containersOfItem(db, item);
  const byId = new Map(containers.map((c) => [c.stockLotId, c]));
  const ledger = ledgerOfItem(db, item, until);
  const onBench = new Map<number, number>();
  const toBench = (stockLotId: number, quantity: number): void => {
    onBench.set(stockLotId, (onBench.get(stockLotId) ?? 0) + quantity);
  };
  const events: ValueEvent[] = [];
  const moved = new Map(ledger.map((e) => [e.entryId, e]));
  for (const e of ledger) {
    const container = byId.get(e.stockLotId);
    if (!container || e.solutionId !== null) continue;
    const { at, stockLotId, entryId, quantity } = e;
    if (e.kind === 'receipt') {
      const { sourceId, massMg, paidMinor } = container;
      events.push(
        sourceId === null || massMg === null
          ? { what: 'receipt', at, stockLotId, quantity, paidMinor }
          : { what: 'dissolved', at, stockLotId, quantity, sourceId, massMg, movedMinor: paidMinor },
      );
      continue;
    }
    const undone = e.kind === 'reversal' ? moved.get(e.reversesId ?? 0) : undefined;
    if ((undone ?? e).kind === 'issue' && e.withoutCost === 0) toBench(stockLotId, -quantity);
    else if (undone) events.push({ what: 'takenBack', at, stockLotId, entryId: undone.entryId, quantity });
    else {
      const as = e.kind === 'waste' ? 'waste' : e.kind === 'stockTake' ? 'counted' : 'withoutCost';
      events.push({ what: 'writtenOff', at, stockLotId, entryId, as, quantity });
    }
  }
  for (const { stockLotId, at, amountMinor } of moneyOfItem(db, item, until))
    events.push({ what: 'money', at, stockLotId, amountMinor });
  for (const line of bookedOfItem(db, item, until)) {
    const { stockLotId, at, quantity, costMinor, ownPriceMinor, ownPerQuantity } = line;
    toBench(stockLotId, -quantity);
    const ownMinor =
      line.samePrice === 1 || ownPriceMinor === null || ownPerQuantity === null
        ? null
        : Math.round((quantity * ownPriceMinor) / ownPerQuantity);
    events.push({ what: 'booked', at, stockLotId, quantity, costMinor, ownMinor });
  }
  // Sorting keeps the order of equals, which is that of the record.
  events.sort((x, y) => x.at - y.at || RANK[x.what] - RANK[y.what]);
  const perUnit = new Map(containers.map((c) => [c.stockLotId, c.massMg === null ? 1 : c.massMg / c.receivedQuantity]));
  const worth = stockWorth({ events, perUnit, spans, until });
  const parts = containers.flatMap((c) => {
    const part = worth.containers.get(c.stockLotId);
    return part ? [{ ...c, ...part, onBenchQuantity: onBench.get(c.stockLotId) ?? 0 }] : [];
  });
  const onBenchMinor = Math.round(
    parts.reduce((sum, p) => sum + (p.quantity === 0 ? 0 : (p.valueMinor * p.onBenchQuantity) / p.quantity), 0),
  );
  const lastAt = Math.max(
    ledger.at(-1)?.at ?? 0,
    events.at(-1)?.at ?? 0,
    ...spans.map((s) => (s.from <= until ? s.from : 0)),
  );
  return { ...worth, parts, onBenchMinor, lastAt };
}

/** What is on the shelf in each container as the books have it, unrounded, where the studio values its stock at a moving average;
 *  nothing where each container stands for its own price. Every item is gone through once. */
export function shelfWorth(
  db: Db,
  containers: readonly (ItemOfStock & { id: number })[],
  now: number,
): Map<number, number> {
  const values = new Map<number, number>();
  if (findStudio(db)?.costing !== 'movingAverage') return values;
  const items = new Map(containers.filter((c) => c.fibreId === null).map((c) => [`${c.dyeId}:${c.auxiliaryId}`, c]));
  for (const item of items.values()) {
    for (const p of worthOfItem(db, item, now).parts) {
      const shelf = p.quantity - p.onBenchQuantity;
      values.set(p.stockLotId, p.quantity === 0 || shelf <= 0 ? 0 : (p.valueMinor * shelf) / p.quantity);
    }
  }
  return values;
}

/** Containers with that worth, where there is one. */
export const withShelfWorth = <C extends ItemOfStock & { id: number }>(
  db: Db,
  containers: readonly C[],
  now: number,
): (C & { valueMinor?: number })[] => {
  const values = shelfWorth(db, containers, now);
  return containers.map((c) => {
    const valueMinor = values.get(c.id);
    return valueMinor === undefined ? c : { ...c, valueMinor };
  });
};
