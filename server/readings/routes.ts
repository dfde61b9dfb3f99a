import { apiRoutes, get, pageRoutes, post } from '../http/routes.ts';
import * as operations from './api/readings.ts';
import { withdraw } from './pages/withdrawal.ts';

export const pages = pageRoutes([post('/readings/:id/withdrawal', 'work', withdraw)]);

export const api = apiRoutes('Colour readings', [
  get('/swatches/:id/readings', 'look', operations.listSwatchReadings),
  post('/swatches/:id/readings', 'work', operations.recordSwatchReadings),
  get('/lots/:id/readings', 'look', operations.listLotReadings),
  post('/lots/:id/readings', 'log', operations.recordLotReadings),
  get('/order-lines/:id/readings', 'look', operations.listOrderLineReadings),
  post('/order-lines/:id/readings', 'work', operations.recordOrderLineReadings),
  post('/readings/:id/withdrawal', 'work', operations.withdraw),
]);
