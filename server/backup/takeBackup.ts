import { readdir, rm, stat } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import type { BackupRunRow } from '../db/tables/keeping.ts';
import type { Deps } from '../deps.ts';
import { Refusal } from '../errors.ts';
import { findStudio } from '../settings/queries.ts';
import { DATABASE, FILE_FOLDERS, readArchive, writeArchive } from './archive.ts';
import { archivePassphrase, encryptApart } from './encryption.ts';
import {
  copyOf,
  finishRun,
  insertRun,
  isDamage,
  markRemoved,
  migratedTo,
  proofHeads,
  readingFrom,
  standingArchives,
  theBackupSettings,
} from './queries.ts';
import { theStudioKey } from './studioKey.ts';
import { tryDatabase, trySnapshot } from './trials.ts';

const running = new WeakMap<object, Promise<unknown>>();
export const isBackupRunning = (deps: Pick<Deps, 'sqlite'>): boolean => running.has(deps.sqlite);

/** 'studio-2026-03-16-090000.zip', by UTC: names sort as their instants do. */
export const archiveName = (at: number): string =>
  `studio-${new Date(at).toISOString().slice(0, 19).replace('T', '-').replaceAll(':', '')}.zip`;

export interface Made {
  file: string;
  byteSize: number;
  sha256: string;
  fileCount: number;
  /** Why the archive does not count as good though it was made; '' for a good one. */
  failure: string;
}

/** Makes one archive of everything while people go on working: the database by SQLite's online backup, then the files that
 *  it names, which only ever come before their rows. The copy of the database is held against everything that must be true,
 *  and the archive read back, before the backup counts as good. A copy that is damaged becomes no archive; one that breaks a rule
 *  does, since it holds more than none, but takes no good one's place. Throws when no archive is made; every failure stands in
 *  the list of runs as well. */
export async function takeBackup(
  deps: Deps,
  input: { how: BackupRunRow['how']; by: number | null; file?: string },
): Promise<Made> {
  if (isBackupRunning(deps)) throw new Refusal('busy', 'A backup is being made just now.');
  const run = make(deps, input);
  running.set(deps.sqlite, run);
  try {
    return await run;
  } finally {
    running.delete(deps.sqlite);
  }
}

async function make(deps: Deps, input: { how: BackupRunRow['how']; by: number | null; file?: string }): Promise<Made> {
  const { config, db, sqlite, now } = deps;
  const studio = findStudio(db);
  if (!studio) throw new Refusal('notSetUp', 'There is no studio to back up yet.');
  const startedAt = now();
  const passphrase = archivePassphrase(config.dataDir);
  const file = input.file ?? join(config.backupDir, `${archiveName(startedAt)}${passphrase === null ? '' : '.age'}`);
  const runId = insertRun(db, { how: input.how, startedAt, file, madeBy: input.by });
  const snapshot = join(config.dataDir, `.backup-${deps.newId()}.sqlite`);
  try {
    await demandFree(file);
    const apart = input.how !== 'command';
    await copyOf(sqlite, { to: snapshot, apart });
    const found = await trySnapshot(deps, snapshot, apart);
    if (!found.isWhole) throw new DamagedCopy(found.wrong.join('; '));
    const sources = [{ path: DATABASE, from: snapshot }, ...(await filesOf(config.dataDir))];
    const head = {
      madeAt: startedAt,
      studioName: studio.name,
      serviceVersion: config.version,
      migratedTo: migratedTo(db),
      ...(await readingFrom(snapshot, async (copy) => proofHeads(copy))),
    };
    const key = theStudioKey(config.dataDir);
    const plain = passphrase === null ? file : `${snapshot}.zip`;
    const written = await writeArchive(plain, head, sources, key);
    await readArchive(plain, null, key).catch(async (error: unknown) => {
      await rm(plain, { force: true });
      throw error;
    });
    const { byteSize, sha256 } = passphrase === null ? written : await encryptApart(plain, file, config.dataDir);
    const failure =
      found.wrong.length === 0 ? '' : `It was made, but the studio in it is not sound: ${found.wrong.join('; ')}`;
    finishRun(db, runId, { finishedAt: now(), byteSize, sha256, failure });
    await thinOut(deps, runId);
    return { file, byteSize, sha256, fileCount: sources.length, failure };
  } catch (error) {
    noteFailure(deps, runId, failureText(error));
    // Whether the studio's own file is damaged, or this copy alone, is for the file to say.
    if (error instanceof DamagedCopy || isDamage(error)) await tryDatabase(deps);
    throw error;
  } finally {
    for (const left of [snapshot, `${snapshot}-wal`, `${snapshot}-shm`, `${snapshot}-journal`, `${snapshot}.zip`]) {
      await rm(left, { force: true });
    }
  }
}

