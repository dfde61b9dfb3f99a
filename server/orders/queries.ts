import { and, asc, eq, inArray, isNull, ne, sql } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import { ready, rowById } from '../db/ready.ts';
import { lotLines, lotOutcomes, lots } from '../db/tables/lots.ts';
import { type FibreRow, fibres } from '../db/tables/materials.ts';
import {
  type CustomerRow,
  customers,
  type OrderLineRow,
  type OrderRow,
  orderLines,
  orders,
} from '../db/tables/orders.ts';
import { recipeRevisions, recipes } from '../db/tables/recipes.ts';
import { swatches } from '../db/tables/swatches.ts';
import type { CustomerInput, OrderLineInput, OrderStatus, WantedRecipe, WantedSwatch } from './schemas.ts';

// ───────────── customers ─────────────
interface CustomerOverview extends CustomerRow {
  openOrders: number;
  orderCount: number;
  lastOrderedOn: string | null;
}

/** Customers by name with what they have in hand. The outer table is named in the subqueries by hand: a column of a select
 *  from one table alone is rendered without it, and would be the inner table's. */
export const listCustomers = (db: Db): CustomerOverview[] =>
  db
    .select({
      customer: customers,
      openOrders: sql<number>`(select count(*) from orders o where o.customer_id = customers.id and o.status in ('open', 'inWork', 'ready'))`,
      orderCount: sql<number>`(select count(*) from orders o where o.customer_id = customers.id)`,
      lastOrderedOn: sql<string | null>`(select max(o.ordered_on) from orders o where o.customer_id = customers.id)`,
    })
    .from(customers)
    .where(isNull(customers.archivedAt))
    .orderBy(customers.name)
    .all()
    .map(({ customer, ...rest }) => ({ ...customer, ...rest }));

/** Customers to choose from, by name. */
export const customerChoices = (db: Db): Pick<CustomerRow, 'id' | 'name'>[] =>
  db
    .select({ id: customers.id, name: customers.name })
    .from(customers)
    .where(isNull(customers.archivedAt))
    .orderBy(customers.name)
    .all();

export const customerById = rowById(customers);

export const customerOfName = (db: Db, name: string): CustomerRow | undefined =>
  db.select().from(customers).where(sql`${customers.name} = ${name} collate nocase`).get();

export const insertCustomer = (db: Db, input: CustomerInput): CustomerRow =>
  db.insert(customers).values(input).returning().get();

/** Saves against the version that was read; undefined when somebody has saved meanwhile. */
export const updateCustomer = (
  db: Db,
  customerId: number,
  changes: Partial<CustomerInput & Pick<CustomerRow, 'archivedAt'>>,
  version: number,
): CustomerRow | undefined =>
  db
    .update(customers)
    .set({ ...changes, version: sql`${customers.version} + 1` })
    .where(and(eq(customers.id, customerId), eq(customers.version, version)))
    .returning()
    .get();

// ───────────── orders ─────────────
/** Still to be done. */
const IN_HAND = ['open', 'inWork', 'ready'] as const satisfies readonly OrderStatus[];

export interface OrderOverview extends OrderRow {
  customerName: string;
  lineCount: number;
  /** Sum of the prices that were agreed; null when none was. */
  priceMinor: number | null;
}

const orderOverview = (db: Db) =>
  db
    .select({
      order: orders,
      customerName: customers.name,
      lineCount: sql<number>`(select count(*) from order_lines l where l.order_id = ${orders.id})`,
      priceMinor: sql<number | null>`(select sum(l.price_minor) from order_lines l where l.order_id = ${orders.id})`,
    })
    .from(orders)
    .innerJoin(customers, eq(customers.id, orders.customerId));

/** Orders still to be done, the most urgent first; those without a day come last. */
export const ordersInHand = (db: Db): OrderOverview[] =>
  orderOverview(db)
    .where(inArray(orders.status, IN_HAND))
    .orderBy(sql`${orders.dueOn} is null`, asc(orders.dueOn), asc(orders.id))
    .all()
    .map(({ order, ...rest }) => ({ ...order, ...rest }));

