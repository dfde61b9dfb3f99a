import type { FastifyInstance, FastifyRequest } from 'fastify';
import '@fastify/cookie';
import type { Actor, Deps } from '../deps.ts';
import { Refusal } from '../errors.ts';
import { isApi } from '../http/errorHandler.ts';
import { hasSecondStep } from './doorQueries.ts';
import { liveToken, personOfSignIn, touchSignIn, touchToken } from './queries.ts';
import { tokenHash } from './signIn.ts';

/** What a route lets one do. Every route declares it (`config: { may }`); one that does not fails at start. */
export type May = 'anyone' | 'look' | 'log' | 'work' | 'own';

declare module 'fastify' {
  interface FastifyContextConfig {
    may?: May;
  }
  interface FastifyRequest {
    actor: Actor | null;
    tokenScope: 'read' | 'write' | null;
    tokenId: number | null;
  }
}

export const ALLOWED: Record<Actor['role'], ReadonlySet<May>> = {
  owner: new Set<May>(['anyone', 'look', 'log', 'work', 'own']),
  dyer: new Set<May>(['anyone', 'look', 'log', 'work']),
  bench: new Set<May>(['anyone', 'look', 'log']),
  viewer: new Set<May>(['anyone', 'look']),
};

export const SIGN_IN_COOKIE = 'studio';
const TOUCH_EVERY_MS = 60_000;

/** The person behind a request; only for handlers behind a guard. */
export function actorOf(request: FastifyRequest): Actor {
  if (!request.actor) throw new Refusal('notSignedIn', 'Sign in first.');
  return request.actor;
}

/** Finds out who asks: bearer token (API) or sign-in cookie. */
export function identify(deps: Deps, request: FastifyRequest): void {
  request.actor = null;
  request.tokenScope = null;
  request.tokenId = null;
  const { authorization = '' } = request.headers;
  if (/^\s*bearer\b/i.test(authorization)) {
    // What is meant as a token and is none is refused: a cookie beside it must not stand in for it.
    const bearer = /^Bearer (\S+)$/i.exec(authorization)?.[1] ?? '';
    const found = liveToken(deps.db, tokenHash(bearer), deps.now());
    if (!found) throw new Refusal('notSignedIn', 'That token is not (or no longer) valid.');
    if (!isApi(request)) throw new Refusal('notAllowed', 'A token opens the API, not the pages.');
    request.actor = { personId: found.person.id, name: found.person.name, role: found.person.role };
    request.tokenScope = found.token.scope;
    request.tokenId = found.token.id;
    noteUse(deps, request, found.token.lastUsedAt ?? 0, (now) => touchToken(deps.db, found.token.id, now));
    return;
  }
  const cookie = request.cookies[SIGN_IN_COOKIE];
  if (!cookie) return;
  const hash = tokenHash(cookie);
  const found = personOfSignIn(deps.db, hash, deps.now());
  if (!found) return;
  request.actor = { personId: found.person.id, name: found.person.name, role: found.person.role };
  noteUse(deps, request, found.lastSeenAt, (now) => touchSignIn(deps.db, hash, now));
}

/** Writes down now and then that a sign-in or token is in use. A disk that takes no writes must not close the record to
 *  readers, so a failure goes into the server's log only. */
function noteUse(deps: Deps, request: FastifyRequest, lastAt: number, touch: (now: number) => void): void {
  const now = deps.now();
  if (lastAt >= now - TOUCH_EVERY_MS) return;
  try {
    touch(now);
  } catch (error) {
    request.log.error({ err: error }, 'a sign-in could not be noted');
  }
}

/** Whether somebody may do what a button is for, so that a page offers only what its route would accept. */
export const allows = (actor: Actor | null, may: May): boolean => actor !== null && ALLOWED[actor.role].has(may);

/** Refuses a request whose person may not do what the route is for. */
export function guard(request: FastifyRequest): void {
  const may = request.routeOptions.config.may;
  if (request.is404 || may === 'anyone') return;
  const { actor } = request;
  if (!actor) throw new Refusal('notSignedIn', 'Sign in first.');
  if (!may || !ALLOWED[actor.role].has(may))
    throw new Refusal('notAllowed', 'Your sign-in may look at this, but not do that.');
  if (request.tokenScope === 'read' && request.method !== 'GET' && request.method !== 'HEAD') {
    throw new Refusal('notAllowed', 'This token may read only.');
  }
}

/** Sends an owner without a second step to where one is set up, where the studio asks it of owners; nothing else opens. Scripts with a token of
 *  theirs go on. */
export function demandSecondStep(deps: Deps, request: FastifyRequest, isDemanded: boolean): void {
  const { actor, routeOptions } = request;
  if (!isDemanded || actor?.role !== 'owner' || request.tokenId !== null || request.is404) return;
  if (routeOptions.config.may === 'anyone' || routeOptions.url?.startsWith('/account')) return;
  if (!hasSecondStep(deps.db, actor.personId))
    throw new Refusal(
      'secondStepNeeded',
      'Owners of this studio need a second step. Set yours up on your own page first.',
    );
}

/** Asks again, later on, whether whoever opened a stream would still get it: the sign-in may have ended, or the role changed. */
export function stillMay(deps: Deps, request: FastifyRequest): () => boolean {
  const { may } = request.routeOptions.config;
  const hash = tokenHash(request.cookies[SIGN_IN_COOKIE] ?? '');
  const personId = request.actor?.personId;
  return () => {
    const found = personOfSignIn(deps.db, hash, deps.now());
    return (
      found !== undefined && may !== undefined && found.person.id === personId && ALLOWED[found.person.role].has(may)
    );
  };
}

export interface DeclaredRoute {
  method: string;
  url: string;
  may: May;
}

const declared = new WeakMap<object, DeclaredRoute[]>();

/** Every route of a ready app with who may use it. */
export const declaredRoutes = (app: object): readonly DeclaredRoute[] => declared.get(app) ?? [];

/** Fails at start when a route does not declare who may use it. Collects first and checks when all are there, since a
 *  plugin's own routes get their declaration from its scope. */
export function demandDeclaredRoutes(app: FastifyInstance): void {
  const routes: { method: string; url: string; options: { config?: { may?: May } } }[] = [];
  const table: DeclaredRoute[] = [];
  declared.set(app, table);
  app.addHook('onRoute', (route) => {
    routes.push({ method: String(route.method), url: route.url, options: route });
  });
  app.addHook('onReady', async () => {
    for (const { method, url, options } of routes) {
      const may = options.config?.may;
      if (may === undefined) throw new Error(`${method} ${url} does not declare who may use it`);
      table.push({ method, url, may });
    }
  });
}
