import type { App } from '../app.ts';
import type { Deps } from '../deps.ts';
import { notFound } from '../errors.ts';
import { type Live, openLive } from '../http/live.ts';
import { actorOf } from '../people/guards.ts';
import { idParams } from '../typedFields.ts';
import { lotById, lotsLoggedAfter, newestEntryId } from './queries.ts';

interface Listening {
  live: Live;
  /** The newest entry of which the listeners were told. */
  told: number;
}
const listening = new WeakMap<Deps, Listening>();

/** The stream of one lot's bench: "entry" with the id of its newest log entry. */
export function livePages(app: App, deps: Deps): void {
  const state: Listening = { live: openLive(app), told: 0 };
  listening.set(deps, state);
  app.get('/lots/:id/live', { config: { may: 'log' }, schema: { params: idParams } }, async (request, reply) => {
    const lotId = request.params.id;
    if (!lotById(deps.db, lotId)) throw notFound('lot');
    if (!state.live.heard()) state.told = newestEntryId(deps.db, null);
    state.live.follow(reply, {
      room: String(lotId),
      personId: actorOf(request).personId,
      newest: newestEntryId(deps.db, lotId),
    });
    return reply;
  });
}

/** After every write through this door, tells the open benches of the lots whose log grew. The log itself is asked, so
 *  that no rule has to remember to tell; before the answer is sent, since its reader may be gone by then. */
export function tellOfEntries(app: App, deps: Deps): void {
  app.addHook('onSend', async (request) => {
    if (request.method === 'GET' || request.method === 'HEAD') return;
    const state = listening.get(deps);
    if (!state?.live.heard()) return;
    for (const { lotId, newest } of lotsLoggedAfter(deps.db, state.told)) {
      state.told = Math.max(state.told, newest);
      state.live.tell(String(lotId), newest);
    }
  });
}
