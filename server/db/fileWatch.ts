import { randomInt } from 'node:crypto';
import {
  type BigIntStats,
  closeSync,
  existsSync,
  fstatSync,
  fsyncSync,
  openSync,
  readFileSync,
  readSync,
  renameSync,
  rmSync,
  statSync,
  writeFileSync,
} from 'node:fs';
import { dirname, join } from 'node:path';
import { hasStudio, StartRefusal } from './dataFolder.ts';
import { openForReading, type Sqlite } from './open.ts';
import { closeHeads, HEADS_FILE, keepHeads, lostSince, notedHeads } from './proof/heads.ts';
import { isDamage, lookAtFile, lookBy, type RecordFault } from './soundness.ts';

/* Whether the file that is open is the one that the next start will find. Deleting or replacing an open file goes unnoticed by
   SQLite: it goes on writing into what no longer has a name, and every entry is acknowledged and lost. */

const LOOK_EVERY_MS = 2000;
const STAMP_EVERY_MS = 60_000;
/** Beside the database: the stamps with which this folder has last worked. */
export const STAMP_FILE = 'studio.stamp';
/** SQLite, Database File Format, 1.3: the user version, which is ours to use, as four bytes at this place of the file. */
const STAMP_AT = 60;

const FAULTS: Record<Exclude<RecordFault['kind'], 'damaged'>, string> = {
  gone: 'The database file was deleted, or its folder was taken away, while the service was running.',
  replaced: 'Another file was put in the place of the database while the service was running.',
  overwritten: 'Something else has written over the database file while the service was running.',
  logGone:
    'The write-ahead log beside the database, which holds its newest entries, was deleted or replaced while the service was running.',
};
const faultOfKind = (kind: keyof typeof FAULTS): RecordFault => ({
  kind,
  words: `${FAULTS[kind]} The service has to be stopped, and the file or a backup put back, before it is started again.`,
});

const sameFile = (a: BigIntStats, b: BigIntStats): boolean => a.dev === b.dev && a.ino === b.ino;

/** What has the name now; undefined when nothing has, or when it cannot be reached. */
function found(path: string): BigIntStats | undefined {
  try {
    return statSync(path, { bigint: true, throwIfNoEntry: false });
  } catch {
    return undefined;
  }
}

interface Stamps {
  now: number;
  before: number;
  /** Whether a service was at work, which keeps the newest entries in the write-ahead log beside the database. */
  state: 'open' | 'closed';
}

function keptStamps(dataDir: string): Stamps | null {
  try {
    const [, now, before, state] =
      /^(\d+) (\d+) (open|closed)$/m.exec(readFileSync(join(dataDir, STAMP_FILE), 'utf8')) ?? [];
    return state === 'open' || state === 'closed' ? { now: Number(now), before: Number(before), state } : null;
  } catch {
    return null;
  }
}

/** On the disk before the database has the stamp, and with the one before it: whichever of the two a power cut leaves in the
 *  database is known. */
function keepStamps(dataDir: string, stamps: Stamps): void {
  const draft = join(dataDir, `${STAMP_FILE}.new`);
  const { now, before, state } = stamps;
  writeFileSync(draft, `${now} ${before} ${state}\nWhich database this folder has last worked with.\n`, {
    mode: 0o600,
  });
  const handle = openSync(draft, 'r+');
  fsyncSync(handle);
  closeSync(handle);
  renameSync(draft, join(dataDir, STAMP_FILE));
}

const stampOf = (sqlite: Sqlite): number => Number(sqlite.pragma('user_version', { simple: true }));

/** Refuses a folder in which a service was stopped by force and whose write-ahead log has gone since, where nothing tells what was in
 *  it (demandAcknowledged). To be asked before anything is opened, which would make a new one. */
