import { takeBackup } from '../backup/takeBackup.ts';
import { closeBesideServer } from '../db/fileWatch.ts';
import { recordAction } from '../people/audit.ts';
import { openStudio, run, say, typedPath } from './opening.ts';

// npm run backup [-- FILE]: one archive of the studio, also while the server runs.
run('backup', async (config, [file]) => {
  const deps = await openStudio(config);
  try {
    const made = await takeBackup(deps, {
      how: 'command',
      by: null,
      ...(file === undefined ? {} : { file: typedPath(file) }),
    });
    recordAction(deps, {
      personId: null,
      door: 'command',
      action: 'backup',
      path: '',
      status: 200,
      address: '',
      detail: made.file,
    });
    say(`${made.file}`);
    say(`${made.fileCount} files, ${made.byteSize} bytes, SHA-256 ${made.sha256}; read back and whole.`);
    if (made.failure === '') return 0;
    say(`${made.failure}. It does not count as a good backup: npm run verify tells more.`);
    return 1;
  } finally {
    closeBesideServer(deps.sqlite);
  }
});
