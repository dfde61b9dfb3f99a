import { mkdir, readdir, rename, rm, stat } from 'node:fs/promises';
import { join } from 'node:path';
import { ArchiveDamage, DATABASE, FILE_FOLDERS, type Manifest, readArchive, type Seal } from './archive.ts';

/** What makes up a studio in its data folder; anything else there (backups, copies) is left alone. */
const PARTS: readonly string[] = [
  DATABASE,
  `${DATABASE}-wal`,
  `${DATABASE}-shm`,
  // It tells the next start which database this folder has last worked with (db/fileWatch.ts).
  'studio.stamp',
  // And how far its record had come (db/proof/heads.ts).
  'studio.heads',
  ...FILE_FOLDERS,
];

export interface Restored {
  manifest: Manifest;
  /** Where the studio that was there before is kept now; null when the folder was empty. */
  keptIn: string | null;
  seal: Seal;
}

/** Restores an archive into a data folder. It is unpacked and checked beside the studio first; only then the studio that is
 *  there, whole and as it is, moves into a folder of its own, and the restored one into its place. `check` looks into the
 *  unpacked database, makes of it what is to lie there, and throws when it will not do. `keptIn` is where the studio that is there
 *  will be kept; null when there is none. Throws ArchiveDamage for a damaged archive, and leaves everything as it
 *  was. No server may run on the folder meanwhile: the caller sees to that. */
export async function restoreArchive(input: {
  file: string;
  dataDir: string;
  /** 'studio-before-restore-2026-03-16-090000' or so: the name of the safety copy. */
  keepAs: string;
  newestMigration: number;
  /** The studio’s key by which the seal is judged; null when there is none. */
  key?: string | null;
  check: (databaseFile: string, manifest: Manifest, keptIn: string | null, seal: Seal) => void | Promise<void>;
}): Promise<Restored> {
  const { dataDir } = input;
  await mkdir(dataDir, { recursive: true, mode: 0o700 });
  const unpacked = join(dataDir, '.restoring');
  await rm(unpacked, { recursive: true, force: true });
  try {
    const { manifest, seal } = await readArchive(input.file, unpacked, input.key);
    if (manifest.migratedTo > input.newestMigration) {
      throw new ArchiveDamage('It was made by a newer version of Lot & Shade. Install that version, then restore.');
    }
    const keepAt = join(dataDir, input.keepAs);
    const isReplacing = (await readdir(dataDir)).some((name) => PARTS.includes(name));
    await input.check(join(unpacked, DATABASE), manifest, isReplacing ? keepAt : null, seal);
    for (const left of [`${DATABASE}-wal`, `${DATABASE}-shm`]) await rm(join(unpacked, left), { force: true });
    const keptIn = await moveParts(dataDir, keepAt);
    try {
      // Copies that an upgrade kept of the unpacked database are no part of the studio.
      await moveParts(unpacked, dataDir);
    } catch (error) {
      if (keptIn !== null) await moveParts(keptIn, dataDir);
      throw error;
    }
    return { manifest, keptIn, seal };
  } finally {
    await rm(unpacked, { recursive: true, force: true });
  }
}

/** Moves the parts of a studio that are there; null when none was. What was moved goes back when one cannot be. */
async function moveParts(from: string, to: string): Promise<string | null> {
  const there = (await readdir(from)).filter((name) => PARTS.includes(name));
  if (there.length === 0) return null;
  await mkdir(to, { recursive: true, mode: 0o700 });
  const moved: string[] = [];
  try {
    for (const name of there) {
      if (await stat(join(to, name)).catch(() => undefined)) throw new Error(`${join(to, name)} is in the way.`);
      await rename(join(from, name), join(to, name));
      moved.push(name);
    }
  } catch (error) {
    for (const name of moved) await rename(join(to, name), join(from, name));
    throw error;
  }
  return to;
}
