import type { Deps } from '../deps.ts';
import { findStudio } from '../settings/queries.ts';
import { isDailyDue } from './dueTimes.ts';
import { failUnfinishedRuns, faultOf, lastDaily, theBackupSettings } from './queries.ts';
import { clearLeftovers, isBackupRunning, takeBackup } from './takeBackup.ts';
import { stopTrials, tryWhenDue } from './trials.ts';

const LOOK_EVERY_MS = 60_000;

/** Looks once and makes the daily backup when it is due; answers whether it made one. */
export async function backUpWhenDue(deps: Deps): Promise<boolean> {
  const { db } = deps;
  const studio = findStudio(db);
  const settings = theBackupSettings(db);
  if (!studio || settings.daily === 0 || isBackupRunning(deps) || faultOf(deps.sqlite)) return false;
  const due = isDailyDue({ now: deps.now(), dailyAt: settings.dailyAt, zone: studio.zone, ...lastDaily(db) });
  if (due) await takeBackup(deps, { how: 'daily', by: null });
  return due;
}

/** Makes the daily backups, and the trials that show whether the record would come back, as long as the server runs; answers how to
 *  stop. What fails stands in the list of runs and on the Today page, and is told to `say`. */
export function startDailyBackups(deps: Deps, say: (line: string) => void): () => void {
  failUnfinishedRuns(deps.db, deps.now());
  clearLeftovers(deps).catch((error: unknown) => say(`Left over from a backup: ${(error as Error).message}`));
  const look = async (): Promise<void> => {
    await backUpWhenDue(deps).catch((error: unknown) => say(`The daily backup failed: ${(error as Error).message}`));
    await tryWhenDue(deps).catch((error: unknown) => say(`A trial could not be made: ${(error as Error).message}`));
  };
  const timer = setInterval(() => void look(), LOOK_EVERY_MS);
  timer.unref();
  return () => {
    clearInterval(timer);
    stopTrials(deps);
  };
}
