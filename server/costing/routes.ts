import type { Deps } from '../deps.ts';
import type { App } from '../http/app.ts';
import * as additions from './additionPages.ts';
import * as costs from './costPages.ts';
import * as exports from './exportPages.ts';
import * as history from './historyPages.ts';
import * as quotes from './quotePages.ts';
import * as stock from './stockPages.ts';

const doors = [history, exports, costs, additions, quotes, stock] as const;

export function pages(app: App, deps: Deps): void {
  for (const door of doors) door.pages(app, deps);
}

export function api(app: App, deps: Deps): void {
  for (const door of doors) door.api(app, deps);
}
