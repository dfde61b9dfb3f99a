import { and, desc, eq, sql } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import { ready } from '../db/ready.ts';
import { recordLinks } from '../db/tables/proof.ts';
import { type ValuationChangeRow, valuationChanges } from '../db/tables/stock.ts';
import { type ScaleRow, type StudioRow, scales, studio } from '../db/tables/studio.ts';
import { Refusal } from '../errors.ts';

const studioRow = ready((db) => db.select().from(studio).prepare());
export const findStudio = (db: Db): StudioRow | undefined => studioRow(db).get();

/** The studio's settings; refuses when it has not been set up. */
export function theStudio(db: Db): StudioRow {
  const row = findStudio(db);
  if (!row) throw new Refusal('notSetUp', 'The studio has not been set up yet.');
  return row;
}

/** The newest link of the record and its number; null before the first (db/proof). */
export const newestLink = (db: Db): { links: number; link: string } | null => {
  const last = db.select().from(recordLinks).orderBy(desc(recordLinks.id)).limit(1).get();
  return last ? { links: last.id, link: last.link.toString('hex') } : null;
};

export const insertStudio = (db: Db, row: Omit<StudioRow, 'id' | 'version' | 'secondStepForOwners'>): void => {
  db.insert(studio)
    .values({ ...row, id: 1 })
    .run();
};

/** Saves settings against the version that was read; answers false when somebody saved meanwhile. */
export const updateStudio = (
  db: Db,
  changes: Partial<Omit<StudioRow, 'id' | 'version' | 'createdAt'>>,
  version: number,
): boolean =>
  db
    .update(studio)
    .set({ ...changes, version: sql`${studio.version} + 1` })
    .where(and(eq(studio.id, 1), eq(studio.version, version)))
    .run().changes === 1;

/** Whether owners have to have a second step. */
export const setSecondStepForOwners = (db: Db, isRequired: boolean): void => {
  db.update(studio)
    .set({ secondStepForOwners: isRequired ? 1 : 0, version: sql`${studio.version} + 1` })
    .run();
};

export const noteValuation = (db: Db, row: Omit<ValuationChangeRow, 'id'>): void => {
  db.insert(valuationChanges).values(row).run();
};

export const listScales = (db: Db): ScaleRow[] =>
  db.select().from(scales).orderBy(sql`${scales.isDefault} desc`, scales.readabilityMg).all();

export const defaultScale = (db: Db): ScaleRow | undefined => listScales(db)[0];

export const insertScale = (db: Db, row: Omit<ScaleRow, 'id'>): ScaleRow => {
  if (row.isDefault === 1) db.update(scales).set({ isDefault: 0 }).run();
  return db.insert(scales).values(row).returning().get();
};

export const makeScaleDefault = (db: Db, scaleId: number): boolean => {
  if (!db.select().from(scales).where(eq(scales.id, scaleId)).get()) return false;
  db.update(scales).set({ isDefault: 0 }).run();
  return db.update(scales).set({ isDefault: 1 }).where(eq(scales.id, scaleId)).run().changes === 1;
};

/** Whether any price was recorded: from then on the currency stands. */
export const hasPrices = (db: Db): boolean =>
  db.get<{
    found: number;
  }>(sql`select exists (select 1 from stock_lots where price_minor > 0) or exists (select 1 from order_lines where price_minor > 0)
    or exists (select 1 from cost_lines) or exists (select 1 from fibres where cost_minor_per_kg > 0) or exists (select 1 from lots where estimate_minor > 0) as found`)
    ?.found === 1;
