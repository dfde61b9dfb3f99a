import type { Db } from '../db/open.ts';
import { findStudio } from '../settings/queries.ts';
import { lastGoodBackupAt, theBackupSettings } from './queries.ts';

/** When the last good backup was made, and whether that is longer ago than the studio wants. A new studio has as long for
 *  its first. */
export function backupState(db: Db, now: number): { lastGoodAt: number | null; isOld: boolean } {
  const lastGoodAt = lastGoodBackupAt(db);
  const { warnAfterHours } = theBackupSettings(db);
  const since = lastGoodAt ?? findStudio(db)?.createdAt ?? now;
  return { lastGoodAt, isOld: now - since > warnAfterHours * 3_600_000 };
}
