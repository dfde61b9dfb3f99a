import { operation } from '../../http/routes.ts';
import { occurrenceOf } from '../../lots/occurrence.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { recorded } from '../present.ts';
import { recordStep, recordStepChange } from '../recordStep.ts';
import { Recorded, StepBody } from '../schemas.ts';

export const changeStep = operation({
  id: 'changeStep',
  summary: 'Start or end a step',
  params: idParams,
  body: StepBody,
  answer: Recorded,
  status: 201,
  run(deps, { params, body: { thenStepId, ...body }, request }) {
    const sent = { lotId: params.id, ...body, ...occurrenceOf(deps, body) };
    const by = actorOf(request);
    return recorded(
      deps,
      thenStepId !== undefined && body.kind === 'stepEnd'
        ? recordStepChange(deps, { ...sent, thenStepId }, by)
        : recordStep(deps, sent, by),
    );
  },
});
