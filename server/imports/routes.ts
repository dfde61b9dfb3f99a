import type { Deps } from '../deps.ts';
import type { App } from '../http/app.ts';
import { exportPages } from './exportPages.ts';
import { pages as importPages } from './pages.ts';

export { api } from './api.ts';

export function pages(app: App, deps: Deps): void {
  importPages(app, deps);
  exportPages(app, deps);
}
