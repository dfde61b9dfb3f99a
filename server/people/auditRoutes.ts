import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { Deps } from '../deps.ts';
import { isApi } from '../http/errorHandler.ts';
import { recordAction } from './audit.ts';
import { StrangersTries } from './strangersTries.ts';

declare module 'fastify' {
  interface FastifyContextConfig {
    /** 'always': refusals are recorded too (doors, secrets). 'never': the route changes nothing though it is a POST. 'handedOut': what is
     *  fetched is all of the studio, so that fetching it is recorded. */
    audit?: 'always' | 'never' | 'handedOut';
  }
  interface FastifyRequest {
    /** Who it turned out to be, where that is found out by the route itself (a sign-in), and what else to say of it. */
    audited: { personId: number | null; detail: string };
  }
}

const SAFE = new Set(['GET', 'HEAD', 'OPTIONS']);

/** Whether a request goes into the audit. Routes that log at the bench are left out: the production log and the ledger
 *  hold who, when and what themselves. So are those that one may call with looking alone: they change nothing. */
function isRecorded(request: FastifyRequest, status: number): boolean {
  const { may, audit } = request.routeOptions.config ?? {};
  if (audit === 'handedOut' && request.method === 'GET') return status < 400;
  if (SAFE.has(request.method) || request.is404 || audit === 'never') return false;
  // Nobody was there and nothing was done: a sign-out without a sign-in.
  if (isNobodys(request) && status < 400) return false;
  if (audit === 'always') return true;
  if (may !== 'work' && may !== 'own') return false;
  return status < 400 || (status === 403 && request.actor !== null);
}

/** What was said of a request; nothing of one that was refused before anything could be. */
const saidOf = (request: FastifyRequest): FastifyRequest['audited'] =>
  request.audited ?? { personId: null, detail: '' };
const isNobodys = (request: FastifyRequest): boolean => request.actor === null && saidOf(request).personId === null;

/** Writes every change into the audit, before its answer goes out. */
export function auditRequests(app: FastifyInstance, deps: Deps): void {
  const fold = new StrangersTries();
  app.decorateRequest('audited', null as never);
  app.addHook('onRequest', async (request) => {
    request.audited = { personId: null, detail: '' };
  });
  app.addHook('onSend', async (request, reply) => {
    const { statusCode: status } = reply;
    if (!isRecorded(request, status)) return;
    const action = `${request.method} ${request.routeOptions.url}`;
    let { detail } = saidOf(request);
    if (request.actor === null && status >= 400) {
      const tries = fold.count({ action, address: request.ip, now: deps.now() });
      if (tries === null) return;
      if (tries.count > 1) detail = [detail, `${tries.count} such tries within the hour`].filter(Boolean).join('; ');
    }
    try {
      recordAction(deps, {
        personId: request.actor?.personId ?? saidOf(request).personId,
        tokenId: request.tokenId,
        door: isApi(request) ? 'api' : 'page',
        action,
        // An address may hold a secret of its own: a link of an invitation does.
        path: request.routeOptions.url?.includes(':token') ? '' : (request.url.split('?')[0] ?? ''),
        status,
        detail,
        address: request.ip,
      });
    } catch (error) {
      // The change itself stands and was answered; that it could not be written down belongs into the server's log.
      request.log.error({ err: error }, 'the audit could not be written');
    }
  });
}
