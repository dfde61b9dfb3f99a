import { and, asc, desc, eq, getTableColumns, gt, gte, isNull, lt, type SQL, sql } from 'drizzle-orm';
import { bookedAt } from '../db/bookedAt.ts';
import { keptLines, keptName } from '../db/keptNames.ts';
import type { Db } from '../db/open.ts';
import { ready, readyInsert } from '../db/ready.ts';
import { lots } from '../db/tables/lots.ts';
import { auxiliaries, dyes, fibres } from '../db/tables/materials.ts';
import {
  type LedgerEntryRow,
  type StockLotEventRow,
  type StockLotRow,
  type StockMoneyRow,
  type StrengthChangeRow,
  stockLedger,
  stockLotEvents,
  stockLots,
  stockMoney,
  strengthChanges,
  type ValuationChangeRow,
  valuationChanges,
} from '../db/tables/stock.ts';
import { people } from '../db/tables/studio.ts';
import type { Touched } from './schemas.ts';

const stockLotOfId = ready((db) =>
  db
    .select()
    .from(stockLots)
    .where(eq(stockLots.id, sql.placeholder('stockLotId')))
    .prepare(),
);
export const stockLotById = (db: Db, stockLotId: number): StockLotRow | undefined =>
  stockLotOfId(db).get({ stockLotId });

export const insertStockLot = (db: Db, row: Omit<StockLotRow, 'id' | 'version'>): StockLotRow =>
  db.insert(stockLots).values(row).returning().get();

export const insertLedgerEntry: (db: Db, row: typeof stockLedger.$inferInsert) => LedgerEntryRow =
  readyInsert(stockLedger);

export const ledgerEntryOfClient = (db: Db, clientId: string): LedgerEntryRow | undefined =>
  db.select().from(stockLedger).where(eq(stockLedger.clientId, clientId)).get();

/** Entries that a weighing made, each with whether it was reversed. The outer id is written out, since drizzle leaves the
 *  table's name off in a select from one table, and the inner table has an id too. */
export const ledgerEntriesOfWeighing = (db: Db, weighingId: number): (LedgerEntryRow & { reversed: boolean })[] =>
  db
    .select({
      entry: stockLedger,
      reversed: sql<number>`exists (select 1 from stock_ledger r where r.reverses_id = "stock_ledger"."id")`,
    })
    .from(stockLedger)
    .where(eq(stockLedger.weighingId, weighingId))
    .all()
    .map((row) => ({ ...row.entry, reversed: row.reversed === 1 }));

const anchors = ready((db) =>
  db
    .select()
    .from(stockLedger)
    .where(
      and(
        eq(stockLedger.stockLotId, sql.placeholder('stockLotId')),
        gte(stockLedger.at, sql.placeholder('at')),
        sql`(${stockLedger.at} > ${sql.placeholder('at')} or ${stockLedger.id} > ${sql.placeholder('seq')})`,
        sql`(${stockLedger.empties} = 1 or (${stockLedger.kind} = 'stockTake' and ${stockLedger.balancesId} is null))`,
        sql`not exists (select 1 from stock_ledger r where r.reverses_id = "stock_ledger"."id")`,
      ),
    )
    .orderBy(asc(stockLedger.at), asc(stockLedger.id))
    .limit(1)
    .prepare(),
);
/** The first count of a container after a place in its ledger, or the emptying that threw it away, where that stands. */
export const anchorAfter = (
  db: Db,
  stockLotId: number,
  { at, seq }: { at: number; seq: number },
): LedgerEntryRow | undefined => anchors(db).get({ stockLotId, at, seq });

/** The receipt of a container: when it came, by its ledger. */
export const receiptOf = (db: Db, stockLotId: number): LedgerEntryRow | undefined =>
  db
    .select()
    .from(stockLedger)
    .where(and(eq(stockLedger.stockLotId, stockLotId), sql`${stockLedger.kind} = 'receipt'`))
    .get();

/** Issues of a container to a production lot that were not taken back. */
export const standingIssuesOf = (db: Db, lotId: number, stockLotId: number): LedgerEntryRow[] =>
  db
    .select()
    .from(stockLedger)
    .where(
      and(
        eq(stockLedger.lotId, lotId),
        eq(stockLedger.stockLotId, stockLotId),
        eq(stockLedger.kind, 'issue'),
        sql`not exists (select 1 from stock_ledger r where r.reverses_id = "stock_ledger"."id")`,
      ),
    )
    .all();

