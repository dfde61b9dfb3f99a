import { apiRoutes, get, pageRoutes, post, put } from '../http/routes.ts';
import * as operations from './api/dyes.ts';
import { putDyeAway, showDye } from './pages/dye.ts';
import { addDye, editDye, newDye, saveDye } from './pages/form.ts';
import { showDyes } from './pages/list.ts';

export const pages = pageRoutes([
  get('/dyes', 'look', showDyes),
  get('/dyes/new', 'work', newDye),
  post('/dyes', 'work', addDye),
  get('/dyes/:id', 'look', showDye),
  get('/dyes/:id/edit', 'work', editDye),
  post('/dyes/:id', 'work', saveDye),
  post('/dyes/:id/archiving', 'work', putDyeAway),
]);

export const api = apiRoutes('Dyes', [
  get('/dyes', 'look', operations.listAllDyes),
  get('/dyes/:id', 'look', operations.getDye),
  get('/dyes/:id/uses', 'look', operations.getDyeUses),
  post('/dyes', 'work', operations.addDye),
  put('/dyes/:id', 'work', operations.saveDye),
]);
