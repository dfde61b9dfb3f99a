import { setImmediate as nextTurn } from 'node:timers/promises';
import { type StockWorth, unaccountedMinor } from '../calc/stockValue.ts';
import type { Db } from '../db/open.ts';
import { type ItemInStock, itemsEverReceived } from '../stock/queries.ts';
import { type WorthOfItem, worthOfItem } from '../stock/worth.ts';
import { keepingProofs } from './keptProofs.ts';
import { instantsOfItem, sumsOfItem } from './queries.ts';

/** Where the money of one material has gone until an instant. */
export interface MaterialProof extends ItemInStock, StockWorth {
  /** Waste, counts, goods without cost, rounding and price differences together. */
  writtenOffMinor: number;
  /** Part of what is in stock that is weighed out for lots that have not been closed. */
  onBenchMinor: number;
  /** paid − issued − written off − in stock. */
  differenceMinor: number;
  /** In what the record contradicts it; nothing when all is well. */
  wrong: string[];
}

const writtenOffOf = (w: StockWorth): number =>
  w.wasteMinor + w.countedMinor + w.withoutCostMinor + w.roundingMinor + w.priceDifferenceMinor;

/** One material at an instant, held against sums that are taken straight from the record. */
export const materialProof = (db: Db, item: ItemInStock, until: number): MaterialProof =>
  provenAt(db, item, until).proof;

/** The same, with when the last of it happened. */
export function provenAt(db: Db, item: ItemInStock, until: number): { proof: MaterialProof; lastAt: number } {
  const worth = worthOfItem(db, item, until);
  const { containers: _, average: __, parts: ___, lastAt, ...sums } = worth;
  const proof = {
    ...item,
    ...sums,
    writtenOffMinor: writtenOffOf(worth),
    differenceMinor: unaccountedMinor(worth),
    wrong: contradictions(db, item, worth, until),
  };
  return { proof, lastAt };
}

function contradictions(db: Db, item: ItemInStock, worth: WorthOfItem, until: number): string[] {
  const wrong: string[] = [];
  const difference = unaccountedMinor(worth);
  if (difference !== 0) wrong.push(`${difference} minor units are neither issued, written off nor in stock`);
  const { paidMinor, issuedMinor, holds } = sumsOfItem(db, item, until);
  if (paidMinor !== worth.paidMinor) wrong.push(`paid ${paidMinor}, by the balance ${worth.paidMinor}`);
  if (issuedMinor !== worth.issuedMinor) wrong.push(`issued ${issuedMinor}, by the balance ${worth.issuedMinor}`);
  const held = new Map(holds.map((h) => [h.stockLotId, h.quantity]));
  for (const p of worth.parts) {
    const onHand = held.get(p.stockLotId) ?? 0;
    if (p.quantity - p.onBenchQuantity !== onHand)
      wrong.push(`${p.code} holds ${onHand}, by the balance ${p.quantity - p.onBenchQuantity}`);
    const own = worth.containers.get(p.stockLotId);
    if (own && own.ownMinor !== null && Math.abs(own.valueMinor - own.ownMinor) > own.mostRoundedMinor)
      wrong.push(`${p.code} is worth ${own.valueMinor}, at its own price ${own.ownMinor.toFixed(1)}`);
    if (own && own.quantity === 0 && own.valueMinor !== 0) wrong.push(`${p.code} is empty and worth ${own.valueMinor}`);
  }
  return wrong;
}

const keptProof = keepingProofs(provenAt);

export type StockTotals = Record<
  | 'paidMinor'
  | 'issuedMinor'
  | 'writtenOffMinor'
  | 'roundingMinor'
  | 'inStockMinor'
  | 'onBenchMinor'
  | 'differenceMinor',
  number
>;

/** Every material that was ever received, at an instant: paid = issued + written off + in stock. After thirty years a material's
 *  history takes a tenth of a second to walk: it is kept while nothing is written about it, and others get their turn between two. */
export async function stockProof(db: Db, until: number): Promise<{ materials: MaterialProof[]; total: StockTotals }> {
  const materials: MaterialProof[] = [];
  for (const item of itemsEverReceived(db)) {
    materials.push(keptProof(db, item, until));
    await nextTurn();
  }
  const of = (key: keyof StockTotals): number => materials.reduce((sum, m) => sum + m[key], 0);
  return {
    materials,
    total: {
      paidMinor: of('paidMinor'),
      issuedMinor: of('issuedMinor'),
      writtenOffMinor: of('writtenOffMinor'),
      roundingMinor: of('roundingMinor'),
      inStockMinor: of('inStockMinor'),
      onBenchMinor: of('onBenchMinor'),
      differenceMinor: of('differenceMinor'),
    },
  };
}

const INSTANTS = 12;

/** Every material at the end and at a dozen instants spread over its life; what is wrong, in words. */
export function stockContradictions(db: Db): string[] {
  return itemsEverReceived(db).flatMap((item) => {
    const instants = instantsOfItem(db, item);
    const step = Math.max(1, Math.ceil(instants.length / INSTANTS));
    const asked = [...instants.filter((_, i) => i % step === 0), Number.MAX_SAFE_INTEGER];
    for (const until of asked) {
      const { wrong } = materialProof(db, item, until);
      // Once it is wrong it stays so: the first time is the one to look at.
      if (wrong[0]) return [`${item.code || item.name}: ${wrong.join('; ')}`];
    }
    return [];
  });
}
