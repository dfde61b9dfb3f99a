import { apiRoutes, get, pageRoutes, post, put } from '../http/routes.ts';
import * as operations from './api/cards.ts';
import { archiveCard, restoreCard, showCard } from './pages/card.ts';
import { addCard, newCard } from './pages/form.ts';
import { showCards } from './pages/list.ts';

export const pages = pageRoutes([
  get('/reference-cards', 'look', showCards),
  get('/reference-cards/new', 'work', newCard),
  post('/reference-cards', 'work', addCard),
  get('/reference-cards/:id', 'look', showCard),
  post('/reference-cards/:id/archiving', 'work', archiveCard),
  post('/reference-cards/:id/restoring', 'work', restoreCard),
]);

export const api = apiRoutes('Reference cards', [
  get('/reference-cards', 'look', operations.listAllCards),
  get('/reference-cards/:id', 'look', operations.getCard),
  post('/reference-cards', 'work', operations.addMeasuredCard),
  put('/reference-cards/:id', 'work', operations.saveCard),
]);
