import type { Deps } from '../deps.ts';
import type { App } from '../http/app.ts';
import * as containers from './api.ts';
import * as containerPages from './pages.ts';
import * as shopping from './shoppingPages.ts';

export function pages(app: App, deps: Deps): void {
  shopping.pages(app, deps);
  containerPages.pages(app, deps);
}

export function api(app: App, deps: Deps): void {
  shopping.api(app, deps);
  containers.api(app, deps);
}
