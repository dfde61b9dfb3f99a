import { z } from 'zod';
import type { StockMoneyRow } from '../db/tables/stock.ts';
import type { Deps } from '../deps.ts';
import { notFound } from '../errors.ts';
import type { App } from '../http/app.ts';
import { NextPage, pageOf } from '../http/paging.ts';
import { actorOf } from '../people/guards.ts';
import { instantsOfDay } from '../settings/days.ts';
import { theStudio } from '../settings/queries.ts';
import { idParams, jsonDay } from '../typedFields.ts';
import {
  changeContainer,
  closeContainer,
  liftRecall,
  makeStockSolution,
  occurrence,
  recallContainer,
  receiveContainer,
  reopenContainer,
} from './containers.ts';
import { stockTake, waste } from './ledger.ts';
import { addStockMoney } from './money.ts';
import { ledgerEntryResource, ledgerLineResource, stockLotResource } from './present.ts';
import {
  closedStockLots,
  ledgerOf,
  onHandAt,
  openStockLots,
  type StockLotOverview,
  solutionsOf,
  stockLotEventsOf,
  stockLotOverview,
  stockMoneyOf,
} from './queries.ts';
import { touchedBy } from './recall.ts';
import {
  ClosingBody,
  ContainerChange,
  LedgerEntryResource,
  LedgerLineResource,
  LedgerPage,
  RecallBody,
  RecallTrace,
  ReceiptBody,
  ReopeningBody,
  receiptInputOfBody,
  SolutionBody,
  StockLotEventsResource,
  StockLotFilter,
  StockLotResource,
  StockMoneyBody,
  StockMoneyResource,
  StockTakeBody,
  WasteBody,
} from './schemas.ts';
import { withShelfWorth } from './worth.ts';

const found = <Row>(row: Row | undefined): Row => {
  if (!row) throw notFound('container');
  return row;
};

