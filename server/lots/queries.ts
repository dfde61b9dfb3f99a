import { type AnyColumn, and, desc, eq, getTableColumns, inArray, isNull, type SQL, sql } from 'drizzle-orm';
import { alias } from 'drizzle-orm/sqlite-core';
import { keptLines, keptName } from '../db/keptNames.ts';
import type { Db } from '../db/open.ts';
import { ready, readyInsert, rowById } from '../db/ready.ts';
import {
  type CostLineRow,
  costLines,
  type LogEntryRow,
  type LotAdjustmentRow,
  type LotColourRow,
  type LotComponentRow,
  type LotOutcomeRow,
  type LotRow,
  type LotStepRow,
  logEntries,
  lotAdjustments,
  lotColours,
  lotComponents,
  lotLabour,
  lotLines,
  lotOutcomes,
  lotSteps,
  lots,
  type WeighingRow,
  weighings,
} from '../db/tables/lots.ts';
import { auxiliaries, dyes } from '../db/tables/materials.ts';
import { customers, type OrderLineRow, type OrderRow, orderLines, orders } from '../db/tables/orders.ts';
import { recipeRevisions, recipes } from '../db/tables/recipes.ts';
import { stockLots } from '../db/tables/stock.ts';
import { people, photos } from '../db/tables/studio.ts';
import { swatches } from '../db/tables/swatches.ts';
import type { LotListed } from './schemas.ts';

// ── writing a plan ──

/** The next dye-lot number of a year: '26-0143'. */
export function nextLotNumber(db: Db, year: number): string {
  const prefix = `${String(year % 100).padStart(2, '0')}-`;
  const row = db.get<{ last: number | null }>(
    sql`select max(cast(substr(number, 4) as integer)) as last from lots where number >= ${prefix} and number < ${`${prefix}:`}`,
  );
  return `${prefix}${String((row?.last ?? 0) + 1).padStart(4, '0')}`;
}

export const insertLot = (db: Db, row: typeof lots.$inferInsert): LotRow =>
  db.insert(lots).values(row).returning().get();

export const insertLotColour = (db: Db, row: typeof lotColours.$inferInsert): LotColourRow =>
  db.insert(lotColours).values(row).returning().get();

export const insertLotComponent: (db: Db, row: typeof lotComponents.$inferInsert) => LotComponentRow =
  readyInsert(lotComponents);

export const insertLotStep: (db: Db, row: typeof lotSteps.$inferInsert) => LotStepRow = readyInsert(lotSteps);

export const insertLotLine = (db: Db, row: typeof lotLines.$inferInsert): void => {
  db.insert(lotLines).values(row).run();
};

/** Moves an order into work when its first lot is planned. */
export const orderIntoWork = (db: Db, orderLineId: number): void => {
  db.run(
    sql`update orders set status = 'inWork', version = version + 1 where status = 'open' and id = (select order_id from order_lines where id = ${orderLineId})`,
  );
};

// ── the bench ──

const lotOfId = ready((db) =>
  db
    .select()
    .from(lots)
    .where(eq(lots.id, sql.placeholder('lotId')))
    .prepare(),
);

export const lotById = (db: Db, lotId: number): LotRow | undefined => lotOfId(db).get({ lotId });

/** A lot without its plan, which is by far the most of its row and lies on pages of its own. */
export type LotHead = Omit<LotRow, 'planJson'>;

const { planJson: _, ...headColumns } = getTableColumns(lots);

const headOfId = ready((db) =>
  db
    .select(headColumns)
    .from(lots)
    .where(eq(lots.id, sql.placeholder('lotId')))
    .prepare(),
);

export const lotHeadById = (db: Db, lotId: number): LotHead | undefined => headOfId(db).get({ lotId });

export const lotByNumber = (db: Db, number: string): LotRow | undefined =>
  db.select().from(lots).where(eq(lots.number, number)).get();

const lotOfColour = sql`${lotColours.lotId}`;

/** The colours of a lot, under the names that they had when it was closed. */
export const coloursOf = (
  db: Db,
  lotId: number,
): (LotColourRow & {
  recipeId: number;
  recipeName: string;
  recipeNameNow: string;
  revisionNumber: number;
  swatchCode: string | null;
})[] =>
  coloursOfLot(db)
    .all({ lotId })
    .map(({ colour, ...rest }) => ({ ...colour, ...rest }));
