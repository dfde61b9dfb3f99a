import { mkdir, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { isDeepStrictEqual } from 'node:util';
import { ArchiveDamage, type Seal } from '../backup/archive.ts';
import { archivePassphrase, decrypted, isEncrypted } from '../backup/encryption.ts';
import { proofHeads, readingFrom } from '../backup/queries.ts';
import { restoreArchive } from '../backup/restore.ts';
import { studioKey } from '../backup/studioKey.ts';
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

/** An archive as a zip file: itself, or decrypted below `folder` with the passphrase that is given, or that of the data folder. */
export async function plainArchive(
  file: string,
  folder: string,
  { dataDir, passphrase }: { dataDir: string; passphrase?: string | undefined },
): Promise<string> {
  if (!(await isEncrypted(file))) return file;
  const known = passphrase ?? archivePassphrase(dataDir);
  if (known === null)
    throw new ArchiveDamage('It is encrypted. Say where its passphrase is written down: --passphrase-file FILE.');
  await mkdir(folder, { recursive: true, mode: 0o700 });
  const plain = join(folder, '.decrypted.zip');
  await decrypted(file, plain, known);
  return plain;
}

const SEAL_WORDS: Record<Seal, string> = {
  sealed: '',
  none: 'it carries no seal: it is of a version that made none, or somebody has taken it off',
  otherKey: 'another studio’s key has sealed it',
  noKey: 'there is no key here to hold its seal against',
};
/** Why it cannot be told whether an archive is one that this studio made, unchanged; '' when it is. */
export const sealDoubt = (seal: Seal): string => SEAL_WORDS[seal];

/** Restores an archive into an empty folder and holds what comes out against everything that must be true. Throws ArchiveDamage,
 *  or the system's error, when nothing comes out. */
export async function tryArchive(
  config: Config,
  input: { file: string; folder: string; sha256?: string | undefined; passphrase?: string | undefined },
): Promise<Check[]> {
  const { file, folder, sha256, passphrase } = input;
  if (sha256 !== undefined && (await sha256OfFile(file)) !== sha256)
    throw new Error('It is not the archive that was made: its hash differs.');
  const plain = await plainArchive(file, folder, { dataDir: config.dataDir, passphrase });
  let kept: ReturnType<typeof proofHeads> = {};
  const { manifest, seal } = await restoreArchive({
    file: plain,
    dataDir: folder,
    keepAs: 'before',
    newestMigration: newestMigrationAt(join(config.packageRoot, 'migrations')),
    key: studioKey(config.dataDir),
    check: async (unpacked) => {
      kept = await readingFrom(unpacked, async (db) => proofHeads(db));
    },
  });
  if (plain !== file) await rm(plain, { force: true });
  // An archive of an older version is brought up to date first, as a restore would.
  (await openStudio({ ...config, dataDir: folder })).sqlite.close();
  const doubt = sealDoubt(seal);
  const isSame = isDeepStrictEqual(kept, {
    ...(manifest.record && { record: manifest.record }),
    ...(manifest.tables && { tables: manifest.tables }),
  });
  return [
    // From when on the database keeps its proof, the archive has a seal.
    { name: IS_SEALED, wrong: seal === 'none' && kept.record ? [doubt] : [], notes: doubt === '' ? [] : [doubt] },
    {
      name: 'the record in it is the one that its manifest names',
      wrong: isSame ? [] : ['the heads of the chain or the sums of the tables differ'],
      notes: [],
    },
    ...(await verifyFile(join(folder, 'studio.sqlite'), folder)),
  ];
}

export const IS_SEALED = 'it is sealed by this studio, and nothing in it was changed since';
