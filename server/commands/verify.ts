import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type Check, verdict } from '../backup/verify.ts';
import type { Config } from '../config.ts';
import { archiveAsked, run, say, typedPath } from './opening.ts';
import { IS_SEALED, tryArchive, verifyFolder } from './trying.ts';

async function verifyArchive(config: Config, file: string, passphrase?: string): Promise<Check[]> {
  const folder = await mkdtemp(join(tmpdir(), 'studio-verify-'));
  try {
    return await tryArchive(config, { file, folder, passphrase });
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}

// npm run verify [-- ARCHIVE [--passphrase-file FILE]]: the studio of DATA_DIR, or what an archive would restore to.
run('verify', async (config, args) => {
  const { archive, passphrase } = archiveAsked(args);
  const checks = await (archive === undefined
    ? verifyFolder(config)
    : verifyArchive(config, typedPath(archive), passphrase));
  const { lines, isWell } = verdict(checks);
  for (const line of lines) say(line);
  const isDoubtful = checks.some((c) => c.name === IS_SEALED && c.notes.length > 0);
  say(
    !isWell
      ? 'Something is wrong: see above.'
      : isDoubtful
        ? 'Nothing is wrong in it. Whether it was changed since it was made cannot be told: see the note above.'
        : 'All is well.',
  );
  return isWell ? 0 : 1;
});