const coloursOfLot = ready((db) =>
  db
    .select({
      colour: lotColours,
      recipeId: recipes.id,
      recipeName: keptName('recipe', { lotId: lotOfColour, id: sql`${recipes.id}`, now: sql`${recipes.name}` }),
      recipeNameNow: recipes.name,
      revisionNumber: recipeRevisions.number,
      swatchCode: sql<
        string | null
      >`${keptName('swatch', { lotId: lotOfColour, id: sql`${swatches.id}`, now: sql`${swatches.code}` }, 'code')}`,
    })
    .from(lotColours)
    .innerJoin(recipeRevisions, eq(recipeRevisions.id, lotColours.revisionId))
    .innerJoin(recipes, eq(recipes.id, recipeRevisions.recipeId))
    .leftJoin(swatches, eq(swatches.id, lotColours.swatchId))
    .where(eq(lotColours.lotId, sql.placeholder('lotId')))
    .orderBy(lotColours.ordinal)
    .prepare(),
);

/** The newest swatch of a recipe's revision, as the nearest thing to what its colour looks like. */
export const newestSwatchOfRevision = (db: Db, revisionId: number): number | null =>
  db
    .select({ id: swatches.id })
    .from(swatches)
    .where(and(eq(swatches.revisionId, revisionId), isNull(swatches.archivedAt)))
    .orderBy(desc(swatches.id))
    .limit(1)
    .get()?.id ?? null;

const notVoided = (entryId: AnyColumn | SQL) =>
  sql`not exists (select 1 from log_entries u where u.refers_to_id = ${entryId} and u.kind = 'voiding')`;

/** What was discarded stays so until the choice that discarded it is undone. */
const standingDiscardOf = (entryId: AnyColumn | SQL) =>
  sql`exists (select 1 from log_entries d where d.refers_to_id = ${entryId} and d.kind = 'discard' and ${notVoided(sql`d.id`)})`;

/** The target of the last adjustment that touched a line and was not undone. */
const standingTarget = (column: SQL) =>
  sql<
    number | null
  >`(select ${column} from lot_targets t join lot_adjustments a on a.id = t.adjustment_id where t.component_id = ${lotComponents.id} and ${notVoided(sql`a.log_entry_id`)} order by t.id desc limit 1)`;

export interface ComponentOfLot extends LotComponentRow {
  code: string;
  name: string;
  hazardCodes: string;
  /** The target that holds now: of the last adjustment that touched this line; null when the plan's does. */
  adjustedMassMg: number | null;
  adjustedVolumeUl: number | null;
}

const keptItem = (column: 'code' | 'name') => {
  const kept = (kind: 'dye' | 'auxiliary', item: typeof dyes | typeof auxiliaries) =>
    keptName(kind, { lotId: sql`${lotComponents.lotId}`, id: sql`${item.id}`, now: sql`${item[column]}` }, column);
  return sql<string>`iif(${lotComponents.dyeId} is null, ${kept('auxiliary', auxiliaries)}, ${kept('dye', dyes)})`;
};

const components = (db: Db) =>
  db
    .select({
      component: lotComponents,
      code: keptItem('code'),
      name: keptItem('name'),
      hazardCodes: sql<string>`coalesce(${dyes.hazardCodes}, ${auxiliaries.hazardCodes})`,
      adjustedMassMg: standingTarget(sql`t.target_mass_mg`),
      adjustedVolumeUl: standingTarget(sql`t.target_volume_ul`),
    })
    .from(lotComponents)
    .leftJoin(dyes, eq(dyes.id, lotComponents.dyeId))
    .leftJoin(auxiliaries, eq(auxiliaries.id, lotComponents.auxiliaryId));

const oneComponent = ready((db) =>
  components(db)
    .where(and(eq(lotComponents.lotId, sql.placeholder('lotId')), eq(lotComponents.id, sql.placeholder('componentId'))))
    .prepare(),
);

const componentsOfLot = ready((db) =>
  components(db)
    .where(eq(lotComponents.lotId, sql.placeholder('lotId')))
    .orderBy(lotComponents.ordinal)
    .prepare(),
);
export const componentsOf = (db: Db, lotId: number): ComponentOfLot[] =>
  componentsOfLot(db)
    .all({ lotId })
    .map(({ component, ...rest }) => ({ ...component, ...rest }));

/** One line of a lot's weigh-up. */
export function componentOf(db: Db, lotId: number, componentId: number): ComponentOfLot | undefined {
  const found = oneComponent(db).get({ lotId, componentId });
  if (!found) return undefined;
  const { component, ...rest } = found;
  return { ...component, ...rest };
}

