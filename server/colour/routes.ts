import type { Deps } from '../deps.ts';
import type { App } from '../http/app.ts';
import { cardApi } from './cardApi.ts';
import { cardPages } from './cardPages.ts';
import { nearApi } from './nearApi.ts';
import { nearPages } from './nearPages.ts';
import { photoApi } from './photoApi.ts';
import { photoPages } from './photoPages.ts';
import { readingApi } from './readingApi.ts';
import { readingPages } from './readingPages.ts';

export function pages(app: App, deps: Deps): void {
  readingPages(app, deps);
  nearPages(app, deps);
  photoPages(app, deps);
  cardPages(app, deps);
}

export function api(app: App, deps: Deps): void {
  readingApi(app, deps);
  nearApi(app, deps);
  photoApi(app, deps);
  cardApi(app, deps);
}
