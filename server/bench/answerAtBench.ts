import type { Actor, Deps } from '../deps.ts';
import { notFound } from '../errors.ts';
import { benchQuestions, detailsOf } from '../lots/benchQuestions.ts';
import type { SentOccurrence } from '../lots/occurrence.ts';
import { answer } from '../questions/asking.ts';
import { questionById } from '../questions/queries.ts';
import { voidEntry } from './voidEntry.ts';

/** Answers a question that the bench was asked: leaves things as they are, or undoes the choice that it is about. */
export function answerAtBench(
  deps: Deps,
  input: { lotId: number; questionId: number; answer: 'left' | 'undone'; reason: string } & SentOccurrence,
  by: Actor,
): void {
  deps.db.transaction((tx) => {
    const question = benchQuestions(tx, input.lotId).find((q) => q.id === input.questionId);
    // Answered meanwhile, by another hand or by a deed: there is nothing left to say.
    if (!question) {
      if (questionById(tx, input.questionId)?.lotId !== input.lotId) throw notFound('question');
      return;
    }
    const { entryId } = detailsOf(question);
    if (input.answer === 'undone' && question.kind === 'wayOutCause' && entryId !== undefined) {
      const { clientId, at, reason, derived = [] } = input;
      voidEntry(deps, { entryId, reason, clientId, at, derived }, by);
    } else answer(tx, question.id, { answer: 'left', words: 'Left as it is.', at: deps.now() }, by);
  });
}
