export { api } from './api.ts';

import type { App } from '../app.ts';
import type { Deps } from '../deps.ts';
import { benchPages } from './benchPages.ts';
import { pages as lotPages } from './pages.ts';

export function pages(app: App, deps: Deps): void {
  lotPages(app, deps);
  benchPages(app, deps);
}
