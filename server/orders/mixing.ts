import type { Db } from '../db/open.ts';
import type { OrderLineRow } from '../db/tables/orders.ts';
import { invalid, Refusal } from '../errors.ts';
import { theOrderLine } from './orderLines.ts';
import { linesOfOrder, lotsServing, updateMixingNote } from './queries.ts';
import { isClosed } from './schemas.ts';

interface MixedLine {
  orderLineId: number;
  description: string;
  lotNumbers: string[];
  mixingNote: string;
}

/** Lines whose goods come out of more than one lot. No two lots dye quite alike, so such goods go to a customer together
 *  only with a note of how they are kept apart or why they may lie side by side. A lot that is only planned, or was
 *  given up, has no goods to mix. */
export function mixedLines(db: Db, orderId: number): MixedLine[] {
  const lots = lotsServing(db, orderId).filter((lot) => lot.status === 'onBench' || lot.status === 'finished');
  return linesOfOrder(db, orderId).flatMap(({ line }) => {
    const lotNumbers = lots.filter((lot) => lot.orderLineId === line.id).map((lot) => lot.number);
    return lotNumbers.length > 1
      ? [{ orderLineId: line.id, description: line.description, lotNumbers, mixingNote: line.mixingNote }]
      : [];
  });
}

/** Refuses when goods of several lots would go out on one line without a note. */
export function demandMixingNotes(db: Db, orderId: number): void {
  const silent = mixedLines(db, orderId).filter((line) => line.mixingNote === '');
  if (silent.length === 0) return;
  throw invalid(
    Object.fromEntries(
      silent.map((line) => [
        `mixingNote.${line.orderLineId}`,
        `“${line.description}” comes from lots ${line.lotNumbers.join(' and ')}: say how they go together.`,
      ]),
    ),
    `Goods of several lots are on ${silent.map((line) => `“${line.description}”`).join(', ')}. Note how they go together first.`,
  );
}

/** Notes how goods of several lots go together on a line. After delivery the note stands. */
export function noteMixing(db: Db, orderLineId: number, words: string): OrderLineRow {
  const mixingNote = words.trim();
  if (mixingNote === '')
    throw invalid({
      [`mixingNote.${orderLineId}`]: 'Say how they go together: kept apart by lot, or compared and alike.',
    });
  return db.transaction((tx) => {
    const { order } = theOrderLine(tx, orderLineId);
    if (isClosed(order.status))
      throw new Refusal('conflict', `Order ${order.number} is ${order.status}; its notes stand.`);
    return updateMixingNote(tx, orderLineId, mixingNote);
  });
}
