import { apiRoutes, get, pageRoutes, post } from '../http/routes.ts';
import { importSwatches, listAllImports, takeImportBack } from './api/imports.ts';
import { acceptDraft, discardDraft, saveChoices, showDraft } from './pages/draft.ts';
import { jsonFile, showExport, zipFile } from './pages/export.ts';
import { showImport, undo } from './pages/import.ts';
import { addDraft, showImports } from './pages/list.ts';

export const pages = pageRoutes([
  get('/imports', 'work', showImports),
  post('/imports/drafts', 'work', addDraft),
  get('/imports/drafts/:draftId', 'work', showDraft),
  post('/imports/drafts/:draftId', 'work', saveChoices),
  post('/imports/drafts/:draftId/acceptance', 'work', acceptDraft),
  post('/imports/drafts/:draftId/discarding', 'work', discardDraft),
  get('/imports/:id', 'work', showImport),
  post('/imports/:id/undoing', 'work', undo),
  // Leaving: everything in open formats.
  get('/settings/export', 'own', showExport),
  get('/settings/export/everything.zip', 'own', zipFile),
  get('/settings/export/everything.json', 'own', jsonFile),
]);

export const api = apiRoutes('Imports', [
  get('/imports', 'look', listAllImports),
  post('/imports/swatches', 'work', importSwatches),
  post('/imports/:id/undoing', 'work', takeImportBack),
]);
