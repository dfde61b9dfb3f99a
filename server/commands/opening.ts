import { randomInt, randomUUID } from 'node:crypto';
import { readFileSync, statSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { parseArgs } from 'node:util';
import { type Config, readConfig } from '../config.ts';
import { applyMigrations } from '../db/migrate.ts';
import { openDatabase } from '../db/open.ts';
import type { Deps } from '../deps.ts';

export const say = (line: string): void => {
  process.stdout.write(`${line}\n`);
};

/** A path as the person typed it: npm changes the working folder and says where it was called. */
export const typedPath = (path: string): string => resolve(process.env['INIT_CWD'] ?? process.cwd(), path);

export interface ArchiveAsked {
  archive: string | undefined;
  passphrase: string | undefined;
  key: string | undefined;
  unproven: boolean;
}

/** What the command line says of an archive. */
export function archiveAsked(args: readonly string[]): ArchiveAsked {
  const { values, positionals } = parseArgs({
    args: [...args],
    allowPositionals: true,
    options: { key: { type: 'string' }, 'passphrase-file': { type: 'string' }, unproven: { type: 'boolean' } },
  });
  const written = values['passphrase-file'];
  return {
    archive: positionals[0],
    passphrase: written === undefined ? undefined : readFileSync(typedPath(written), 'utf8').trimEnd(),
    key: values.key,
    unproven: values.unproven === true,
  };
}

export const databaseFile = (config: Config): string => join(config.dataDir, 'studio.sqlite');

/** SQLite would make an empty database of a file that is missing or empty. */
export function demandThere(file: string): void {
  if ((statSync(file, { throwIfNoEntry: false })?.size ?? 0) === 0)
    throw new Error(`There is no studio in ${dirname(file)}.`);
}

/** The studio of DATA_DIR, for a command beside the server. */
export async function openStudio(config: Config): Promise<Deps> {
  demandThere(databaseFile(config));
  const open = openDatabase(databaseFile(config));
  await applyMigrations(open, join(config.packageRoot, 'migrations'));
  return {
    config,
    ...open,
    now: Date.now,
    newId: randomUUID,
    firstRunCode: String(randomInt(0, 1_000_000)).padStart(6, '0'),
  };
}

/** Runs a command: its answer is the exit code; what it throws is told in a sentence, with exit code 2. */
export function run(name: string, command: (config: Config, args: readonly string[]) => Promise<number>): void {
  const finish = (code: number): void => {
    process.exitCode = code;
  };
  Promise.resolve()
    .then(() => command(readConfig(process.env), process.argv.slice(2)))
    .then(finish, (error: unknown) => {
      process.stderr.write(`${name}: ${(error as Error).message}\n`);
      finish(2);
    });
}
