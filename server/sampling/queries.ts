import { and, eq, isNull, sql } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import { dyes, fibres } from '../db/tables/materials.ts';
import { methods } from '../db/tables/recipes.ts';
import {
  type SamplingPieceRow,
  type SamplingPlanRow,
  type SamplingStockRow,
  samplingPieces,
  samplingPlans,
  samplingStocks,
} from '../db/tables/sampling.ts';
import { people } from '../db/tables/studio.ts';
import { swatches } from '../db/tables/swatches.ts';

export interface PlanListed {
  planId: number;
  name: string;
  kind: SamplingPlanRow['kind'];
  fibreName: string;
  methodName: string;
  pieces: number;
  read: number;
  kept: number;
  madeAt: number;
}

/** Plans, newest first; keyset by id. */
export const listPlans = (db: Db, before: number | null, limit: number): PlanListed[] =>
  db.all(sql`select p.id as planId, p.name, p.kind, f.name as fibreName, m.name as methodName, p.made_at as madeAt,
      (select count(*) from sampling_pieces i where i.plan_id = p.id) as pieces,
      (select count(*) from sampling_pieces i where i.plan_id = p.id and i.l is not null) as read,
      (select count(*) from sampling_pieces i where i.plan_id = p.id and i.swatch_id is not null) as kept
    from sampling_plans p join fibres f on f.id = p.fibre_id join methods m on m.id = p.method_id
    where p.archived_at is null and (${before} is null or p.id < ${before}) order by p.id desc limit ${limit}`);

export const planById = (db: Db, planId: number) =>
  db
    .select({ plan: samplingPlans, fibreName: fibres.name, methodName: methods.name, madeByName: people.name })
    .from(samplingPlans)
    .innerJoin(fibres, eq(fibres.id, samplingPlans.fibreId))
    .innerJoin(methods, eq(methods.id, samplingPlans.methodId))
    .innerJoin(people, eq(people.id, samplingPlans.madeBy))
    .where(eq(samplingPlans.id, planId))
    .get();

export const stocksOf = (db: Db, planId: number) =>
  db
    .select({ stock: samplingStocks, code: dyes.code, name: dyes.name, shownHex: dyes.shownHex, dyeClass: dyes.class })
    .from(samplingStocks)
    .innerJoin(dyes, eq(dyes.id, samplingStocks.dyeId))
    .where(eq(samplingStocks.planId, planId))
    .orderBy(samplingStocks.ordinal)
    .all()
    .map(({ stock, ...rest }) => ({ ...stock, ...rest }));

export type PieceOfPlan = SamplingPieceRow & {
  swatchCode: string | null;
  swatchRevisionId: number | null;
};
export const piecesOf = (db: Db, planId: number): PieceOfPlan[] =>
  db
    .select({ piece: samplingPieces, swatchCode: swatches.code, swatchRevisionId: swatches.revisionId })
    .from(samplingPieces)
    .leftJoin(swatches, eq(swatches.id, samplingPieces.swatchId))
    .where(eq(samplingPieces.planId, planId))
    .orderBy(samplingPieces.ordinal)
    .all()
    .map(({ piece, ...rest }) => ({ ...piece, ...rest }));

export const insertPlan = (db: Db, row: Omit<SamplingPlanRow, 'id' | 'archivedAt'>): SamplingPlanRow =>
  db.insert(samplingPlans).values(row).returning().get();
export function insertStocks(db: Db, rows: readonly SamplingStockRow[]): void {
  db.insert(samplingStocks)
    .values([...rows])
    .run();
}
export function insertPieces(
  db: Db,
  rows: readonly Pick<SamplingPieceRow, 'planId' | 'ordinal' | 'depthPpm' | 'sharesPpm'>[],
): void {
  // SQLite binds a limited number of values at once.
  for (let from = 0; from < rows.length; from += 500) {
    db.insert(samplingPieces)
      .values(rows.slice(from, from + 500))
      .run();
  }
}

export const setPieceColour = (
  db: Db,
  pieceId: number,
  colour: Pick<
    SamplingPieceRow,
    'l' | 'a' | 'b' | 'illuminant' | 'observer' | 'source' | 'asTyped' | 'uncertaintyMilli' | 'photoId'
  >,
): void => {
  db.update(samplingPieces)
    .set(colour)
    .where(and(eq(samplingPieces.id, pieceId), isNull(samplingPieces.swatchId)))
    .run();
};
export const setPieceSwatch = (db: Db, pieceId: number, swatchId: number): void => {
  db.update(samplingPieces).set({ swatchId }).where(eq(samplingPieces.id, pieceId)).run();
};