/** What a container holds by its ledger, in its unit. */
export const onHand = (db: Db, stockLotId: number): number =>
  db.get<{ quantity: number }>(
    sql`select coalesce(sum(quantity), 0) as quantity from stock_ledger where stock_lot_id = ${stockLotId}`,
  )?.quantity ?? 0;

/** The same at the end of a past instant. What something was taken from, or counted, had come by then, whatever hour the receipt
 *  was typed with. */
export const onHandAt = (db: Db, stockLotId: number, at: number): number =>
  db.get<{ quantity: number }>(
    sql`select coalesce(sum(quantity), 0) as quantity from stock_ledger where stock_lot_id = ${stockLotId} and (at <= ${at}
      or (kind = 'receipt' and exists (select 1 from stock_ledger e where e.stock_lot_id = ${stockLotId} and e.at <= ${at}
        and e.kind <> 'reversal' and not exists (select 1 from stock_ledger r where r.reverses_id = e.id))))`,
  )?.quantity ?? 0;

/** What a count made at an instant ought to find. That it was counted says that it had come. */
export const expectedAt = (db: Db, stockLotId: number, at: number): number =>
  db.get<{ quantity: number }>(
    sql`select coalesce(sum(quantity), 0) as quantity from stock_ledger where stock_lot_id = ${stockLotId} and (at <= ${at} or kind = 'receipt')`,
  )?.quantity ?? 0;

export interface StockLotOverview extends StockLotRow {
  itemName: string;
  itemCode: string;
  /** Colour of the dye's chip; null of anything else. */
  shownHex: string | null;
  /** Class of the dye; null of anything else. */
  dyeClass: string | null;
  onHandQuantity: number;
  /** Late freight and bills, less credits, to date. */
  lateMinor: number;
  sourceCode: string | null;
}

/** The columns of a container s under the names of its row. */
const ofContainer = sql.join(
  Object.entries(getTableColumns(stockLots)).map(
    ([name, column]) => sql`s.${sql.identifier(column.name)} as ${sql.identifier(name)}`,
  ),
  sql`, `,
);
const overview = sql`select ${ofContainer}, coalesce(d.name, a.name, f.name) as "itemName", coalesce(d.code, a.code, '') as "itemCode",
    d.shown_hex as "shownHex", d.class as "dyeClass",
    (select code from stock_lots p where p.id = s.source_stock_lot_id) as "sourceCode",
    (select coalesce(sum(l.quantity), 0) from stock_ledger l where l.stock_lot_id = s.id) as "onHandQuantity",
    (select coalesce(sum(m.amount_minor), 0) from stock_money m where m.stock_lot_id = s.id) as "lateMinor"
  from stock_lots s left join dyes d on d.id = s.dye_id left join auxiliaries a on a.id = s.auxiliary_id left join fibres f on f.id = s.fibre_id`;

export interface StockLotsOf {
  kind?: StockLotRow['kind'] | undefined;
  dyeId?: number | undefined;
  auxiliaryId?: number | undefined;
  fibreId?: number | undefined;
}

const ofItem = (of: StockLotsOf) => sql`(${of.kind ?? null} is null or s.kind = ${of.kind ?? null})
  and (${of.dyeId ?? null} is null or s.dye_id = ${of.dyeId ?? null})
  and (${of.auxiliaryId ?? null} is null or s.auxiliary_id = ${of.auxiliaryId ?? null})
  and (${of.fibreId ?? null} is null or s.fibre_id = ${of.fibreId ?? null})`;

/** Containers that are not closed, of one kind or item or all, by item and age (first in, first out). */
export const openStockLots = (db: Db, filter: StockLotsOf = {}): StockLotOverview[] =>
  db.all<StockLotOverview>(sql`${overview} where s.closed_at is null and ${ofItem(filter)}
      order by s.kind desc, "itemName", s.conc_ppm is not null, s.received_on, s.id`);

/** Closed containers, newest first; keyset by id. */
export const closedStockLots = (
  db: Db,
  filter: StockLotsOf,
  before: number | null,
  limit: number,
): StockLotOverview[] =>
  db.all<StockLotOverview>(sql`${overview} where s.closed_at is not null and ${ofItem(filter)}
      and (${before} is null or s.id < ${before}) order by s.id desc limit ${limit}`);

/** Solutions made from a container of powder, newest first. */
export const solutionsOf = (db: Db, stockLotId: number): StockLotOverview[] =>
  db.all<StockLotOverview>(sql`${overview} where s.source_stock_lot_id = ${stockLotId} order by s.id desc`);

