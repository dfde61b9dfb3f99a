import { z } from 'zod';
import { operation } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { jobOf, noteRework } from '../rework.ts';
import { JobResource } from '../schemas.ts';

export const getLotCost = operation({
  id: 'getLotCost',
  summary: 'A lot and its rework as one job: unit cost of a good piece, yield, right first time',
  params: idParams,
  answer: JobResource,
  run: ({ db }, { params }) => jobOf(db, params.id),
});

export const markRework = operation({
  id: 'markRework',
  summary: 'Note that a lot dyed pieces of another one again (its number; empty takes the note back)',
  params: idParams,
  body: z.object({ ofNumber: z.string().max(40) }).meta({ id: 'NewRework' }),
  run: (deps, { params, body, request, reply }) => {
    noteRework(deps, { lotId: params.id, ofNumber: body.ofNumber }, actorOf(request));
    return reply.code(204).send();
  },
});
