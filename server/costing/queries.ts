import { eq, type SQL, sql } from 'drizzle-orm';
import { keptLines, keptName } from '../db/keptNames.ts';
import type { Db } from '../db/open.ts';
import { ready, rowById } from '../db/ready.ts';
import { type LotReworkRow, lotReworks } from '../db/tables/costing.ts';
import { type CostLineRow, costLines, type LotRow } from '../db/tables/lots.ts';

/** Which closed lots: [startAt, endAt) by when they were finished, and what they were for; null is no condition. */
export interface ClosedLotFilter {
  startAt: number;
  endAt: number;
  /** First and last day of the closing, each in the zone that the studio had then. */
  fromOn?: string | null;
  toOn?: string | null;
  orderId: number | null;
  customerId: number | null;
  methodId: number | null;
  fibreId: number | null;
  /** Only these; all when left out. */
  lotIds?: readonly number[];
}

/** No condition at all. */
export const EVERYTHING: ClosedLotFilter = {
  startAt: 0,
  endAt: Number.MAX_SAFE_INTEGER,
  orderId: null,
  customerId: null,
  methodId: null,
  fibreId: null,
};

/** The last lot of the page before. */
export interface LotKey {
  finishedAt: number;
  lotId: number;
}

/** What a closed lot cost by kind, corrections and additions included. */
export interface LotCosts {
  dyeMinor: number;
  auxiliaryMinor: number;
  goodsMinor: number;
  labourMinor: number;
  overheadMinor: number;
  otherMinor: number;
  wastedMinor: number;
}

const costsOfLot = sql`l.dye_minor as "dyeMinor", l.auxiliary_minor as "auxiliaryMinor", l.goods_minor as "goodsMinor",
  l.labour_minor as "labourMinor", l.overhead_minor as "overheadMinor", l.other_minor as "otherMinor", l.wasted_minor as "wastedMinor"`;

export interface ClosedLot extends LotKey, LotCosts {
  number: string;
  status: Extract<LotRow['status'], 'finished' | 'abandoned'>;
  /** The day on which it was closed, in the zone of then. */
  closedOn: string;
  /** Names as they were when it was closed; `…Now`: what the same are called now. */
  customers: string;
  customersNow: string;
  orders: string;
  methodName: string;
  methodNameNow: string;
  fibreName: string;
  fibreNameNow: string;
  goodsText: string;
  shades: string;
  shadesNow: string;
  pieces: number | null;
  dryMassMg: number;
  estimateMinor: number;
  firstQuality: number | null;
  seconds: number | null;
  rework: number | null;
  scrap: number | null;
  secondsValueMinor: number | null;
  /** Number of the lot whose pieces it dyed again; null when it is no rework. */
  reworkOf: string | null;
}

const lotIdsIn = (lotIds: readonly number[]): SQL => sql`(select value from json_each(${JSON.stringify(lotIds)}))`;

/** On closed_lots l, which holds what is asked for over many years in narrow rows. */
const condition = (f: ClosedLotFilter): SQL => sql`l.finished_at >= ${f.startAt} and l.finished_at < ${f.endAt}
  ${f.fromOn ? sql`and l.closed_on >= ${f.fromOn}` : sql``} ${f.toOn ? sql`and l.closed_on <= ${f.toOn}` : sql``}
  ${f.lotIds === undefined ? sql`` : sql`and l.lot_id in ${lotIdsIn(f.lotIds)}`}
  ${f.methodId === null ? sql`` : sql`and l.method_id = ${f.methodId}`}
  ${f.fibreId === null ? sql`` : sql`and l.fibre_id = ${f.fibreId}`}
  ${
    f.orderId === null
      ? sql``
      : sql`and l.lot_id in (select x.lot_id from order_lines y join lot_lines x on x.order_line_id = y.id where y.order_id = ${f.orderId})`
  }
  ${
    f.customerId === null
      ? sql``
      : sql`and l.lot_id in (select lot_id from lot_line_closings where customer_id = ${f.customerId})`
  }`;

/** The condition with the lots after one alone, or up to one: said in the ends of the span too, since of two conditions on
 *  the same column SQLite goes by the first, and would walk to every page from the beginning. */
function conditionBetween(f: ClosedLotFilter, after: LotKey | null, last: LotKey | null = null): SQL {
  const startAt = after === null ? f.startAt : Math.max(f.startAt, after.finishedAt);
  const endAt = last === null ? f.endAt : Math.min(f.endAt, last.finishedAt + 1);
  return sql`${condition({ ...f, startAt, endAt })}
    ${after === null ? sql`` : sql`and (l.finished_at, l.lot_id) > (${after.finishedAt}, ${after.lotId})`}
    ${last === null ? sql`` : sql`and (l.finished_at, l.lot_id) <= (${last.finishedAt}, ${last.lotId})`}`;
}

/** The lot whose pieces lot l dyed again: what the newest note says. */
const reworkOfLot = sql`(select w.of_lot_id from lot_reworks w where w.rework_lot_id = l.lot_id order by w.id desc limit 1)`;

