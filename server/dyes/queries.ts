import { and, eq, getTableColumns, isNotNull, isNull, sql } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import {
  type ContainerOnShelf,
  closedContainerCount,
  openContainers,
  openContainersOf,
  shelfSums,
} from '../db/shelf.ts';
import { type DyeRow, dyes } from '../db/tables/materials.ts';
import { stockLots } from '../db/tables/stock.ts';
import type { DyeInput, DyeOnShelf, RecipeWithDye, SwatchWithDye } from './schemas.ts';

const { onHandQuantity: onHandMg, receivedQuantity: receivedMg, ...sums } = shelfSums;
const onShelf = (db: Db) =>
  db
    .select({ row: getTableColumns(dyes), onHandMg, receivedMg, ...sums })
    .from(dyes)
    .leftJoin(openContainers(stockLots.dyeId), sql`c.item_id = ${dyes.id}`)
    .groupBy(dyes.id);

const toDye = ({
  row,
  ...shelf
}: { row: DyeRow } & Omit<DyeOnShelf, keyof DyeRow | 'dyeId' | 'archived'>): DyeOnShelf => {
  const { id, archivedAt, singleColourant, ...said } = row;
  return { ...said, ...shelf, dyeId: id, archived: archivedAt !== null, singleColourant: singleColourant === 1 };
};

/** Every dye in use, by class and name, with what the shelf holds of it. */
export const listDyes = (db: Db): DyeOnShelf[] =>
  onShelf(db).where(isNull(dyes.archivedAt)).orderBy(dyes.class, dyes.name, dyes.id).all().map(toDye);

export const archivedDyes = (db: Db): Pick<DyeOnShelf, 'dyeId' | 'code' | 'name'>[] =>
  db
    .select({ dyeId: dyes.id, code: dyes.code, name: dyes.name })
    .from(dyes)
    .where(isNotNull(dyes.archivedAt))
    .orderBy(dyes.name)
    .all();

export const dyeOnShelf = (db: Db, dyeId: number): DyeOnShelf | undefined => {
  const row = onShelf(db).where(eq(dyes.id, dyeId)).get();
  return row && toDye(row);
};

const columnsOf = ({ singleColourant, ...input }: DyeInput) => ({ ...input, singleColourant: singleColourant ? 1 : 0 });

export const insertDye = (db: Db, input: DyeInput): DyeRow =>
  db.insert(dyes).values(columnsOf(input)).returning().get();

/** Saves against the version that was read; undefined when somebody has saved meanwhile. */
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

export const recipesWithDye = (db: Db, dyeId: number): RecipeWithDye[] =>
  db.all(sql`select r.id as recipeId, r.name, max(v.number) as usedInRevision,
      (select max(x.number) from recipe_revisions x where x.recipe_id = r.id) as latestRevision
    from recipe_components c join recipe_revisions v on v.id = c.revision_id join recipes r on r.id = v.recipe_id
    where c.dye_id = ${dyeId} and r.archived_at is null group by r.id order by r.name collate nocase`);

/** The newest swatches that were dyed with it. */
export const newestSwatchesWithDye = (db: Db, dyeId: number, limit: number): SwatchWithDye[] =>
  db.all(sql`select s.id as swatchId, s.code, s.name, s.depth_ppm as depthPpm, k.hex
    from recipe_components c join swatches s on s.revision_id = c.revision_id left join swatch_colours k on k.swatch_id = s.id
    where c.dye_id = ${dyeId} and s.archived_at is null order by s.dyed_on desc, s.id desc limit ${limit}`);

export const swatchCountWithDye = (db: Db, dyeId: number): number =>
  db.get<{ n: number }>(sql`select count(*) as n
    from recipe_components c join swatches s on s.revision_id = c.revision_id
    where c.dye_id = ${dyeId} and s.archived_at is null`)?.n ?? 0;

/** A dye's open containers, powder before solutions, oldest first. */
export const openContainersOfDye = (db: Db, dyeId: number): ContainerOnShelf[] =>
  openContainersOf(db, stockLots.dyeId, dyeId);
export const closedContainerCountOfDye = (db: Db, dyeId: number): number =>
  closedContainerCount(db, stockLots.dyeId, dyeId);