/** Orders of one status, newest first; keyset by id. */
export const ordersOfStatus = (db: Db, status: OrderStatus, before: number | null, limit: number): OrderOverview[] =>
  orderOverview(db)
    .where(and(eq(orders.status, status), before === null ? undefined : sql`${orders.id} < ${before}`))
    .orderBy(sql`${orders.id} desc`)
    .limit(limit)
    .all()
    .map(({ order, ...rest }) => ({ ...order, ...rest }));

export const ordersOfCustomer = (db: Db, customerId: number): OrderOverview[] =>
  orderOverview(db)
    .where(eq(orders.customerId, customerId))
    .orderBy(sql`${orders.orderedOn} desc`, sql`${orders.id} desc`)
    .limit(200)
    .all()
    .map(({ order, ...rest }) => ({ ...order, ...rest }));

export const countsByStatus = (db: Db): Record<OrderStatus, number> => {
  const counts: Record<OrderStatus, number> = { open: 0, inWork: 0, ready: 0, delivered: 0, cancelled: 0 };
  for (const row of db.all<{ status: OrderStatus; count: number }>(
    sql`select status, count(*) as count from orders group by status`,
  )) {
    counts[row.status] = row.count;
  }
  return counts;
};

export const orderById = rowById(orders);

/** The highest running number among those of a year ('2026-014' → 14); 0 when there is none. */
export const highestNumberOf = (db: Db, year: string): number =>
  db.get<{ highest: number | null }>(
    sql`select max(cast(substr(number, 6) as integer)) as highest from orders
      where number > ${`${year}-`} and number < ${`${year}.`} and substr(number, 6) not glob '*[^0-9]*'`,
  )?.highest ?? 0;

export const insertOrder = (db: Db, row: Omit<OrderRow, 'id' | 'version'>): OrderRow =>
  db.insert(orders).values(row).returning().get();

export const updateOrder = (
  db: Db,
  orderId: number,
  changes: Partial<Omit<OrderRow, 'id' | 'version' | 'status'>>,
  version: number,
): OrderRow | undefined =>
  db
    .update(orders)
    .set({ ...changes, version: sql`${orders.version} + 1` })
    .where(and(eq(orders.id, orderId), eq(orders.version, version)))
    .returning()
    .get();

/** Moves an order on, if it still is in one of the states it may leave; undefined when it is not. */
export const moveOrder = (
  db: Db,
  orderId: number,
  from: readonly OrderStatus[],
  to: OrderStatus,
): OrderRow | undefined =>
  db
    .update(orders)
    .set({ status: to, version: sql`${orders.version} + 1` })
    .where(and(eq(orders.id, orderId), inArray(orders.status, [...from])))
    .returning()
    .get();

// ───────────── lines ─────────────
export interface OrderLineWithOrder {
  line: OrderLineRow;
  order: OrderRow;
  customer: CustomerRow;
}

const linesWithOrder = (db: Db) =>
  db
    .select({ line: orderLines, order: orders, customer: customers })
    .from(orderLines)
    .innerJoin(orders, eq(orders.id, orderLines.orderId))
    .innerJoin(customers, eq(customers.id, orders.customerId));

/** A line with its order and customer. */
export const orderLineById = (db: Db, orderLineId: number): OrderLineWithOrder | undefined =>
  linesWithOrder(db).where(eq(orderLines.id, orderLineId)).get();

/** Lines of orders that are open or in work, the most urgent first: what a lot may be planned for. */
export const openOrderLines = (db: Db): OrderLineWithOrder[] =>
  linesWithOrder(db)
    .where(inArray(orders.status, ['open', 'inWork']))
    .orderBy(sql`${orders.dueOn} is null`, asc(orders.dueOn), asc(orders.id), asc(orderLines.ordinal))
    .all();

export interface OrderLineWithWants {
  line: OrderLineRow;
  fibre: Pick<FibreRow, 'id' | 'name' | 'class'> | null;
  swatch: WantedSwatch | null;
  recipe: WantedRecipe | null;
}

