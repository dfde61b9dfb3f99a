import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { migrate } from 'drizzle-orm/better-sqlite3/migrator';
import { StartRefusal } from './dataFolder.ts';
import type { OpenDatabase } from './open.ts';
import { beginProof, isAtRest, restProof } from './proof/begin.ts';
import { hasProof } from './proof/covered.ts';

interface Journal {
  entries: { when: number; tag: string }[];
}

const readJournal = (folder: string): Journal =>
  JSON.parse(readFileSync(join(folder, 'meta', '_journal.json'), 'utf8')) as Journal;

/** When the last migration that this file has seen was made; 0 for an empty file. */
function lastAppliedAt({ sqlite }: OpenDatabase): number {
  const known = sqlite.prepare("select 1 from sqlite_master where name = '__drizzle_migrations'").get();
  if (!known) return 0;
  const row = sqlite.prepare('select max(created_at) as at from __drizzle_migrations').get() as { at: number | null };
  return row.at ?? 0;
}

/** Applies the migrations that are missing and answers how many. Keeps a copy of a used database first, under
 *  `<file>.before-<tag>`. Foreign keys are off meanwhile, since a table rebuild inside the migrator's transaction would
 *  otherwise cascade into child rows; the check afterwards proves that nothing dangles.
 *  Throws StartRefusal when the file was written by a newer version of the service. */
export async function applyMigrations(open: OpenDatabase, folder: string): Promise<number> {
  const { sqlite, db } = open;
  const journal = readJournal(folder);
  const seen = lastAppliedAt(open);
  const newest = journal.entries.at(-1)?.when ?? 0;
  if (seen > newest) {
    throw new StartRefusal(
      'this data folder was written by a newer version of Lot & Shade. Start that version, or restore a backup.',
    );
  }
  const missing = journal.entries.filter((entry) => entry.when > seen);
  if (missing.length === 0) {
    // An upgrade was cut short after its last migration.
    if (hasProof(sqlite) && isAtRest(sqlite)) beginProof(sqlite);
    return 0;
  }
  if (seen > 0 && sqlite.name !== ':memory:') {
    const copy = `${sqlite.name}.before-${missing[0]?.tag}`;
    if (!existsSync(copy)) await sqlite.backup(copy);
  }
  if (hasProof(sqlite)) restProof(sqlite);
  sqlite.pragma('foreign_keys = OFF');
  try {
    migrate(db, { migrationsFolder: folder });
    const dangling = sqlite.pragma('foreign_key_check') as unknown[];
    if (dangling.length > 0) throw new Error(`Migration left ${dangling.length} dangling references.`);
  } finally {
    // Also when nothing was migrated: what is written from now on is proved.
    if (hasProof(sqlite)) beginProof(sqlite);
    sqlite.pragma('foreign_keys = ON');
  }
  return missing.length;
}

/** Whether this version of the service has still something to apply to the file. */
export const isOfOlderVersion = (open: OpenDatabase, folder: string): boolean =>
  lastAppliedAt(open) < newestMigrationAt(folder);

/** When the newest migration of this installation was made. */
export const newestMigrationAt = (folder: string): number => readJournal(folder).entries.at(-1)?.when ?? 0;
