import { and, asc, desc, eq, isNull, lt, sql } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import { lots } from '../db/tables/lots.ts';
import { auxiliaries, dyes, fibres } from '../db/tables/materials.ts';
import { type LedgerEntryRow, type StockLotRow, stockLedger, stockLots } from '../db/tables/stock.ts';
import { people } from '../db/tables/studio.ts';

export const stockLotById = (db: Db, stockLotId: number): StockLotRow | undefined =>
  db.select().from(stockLots).where(eq(stockLots.id, stockLotId)).get();

export const insertStockLot = (db: Db, row: Omit<StockLotRow, 'id' | 'version'>): StockLotRow =>
  db.insert(stockLots).values(row).returning().get();

export const insertLedgerEntry = (db: Db, row: typeof stockLedger.$inferInsert): LedgerEntryRow =>
  db.insert(stockLedger).values(row).returning().get();

export const ledgerEntryOfClient = (db: Db, clientId: string): LedgerEntryRow | undefined =>
  db.select().from(stockLedger).where(eq(stockLedger.clientId, clientId)).get();

/** Entries that a weighing made, each with whether it was reversed. */
export const ledgerEntriesOfWeighing = (db: Db, weighingId: number): (LedgerEntryRow & { reversed: boolean })[] =>
  db
    .select({
      entry: stockLedger,
      reversed: sql<number>`exists (select 1 from stock_ledger r where r.reverses_id = ${stockLedger.id})`,
    })
    .from(stockLedger)
    .where(eq(stockLedger.weighingId, weighingId))
    .all()
    .map((row) => ({ ...row.entry, reversed: row.reversed === 1 }));

/** What a container holds by its ledger, in its unit. */
export const onHand = (db: Db, stockLotId: number): number =>
  db.get<{ quantity: number }>(
    sql`select coalesce(sum(quantity), 0) as quantity from stock_ledger where stock_lot_id = ${stockLotId}`,
  )?.quantity ?? 0;

/** The same at the end of a past instant. */
export const onHandAt = (db: Db, stockLotId: number, at: number): number =>
  db.get<{ quantity: number }>(
    sql`select coalesce(sum(quantity), 0) as quantity from stock_ledger where stock_lot_id = ${stockLotId} and at <= ${at}`,
  )?.quantity ?? 0;

export interface StockLotOverview extends StockLotRow {
  itemName: string;
  itemCode: string;
  onHandQuantity: number;
  sourceCode: string | null;
}

const overview = sql`select s.*, coalesce(d.name, a.name, f.name) as item_name, coalesce(d.code, a.code, '') as item_code,
    (select code from stock_lots p where p.id = s.source_stock_lot_id) as source_code,
    (select coalesce(sum(l.quantity), 0) from stock_ledger l where l.stock_lot_id = s.id) as on_hand_quantity
  from stock_lots s left join dyes d on d.id = s.dye_id left join auxiliaries a on a.id = s.auxiliary_id left join fibres f on f.id = s.fibre_id`;

const toOverview = (row: Record<string, unknown>): StockLotOverview =>
  Object.fromEntries(
    Object.entries(row).map(([k, v]) => [k.replace(/_(.)/g, (_, c: string) => c.toUpperCase()), v]),
  ) as unknown as StockLotOverview;

/** Containers that are not closed, of one kind or all, by item and age (first in, first out). */
export const openStockLots = (db: Db, filter: { kind?: StockLotRow['kind'] | undefined } = {}): StockLotOverview[] =>
  db
    .all<
      Record<string, unknown>
    >(sql`${overview} where s.closed_at is null and (${filter.kind ?? null} is null or s.kind = ${filter.kind ?? null})
      order by s.kind desc, item_name, s.received_on, s.id`)
    .map(toOverview);

export const stockLotOverview = (db: Db, stockLotId: number): StockLotOverview | undefined => {
  const row = db.get<Record<string, unknown> | undefined>(sql`${overview} where s.id = ${stockLotId}`);
  return row ? toOverview(row) : undefined;
};

/** Containers of a dye or auxiliary that could serve a weigh-up, oldest first; solutions too, told apart by conc_ppm. */
export const usableStockLots = (
  db: Db,
  item: { dyeId: number | null; auxiliaryId: number | null },
): StockLotOverview[] =>
  db
    .all<Record<string, unknown>>(sql`${overview} where s.closed_at is null and s.recalled_at is null
      and ((${item.dyeId} is not null and s.dye_id = ${item.dyeId}) or (${item.auxiliaryId} is not null and s.auxiliary_id = ${item.auxiliaryId}))
      order by s.received_on, s.id`)
    .map(toOverview);

export interface LedgerLine extends LedgerEntryRow {
  personName: string;
  lotNumber: string | null;
  balance: number;
}

/** A container's ledger, newest first, with the running balance; keyset by id. */
export const ledgerOf = (db: Db, stockLotId: number, before: number | null, limit: number): LedgerLine[] =>
  db
    .select({
      entry: stockLedger,
      personName: people.name,
      lotNumber: lots.number,
      balance: sql<number>`(select sum(b.quantity) from stock_ledger b where b.stock_lot_id = ${stockLedger.stockLotId} and b.id <= ${stockLedger.id})`,
    })
    .from(stockLedger)
    .innerJoin(people, eq(people.id, stockLedger.byPersonId))
    .leftJoin(lots, eq(lots.id, stockLedger.lotId))
    .where(and(eq(stockLedger.stockLotId, stockLotId), before === null ? undefined : lt(stockLedger.id, before)))
    .orderBy(desc(stockLedger.id))
    .limit(limit)
    .all()
    .map((row) => ({ ...row.entry, personName: row.personName, lotNumber: row.lotNumber, balance: row.balance }));

/** Saves what may change on a container against the version read; false when somebody saved meanwhile. */
export const updateStockLot = (
  db: Db,
  stockLotId: number,
  changes: Partial<
    Pick<
      StockLotRow,
      | 'supplier'
      | 'makerLot'
      | 'strengthPpm'
      | 'openedOn'
      | 'bestBeforeOn'
      | 'note'
      | 'recalledAt'
      | 'recallReason'
      | 'closedAt'
    >
  >,
  version: number,
): boolean =>
  db
    .update(stockLots)
    .set({ ...changes, version: sql`${stockLots.version} + 1` })
    .where(and(eq(stockLots.id, stockLotId), eq(stockLots.version, version)))
    .run().changes === 1;

/** What can be received: id, name and kind of every item on the shelf. */
export const receivableItems = (db: Db): { kind: StockLotRow['kind']; id: number; label: string }[] => [
  ...db
    .select({ id: dyes.id, label: sql<string>`${dyes.code} || ' · ' || ${dyes.name}` })
    .from(dyes)
    .where(isNull(dyes.archivedAt))
    .orderBy(asc(dyes.name))
    .all()
    .map((r) => ({ kind: 'dye' as const, ...r })),
  ...db
    .select({ id: auxiliaries.id, label: auxiliaries.name })
    .from(auxiliaries)
    .where(isNull(auxiliaries.archivedAt))
    .orderBy(asc(auxiliaries.name))
    .all()
    .map((r) => ({ kind: 'auxiliary' as const, ...r })),
  ...db
    .select({ id: fibres.id, label: fibres.name })
    .from(fibres)
    .where(isNull(fibres.archivedAt))
    .orderBy(asc(fibres.name))
    .all()
    .map((r) => ({ kind: 'fibre' as const, ...r })),
];
