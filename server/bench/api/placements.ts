import { z } from 'zod';
import { operation } from '../../http/routes.ts';
import { benchOf } from '../../lots/benchState.ts';
import { occurrenceOf } from '../../lots/occurrence.ts';
import { placementsIn } from '../../lots/placements.ts';
import { PlacementResource } from '../../lots/schemas.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { recorded } from '../present.ts';
import { recordPlacement } from '../recordPlacement.ts';
import { PlacementBody, Recorded } from '../schemas.ts';

export const listAllPlacements = operation({
  id: 'listPlacements',
  summary: 'Every drawing of how the goods of a lot lie, oldest first; voided ones are left out',
  params: idParams,
  answer: z.object({ placements: z.array(PlacementResource) }),
  run: ({ db, now }, { params }) => ({ placements: placementsIn(benchOf(db, params.id, now()).log) }),
});

export const addPlacement = operation({
  id: 'recordPlacement',
  summary: 'Keep a drawing of how the goods lie, or are meant to lie, as a version of its own',
  params: idParams,
  body: PlacementBody,
  answer: Recorded,
  status: 201,
  run: (deps, { params, body, request }) =>
    recorded(
      deps,
      recordPlacement(deps, { lotId: params.id, stepId: null, ...body, ...occurrenceOf(deps, body) }, actorOf(request)),
    ),
});
