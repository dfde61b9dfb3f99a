import type { Deps } from '../deps.ts';
import type { App } from '../http/app.ts';
import { api as lotApi } from './api.ts';
import { benchPages } from './benchPages.ts';
import { livePages, tellOfEntries } from './livePages.ts';
import { pages as lotPages } from './pages.ts';

export function pages(app: App, deps: Deps): void {
  tellOfEntries(app, deps);
  livePages(app, deps);
  lotPages(app, deps);
  benchPages(app, deps);
}

export function api(app: App, deps: Deps): void {
  tellOfEntries(app, deps);
  lotApi(app, deps);
}
