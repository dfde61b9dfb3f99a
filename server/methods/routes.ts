import { apiRoutes, get, pageRoutes, post, put } from '../http/routes.ts';
import * as operations from './api/methods.ts';
import { addMethod, editMethod, newMethod, saveMethod } from './pages/form.ts';
import { showMethods } from './pages/list.ts';
import { archiveMethod, restoreMethod, showMethod } from './pages/method.ts';

export const pages = pageRoutes([
  get('/methods', 'look', showMethods),
  get('/methods/new', 'work', newMethod),
  post('/methods', 'work', addMethod),
  get('/methods/:id', 'look', showMethod),
  get('/methods/:id/edit', 'work', editMethod),
  post('/methods/:id', 'work', saveMethod),
  post('/methods/:id/archiving', 'work', archiveMethod),
  post('/methods/:id/restoring', 'work', restoreMethod),
]);

export const api = apiRoutes('Methods', [
  get('/methods', 'look', operations.listAllMethods),
  get('/methods/:id', 'look', operations.getMethod),
  post('/methods', 'work', operations.addMethod),
  put('/methods/:id', 'work', operations.saveMethod),
  post('/methods/:id/copies', 'work', operations.copyMethod),
  post('/methods/:id/archiving', 'work', operations.archiveMethod),
  post('/methods/:id/restoring', 'work', operations.restoreMethod),
]);
