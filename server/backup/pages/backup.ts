import { createReadStream } from 'node:fs';
import { stat } from 'node:fs/promises';
import { basename } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { backupPage } from '../../../views/backup/backup.ts';
import { emptyForm, type FormState, type Typed } from '../../../views/kit/field.ts';
import type { BackupSettingsRow } from '../../db/tables/keeping.ts';
import type { Deps } from '../../deps.ts';
import { notFound, Refusal } from '../../errors.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { showOf } from '../../settings/show.ts';
import { idParams } from '../../typedFields.ts';
import { backupState } from '../backupState.ts';
import { archivePassphrase, keepArchivePassphrase } from '../encryption.ts';
import { listRuns, runById, theBackupSettings, updateBackupSettings } from '../queries.ts';
import { replicaState } from '../replica.ts';
import { ArchivePassphraseForm, BackupSettingsForm } from '../schemas.ts';
import { keyShown, theStudioKey } from '../studioKey.ts';
import { isBackupRunning, takeBackup } from '../takeBackup.ts';

const RUNS_SHOWN = 60;
/** A small studio's backup is made by then, and the page can show it. */
const SHORT_WAIT_MS = 1500;

const deviceOf = (path: string): Promise<number | null> =>
  stat(path).then(
    (s) => s.dev,
    () => null,
  );

const typedOf = (settings: BackupSettingsRow): Typed => ({
  daily: settings.daily === 1 ? 'yes' : '',
  dailyAt: settings.dailyAt,
  keepCount: String(settings.keepCount),
  warnAfterHours: String(settings.warnAfterHours),
  version: String(settings.version),
});

async function backups(deps: Deps, form?: FormState, passphrase: FormState = emptyForm): Promise<Rendering> {
  const { db, config } = deps;
  const backupDevice = await deviceOf(config.backupDir);
  return {
    title: 'Backup',
    section: 'settings',
    body: backupPage({
      form: form ?? { errors: {}, typed: typedOf(theBackupSettings(db)) },
      runs: await Promise.all(
        listRuns(db, RUNS_SHOWN).map(async (run) => ({ ...run, isThere: (await deviceOf(run.file)) !== null })),
      ),
      folder: config.backupDir,
      sameDisk: backupDevice === null || backupDevice === (await deviceOf(config.dataDir)),
      state: backupState(db, deps.now()),
      running: isBackupRunning(deps),
      passphrase,
      isEncrypted: archivePassphrase(config.dataDir) !== null,
      key: keyShown(theStudioKey(config.dataDir)),
      replica: await replicaState(deps),
      show: showOf(db),
    }),
  };
}

export const showBackups = page({
  show: async (deps, { request, reply }) => sendPage(request, reply, await backups(deps)),
});

export const saveBackupSettings = page({
  show: (deps, { request, reply }) =>
    submitForm(request, reply, {
      schema: BackupSettingsForm,
      save: ({ daily, version, ...rest }) => {
        if (!updateBackupSettings(deps.db, { ...rest, daily: daily === 'yes' ? 1 : 0 }, version)) {
          throw new Refusal('staleEdit', 'Somebody saved these settings meanwhile. Below is what you typed.');
        }
        return '/settings/backup';
      },
      again: (form) => backups(deps, form),
    }),
});

export const savePassphrase = page({
  show: (deps, { request, reply }) =>
    submitForm(request, reply, {
      schema: ArchivePassphraseForm,
      save: ({ passphrase }) => {
        keepArchivePassphrase(deps.config.dataDir, passphrase);
        return '/settings/backup#protection';
      },
      again: (form) => backups(deps, undefined, form),
    }),
});

export const makeBackup = page({
  show: async (deps, { request, reply }) => {
    if (!isBackupRunning(deps)) {
      const made = takeBackup(deps, { how: 'button', by: actorOf(request).personId }).catch((error: unknown) => {
        // The list of runs says why.
        request.log.error({ err: error }, 'the backup failed');
      });
      await Promise.race([made, pause(SHORT_WAIT_MS)]);
    }
    return seeOther(reply, '/settings/backup');
  },
});

export const downloadArchive = page({
  audit: 'handedOut',
  params: idParams,
  show: async ({ db }, { params, reply }) => {
    const run = runById(db, params.id);
    const there = run && run.byteSize !== null ? await stat(run.file).catch(() => null) : null;
    if (!run || !there?.isFile()) throw notFound('archive');
    return reply
      .type(run.file.endsWith('.age') ? 'application/octet-stream' : 'application/zip')
      .header('content-length', there.size)
      .header('content-disposition', `attachment; filename="${basename(run.file).replace(/[^\w.-]+/g, '-')}"`)
      .header('cache-control', 'no-store')
      .send(createReadStream(run.file));
  },
});
