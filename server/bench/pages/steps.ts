import { z } from 'zod';
import { readInput, typedBody } from '../../http/forms.ts';
import { page } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { atBench, idOf, saidOf } from '../benchDoor.ts';
import { recordStep, recordStepChange } from '../recordStep.ts';
import { stepKind } from '../schemas.ts';

const Step = z.object({ kind: stepKind, next: z.coerce.number().int().positive().optional() });

/** Starts a step, ends it, or goes on to the next with one tap. */
export const stepAtBench = page({
  params: idParams,
  show(deps, { params: { id: lotId }, request, reply }) {
    const typed = typedBody(request.body);
    return atBench(deps, request, reply, { lotId, form: 'step', typed }, () => {
      const base = { lotId, stepId: idOf(typed, 'stepId'), ...saidOf(deps, typed) };
      const { kind, next } = readInput(Step, typed);
      return kind === 'stepEnd' && next !== undefined
        ? recordStepChange(deps, { ...base, thenStepId: next }, actorOf(request))
        : recordStep(deps, { ...base, kind }, actorOf(request));
    });
  },
});
