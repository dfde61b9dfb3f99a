import { and, eq, gt, sql } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import { type LogEntryRow, type LotAdjustmentRow, logEntries, lotAdjustments, lotTargets } from '../db/tables/lots.ts';

/** A number that rises with all that is new on a lot's bench: an entry of its log, and the answer to a question, which may be
 *  none. */
export const newestOfBench = (db: Db, lotId: number): number =>
  db.get<{ newest: number }>(
    sql`select coalesce((select max(id) from log_entries where lot_id = ${lotId}), 0)
      + (select count(*) from questions where lot_id = ${lotId} and answered_at is not null) as newest`,
  ).newest;

export const insertAdjustment = (db: Db, row: typeof lotAdjustments.$inferInsert): LotAdjustmentRow =>
  db.insert(lotAdjustments).values(row).returning().get();

export const insertTarget = (db: Db, row: typeof lotTargets.$inferInsert): void => {
  db.insert(lotTargets).values(row).run();
};

/** The discards that a way out wrote: they follow it at once, in its own transaction. */
export const discardsOf = (db: Db, adjustmentEntry: LogEntryRow): LogEntryRow[] => {
  const after = db
    .select()
    .from(logEntries)
    .where(and(eq(logEntries.lotId, adjustmentEntry.lotId), gt(logEntries.id, adjustmentEntry.id)))
    .orderBy(logEntries.id)
    .all();
  const end = after.findIndex((e, i) => e.kind !== 'discard' || e.id !== adjustmentEntry.id + 1 + i);
  return end === -1 ? after : after.slice(0, end);
};
