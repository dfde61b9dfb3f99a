import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type Check, verdict } from '../backup/verify.ts';
import type { Config } from '../config.ts';
import { isOfOlderVersion } from '../db/migrate.ts';
import { openForReading } from '../db/open.ts';
import { databaseFile, demandThere, run, say, typedPath } from './opening.ts';
import { tryArchive, verifyFile } from './trying.ts';

async function verifyFolder(config: Config): Promise<Check[]> {
  const { dataDir, packageRoot } = config;
  const file = databaseFile(config);
  demandThere(file);
  const open = openForReading(file);
  try {
    if (isOfOlderVersion(open, join(packageRoot, 'migrations'))) {
      throw new Error(
        `The studio in ${dataDir} was written by an older version. Start this version once, which brings it up to date and keeps a copy, and verify it then.`,
      );
    }
  } finally {
    open.sqlite.close();
  }
  return verifyFile(file, dataDir);
}

async function verifyArchive(config: Config, file: string): Promise<Check[]> {
  const folder = await mkdtemp(join(tmpdir(), 'studio-verify-'));
  try {
    return await tryArchive(config, { file, folder });
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}

// npm run verify [-- ARCHIVE]: the studio of DATA_DIR, or what an archive would restore to.
run('verify', async (config, [archive]) => {
  const { lines, isWell } = verdict(
    await (archive === undefined ? verifyFolder(config) : verifyArchive(config, typedPath(archive))),
  );
  for (const line of lines) say(line);
  say(isWell ? 'All is well.' : 'Something is wrong: see above.');
  return isWell ? 0 : 1;
});
