import type { Db } from '../db/open.ts';
import type { QuestionRow } from '../db/tables/questions.ts';
import type { Actor, Deps } from '../deps.ts';
import { invalid, notFound } from '../errors.ts';
import { answer } from './asking.ts';
import { questionById } from './queries.ts';

/** One of the answers that a question takes: its name, the button, what is said once it was given, and what it does. */
export interface AnswerDeed {
  answer: string;
  label: string;
  done: string;
  act: (tx: Db, question: QuestionRow, by: Actor, now: number) => void;
}

/** By the kind of question. Features that ask hand theirs in where the app is put together: they come after this one in the house. */
export type AnswerDeeds = Readonly<Record<string, readonly AnswerDeed[]>>;

/** Keeps an answer and does what it says, both or neither. */
export function answerQuestion(
  deps: Deps,
  deeds: AnswerDeeds,
  given: { questionId: number; answer: string; words: string },
  by: Actor,
): QuestionRow {
  return deps.db.transaction((tx) => {
    const question = questionById(tx, given.questionId);
    if (!question) throw notFound('question');
    const deed = deeds[question.kind]?.find((d) => d.answer === given.answer);
    if (!deed) throw invalid({ answer: 'Choose one of the answers.' });
    const now = deps.now();
    const answered = answer(tx, question.id, { answer: given.answer, words: given.words, at: now }, by);
    deed.act(tx, question, by, now);
    return answered;
  });
}
