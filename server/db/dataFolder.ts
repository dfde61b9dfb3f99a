import { existsSync, mkdirSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { hostname } from 'node:os';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import type { Sqlite } from './open.ts';

/** What a supervisor reads from the exit code (README): 3, starting again cannot help before somebody has done something;
 *  1, it may, as when a port or some space on the disk has been freed meanwhile. */
export const EXIT_CODES = { helpless: 3, passing: 1 } as const;

/** A reason not to start that somebody can do something about. */
export class StartRefusal extends Error {
  readonly exitCode: number;
  constructor(message: string, exitCode: number = EXIT_CODES.helpless) {
    super(message);
    this.name = 'StartRefusal';
    this.exitCode = exitCode;
  }
}

export interface DataFolderClaim {
  release: () => void;
}

/** Makes the data folder if it is not there and claims it for this process, until release or the end of the process.
 *  The claim is a lock of the operating system on a file of its own, so that none is left behind by a power cut and none
 *  is mistaken for another's with the same process number (every container's first process is number 1). The file of
 *  words beside it only says whose it is. Danger: closing any other handle on the lock file in this process drops the lock
 *  (POSIX advisory locks belong to process and file), so nothing else may open it.
 *  Throws StartRefusal when another service has it. */
export function claimDataFolder(dataDir: string): DataFolderClaim {
  mkdirSync(dataDir, { recursive: true, mode: 0o700 });
  const words = join(dataDir, 'in-use.txt');
  const lock = new Database(join(dataDir, 'in-use.lock'), { timeout: 0 });
  try {
    lock.exec('BEGIN EXCLUSIVE');
  } catch (error) {
    lock.close();
    if (!String((error as { code?: string }).code).startsWith('SQLITE_BUSY')) throw error;
    const who = existsSync(words) ? ` (${readFileSync(words, 'utf8').trim()})` : '';
    throw new StartRefusal(
      `another Lot & Shade is already running on ${dataDir}${who}. Two at once would spoil the record. Use the one that runs, stop it first, or set DATA_DIR to another folder.`,
    );
  }
  writeFileSync(words, `process ${process.pid} on ${hostname()}\n`);
  return {
    release: () => {
      rmSync(words, { force: true });
      lock.close();
    },
  };
}

const FOLDER_FAULTS: readonly [RegExp, (dataDir: string) => string, exitCode?: number][] = [
  [/^(EROFS|EACCES|EPERM|SQLITE_READONLY|SQLITE_CANTOPEN)/, unwritable],
  [
    /^(ENOSPC|EDQUOT|SQLITE_FULL)/,
    (dir) => `the disk that holds ${dir} is full. Free some space there and start again.`,
    EXIT_CODES.passing,
  ],
  [
    /^(EIO|SQLITE_IOERR)/,
    (dir) => `the disk that holds ${dir} cannot be read or written reliably. Have it looked at.`,
    EXIT_CODES.passing,
  ],
  [/^ENOTDIR|^EEXIST/, (dir) => `${dir} is a file, not a folder. Set DATA_DIR to a folder.`],
];

function unwritable(dataDir: string): string {
  return `the data folder ${dataDir} cannot be written. The user that runs the service must own it, on a disk that is not read-only; or set DATA_DIR to another folder.`;
}

/** What an error of the file system or of SQLite means to the one who starts the service; undefined when it is none of theirs. */
export function folderFault(error: unknown, dataDir: string): StartRefusal | undefined {
  if (error instanceof StartRefusal) return error;
  const code = String((error as { code?: unknown } | null)?.code ?? '');
  if (/^SQLITE_(CORRUPT|NOTADB)/.test(code)) return damaged(join(dataDir, 'studio.sqlite'), [(error as Error).message]);
  const fault = FOLDER_FAULTS.find(([pattern]) => pattern.test(code));
  return fault && new StartRefusal(fault[1](dataDir), fault[2]);
}

export const damaged = (file: string, findings: readonly string[]): StartRefusal =>
  new StartRefusal(
    `the database ${file} is damaged (${findings[0] ?? 'it cannot be read'}). Nothing more was written to it. Keep the file as it is, restore the newest backup into another folder, and start with DATA_DIR set to that.`,
  );

/** Archives as the service names them (backup/takeBackup.ts). */
const ARCHIVE = /^studio-\d{4}-\d{2}-\d{2}-\d{6}\.zip(?:\.age)?$/;

const namesIn = (folder: string): string[] => {
  try {
    return readdirSync(folder);
  } catch (error) {
    if (/^(ENOENT|ENOTDIR)$/.test(String((error as { code?: string }).code))) return [];
    throw error;
  }
};

const sizeOf = (file: string): number => statSync(file, { throwIfNoEntry: false })?.size ?? 0;

function holdsFiles(folder: string): boolean {
  if (namesIn(folder).length === 0) return false;
  return readdirSync(folder, { recursive: true, withFileTypes: true }).some(
    (entry) => entry.isFile() && !entry.name.startsWith('.'),
  );
}

/** What only a studio that has been worked in leaves behind: its pictures, its recordings, its archives. */
function tracesOfAStudio(dataDir: string, backupDir: string): string[] {
  return [
    ...['photos', 'voices'].map((name) => join(dataDir, name)).filter(holdsFiles),
    ...(namesIn(backupDir).some((name) => ARCHIVE.test(name)) ? [backupDir] : []),
  ];
}

const withoutDatabase = (dataDir: string, what: string, traces: readonly string[]): StartRefusal =>
  new StartRefusal(
    `${what}, yet a studio has been worked in here: ${traces.join(', ')}. A new studio over it would hide that the old one is missing. Put studio.sqlite back (with its studio.sqlite-wal), check that DATA_DIR=${dataDir} and its disk are the right ones, or restore a backup: npm run restore -- FILE. For a new studio choose an empty DATA_DIR and BACKUP_DIR.`,
  );

/** Refuses a folder that has lost its database, before anything is opened: SQLite would make an empty one, and throw away a
 *  write-ahead log that it finds beside it. */
export function demandDatabase(dataDir: string, backupDir: string): void {
  const file = join(dataDir, 'studio.sqlite');
  if (sizeOf(file) > 0) return;
  const traces = tracesOfAStudio(dataDir, backupDir);
  if (sizeOf(`${file}-wal`) > 0) traces.push(`${file}-wal`);
  for (const name of namesIn(dataDir)) {
    if (/^studio\.(sqlite\.before-|stamp$|heads$)|^before-restore-/.test(name)) traces.push(join(dataDir, name));
  }
  if (traces.length === 0) return;
  throw withoutDatabase(dataDir, `${file} is ${existsSync(file) ? 'empty' : 'missing'}`, traces);
}

/** Whether somebody has filled in the first-run page; also of a database without any table. */
export const hasStudio = (sqlite: Sqlite): boolean =>
  sqlite.prepare("select 1 from sqlite_master where name = 'studio'").get() !== undefined &&
  sqlite.prepare('select 1 from studio').get() !== undefined;

/** The same as demandDatabase, of one that is sound and holds no studio. */
export function demandStudio(sqlite: Sqlite, dataDir: string, backupDir: string): void {
  if (hasStudio(sqlite)) return;
  const traces = tracesOfAStudio(dataDir, backupDir);
  if (traces.length > 0) throw withoutDatabase(dataDir, `there is no studio in ${sqlite.name}`, traces);
}
