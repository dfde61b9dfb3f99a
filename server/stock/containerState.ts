import type { Db } from '../db/open.ts';
import { found, Refusal } from '../errors.ts';
import { type StockLotOverview, stockLotOverview } from './queries.ts';

/* What state a container must be in for something to be done with it. Each refuses a container that is not there. */

export const theContainer = (db: Db, id: number): StockLotOverview => found(stockLotOverview(db, id), 'container');

export function openContainer(db: Db, id: number): StockLotOverview {
  const row = theContainer(db, id);
  if (row.closedAt !== null) throw new Refusal('conflict', `Container ${row.code} is closed.`);
  return row;
}

export function closedContainer(db: Db, id: number): StockLotOverview & { closedAt: number } {
  const row = theContainer(db, id);
  if (row.closedAt === null) throw new Refusal('conflict', `Container ${row.code} is open.`);
  return { ...row, closedAt: row.closedAt };
}

export function recalledContainer(db: Db, id: number): StockLotOverview {
  const row = theContainer(db, id);
  if (row.recalledAt === null) throw new Refusal('conflict', `Container ${row.code} is not recalled.`);
  return row;
}

/** A container that a solution can be made from. */
export function powderContainer(db: Db, id: number): StockLotOverview & { unit: 'mg' } {
  const row = openContainer(db, id);
  if (row.unit !== 'mg' || row.concPpm !== null || row.kind === 'fibre')
    throw new Refusal('conflict', 'A stock solution is made from a container of powder.');
  if (row.recalledAt !== null)
    throw new Refusal('conflict', `Container ${row.code} is recalled: make no solution from it.`);
  return { ...row, unit: 'mg' };
}
