import type { Deps } from '../deps.ts';
import { notFound } from '../errors.ts';
import type { App } from '../http/app.ts';
import { type Live, openLive } from '../http/live.ts';
import { actorOf, stillMay } from '../people/guards.ts';
import { idParams } from '../typedFields.ts';
import { lotById, newestOfBench } from './queries.ts';

const listening = new WeakMap<Deps, Live>();

/** The stream of one lot's bench: "entry" with the number of its news. */
export function livePages(app: App, deps: Deps): void {
  const live = openLive(app);
  listening.set(deps, live);
  app.get('/lots/:id/live', { config: { may: 'log' }, schema: { params: idParams } }, async (request, reply) => {
    const lotId = request.params.id;
    if (!lotById(deps.db, lotId)) throw notFound('lot');
    live.follow(reply, {
      room: String(lotId),
      personId: actorOf(request).personId,
      newest: newestOfBench(deps.db, lotId),
      stillMay: stillMay(deps, request),
    });
    return reply;
  });
}

/** After every write through this door, tells the open benches on which something is new. The record itself is asked, so
 *  that no rule has to remember to tell; before the answer is sent, since its reader may be gone by then. */
export function tellOfEntries(app: App, deps: Deps): void {
  app.addHook('onSend', async (request) => {
    if (request.method === 'GET' || request.method === 'HEAD') return;
    const live = listening.get(deps);
    for (const room of live?.rooms() ?? []) live?.tell(room, newestOfBench(deps.db, Number(room)));
  });
}
