import { get, pageRoutes, post } from '../http/routes.ts';
import { downloadArchive, makeBackup, saveBackupSettings, savePassphrase, showBackups } from './pages/backup.ts';

export const pages = pageRoutes([
  get('/settings/backup', 'own', showBackups),
  post('/settings/backup', 'own', saveBackupSettings),
  post('/settings/backup/passphrase', 'own', savePassphrase),
  post('/settings/backups', 'own', makeBackup),
  get('/settings/backups/:id/file', 'own', downloadArchive),
]);
