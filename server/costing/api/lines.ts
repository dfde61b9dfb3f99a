import { operation } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { addForgottenCost } from '../additions.ts';
import { correctCostLine } from '../corrections.ts';
import { writtenLines } from '../present.ts';
import { AdditionBody, CorrectionBody, WrittenLinesResource } from '../schemas.ts';

export const correctLine = operation({
  id: 'correctCostLine',
  summary: 'Correct a cost line of a closed lot: a line takes it back, another says what is right',
  params: idParams,
  body: CorrectionBody,
  answer: WrittenLinesResource,
  status: 201,
  run: (deps, { body, params, request }) => {
    const { reason, replacement } = body;
    const written = correctCostLine(deps, { costLineId: params.id, reason, replacement }, actorOf(request));
    return writtenLines(deps.db, written);
  },
});

export const addForgotten = operation({
  id: 'addForgottenCost',
  summary: 'Add a cost that was forgotten when the lot was closed; a material is issued from its container too',
  params: idParams,
  body: AdditionBody,
  answer: WrittenLinesResource,
  status: 201,
  run: (deps, { body, params, request }) => {
    const { reason, clientId = null, ...cost } = body;
    const input = { lotId: params.id, cost, reason, clientId };
    return writtenLines(deps.db, addForgottenCost(deps, input, actorOf(request)));
  },
});
