import { found } from '../../errors.ts';
import { operation } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { type AnswerDeeds, answerQuestion } from '../answering.ts';
import { type QuestionAbout, questionsAbout } from '../queries.ts';
import { AnswerBody, type Question, QuestionFilter, QuestionResource } from '../schemas.ts';
import { questionView } from '../shown.ts';

const questionResource = (q: QuestionAbout): Question => {
  const { id, detailsJson: _, answeredByName: __, ...rest } = q;
  return { ...rest, questionId: id, answers: questionView(q).answers };
};

export const listQuestions = operation({
  id: 'listQuestions',
  summary: 'What the record asks: open questions, or all about a lot or a container',
  query: QuestionFilter,
  answer: QuestionResource.array(),
  run: ({ db }, { query }) => questionsAbout(db, query).map(questionResource),
});

export const answerOne = (deeds: AnswerDeeds) =>
  operation({
    id: 'answerQuestion',
    summary: 'Answer a question, and do what the answer says; a question is answered once',
    params: idParams,
    body: AnswerBody,
    answer: QuestionResource,
    run: (deps, { params, body, request }) => {
      const { id } = answerQuestion(deps, deeds, { questionId: params.id, ...body }, actorOf(request));
      return questionResource(found(questionsAbout(deps.db, { questionId: id })[0], 'question'));
    },
  });