export interface WeighingOfLot extends WeighingRow {
  at: number;
  personName: string;
  stockLotCode: string;
  /** Of the container when it was weighed from. */
  stockLotStrengthPpm: number;
  stockLotConcPpm: number | null;
  stockLotRecalledAt: number | null;
  voided: boolean;
  discarded: boolean;
}

const keptPerson = (lotId: SQL) => keptName('person', { lotId, id: sql`${people.id}`, now: sql`${people.name}` });

/** What counts towards one line, in its containers' own units: read at every weighing, so without names. */
export const countingOf = (
  db: Db,
  componentId: number,
): Pick<WeighingOfLot, 'massMg' | 'volumeUl' | 'stockLotStrengthPpm' | 'stockLotConcPpm'>[] =>
  countingOfLine(db).all({ componentId });
const countingOfLine = ready((db) =>
  db
    .select({
      massMg: weighings.massMg,
      volumeUl: weighings.volumeUl,
      stockLotStrengthPpm: sql<number>`${weighings.strengthPpm}`,
      stockLotConcPpm: weighings.concPpm,
    })
    .from(weighings)
    .where(
      and(
        eq(weighings.componentId, sql.placeholder('componentId')),
        notVoided(weighings.logEntryId),
        sql`not ${standingDiscardOf(weighings.logEntryId)}`,
      ),
    )
    .prepare(),
);

/** Every weighing of a lot in the order it was recorded, with whether it was voided (never happened) or discarded (wasted). */
export const weighingsOf = (db: Db, lotId: number): WeighingOfLot[] =>
  weighingsOfLot(db)
    .all({ lotId })
    .map(({ weighing, ...rest }) => ({
      ...weighing,
      ...rest,
      voided: rest.voided === 1,
      discarded: rest.discarded === 1,
    }));
const weighingsOfLot = ready((db) =>
  db
    .select({
      weighing: weighings,
      at: logEntries.at,
      personName: keptPerson(sql`${weighings.lotId}`),
      stockLotCode: keptName(
        'stockLot',
        { lotId: sql`${weighings.lotId}`, id: sql`${stockLots.id}`, now: sql`${stockLots.code}` },
        'code',
      ),
      stockLotStrengthPpm: sql<number>`${weighings.strengthPpm}`,
      stockLotConcPpm: weighings.concPpm,
      stockLotRecalledAt: stockLots.recalledAt,
      voided: sql<number>`exists (select 1 from log_entries v where v.refers_to_id = ${weighings.logEntryId} and v.kind = 'voiding')`,
      discarded: sql<number>`${standingDiscardOf(weighings.logEntryId)}`,
    })
    .from(weighings)
    .innerJoin(logEntries, eq(logEntries.id, weighings.logEntryId))
    .innerJoin(people, eq(people.id, logEntries.byPersonId))
    .innerJoin(stockLots, eq(stockLots.id, weighings.stockLotId))
    .where(eq(weighings.lotId, sql.placeholder('lotId')))
    .orderBy(weighings.id)
    .prepare(),
);

const stepsOfLot = ready((db) =>
  db
    .select()
    .from(lotSteps)
    .where(eq(lotSteps.lotId, sql.placeholder('lotId')))
    .orderBy(lotSteps.ordinal)
    .prepare(),
);

export const stepsOf = (db: Db, lotId: number): LotStepRow[] => stepsOfLot(db).all({ lotId });

export interface LogLine extends LogEntryRow {
  personName: string;
  stepName: string | null;
  photoSha256: string | null;
  voidedReason: string | null;
  voidedAt: number | null;
}

const voiding = alias(logEntries, 'voiding');

/** A lot's log in the order in which it reached the record, which no clock can disturb; voided entries stay, with the reason. */
export const logOf = (db: Db, lotId: number): LogLine[] =>
  db
    .select({
      ...getTableColumns(logEntries),
      personName: keptPerson(sql`${logEntries.lotId}`),
      stepName: lotSteps.name,
      photoSha256: photos.sha256,
      voidedReason: voiding.text,
      voidedAt: voiding.at,
    })
    .from(logEntries)
    .innerJoin(people, eq(people.id, logEntries.byPersonId))
    .leftJoin(lotSteps, eq(lotSteps.id, logEntries.stepId))
    .leftJoin(photos, eq(photos.id, logEntries.photoId))
    .leftJoin(voiding, and(eq(voiding.refersToId, logEntries.id), sql`${voiding.kind} = 'voiding'`))
    .where(eq(logEntries.lotId, lotId))
    .orderBy(logEntries.id)
    .all();