export const stockLotOverview = (db: Db, stockLotId: number): StockLotOverview | undefined =>
  db.get<StockLotOverview | undefined>(sql`${overview} where s.id = ${stockLotId}`);

/** Containers of a dye or auxiliary that could serve a weigh-up, oldest first; solutions too, told apart by conc_ppm. */
export const usableStockLots = (
  db: Db,
  item: { dyeId: number | null; auxiliaryId: number | null },
): StockLotOverview[] =>
  db.all<StockLotOverview>(sql`${overview} where s.closed_at is null and s.recalled_at is null
      and ((${item.dyeId} is not null and s.dye_id = ${item.dyeId}) or (${item.auxiliaryId} is not null and s.auxiliary_id = ${item.auxiliaryId}))
      order by s.received_on, s.id`);

export interface LedgerLine extends LedgerEntryRow {
  personName: string;
  lotNumber: string | null;
  /** When that happened which a balancing entry was made necessary by. */
  causedAt: number | null;
  balance: number;
}

/** A container's ledger, newest first, with the running balance; keyset by id. */
export const ledgerOf = (db: Db, stockLotId: number, before: number | null, limit: number): LedgerLine[] => {
  const rows = db
    .select({
      entry: stockLedger,
      personName: people.name,
      lotNumber: lots.number,
      causedAt: sql<number | null>`(select c.at from stock_ledger c where c.id = ${stockLedger.causedById})`,
    })
    .from(stockLedger)
    .innerJoin(people, eq(people.id, stockLedger.byPersonId))
    .leftJoin(lots, eq(lots.id, stockLedger.lotId))
    .where(and(eq(stockLedger.stockLotId, stockLotId), before === null ? undefined : lt(stockLedger.id, before)))
    .orderBy(desc(stockLedger.id))
    .limit(limit)
    .all();
  // One sum for the newest entry of the page; the older balances follow from it.
  let balance = rows[0] ? balanceAfter(db, stockLotId, rows[0].entry.id) : 0;
  return rows.map(({ entry, ...names }) => {
    const line = { ...entry, ...names, balance };
    balance -= entry.quantity;
    return line;
  });
};

const balanceAfter = (db: Db, stockLotId: number, entryId: number): number =>
  db.get<{ quantity: number }>(
    sql`select coalesce(sum(quantity), 0) as quantity from stock_ledger where stock_lot_id = ${stockLotId} and id <= ${entryId}`,
  )?.quantity ?? 0;

const strengthsLater = ready((db) =>
  db
    .select({ wasPpm: strengthChanges.wasPpm })
    .from(strengthChanges)
    .where(
      and(eq(strengthChanges.stockLotId, sql.placeholder('stockLotId')), gt(strengthChanges.at, sql.placeholder('at'))),
    )
    .orderBy(asc(strengthChanges.at), asc(strengthChanges.id))
    .limit(1)
    .prepare(),
);
/** The strength that a container was known to have at an instant. */
export const strengthAt = (db: Db, container: Pick<StockLotRow, 'id' | 'strengthPpm'>, at: number): number =>
  strengthsLater(db).get({ stockLotId: container.id, at })?.wasPpm ?? container.strengthPpm;

/** When the strength of a container was set right, and by whom. */
export const strengthChangesOf = (
  db: Db,
  stockLotId: number,
): { wasPpm: number; isPpm: number; at: number; personName: string }[] =>
  db.all(sql`select c.was_ppm as "wasPpm", c.is_ppm as "isPpm", c.at, p.name as "personName" from strength_changes c
    join people p on p.id = c.by_person_id where c.stock_lot_id = ${stockLotId} order by c.id`);

export const insertStrengthChange = (db: Db, row: Omit<StrengthChangeRow, 'id'>): void => {
  db.insert(strengthChanges).values(row).run();
};

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

export interface ShelfItem {
  kind: StockLotRow['kind'];
  id: number;
  name: string;
  /** Beginning of its containers' labels. */
  code: string;
  /** A solid is counted by mass, a liquid by volume. */
  unit: StockLotRow['unit'];
  archived: boolean;
}

