import type { App } from '../app.ts';
import type { Deps } from '../deps.ts';
import { exportPages } from './exportPages.ts';
import { pages as importPages } from './pages.ts';

export { api } from './api.ts';

export function pages(app: App, deps: Deps): void {
  importPages(app, deps);
  exportPages(app, deps);
}