const saidOfStep = ready((db) =>
  db
    .select({ id: logEntries.id, kind: logEntries.kind, at: logEntries.at })
    .from(logEntries)
    .where(
      and(
        eq(logEntries.stepId, sql.placeholder('stepId')),
        sql`${logEntries.kind} in ('stepStart', 'stepEnd')`,
        // Written out: of a select from one table drizzle leaves the table's name off, and the inner one has an id too.
        notVoided(sql`"log_entries"."id"`),
      ),
    )
    .orderBy(logEntries.id)
    .prepare(),
);

/** The starts and ends of a step that stand, in the order in which they reached the record. */
export const startsAndEndsOf = (db: Db, stepId: number): Pick<LogEntryRow, 'id' | 'kind' | 'at'>[] =>
  saidOfStep(db).all({ stepId });

export const entryById = rowById(logEntries);

const entryOfClientId = ready((db) =>
  db
    .select()
    .from(logEntries)
    .where(eq(logEntries.clientId, sql.placeholder('clientId')))
    .prepare(),
);

export const entryOfClient = (db: Db, clientId: string): LogEntryRow | undefined =>
  entryOfClientId(db).get({ clientId });

export const voidingOf = (db: Db, entryId: number): LogEntryRow | undefined =>
  db
    .select()
    .from(logEntries)
    .where(and(eq(logEntries.refersToId, entryId), sql`${logEntries.kind} = 'voiding'`))
    .get();

export const insertEntry: (db: Db, row: typeof logEntries.$inferInsert) => LogEntryRow = readyInsert(logEntries);

export const weighingOfEntry = (db: Db, entryId: number): WeighingRow | undefined =>
  db.select().from(weighings).where(eq(weighings.logEntryId, entryId)).get();

export const insertWeighing: (db: Db, row: typeof weighings.$inferInsert) => WeighingRow = readyInsert(weighings);

/** The ways out of a lot that stand, in the order in which they were taken; undone ones are left out. */
export const adjustmentsOf = (db: Db, lotId: number): LotAdjustmentRow[] => adjustmentsOfLot(db).all({ lotId });
const adjustmentsOfLot = ready((db) =>
  db
    .select()
    .from(lotAdjustments)
    .where(and(eq(lotAdjustments.lotId, sql.placeholder('lotId')), notVoided(lotAdjustments.logEntryId)))
    .orderBy(lotAdjustments.id)
    .prepare(),
);

export const startLot = (db: Db, lotId: number, at: number): void => {
  db.update(lots)
    .set({ status: 'onBench', startedAt: at })
    .where(and(eq(lots.id, lotId), eq(lots.status, 'planned')))
    .run();
};

/** Something came late that happened before what the lot was thought to have begun with. */
export const beganEarlier = (db: Db, lotId: number, at: number): void => {
  db.update(lots).set({ startedAt: at }).where(eq(lots.id, lotId)).run();
};

// ── finishing ──

export const insertLabour: (db: Db, row: typeof lotLabour.$inferInsert) => typeof lotLabour.$inferSelect =
  readyInsert(lotLabour);

export const labourOf = (
  db: Db,
  lotId: number,
): (typeof lotLabour.$inferSelect & { personName: string; stepName: string | null; voided: boolean })[] =>
  labourOfLot(db)
    .all({ lotId })
    .map(({ labour, ...rest }) => ({ ...labour, ...rest, voided: rest.voided === 1 }));
const labourOfLot = ready((db) =>
  db
    .select({
      labour: lotLabour,
      personName: keptPerson(sql`${lotLabour.lotId}`),
      stepName: lotSteps.name,
      voided: sql<number>`exists (select 1 from log_entries v where v.refers_to_id = ${lotLabour.logEntryId} and v.kind = 'voiding')`,
    })
    .from(lotLabour)
    .innerJoin(people, eq(people.id, lotLabour.personId))
    .leftJoin(lotSteps, eq(lotSteps.id, lotLabour.stepId))
    .where(eq(lotLabour.lotId, sql.placeholder('lotId')))
    .orderBy(lotLabour.id)
    .prepare(),
);

export const insertCostLine: (db: Db, row: typeof costLines.$inferInsert) => CostLineRow = readyInsert(costLines);

export const costLinesOf = (db: Db, lotId: number): CostLineRow[] => costLinesOfLot(db).all({ lotId });
const costLinesOfLot = ready((db) =>
  db
    .select()
    .from(costLines)
    .where(eq(costLines.lotId, sql.placeholder('lotId')))
    .orderBy(costLines.ordinal)
    .prepare(),
);