/** A dye, an auxiliary or a fibre as the shelf sees it. */
export function shelfItem(db: Db, kind: StockLotRow['kind'], id: number): ShelfItem | undefined {
  if (kind === 'dye') {
    const row = db.select().from(dyes).where(eq(dyes.id, id)).get();
    return row && { kind, id, name: row.name, code: row.code, unit: 'mg', archived: row.archivedAt !== null };
  }
  if (kind === 'auxiliary') {
    const row = db.select().from(auxiliaries).where(eq(auxiliaries.id, id)).get();
    return (
      row && {
        kind,
        id,
        name: row.name,
        code: row.code,
        unit: row.form === 'liquid' ? 'ul' : 'mg',
        archived: row.archivedAt !== null,
      }
    );
  }
  const row = db.select().from(fibres).where(eq(fibres.id, id)).get();
  const code = /[\p{L}\p{N}]+/u
    .exec(row?.name ?? '')?.[0]
    .slice(0, 8)
    .toUpperCase();
  return row && { kind, id, name: row.name, code: code || `F${id}`, unit: 'mg', archived: row.archivedAt !== null };
}

/** Labels in use that begin so, in any case of letters. */
export const codesBeginning = (db: Db, beginning: string): string[] =>
  db
    .all<{ code: string }>(
      sql`select code from stock_lots where substr(code, 1, ${beginning.length}) = ${beginning} collate nocase`,
    )
    .map((row) => row.code);

/** Days that a solution of a dye keeps, as the studio noted it; null when it did not, and for what is no dye. */
export const solutionLifeDaysOf = (db: Db, dyeId: number | null): number | null =>
  dyeId === null
    ? null
    : (db.select({ days: dyes.solutionLifeDays }).from(dyes).where(eq(dyes.id, dyeId)).get()?.days ?? null);

export const safetyOf = (
  db: Db,
  item: { dyeId: number | null; auxiliaryId: number | null },
): { hazardCodes: string; sdsUrl: string } | undefined =>
  db.get(sql`select hazard_codes as hazardCodes, sds_url as sdsUrl from dyes where id = ${item.dyeId}
    union all select hazard_codes, sds_url from auxiliaries where id = ${item.auxiliaryId}`);

/** Marks a container, and the solutions made from it, as recalled; those that are so already keep their mark. Answers which
 *  were marked. */
export const markRecalled = (
  db: Db,
  stockLotId: number,
  mark: { at: number; reason: string; reasonOfSolutions: string },
): number[] =>
  db
    .all<{ id: number }>(sql`update stock_lots set recalled_at = ${mark.at}, version = version + 1,
      recall_reason = case when id = ${stockLotId} then ${mark.reason} else ${mark.reasonOfSolutions} end
    where (id = ${stockLotId} or source_stock_lot_id = ${stockLotId}) and recalled_at is null returning id`)
    .map(({ id }) => id);

/** Takes the mark of one recall off a container and the solutions that were recalled with it. Answers from which. */
export const unmarkRecalled = (db: Db, stockLotId: number, recalledAt: number): number[] =>
  db
    .all<{ id: number }>(sql`update stock_lots set recalled_at = null, recall_reason = '', version = version + 1
    where (id = ${stockLotId} or source_stock_lot_id = ${stockLotId}) and recalled_at = ${recalledAt} returning id`)
    .map(({ id }) => id);

export const insertStockLotEvent = (db: Db, row: Omit<StockLotEventRow, 'id'>): void => {
  db.insert(stockLotEvents).values(row).run();
};

export interface StockLotEvent extends StockLotEventRow {
  throughCode: string | null;
  /** null of what was done before it was kept by whom. */
  personName: string | null;
}

/** What was done with a container as a whole, newest first. */
export const stockLotEventsOf = (db: Db, stockLotId: number): StockLotEvent[] =>
  db
    .select({ event: stockLotEvents, throughCode: stockLots.code, personName: people.name })
    .from(stockLotEvents)
    .leftJoin(stockLots, eq(stockLots.id, stockLotEvents.throughId))
    .leftJoin(people, eq(people.id, stockLotEvents.byPersonId))
    .where(eq(stockLotEvents.stockLotId, stockLotId))
    .orderBy(desc(stockLotEvents.id))
    .all()
    .map(({ event, ...names }) => ({ ...event, ...names }));

/** What the closing of a container took out of its ledger as it stands now, if anything: the count of nothing, or what was thrown
 *  away, worked out anew when something reached us late. */
export const closingEntryOf = (db: Db, stockLotId: number, closedAt: number): LedgerEntryRow | undefined =>
  db
    .select()
    .from(stockLedger)
    .where(
      and(
        eq(stockLedger.stockLotId, stockLotId),
        eq(stockLedger.at, closedAt),
        sql`(${stockLedger.empties} = 1 or (${stockLedger.recordedAt} = ${closedAt} and ${stockLedger.kind} in ('waste', 'stockTake') and ${stockLedger.balancesId} is null))`,
        sql`not exists (select 1 from stock_ledger r where r.reverses_id = "stock_ledger"."id")`,
      ),
    )
    .orderBy(desc(stockLedger.id))
    .get();

