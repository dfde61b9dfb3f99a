import type { z } from 'zod';
import type { Deps } from '../deps.ts';
import { notFound } from '../errors.ts';
import type { App } from '../http/app.ts';
import { readInput, typedBody } from '../http/forms.ts';
import { seeOther } from '../http/page.ts';
import { actorOf } from '../people/guards.ts';
import { idParams } from '../typedFields.ts';
import { type AnswerDeeds, answerQuestion } from './answering.ts';
import { type QuestionAbout, questionsAbout } from './queries.ts';
import { AnswerBody, AnswerForm, QuestionFilter, QuestionResource } from './schemas.ts';
import { questionView } from './shown.ts';

/** The doors of the questions, with what the features that ask do when one is answered. */
export const questionDoors = (deeds: AnswerDeeds) => ({
  pages: (app: App, deps: Deps): void => {
    app.post(
      '/questions/:id/answer',
      { config: { may: 'work' }, schema: { params: idParams } },
      async (request, reply) => {
        const { answer, back } = readInput(AnswerForm, typedBody(request.body));
        answerQuestion(deps, deeds, { questionId: request.params.id, answer, words: '' }, actorOf(request));
        return seeOther(reply, back);
      },
    );
  },

  api: (app: App, deps: Deps): void => {
    const tags = ['Questions'];
    const resource = (q: QuestionAbout): z.output<typeof QuestionResource> => {
      const { id, detailsJson: _, answeredByName: __, ...rest } = q;
      return { ...rest, questionId: id, answers: [...questionView(q).answers] };
    };

    app.get(
      '/questions',
      {
        config: { may: 'look' },
        schema: {
          operationId: 'listQuestions',
          tags,
          summary: 'What the record asks: open questions, or all about a lot or a container',
          querystring: QuestionFilter,
          response: { 200: QuestionResource.array() },
        },
      },
      async (request) => questionsAbout(deps.db, request.query).map(resource),
    );

    app.post(
      '/questions/:id/answer',
      {
        config: { may: 'work' },
        schema: {
          operationId: 'answerQuestion',
          tags,
          summary: 'Answer a question, and do what the answer says; a question is answered once',
          params: idParams,
          body: AnswerBody,
          response: { 200: QuestionResource },
        },
      },
      async (request) => {
        const { id } = answerQuestion(
          deps,
          deeds,
          { questionId: request.params.id, ...request.body },
          actorOf(request),
        );
        const [answered] = questionsAbout(deps.db, { questionId: id });
        if (!answered) throw notFound('question');
        return resource(answered);
      },
    );
  },
});
