export { api } from './api.ts';
