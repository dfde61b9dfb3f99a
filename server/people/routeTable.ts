import type { Actor } from '../deps.ts';
import { ALLOWED, declaredRoutes, type May } from './guards.ts';

export interface RouteLine {
  method: string;
  url: string;
  may: May;
  /** Who may use it, signed in; everybody and nobody in particular where may is 'anyone'. */
  roles: Actor['role'][];
}

const ROLES: readonly Actor['role'][] = ['owner', 'dyer', 'bench', 'viewer'];

/** Every route of a ready app with who may use it, by address. */
export function routeTable(app: object): RouteLine[] {
  return declaredRoutes(app)
    .flatMap(({ method, url, may }) =>
      method
        .split(',')
        .filter((m) => m !== 'HEAD')
        .map((m) => ({ method: m, url, may, roles: ROLES.filter((role) => ALLOWED[role].has(may)) })),
    )
    .sort((a, b) => (a.url === b.url ? (a.method < b.method ? -1 : 1) : a.url < b.url ? -1 : 1));
}

/** The same as text: a column each for the roles and for nobody signed in. */
export function routeTableText(table: readonly RouteLine[]): string {
  const width = Math.max(...table.map((r) => r.url.length)) + 2;
  const row = (method: string, url: string, cells: readonly string[]): string =>
    `${method.padEnd(7)}${url.padEnd(width)}${cells.map((c) => c.padEnd(8)).join('')}`.trimEnd();
  const yes = (is: boolean): string => (is ? 'yes' : '–');
  return [
    row('', 'route', [...ROLES, 'nobody']),
    ...table.map((r) =>
      row(r.method, r.url, [...ROLES.map((role) => yes(r.roles.includes(role))), yes(r.may === 'anyone')]),
    ),
  ].join('\n');
}