// ── what a container touched: it and the solutions made from it ──
const jars = (stockLotId: number) =>
  sql`with jars as (select id, code, unit from stock_lots where id = ${stockLotId} or source_stock_lot_id = ${stockLotId})`;
/** Lots that something of it went into and was not taken back, or whose goods it is. */
const lotsTouched = (stockLotId: number) => sql`${jars(stockLotId)},
  used as (select l.lot_id, l.stock_lot_id, -sum(l.quantity) as quantity from jars j join stock_ledger l on l.stock_lot_id = j.id
    where l.kind = 'issue' and l.lot_id is not null and not exists (select 1 from stock_ledger r where r.reverses_id = l.id)
    group by l.lot_id, l.stock_lot_id),
  touched as (select lot_id, stock_lot_id, quantity from used
    union all select t.id, t.goods_stock_lot_id, null from lots t
      where t.goods_stock_lot_id = ${stockLotId} and t.status <> 'planned' and t.id not in (select lot_id from used))`;

type TouchedLot = Touched['lots'][number];

/** One row a lot and container. */
export const lotsTouchedBy = (db: Db, stockLotId: number): TouchedLot[] =>
  db.all<TouchedLot>(sql`${lotsTouched(stockLotId)}
    select t.id as lotId, t.number, t.status, t.goods_text as goodsText, t.finished_at as finishedAt,
      ${keptName('stockLot', { lotId: sql`t.id`, id: sql`j.id`, now: sql`j.code` }, 'code')} as throughCode, u.quantity, j.unit
    from touched u join lots t on t.id = u.lot_id join jars j on j.id = u.stock_lot_id order by t.id desc, j.id`);

type PlannedUse = Touched['plannedLots'][number];

/** Lots not finished yet whose plan names it, and that it has not touched. */
export const lotsMeaningToUse = (db: Db, stockLotId: number): PlannedUse[] =>
  db.all<PlannedUse>(sql`${lotsTouched(stockLotId)}
    select distinct t.id as lotId, t.number, t.status, j.code as throughCode
    from jars j join lot_components c on c.stock_lot_id = j.id join lots t on t.id = c.lot_id
    where t.finished_at is null and t.id not in (select lot_id from touched) order by t.id desc`);

type TouchedSwatch = Touched['swatches'][number];

export const swatchesTouchedBy = (db: Db, stockLotId: number): TouchedSwatch[] =>
  db.all<TouchedSwatch>(sql`${lotsTouched(stockLotId)}
    select w.id as swatchId, w.code, w.name, w.dyed_on as dyedOn, t.number as lotNumber
    from swatches w left join lots t on t.id = w.lot_id
    where w.id in (select k.swatch_id from swatch_stock_lots k join jars j on j.id = k.stock_lot_id)
      or w.lot_id in (select lot_id from touched) order by w.id desc`);

/** Order and customer under the names that they had when the lot was closed; the contact is that of today, since it is to be used. */
type TouchedOrder = Touched['orders'][number] & { numberNow: string };

/** One row an order line and lot. */
export const ordersTouchedBy = (db: Db, stockLotId: number): TouchedOrder[] =>
  db.all<TouchedOrder>(sql`${lotsTouched(stockLotId)}
    select o.id as orderId, y.order_number as number, y.number_now as numberNow, o.status, y.description, t.number as lotNumber,
      c.id as customerId, y.customer_name as customerName, y.name_now as customerNameNow, c.contact
    from (select distinct lot_id from touched) u join lots t on t.id = u.lot_id join ${keptLines} y on y.lot_id = t.id
      join order_lines n on n.id = y.order_line_id join orders o on o.id = y.order_id join customers c on c.id = y.customer_id
    order by o.id desc, n.ordinal, t.id`);

// ── the item behind its containers: what it is worth, use, purchase ──
/** What containers are of. */
export interface ItemOfStock {
  dyeId: number | null;
  auxiliaryId: number | null;
  fibreId: number | null;
}

export interface ContainerOfItem {
  stockLotId: number;
  code: string;
  unit: StockLotRow['unit'];
  sourceId: number | null;
  /** What was paid for it as bought, freight in it; what went over with the powder, of a solution. */
  paidMinor: number;
  receivedQuantity: number;
  /** Powder that a solution was made from. */
  massMg: number | null;
}

