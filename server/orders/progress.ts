import { largestRemainder } from '../calc/rounding.ts';
import type { Db } from '../db/open.ts';
import { type LotServingLine, linesOfOrder, lotsServing } from './queries.ts';

export interface LineProgress {
  lots: (LotServingLine & { goodPieces: number | null; shared: boolean })[];
  goodPieces: number;
}

/** Lines that lots serve whose good pieces are fewer than the line wants. Of a line that no lot serves nothing is known (it may
 *  come from the shelf), as of one whose part of a shared lot nobody said. */
export function shortLines(db: Db, orderId: number): { description: string; pieces: number; goodPieces: number }[] {
  const progress = progressOfOrder(db, orderId);
  return linesOfOrder(db, orderId).flatMap(({ line }) => {
    const found = progress.get(line.id);
    const lots = found?.lots.filter((lot) => lot.status !== 'abandoned') ?? [];
    if (line.pieces === null || !found || lots.length === 0) return [];
    if (lots.some((lot) => lot.status === 'finished' && lot.goodPieces === null)) return [];
    const { goodPieces } = found;
    return goodPieces < line.pieces ? [{ description: line.description, pieces: line.pieces, goodPieces }] : [];
  });
}

/** How far each line of an order has come: the lots that serve it and the good pieces out of them. A lot's first-quality
 *  pieces belong to its one line; a lot that serves several shares them out by their planned pieces (largest remainder), and
 *  counts for none of them when those were not said. */
export function progressOfOrder(db: Db, orderId: number): Map<number, LineProgress> {
  const byLine = new Map<number, LineProgress>();
  for (const lot of lotsServing(db, orderId)) {
    const progress = byLine.get(lot.orderLineId) ?? { lots: [], goodPieces: 0 };
    const goodPieces = goodPiecesOf(lot);
    progress.lots.push({ ...lot, goodPieces, shared: lot.lineCount > 1 });
    progress.goodPieces += goodPieces ?? 0;
    byLine.set(lot.orderLineId, progress);
  }
  return byLine;
}

function goodPiecesOf(lot: LotServingLine): number | null {
  if (lot.firstQuality === null) return null;
  if (lot.lineCount === 1) return lot.firstQuality;
  if (lot.pieces === null || lot.linePieces === null) return null;
  const [mine = 0] = largestRemainder({
    weights: [lot.pieces, lot.linePieces - lot.pieces],
    total: lot.firstQuality,
    field: 'pieces',
  });
  return mine;
}
