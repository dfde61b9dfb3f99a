/** The two doors of orders; both call the same rules. */
export { api } from './api.ts';
export { pages } from './pages.ts';