const served = (column: SQL, order: SQL): SQL =>
  sql`coalesce((select group_concat(name, '; ') from (select distinct ${column} as name from ${keptLines} y where y.lot_id = l.lot_id
    order by ${order})), '')`;
const shades = (name: SQL): SQL =>
  sql`coalesce((select group_concat(name, '; ') from (select ${name} as name from lot_colours c join recipe_revisions v on v.id = c.revision_id
    join recipes r on r.id = v.recipe_id where c.lot_id = l.lot_id order by c.ordinal)), '')`;

/** The name of a method m, a fibre f or a recipe r when lot l was closed. */
const NOW = {
  method: { id: sql`m.id`, now: sql`m.name` },
  fibre: { id: sql`f.id`, now: sql`f.name` },
  recipe: { id: sql`r.id`, now: sql`r.name` },
};
const namedThen = (kind: keyof typeof NOW, lotId: SQL = sql`l.lot_id`): SQL<string> =>
  keptName(kind, { lotId, ...NOW[kind] });
/** The same for lots by the ten thousand: what was never renamed is not looked up in each. */
const namedThenOfMany = (kind: keyof typeof NOW, lotId?: SQL): SQL<string> =>
  sql`case when ${NOW[kind].id} in (select ref_id from renamed_things where kind = ${kind})
    then ${namedThen(kind, lotId)} else ${NOW[kind].now} end`;

const closedLots = (db: Db, where: SQL, order: SQL, limit: number): ClosedLot[] =>
  db.all<ClosedLot>(sql`select l.lot_id as "lotId", l.number, l.status, l.finished_at as "finishedAt", l.closed_on as "closedOn",
      ${served(sql`y.customer_name`, sql`y.customer_name`)} as customers, ${served(sql`y.name_now`, sql`y.customer_name`)} as "customersNow",
      ${served(sql`y.order_number`, sql`y.order_id`)} as orders,
      ${namedThen('method')} as "methodName", m.name as "methodNameNow", ${namedThen('fibre')} as "fibreName", f.name as "fibreNameNow",
      t.goods_text as "goodsText", ${shades(namedThen('recipe'))} as shades, ${shades(sql`r.name`)} as "shadesNow",
      t.pieces, l.dry_mass_mg as "dryMassMg", l.estimate_minor as "estimateMinor",
      l.first_quality as "firstQuality", l.seconds, l.rework, l.scrap, l.seconds_value_minor as "secondsValueMinor", ${costsOfLot},
      (select k.number from lots k where k.id = ${reworkOfLot}) as "reworkOf"
    from closed_lots l join lots t on t.id = l.lot_id join methods m on m.id = l.method_id join fibres f on f.id = l.fibre_id
    where ${where}
    order by ${order} limit ${limit}`);

/** Closed lots from the oldest, by keyset. */
export const closedLotsAfter = (db: Db, filter: ClosedLotFilter, after: LotKey | null, limit: number): ClosedLot[] =>
  closedLots(db, conditionBetween(filter, after), sql`l.finished_at, l.lot_id`, limit);

export interface ClosedLotKey extends LotKey {
  number: string;
  closedOn: string;
  /** The studio's zone when it was closed. */
  zone: string;
}

/** The same by number and day alone, for a file that says no more of its lots. */
export const closedLotKeysAfter = (
  db: Db,
  filter: ClosedLotFilter,
  after: LotKey | null,
  limit: number,
): ClosedLotKey[] =>
  db.all<ClosedLotKey>(sql`select l.lot_id as "lotId", l.number, l.finished_at as "finishedAt", l.closed_on as "closedOn", k.zone
    from closed_lots l join lot_closings k on k.lot_id = l.lot_id
    where ${conditionBetween(filter, after)}
    order by l.finished_at, l.lot_id limit ${limit}`);

/** Closed lots from the newest, by keyset. */
export const closedLotsBefore = (db: Db, filter: ClosedLotFilter, before: LotKey | null, limit: number): ClosedLot[] =>
  closedLots(
    db,
    before === null
      ? condition(filter)
      : sql`${conditionBetween(filter, null, before)} and l.lot_id <> ${before.lotId}`,
    sql`l.finished_at desc, l.lot_id desc`,
    limit,
  );

export interface CostSum {
  lotId: number;
  kind: CostLineRow['kind'];
  costMinor: number;
  wastedMinor: number;
}

/** Cost of lots by kind, corrections included. */
export const costSumsOf = (db: Db, lotIds: readonly number[]): CostSum[] =>
  db.all<CostSum>(sql`select lot_id as "lotId", kind, sum(cost_minor) as "costMinor", sum(cost_minor * wasted) as "wastedMinor"
    from cost_lines where lot_id in ${lotIdsIn(lotIds)} group by lot_id, kind`);

