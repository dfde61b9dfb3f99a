import { operation } from '../../http/routes.ts';
import { occurrenceOf } from '../../lots/occurrence.ts';
import { lotSeen } from '../../lots/present/lot.ts';
import { LotResource } from '../../lots/schemas.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { answerAtBench } from '../answerAtBench.ts';
import { AnswerBody } from '../schemas.ts';

export const answerQuestion = operation({
  id: 'answerBenchQuestion',
  summary: 'Answer what the bench was asked: leave things as they are, or undo the choice that it is about',
  params: idParams.extend({ questionId: idParams.shape.id }),
  body: AnswerBody,
  answer: LotResource,
  run(deps, { params: { id: lotId, questionId }, body, request }) {
    answerAtBench(deps, { lotId, questionId, ...body, ...occurrenceOf(deps, body) }, actorOf(request));
    return lotSeen(deps, lotId);
  },
});