export function api(app: App, deps: Deps): void {
  const { db } = deps;
  const tags = ['Stock'];
  const overview = (id: number): StockLotOverview => found(stockLotOverview(db, id));
  const resources = (rows: readonly StockLotOverview[]) =>
    withShelfWorth(db, rows, deps.now()).map((row) => stockLotResource(row));
  const shown = (id: number) => found(resources([overview(id)])[0]);

  app.get(
    '/stock-lots',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'listStockLots',
        tags,
        summary: 'Open containers (all), or closed ones (newest first, in pages)',
        querystring: StockLotFilter,
        response: { 200: z.object({ stockLots: z.array(StockLotResource), next: NextPage }) },
      },
    },
    async ({ query: { closed, after, limit, ...of } }) => {
      if (closed === 'no') return { stockLots: resources(openStockLots(db, of)), next: null };
      const { shown, next } = pageOf(closedStockLots(db, of, after ?? null, limit + 1), limit, (row) => row.id);
      return { stockLots: shown.map((row) => stockLotResource(row)), next };
    },
  );

  app.post(
    '/stock-lots',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'receiveStockLot',
        tags,
        summary: 'Receive a container',
        body: ReceiptBody,
        response: { 201: StockLotResource },
      },
    },
    async (request, reply) => {
      reply.code(201);
      return shown(receiveContainer(deps, receiptInputOfBody(request.body), actorOf(request)).id);
    },
  );

  app.get(
    '/stock-lots/:id',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getStockLot',
        tags,
        summary: 'One container',
        params: idParams,
        response: { 200: StockLotResource },
      },
    },
    async (request) => shown(request.params.id),
  );

  app.put(
    '/stock-lots/:id',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'saveStockLot',
        tags,
        summary: 'Save what may change on a container, against the version that was read',
        params: idParams,
        body: ContainerChange,
        response: { 200: StockLotResource },
      },
    },
    async (request) => {
      const { version, ...changes } = request.body;
      changeContainer(deps, overview(request.params.id), changes, version, actorOf(request));
      return shown(request.params.id);
    },
  );

  app.get(
    '/stock-lots/:id/on-hand',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getOnHand',
        tags,
        summary: 'What a container held at the end of a day, by its ledger',
        params: idParams,
        querystring: z.object({ on: jsonDay }),
        response: { 200: z.object({ on: z.string(), quantity: z.number().int(), unit: z.enum(['mg', 'ul']) }) },
      },
    },
    async (request) => {
      const { id, unit } = overview(request.params.id);
      const { on } = request.query;
      return { on, quantity: onHandAt(db, id, instantsOfDay(on, theStudio(db).zone).endAt - 1), unit };
    },
  );

  app.get(
    '/stock-lots/:id/ledger',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'listLedgerEntries',
        tags,
        summary: 'A container’s ledger, newest first, with the balance after each entry',
        params: idParams,
        querystring: LedgerPage,
        response: { 200: z.object({ entries: z.array(LedgerLineResource), next: NextPage }) },
      },
    },
    async (request) => {
      const { after, limit } = request.query;
      const lines = ledgerOf(db, overview(request.params.id).id, after ?? null, limit + 1);
      const { shown, next } = pageOf(lines, limit, (line) => line.id);
      return { entries: shown.map(ledgerLineResource), next };
    },
  );

  app.post(
    '/stock-lots/:id/stock-takes',
    {
      config: { may: 'log' },
      schema: {
        operationId: 'recordStockTake',
        tags,
        summary: 'Record a count: its difference to the ledger becomes an entry',
        params: idParams,
        body: StockTakeBody,
        response: { 201: LedgerEntryResource },
      },
    },
    async (request, reply) => {
      const { countedQuantity, reason, ...sent } = request.body;
      const { id: stockLotId } = overview(request.params.id);
      reply.code(201);
      const input = { stockLotId, countedQuantity, reason };
      return ledgerEntryResource(stockTake(db, input, actorOf(request), occurrence(deps, sent, stockLotId)));
    },
  );

  app.post(
    '/stock-lots/:id/wastes',
    {
      config: { may: 'log' },
      schema: {
        operationId: 'recordWaste',
        tags,
        summary: 'Write off a quantity with a reason',
        params: idParams,
        body: WasteBody,
        response: { 201: LedgerEntryResource },
      },
    },
    async (request, reply) => {
      const { quantity, reason, ...sent } = request.body;
      const { id: stockLotId } = overview(request.params.id);
      reply.code(201);
      const input = { stockLotId, quantity, reason };
      return ledgerEntryResource(waste(db, input, actorOf(request), occurrence(deps, sent, stockLotId)));
    },
  );

  app.post(
    '/stock-lots/:id/closing',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'closeStockLot',
        tags,
        summary: 'Close a container: empty, or thrown away',
        params: idParams,
        body: ClosingBody,
        response: { 200: StockLotResource },
      },
    },
    async (request) => {
      const { id: stockLotId } = overview(request.params.id);
      const { how, reason, clientId } = request.body;
      closeContainer(deps, { stockLotId, how, reason, clientId: clientId ?? null }, actorOf(request));
      return shown(stockLotId);
    },
  );

  app.post(
    '/stock-lots/:id/recall',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'recallStockLot',
        tags,
        summary: 'Recall a container and the solutions made from it',
        params: idParams,
        body: RecallBody,
        response: { 200: StockLotResource },
      },
    },
    async (request) => {
      const { id: stockLotId } = overview(request.params.id);
      recallContainer(deps, { stockLotId, reason: request.body.reason }, actorOf(request));
      return shown(stockLotId);
    },
  );

  app.post(
    '/stock-lots/:id/reopening',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'reopenStockLot',
        tags,
        summary: 'Open a closed container again, with the count of what is in it',
        params: idParams,
        body: ReopeningBody,
        response: { 200: StockLotResource },
      },
    },
    async (request) => {
      const { id: stockLotId } = overview(request.params.id);
      const { countedQuantity, reason, clientId = null } = request.body;
      reopenContainer(deps, { stockLotId, countedQuantity, reason, clientId }, actorOf(request));
      return shown(stockLotId);
    },
  );

  app.post(
    '/stock-lots/:id/recall-lifting',
    {
      config: { may: 'own' },
      schema: {
        operationId: 'liftRecall',
        tags,
        summary: 'Lift a recall of a container and of the solutions that were recalled with it',
        params: idParams,
        body: RecallBody,
        response: { 200: StockLotResource },
      },
    },
    async (request) => {
      const { id: stockLotId } = overview(request.params.id);
      liftRecall(deps, { stockLotId, reason: request.body.reason }, actorOf(request));
      return shown(stockLotId);
    },
  );

  const moneyResource = ({ id, clientId: _, contentDigest: __, ...row }: StockMoneyRow) => ({ ...row, moneyId: id });
  app.get(
    '/stock-lots/:id/money',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'listStockMoney',
        tags,
        summary: 'Late freight, bills and credits of a container, newest first',
        params: idParams,
        response: { 200: z.object({ money: z.array(StockMoneyResource) }) },
      },
    },
    async (request) => ({
      money: stockMoneyOf(db, overview(request.params.id).id).map(({ personName: _, ...row }) => moneyResource(row)),
    }),
  );
  app.post(
    '/stock-lots/:id/money',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'addStockMoney',
        tags,
        summary: 'Write down late freight, a late bill or a credit; the receipt and closed lots stay as they are',
        params: idParams,
        body: StockMoneyBody,
        response: { 201: StockMoneyResource },
      },
    },
    async (request, reply) => {
      const { clientId = null, ...body } = request.body;
      reply.code(201);
      const input = { ...body, stockLotId: overview(request.params.id).id, clientId };
      return moneyResource(addStockMoney(deps, input, actorOf(request)));
    },
  );

  app.get(
    '/stock-lots/:id/events',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'listStockLotEvents',
        tags,
        summary: 'When a container was closed, opened again, recalled and cleared, newest first',
        params: idParams,
        response: { 200: StockLotEventsResource },
      },
    },
    async (request) => ({
      events: stockLotEventsOf(db, overview(request.params.id).id).map(({ id, ...event }) => ({
        ...event,
        eventId: id,
      })),
    }),
  );

  app.get(
    '/stock-lots/:id/touched',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'traceStockLot',
        tags,
        summary: 'Every lot, swatch, order and customer that something of a container reached',
        params: idParams,
        response: { 200: RecallTrace },
      },
    },
    async (request) => {
      const { id, code } = overview(request.params.id);
      return {
        stockLotId: id,
        containers: [{ stockLotId: id, code }, ...solutionsOf(db, id).map((s) => ({ stockLotId: s.id, code: s.code }))],
        ...touchedBy(db, id),
      };
    },
  );

  app.post(
    '/stock-lots/:id/solutions',
    {
      config: { may: 'log' },
      schema: {
        operationId: 'makeStockSolution',
        tags,
        summary: 'Make a stock solution from a container of powder',
        params: idParams,
        body: SolutionBody,
        response: { 201: StockLotResource },
      },
    },
    async (request, reply) => {
      const { volumeUl, clientId, ...input } = request.body;
      const { id } = overview(request.params.id);
      reply.code(201);
      const made = makeStockSolution(
        deps,
        id,
        {
          ...input,
          bestBeforeOn: input.bestBeforeOn,
          madeUpUl: volumeUl,
          wantedUl: null,
          clientId: clientId ?? null,
        },
        actorOf(request),
      );
      return shown(made.id);
    },
  );
}
