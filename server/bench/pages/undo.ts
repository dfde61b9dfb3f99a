import { z } from 'zod';
import { readInput, typedBody } from '../../http/forms.ts';
import { page } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { answerAtBench } from '../answerAtBench.ts';
import { atBench, saidOf } from '../benchDoor.ts';
import { benchAnswer } from '../schemas.ts';
import { voidEntry } from '../voidEntry.ts';

/** Voids an entry with a reason. */
export const undoAtBench = page({
  params: idParams.extend({ entryId: idParams.shape.id }),
  show(deps, { params: { id: lotId, entryId }, request, reply }) {
    const typed = typedBody(request.body);
    return atBench(deps, request, reply, { lotId, form: `void-${entryId}`, typed }, () =>
      voidEntry(deps, { entryId, reason: typed['reason'] ?? '', ...saidOf(deps, typed) }, actorOf(request)),
    );
  },
});

const Answer = z.object({ answer: benchAnswer, reason: z.string().default('') });

/** Answers what the bench was asked. */
export const answerQuestionAtBench = page({
  params: idParams.extend({ questionId: idParams.shape.id }),
  show(deps, { params: { id: lotId, questionId }, request, reply }) {
    const typed = typedBody(request.body);
    return atBench(deps, request, reply, { lotId, form: 'question', typed }, () =>
      answerAtBench(deps, { lotId, questionId, ...readInput(Answer, typed), ...saidOf(deps, typed) }, actorOf(request)),
    );
  },
});