/** By one column at a time: of a choice between columns SQLite takes no index. */
const containersOf = (item: ItemOfStock) =>
  item.dyeId !== null
    ? sql`s.dye_id = ${item.dyeId}`
    : item.auxiliaryId !== null
      ? sql`s.auxiliary_id = ${item.auxiliaryId}`
      : sql`s.fibre_id = ${item.fibreId}`;

/** Containers of an item, as bought and in solution, by age. */
export const containersOfItem = (db: Db, item: ItemOfStock): ContainerOfItem[] =>
  db.all<ContainerOfItem>(sql`select s.id as "stockLotId", s.code, s.unit, s.source_stock_lot_id as "sourceId",
      s.price_minor + s.freight_minor as "paidMinor", s.received_quantity as "receivedQuantity",
      (select -sum(p.quantity) from stock_ledger p where p.solution_id = s.id) as "massMg"
    from stock_lots s where ${containersOf(item)} order by s.id`);

export interface LedgerMove {
  stockLotId: number;
  entryId: number;
  at: number;
  kind: LedgerEntryRow['kind'];
  quantity: number;
  lotId: number | null;
  solutionId: number | null;
  reversesId: number | null;
  /** 1 of customers' own goods, which carry no cost. */
  withoutCost: number;
}

/** Every entry of an item's containers until an instant, in the order in which it happened. Read from an index alone, as bare values
 *  that are named here, and put in order here: containers come one after the other, each in its order, which is nearly all. */
export const ledgerOfItem = (db: Db, item: ItemOfStock, until: number): LedgerMove[] => {
  const ofCustomers = new Set(
    db
      .values<[number, number]>(sql`select t.id, s.id from stock_lots s cross join lots t on t.goods_stock_lot_id = s.id
        where ${containersOf(item)} and t.goods_owner = 'customer'`)
      .map(([lotId, stockLotId]) => `${lotId}:${stockLotId}`),
  );
  type M = LedgerMove;
  return db
    .values<
      [M['stockLotId'], M['entryId'], M['at'], M['kind'], M['quantity'], M['lotId'], M['solutionId'], M['reversesId']]
    >(
      sql`select s.id, e.id, e.at, e.kind, e.quantity, e.lot_id, e.solution_id, e.reverses_id
        from stock_lots s cross join stock_ledger e on e.stock_lot_id = s.id where ${containersOf(item)} and e.at <= ${until}`,
    )
    .map(([stockLotId, entryId, at, kind, quantity, lotId, solutionId, reversesId]): M => {
      const isOfCustomer = ofCustomers.size > 0 && lotId !== null && ofCustomers.has(`${lotId}:${stockLotId}`);
      return {
        stockLotId,
        entryId,
        at,
        kind,
        quantity,
        lotId,
        solutionId,
        reversesId,
        withoutCost: isOfCustomer ? 1 : 0,
      };
    })
    .sort((x, y) => x.at - y.at || x.entryId - y.entryId);
};

export interface MoneyMove {
  stockLotId: number;
  at: number;
  amountMinor: number;
}

/** Late freight, bills and credits of an item's containers until an instant. */
export const moneyOfItem = (db: Db, item: ItemOfStock, until: number): MoneyMove[] =>
  db.all<MoneyMove>(sql`select m.stock_lot_id as "stockLotId", m.at, m.amount_minor as "amountMinor"
    from stock_lots s cross join stock_money m on m.stock_lot_id = s.id where ${containersOf(item)} and m.at <= ${until} order by m.at, m.id`);

export interface BookedLine {
  stockLotId: number;
  at: number;
  quantity: number;
  costMinor: number;
  /** The rate of the line that a replacement stands for; null of any other. */
  ownPriceMinor: number | null;
  ownPerQuantity: number | null;
  /** Whether the rate is still that one. */
  samePrice: number;
}

/** Cost lines of closed lots that went on an item's containers, until an instant. Read from an index alone: the line that another
 *  corrects is looked at only where there is one. */
