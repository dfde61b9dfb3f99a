import { operation } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { theContainer } from '../containerState.ts';
import { makeStockSolution } from '../containers.ts';
import { shownStockLot } from '../present.ts';
import { SolutionBody, StockLotResource } from '../schemas.ts';

export const addSolution = operation({
  id: 'makeStockSolution',
  summary: 'Make a stock solution from a container of powder',
  params: idParams,
  body: SolutionBody,
  answer: StockLotResource,
  status: 201,
  run: (deps, { body, params, request }) => {
    const { volumeUl: madeUpUl, clientId = null, ...rest } = body;
    const { id } = theContainer(deps.db, params.id);
    const input = { ...rest, bestBeforeOn: rest.bestBeforeOn, madeUpUl, wantedUl: null, clientId };
    return shownStockLot(deps, makeStockSolution(deps, id, input, actorOf(request)).id);
  },
});
