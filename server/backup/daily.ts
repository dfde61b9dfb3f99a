import { DateTime } from 'luxon';
import type { Deps } from '../deps.ts';
import { findStudio } from '../settings/queries.ts';
import { failUnfinishedRuns, lastDaily, theBackupSettings } from './queries.ts';
import { clearLeftovers, isBackupRunning, takeBackup } from './takeBackup.ts';

const LOOK_EVERY_MS = 60_000;
const RETRY_AFTER_MS = 3_600_000;

/** The last instant at which the daily backup was to be made, in the studio's zone. */
export function lastOccurrence(now: number, dailyAt: string, zone: string): number {
  const [hour = 0, minute = 0] = dailyAt.split(':').map(Number);
  const today = DateTime.fromMillis(now, { zone }).set({ hour, minute, second: 0, millisecond: 0 });
  return (today.toMillis() <= now ? today : today.minus({ days: 1 })).toMillis();
}

/** Whether the daily backup is to be made now: its time has come and it was not made since. A computer that slept at that
 *  time makes it when it wakes; one that failed is tried again after an hour. */
export function isDailyDue(input: {
  now: number;
  dailyAt: string;
  zone: string;
  triedAt: number | null;
  goodAt: number | null;
}): boolean {
  const dueAt = lastOccurrence(input.now, input.dailyAt, input.zone);
  if (input.goodAt !== null && input.goodAt >= dueAt) return false;
  return input.triedAt === null || input.triedAt < dueAt || input.now - input.triedAt >= RETRY_AFTER_MS;
}

/** Looks once and makes the daily backup when it is due; answers whether it made one. */
export async function backUpWhenDue(deps: Deps): Promise<boolean> {
  const { db } = deps;
  const studio = findStudio(db);
  const settings = theBackupSettings(db);
  if (!studio || settings.daily === 0 || isBackupRunning(deps)) return false;
  const due = isDailyDue({ now: deps.now(), dailyAt: settings.dailyAt, zone: studio.zone, ...lastDaily(db) });
  if (due) await takeBackup(deps, { how: 'daily', by: null });
  return due;
}

/** Makes the daily backups as long as the server runs; answers how to stop. A failed one stands in the list of runs and on
 *  the Today page, and is told to `say`. */
export function startDailyBackups(deps: Deps, say: (line: string) => void): () => void {
  failUnfinishedRuns(deps.db, deps.now());
  clearLeftovers(deps).catch((error: unknown) => say(`Left over from a backup: ${(error as Error).message}`));
  const timer = setInterval(() => {
    backUpWhenDue(deps).catch((error: unknown) => say(`The daily backup failed: ${(error as Error).message}`));
  }, LOOK_EVERY_MS);
  timer.unref();
  return () => clearInterval(timer);
}
