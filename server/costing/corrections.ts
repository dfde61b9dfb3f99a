import type { CostLineRow } from '../db/tables/lots.ts';
import type { Actor, Deps } from '../deps.ts';
import { found, invalid, Refusal } from '../errors.ts';
import { settleStock, standingLines } from '../lots/lateCosts.ts';
import { lotById } from '../lots/queries.ts';
import { costMinorOf } from '../plans/rates.ts';
import { costLineById, costLineRowsOf, insertCorrection } from './queries.ts';

export { standingLines };

export interface CorrectionInput {
  costLineId: number;
  reason: string;
  /** What is right; null when the line should not be there at all. */
  replacement: { quantity: number; priceMinor: number; perQuantity: number } | null;
}

/** Corrects one cost line of a closed lot: a line takes it back whole, another says what is right, both with the reason. The
 *  first stays as it was written. Where the quantity of a container changes, its ledger is set right too, at the
 *  time of the weighing: a count in between had seen what was really there. */
export function correctCostLine(deps: Deps, input: CorrectionInput, by: Actor): CostLineRow[] {
  const reason = input.reason.trim();
  if (reason === '') throw invalid({ reason: 'Say why, for the books.' });
  return deps.db.transaction((tx) => {
    const line = found(costLineById(tx, input.costLineId), 'cost line');
    const lot = lotById(tx, line.lotId);
    if (!lot || lot.finishedAt === null)
      throw new Refusal('conflict', 'The lot is not closed yet: correct what happened at the bench instead.');
    const all = costLineRowsOf(tx, line.lotId);
    if (!standingLines(all).some((l) => l.id === line.id))
      throw new Refusal('conflict', 'That line was corrected before. Correct the line that stands instead of it.');
    const { replacement } = input;
    if (replacement && (replacement.quantity <= 0 || replacement.perQuantity <= 0))
      throw invalid({ quantity: 'More than nothing; or choose that nothing stands instead.' });
    const now = deps.now();
    const { id, ...same } = line;
    const rest = {
      ...same,
      added: 0,
      clientId: null,
      contentDigest: null,
      lateEntryId: null,
      correctsId: id,
      reason,
      writtenAt: now,
      writtenBy: by.personId,
    };
    const ordinal = (all.at(-1)?.ordinal ?? 0) + 1;
    const written = [
      insertCorrection(tx, {
        ...rest,
        ordinal,
        correction: 'reversal',
        quantity: line.quantity === 0 ? 0 : -line.quantity,
        costMinor: line.costMinor === 0 ? 0 : -line.costMinor,
      }),
    ];
    if (replacement) {
      written.push(
        insertCorrection(tx, {
          ...rest,
          ordinal: ordinal + 1,
          correction: 'replacement',
          ...replacement,
          costMinor: costMinorOf(replacement.quantity, replacement),
        }),
      );
    }
    if (line.stockLotId !== null && (replacement?.quantity ?? 0) !== line.quantity)
      settleStock(tx, lot, line.stockLotId, `cost of lot ${lot.number} corrected: ${reason}`, by, now);
    return written;
  });
}
