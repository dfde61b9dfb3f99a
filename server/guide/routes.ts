import { get, pageRoutes } from '../http/routes.ts';
import { showContents, showSection } from './pages/guide.ts';

export const pages = pageRoutes([get('/guide', 'look', showContents), get('/guide/:section', 'look', showSection)]);
