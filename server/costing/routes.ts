import type { App } from '../app.ts';
import type { Deps } from '../deps.ts';
import * as exports from './exportPages.ts';
import * as history from './historyPages.ts';

const doors = [history, exports] as const;

export function pages(app: App, deps: Deps): void {
  for (const door of doors) door.pages(app, deps);
}

export function api(app: App, deps: Deps): void {
  for (const door of doors) door.api(app, deps);
}
