import { operation } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { theContainer } from '../containerState.ts';
import { liftRecall, recallContainer } from '../containers.ts';
import { shownStockLot } from '../present.ts';
import { solutionsOf } from '../queries.ts';
import { touchedBy } from '../recall.ts';
import { RecallBody, RecallTrace, StockLotResource } from '../schemas.ts';

export const recallStockLot = operation({
  id: 'recallStockLot',
  summary: 'Recall a container and the solutions made from it',
  params: idParams,
  body: RecallBody,
  answer: StockLotResource,
  run: (deps, { params, body, request }) => {
    const { id: stockLotId } = theContainer(deps.db, params.id);
    recallContainer(deps, { stockLotId, reason: body.reason }, actorOf(request));
    return shownStockLot(deps, stockLotId);
  },
});

export const liftStockLotRecall = operation({
  id: 'liftRecall',
  summary: 'Lift a recall of a container and of the solutions that were recalled with it',
  params: idParams,
  body: RecallBody,
  answer: StockLotResource,
  run: (deps, { params, body, request }) => {
    const { id: stockLotId } = theContainer(deps.db, params.id);
    liftRecall(deps, { stockLotId, reason: body.reason }, actorOf(request));
    return shownStockLot(deps, stockLotId);
  },
});

export const traceStockLot = operation({
  id: 'traceStockLot',
  summary: 'Every lot, swatch, order and customer that something of a container reached',
  params: idParams,
  answer: RecallTrace,
  run: ({ db }, { params }) => {
    const { id, code } = theContainer(db, params.id);
    return {
      stockLotId: id,
      containers: [{ stockLotId: id, code }, ...solutionsOf(db, id).map((s) => ({ stockLotId: s.id, code: s.code }))],
      ...touchedBy(db, id),
    };
  },
});
