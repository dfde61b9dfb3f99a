import { operation } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { previewPlan } from '../../plans/previewPlan.ts';
import { PlanBody, PlanResource } from '../../plans/schemas.ts';
import { planLot } from '../planLot.ts';
import { lotSeen } from '../present/lot.ts';
import { LotResource } from '../schemas.ts';

export const previewNewPlan = operation({
  id: 'previewPlan',
  summary: 'Compute a plan without saving it',
  body: PlanBody,
  answer: PlanResource,
  run: (deps, { body }) => previewPlan(deps, body),
});

export const planNewLot = operation({
  id: 'planLot',
  summary: 'Plan a lot',
  body: PlanBody,
  answer: LotResource,
  status: 201,
  run: (deps, { body, request }) => lotSeen(deps, planLot(deps, body, actorOf(request)).id),
});
