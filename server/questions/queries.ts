import { and, asc, eq, isNull } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import { type QuestionRow, questions } from '../db/tables/questions.ts';

export const questionById = (db: Db, questionId: number): QuestionRow | undefined =>
  db.select().from(questions).where(eq(questions.id, questionId)).get();

export const openQuestions = (db: Db): QuestionRow[] =>
  db
    .select()
    .from(questions)
    .where(isNull(questions.answeredAt))
    .orderBy(asc(questions.askedAt), asc(questions.id))
    .all();

/** Every question about a lot, answered ones too, oldest first. */
export const questionsOfLot = (db: Db, lotId: number): QuestionRow[] =>
  db.select().from(questions).where(eq(questions.lotId, lotId)).orderBy(asc(questions.id)).all();

/** Every question about a container, answered ones too, oldest first. */
export const questionsOfStockLot = (db: Db, stockLotId: number): QuestionRow[] =>
  db.select().from(questions).where(eq(questions.stockLotId, stockLotId)).orderBy(asc(questions.id)).all();

export const insertQuestion = (db: Db, row: typeof questions.$inferInsert): QuestionRow =>
  db.insert(questions).values(row).returning().get();

/** Undefined when it was answered before. */
export const writeAnswer = (
  db: Db,
  questionId: number,
  answer: Required<Pick<QuestionRow, 'answer' | 'answerWords' | 'answeredAt' | 'answeredBy'>>,
): QuestionRow | undefined =>
  db
    .update(questions)
    .set(answer)
    .where(and(eq(questions.id, questionId), isNull(questions.answeredAt)))
    .returning()
    .get();
