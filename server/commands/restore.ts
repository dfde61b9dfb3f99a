import { statSync } from 'node:fs';
import { join } from 'node:path';
import { integrityFindings } from '../backup/queries.ts';
import { restoreArchive } from '../backup/restore.ts';
import { archiveName } from '../backup/takeBackup.ts';
import { verdict } from '../backup/verify.ts';
import type { Config } from '../config.ts';
import { claimDataFolder } from '../db/dataFolder.ts';
import { applyMigrations, newestMigrationAt } from '../db/migrate.ts';
import { isOpenElsewhere, openDatabase, openForReading } from '../db/open.ts';
import { isDamage } from '../db/soundness.ts';
import { type KnownPerson, shutRestored } from '../people/afterRestore.ts';
import { recordAction } from '../people/audit.ts';
import { databaseFile, run, say, typedPath } from './opening.ts';
import { verifyFile } from './trying.ts';

// npm run restore -- FILE: puts an archive into DATA_DIR; what was there is kept beside it.
run('restore', async (config, [file]) => {
  if (file === undefined) throw new Error('Say which archive: npm run restore -- FILE');
  const database = databaseFile(config);
  // Held to the end, so that no server starts meanwhile.
  const claim = claimDataFolder(config.dataDir);
  try {
    if (isInUse(database)) {
      throw new Error(`The server is running on ${config.dataDir}. Stop it first.`);
    }
    return await restoreInto(config, file);
  } finally {
    claim.release();
  }
});

/** A file that is empty or no database is nobody’s; SQLite would throw away the write-ahead log beside an empty one. */
function isInUse(database: string): boolean {
  if ((statSync(database, { throwIfNoEntry: false })?.size ?? 0) === 0) return false;
  try {
    return isOpenElsewhere(database);
  } catch (error) {
    if (isDamage(error)) return false;
    throw error;
  }
}

async function restoreInto(config: Config, file: string): Promise<number> {
  const archive = typedPath(file);
  const migrations = join(config.packageRoot, 'migrations');
  const { manifest, keptIn } = await restoreArchive({
    file: archive,
    dataDir: config.dataDir,
    keepAs: archiveName(Date.now()).replace('studio-', 'before-restore-').replace('.zip', ''),
    newestMigration: newestMigrationAt(migrations),
    // Before it lies where a server could open it: no way in of the archive's time is ever open.
    check: async (unpacked, { madeAt }, willBeKeptIn) => {
      demandSound(unpacked);
      const open = openDatabase(unpacked);
      try {
        await applyMigrations(open, migrations);
        shutRestored(open.db, {
          now: Date.now(),
          archive,
          archiveMadeAt: madeAt,
          keptIn: willBeKeptIn,
          replaced: peopleIn(databaseFile(config)),
        });
        recordAction(
          { db: open.db, now: Date.now },
          { personId: null, door: 'command', action: 'restore', path: '', status: 200, address: '', detail: archive },
        );
      } finally {
        open.sqlite.close();
      }
    },
  });
  say(`Restored ${manifest.studioName} as of ${new Date(manifest.madeAt).toISOString()} into ${config.dataDir}`);
  if (keptIn !== null) say(`What was there before is kept in ${keptIn}`);
  const { lines, isWell } = verdict(await verifyFile(databaseFile(config), config.dataDir));
  for (const line of lines) say(line);
  say('Every passphrase, sign-in, link, code and token of the archive has ended. Start the server: its terminal shows');
  say('the code with which an owner comes in, and its first page shows whose standing differs from before.');
  return isWell ? 0 : 1;
}

function demandSound(file: string): void {
  const open = openForReading(file);
  try {
    const [wrong] = integrityFindings(open.db);
    if (wrong !== undefined) throw new Error(`The database in the archive is damaged: ${wrong}`);
  } finally {
    open.sqlite.close();
  }
}

/** The people of the studio that is about to be replaced, which may be of an older version; null when there is none or it cannot be
 *  read, which is often why an archive is restored. */
function peopleIn(file: string): KnownPerson[] | null {
  try {
    const open = openForReading(file);
    try {
      return open.sqlite
        .prepare('select id, name, role, active, created_at as createdAt from people')
        .all() as KnownPerson[];
    } finally {
      open.sqlite.close();
    }
  } catch {
    return null;
  }
}