export function demandLog(dataDir: string): void {
  const file = join(dataDir, 'studio.sqlite');
  if (!isLogMissing(dataDir) || notedHeads(dataDir).length > 0) return;
  throw new StartRefusal(
    `${file}-wal is missing. The service was stopped by force, and the newest entries were in that file. Put it back where it was, or restore a backup. If they can be done without, or another program has written them into ${file}, delete ${join(dataDir, STAMP_FILE)} and start again.`,
  );
}

const isLogMissing = (dataDir: string): boolean => {
  const file = join(dataDir, 'studio.sqlite');
  return keptStamps(dataDir)?.state === 'open' && existsSync(file) && !existsSync(`${file}-wal`);
};

/** What had been acknowledged and is not in the database of a folder. It is looked for by a connection that only reads, so that a log
 *  that was cut off stays as it is: one that writes would carry its rest over and remove it. */
function lostIn(dataDir: string): string[] {
  const file = join(dataDir, 'studio.sqlite');
  const heads = notedHeads(dataDir);
  if (heads.length === 0 || !existsSync(file)) return [];
  const beside = [`${file}-wal`, `${file}-shm`].filter((name) => !existsSync(name));
  try {
    const { sqlite } = openForReading(file);
    try {
      // Another database altogether is for demandLastWorkedWith to refuse.
      return isLastWorkedWith(sqlite, keptStamps(dataDir)) ? lostSince(sqlite, heads) : [];
    } finally {
      sqlite.close();
    }
  } catch (error) {
    // The start that follows says so.
    if (isDamage(error)) return [];
    throw error;
  } finally {
    for (const name of beside) rmSync(name, { force: true });
  }
}

/** Refuses a database that does not hold all that was acknowledged, whichever way it was lost. A log that another program has carried
 *  over into the database, as any does that opens it and closes it again, has lost nothing. A folder without stamps is taken as it
 *  is. To be asked before anything is opened. */
export function demandAcknowledged(dataDir: string): void {
  if (!keptStamps(dataDir)) {
    rmSync(join(dataDir, HEADS_FILE), { force: true });
    return;
  }
  const lost = lostIn(dataDir);
  if (lost.length === 0) return;
  const file = join(dataDir, 'studio.sqlite');
  const how = isLogMissing(dataDir)
    ? `${file}-wal is missing. The service was stopped by force, and the newest entries were in that file`
    : `${file} does not hold all that was acknowledged: its write-ahead log (${file}-wal) was cut off or deleted, or an older copy was put in its place`;
  throw new StartRefusal(
    `${how}. Put back what was there, or restore a backup. If what is missing can be done without, delete ${join(dataDir, STAMP_FILE)} and start again. In detail: ${lost.join('; ')}.`,
  );
}

/** Says that the connection that was closed last has left nothing beside the database. */
function tellClosed(dataDir: string): void {
  const kept = keptStamps(dataDir);
  if (kept?.state === 'open') keepStamps(dataDir, { ...kept, state: 'closed' });
}

/** Closes the connection of a command. As the last one it takes the write-ahead log with it. */
export function closeBesideServer(sqlite: Sqlite): void {
  sqlite.close();
  if (!existsSync(`${sqlite.name}-wal`)) tellClosed(dirname(sqlite.name));
}

const isLastWorkedWith = (sqlite: Sqlite, kept: Stamps | null): boolean =>
  kept === null || [kept.now, kept.before].includes(stampOf(sqlite));

/** Refuses a database that is not the one with which the folder has last worked: an older copy or another studio’s. A folder that
 *  has no stamps yet is taken as it is. */
export function demandLastWorkedWith(sqlite: Sqlite): void {
  const dataDir = dirname(sqlite.name);
  const kept = keptStamps(dataDir);
  if (isLastWorkedWith(sqlite, kept)) return;
  const stampFile = join(dataDir, STAMP_FILE);
  throw new StartRefusal(
    `${sqlite.name} is not the database with which ${dataDir} has last worked: it was replaced by an older copy or another studio’s, or what stood in its write-ahead log is missing. Put back what was there, or restore a backup. If you have put this file there on purpose, delete ${stampFile} and start again.`,
  );
}

