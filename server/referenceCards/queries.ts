import { eq, sql } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import { rowById } from '../db/ready.ts';
import { type ReferenceCardRow, referenceCards } from '../db/tables/swatches.ts';

export const listCards = (db: Db): ReferenceCardRow[] =>
  db.select().from(referenceCards).orderBy(sql`${referenceCards.archivedAt} is not null`, referenceCards.name).all();
export const cardById = rowById(referenceCards);
export const cardNamed = (db: Db, name: string): ReferenceCardRow | undefined =>
  db.select().from(referenceCards).where(sql`${referenceCards.name} = ${name} collate nocase`).get();
export const insertCard = (db: Db, row: Omit<ReferenceCardRow, 'id'>): ReferenceCardRow =>
  db.insert(referenceCards).values(row).returning().get();
export const setCardArchived = (db: Db, cardId: number, archivedAt: number | null): ReferenceCardRow | undefined =>
  db.update(referenceCards).set({ archivedAt }).where(eq(referenceCards.id, cardId)).returning().get();
