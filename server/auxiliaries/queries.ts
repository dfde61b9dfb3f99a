import { and, eq, sql } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import { type AuxiliaryRow, auxiliaries } from '../db/tables/materials.ts';
import type { StockLotRow } from '../db/tables/stock.ts';
import type { AuxiliaryInput } from './schemas.ts';

/** What the shelf holds of one auxiliary as bought: mg of a solid, µL of a liquid; solutions made of it beside that. */
export interface AuxiliaryShelf {
  onHandQuantity: number;
  receivedQuantity: number;
  solutionUl: number;
  openContainers: number;
  recalledContainers: number;
  /** Earliest best-before day among containers as bought that hold some. */
  bestBeforeOn: string | null;
}
export type AuxiliaryOnShelf = AuxiliaryRow & AuxiliaryShelf;

const camel = <T>(row: Record<string, unknown>): T =>
  Object.fromEntries(
    Object.entries(row).map(([k, v]) => [k.replace(/_(.)/g, (_, c: string) => c.toUpperCase()), v]),
  ) as T;

const onShelf = sql`select a.*,
    coalesce(sum(case when c.conc_ppm is null and c.recalled_at is null then c.on_hand end), 0) as on_hand_quantity,
    coalesce(sum(case when c.conc_ppm is null and c.recalled_at is null then c.received_quantity end), 0) as received_quantity,
    coalesce(sum(case when c.conc_ppm is not null and c.recalled_at is null then c.on_hand end), 0) as solution_ul,
    count(c.id) as open_containers,
    coalesce(sum(c.recalled_at is not null), 0) as recalled_containers,
    min(case when c.conc_ppm is null and c.recalled_at is null and c.on_hand > 0 then c.best_before_on end) as best_before_on
  from auxiliaries a left join (
    select s.id, s.auxiliary_id, s.conc_ppm, s.recalled_at, s.received_quantity, s.best_before_on,
      (select coalesce(sum(l.quantity), 0) from stock_ledger l where l.stock_lot_id = s.id) as on_hand
    from stock_lots s where s.auxiliary_id is not null and s.closed_at is null) c on c.auxiliary_id = a.id`;

/** Every auxiliary in use, by name, with what the shelf holds of it. */
export const listAuxiliaries = (db: Db): AuxiliaryOnShelf[] =>
  db
    .all<Record<string, unknown>>(
      sql`${onShelf} where a.archived_at is null group by a.id order by a.name collate nocase, a.id`,
    )
    .map((row) => camel<AuxiliaryOnShelf>(row));

export const archivedAuxiliaries = (db: Db): { id: number; code: string; name: string }[] =>
  db.all(sql`select id, code, name from auxiliaries where archived_at is not null order by name`);

export const auxiliaryOnShelf = (db: Db, auxiliaryId: number): AuxiliaryOnShelf | undefined => {
  const row = db.get<Record<string, unknown> | undefined>(sql`${onShelf} where a.id = ${auxiliaryId} group by a.id`);
  return row ? camel<AuxiliaryOnShelf>(row) : undefined;
};

export const insertAuxiliary = (db: Db, input: AuxiliaryInput): AuxiliaryRow =>
  db.insert(auxiliaries).values(input).returning().get();

/** Saves against the version that was read; undefined when somebody saved meanwhile. */
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

export type AuxiliaryContainer = StockLotRow & { onHandQuantity: number; sourceCode: string | null };

/** Its open containers, as bought before solutions, oldest first. */
export const openContainersOfAuxiliary = (db: Db, auxiliaryId: number): AuxiliaryContainer[] =>
  db
    .all<Record<string, unknown>>(sql`select s.*, p.code as source_code,
        (select coalesce(sum(l.quantity), 0) from stock_ledger l where l.stock_lot_id = s.id) as on_hand_quantity
      from stock_lots s left join stock_lots p on p.id = s.source_stock_lot_id
      where s.auxiliary_id = ${auxiliaryId} and s.closed_at is null order by s.conc_ppm is not null, s.received_on, s.id`)
    .map((row) => camel<AuxiliaryContainer>(row));

export const closedContainerCountOfAuxiliary = (db: Db, auxiliaryId: number): number =>
  db.get<{ n: number }>(
    sql`select count(*) as n from stock_lots where auxiliary_id = ${auxiliaryId} and closed_at is not null`,
  )?.n ?? 0;

/** Methods that call for it, each with how much as it was typed. */
export const methodsWithAuxiliary = (
  db: Db,
  auxiliaryId: number,
): { methodId: number; name: string; vessel: 'bath' | 'soak'; asTyped: string }[] =>
  db.all(sql`select m.id as methodId, m.name, l.vessel, l.as_typed as asTyped from method_auxiliaries l join methods m on m.id = l.method_id
    where l.auxiliary_id = ${auxiliaryId} and m.archived_at is null order by m.name collate nocase, l.ordinal`);
