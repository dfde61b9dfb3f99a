import { allocatedMinor } from '../calc/cost.ts';
import type { Db } from '../db/open.ts';
import { type ClosedLotFilter, type LotForLine, linesOfLots } from './queries.ts';

/** How a lot for several order lines is shared out: every view of costs splits by this and nothing else. */

/** By what a lot that serves several order lines is shared out: the dry mass of the lines when every line says it, since the
 *  bath is shared by mass; else the pieces of each in the lot; else equally. Common practice. */
export function lineWeights(lines: readonly Pick<LotForLine, 'pieces' | 'lineDryMassMg'>[]): {
  by: 'mass' | 'pieces' | 'equally';
  weights: number[];
} {
  if (lines.every((l) => l.lineDryMassMg !== null))
    return { by: 'mass', weights: lines.map((l) => l.lineDryMassMg ?? 0) };
  if (lines.every((l) => l.pieces !== null)) return { by: 'pieces', weights: lines.map((l) => l.pieces ?? 0) };
  return { by: 'equally', weights: lines.map(() => 1) };
}

/** A whole number handed out by weights, to whole numbers that add to it (largest remainder); equally when none weighs anything. */
export const sharedOut = (total: number, weights: readonly number[]): number[] =>
  weights.length === 1
    ? [total]
    : allocatedMinor({ totalMinor: total, keys: weights.some((w) => w > 0) ? weights : weights.map(() => 1) });

/** The part of one lot that a filter by customer or order asks for. */
export interface PartOfLot {
  /** The part in whole units of a whole number; the parts of everybody add to it. */
  of: (total: number) => number;
  /** The same of how much of the lot it is, ppm. */
  sharePpm: number;
  lines: readonly LotForLine[];
  weights: readonly number[];
}

export const byLot = <R extends { lotId: number }>(rows: readonly R[]): Map<number, R[]> => {
  const map = new Map<number, R[]>();
  for (const row of rows) {
    const list = map.get(row.lotId);
    if (list) list.push(row);
    else map.set(row.lotId, [row]);
  }
  return map;
};

const isMine = (line: LotForLine, { customerId, orderId }: ClosedLotFilter): boolean =>
  (customerId === null || line.customerId === customerId) && (orderId === null || line.orderId === orderId);

/** Whether a filter asks for less than whole lots. */
export const takesParts = (filter: ClosedLotFilter): boolean => filter.customerId !== null || filter.orderId !== null;

/** What of these lots belongs to the customer or order of a filter; a lot that is not in it belongs whole. One statement. */
export function partsOfLots(db: Db, filter: ClosedLotFilter, lotIds: readonly number[]): Map<number, PartOfLot> {
  const parts = new Map<number, PartOfLot>();
  if (!takesParts(filter) || lotIds.length === 0) return parts;
  for (const [lotId, served] of byLot(linesOfLots(db, lotIds))) {
    const { weights } = lineWeights(served);
    const mine = served.map((l) => isMine(l, filter));
    if (mine.every(Boolean)) continue;
    const of = (total: number): number =>
      sharedOut(total, weights).reduce((sum, part, i) => sum + (mine[i] ? part : 0), 0);
    const lines = served.filter((_, i) => mine[i]);
    parts.set(lotId, { of, sharePpm: of(1_000_000), lines, weights: weights.filter((_, i) => mine[i]) });
  }
  return parts;
}
