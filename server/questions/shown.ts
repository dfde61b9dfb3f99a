import type { Show } from '../../views/kit/show.ts';
import type { Db } from '../db/open.ts';
import type { Actor } from '../deps.ts';
import { showOf } from '../settings/show.ts';
import { ANSWERS } from './answering.ts';
import { type QuestionAbout, questionsAbout } from './queries.ts';
import type { QuestionShown } from './schemas.ts';

interface QuestionsShown {
  questions: QuestionShown[];
  mayOwn: boolean;
  mayWork: boolean;
  back: string;
  show: Show;
}

export const questionView = (q: QuestionAbout): QuestionShown => {
  const answers = ANSWERS[q.kind] ?? [];
  return {
    questionId: q.id,
    words: q.words,
    askedAt: q.askedAt,
    asks: q.asks,
    lotId: q.lotId,
    lotNumber: q.lotNumber,
    stockLotId: q.stockLotId,
    stockLotCode: q.stockLotCode,
    answers: answers.map(({ answer, label }) => ({ answer, label })),
    answered:
      q.answeredAt === null
        ? null
        : {
            words: answers.find((a) => a.answer === q.answer)?.done ?? q.answerWords,
            at: q.answeredAt,
            by: q.answeredByName ?? '',
          },
  };
};

/** The questions about a lot or a container, or all that are open, as a page shows them. */
export function questionsProps(
  db: Db,
  about: Parameters<typeof questionsAbout>[1],
  by: Pick<Actor, 'role'>,
  back: string,
): QuestionsShown {
  return {
    questions: questionsAbout(db, about).map(questionView),
    mayOwn: by.role === 'owner',
    mayWork: by.role === 'owner' || by.role === 'dyer',
    back,
    show: showOf(db),
  };
}
