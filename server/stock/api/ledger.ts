import { z } from 'zod';
import { NextPage, pageOf } from '../../http/paging.ts';
import { operation } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { instantsOfDay } from '../../settings/days.ts';
import { theStudio } from '../../settings/queries.ts';
import { idParams, jsonDay } from '../../typedFields.ts';
import { theContainer } from '../containerState.ts';
import { occurrence } from '../containers.ts';
import { stockTake, waste } from '../ledger.ts';
import { ledgerEntryResource, ledgerLineResource } from '../present.ts';
import { ledgerOf, onHandAt } from '../queries.ts';
import { LedgerEntryResource, LedgerLineResource, LedgerPage, StockTakeBody, unit, WasteBody } from '../schemas.ts';

export const getOnHand = operation({
  id: 'getOnHand',
  summary: 'What a container held at the end of a day, by its ledger',
  params: idParams,
  query: z.object({ on: jsonDay }),
  answer: z.object({ on: z.string(), quantity: z.number().int(), unit }),
  run: ({ db }, { params, query }) => {
    const container = theContainer(db, params.id);
    const { on } = query;
    return {
      on,
      quantity: onHandAt(db, container.id, instantsOfDay(on, theStudio(db).zone).endAt - 1),
      unit: container.unit,
    };
  },
});

export const listLedgerEntries = operation({
  id: 'listLedgerEntries',
  summary: 'A container’s ledger, newest first, with the balance after each entry',
  params: idParams,
  query: LedgerPage,
  answer: z.object({ entries: z.array(LedgerLineResource), next: NextPage }),
  run: ({ db }, { query, params }) => {
    const { after, limit } = query;
    const lines = ledgerOf(db, theContainer(db, params.id).id, after ?? null, limit + 1);
    const { shown, next } = pageOf(lines, limit, (line) => line.id);
    return { entries: shown.map(ledgerLineResource), next };
  },
});

export const recordStockTake = operation({
  id: 'recordStockTake',
  summary: 'Record a count: its difference to the ledger becomes an entry',
  params: idParams,
  body: StockTakeBody,
  answer: LedgerEntryResource,
  status: 201,
  run: (deps, { body, params, request }) => {
    const { countedQuantity, reason, ...sent } = body;
    const { id: stockLotId } = theContainer(deps.db, params.id);
    const input = { stockLotId, countedQuantity, reason };
    return ledgerEntryResource(stockTake(deps.db, input, actorOf(request), occurrence(deps, sent, stockLotId)));
  },
});

export const recordWaste = operation({
  id: 'recordWaste',
  summary: 'Write off a quantity with a reason',
  params: idParams,
  body: WasteBody,
  answer: LedgerEntryResource,
  status: 201,
  run: (deps, { body, params, request }) => {
    const { quantity, reason, ...sent } = body;
    const { id: stockLotId } = theContainer(deps.db, params.id);
    const input = { stockLotId, quantity, reason };
    return ledgerEntryResource(waste(deps.db, input, actorOf(request), occurrence(deps, sent, stockLotId)));
  },
});
