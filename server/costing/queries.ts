import { type SQL, sql } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import type { CostLineRow, LotRow } from '../db/tables/lots.ts';

/** Which closed lots: [startAt, endAt) by when they were finished, and what they were for; null is no condition. */
export interface ClosedLotFilter {
  startAt: number;
  endAt: number;
  orderId: number | null;
  customerId: number | null;
  methodId: number | null;
  fibreId: number | null;
}

/** The last lot of the page before. */
export interface LotKey {
  finishedAt: number;
  lotId: number;
}

export interface ClosedLot extends LotKey {
  number: string;
  status: Extract<LotRow['status'], 'finished' | 'abandoned'>;
  customers: string;
  orders: string;
  methodName: string;
  fibreName: string;
  goodsText: string;
  shades: string;
  pieces: number | null;
  dryMassMg: number;
  estimateMinor: number;
  firstQuality: number | null;
  seconds: number | null;
  rework: number | null;
  scrap: number | null;
  secondsValueMinor: number | null;
}

const condition = (f: ClosedLotFilter): SQL => sql`l.finished_at >= ${f.startAt} and l.finished_at < ${f.endAt}
  ${f.methodId === null ? sql`` : sql`and l.method_id = ${f.methodId}`}
  ${f.fibreId === null ? sql`` : sql`and l.fibre_id = ${f.fibreId}`}
  ${
    f.orderId === null
      ? sql``
      : sql`and exists (select 1 from lot_lines x join order_lines y on y.id = x.order_line_id
          where x.lot_id = l.id and y.order_id = ${f.orderId})`
  }
  ${
    f.customerId === null
      ? sql``
      : sql`and exists (select 1 from lot_lines x join order_lines y on y.id = x.order_line_id join orders z on z.id = y.order_id
          where x.lot_id = l.id and z.customer_id = ${f.customerId})`
  }`;

const closedLots = (db: Db, filter: ClosedLotFilter, beyond: SQL, order: SQL, limit: number): ClosedLot[] =>
  db.all<ClosedLot>(sql`select l.id as "lotId", l.number, l.status, l.finished_at as "finishedAt",
      coalesce((select group_concat(name, '; ') from (select distinct c.name from lot_lines x join order_lines y on y.id = x.order_line_id
        join orders z on z.id = y.order_id join customers c on c.id = z.customer_id where x.lot_id = l.id order by c.name)), '') as customers,
      coalesce((select group_concat(number, '; ') from (select distinct z.number from lot_lines x join order_lines y on y.id = x.order_line_id
        join orders z on z.id = y.order_id where x.lot_id = l.id order by z.id)), '') as orders,
      m.name as "methodName", f.name as "fibreName", l.goods_text as "goodsText",
      coalesce((select group_concat(name, '; ') from (select r.name from lot_colours c join recipe_revisions v on v.id = c.revision_id
        join recipes r on r.id = v.recipe_id where c.lot_id = l.id order by c.ordinal)), '') as shades,
      l.pieces, l.dry_mass_mg as "dryMassMg", l.estimate_minor as "estimateMinor",
      o.first_quality as "firstQuality", o.seconds, o.rework, o.scrap, o.seconds_value_minor as "secondsValueMinor"
    from lots l join methods m on m.id = l.method_id join fibres f on f.id = l.fibre_id left join lot_outcomes o on o.lot_id = l.id
    where ${condition(filter)} ${beyond}
    order by ${order} limit ${limit}`);

/** Closed lots from the oldest, by keyset. */
export const closedLotsAfter = (db: Db, filter: ClosedLotFilter, after: LotKey | null, limit: number): ClosedLot[] =>
  closedLots(
    db,
    filter,
    after === null ? sql`` : sql`and (l.finished_at, l.id) > (${after.finishedAt}, ${after.lotId})`,
    sql`l.finished_at, l.id`,
    limit,
  );

/** Closed lots from the newest, by keyset. */
export const closedLotsBefore = (db: Db, filter: ClosedLotFilter, before: LotKey | null, limit: number): ClosedLot[] =>
  closedLots(
    db,
    filter,
    before === null ? sql`` : sql`and (l.finished_at, l.id) < (${before.finishedAt}, ${before.lotId})`,
    sql`l.finished_at desc, l.id desc`,
    limit,
  );

