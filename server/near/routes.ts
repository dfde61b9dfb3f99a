import { apiRoutes, get, pageRoutes } from '../http/routes.ts';
import { findNearSwatches } from './api/near.ts';
import { showMap } from './pages/map.ts';
import { showNear } from './pages/near.ts';

export const pages = pageRoutes([get('/swatches/near', 'look', showNear), get('/colour/map', 'look', showMap)]);

export const api = apiRoutes('Swatches', [get('/swatches/near', 'look', findNearSwatches)]);
