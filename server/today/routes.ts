import { apiRoutes, get, pageRoutes } from '../http/routes.ts';
import { getToday } from './api/today.ts';
import { showToday } from './pages/today.ts';

export const pages = pageRoutes([get('/', 'look', showToday)]);

export const api = apiRoutes('Today', [get('/today', 'look', getToday)]);
