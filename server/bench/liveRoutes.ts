import type { FastifyInstance } from 'fastify';
import type { Deps } from '../deps.ts';
import { found } from '../errors.ts';
import type { App } from '../http/app.ts';
import { type Live, openLive } from '../http/live.ts';
import { get, page, pageRoutes } from '../http/routes.ts';
import { lotById } from '../lots/queries.ts';
import { actorOf, stillMay } from '../people/guards.ts';
import { idParams } from '../typedFields.ts';
import { newestOfBench } from './queries.ts';

const listening = new WeakMap<Deps, Live>();

/** The stream of one lot's bench: "entry" with the number of its news. */
export function livePages(app: App, deps: Deps): void {
  const live = openLive(app);
  listening.set(deps, live);
  const followBench = page({
    params: idParams,
    show(_, { params, request, reply }) {
      const lotId = found(lotById(deps.db, params.id), 'lot').id;
      const newest = newestOfBench(deps.db, lotId);
      live.follow(reply, {
        room: String(lotId),
        personId: actorOf(request).personId,
        newest,
        stillMay: stillMay(deps, request),
      });
      return reply;
    },
  });
  pageRoutes([get('/lots/:id/live', 'log', followBench)])(app, deps);
}

/** After every write, whichever feature's door it came by, tells the open benches on which something is new. The record itself is
 *  asked, so that no rule has to remember to tell; before the answer is sent, since its reader may be gone by then. */
export function tellOpenBenches(app: FastifyInstance, deps: Deps): void {
  app.addHook('onSend', async (request) => {
    if (request.method === 'GET' || request.method === 'HEAD') return;
    const live = listening.get(deps);
    for (const room of live?.rooms() ?? []) live?.tell(room, newestOfBench(deps.db, Number(room)));
  });
}
