import type { Deps } from '../deps.ts';
import type { App } from '../http/app.ts';
import { apiRoutes, get, pageRoutes, post, put, remove } from '../http/routes.ts';
import { csv, xlsx } from './api/file.ts';
import { getReconciliation, listBatchHistory, listExportColumns } from './api/history.ts';
import { addSavedExport, listSaved, removeSavedExport, saveSavedExport } from './api/savedExports.ts';
import { historyFile, savedFile } from './pages/file.ts';
import { addExport, editExport, newExport, saveEdited } from './pages/form.ts';
import { showHistory } from './pages/history.ts';
import { removeExport, showExports } from './pages/list.ts';

export const pages = pageRoutes([
  get('/history', 'look', showHistory),
  get('/history/export.csv', 'look', historyFile.csv),
  get('/history/export.xlsx', 'look', historyFile.xlsx),
  get('/exports', 'look', showExports),
  get('/exports/new', 'work', newExport),
  post('/exports', 'work', addExport),
  get('/exports/:id/edit', 'work', editExport),
  post('/exports/:id', 'work', saveEdited),
  post('/exports/:id/removal', 'work', removeExport),
  get('/exports/:id/file.csv', 'look', savedFile.csv),
  get('/exports/:id/file.xlsx', 'look', savedFile.xlsx),
]);

const history = apiRoutes('Batch history', [get('/history', 'look', listBatchHistory)]);

const files = apiRoutes('Exports', [
  get('/exports/lots.csv', 'look', csv.lots),
  get('/exports/saved/:id/file.csv', 'look', csv.saved),
  get('/exports/saved/:id(^[1-9]\\d*).csv', 'look', csv.savedShort),
  get('/exports/lots.xlsx', 'look', xlsx.lots),
  get('/exports/saved/:id/file.xlsx', 'look', xlsx.saved),
  get('/exports/saved/:id(^[1-9]\\d*).xlsx', 'look', xlsx.savedShort),
  get('/exports/columns', 'look', listExportColumns),
  get('/exports/reconciliation', 'look', getReconciliation),
  get('/exports/saved', 'look', listSaved),
  post('/exports/saved', 'work', addSavedExport),
  put('/exports/saved/:id', 'work', saveSavedExport),
  remove('/exports/saved/:id', 'work', removeSavedExport),
]);

export function api(app: App, deps: Deps): void {
  history(app, deps);
  files(app, deps);
}
