import type { Db } from '../db/open.ts';
import type { QuestionRow } from '../db/tables/questions.ts';
import type { Actor } from '../deps.ts';
import { found, Refusal } from '../errors.ts';
import { insertQuestion, questionById, writeAnswer } from './queries.ts';

/** What is asked of a person. `words` is the whole question as it stands on the screen; `details` what the answer will need. */
export interface Asked {
  kind: string;
  asks: QuestionRow['asks'];
  lotId?: number | null;
  stockLotId?: number | null;
  logEntryId?: number | null;
  ledgerEntryId?: number | null;
  words: string;
  details?: Record<string, unknown>;
  askedAt: number;
}

export const ask = (db: Db, { details, ...asked }: Asked): QuestionRow =>
  insertQuestion(db, { ...asked, detailsJson: JSON.stringify(details ?? {}) });

/** Keeps an answer beside its question; what the answer does is the business of the feature that asked, in the same transaction.
 *  Throws notAllowed when it is the owner's to answer, conflict when it has been answered already. */
export function answer(
  db: Db,
  questionId: number,
  given: { answer: string; words: string; at: number },
  by: Actor,
): QuestionRow {
  const question = found(questionById(db, questionId), 'question');
  if (question.asks === 'owner' && by.role !== 'owner')
    throw new Refusal('notAllowed', 'Money or a recall hangs on this question: the owner answers it.');
  const answered = writeAnswer(db, questionId, {
    answer: given.answer,
    answerWords: given.words.trim(),
    answeredAt: given.at,
    answeredBy: by.personId,
  });
  if (!answered) throw new Refusal('conflict', 'That question has been answered already.');
  return answered;
}
