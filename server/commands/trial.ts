import { rm } from 'node:fs/promises';
import { archivePassphrase, encryptArchive } from '../backup/encryption.ts';
import { failuresOf, type TrialAnswer } from '../backup/verify.ts';
import { readConfig } from '../config.ts';
import { tryArchive, verifyFile } from './trying.ts';

/* A process of its own (see backup/trials.ts): tries what its command line names, and tells the service what is wrong with it.
     snapshot FILE DATA_DIR    a copy of the database, with the pictures and sounds of the folder
     archive FILE FOLDER DATA_DIR HASH
                               an archive of the studio in DATA_DIR, by restoring it into a folder that is removed afterwards
     encrypt FILE TO DATA_DIR  no trial: encrypts an archive to the passphrase of DATA_DIR */

const [what = '', file = '', folder = '', dataDir = '', sha256] = process.argv.slice(2);
const clearAway = async (): Promise<void> => {
  if (what === 'archive') await rm(folder, { recursive: true, force: true });
};
// Whoever asked for it is gone.
process.on('disconnect', () => void clearAway().finally(() => process.exit(1)));

async function answer(): Promise<TrialAnswer | { byteSize: number; sha256: string }> {
  try {
    if (what === 'encrypt') return await encryptArchive(file, folder, archivePassphrase(dataDir) ?? '');
    if (what === 'snapshot') return failuresOf(await verifyFile(file, folder));
    return failuresOf(await tryArchive({ ...readConfig(process.env), dataDir }, { file, folder, sha256 }));
  } catch (error) {
    return { isWhole: true, wrong: [(error as Error).message] };
  } finally {
    await clearAway().catch(() => undefined);
  }
}

const said = await answer();
process.send?.(said, () => process.exit(0));
