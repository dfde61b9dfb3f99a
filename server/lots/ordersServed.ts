import type { Db } from '../db/open.ts';
import { invalid } from '../errors.ts';
import type { PlanInput } from '../plans/schemas.ts';
import { linesServed, orderLineForPlan, piecesInHand } from './queries.ts';

/** Whether a lot may be planned for these order lines: not for an order that is over, and more pieces than a line wants only when
 *  somebody says so. */
export function demandOpenOrders(tx: Db, input: PlanInput): void {
  for (const { orderLineId, pieces } of input.orderLines) {
    const found = orderLineForPlan(tx, orderLineId);
    if (!found) throw invalid({ orderLineId: 'That order line is not there.' });
    if (found.orderStatus === 'cancelled' || found.orderStatus === 'delivered')
      throw invalid({
        orderLineId: `Order ${found.orderNumber} is ${found.orderStatus}: open it again on its page before you plan for it.`,
      });
    const wanted = found.line.pieces;
    const mine = pieces ?? (input.orderLines.length === 1 ? input.pieces : null);
    if (wanted === null || mine === null || input.morePiecesConfirmed) continue;
    const others = piecesInHand(tx, orderLineId);
    if (others + mine > wanted)
      throw invalid({
        morePiecesConfirmed: `“${found.line.description}” wants ${wanted} ${wanted === 1 ? 'piece' : 'pieces'}; with these ${mine} there would be ${others + mine}. Change the pieces, or tick that more are meant.`,
      });
  }
}

/** Orders that a lot is for and that were cancelled, in words for whoever has it in hand; empty when there are none. */
export function cancelledWords(db: Db, lotId: number): string {
  const lines = linesServed(db, lotId);
  const cancelled = [
    ...new Set(lines.filter((l) => l.orderStatus === 'cancelled').map((l) => `${l.orderNumber} (${l.customerName})`)),
  ];
  if (cancelled.length === 0) return '';
  const others = lines.some((l) => l.orderStatus !== 'cancelled');
  return `${cancelled.length === 1 ? 'Order' : 'Orders'} ${cancelled.join(' and ')} ${cancelled.length === 1 ? 'has' : 'have'} been cancelled${others ? '; the lot is for others too' : ''}. Ask before you go on.`;
}
