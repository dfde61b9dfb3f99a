import { operation } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { abandonLot } from '../abandonLot.ts';
import { finishLot } from '../finishLot.ts';
import { occurrenceOf } from '../occurrence.ts';
import { lotSeen } from '../present/lot.ts';
import { AbandonBody, LotResource, OutcomeBody } from '../schemas.ts';

export const finish = operation({
  id: 'finishLot',
  summary: 'Finish the lot: outcome, labour, cost lines',
  params: idParams,
  body: OutcomeBody,
  answer: LotResource,
  status: 201,
  run: (deps, { params, body, request }) =>
    lotSeen(deps, finishLot(deps, { lotId: params.id, ...body, ...occurrenceOf(deps, body) }, actorOf(request)).id),
});

export const abandon = operation({
  id: 'abandonLot',
  summary: 'Give the lot up',
  params: idParams,
  body: AbandonBody,
  answer: LotResource,
  status: 201,
  run: (deps, { params, body, request }) =>
    lotSeen(deps, abandonLot(deps, { lotId: params.id, ...body, ...occurrenceOf(deps, body) }, actorOf(request)).id),
});
