import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type Check, verdict } from '../backup/verify.ts';
import type { Config } from '../config.ts';
import { run, say, typedPath } from './opening.ts';
import { tryArchive, verifyFolder } from './trying.ts';

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
