export { api } from './api.ts';
export { pages } from './pages.ts';