export interface CostLineOfLot {
  lotId: number;
  ordinal: number;
  costLineId: number;
  stockLotId: number | null;
  writtenAt: number;
  writtenByName: string | null;
  kind: CostLineRow['kind'];
  valuation: CostLineRow['valuation'];
  /** 'addition' of a line that was forgotten when the lot was closed. */
  correction: CostLineRow['correction'] | 'addition';
  reason: string;
  correctsId: number | null;
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

/** What a row that a cost line c names was called when its lot was closed. */
const nameInLine = (
  kind: 'person' | 'dye' | 'auxiliary' | 'stockLot',
  id: SQL,
  now: SQL<string>,
  column: 'name' | 'code',
): SQL<string> => keptName(kind, { lotId: sql`c.lot_id`, id, now }, column);

/** Every cost line of lots, by lot and line. */
export const costLinesOf = (db: Db, lotIds: readonly number[]): CostLineOfLot[] =>
  db.all<CostLineOfLot>(sql`select c.lot_id as "lotId", c.ordinal, c.id as "costLineId", c.stock_lot_id as "stockLotId", c.written_at as "writtenAt",
      ${nameInLine('person', sql`b.id`, sql`b.name`, 'name')} as "writtenByName", c.kind, c.valuation, case when c.added = 1 then 'addition' else c.correction end as correction, c.reason, c.corrects_id as "correctsId", c.description,
      coalesce(${nameInLine('dye', sql`d.id`, sql`d.code`, 'code')}, ${nameInLine('auxiliary', sql`a.id`, sql`a.code`, 'code')}) as "itemCode", ${nameInLine('stockLot', sql`s.id`, sql`s.code`, 'code')} as "stockLotCode",
      ${keptName('stockLot', { lotId: sql`c.lot_id`, id: sql`s.id`, now: sql`s.maker_lot` })} as "makerLot",
      c.quantity, c.quantity_unit as "quantityUnit", c.price_minor as "priceMinor", c.per_quantity as "perQuantity",
      c.cost_minor as "costMinor", c.wasted, k.ordinal as "correctsOrdinal", ${nameInLine('person', sql`p.id`, sql`p.name`, 'name')} as "personName"
    from cost_lines c left join dyes d on d.id = c.dye_id left join auxiliaries a on a.id = c.auxiliary_id
      left join stock_lots s on s.id = c.stock_lot_id left join people p on p.id = c.person_id left join people b on b.id = c.written_by left join cost_lines k on k.id = c.corrects_id
    where c.lot_id in ${lotIdsIn(lotIds)} order by c.lot_id, c.ordinal`);

/** What the few dyes, auxiliaries and people are called now, for rows by the hundred thousand. */
export interface CalledNames {
  dyes: ReadonlyMap<number | null, string>;
  auxiliaries: ReadonlyMap<number | null, string>;
  people: ReadonlyMap<number | null, string>;
  /** Whether any of these, or a container, was ever called otherwise. */
  isAnyRenamed: boolean;
}

export function calledNames(db: Db): CalledNames {
  const named = (query: SQL): ReadonlyMap<number | null, string> =>
    new Map(db.all<{ id: number; name: string }>(query).map(({ id, name }) => [id, name]));
  return {
    dyes: named(sql`select id, code as name from dyes`),
    auxiliaries: named(sql`select id, code as name from auxiliaries`),
    people: named(sql`select id, name from people`),
    isAnyRenamed:
      db.get<{ found: number }>(
        sql`select exists (select 1 from renamed_things where kind in ('dye', 'auxiliary', 'person', 'stockLot')) as found`,
      ).found === 1,
  };
}

type NamedKind = 'dye' | 'auxiliary' | 'person' | 'stockLot';

/** What was called otherwise when its lot was closed, of the lots that a filter finds after one and up to another: few, or none. Where
 *  nothing was ever renamed the names that lots keep are those of today, and are not read. */
const renamedBetween = (db: Db, filter: ClosedLotFilter, after: LotKey | null, last: LotKey, isAnyRenamed: boolean) => {
  if (!isAnyRenamed) return () => undefined;
  const rows = db.values<[number, NamedKind, number, string, string]>(
    sql`select n.lot_id, n.kind, n.ref_id, n.code, n.name from closed_lots l cross join lot_names n on n.lot_id = l.lot_id
      and n.kind in ('dye', 'auxiliary', 'person', 'stockLot') and (n.kind, n.ref_id) in (select kind, ref_id from renamed_things)
    where ${conditionBetween(filter, after, last)}`,
  );
  const kept = new Map(rows.map(([lotId, kind, refId, code, name]) => [`${lotId}:${kind}:${refId}`, { code, name }]));
  return (lotId: number, kind: NamedKind, refId: number | null) =>
    kept.size === 0 ? undefined : kept.get(`${lotId}:${kind}:${refId}`);
};

/** Every cost line of the closed lots that a filter finds after one and up to another, oldest lot first. Bare values instead of
 *  named ones, and names looked up here, take half the time: a file has hundreds of thousands of rows. */
export const costLinesBetween = (
  db: Db,
  filter: ClosedLotFilter,
  span: { after: LotKey | null; last: LotKey },
  names: CalledNames,
): CostLineOfLot[] => {
  const { after, last } = span;
  const then = renamedBetween(db, filter, after, last, names.isAnyRenamed);
  const rows =
    db.values(sql`select c.lot_id, c.ordinal, c.id, c.stock_lot_id, c.written_at, c.written_by, c.kind, c.valuation,
      case when c.added = 1 then 'addition' else c.correction end, c.reason, c.corrects_id, c.description, c.dye_id, c.auxiliary_id, s.code,
      s.maker_lot, c.quantity, c.quantity_unit, c.price_minor, c.per_quantity, c.cost_minor, c.wasted,
      case when c.corrects_id is not null then (select k.ordinal from cost_lines k where k.id = c.corrects_id) end, c.person_id
    from closed_lots l cross join cost_lines c on c.lot_id = l.lot_id left join stock_lots s on s.id = c.stock_lot_id
    where ${conditionBetween(filter, after, last)}
    order by l.finished_at, l.lot_id, c.ordinal`) as CostLineValues[];
  return rows.map(
    ([
      lotId,
      ordinal,
      costLineId,
      stockLotId,
      writtenAt,
      writtenBy,
      kind,
      valuation,
      correction,
      reason,
      correctsId,
      description,
      dyeId,
      auxiliaryId,
      stockLotCode,
      makerLot,
      quantity,
      quantityUnit,
      priceMinor,
      perQuantity,
      costMinor,
      wasted,
      correctsOrdinal,
      personId,
    ]) => ({
      lotId,
      ordinal,
      costLineId,
      stockLotId,
      writtenAt,
      writtenByName: then(lotId, 'person', writtenBy)?.name ?? names.people.get(writtenBy) ?? null,
      kind,
      valuation,
      correction,
      reason,
      correctsId,
      description,
      itemCode:
        (then(lotId, 'dye', dyeId) ?? then(lotId, 'auxiliary', auxiliaryId))?.code ??
        names.dyes.get(dyeId) ??
        names.auxiliaries.get(auxiliaryId) ??
        null,
      stockLotCode: then(lotId, 'stockLot', stockLotId)?.code ?? stockLotCode,
      makerLot: then(lotId, 'stockLot', stockLotId)?.name ?? makerLot,
      quantity,
      quantityUnit,
      priceMinor,
      perQuantity,
      costMinor,
      wasted,
      correctsOrdinal,
      personName: then(lotId, 'person', personId)?.name ?? names.people.get(personId) ?? null,
    }),
  );
};

type L = CostLineOfLot;
/** Values in the order in which they are selected; people, dyes and auxiliaries by their ids. */
type CostLineValues = [
  lotId: L['lotId'],
  ordinal: L['ordinal'],
  costLineId: L['costLineId'],
  stockLotId: L['stockLotId'],
  writtenAt: L['writtenAt'],
  writtenBy: number | null,
  kind: L['kind'],
  valuation: L['valuation'],
  correction: L['correction'],
  reason: L['reason'],
  correctsId: L['correctsId'],
  description: L['description'],
  dyeId: number | null,
  auxiliaryId: number | null,
  stockLotCode: L['stockLotCode'],
  makerLot: L['makerLot'],
  quantity: L['quantity'],
  quantityUnit: L['quantityUnit'],
  priceMinor: L['priceMinor'],
  perQuantity: L['perQuantity'],
  costMinor: L['costMinor'],
  wasted: L['wasted'],
  correctsOrdinal: L['correctsOrdinal'],
  personId: number | null,
];

export interface ClosedLotSums extends LotCosts {
  lots: number;
  firstQuality: number;
  estimateMinor: number;
}

/** Sums over all closed lots that a filter finds: how many, what was hoped for, what came out well, what they cost. */
export const closedLotSums = (db: Db, filter: ClosedLotFilter): ClosedLotSums =>
  db.get<ClosedLotSums>(sql`select count(*) as lots, coalesce(sum(l.first_quality), 0) as "firstQuality",
      coalesce(sum(l.estimate_minor), 0) as "estimateMinor", coalesce(sum(l.dye_minor), 0) as "dyeMinor",
      coalesce(sum(l.auxiliary_minor), 0) as "auxiliaryMinor", coalesce(sum(l.goods_minor), 0) as "goodsMinor",
      coalesce(sum(l.labour_minor), 0) as "labourMinor", coalesce(sum(l.overhead_minor), 0) as "overheadMinor",
      coalesce(sum(l.other_minor), 0) as "otherMinor", coalesce(sum(l.wasted_minor), 0) as "wastedMinor"
    from closed_lots l where ${condition(filter)}`);

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

// ── costs by what they were for ──
export interface CostedLot extends LotKey, LotCosts {
  number: string;
  status: ClosedLot['status'];
  /** The day on which it was closed, in the zone of then. */
  closedOn: string;
  methodId: number;
  methodName: string;
  methodNameNow: string;
  fibreId: number;
  fibreName: string;
  fibreNameNow: string;
  /** As dyed. */
  dryMassMg: number;
  estimateMinor: number;
  firstQuality: number;
  seconds: number;
  rework: number;
  scrap: number;
  secondsValueMinor: number;
}

/** Closed lots that a filter finds, oldest first, after one and so many at most, with what costs are shared out by. */
export const costedLots = (
  db: Db,
  filter: ClosedLotFilter,
  after: LotKey | null = null,
  limit = Number.MAX_SAFE_INTEGER,
): CostedLot[] =>
  // Bare values, since a report reads them by the ten thousand.
  (
    db.values(sql`select l.lot_id, l.number, l.status, l.finished_at, l.method_id, ${namedThenOfMany('method')}, l.fibre_id,
      ${namedThenOfMany('fibre')}, l.dry_mass_mg, l.estimate_minor,
      coalesce(l.first_quality, 0), coalesce(l.seconds, 0), coalesce(l.rework, 0), coalesce(l.scrap, 0), coalesce(l.seconds_value_minor, 0),
      l.dye_minor, l.auxiliary_minor, l.goods_minor, l.labour_minor, l.overhead_minor, l.other_minor, l.wasted_minor,
      l.closed_on, m.name, f.name
    from closed_lots l cross join methods m on m.id = l.method_id cross join fibres f on f.id = l.fibre_id
    where ${conditionBetween(filter, after)}
    order by l.finished_at, l.lot_id limit ${limit}`) as CostedValues[]
  ).map(
    ([
      lotId,
      number,
      status,
      finishedAt,
      methodId,
      methodName,
      fibreId,
      fibreName,
      dryMassMg,
      estimateMinor,
      firstQuality,
      seconds,
      rework,
      scrap,
      secondsValueMinor,
      dyeMinor,
      auxiliaryMinor,
      goodsMinor,
      labourMinor,
      overheadMinor,
      otherMinor,
      wastedMinor,
      closedOn,
      methodNameNow,
      fibreNameNow,
    ]) => ({
      lotId,
      number,
      status,
      finishedAt,
      methodId,
      methodName,
      fibreId,
      fibreName,
      dryMassMg,
      estimateMinor,
      firstQuality,
      seconds,
      rework,
      scrap,
      secondsValueMinor,
      dyeMinor,
      auxiliaryMinor,
      goodsMinor,
      labourMinor,
      overheadMinor,
      otherMinor,
      wastedMinor,
      closedOn,
      methodNameNow,
      fibreNameNow,
    }),
  );

/** Values in the order in which they are selected. */
type CostedValues = [
  lotId: CostedLot['lotId'],
  number: CostedLot['number'],
  status: CostedLot['status'],
  finishedAt: CostedLot['finishedAt'],
  methodId: CostedLot['methodId'],
  methodName: CostedLot['methodName'],
  fibreId: CostedLot['fibreId'],
  fibreName: CostedLot['fibreName'],
  dryMassMg: CostedLot['dryMassMg'],
  estimateMinor: CostedLot['estimateMinor'],
  firstQuality: CostedLot['firstQuality'],
  seconds: CostedLot['seconds'],
  rework: CostedLot['rework'],
  scrap: CostedLot['scrap'],
  secondsValueMinor: CostedLot['secondsValueMinor'],
  dyeMinor: CostedLot['dyeMinor'],
  auxiliaryMinor: CostedLot['auxiliaryMinor'],
  goodsMinor: CostedLot['goodsMinor'],
  labourMinor: CostedLot['labourMinor'],
  overheadMinor: CostedLot['overheadMinor'],
  otherMinor: CostedLot['otherMinor'],
  wastedMinor: CostedLot['wastedMinor'],
  closedOn: CostedLot['closedOn'],
  methodNameNow: CostedLot['methodNameNow'],
  fibreNameNow: CostedLot['fibreNameNow'],
];

export interface LotForLine {
  lotId: number;
  orderLineId: number;
  orderId: number;
  orderNumber: string;
  orderNumberNow: string;
  customerId: number;
  customerName: string;
  customerNameNow: string;
  /** Pieces of the line in this lot. */
  pieces: number | null;
  lineDryMassMg: number | null;
  description: string;
  linePieces: number | null;
  linePriceMinor: number | null;
}

const servedLines = sql`select x.lot_id as "lotId", y.order_line_id as "orderLineId", y.order_id as "orderId", y.order_number as "orderNumber",
    y.number_now as "orderNumberNow", y.customer_id as "customerId", y.customer_name as "customerName", y.name_now as "customerNameNow", x.pieces,
    y.dry_mass_mg as "lineDryMassMg", y.description, y.pieces as "linePieces", y.price_minor as "linePriceMinor"
  from lot_lines x join ${keptLines} y on y.lot_id = x.lot_id and y.order_line_id = x.order_line_id`;

export interface ColourOfLot {
  lotId: number;
  recipeId: number;
  recipeName: string;
  recipeNameNow: string;
  depthPpm: number;
  sharePpm: number;
}

/** Colours of lots. */
export const coloursOfLots = (db: Db, lotIds: readonly number[]): ColourOfLot[] =>
  db.all<ColourOfLot>(sql`select k.lot_id as "lotId", r.id as "recipeId", ${namedThenOfMany('recipe', sql`k.lot_id`)} as "recipeName", r.name as "recipeNameNow", k.depth_ppm as "depthPpm", k.share_ppm as "sharePpm"
    from lot_colours k join recipe_revisions v on v.id = k.revision_id join recipes r on r.id = v.recipe_id
    where k.lot_id in ${lotIdsIn(lotIds)} order by k.lot_id, k.ordinal`);

/** What was dyed in lots, in words. */
export const goodsTextsOf = (db: Db, lotIds: readonly number[]): { lotId: number; goodsText: string }[] =>
  db.all(sql`select id as "lotId", goods_text as "goodsText" from lots where id in ${lotIdsIn(lotIds)}`);

/** The lot whose pieces a closed lot dyed again. */
export const reworkedBy = (db: Db, lotId: number): number | null =>
  db.get<{ id: number | null }>(sql`select ${reworkOfLot} as id from closed_lots l where l.lot_id = ${lotId}`)?.id ??
  null;

/** One closed lot as costs see it. */
export const costedLotById = (db: Db, lotId: number): CostedLot | undefined =>
  costedLots(db, { ...EVERYTHING, lotIds: [lotId] })[0];

// ── one shade over its lots ──
export interface LotOfShade extends LotKey {
  closedOn: string;
  number: string;
  status: ClosedLot['status'];
  goodsText: string;
  methodName: string;
  fibreName: string;
  dryMassMg: number;
  lotColourId: number;
  /** As planned. */
  depthPpm: number;
  shadeCount: number;
}

/** The last closed lots that a recipe was used in, oldest first. */
export const lotsOfRecipe = (db: Db, recipeId: number, limit: number): LotOfShade[] =>
  db
    .all<LotOfShade>(sql`select l.lot_id as "lotId", l.number, l.status, l.finished_at as "finishedAt", l.closed_on as "closedOn", t.goods_text as "goodsText",
      ${namedThen('method')} as "methodName", ${namedThen('fibre')} as "fibreName", l.dry_mass_mg as "dryMassMg", k.id as "lotColourId", k.depth_ppm as "depthPpm",
      (select count(*) from lot_colours n where n.lot_id = l.lot_id) as "shadeCount"
    from lot_colours k join closed_lots l on l.lot_id = k.lot_id join lots t on t.id = l.lot_id join methods m on m.id = l.method_id
      join fibres f on f.id = l.fibre_id
    where k.id in (select min(c.id) from lot_colours c join recipe_revisions v on v.id = c.revision_id
      where v.recipe_id = ${recipeId} group by c.lot_id)
    order by l.finished_at desc, l.lot_id desc limit ${limit}`)
    .reverse();

export const recipeNameOf = (db: Db, recipeId: number): string | undefined =>
  db.get<{ name: string } | undefined>(sql`select name from recipes where id = ${recipeId}`)?.name;

export interface LotCostPart {
  lotId: number;
  kind: CostLineRow['kind'];
  itemId: number | null;
  label: string;
  unit: CostLineRow['quantityUnit'];
  quantity: number;
  costMinor: number;
}

/** What lots cost by thing: each dye and auxiliary by itself, solutions turned into the powder in them; goods, time and the
 *  rest by kind. */
export const costPartsOf = (db: Db, lotIds: readonly number[]): LotCostPart[] =>
  db.all<LotCostPart>(sql`select c.lot_id as "lotId", c.kind, coalesce(c.dye_id, c.auxiliary_id) as "itemId",
      coalesce(${nameInLine('dye', sql`d.id`, sql`d.code`, 'code')} || ' ' || ${nameInLine('dye', sql`d.id`, sql`d.name`, 'name')}, ${nameInLine('auxiliary', sql`a.id`, sql`a.name`, 'name')}, '') as label,
      case when s.conc_ppm is not null and c.quantity_unit = 'ul' then 'mg' else c.quantity_unit end as unit,
      sum(case when s.conc_ppm is not null and c.quantity_unit = 'ul' then c.quantity * s.conc_ppm / 1e6 else c.quantity end) as quantity,
      sum(c.cost_minor) as "costMinor"
    from cost_lines c left join dyes d on d.id = c.dye_id left join auxiliaries a on a.id = c.auxiliary_id left join stock_lots s on s.id = c.stock_lot_id
    where c.lot_id in ${lotIdsIn(lotIds)} group by 1, 2, 3, 4, 5 order by c.lot_id, min(c.ordinal)`);

// ── one lot: its lines, what they came from, corrections, rework ──
export const costLineById = rowById(costLines);

export const costLineRowsOf = (db: Db, lotId: number): CostLineRow[] =>
  db.select().from(costLines).where(eq(costLines.lotId, lotId)).orderBy(costLines.ordinal).all();

/** The line that a sender's id names. */
export const costLineOfClient = (db: Db, clientId: string): CostLineRow | undefined =>
  db.select().from(costLines).where(eq(costLines.clientId, clientId)).get();

export const insertCorrection = (db: Db, row: typeof costLines.$inferInsert): CostLineRow =>
  db.insert(costLines).values(row).returning().get();

export interface LedgerOfLot {
  entryId: number;
  stockLotId: number;
  stockLotCode: string;
  unit: 'mg' | 'ul';
  kind: 'issue' | 'reversal' | 'receipt' | 'waste' | 'stockTake';
  quantity: number;
  at: number;
  reason: string;
  personName: string;
  reversesId: number | null;
}

/** What the ledger issued to a lot and took back. */
export const ledgerOfLot = (db: Db, lotId: number): LedgerOfLot[] =>
  db.all<LedgerOfLot>(sql`select e.id as "entryId", e.stock_lot_id as "stockLotId",
      ${keptName('stockLot', { lotId: sql`e.lot_id`, id: sql`s.id`, now: sql`s.code` }, 'code')} as "stockLotCode", s.unit, e.kind, e.quantity, e.at, e.reason,
      ${keptName('person', { lotId: sql`e.lot_id`, id: sql`p.id`, now: sql`p.name` })} as "personName", e.reverses_id as "reversesId"
    from stock_ledger e join stock_lots s on s.id = e.stock_lot_id join people p on p.id = e.by_person_id where e.lot_id = ${lotId} order by e.id`);

export interface ReworkLot extends LotCostSum {
  lotId: number;
  number: string;
  status: LotRow['status'];
  firstQuality: number;
  secondsValueMinor: number;
}
interface LotCostSum {
  costMinor: number;
}

/** Lots that dyed pieces of a lot again, and those that dyed theirs again, and so on. */
export const reworksOf = (db: Db, lotId: number): ReworkLot[] =>
  db.all<ReworkLot>(sql`with recursive noted as (select w.rework_lot_id as lot_id, w.of_lot_id from lot_reworks w
      where w.id in (select max(id) from lot_reworks group by rework_lot_id) and w.of_lot_id is not null),
    chain as (select lot_id from noted where of_lot_id = ${lotId} union select n.lot_id from noted n join chain c on n.of_lot_id = c.lot_id)
    select l.id as "lotId", l.number, l.status, coalesce(o.first_quality, 0) as "firstQuality", coalesce(o.seconds_value_minor, 0) as "secondsValueMinor",
      coalesce((select sum(cost_minor) from cost_lines k where k.lot_id = l.id), 0) as "costMinor"
    from lots l left join lot_outcomes o on o.lot_id = l.id where l.id in (select lot_id from chain) order by l.id`);

export const lotByNumber = (db: Db, number: string): Pick<LotRow, 'id' | 'number' | 'status'> | undefined =>
  db.get<{ id: number; number: string; status: LotRow['status'] } | undefined>(
    sql`select id, number, status from lots where number = ${number} collate nocase`,
  );

export const insertRework = (db: Db, row: Omit<LotReworkRow, 'id'>): LotReworkRow =>
  db.insert(lotReworks).values(row).returning().get();

// ── quotes ──
export interface LotOfOrder {
  lotId: number;
  number: string;
  status: LotRow['status'];
  estimateMinor: number;
  /** null until the lot is closed. */
  costMinor: number | null;
}

/** Lots that serve an order, each once. */
export const lotsOfOrder = (db: Db, orderId: number): LotOfOrder[] =>
  db.all<LotOfOrder>(sql`select l.id as "lotId", l.number, l.status, l.estimate_minor as "estimateMinor",
      case when l.finished_at is not null then coalesce((select sum(cost_minor) from cost_lines c where c.lot_id = l.id), 0) end as "costMinor"
    from lots l where l.id in (select x.lot_id from order_lines y join lot_lines x on x.order_line_id = y.id where y.order_id = ${orderId})
    order by l.id`);

/** Every order line that those lots serve, of other orders too. */
export const linesOfLots = (db: Db, lotIds: readonly number[]): LotForLine[] =>
  db.all<LotForLine>(sql`${servedLines} where x.lot_id in ${lotIdsIn(lotIds)} order by x.lot_id, y.order_line_id`);

// ── the proof ──
export interface ContainerTie {
  stockLotId: number;
  code: string;
  itemName: string;
  unit: 'mg' | 'ul';
  /** By the cost lines. */
  lineQuantity: number;
  lineCostMinor: number;
  /** By the ledger: issues less what was taken back, and those at the container's own price, rounded once a lot. */
  ledgerQuantity: number;
  ledgerCostMinor: number;
}

/** Cost lines beside ledger issues of the lots that a filter finds, container by container. Customers' own goods, which carry
 *  no cost, are left out of both. */
export const containerTies = (db: Db, filter: ClosedLotFilter): ContainerTie[] =>
  db.all<ContainerTie>(sql`with found as (select t.id, t.goods_owner, t.goods_stock_lot_id from closed_lots l join lots t on t.id = l.lot_id where ${condition(filter)}),
    lines as (select c.stock_lot_id, sum(c.quantity) as quantity, sum(c.cost_minor) as cost from found l join cost_lines c on c.lot_id = l.id
      where c.stock_lot_id is not null group by c.stock_lot_id),
    issued as (select e.stock_lot_id, l.id as lot_id, -sum(e.quantity) as quantity from found l join stock_ledger e on e.lot_id = l.id
      where not (l.goods_owner = 'customer' and e.stock_lot_id is l.goods_stock_lot_id) group by e.stock_lot_id, l.id),
    ledger as (select i.stock_lot_id, sum(i.quantity) as quantity,
        sum(cast(round(i.quantity * (s.price_minor + s.freight_minor) * 1.0 / s.received_quantity) as integer)) as cost
      from issued i join stock_lots s on s.id = i.stock_lot_id group by i.stock_lot_id)
    select s.id as "stockLotId", s.code, coalesce(d.name, a.name, f.name) as "itemName", s.unit, coalesce(x.quantity, 0) as "lineQuantity",
      coalesce(x.cost, 0) as "lineCostMinor", coalesce(g.quantity, 0) as "ledgerQuantity", coalesce(g.cost, 0) as "ledgerCostMinor"
    from stock_lots s left join lines x on x.stock_lot_id = s.id left join ledger g on g.stock_lot_id = s.id
      left join dyes d on d.id = s.dye_id left join auxiliaries a on a.id = s.auxiliary_id left join fibres f on f.id = s.fibre_id
    where x.stock_lot_id is not null or g.quantity <> 0 order by s.kind desc, "itemName", s.id`);

export const costLineTotals = (db: Db, filter: ClosedLotFilter): { lines: number; lots: number; costMinor: number } =>
  db.get<{
    lines: number;
    lots: number;
    costMinor: number;
  }>(sql`select count(*) as lines, count(distinct c.lot_id) as lots,
      coalesce(sum(c.cost_minor), 0) as "costMinor" from closed_lots l join cost_lines c on c.lot_id = l.lot_id where ${condition(filter)}`);

/** What an item cost and what went to lots until an instant, summed straight from the record. The entries of a container as
 *  they stand give what it holds. */
export const sumsOfItem = (
  db: Db,
  item: { dyeId: number | null; auxiliaryId: number | null; fibreId: number | null },
  until: number,
): { paidMinor: number; issuedMinor: number; holds: { stockLotId: number; quantity: number }[] } => {
  const own =
    item.dyeId !== null
      ? sql`s.dye_id = ${item.dyeId}`
      : item.auxiliaryId !== null
        ? sql`s.auxiliary_id = ${item.auxiliaryId}`
        : sql`s.fibre_id = ${item.fibreId}`;
  const one = (query: SQL): number => db.get<{ minor: number | null }>(query)?.minor ?? 0;
  return {
    paidMinor:
      one(sql`select sum(s.price_minor + s.freight_minor) as minor from stock_lots s where ${own} and s.source_stock_lot_id is null
        and exists (select 1 from stock_ledger e where e.stock_lot_id = s.id and e.kind = 'receipt' and e.at <= ${until})`) +
      one(
        sql`select sum(m.amount_minor) as minor from stock_lots s cross join stock_money m on m.stock_lot_id = s.id where ${own} and m.at <= ${until}`,
      ),
    issuedMinor:
      one(sql`select sum(c.cost_minor) as minor from stock_lots s cross join cost_lines c on c.stock_lot_id = s.id join lots t on t.id = c.lot_id
      where ${own} and case when c.corrects_id is null and c.added = 0 then t.finished_at else c.written_at end <= ${until}`),
    holds:
      db.all(sql`select s.id as "stockLotId", sum(e.quantity) as quantity from stock_lots s cross join stock_ledger e on e.stock_lot_id = s.id
      where ${own} and e.at <= ${until} group by s.id`),
  };
};

/** Something kept in memory beside each connection, since what it was made from is that connection's file. */
export const besideConnection = <Kept>(make: () => Kept): ((db: Db) => Kept) => ready(make);

/** How far the record about stock has come. What it counts only grows, and what lies behind it is never rewritten. */
export interface NewestOfStock {
  entryId: number;
  /** Up to here every cost line is of a closed lot: those of an open one are not booked yet. */
  costLineId: number;
  moneyId: number;
  valuations: number;
  costing: string;
}

export const newestOfStock = (db: Db): NewestOfStock =>
  db.get<NewestOfStock>(sql`select coalesce((select max(id) from stock_ledger), 0) as "entryId",
    coalesce((select min(c.id) - 1 from cost_lines c where c.lot_id in (select id from lots where status in ('planned', 'onBench'))),
      (select max(id) from cost_lines), 0) as "costLineId",
    coalesce((select max(id) from stock_money), 0) as "moneyId", (select count(*) from valuation_changes) as valuations,
    coalesce((select costing from studio), '') as costing`);

/** Materials of whose containers something was written after that. */
export const itemsWrittenOf = (
  db: Db,
  since: NewestOfStock,
): { kind: 'dye' | 'auxiliary' | 'fibre'; itemId: number }[] =>
  db.all(sql`select distinct s.kind, coalesce(s.dye_id, s.auxiliary_id, s.fibre_id) as "itemId" from stock_lots s where s.id in (
    select stock_lot_id from stock_ledger where id > ${since.entryId} union all select stock_lot_id from cost_lines where id > ${since.costLineId}
    union all select stock_lot_id from stock_money where id > ${since.moneyId})`);

/** When something happened to an item's containers, the first and the last of a hundred among others. */
export const instantsOfItem = (
  db: Db,
  item: { dyeId: number | null; auxiliaryId: number | null; fibreId: number | null },
): number[] =>
  db
    .all<{ at: number }>(sql`select distinct e.at from stock_lots s cross join stock_ledger e on e.stock_lot_id = s.id
      where (s.dye_id = ${item.dyeId} or s.auxiliary_id = ${item.auxiliaryId} or s.fibre_id = ${item.fibreId}) order by e.at`)
    .map(({ at }) => at);
