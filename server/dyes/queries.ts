import { and, eq, sql } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import { type DyeRow, dyes } from '../db/tables/materials.ts';
import type { StockLotRow } from '../db/tables/stock.ts';
import type { DyeInput } from './schemas.ts';

/** What the shelf holds of one dye: powder in containers that are neither closed nor recalled, solution beside it. */
export interface DyeShelf {
  onHandMg: number;
  receivedMg: number;
  solutionUl: number;
  openContainers: number;
  recalledContainers: number;
  /** Earliest best-before day among containers of powder that hold some. */
  bestBeforeOn: string | null;
}
export type DyeOnShelf = DyeRow & DyeShelf;

const camel = <T>(row: Record<string, unknown>): T =>
  Object.fromEntries(
    Object.entries(row).map(([k, v]) => [k.replace(/_(.)/g, (_, c: string) => c.toUpperCase()), v]),
  ) as T;

const onShelf = sql`select d.*,
    coalesce(sum(case when c.unit = 'mg' and c.recalled_at is null then c.on_hand end), 0) as on_hand_mg,
    coalesce(sum(case when c.unit = 'mg' and c.recalled_at is null then c.received_quantity end), 0) as received_mg,
    coalesce(sum(case when c.unit = 'ul' and c.recalled_at is null then c.on_hand end), 0) as solution_ul,
    count(c.id) as open_containers,
    coalesce(sum(c.recalled_at is not null), 0) as recalled_containers,
    min(case when c.unit = 'mg' and c.recalled_at is null and c.on_hand > 0 then c.best_before_on end) as best_before_on
  from dyes d left join (
    select s.id, s.dye_id, s.unit, s.recalled_at, s.received_quantity, s.best_before_on,
      (select coalesce(sum(l.quantity), 0) from stock_ledger l where l.stock_lot_id = s.id) as on_hand
    from stock_lots s where s.dye_id is not null and s.closed_at is null) c on c.dye_id = d.id`;

/** Every dye in use, by class and name, with what the shelf holds of it. */
export const listDyes = (db: Db): DyeOnShelf[] =>
  db
    .all<Record<string, unknown>>(
      sql`${onShelf} where d.archived_at is null group by d.id order by d.class, d.name, d.id`,
    )
    .map((row) => camel<DyeOnShelf>(row));

export const archivedDyes = (db: Db): { id: number; code: string; name: string }[] =>
  db.all(sql`select id, code, name from dyes where archived_at is not null order by name`);

export const dyeOnShelf = (db: Db, dyeId: number): DyeOnShelf | undefined => {
  const row = db.get<Record<string, unknown> | undefined>(sql`${onShelf} where d.id = ${dyeId} group by d.id`);
  return row ? camel<DyeOnShelf>(row) : undefined;
};

const columnsOf = ({ singleColourant, ...input }: DyeInput) => ({ ...input, singleColourant: singleColourant ? 1 : 0 });

export const insertDye = (db: Db, input: DyeInput): DyeRow =>
  db.insert(dyes).values(columnsOf(input)).returning().get();

/** Saves against the version that was read; undefined when somebody saved meanwhile. */
export const updateDye = (db: Db, dyeId: number, input: DyeInput, version: number): DyeRow | undefined =>
  db
    .update(dyes)
    .set({ ...columnsOf(input), version: sql`${dyes.version} + 1` })
    .where(and(eq(dyes.id, dyeId), eq(dyes.version, version)))
    .returning()
    .get();

/** Takes a dye off the lists, or puts it back. What refers to it stays as it is. */
export const setDyeArchived = (db: Db, dyeId: number, archivedAt: number | null): void => {
  db.update(dyes).set({ archivedAt }).where(eq(dyes.id, dyeId)).run();
};

export type DyeContainer = StockLotRow & { onHandQuantity: number; sourceCode: string | null };

/** A dye's open containers, powder before solutions, oldest first. */
export const openContainersOfDye = (db: Db, dyeId: number): DyeContainer[] =>
  db
    .all<Record<string, unknown>>(sql`select s.*, p.code as source_code,
        (select coalesce(sum(l.quantity), 0) from stock_ledger l where l.stock_lot_id = s.id) as on_hand_quantity
      from stock_lots s left join stock_lots p on p.id = s.source_stock_lot_id
      where s.dye_id = ${dyeId} and s.closed_at is null order by s.conc_ppm is not null, s.received_on, s.id`)
    .map((row) => camel<DyeContainer>(row));

export const closedContainerCountOfDye = (db: Db, dyeId: number): number =>
  db.get<{ n: number }>(sql`select count(*) as n from stock_lots where dye_id = ${dyeId} and closed_at is not null`)
    ?.n ?? 0;

export interface RecipeUse {
  recipeId: number;
  name: string;
  /** The newest revision that uses the dye, and the newest of all. */
  usedInRevision: number;
  latestRevision: number;
}

export const recipesWithDye = (db: Db, dyeId: number): RecipeUse[] =>
  db.all<RecipeUse>(sql`select r.id as recipeId, r.name, max(v.number) as usedInRevision,
      (select max(x.number) from recipe_revisions x where x.recipe_id = r.id) as latestRevision
    from recipe_components c join recipe_revisions v on v.id = c.revision_id join recipes r on r.id = v.recipe_id
    where c.dye_id = ${dyeId} and r.archived_at is null group by r.id order by r.name collate nocase`);

export interface SwatchUse {
  swatchId: number;
  code: string;
  name: string;
  depthPpm: number;
  hex: string | null;
}

/** The newest swatches that were dyed with it. */
export const newestSwatchesWithDye = (db: Db, dyeId: number, limit: number): SwatchUse[] =>
  db.all<SwatchUse>(sql`select s.id as swatchId, s.code, s.name, s.depth_ppm as depthPpm, k.hex
    from recipe_components c join swatches s on s.revision_id = c.revision_id left join swatch_colours k on k.swatch_id = s.id
    where c.dye_id = ${dyeId} and s.archived_at is null order by s.dyed_on desc, s.id desc limit ${limit}`);

export const swatchCountWithDye = (db: Db, dyeId: number): number =>
  db.get<{
    n: number;
  }>(sql`select count(*) as n from recipe_components c join swatches s on s.revision_id = c.revision_id
    where c.dye_id = ${dyeId} and s.archived_at is null`)?.n ?? 0;