export const bookedOfItem = (db: Db, item: ItemOfStock, until: number): BookedLine[] => {
  type B = BookedLine;
  const own = (column: SQL) =>
    sql`case when c.correction = 'replacement' then (select ${column} from cost_lines o where o.id = c.corrects_id) end`;
  return db
    .values<
      [
        number,
        B['stockLotId'],
        B['at'],
        B['quantity'],
        B['costMinor'],
        B['ownPriceMinor'],
        B['ownPerQuantity'],
        B['samePrice'] | null,
      ]
    >(
      sql`select c.id, s.id, ${bookedAt}, c.quantity, c.cost_minor, ${own(sql`o.price_minor`)}, ${own(sql`o.per_quantity`)},
          ${own(sql`c.price_minor = o.price_minor and c.per_quantity = o.per_quantity`)}
        from stock_lots s cross join cost_lines c on c.stock_lot_id = s.id join closed_lots t on t.lot_id = c.lot_id
        where ${containersOf(item)} and ${bookedAt} <= ${until}`,
    )
    .sort((x, y) => x[2] - y[2] || x[0] - y[0])
    .map(([, stockLotId, at, quantity, costMinor, ownPriceMinor, ownPerQuantity, samePrice]): B => {
      return { stockLotId, at, quantity, costMinor, ownPriceMinor, ownPerQuantity, samePrice: samePrice ?? 1 };
    });
};

export interface ItemInStock extends ItemOfStock {
  kind: StockLotRow['kind'];
  itemId: number;
  name: string;
  code: string;
  unit: StockLotRow['unit'];
}

/** Every dye, auxiliary and kind of goods that was ever received, put away or not. */
export const itemsEverReceived = (db: Db): ItemInStock[] =>
  db.all<ItemInStock>(sql`select s.kind, coalesce(s.dye_id, s.auxiliary_id, s.fibre_id) as "itemId", s.dye_id as "dyeId", s.auxiliary_id as "auxiliaryId",
      s.fibre_id as "fibreId", coalesce(d.name, a.name, f.name) as name, coalesce(d.code, a.code, '') as code, s.unit
    from (select kind, dye_id, auxiliary_id, fibre_id, min(unit) as unit from stock_lots where source_stock_lot_id is null
        group by kind, dye_id, auxiliary_id, fibre_id) s
      left join dyes d on d.id = s.dye_id left join auxiliaries a on a.id = s.auxiliary_id left join fibres f on f.id = s.fibre_id
    order by s.kind desc, name collate nocase, 2`);

export const valuationChangesOf = (db: Db): ValuationChangeRow[] =>
  db.select().from(valuationChanges).orderBy(asc(valuationChanges.changedAt), asc(valuationChanges.id)).all();

// ── money after the receipt ──
export const insertStockMoney = (db: Db, row: Omit<StockMoneyRow, 'id'>): StockMoneyRow =>
  db.insert(stockMoney).values(row).returning().get();

export const stockMoneyOfClient = (db: Db, clientId: string): StockMoneyRow | undefined =>
  db.select().from(stockMoney).where(eq(stockMoney.clientId, clientId)).get();

/** What came and went for a container after its receipt, newest first. */
export const stockMoneyOf = (db: Db, stockLotId: number): (StockMoneyRow & { personName: string })[] =>
  db
    .select({ row: stockMoney, personName: people.name })
    .from(stockMoney)
    .innerJoin(people, eq(people.id, stockMoney.byPersonId))
    .where(eq(stockMoney.stockLotId, stockLotId))
    .orderBy(desc(stockMoney.at), desc(stockMoney.id))
    .all()
    .map(({ row, personName }) => ({ ...row, personName }));

/** The same as one sum, until an instant. */
export const moneySince = (db: Db, stockLotId: number, until: number): number =>
  db.get<{ minor: number }>(
    sql`select coalesce(sum(amount_minor), 0) as minor from stock_money where stock_lot_id = ${stockLotId} and at <= ${until}`,
  )?.minor ?? 0;

/** Solutions made from a container until now: when, from how much, and what went over with it. */
export const makingsFrom = (db: Db, stockLotId: number): { at: number; massMg: number; priceMinor: number }[] =>
  db.all(sql`select e.at, -e.quantity as "massMg", s.price_minor as "priceMinor" from stock_lots s join stock_ledger e on e.solution_id = s.id
    where s.source_stock_lot_id = ${stockLotId} and e.kind = 'issue' order by e.at, e.id`);

/** Powder that went into a solution and what came of it; undefined of a container as bought. */
export const makingOfSolution = (db: Db, stockLotId: number): { massMg: number; volumeUl: number } | undefined =>
  db.get<
    { massMg: number; volumeUl: number } | undefined
  >(sql`select -sum(p.quantity) as "massMg", s.received_quantity as "volumeUl"
    from stock_lots s join stock_ledger p on p.solution_id = s.id where s.id = ${stockLotId} group by s.id`);

