import { readdir, rm, stat } from 'node:fs/promises';
import { join } from 'node:path';
import type { BackupRunRow } from '../db/tables/keeping.ts';
import type { Deps } from '../deps.ts';
import { Refusal } from '../errors.ts';
import { findStudio } from '../settings/queries.ts';
import { DATABASE, FILE_FOLDERS, readArchive, writeArchive } from './archive.ts';
import { copyOf, finishRun, insertRun, markRemoved, migratedTo, theBackupSettings } from './queries.ts';

const ARCHIVE_NAME = /^studio-\d{4}-\d{2}-\d{2}-\d{6}\.zip$/;

const running = new WeakMap<object, Promise<unknown>>();
export const isBackupRunning = (deps: Pick<Deps, 'sqlite'>): boolean => running.has(deps.sqlite);

/** 'studio-2026-03-16-090000.zip', by UTC: names sort as their instants do. */
export const archiveName = (at: number): string =>
  `studio-${new Date(at).toISOString().slice(0, 19).replace('T', '-').replaceAll(':', '')}.zip`;

/** Makes one archive of everything while people go on working: the database by SQLite's online backup, then the files that
 *  it names, which only ever come before their rows. The archive is read back before the backup counts as good. Throws
 *  when it fails; the failure stands in the list of runs as well. */
export async function takeBackup(
  deps: Deps,
  input: { how: BackupRunRow['how']; by: number | null; file?: string },
): Promise<{ file: string; byteSize: number; sha256: string; fileCount: number }> {
  if (isBackupRunning(deps)) throw new Refusal('busy', 'A backup is being made just now.');
  const run = make(deps, input);
  running.set(deps.sqlite, run);
  try {
    return await run;
  } finally {
    running.delete(deps.sqlite);
  }
}

async function make(
  deps: Deps,
  input: { how: BackupRunRow['how']; by: number | null; file?: string },
): Promise<{ file: string; byteSize: number; sha256: string; fileCount: number }> {
  const { config, db, sqlite, now } = deps;
  const startedAt = now();
  const file = input.file ?? join(config.backupDir, archiveName(startedAt));
  const runId = insertRun(db, { how: input.how, startedAt, file, madeBy: input.by });
  const snapshot = join(config.dataDir, `.backup-${deps.newId()}.sqlite`);
  try {
    await demandFree(file);
    await copyOf(sqlite, { to: snapshot, apart: input.how !== 'command' });
    const sources = [{ path: DATABASE, from: snapshot }, ...(await filesOf(config.dataDir))];
    const head = {
      madeAt: startedAt,
      studioName: findStudio(db)?.name ?? '',
      serviceVersion: config.version,
      migratedTo: migratedTo(db),
    };
    const { byteSize, sha256 } = await writeArchive(file, head, sources);
    await readArchive(file, null).catch(async (error: unknown) => {
      await rm(file, { force: true });
      throw error;
    });
    finishRun(db, runId, { finishedAt: now(), byteSize, sha256, failure: '' });
    await thinOut(deps);
    return { file, byteSize, sha256, fileCount: sources.length };
  } catch (error) {
    finishRun(db, runId, { finishedAt: now(), byteSize: null, sha256: null, failure: failureText(error) });
    throw error;
  } finally {
    for (const left of [snapshot, `${snapshot}-wal`, `${snapshot}-shm`, `${snapshot}-journal`]) {
      await rm(left, { force: true });
    }
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

/** Removes the oldest archives of the backup folder beyond what the studio keeps. Files of another name are left alone. */
async function thinOut({ config, db, now }: Deps): Promise<void> {
  const { keepCount } = theBackupSettings(db);
  const names = (await readdir(config.backupDir).catch(() => [])).filter((name) => ARCHIVE_NAME.test(name)).sort();
  for (const name of names.slice(0, Math.max(0, names.length - keepCount))) {
    const file = join(config.backupDir, name);
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

const LEFT_BEHIND = /^(?:\.backup-.*\.sqlite(?:-\w+)?|studio-\d{4}-\d{2}-\d{2}-\d{6}\.zip\.part)$/;
const LEFT_AFTER_MS = 24 * 3_600_000;

/** Removes what backups left that a crash cut short. Only what is a day old: another process may be making one just now. */
export async function clearLeftovers({ config, now }: Pick<Deps, 'config' | 'now'>): Promise<void> {
  for (const folder of [config.dataDir, config.backupDir]) {
    for (const name of await readdir(folder).catch(() => [])) {
      const file = join(folder, name);
      const found = LEFT_BEHIND.test(name) ? await stat(file).catch(() => undefined) : undefined;
      if (found && now() - found.mtimeMs > LEFT_AFTER_MS) await rm(file, { force: true });
    }
  }
}
