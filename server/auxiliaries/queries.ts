import { and, eq, getTableColumns, isNotNull, isNull, sql } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import {
  type ContainerOnShelf,
  closedContainerCount,
  openContainers,
  openContainersOf,
  shelfSums,
} from '../db/shelf.ts';
import { type AuxiliaryRow, auxiliaries } from '../db/tables/materials.ts';
import { stockLots } from '../db/tables/stock.ts';
import type { AuxiliaryInput, MethodWithAuxiliary } from './schemas.ts';

/** An auxiliary with the sums over its open containers. */
export type AuxiliaryWithShelf = AuxiliaryRow & {
  [Sum in keyof typeof shelfSums]: (typeof shelfSums)[Sum]['_']['type'];
};

const withShelf = (db: Db) =>
  db
    .select({ ...getTableColumns(auxiliaries), ...shelfSums })
    .from(auxiliaries)
    .leftJoin(openContainers(stockLots.auxiliaryId), sql`c.item_id = ${auxiliaries.id}`)
    .groupBy(auxiliaries.id);

/** Every auxiliary in use, by name, with what the shelf holds of it. */
export const auxiliariesInUse = (db: Db): AuxiliaryWithShelf[] =>
  withShelf(db)
    .where(isNull(auxiliaries.archivedAt))
    .orderBy(sql`${auxiliaries.name} collate nocase`, auxiliaries.id)
    .all();

export const archivedAuxiliaries = (db: Db): { auxiliaryId: number; code: string; name: string }[] =>
  db
    .select({ auxiliaryId: auxiliaries.id, code: auxiliaries.code, name: auxiliaries.name })
    .from(auxiliaries)
    .where(isNotNull(auxiliaries.archivedAt))
    .orderBy(auxiliaries.name)
    .all();

export const auxiliaryWithShelf = (db: Db, auxiliaryId: number): AuxiliaryWithShelf | undefined =>
  withShelf(db).where(eq(auxiliaries.id, auxiliaryId)).get();

export const insertAuxiliary = (db: Db, input: AuxiliaryInput): AuxiliaryRow =>
  db.insert(auxiliaries).values(input).returning().get();

/** Saves against the version that was read; undefined when somebody has saved meanwhile. */
export const updateAuxiliary = (
  db: Db,
  auxiliaryId: number,
  input: AuxiliaryInput,
  version: number,
): AuxiliaryRow | undefined =>
  db
    .update(auxiliaries)
    .set({ ...input, version: sql`${auxiliaries.version} + 1` })
    .where(and(eq(auxiliaries.id, auxiliaryId), eq(auxiliaries.version, version)))
    .returning()
    .get();

/** Takes an auxiliary off the lists, or puts it back. What refers to it stays as it is. */
export const setAuxiliaryArchived = (db: Db, auxiliaryId: number, archivedAt: number | null): void => {
  db.update(auxiliaries).set({ archivedAt }).where(eq(auxiliaries.id, auxiliaryId)).run();
};

export const hasContainers = (db: Db, auxiliaryId: number): boolean =>
  db.get<{ found: number }>(sql`select exists (select 1 from stock_lots where auxiliary_id = ${auxiliaryId}) as found`)
    ?.found === 1;

/** Its open containers, as bought before solutions, oldest first. */
export const openContainersOfAuxiliary = (db: Db, auxiliaryId: number): ContainerOnShelf[] =>
  openContainersOf(db, stockLots.auxiliaryId, auxiliaryId);
export const closedContainerCountOfAuxiliary = (db: Db, auxiliaryId: number): number =>
  closedContainerCount(db, stockLots.auxiliaryId, auxiliaryId);

/** Methods that call for it. */
export const methodsWithAuxiliary = (db: Db, auxiliaryId: number): MethodWithAuxiliary[] =>
  db.all(sql`select m.id as methodId, m.name, l.vessel, l.as_typed as asTyped from method_auxiliaries l join methods m on m.id = l.method_id
    where l.auxiliary_id = ${auxiliaryId} and m.archived_at is null order by m.name collate nocase, l.ordinal`);