export interface CostSum {
  lotId: number;
  kind: CostLineRow['kind'];
  costMinor: number;
  wastedMinor: number;
}

const lotIdsIn = (lotIds: readonly number[]): SQL => sql`(select value from json_each(${JSON.stringify(lotIds)}))`;

/** Cost of lots by kind, corrections included. */
export const costSumsOf = (db: Db, lotIds: readonly number[]): CostSum[] =>
  db.all<CostSum>(sql`select lot_id as "lotId", kind, sum(cost_minor) as "costMinor", sum(cost_minor * wasted) as "wastedMinor"
    from cost_lines where lot_id in ${lotIdsIn(lotIds)} group by lot_id, kind`);

export interface CostLineOfLot {
  lotId: number;
  ordinal: number;
  writtenAt: number;
  kind: CostLineRow['kind'];
  description: string;
  itemCode: string | null;
  stockLotCode: string | null;
  makerLot: string | null;
  quantity: number;
  quantityUnit: CostLineRow['quantityUnit'];
  priceMinor: number;
  perQuantity: number;
  costMinor: number;
  wasted: number;
  correctsOrdinal: number | null;
  personName: string | null;
}

/** Every cost line of lots, by lot and line. */
export const costLinesOf = (db: Db, lotIds: readonly number[]): CostLineOfLot[] =>
  db.all<CostLineOfLot>(sql`select c.lot_id as "lotId", c.ordinal, c.written_at as "writtenAt", c.kind, c.description,
      coalesce(d.code, a.code) as "itemCode", s.code as "stockLotCode", s.maker_lot as "makerLot",
      c.quantity, c.quantity_unit as "quantityUnit", c.price_minor as "priceMinor", c.per_quantity as "perQuantity",
      c.cost_minor as "costMinor", c.wasted, k.ordinal as "correctsOrdinal", p.name as "personName"
    from cost_lines c left join dyes d on d.id = c.dye_id left join auxiliaries a on a.id = c.auxiliary_id
      left join stock_lots s on s.id = c.stock_lot_id left join people p on p.id = c.person_id left join cost_lines k on k.id = c.corrects_id
    where c.lot_id in ${lotIdsIn(lotIds)} order by c.lot_id, c.ordinal`);

/** How many closed lots a filter finds, with what was hoped for and what came out well. */
export const closedLotCounts = (
  db: Db,
  filter: ClosedLotFilter,
): { lots: number; firstQuality: number; estimateMinor: number } =>
  db.get<{ lots: number; firstQuality: number; estimateMinor: number }>(sql`select count(*) as lots,
      coalesce(sum(o.first_quality), 0) as "firstQuality", coalesce(sum(l.estimate_minor), 0) as "estimateMinor"
    from lots l left join lot_outcomes o on o.lot_id = l.id where ${condition(filter)}`);

/** Cost by kind of every closed lot that a filter finds. */
export const costByKind = (db: Db, filter: ClosedLotFilter): { kind: CostLineRow['kind']; costMinor: number }[] =>
  db.all<{ kind: CostLineRow['kind']; costMinor: number }>(sql`select c.kind, sum(c.cost_minor) as "costMinor"
    from lots l join cost_lines c on c.lot_id = l.id where ${condition(filter)} group by c.kind`);

/** When the last lot was closed; null when none was. */
export const lastClosedAt = (db: Db): number | null =>
  db.get<{ at: number | null }>(sql`select max(finished_at) as at from lots`).at;

export const orderIdOf = (db: Db, number: string): number | null =>
  db.get<{ id: number } | undefined>(sql`select id from orders where number = ${number} collate nocase`)?.id ?? null;

interface Choice {
  id: number;
  name: string;
}

/** Customers, methods and fibres that closed lots were for, made by and made of. */
export const historyChoices = (db: Db): { customers: Choice[]; methods: Choice[]; fibres: Choice[] } => ({
  customers: db.all<Choice>(sql`select id, name from customers order by name collate nocase`),
  methods: db.all<Choice>(sql`select id, name from methods order by name collate nocase`),
  fibres: db.all<Choice>(sql`select id, name from fibres order by name collate nocase`),
});
