import { found } from '../../errors.ts';
import { operation } from '../../http/routes.ts';
import { planOf } from '../../plans/planOf.ts';
import { PlanResource } from '../../plans/schemas.ts';
import { idParams } from '../../typedFields.ts';
import { lotSeen } from '../present/lot.ts';
import { lotById } from '../queries.ts';
import { LotResource } from '../schemas.ts';

export const getLot = operation({
  id: 'getLot',
  summary: 'One lot: plan, bench, log, outcome, cost',
  params: idParams,
  answer: LotResource,
  run: (deps, { params }) => lotSeen(deps, params.id),
});

export const getLotPlan = operation({
  id: 'getLotPlan',
  summary: 'The plan as it was saved',
  params: idParams,
  answer: PlanResource,
  run: ({ db }, { params }) => planOf(found(lotById(db, params.id), 'lot')),
});
