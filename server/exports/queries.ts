import { and, eq, sql } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import { rowById } from '../db/ready.ts';
import { type SavedExportRow, savedExports } from '../db/tables/costing.ts';

/** When the last lot was closed; null when none was. */
export const lastClosedAt = (db: Db): number | null =>
  db.get<{ at: number | null }>(sql`select max(finished_at) as at from closed_lots`).at;

// ── saved exports ──
export const listSavedExports = (db: Db): SavedExportRow[] =>
  db.select().from(savedExports).orderBy(sql`${savedExports.name} collate nocase`).all();

export const savedExportById = rowById(savedExports);

export const insertSavedExport = (db: Db, row: Omit<SavedExportRow, 'id' | 'version'>): SavedExportRow =>
  db.insert(savedExports).values(row).returning().get();

export const updateSavedExport = (
  db: Db,
  id: number,
  row: Partial<Omit<SavedExportRow, 'id' | 'version'>>,
  version: number,
): SavedExportRow | undefined =>
  db
    .update(savedExports)
    .set({ ...row, version: sql`${savedExports.version} + 1` })
    .where(and(eq(savedExports.id, id), eq(savedExports.version, version)))
    .returning()
    .get();

export const deleteSavedExport = (db: Db, id: number): boolean =>
  db.delete(savedExports).where(eq(savedExports.id, id)).run().changes === 1;

export const orderNumberOf = (db: Db, orderId: number): string | null =>
  db.get<{ number: string } | undefined>(sql`select number from orders where id = ${orderId}`)?.number ?? null;