export const insertOutcome = (db: Db, row: typeof lotOutcomes.$inferInsert): void => {
  db.insert(lotOutcomes).values(row).run();
};

export const outcomeOf = (db: Db, lotId: number): LotOutcomeRow | undefined => outcomeOfLot(db).get({ lotId });
const outcomeOfLot = ready((db) =>
  db
    .select()
    .from(lotOutcomes)
    .where(eq(lotOutcomes.lotId, sql.placeholder('lotId')))
    .prepare(),
);

export const closeLot = (db: Db, lotId: number, status: 'finished' | 'abandoned', at: number): void => {
  db.update(lots).set({ status, finishedAt: at }).where(eq(lots.id, lotId)).run();
};

// ── lists and neighbours ──

export interface LotOverview extends Omit<LotListed, 'lotId' | 'colours'> {
  id: number;
  colours: string | null;
  plannedForOn: string | null;
  firstQuality: number | null;
  estimateMinor: number;
}

/** The distinct values of an indexed column, by as many steps in its index: names that things had are few, lots are many. */
const distinct = (of: SQL, value: SQL, among: SQL): SQL =>
  sql`(with recursive n (name) as (select (select min(${value}) from ${of} where ${among} true)
    union all select (select min(${value}) from ${of} where ${among} ${value} > n.name) from n where n.name is not null)
    select name from n where name is not null)`;

/** Lots whose number, goods, colour or customer holds the words, also by a name that a closed lot's colour or customer had then. Colours and customers are looked through once, not once a lot:
 *  CROSS JOIN keeps the few names in front of the many lots. */
const lotsOfWords = (words: string) => {
  const like = `%${words.replace(/[\\%_]/g, (c) => `\\${c}`)}%`;
  return sql`select id from lots where number like ${like} escape '\\' or goods_text like ${like} escape '\\'
    union select c.lot_id from recipes r cross join recipe_revisions v on v.recipe_id = r.id cross join lot_colours c on c.revision_id = v.id where r.name like ${like} escape '\\'
    union select ll.lot_id from customers c cross join orders o on o.customer_id = c.id cross join order_lines ol on ol.order_id = o.id cross join lot_lines ll on ll.order_line_id = ol.id
      where c.name like ${like} escape '\\'
    union select k.lot_id from ${distinct(sql`lot_names`, sql`name`, sql`kind = 'recipe' and`)} d cross join lot_names k on k.kind = 'recipe' and k.name = d.name
      where d.name like ${like} escape '\\'
    union select k.lot_id from ${distinct(sql`lot_line_closings`, sql`customer_name`, sql``)} d cross join lot_line_closings k on k.customer_name = d.name
      where d.name like ${like} escape '\\'`;
};

const keptOfLot = (kind: 'fibre' | 'method', thing: SQL) =>
  keptName(kind, { lotId: sql`l.id`, id: sql`${thing}.id`, now: sql`${thing}.name` });

/** Lots, newest first, by keyset; the words of the search match number, goods, colour, customer. */
export const listLots = (
  db: Db,
  filter: { status: LotRow['status'] | null; words: string; before: number | null; limit: number },
): LotOverview[] => {
  const conditions = [
    ...(filter.status === null ? [] : [sql`l.status = ${filter.status}`]),
    ...(filter.before === null ? [] : [sql`l.id < ${filter.before}`]),
    ...(filter.words === '' ? [] : [sql`l.id in (${lotsOfWords(filter.words)})`]),
  ];
  return db.all<LotOverview>(sql`select l.id, l.number, l.status, l.goods_text as "goodsText", ${keptOfLot('fibre', sql`f`)} as "fibreName", ${keptOfLot('method', sql`m`)} as "methodName",
      coalesce(k.dry_mass_mg, l.dry_mass_mg) as "dryMassMg", l.pieces,
      (select group_concat(${keptName('recipe', { lotId: sql`l.id`, id: sql`r.id`, now: sql`r.name` })}, ', ') from lot_colours c join recipe_revisions v on v.id = c.revision_id join recipes r on r.id = v.recipe_id where c.lot_id = l.id) as colours,
      (select group_concat(distinct y.customer_name) from ${keptLines} y where y.lot_id = l.id) as customers,
      l.planned_at as "plannedAt", l.planned_for_on as "plannedForOn", l.started_at as "startedAt", l.finished_at as "finishedAt", o.first_quality as "firstQuality",
      (select sum(cost_minor) from cost_lines c where c.lot_id = l.id) as "costMinor", l.estimate_minor as "estimateMinor"
    from lots l join fibres f on f.id = l.fibre_id join methods m on m.id = l.method_id left join lot_outcomes o on o.lot_id = l.id
      left join lot_closings k on k.lot_id = l.id
    where ${conditions.length === 0 ? sql`true` : sql.join(conditions, sql` and `)}
    order by l.id desc limit ${filter.limit}`);
};

