import { rm } from 'node:fs/promises';
import { failuresOf, type TrialAnswer } from '../backup/verify.ts';
import { readConfig } from '../config.ts';
import { tryArchive, verifyFile } from './trying.ts';

/* A process of its own (see backup/trials.ts): tries what its command line names, and tells the service what is wrong with it.
     snapshot FILE DATA_DIR    a copy of the database, with the pictures and sounds of the folder
     archive FILE FOLDER HASH  an archive, by restoring it into a folder that is removed afterwards */

const [what = '', file = '', folder = '', sha256] = process.argv.slice(2);
const clearAway = async (): Promise<void> => {
  if (what === 'archive') await rm(folder, { recursive: true, force: true });
};
// Whoever asked for it is gone.
process.on('disconnect', () => void clearAway().finally(() => process.exit(1)));

async function answer(): Promise<TrialAnswer> {
  try {
    if (what === 'snapshot') return failuresOf(await verifyFile(file, folder));
    return failuresOf(await tryArchive(readConfig(process.env), { file, folder, sha256 }));
  } catch (error) {
    return { isWhole: true, wrong: [(error as Error).message] };
  } finally {
    await clearAway().catch(() => undefined);
  }
}

const said = await answer();
process.send?.(said, () => process.exit(0));