// ── what to buy ──
export interface ItemStock {
  kind: StockLotRow['kind'];
  itemId: number;
  name: string;
  code: string;
  shownHex: string | null;
  unit: StockLotRow['unit'];
  /** As bought, open and not recalled; solutions beside it, as the powder in them. */
  onHandQuantity: number;
  inSolutionQuantity: number;
  /** Issued and wasted since the window began, less what was taken back: from jars to lots and solutions. */
  usedQuantity: number;
  firstReceivedAt: number;
  /** What lots that are planned or on the bench still want and has not been weighed, as powder. */
  plannedQuantity: number;
  lastStockLotId: number;
  lastQuantity: number;
  lastPriceMinor: number;
  lastFreightMinor: number;
  lastSupplier: string;
}

/** Every item that was ever received and is not put away, with its use since an instant. Counted in the unit of its
 *  containers as bought. CROSS JOIN keeps the few containers in front of the long ledger, which is then read by its index. */
export const itemStocks = (db: Db, since: number): ItemStock[] =>
  db.all<ItemStock>(sql`with
    bought as (select s.*, coalesce(s.dye_id, s.auxiliary_id, s.fibre_id) as item_id from stock_lots s where s.source_stock_lot_id is null),
    held as (select b.kind, b.item_id, sum(e.quantity) as quantity from bought b cross join stock_ledger e on e.stock_lot_id = b.id
      where b.closed_at is null and b.recalled_at is null group by b.kind, b.item_id),
    dissolved as (select s.kind, coalesce(s.dye_id, s.auxiliary_id) as item_id, sum(e.quantity * s.conc_ppm / 1e6) as quantity
      from stock_lots s cross join stock_ledger e on e.stock_lot_id = s.id
      where s.source_stock_lot_id is not null and s.closed_at is null and s.recalled_at is null group by 1, 2),
    used as (select b.kind, b.item_id, -sum(e.quantity) as quantity from bought b cross join stock_ledger e on e.stock_lot_id = b.id
      where e.at >= ${since} and e.kind in ('issue', 'waste', 'reversal') group by b.kind, b.item_id),
    first as (select b.kind, b.item_id, min(e.at) as at from bought b cross join stock_ledger e on e.stock_lot_id = b.id and e.kind = 'receipt' group by b.kind, b.item_id),
    last as (select b.*, row_number() over (partition by b.kind, b.item_id order by b.received_on desc, b.id desc) as nth from bought b),
    wanted as (select c.kind, coalesce(c.dye_id, c.auxiliary_id) as item_id,
        sum(coalesce(c.planned_mass_mg, case when c.conc_ppm is null then c.planned_volume_ul else c.planned_volume_ul * c.conc_ppm / 1e6 end)) as quantity
      from lots l join lot_components c on c.lot_id = l.id
      where l.status in ('planned', 'onBench') and not exists (select 1 from weighings w where w.component_id = c.id
        and not exists (select 1 from log_entries v where v.refers_to_id = w.log_entry_id and v.kind in ('voiding', 'discard'))) group by 1, 2
      union all select 'fibre', s.fibre_id, sum(l.dry_mass_mg) from lots l join stock_lots s on s.id = l.goods_stock_lot_id
        where l.status in ('planned', 'onBench') group by s.fibre_id)
    select n.kind, n.item_id as "itemId", coalesce(d.name, a.name, f.name) as name, coalesce(d.code, a.code, '') as code, d.shown_hex as "shownHex", n.unit,
      coalesce(h.quantity, 0) as "onHandQuantity", cast(round(coalesce(x.quantity, 0)) as integer) as "inSolutionQuantity", coalesce(u.quantity, 0) as "usedQuantity",
      first.at as "firstReceivedAt", cast(round(coalesce(w.quantity, 0)) as integer) as "plannedQuantity", n.id as "lastStockLotId", n.received_quantity as "lastQuantity",
      n.price_minor as "lastPriceMinor", n.freight_minor as "lastFreightMinor", n.supplier as "lastSupplier"
    from last n join first on first.kind = n.kind and first.item_id = n.item_id
      left join held h on h.kind = n.kind and h.item_id = n.item_id left join dissolved x on x.kind = n.kind and x.item_id = n.item_id
      left join used u on u.kind = n.kind and u.item_id = n.item_id left join wanted w on w.kind = n.kind and w.item_id = n.item_id
      left join dyes d on d.id = n.dye_id left join auxiliaries a on a.id = n.auxiliary_id left join fibres f on f.id = n.fibre_id
    where n.nth = 1 and coalesce(d.archived_at, a.archived_at, f.archived_at) is null
    order by n.kind desc, name`);
