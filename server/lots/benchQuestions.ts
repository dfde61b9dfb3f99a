import type { Db } from '../db/open.ts';
import type { QuestionRow } from '../db/tables/questions.ts';
import type { Actor } from '../deps.ts';
import { answer } from '../questions/asking.ts';
import { questionsOfLot } from '../questions/queries.ts';

/** Questions about choices at the bench: a way out whose figures no longer held when it reached us, and one whose cause was voided. */
export const BENCH_QUESTIONS = ['wayOutParked', 'wayOutCause'] as const;

/** What such a question is about: a line whose choice was not applied, and the entry that an answer may undo. */
export const detailsOf = (q: Pick<QuestionRow, 'detailsJson'>): { componentId?: number; entryId?: number } =>
  JSON.parse(q.detailsJson) as { componentId?: number; entryId?: number };

/** The open questions of a lot that are answered on its bench, oldest first. */
export const benchQuestions = (db: Db, lotId: number): QuestionRow[] =>
  questionsOfLot(db, lotId).filter((q) => q.answeredAt === null && BENCH_QUESTIONS.some((kind) => kind === q.kind));

/** Answers every open question of one kind whose details say so: what it asked has been settled by a deed. */
export function settle(
  db: Db,
  lotId: number,
  about: { kind: (typeof BENCH_QUESTIONS)[number]; field: 'componentId' | 'entryId'; value: number } | 'all',
  given: { answer: string; words: string; at: number },
  by: Actor,
): void {
  for (const q of benchQuestions(db, lotId))
    if (about === 'all' || (q.kind === about.kind && detailsOf(q)[about.field] === about.value))
      answer(db, q.id, given, by);
}
