import { z } from 'zod';
import { NextPage, pageOf } from '../../http/paging.ts';
import { operation } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { theContainer } from '../containerState.ts';
import { changeContainer, receiveContainer } from '../containers.ts';
import { shownStockLot, shownStockLots, stockLotResource } from '../present.ts';
import { closedStockLots, openStockLots } from '../queries.ts';
import { ContainerChange, ReceiptBody, receiptInputOfBody, StockLotFilter, StockLotResource } from '../schemas.ts';

export const listStockLots = operation({
  id: 'listStockLots',
  summary: 'Open containers (all), or closed ones (newest first, in pages)',
  query: StockLotFilter,
  answer: z.object({ stockLots: z.array(StockLotResource), next: NextPage }),
  run: (deps, { query: { closed, after, limit, ...of } }) => {
    if (closed === 'no') return { stockLots: shownStockLots(deps, openStockLots(deps.db, of)), next: null };
    const { shown, next } = pageOf(closedStockLots(deps.db, of, after ?? null, limit + 1), limit, (row) => row.id);
    return { stockLots: shown.map((row) => stockLotResource(row)), next };
  },
});

export const receiveStockLot = operation({
  id: 'receiveStockLot',
  summary: 'Receive a container',
  body: ReceiptBody,
  answer: StockLotResource,
  status: 201,
  run: (deps, { body, request }) =>
    shownStockLot(deps, receiveContainer(deps, receiptInputOfBody(body), actorOf(request)).id),
});

export const getStockLot = operation({
  id: 'getStockLot',
  summary: 'One container',
  params: idParams,
  answer: StockLotResource,
  run: (deps, { params }) => shownStockLot(deps, params.id),
});

export const saveStockLot = operation({
  id: 'saveStockLot',
  summary: 'Save what may change on a container, against the version that was read',
  params: idParams,
  body: ContainerChange,
  answer: StockLotResource,
  run: (deps, { body, params, request }) => {
    const { version, ...changes } = body;
    changeContainer(deps, theContainer(deps.db, params.id), changes, version, actorOf(request));
    return shownStockLot(deps, params.id);
  },
});
