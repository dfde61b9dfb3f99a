import { and, asc, eq, isNotNull, isNull } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import { rowById } from '../db/ready.ts';
import { lots } from '../db/tables/lots.ts';
import { type QuestionRow, questions } from '../db/tables/questions.ts';
import { stockLots } from '../db/tables/stock.ts';
import { people } from '../db/tables/studio.ts';

export const questionById = rowById(questions);

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

export interface QuestionAbout extends QuestionRow {
  lotNumber: string | null;
  stockLotCode: string | null;
  answeredByName: string | null;
}

/** One question, those about a lot or a container with the answered ones, or all that are open; oldest first, open ones before. */
export const questionsAbout = (
  db: Db,
  about: { questionId?: number | undefined; lotId?: number | undefined; stockLotId?: number | undefined },
): QuestionAbout[] => {
  const { questionId, lotId, stockLotId } = about;
  const named = [
    ...(questionId === undefined ? [] : [eq(questions.id, questionId)]),
    ...(lotId === undefined ? [] : [eq(questions.lotId, lotId)]),
    ...(stockLotId === undefined ? [] : [eq(questions.stockLotId, stockLotId)]),
  ];
  return db
    .select({
      question: questions,
      lotNumber: lots.number,
      stockLotCode: stockLots.code,
      answeredByName: people.name,
    })
    .from(questions)
    .leftJoin(lots, eq(lots.id, questions.lotId))
    .leftJoin(stockLots, eq(stockLots.id, questions.stockLotId))
    .leftJoin(people, eq(people.id, questions.answeredBy))
    .where(named.length === 0 ? isNull(questions.answeredAt) : and(...named))
    .orderBy(asc(isNotNull(questions.answeredAt)), asc(questions.askedAt), asc(questions.id))
    .all()
    .map(({ question, ...names }) => ({ ...question, ...names }));
};

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
