import { apiRoutes, get, pageRoutes, post, put } from '../http/routes.ts';
import * as operations from './api/fibres.ts';
import { addFibre, editFibre, newFibre, saveFibre } from './pages/form.ts';
import { showFibres } from './pages/list.ts';

export const pages = pageRoutes([
  get('/fibres', 'look', showFibres),
  get('/fibres/new', 'work', newFibre),
  post('/fibres', 'work', addFibre),
  get('/fibres/:id', 'look', editFibre),
  post('/fibres/:id', 'work', saveFibre),
]);

export const api = apiRoutes('Fibres', [
  get('/fibres', 'look', operations.listAllFibres),
  get('/fibres/:id', 'look', operations.getFibre),
  post('/fibres', 'work', operations.addFibre),
  put('/fibres/:id', 'work', operations.saveFibre),
]);
