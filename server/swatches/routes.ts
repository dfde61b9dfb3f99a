import { apiRoutes, get, pageRoutes, post, put } from '../http/routes.ts';
import { getNeighbours } from './api/neighbours.ts';
import * as swatches from './api/swatches.ts';
import { scaleSwatch } from './api/weighUp.ts';
import { showCard } from './pages/card.ts';
import { editSwatch, saveSwatch } from './pages/edit.ts';
import { addSwatch, newSwatch } from './pages/form.ts';
import { addReading, showSwatch } from './pages/swatch.ts';
import { showWall } from './pages/wall.ts';
import { showWeighUp } from './pages/weighUp.ts';

export const pages = pageRoutes([
  get('/swatches', 'look', showWall),
  get('/swatches/new', 'work', newSwatch),
  post('/swatches', 'work', addSwatch),
  get('/swatches/:id', 'look', showSwatch),
  get('/swatches/:id/weigh-up', 'look', showWeighUp),
  post('/swatches/:id/readings', 'work', addReading),
  get('/swatches/:id/edit', 'work', editSwatch),
  post('/swatches/:id', 'work', saveSwatch),
  get('/swatches/:id/card', 'look', showCard),
]);

export const api = apiRoutes('Swatches', [
  get('/swatches', 'look', swatches.listSomeSwatches),
  get('/swatches/:id', 'look', swatches.getSwatch),
  post('/swatches', 'work', swatches.addSwatch),
  put('/swatches/:id', 'work', swatches.saveSwatch),
  get('/swatches/:id/neighbours', 'look', getNeighbours),
  get('/swatches/:id/weigh-up', 'look', scaleSwatch),
]);
