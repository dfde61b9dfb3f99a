import { apiRoutes, get, pageRoutes, post } from '../http/routes.ts';
import { listCostGroups } from './api/costs.ts';
import { addForgotten, correctLine } from './api/lines.ts';
import { getLotCost, markRework } from './api/lotCost.ts';
import { getQuote } from './api/quote.ts';
import { getShadeCost } from './api/shade.ts';
import { getStockWorth } from './api/stockWorth.ts';
import { addAddition, newAddition } from './pages/addition.ts';
import { addCorrection, newCorrection } from './pages/correction.ts';
import { showCosts } from './pages/costs.ts';
import { showLines } from './pages/lines.ts';
import { noteReworkOf, showLotCost } from './pages/lotCost.ts';
import { showQuote, showQuotePaper } from './pages/quote.ts';
import { showShade } from './pages/shade.ts';
import { showStockWorth } from './pages/stockWorth.ts';

export const pages = pageRoutes([
  get('/costing', 'look', showCosts),
  get('/costing/lines', 'look', showLines),
  get('/costing/lines/:id/correction/new', 'own', newCorrection),
  post('/costing/lines/:id/correction', 'own', addCorrection),
  get('/costing/lots/:id', 'look', showLotCost),
  post('/costing/lots/:id/rework', 'work', noteReworkOf),
  get('/costing/lots/:id/additions/new', 'own', newAddition),
  post('/costing/lots/:id/additions', 'own', addAddition),
  get('/costing/shades/:id', 'look', showShade),
  get('/costing/stock', 'look', showStockWorth),
  get('/orders/:id/quote', 'look', showQuote),
  get('/orders/:id/quote/paper', 'look', showQuotePaper),
]);

export const api = apiRoutes('Costing', [
  get('/costing', 'look', listCostGroups),
  get('/costing/lots/:id', 'look', getLotCost),
  get('/costing/shades/:id', 'look', getShadeCost),
  post('/cost-lines/:id/correction', 'own', correctLine),
  post('/lots/:id/rework-of', 'work', markRework),
  post('/lots/:id/cost-lines', 'own', addForgotten),
  get('/orders/:id/quote', 'look', getQuote),
  get('/costing/stock', 'look', getStockWorth),
]);