/** Order lines that a lot serves, with order and customer: of a closed lot as they stood then. */
export const linesServed = (
  db: Db,
  lotId: number,
): {
  orderLineId: number;
  description: string;
  pieces: number | null;
  orderId: number;
  orderNumber: string;
  orderNumberNow: string;
  orderStatus: OrderRow['status'];
  dueOn: string | null;
  customerName: string;
  customerNameNow: string;
  toleranceFormula: OrderLineRow['toleranceFormula'];
  toleranceMilli: number | null;
  priceMinor: number | null;
}[] =>
  db.all(sql`select y.order_line_id as "orderLineId", y.description, x.pieces, y.order_id as "orderId", y.order_number as "orderNumber",
      y.number_now as "orderNumberNow", o.status as "orderStatus", o.due_on as "dueOn",
      y.customer_name as "customerName", y.name_now as "customerNameNow",
      y.tolerance_formula as "toleranceFormula", y.tolerance_milli as "toleranceMilli", y.price_minor as "priceMinor"
    from lot_lines x join ${keptLines} y on y.lot_id = x.lot_id and y.order_line_id = x.order_line_id join orders o on o.id = y.order_id
    where x.lot_id = ${lotId} order by y.order_line_id`);

/** Order lines still to be served, as choices of a plan. */
export const openLineChoices = (db: Db): { orderLineId: number; label: string }[] =>
  db
    .select({
      orderLineId: orderLines.id,
      number: orders.number,
      customer: customers.name,
      description: orderLines.description,
    })
    .from(orderLines)
    .innerJoin(orders, eq(orders.id, orderLines.orderId))
    .innerJoin(customers, eq(customers.id, orders.customerId))
    .where(inArray(orders.status, ['open', 'inWork']))
    .orderBy(desc(orders.id), orderLines.ordinal)
    .all()
    .map((r) => ({ orderLineId: r.orderLineId, label: `${r.number} · ${r.customer} · ${r.description}` }));

export const orderLineForPlan = (db: Db, orderLineId: number) =>
  db
    .select({ line: orderLines, orderNumber: orders.number, orderStatus: orders.status, customerName: customers.name })
    .from(orderLines)
    .innerJoin(orders, eq(orders.id, orderLines.orderId))
    .innerJoin(customers, eq(customers.id, orders.customerId))
    .where(eq(orderLines.id, orderLineId))
    .get();

/** Pieces of an order line that lots bring or have brought: what is planned of those in hand, what came out well of finished ones;
 *  nothing of one that was given up. A lot that serves several lines counts with what was said of this one. */
export const piecesInHand = (db: Db, orderLineId: number): number =>
  db.get<{
    pieces: number;
  }>(sql`select coalesce(sum(case when l.status <> 'finished' then coalesce(x.pieces, l.pieces, 0)
        when (select count(*) from lot_lines y where y.lot_id = l.id) = 1 then o.first_quality
        else min(coalesce(x.pieces, o.first_quality), o.first_quality) end), 0) as pieces
      from lot_lines x join lots l on l.id = x.lot_id left join lot_outcomes o on o.lot_id = l.id
      where x.order_line_id = ${orderLineId} and l.status <> 'abandoned'`).pieces;

export const swatchesOfLot = (db: Db, lotId: number): { id: number; code: string; name: string }[] =>
  db
    .select({ id: swatches.id, code: swatches.code, name: swatches.name })
    .from(swatches)
    .where(eq(swatches.lotId, lotId))
    .all();

/** Containers that the active weighings of a lot drew from (for a swatch made of it). */
export const stockLotIdsUsed = (db: Db, lotId: number): number[] =>
  db
    .all<{ id: number }>(sql`select distinct w.stock_lot_id as id from weighings w where w.lot_id = ${lotId}
    and ${notVoided(sql`w.log_entry_id`)} and not ${standingDiscardOf(sql`w.log_entry_id`)}`)
    .map((r) => r.id);
