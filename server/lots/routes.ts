import { apiRoutes, get, pageRoutes, post } from '../http/routes.ts';
import { abandon, finish } from './api/finish.ts';
import { listAllLots } from './api/list.ts';
import { getLot, getLotPlan } from './api/lot.ts';
import { planNewLot, previewNewPlan } from './api/plan.ts';
import { abandonTypedLot, finishTypedLot, showFinish } from './pages/finish.ts';
import { showLabel } from './pages/label.ts';
import { showLots } from './pages/list.ts';
import { showLot } from './pages/lot.ts';
import { newPlan, planTypedLot, previewTypedPlan } from './pages/plan.ts';
import { keepReadings } from './pages/readings.ts';
import { showSheet } from './pages/sheet.ts';
import { keepLotSwatch, newLotSwatch } from './pages/swatch.ts';

export const pages = pageRoutes([
  get('/lots', 'look', showLots),
  get('/lots/new', 'work', newPlan),
  post('/lots/plan', 'work', previewTypedPlan),
  post('/lots', 'work', planTypedLot),
  get('/lots/:id', 'look', showLot),
  get('/lots/:id/sheet', 'look', showSheet),
  get('/lots/:id/label', 'look', showLabel),
  post('/lots/:id/readings', 'work', keepReadings),
  get('/lots/:id/swatch', 'work', newLotSwatch),
  post('/lots/:id/swatch', 'work', keepLotSwatch),
  get('/lots/:id/outcome', 'work', showFinish),
  post('/lots/:id/outcome', 'work', finishTypedLot),
  post('/lots/:id/abandonment', 'work', abandonTypedLot),
]);

export const api = apiRoutes('Production log', [
  post('/lots/plan', 'look', previewNewPlan),
  post('/lots', 'work', planNewLot),
  get('/lots', 'look', listAllLots),
  get('/lots/:id', 'look', getLot),
  get('/lots/:id/snapshot', 'look', getLotPlan),
  post('/lots/:id/outcome', 'work', finish),
  post('/lots/:id/abandonment', 'work', abandon),
]);