/** A disk that is full or a file that is damaged may not take the note; why the backup failed is told all the same. */
function noteFailure({ db, now }: Deps, runId: number, failure: string): void {
  try {
    finishRun(db, runId, { finishedAt: now(), byteSize: null, sha256: null, failure });
  } catch {}
}

class DamagedCopy extends Error {
  constructor(finding: string) {
    super(`The copy of the database is damaged: ${finding}.`);
    this.name = 'DamagedCopy';
  }
}

async function demandFree(file: string): Promise<void> {
  const there = await stat(file).catch(() => undefined);
  if (there) throw new Refusal('conflict', `${file} is there already.`);
}

/** Files of the data folder that belong to the studio, by their path below it. Drafts of uploads are no files yet. */
export async function filesOf(dataDir: string): Promise<{ path: string; from: string }[]> {
  const files: { path: string; from: string }[] = [];
  for (const folder of FILE_FOLDERS) {
    const names = await readdir(join(dataDir, folder), { recursive: true, withFileTypes: true }).catch((error) => {
      if ((error as NodeJS.ErrnoException).code === 'ENOENT') return [];
      throw error;
    });
    for (const entry of names) {
      if (!entry.isFile() || entry.name.startsWith('.')) continue;
      const from = join(entry.parentPath, entry.name);
      files.push({ path: from.slice(dataDir.length + 1).replaceAll('\\', '/'), from });
    }
  }
  return files.sort((a, b) => (a.path < b.path ? -1 : 1));
}

/** Removes the oldest archives of the backup folder beyond what the studio keeps. Only a backup that passed makes room for itself;
 *  of those that did not, the newest stays. Order is that in which they were made, whatever the clock said then. What this studio
 *  has not made itself, or something else has written over, is left alone. */
async function thinOut({ config, db, now }: Deps, justMadeId: number): Promise<void> {
  const { keepCount } = theBackupSettings(db);
  const archives = standingArchives(db).filter((a) => dirname(a.file) === config.backupDir);
  const there = [];
  for (const archive of archives) {
    const size = (await stat(archive.file).catch(() => undefined))?.size;
    if (size === archive.byteSize) there.push(archive);
  }
  const passed = there.filter((a) => a.failure === '');
  const others = there.filter((a) => a.failure !== '');
  const tooMany = passed[0]?.id === justMadeId ? passed.slice(keepCount) : [];
  for (const { file } of [...tooMany, ...others.slice(1)]) {
    await rm(file, { force: true });
    markRemoved(db, file, now());
  }
}

const FAILURES: Readonly<Record<string, string>> = {
  ENOSPC: 'The disk is full.',
  EACCES: 'The folder may not be written to.',
  EPERM: 'The folder may not be written to.',
  EROFS: 'The disk may only be read.',
  ENOENT: 'The folder is not there.',
  ENOTDIR: 'The folder is not one.',
  SQLITE_FULL: 'The disk is full.',
};
function failureText(error: unknown): string {
  const { code, message } = error as { code?: string; message?: string };
  return FAILURES[code ?? ''] ?? message ?? 'It failed.';
}

const LEFT_BEHIND = /^(?:\.backup-.*\.sqlite(?:-\w+|\.zip)?|studio-\d{4}-\d{2}-\d{2}-\d{6}\.zip(?:\.age)?\.part)$/;
const LEFT_AFTER_MS = 24 * 3_600_000;

const TRIAL_FOLDER = /^\.trial-[\w-]+$/;

/** Removes what backups and trials left that a crash cut short. Of backups only what is a day old: another process may be making
 *  one just now. Trials are the server's alone. */
export async function clearLeftovers({ config, now }: Pick<Deps, 'config' | 'now'>): Promise<void> {
  for (const name of await readdir(config.dataDir).catch(() => [])) {
    if (TRIAL_FOLDER.test(name)) await rm(join(config.dataDir, name), { recursive: true, force: true });
  }
  for (const folder of [config.dataDir, config.backupDir]) {
    for (const name of await readdir(folder).catch(() => [])) {
      const file = join(folder, name);
      const found = LEFT_BEHIND.test(name) ? await stat(file).catch(() => undefined) : undefined;
      if (found && now() - found.mtimeMs > LEFT_AFTER_MS) await rm(file, { force: true });
    }
  }
}
