import { statSync } from 'node:fs';
import { rm } from 'node:fs/promises';
import { join } from 'node:path';
import { createInterface } from 'node:readline/promises';
import { integrityFindings } from '../backup/queries.ts';
import { restoreArchive } from '../backup/restore.ts';
import { keepKey, keyTyped, studioKey } from '../backup/studioKey.ts';
import { archiveName } from '../backup/takeBackup.ts';
import { verdict } from '../backup/verify.ts';
import type { Config } from '../config.ts';
import { claimDataFolder } from '../db/dataFolder.ts';
import { applyMigrations, newestMigrationAt } from '../db/migrate.ts';
import { isOpenElsewhere, openDatabase, openForReading } from '../db/open.ts';
import { isDamage } from '../db/soundness.ts';
import { type KnownPerson, shutRestored } from '../people/afterRestore.ts';
import { recordAction } from '../people/audit.ts';
import { type ArchiveAsked, archiveAsked, databaseFile, run, say, typedPath } from './opening.ts';
import { plainArchive, sealDoubt, verifyFile } from './trying.ts';

// npm run restore -- FILE [--key KEY] [--passphrase-file FILE] [--unproven]: puts an archive into DATA_DIR; what was there is kept
// beside it.
run('restore', async (config, args) => {
  const asked = archiveAsked(args);
  if (asked.archive === undefined) throw new Error('Say which archive: npm run restore -- FILE');
  const database = databaseFile(config);
  // Held to the end, so that no server starts meanwhile.
  const claim = claimDataFolder(config.dataDir);
  try {
    if (isInUse(database)) {
      throw new Error(`The server is running on ${config.dataDir}. Stop it first.`);
    }
    return await restoreInto(config, { ...asked, archive: asked.archive });
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

const CONFIRMATION = 'I know who made it';

/** Asks whoever restores to say so in words; without a terminal to ask at, the command line has to. */
async function demandConfirmed(doubt: string, unproven: boolean): Promise<void> {
  say(`Whether this archive is what the studio saved cannot be told: ${doubt}.`);
  if (unproven) return;
  if (!process.stdin.isTTY)
    throw new Error('Give the studio’s key with --key KEY, or say with --unproven that you know who made it.');
  const terminal = createInterface({ input: process.stdin, output: process.stdout });
  const typed = await terminal.question(
    `Whoever changed it could have made themselves an owner. With --key KEY it is checked against the studio’s key. To restore it all the same, type: ${CONFIRMATION}\n> `,
  );
  terminal.close();
  if (typed.trim().toLowerCase() !== CONFIRMATION.toLowerCase()) throw new Error('Nothing was restored.');
}

/** The key that was typed, or that of the data folder. */
function keyFor(config: Config, typed: string | undefined): string | null {
  if (typed === undefined) return studioKey(config.dataDir);
  const key = keyTyped(typed);
  if (key === null) throw new Error('A key is 32 letters and digits, as the Backup page shows them.');
  return key;
}

async function restoreInto(config: Config, asked: ArchiveAsked & { archive: string }): Promise<number> {
  const archive = typedPath(asked.archive);
  const key = keyFor(config, asked.key);
  const migrations = join(config.packageRoot, 'migrations');
  const scratch = join(config.dataDir, '.decrypting');
  const plain = await plainArchive(archive, scratch, { dataDir: config.dataDir, passphrase: asked.passphrase });
  const { manifest, keptIn, seal } = await restoreArchive({
    file: plain,
    key,
    dataDir: config.dataDir,
    keepAs: archiveName(Date.now()).replace('studio-', 'before-restore-').replace('.zip', ''),
    newestMigration: newestMigrationAt(migrations),
    // Before it lies where a server could open it: no way in of the archive's time is ever open.
    check: async (unpacked, { madeAt }, willBeKeptIn, seal) => {
      demandSound(unpacked);
      const doubt = sealDoubt(seal);
      if (doubt !== '') await demandConfirmed(doubt, asked.unproven);
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
  }).finally(() => rm(scratch, { recursive: true, force: true }));
  // It goes on sealing what the studio saves.
  if (seal === 'sealed' && key !== null && key !== studioKey(config.dataDir)) keepKey(config.dataDir, key);
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
