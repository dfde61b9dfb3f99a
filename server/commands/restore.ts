import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { integrityFindings } from '../backup/queries.ts';
import { restoreArchive } from '../backup/restore.ts';
import { archiveName } from '../backup/takeBackup.ts';
import { verdict, verifyStudio } from '../backup/verify.ts';
import type { Config } from '../config.ts';
import { claimDataFolder } from '../db/dataFolder.ts';
import { newestMigrationAt } from '../db/migrate.ts';
import { isOpenElsewhere, openForReading } from '../db/open.ts';
import { recordAction } from '../people/audit.ts';
import { databaseFile, openStudio, run, say, typedPath } from './opening.ts';

// npm run restore -- FILE: puts an archive into DATA_DIR; what was there is kept beside it.
run('restore', async (config, [file]) => {
  if (file === undefined) throw new Error('Say which archive: npm run restore -- FILE');
  const database = databaseFile(config);
  // Held to the end, so that no server starts meanwhile.
  const claim = claimDataFolder(config.dataDir);
  try {
    if (existsSync(database) && isOpenElsewhere(database)) {
      throw new Error(`The server is running on ${config.dataDir}. Stop it first.`);
    }
    return await restoreInto(config, file);
  } finally {
    claim.release();
  }
});

async function restoreInto(config: Config, file: string): Promise<number> {
  const { manifest, keptIn } = await restoreArchive({
    file: typedPath(file),
    dataDir: config.dataDir,
    keepAs: archiveName(Date.now()).replace('studio-', 'before-restore-').replace('.zip', ''),
    newestMigration: newestMigrationAt(join(config.packageRoot, 'migrations')),
    check: (unpacked) => {
      const open = openForReading(unpacked);
      try {
        const wrong = integrityFindings(open.db);
        if (wrong.length > 0) throw new Error(`The database in the archive is damaged: ${wrong[0]}`);
      } finally {
        open.sqlite.close();
      }
    },
  });
  say(`Restored ${manifest.studioName} as of ${new Date(manifest.madeAt).toISOString()} into ${config.dataDir}`);
  if (keptIn !== null) say(`What was there before is kept in ${keptIn}`);
  const deps = await openStudio(config);
  try {
    recordAction(deps, {
      personId: null,
      door: 'command',
      action: 'restore',
      path: '',
      status: 200,
      address: '',
      detail: typedPath(file),
    });
    const { lines, isWell } = verdict(await verifyStudio(deps.db, config.dataDir));
    for (const line of lines) say(line);
    return isWell ? 0 : 1;
  } finally {
    deps.sqlite.close();
  }
}
