import { statSync } from 'node:fs';
import type { Sqlite } from './open.ts';
import { inOwnProcess } from './ownProcess.ts';

/** What SQLite finds wrong with the structure of the file, a sentence each; empty when it is sound. Reads the whole file.
 *  Not checked: whether every index holds what its table does (integrity_check does, and takes several times as long). */
export function structureFindings(sqlite: Sqlite): string[] {
  const rows = sqlite.pragma('quick_check(5)') as { quick_check: string }[];
  return rows.map((row) => row.quick_check).filter((line) => line !== 'ok');
}

/** Reads the beginning of every table and index by its root page: a file that was cut off or written over in the large
 *  fails here, in no time. */
export function touchEveryTable(sqlite: Sqlite): void {
  const tables = sqlite
    .prepare("select name from sqlite_master where type = 'table' and name not like 'sqlite_%'")
    .pluck()
    .all() as string[];
  for (const name of tables) sqlite.prepare(`select * from "${name.replaceAll('"', '""')}" limit 1`).get();
}

/** Files up to this size are checked whole before the doors open (some tenths of a second on a slow disk); larger ones meanwhile. */
const CHECKED_AT_ONCE_BYTES = 64_000_000;

export const isCheckedAtOnce = (file: string): boolean => statSync(file).size <= CHECKED_AT_ONCE_BYTES;

export interface BackgroundCheck {
  /** Findings; empty when the file is sound. Rejects when the check itself could not be made; never settles once stopped. */
  done: Promise<string[]>;
  stop: () => void;
}

/** What SQLite finds wrong with the file as a whole: its structure, and whether every index holds what its table does. */
export function wholeFindings(sqlite: Sqlite): string[] {
  const rows = sqlite.pragma('integrity_check(5)') as { integrity_check: string }[];
  return rows.map((row) => row.integrity_check).filter((line) => line !== 'ok');
}

/** Checks a file in a process of its own at low priority, so that neither the service nor its memory notices. `how` well: its
 *  structure, or the whole of it with the indexes, which takes several times as long. */
export function checkInBackground(file: string, how: 'structure' | 'whole' = 'structure'): BackgroundCheck {
  const { child, said } = inOwnProcess<CheckAnswer>('db/checkFile', [file, how], 15);
  child.unref();
  child.channel?.unref();
  const done = said.then((answer) => {
    if ('findings' in answer) return answer.findings;
    throw new Error(`The database could not be checked: ${answer.failure}`);
  });
  return { done, stop: () => child.kill() };
}

/** What the process says: what is wrong with the file, or why it could not be looked at. */
export type CheckAnswer = { findings: string[] } | { failure: string };