export interface FileWatch {
  /** Closes the connection, and keeps what tells the next start which database this was. */
  close: () => void;
  /** Gives the file another stamp, so that older copies of it can be told from it. */
  stamp: () => void;
}

/** Watches the open file by its name, by the write-ahead log beside it and by a stamp in its head, every two seconds and before each
 *  entry. Danger: the handle that is opened here must stay open as long as the connection does. To close any handle on a file drops
 *  this process’s locks on it, SQLite’s among them (POSIX advisory locks belong to process and file). */
export function watchFile(sqlite: Sqlite): FileWatch {
  const file = sqlite.name;
  const handle = openSync(file, 'r');
  const own = fstatSync(handle, { bigint: true });
  const named = found(file);
  // Some file systems give another number at every look: there only the name, the log and the stamp tell.
  const hasNumbers = named !== undefined && sameFile(named, own);
  const beside = new Map<string, BigIntStats>();
  const head = Buffer.alloc(4);
  const stampOnDisk = (): number | null => (readSync(handle, head, 0, 4, STAMP_AT) === 4 ? head.readUInt32BE(0) : null);
  let mayRead = new Set([stampOnDisk(), stampOf(sqlite)]);

  const look = (): RecordFault | null => {
    const now = found(file);
    if (now === undefined) return faultOfKind('gone');
    if (hasNumbers && !sameFile(now, own)) return faultOfKind('replaced');
    for (const name of [`${file}-wal`, `${file}-shm`]) {
      const there = found(name);
      const known = beside.get(name);
      if (known !== undefined && (there === undefined || (hasNumbers && !sameFile(there, known))))
        return faultOfKind('logGone');
      if (there !== undefined) beside.set(name, there);
    }
    return mayRead.has(stampOnDisk()) ? null : faultOfKind('overwritten');
  };

  let stampedAtChange = -1;
  const stamp = (): void => {
    // Copies made since the last change hold what the file holds.
    const changed = Number(sqlite.prepare('select total_changes()').pluck().get());
    if (changed === stampedAtChange || !hasStudio(sqlite) || lookAtFile(sqlite) !== null) return;
    const before = stampOf(sqlite);
    const now = randomInt(1, 2 ** 31 - 1);
    keepStamps(dirname(file), { now, before, state: 'open' });
    mayRead.add(now);
    sqlite.pragma(`user_version = ${now}`);
    // On the disk by now, so that nothing older will do.
    keepStamps(dirname(file), { now, before: now, state: 'open' });
    // Until all of the log has been carried over, the file may hold the stamp before.
    const [told] = sqlite.pragma('wal_checkpoint(PASSIVE)') as { busy: number; log: number; checkpointed: number }[];
    if (told && told.busy === 0 && told.log === told.checkpointed) mayRead = new Set([now]);
    stampedAtChange = changed;
  };
  /** A full disk, or a file that is being streamed from this connection: the next time will do. */
  const stampWhenPossible = (): void => {
    try {
      stamp();
    } catch {}
  };

  lookBy(sqlite, look);
  keepHeads(sqlite);
  stampWhenPossible();
  const looking = setInterval(() => {
    // A studio that was founded since the start has no stamp yet.
    if (lookAtFile(sqlite) === null && stampedAtChange === -1) stampWhenPossible();
  }, LOOK_EVERY_MS).unref();
  const stamping = setInterval(stampWhenPossible, STAMP_EVERY_MS).unref();
  return {
    stamp,
    close: () => {
      clearInterval(looking);
      clearInterval(stamping);
      closeHeads(sqlite);
      if (lookAtFile(sqlite) === null) {
        const [told] = sqlite.pragma('wal_checkpoint(TRUNCATE)') as { busy: number }[];
        if (told?.busy === 0) tellClosed(dirname(file));
      }
      sqlite.close();
      // Only now is there no lock that this could drop.
      closeSync(handle);
    },
  };
}
