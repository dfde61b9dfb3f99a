import type { Db } from '../db/open.ts';
import type { OrderRow } from '../db/tables/orders.ts';
import { invalid, Refusal } from '../errors.ts';
import { demandMixingNotes } from './mixing.ts';
import { shortLines } from './progress.ts';
import { lotsServing, moveOrder } from './queries.ts';
import type { OrderStatus } from './schemas.ts';
import { theOrder } from './takeOrder.ts';

/** Where an order may go, by the noun that takes it there. Reopening goes back to work when a lot serves it, to open when none does. */
const moveNames = ['work', 'readiness', 'delivery', 'cancellation', 'reopening'] as const;
export type Move = (typeof moveNames)[number];
const moves: Readonly<Record<Move, { from: readonly OrderStatus[]; to: OrderStatus }>> = {
  work: { from: ['open'], to: 'inWork' },
  readiness: { from: ['open', 'inWork'], to: 'ready' },
  delivery: { from: ['ready'], to: 'delivered' },
  cancellation: { from: ['open', 'inWork', 'ready'], to: 'cancelled' },
  reopening: { from: ['ready', 'delivered', 'cancelled'], to: 'open' },
};

const words: Record<OrderStatus, string> = {
  open: 'open',
  inWork: 'in work',
  ready: 'ready',
  delivered: 'delivered',
  cancelled: 'cancelled',
};

/** Moves an order on; refuses from a state that the move does not start from, to let goods of several lots out without a note,
 *  and to call ready what is short of pieces unless that is said. */
export function move(db: Db, orderId: number, by: Move, said: { shortConfirmed?: boolean } = {}): OrderRow {
  return db.transaction((tx) => {
    const order = theOrder(tx, orderId);
    if (by === 'readiness' || by === 'delivery') demandMixingNotes(tx, orderId);
    if (by === 'readiness' && !said.shortConfirmed) demandAllPieces(tx, orderId);
    const served = lotsServing(tx, orderId).some((lot) => lot.status !== 'abandoned');
    const to = by === 'reopening' && served ? 'inWork' : moves[by].to;
    const moved = moveOrder(tx, orderId, moves[by].from, to);
    if (!moved) {
      throw new Refusal('conflict', `Order ${order.number} is ${words[order.status]}; that does not go from there.`);
    }
    return moved;
  });
}

/** Refuses to call an order ready whose lots have brought fewer good pieces than it wants, until somebody says that it goes so. */
function demandAllPieces(tx: Db, orderId: number): void {
  const short = shortLines(tx, orderId);
  if (short.length === 0) return;
  const lines = short.map((l) => `${l.goodPieces} of ${l.pieces} good pieces of “${l.description}”`).join(', ');
  throw invalid(
    { shortConfirmed: `There are ${lines}.` },
    `There are ${lines}. Plan the rest, or say that it goes out short.`,
  );
}

/** An order that was open is in work from its first lot on; anything else stays as it is. For the plan of a lot. */
export function takeInWork(db: Db, orderId: number): void {
  moveOrder(db, orderId, ['open'], 'inWork');
}

/** What may be done with an order in a state, in the order in which it would be: the likely next step stands out. */
export function movesOf(status: OrderStatus): { noun: Move; label: string; primary: boolean }[] {
  const labels: Record<Move, string> = {
    work: 'Take in work',
    readiness: 'It is ready',
    delivery: 'It was delivered',
    cancellation: 'Cancel the order',
    reopening: 'Open it again',
  };
  const likely: Partial<Record<OrderStatus, Move>> = { open: 'work', inWork: 'readiness', ready: 'delivery' };
  return moveNames
    .filter((noun) => moves[noun].from.includes(status))
    .map((noun) => ({ noun, label: labels[noun], primary: likely[status] === noun }));
}
