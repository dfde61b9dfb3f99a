import { z } from 'zod';
import { operation } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { theContainer } from '../containerState.ts';
import { addStockMoney } from '../money.ts';
import { stockMoneyResource } from '../present.ts';
import { stockMoneyOf } from '../queries.ts';
import { StockMoneyBody, StockMoneyResource } from '../schemas.ts';

export const listStockMoney = operation({
  id: 'listStockMoney',
  summary: 'Late freight, bills and credits of a container, newest first',
  params: idParams,
  answer: z.object({ money: z.array(StockMoneyResource) }),
  run: ({ db }, { params }) => ({
    money: stockMoneyOf(db, theContainer(db, params.id).id).map(({ personName: _, ...row }) => stockMoneyResource(row)),
  }),
});

export const addLateMoney = operation({
  id: 'addStockMoney',
  summary: 'Write down late freight, a late bill or a credit; the receipt and closed lots stay as they are',
  params: idParams,
  body: StockMoneyBody,
  answer: StockMoneyResource,
  status: 201,
  run: (deps, { body: { clientId = null, ...money }, params, request }) => {
    const input = { ...money, stockLotId: theContainer(deps.db, params.id).id, clientId };
    return stockMoneyResource(addStockMoney(deps, input, actorOf(request)));
  },
});
