import type { Db } from '../db/open.ts';
import type { CustomerRow, OrderLineRow } from '../db/tables/orders.ts';
import { displayOfSwatches } from '../readings/queries.ts';
import { theCustomer } from './customers.ts';
import { mixedLines } from './mixing.ts';
import { theOrderLine } from './orderLines.ts';
import { type LineProgress, progressOfOrder } from './progress.ts';
import { linesOfOrder, type OrderOverview } from './queries.ts';
import type { Order, OrderInList, OrderLine, OrderLineShown } from './schemas.ts';
import { theOrder } from './takeOrder.ts';

export const customerResource = <Row extends CustomerRow>({ id, archivedAt, ...row }: Row) => ({
  ...row,
  customerId: id,
  archived: archivedAt !== null,
});

export const orderInList = ({ id, note: _note, version: _version, ...row }: OrderOverview): OrderInList => ({
  ...row,
  orderId: id,
});

const lineOf = ({ id, ...line }: OrderLineRow, progress: LineProgress | undefined) => ({
  ...line,
  orderLineId: id,
  lots: progress?.lots ?? [],
  goodPieces: progress?.goodPieces ?? 0,
});

export function orderLineResource(db: Db, orderLineId: number): OrderLine {
  const { line, order } = theOrderLine(db, orderLineId);
  return lineOf(line, progressOfOrder(db, order.id).get(orderLineId));
}

export function orderResource(db: Db, orderId: number): Order {
  const { id, ...row } = theOrder(db, orderId);
  const progress = progressOfOrder(db, orderId);
  return {
    ...row,
    orderId: id,
    customerName: theCustomer(db, row.customerId).name,
    lines: linesOfOrder(db, orderId).map(({ line }) => lineOf(line, progress.get(line.id))),
  };
}

/** The lines of an order as its page shows them. */
export function linesShown(db: Db, orderId: number): OrderLineShown[] {
  const lines = linesOfOrder(db, orderId);
  const progress = progressOfOrder(db, orderId);
  const mixed = new Map(mixedLines(db, orderId).map((m) => [m.orderLineId, m.lotNumbers]));
  const swatchIds = lines.flatMap((l) => (l.swatch ? [l.swatch.swatchId] : []));
  const colours = displayOfSwatches(db, swatchIds);
  return lines.map(({ line, fibre, swatch, recipe }) => {
    const colour = swatch && colours.get(swatch.swatchId);
    return {
      ...lineOf(line, progress.get(line.id)),
      fibre,
      swatch: swatch && { ...swatch, hex: colour?.hex ?? null, bands: colour?.bands ?? [] },
      recipe,
      mixedLots: mixed.get(line.id) ?? [],
    };
  });
}
