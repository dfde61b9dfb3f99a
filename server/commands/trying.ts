import { join } from 'node:path';
import { restoreArchive } from '../backup/restore.ts';
import { type Check, damagedFile, sha256OfFile, verifyStudio } from '../backup/verify.ts';
import type { Config } from '../config.ts';
import { isOfOlderVersion, newestMigrationAt } from '../db/migrate.ts';
import { openForReading } from '../db/open.ts';
import { lostSince, notedHeads } from '../db/proof/heads.ts';
import { isDamage } from '../db/soundness.ts';
import { databaseFile, demandThere, openStudio } from './opening.ts';

/** What `verify` says of a database and the files of a folder, as of one moment, however long the reading takes. */
export async function verifyFile(file: string, dataDir: string): Promise<Check[]> {
  const open = openForReading(file);
  try {
    open.sqlite.exec('BEGIN');
    return await verifyStudio(open.db, dataDir);
  } finally {
    open.sqlite.close();
  }
}

/** What `verify` says of the studio of a folder: whether all is there that was acknowledged, too. */
export async function verifyFolder(config: Config): Promise<Check[]> {
  const { dataDir, packageRoot } = config;
  const file = databaseFile(config);
  demandThere(file);
  // Read before the database, which may be written to meanwhile.
  const heads = notedHeads(dataDir);
  let lost: string[];
  try {
    const open = openForReading(file);
    try {
      if (isOfOlderVersion(open, join(packageRoot, 'migrations'))) {
        throw new Error(
          `The studio in ${dataDir} was written by an older version. Start this version once, which brings it up to date and keeps a copy, and verify it then.`,
        );
      }
      lost = lostSince(open.sqlite, heads);
    } finally {
      open.sqlite.close();
    }
    return [
      ...(await verifyFile(file, dataDir)),
      { name: 'nothing that was acknowledged is missing', wrong: lost, notes: [] },
    ];
  } catch (error) {
    if (!isDamage(error)) throw error;
    return [damagedFile((error as Error).message)];
  }
}

/** Restores an archive into an empty folder and holds what comes out against everything that must be true. Throws ArchiveDamage,
 *  or the system's error, when nothing comes out. */
export async function tryArchive(
  config: Config,
  input: { file: string; folder: string; sha256?: string | undefined },
): Promise<Check[]> {
  const { file, folder, sha256 } = input;
  if (sha256 !== undefined && (await sha256OfFile(file)) !== sha256)
    throw new Error('It is not the archive that was made: its hash differs.');
  await restoreArchive({
    file,
    dataDir: folder,
    keepAs: 'before',
    newestMigration: newestMigrationAt(join(config.packageRoot, 'migrations')),
    check: () => undefined,
  });
  // An archive of an older version is brought up to date first, as a restore would.
  (await openStudio({ ...config, dataDir: folder })).sqlite.close();
  return verifyFile(join(folder, 'studio.sqlite'), folder);
}
