import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { Deps } from '../deps.ts';
import { isApi } from '../http/errorHandler.ts';
import { recordAction } from './audit.ts';

declare module 'fastify' {
  interface FastifyContextConfig {
    /** 'always': refusals are recorded too (doors, secrets). 'never': the route changes nothing though it is a POST. */
    audit?: 'always' | 'never';
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
  if (SAFE.has(request.method) || request.is404 || audit === 'never') return false;
  if (audit === 'always') return true;
  if (may !== 'work' && may !== 'own') return false;
  return status < 400 || (status === 403 && request.actor !== null);
}

/** Writes every change into the audit, before its answer goes out. */
export function auditRequests(app: FastifyInstance, deps: Deps): void {
  app.decorateRequest('audited', null as never);
  app.addHook('onRequest', async (request) => {
    request.audited = { personId: null, detail: '' };
  });
  app.addHook('onSend', async (request, reply) => {
    if (!isRecorded(request, reply.statusCode)) return;
    try {
      recordAction(deps, {
        personId: request.actor?.personId ?? request.audited.personId,
        tokenId: request.tokenId,
        door: isApi(request) ? 'api' : 'page',
        action: `${request.method} ${request.routeOptions.url}`,
        // An address may hold a secret of its own: a link of an invitation does.
        path: request.routeOptions.url?.includes(':token') ? '' : (request.url.split('?')[0] ?? ''),
        status: reply.statusCode,
        detail: request.audited.detail,
        address: request.ip,
      });
    } catch (error) {
      // The change itself stands and was answered; that it could not be written down belongs into the server's log.
      request.log.error({ err: error }, 'the audit could not be written');
    }
  });
}
