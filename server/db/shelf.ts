import { and, count, eq, getTableColumns, isNotNull, isNull, sql } from 'drizzle-orm';
import { alias } from 'drizzle-orm/sqlite-core';
import type { Db } from './open.ts';
import { type StockLotRow, stockLots } from './tables/stock.ts';

/* What the shelf holds of a dye or an auxiliary: containers as bought (mg of a solid, µL of a liquid), and the solutions made of it
 * (µL) beside them. Closed containers are left out. */

/** The column of a container that says what is in it. */
type ItemColumn = typeof stockLots.dyeId | typeof stockLots.auxiliaryId;

const onHand = sql<number>`(select coalesce(sum(l.quantity), 0) from stock_ledger l where l.stock_lot_id = ${stockLots.id})`;

/** Open containers with what is in each: to be joined as `c` by its `item_id`, for `shelfSums`. */
export const openContainers = (item: ItemColumn) =>
  sql`(select ${item} as item_id, ${stockLots.id} as id, ${stockLots.concPpm} as conc_ppm, ${stockLots.recalledAt} as recalled_at,
    ${stockLots.receivedQuantity} as received, ${stockLots.bestBeforeOn} as best_before_on, ${onHand} as on_hand
    from ${stockLots} where ${item} is not null and ${stockLots.closedAt} is null) c`;

const asBought = sql`c.conc_ppm is null and c.recalled_at is null`;
/** Sums over the open containers of one item. What has been recalled counts only as recalled. */
export const shelfSums = {
  onHandQuantity: sql<number>`coalesce(sum(case when ${asBought} then c.on_hand end), 0)`,
  receivedQuantity: sql<number>`coalesce(sum(case when ${asBought} then c.received end), 0)`,
  solutionUl: sql<number>`coalesce(sum(case when c.conc_ppm is not null and c.recalled_at is null then c.on_hand end), 0)`,
  openContainers: sql<number>`count(c.id)`,
  recalledContainers: sql<number>`coalesce(sum(c.recalled_at is not null), 0)`,
  /** The earliest among containers as bought that hold some. */
  bestBeforeOn: sql<string | null>`min(case when ${asBought} and c.on_hand > 0 then c.best_before_on end)`,
};

export type ContainerOnShelf = StockLotRow & { onHandQuantity: number; sourceCode: string | null };

const source = alias(stockLots, 'source');
/** The open containers of one item, as bought before solutions, oldest first. */
export const openContainersOf = (db: Db, item: ItemColumn, itemId: number): ContainerOnShelf[] =>
  db
    .select({ ...getTableColumns(stockLots), onHandQuantity: onHand, sourceCode: source.code })
    .from(stockLots)
    .leftJoin(source, eq(source.id, stockLots.sourceStockLotId))
    .where(and(eq(item, itemId), isNull(stockLots.closedAt)))
    .orderBy(sql`${stockLots.concPpm} is not null`, stockLots.receivedOn, stockLots.id)
    .all();

export const closedContainerCount = (db: Db, item: ItemColumn, itemId: number): number =>
  db
    .select({ count: count() })
    .from(stockLots)
    .where(and(eq(item, itemId), isNotNull(stockLots.closedAt)))
    .get()?.count ?? 0;
