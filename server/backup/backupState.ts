import type { Db } from '../db/open.ts';
import { findStudio } from '../settings/queries.ts';
import { firstGoodRun, lastPassedTrial, lastTrial, newestGoodRun, theBackupSettings } from './queries.ts';

/** A week, and three days in which a studio may be shut. */
const TRIAL_OVERDUE_MS = 10 * 24 * 3_600_000;

export interface BackupState {
  lastGoodAt: number | null;
  /** Longer ago than the studio wants, or dated in the future by a clock that ran ahead. */
  isOld: boolean;
  /** When an archive was last restored for trial and all was well. */
  triedAt: number | null;
  /** What the last trial of an archive found wrong; '' when it passed or there was none. */
  trialFailure: string;
  isTrialOverdue: boolean;
  /** Why the last check of the running database could not be made; '' when it was. */
  checkFailure: string;
}

const isLongAgo = (since: number, now: number, limitMs: number): boolean => since > now || now - since > limitMs;

/** When the last good backup was made and tried, and whether that is longer ago than it should be. A new studio has as long for
 *  its first. */
export function backupState(db: Db, now: number): BackupState {
  const lastGoodAt = newestGoodRun(db)?.finishedAt ?? null;
  const { warnAfterHours } = theBackupSettings(db);
  const since = lastGoodAt ?? findStudio(db)?.createdAt ?? now;
  const triedAt = lastPassedTrial(db, 'archive')?.finishedAt ?? null;
  const triableSince = triedAt ?? firstGoodRun(db)?.finishedAt ?? null;
  return {
    lastGoodAt,
    isOld: isLongAgo(since, now, warnAfterHours * 3_600_000),
    triedAt,
    trialFailure: lastTrial(db, 'archive')?.failure ?? '',
    isTrialOverdue: triableSince !== null && isLongAgo(triableSince, now, TRIAL_OVERDUE_MS),
    checkFailure: lastTrial(db, 'database')?.failure ?? '',
  };
}
