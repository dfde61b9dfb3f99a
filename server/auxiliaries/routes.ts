import { apiRoutes, get, pageRoutes, post, put } from '../http/routes.ts';
import * as operations from './api/auxiliaries.ts';
import { putAuxiliaryAway, showAuxiliary } from './pages/auxiliary.ts';
import { addAuxiliary, editAuxiliary, newAuxiliary, saveAuxiliary } from './pages/form.ts';
import { showAuxiliaries } from './pages/list.ts';

export const pages = pageRoutes([
  get('/auxiliaries', 'look', showAuxiliaries),
  get('/auxiliaries/new', 'work', newAuxiliary),
  post('/auxiliaries', 'work', addAuxiliary),
  get('/auxiliaries/:id', 'look', showAuxiliary),
  get('/auxiliaries/:id/edit', 'work', editAuxiliary),
  post('/auxiliaries/:id', 'work', saveAuxiliary),
  post('/auxiliaries/:id/archiving', 'work', putAuxiliaryAway),
]);

export const api = apiRoutes('Auxiliaries', [
  get('/auxiliaries', 'look', operations.listAllAuxiliaries),
  get('/auxiliaries/:id', 'look', operations.getAuxiliary),
  post('/auxiliaries', 'work', operations.addAuxiliary),
  put('/auxiliaries/:id', 'work', operations.saveAuxiliary),
]);