/** Lines of an order in their order, each with its goods and the shade that is wanted. */
export const linesOfOrder = (db: Db, orderId: number): OrderLineWithWants[] =>
  linesWithWants(db)
    .all({ orderId })
    .map(({ revision, ...row }) => ({ ...row, recipe: row.recipe && revision && { ...row.recipe, ...revision } }));
const linesWithWants = ready((db) =>
  db
    .select({
      line: orderLines,
      fibre: { id: fibres.id, name: fibres.name, class: fibres.class },
      swatch: { swatchId: swatches.id, code: swatches.code, name: swatches.name, depthPpm: swatches.depthPpm },
      recipe: { recipeId: recipes.id, name: recipes.name },
      revision: {
        revisionId: recipeRevisions.id,
        number: recipeRevisions.number,
        totalDepthPpm: recipeRevisions.totalDepthPpm,
      },
    })
    .from(orderLines)
    .leftJoin(fibres, eq(fibres.id, orderLines.fibreId))
    .leftJoin(swatches, eq(swatches.id, orderLines.wantedSwatchId))
    .leftJoin(recipeRevisions, eq(recipeRevisions.id, orderLines.wantedRevisionId))
    .leftJoin(recipes, eq(recipes.id, recipeRevisions.recipeId))
    .where(eq(orderLines.orderId, sql.placeholder('orderId')))
    .orderBy(orderLines.ordinal)
    .prepare(),
);

export interface LotServingLine {
  orderLineId: number;
  lotId: number;
  number: string;
  status: 'planned' | 'onBench' | 'finished' | 'abandoned';
  /** Pieces of this line in the lot, as planned. */
  pieces: number | null;
  /** First-quality pieces of the whole lot; null until it is finished. */
  firstQuality: number | null;
  /** How many order lines the lot serves, and pieces of all of them. */
  lineCount: number;
  linePieces: number | null;
}

/** Lots that serve the lines of an order, in the order in which they were planned. */
export const lotsServing = (db: Db, orderId: number): LotServingLine[] => lotsOfOrder(db).all({ orderId });
const lotsOfOrder = ready((db) =>
  db
    .select({
      orderLineId: lotLines.orderLineId,
      lotId: lots.id,
      number: lots.number,
      status: lots.status,
      pieces: lotLines.pieces,
      firstQuality: lotOutcomes.firstQuality,
      lineCount: sql<number>`(select count(*) from lot_lines x where x.lot_id = ${lots.id})`,
      linePieces: sql<
        number | null
      >`(select case when count(x.pieces) = count(*) then sum(x.pieces) end from lot_lines x where x.lot_id = ${lots.id})`,
    })
    .from(lotLines)
    .innerJoin(lots, eq(lots.id, lotLines.lotId))
    .innerJoin(orderLines, eq(orderLines.id, lotLines.orderLineId))
    .leftJoin(lotOutcomes, eq(lotOutcomes.lotId, lots.id))
    .where(eq(orderLines.orderId, sql.placeholder('orderId')))
    .orderBy(asc(lots.id))
    .prepare(),
);

export const insertLines = (
  db: Db,
  orderId: number,
  lines: readonly OrderLineInput[],
  firstOrdinal: number,
): OrderLineRow[] =>
  db
    .insert(orderLines)
    .values(lines.map((line, i) => ({ ...line, orderId, ordinal: firstOrdinal + i })))
    .returning()
    .all();

export const highestOrdinal = (db: Db, orderId: number): number =>
  db.get<{ highest: number | null }>(sql`select max(ordinal) as highest from order_lines where order_id = ${orderId}`)
    ?.highest ?? 0;

export const updateLine = (db: Db, orderLineId: number, input: OrderLineInput): OrderLineRow =>
  db.update(orderLines).set(input).where(eq(orderLines.id, orderLineId)).returning().get();

/** The note on goods of several lots; the order's version grows, since its page shows it. */
export const updateMixingNote = (db: Db, orderLineId: number, mixingNote: string): OrderLineRow => {
  const line = db.update(orderLines).set({ mixingNote }).where(eq(orderLines.id, orderLineId)).returning().get();
  db.update(orders)
    .set({ version: sql`${orders.version} + 1` })
    .where(eq(orders.id, line.orderId))
    .run();
  return line;
};

