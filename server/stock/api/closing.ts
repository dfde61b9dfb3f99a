import { operation } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { theContainer } from '../containerState.ts';
import { closeContainer, reopenContainer } from '../containers.ts';
import { shownStockLot } from '../present.ts';
import { stockLotEventsOf } from '../queries.ts';
import { ClosingBody, ReopeningBody, StockLotEventsResource, StockLotResource } from '../schemas.ts';

export const closeStockLot = operation({
  id: 'closeStockLot',
  summary: 'Close a container: empty, or thrown away',
  params: idParams,
  body: ClosingBody,
  answer: StockLotResource,
  run: (deps, { params, body, request }) => {
    const { id: stockLotId } = theContainer(deps.db, params.id);
    const { how, reason, clientId = null } = body;
    closeContainer(deps, { stockLotId, how, reason, clientId }, actorOf(request));
    return shownStockLot(deps, stockLotId);
  },
});

export const reopenStockLot = operation({
  id: 'reopenStockLot',
  summary: 'Open a closed container again, with the count of what is in it',
  params: idParams,
  body: ReopeningBody,
  answer: StockLotResource,
  run: (deps, { params, body, request }) => {
    const { id: stockLotId } = theContainer(deps.db, params.id);
    const { countedQuantity, reason, clientId = null } = body;
    reopenContainer(deps, { stockLotId, countedQuantity, reason, clientId }, actorOf(request));
    return shownStockLot(deps, stockLotId);
  },
});

export const listStockLotEvents = operation({
  id: 'listStockLotEvents',
  summary: 'When a container was closed, opened again, recalled and cleared, newest first',
  params: idParams,
  answer: StockLotEventsResource,
  run: ({ db }, { params }) => ({
    events: stockLotEventsOf(db, theContainer(db, params.id).id).map(({ id, ...event }) => ({
      ...event,
      eventId: id,
    })),
  }),
});
