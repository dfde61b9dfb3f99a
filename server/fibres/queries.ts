import { and, eq, isNull, sql } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import { ready, rowById } from '../db/ready.ts';
import { type FibreRow, fibres } from '../db/tables/materials.ts';
import type { FibreInput } from './schemas.ts';

/** Every fibre that is not archived, by name. */
export const listFibres = (db: Db): FibreRow[] => fibresInUse(db).all();
const fibresInUse = ready((db) =>
  db.select().from(fibres).where(isNull(fibres.archivedAt)).orderBy(fibres.name).prepare(),
);

export const fibreById = rowById(fibres);

export const insertFibre = (db: Db, input: FibreInput): FibreRow => db.insert(fibres).values(input).returning().get();

/** Saves against the version that was read; undefined when somebody saved meanwhile. */
export const updateFibre = (db: Db, fibreId: number, input: FibreInput, version: number): FibreRow | undefined =>
  db
    .update(fibres)
    .set({ ...input, version: sql`${fibres.version} + 1` })
    .where(and(eq(fibres.id, fibreId), eq(fibres.version, version)))
    .returning()
    .get();