export const deleteLine = (db: Db, orderLineId: number): void => {
  db.delete(orderLines).where(eq(orderLines.id, orderLineId)).run();
};

/** Whether anything stands on a line that would lose its ground with it. */
export const lineIsServed = (db: Db, orderLineId: number): boolean =>
  db.get<{ served: number }>(
    sql`select exists (select 1 from lot_lines where order_line_id = ${orderLineId})
      or exists (select 1 from colour_readings where order_line_id = ${orderLineId}) as served`,
  )?.served === 1;

export const lineCountOf = (db: Db, orderId: number): number =>
  db.get<{ count: number }>(sql`select count(*) as count from order_lines where order_id = ${orderId}`)?.count ?? 0;

// ───────────── the shade that is wanted, by the words on its card ─────────────
export const swatchIdOfCode = (db: Db, code: string): number | undefined =>
  db.select({ id: swatches.id }).from(swatches).where(sql`${swatches.code} = ${code} collate nocase`).get()?.id;

/** A revision by its recipe's name and number; the newest when no number is said. */
export const revisionIdOfName = (db: Db, name: string, number: number | null): number | undefined =>
  db
    .select({ id: recipeRevisions.id })
    .from(recipeRevisions)
    .innerJoin(recipes, eq(recipes.id, recipeRevisions.recipeId))
    .where(
      and(
        sql`${recipes.name} = ${name} collate nocase`,
        number === null ? undefined : eq(recipeRevisions.number, number),
      ),
    )
    .orderBy(sql`${recipeRevisions.number} desc`)
    .limit(1)
    .get()?.id;

/** Newest swatches, as suggestions for the field; any other code can be typed. */
export const swatchSuggestions = (db: Db): { code: string; name: string }[] =>
  db
    .select({ code: swatches.code, name: swatches.name })
    .from(swatches)
    .where(isNull(swatches.archivedAt))
    .orderBy(sql`${swatches.id} desc`)
    .limit(100)
    .all();

export const recipeSuggestions = (db: Db): { name: string }[] =>
  db
    .select({ name: recipes.name })
    .from(recipes)
    .where(isNull(recipes.archivedAt))
    .orderBy(sql`${recipes.id} desc`)
    .limit(100)
    .all();

/** The words that name a wanted shade, for filling its form again. */
export const wordsOfWants = (
  db: Db,
  line: Pick<OrderLineRow, 'wantedSwatchId' | 'wantedRevisionId'>,
): { swatch: string; recipe: string } => {
  const swatch =
    line.wantedSwatchId === null
      ? undefined
      : db.select({ code: swatches.code }).from(swatches).where(eq(swatches.id, line.wantedSwatchId)).get();
  const recipe =
    line.wantedRevisionId === null
      ? undefined
      : db
          .select({ name: recipes.name, number: recipeRevisions.number })
          .from(recipeRevisions)
          .innerJoin(recipes, eq(recipes.id, recipeRevisions.recipeId))
          .where(eq(recipeRevisions.id, line.wantedRevisionId))
          .get();
  return { swatch: swatch?.code ?? '', recipe: recipe ? `${recipe.name}, revision ${recipe.number}` : '' };
};

/** Goods to choose from, by name. */
export const fibreChoices = (db: Db): { id: number; name: string }[] => fibreNames(db).all();
const fibreNames = ready((db) =>
  db
    .select({ id: fibres.id, name: fibres.name })
    .from(fibres)
    .where(isNull(fibres.archivedAt))
    .orderBy(fibres.name)
    .prepare(),
);

/** Whether another order has the number already. */
export const numberIsTaken = (db: Db, number: string, exceptOrderId: number | null): boolean =>
  db
    .select({ id: orders.id })
    .from(orders)
    .where(and(eq(orders.number, number), exceptOrderId === null ? undefined : ne(orders.id, exceptOrderId)))
    .get() !== undefined;
