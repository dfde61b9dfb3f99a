import type { Db } from '../db/open.ts';
import type { QuestionRow } from '../db/tables/questions.ts';
import type { Actor, Deps } from '../deps.ts';
import { found, invalid } from '../errors.ts';
import { answer } from './asking.ts';
import { questionById } from './queries.ts';

/** One of the answers that a question takes: its name, the button, and what is said once it was given. */
export interface Answer {
  answer: string;
  label: string;
  done: string;
}

/** What may be answered, by the kind of question. One that is not here is answered where it was asked. */
export const ANSWERS: Readonly<Record<string, readonly Answer[]>> = {
  lateWeighing: [
    { answer: 'stands', label: 'Yes, it stands', done: 'It stands.' },
    { answer: 'takeBack', label: 'No, take it back', done: 'It has been taken back.' },
  ],
  lateVoiding: [
    { answer: 'stands', label: 'Yes, leave it out', done: 'It stays voided.' },
    { answer: 'putBack', label: 'No, put it back', done: 'It has been put back.' },
  ],
  oldCount: [
    { answer: 'counted', label: 'It has been counted again', done: 'It has been counted again.' },
    { answer: 'leave', label: 'Leave it as it is', done: 'It was left as it is.' },
  ],
};

/** What answers do, by kind and answer; one that does nothing is not named. Features that ask hand theirs in where the app is put
 *  together, since they come after this one in the house. */
export type AnswerDeeds = Readonly<
  Record<string, Readonly<Record<string, (tx: Db, question: QuestionRow, by: Actor, now: number) => void>>>
>;

/** Keeps an answer and does what it says, both or neither. */
export function answerQuestion(
  deps: Deps,
  deeds: AnswerDeeds,
  given: { questionId: number; answer: string; words: string },
  by: Actor,
): QuestionRow {
  return deps.db.transaction((tx) => {
    const question = found(questionById(tx, given.questionId), 'question');
    if (!ANSWERS[question.kind]?.some((a) => a.answer === given.answer))
      throw invalid({ answer: 'Choose one of the answers.' });
    const now = deps.now();
    const answered = answer(tx, question.id, { answer: given.answer, words: given.words, at: now }, by);
    deeds[question.kind]?.[given.answer]?.(tx, question, by, now);
    return answered;
  });
}
