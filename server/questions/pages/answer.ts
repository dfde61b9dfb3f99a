import { readInput, typedBody } from '../../http/forms.ts';
import { seeOther } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { type AnswerDeeds, answerQuestion } from '../answering.ts';
import { AnswerForm } from '../schemas.ts';

export const answer = (deeds: AnswerDeeds) =>
  page({
    params: idParams,
    show: (deps, { params, request, reply }) => {
      const { answer, back } = readInput(AnswerForm, typedBody(request.body));
      answerQuestion(deps, deeds, { questionId: params.id, answer, words: '' }, actorOf(request));
      return seeOther(reply, back);
    },
  });
