import { type SQL, sql } from 'drizzle-orm';

/** When a cost line c counts: the first account of a lot, which is closed_lots t, at its end; what was corrected or added later when
 *  it was written. */
export const bookedAt: SQL = sql`case when c.corrects_id is null and c.added = 0 then t.finished_at else c.written_at end`;
