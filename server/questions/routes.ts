import { apiRoutes, get, pageRoutes, post } from '../http/routes.ts';
import type { AnswerDeeds } from './answering.ts';
import { answerOne, listQuestions } from './api/questions.ts';
import { answer } from './pages/answer.ts';

/** The doors of the questions, with what the features that ask do when one is answered. */
export const questionDoors = (deeds: AnswerDeeds) => ({
  pages: pageRoutes([post('/questions/:id/answer', 'work', answer(deeds))]),

  api: apiRoutes('Questions', [
    get('/questions', 'look', listQuestions),
    post('/questions/:id/answer', 'work', answerOne(deeds)),
  ]),
});
