import type { FastifyInstance } from 'fastify';
import type { Deps } from '../deps.ts';
import { Refusal } from '../errors.ts';
import '../people/guards.ts';
import { damageFault, faultOf, isDamage, lookAtFile, noteHeads, stopWriting } from './queries.ts';

const SAFE = new Set(['GET', 'HEAD', 'OPTIONS']);

/** Keeps a record that can no longer be trusted with entries from being given any: whatever would write is refused with the
 *  reason, before it has touched anything; whatever reads is answered for as long as it can be. SQLite refuses on its own account
 *  as well (query_only). */
export function guardSoundness(app: FastifyInstance, { sqlite }: Pick<Deps, 'sqlite'>): void {
  app.addHook('onRequest', async (request) => {
    if (SAFE.has(request.method)) return;
    // Only what changes nothing: calculators, and forms that are looked through before they are saved.
    const { may, audit } = request.routeOptions.config;
    if (audit === 'never' || (may === 'anyone' && audit !== 'always')) return;
    const fault = lookAtFile(sqlite);
    if (fault)
      throw new Refusal(fault.kind === 'damaged' ? 'damaged' : 'notTheFile', `Nothing was saved. ${fault.words}`);
  });
  // Before anybody is told that it is kept.
  app.addHook('onSend', async () => noteHeads(sqlite));
  app.addHook('onError', async (_request, _reply, error) => {
    if (isDamage(error)) stopWriting(sqlite, damageFault(error.message));
  });
}

/** What every page says of it; '' while all is well. */
export const faultWords = ({ sqlite }: Pick<Deps, 'sqlite'>): string => faultOf(sqlite)?.words ?? '';
