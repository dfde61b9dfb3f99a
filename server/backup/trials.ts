import { rm, stat, statfs } from 'node:fs/promises';
import { join } from 'node:path';
import type { BackupRunRow } from '../db/tables/keeping.ts';
import type { Deps } from '../deps.ts';
import { findStudio } from '../settings/queries.ts';
import { isArchiveTrialDue, isDatabaseTrialDue } from './dueTimes.ts';
import {
  damageFault,
  faultOf,
  findingsApart,
  insertTrial,
  lastTrial,
  newestGoodRun,
  readingFrom,
  stopWriting,
  theBackupSettings,
  tryApart,
} from './queries.ts';
import { failuresOf, type TrialAnswer, verifyStudio } from './verify.ts';

/* Whether the record would come back is found out by trying: each backup before it counts, the newest archive every week, the
   running database every day. */

/** Room that must be left on the disk of the studio beside what is unpacked for a while. */
const ROOM_LEFT_BYTES = 200_000_000;

/** Trials under way, by what ends them; one of a kind at a time. */
const underWay = new WeakMap<object, Map<string, () => void>>();
function waysToEnd({ sqlite }: Pick<Deps, 'sqlite'>): Map<string, () => void> {
  const known = underWay.get(sqlite) ?? new Map<string, () => void>();
  underWay.set(sqlite, known);
  return known;
}
export const stopTrials = (deps: Pick<Deps, 'sqlite'>): void => {
  for (const stop of waysToEnd(deps).values()) stop();
};

/** Holds the copy that is about to become an archive against everything that must be true of a studio. `apart`: in a process of
 *  its own (see copyOf). */
export async function trySnapshot(deps: Deps, snapshot: string, apart: boolean): Promise<TrialAnswer> {
  const { dataDir } = deps.config;
  if (!apart || deps.sqlite.memory) return failuresOf(await readingFrom(snapshot, (db) => verifyStudio(db, dataDir)));
  return tryApart<TrialAnswer>(['snapshot', snapshot, dataDir]).said;
}

/** Restores the newest good archive into a folder that is thrown away, and holds what comes out against everything that must be
 *  true. Answers what is wrong; '' when it would come back. */
export async function tryNewestArchive(deps: Deps): Promise<string> {
  const { db, now } = deps;
  const run = newestGoodRun(db);
  if (!run) return '';
  const startedAt = now();
  const failure = await archiveFailure(deps, run);
  insertTrial(db, { kind: 'archive', startedAt, finishedAt: now(), file: run.file, failure });
  return failure;
}

async function archiveFailure(deps: Deps, run: BackupRunRow): Promise<string> {
  const { config, sqlite, newId } = deps;
  const there = await stat(run.file).catch(() => undefined);
  if (run.removedAt !== null || !there?.isFile()) return 'It is no longer there.';
  const database = await stat(sqlite.name).catch(() => ({ size: 0 }));
  // Of an older version it is brought up to date, which keeps a copy.
  const needed = 2 * there.size + 2 * database.size + ROOM_LEFT_BYTES;
  const { bavail, bsize } = await statfs(config.dataDir);
  if (bavail * bsize < needed)
    return `There is no room to unpack it: that takes ${Math.ceil(needed / 1e6)} MB on the disk of ${config.dataDir}, and ${Math.floor((bavail * bsize) / 1e6)} MB are free.`;
  const folder = join(config.dataDir, `.trial-${newId()}`);
  const trial = tryApart<TrialAnswer>([
    'archive',
    run.file,
    folder,
    config.dataDir,
    ...(run.sha256 === null ? [] : [run.sha256]),
  ]);
  waysToEnd(deps).set('archive', trial.stop);
  try {
    return (await trial.said).wrong.join('; ');
  } catch (error) {
    return `It could not be tried: ${(error as Error).message}`;
  } finally {
    waysToEnd(deps).delete('archive');
    await rm(folder, { recursive: true, force: true });
  }
}

/** Checks the running database whole. Damage ends all writing, and every page says so; answers what is wrong. */
export async function tryDatabase(deps: Deps): Promise<string> {
  const { db, sqlite, now } = deps;
  const startedAt = now();
  const check = findingsApart(sqlite, db);
  waysToEnd(deps).set('database', check.stop);
  const failure = await check.done
    .then(([finding]) => {
      if (finding !== undefined) stopWriting(sqlite, damageFault(finding));
      return '';
    })
    .catch((error: Error) => error.message)
    .finally(() => waysToEnd(deps).delete('database'));
  const fault = faultOf(sqlite);
  // Into a damaged file nothing more is written.
  if (fault) return fault.words;
  insertTrial(db, { kind: 'database', startedAt, finishedAt: now(), file: sqlite.name, failure });
  return failure;
}

/** Looks once, and makes the trials that are due; answers which. */
export async function tryWhenDue(deps: Deps): Promise<('archive' | 'database')[]> {
  const { db, sqlite, now } = deps;
  const studio = findStudio(db);
  const ends = waysToEnd(deps);
  if (!studio || ends.size > 0 || faultOf(sqlite)) return [];
  const made: ('archive' | 'database')[] = [];
  if (isDatabaseTrialDue(now(), lastTrial(db, 'database') ?? null)) {
    await tryDatabase(deps);
    made.push('database');
  }
  const newest = newestGoodRun(db);
  const { dailyAt } = theBackupSettings(db);
  const last = lastTrial(db, 'archive') ?? null;
  if (
    newest &&
    !faultOf(sqlite) &&
    isArchiveTrialDue({ now: now(), dailyAt, zone: studio.zone, newestFile: newest.file, last })
  ) {
    await tryNewestArchive(deps);
    made.push('archive');
  }
  return made;
}
