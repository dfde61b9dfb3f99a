import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { restoreArchive } from '../backup/restore.ts';
import { verdict, verifyStudio } from '../backup/verify.ts';
import type { Config } from '../config.ts';
import { isOfOlderVersion, newestMigrationAt } from '../db/migrate.ts';
import { openForReading } from '../db/open.ts';
import { openStudio, run, say, typedPath } from './opening.ts';

async function verifyFolder({ dataDir, packageRoot }: Config): Promise<number> {
  const open = openForReading(join(dataDir, 'studio.sqlite'));
  try {
    if (isOfOlderVersion(open, join(packageRoot, 'migrations'))) {
      throw new Error(
        `The studio in ${dataDir} was written by an older version. Start this version once, which brings it up to date and keeps a copy, and verify it then.`,
      );
    }
    // One moment's view, however long the reading takes.
    open.sqlite.exec('BEGIN');
    const { lines, isWell } = verdict(await verifyStudio(open.db, dataDir));
    for (const line of lines) say(line);
    say(isWell ? 'All is well.' : 'Something is wrong: see above.');
    return isWell ? 0 : 1;
  } finally {
    open.sqlite.close();
  }
}

// npm run verify [-- ARCHIVE]: the studio of DATA_DIR, or what an archive would restore to.
run('verify', async (config, [archive]) => {
  if (archive === undefined) return verifyFolder(config);
  const dataDir = await mkdtemp(join(tmpdir(), 'studio-verify-'));
  try {
    await restoreArchive({
      file: typedPath(archive),
      dataDir,
      keepAs: 'before',
      newestMigration: newestMigrationAt(join(config.packageRoot, 'migrations')),
      check: () => undefined,
    });
    // An archive of an older version is brought up to date first, as a restore would.
    (await openStudio({ ...config, dataDir })).sqlite.close();
    return await verifyFolder({ ...config, dataDir });
  } finally {
    await rm(dataDir, { recursive: true, force: true });
  }
});
