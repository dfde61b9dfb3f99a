/** The two doors of recipes; both call the same rules. */
export { api } from './api.ts';
export { pages } from './pages.ts';
