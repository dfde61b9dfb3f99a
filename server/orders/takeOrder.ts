import type { Db } from '../db/open.ts';
import type { CustomerRow, OrderLineRow, OrderRow } from '../db/tables/orders.ts';
import { type FieldErrors, invalid, notFound, Refusal } from '../errors.ts';
import {
  customerById,
  customerOfName,
  deleteLine,
  highestNumberOf,
  highestOrdinal,
  insertCustomer,
  insertLines,
  insertOrder,
  lineCountOf,
  lineIsServed,
  numberIsTaken,
  orderById,
  orderLineById,
  revisionIdOfName,
  swatchIdOfCode,
  updateCustomer,
  updateLine,
  updateOrder,
} from './queries.ts';
import type {
  CustomerInput,
  NewOrderWords,
  OrderHeadInput,
  OrderInput,
  OrderLineInput,
  OrderLineWords,
} from './schemas.ts';

const stale = (): Refusal =>
  new Refusal('staleEdit', 'Somebody saved this order meanwhile. What you typed is below, beside theirs.');

/** The next running number of the year of a day: '2026-014' after '2026-013'. */
export const proposedNumber = (db: Db, orderedOn: string): string => {
  const year = orderedOn.slice(0, 4);
  return `${year}-${String(highestNumberOf(db, year) + 1).padStart(3, '0')}`;
};

/** Takes an order with its lines. */
export function takeOrder(db: Db, input: OrderInput): OrderRow {
  return db.transaction((tx) => {
    const { lines, ...head } = input;
    refuseBadHead(tx, head, null);
    refuseBadLines(lines, (i, field) => `lines.${i}.${field}`);
    const order = insertOrder(tx, {
      ...head,
      number: head.number ?? proposedNumber(tx, head.orderedOn),
      status: 'open',
    });
    insertLines(tx, order.id, lines, 1);
    return order;
  });
}

/** Takes an order as typed; a customer named for the first time is added with it, or neither is. */
export function takeTypedOrder(db: Db, form: NewOrderWords): OrderRow {
  return db.transaction((tx) => {
    const lines = lineInputsOf(tx, form.lines, (i, field) => `lines.${i}.${field}`);
    if (form.customerId === null && form.newCustomer === '') {
      throw invalid({ customerId: 'Who ordered it? Choose one, or write the name of a new customer.' });
    }
    const namesake = form.newCustomer === '' ? undefined : customerOfName(tx, form.newCustomer);
    if (namesake) {
      const where = namesake.archivedAt === null ? 'in the list already: choose them there' : 'in the archive';
      throw invalid({ newCustomer: `${namesake.name} is ${where}.` });
    }
    const customerId =
      form.newCustomer === ''
        ? (form.customerId as number)
        : insertCustomer(tx, { name: form.newCustomer, contact: '', note: '' }).id;
    const { number, orderedOn, dueOn, note } = form;
    return takeOrder(tx, { number, customerId, orderedOn, dueOn, note, lines });
  });
}

/** Saves number, customer, days and note against the version that was read. */
export function saveOrderHead(db: Db, orderId: number, input: OrderHeadInput, version: number): OrderRow {
  return db.transaction((tx) => {
    const order = orderById(tx, orderId);
    if (!order) throw notFound('order');
    refuseBadHead(tx, input, orderId);
    const saved = updateOrder(tx, orderId, { ...input, number: input.number ?? order.number }, version);
    if (!saved) throw stale();
    return saved;
  });
}

export function addLine(db: Db, orderId: number, input: OrderLineInput): OrderLineRow {
  return db.transaction((tx) => {
    const order = orderById(tx, orderId);
    if (!order) throw notFound('order');
    refuseClosed(order);
    refuseBadLines([input], (_, field) => field);
    const [line] = insertLines(tx, orderId, [input], highestOrdinal(tx, orderId) + 1);
    updateOrder(tx, orderId, {}, order.version);
    return line as OrderLineRow;
  });
}

/** Saves a line. Its version is that of its order, since the two are agreed together. */
export function saveLine(db: Db, orderLineId: number, input: OrderLineInput, version: number): OrderLineRow {
  return db.transaction((tx) => {
    const found = orderLineById(tx, orderLineId);
    if (!found) throw notFound('order line');
    refuseClosed(found.order);
    refuseBadLines([input], (_, field) => field);
    if (!updateOrder(tx, found.order.id, {}, version)) throw stale();
    return updateLine(tx, orderLineId, input);
  });
}

/** Takes a line out of an order; not once a lot or a reading stands on it, and never the last one. */
export function removeLine(db: Db, orderLineId: number): OrderRow {
  return db.transaction((tx) => {
    const found = orderLineById(tx, orderLineId);
    if (!found) throw notFound('order line');
    refuseClosed(found.order);
    if (lineIsServed(tx, orderLineId)) {
      throw new Refusal('conflict', 'A lot serves this line: it stays in the order.');
    }
    if (lineCountOf(tx, found.order.id) === 1) {
      throw new Refusal('conflict', 'An order has at least one line: cancel the order instead.');
    }
    deleteLine(tx, orderLineId);
    updateOrder(tx, found.order.id, {}, found.order.version);
    return found.order;
  });
}

/** A typed line as the API's input: codes and names looked up, messages beside the fields. `at` names a field of the form. */
export function lineInputsOf(
  db: Db,
  lines: readonly OrderLineWords[],
  at: (i: number, field: string) => string,
): OrderLineInput[] {
  const errors: FieldErrors = {};
  const inputs = lines.map((line, i): OrderLineInput => {
    const wantedSwatchId = line.wantedSwatch === '' ? null : (swatchIdOfCode(db, line.wantedSwatch) ?? undefined);
    if (wantedSwatchId === undefined) {
      errors[at(i, 'wantedSwatch')] = `No swatch has the code “${line.wantedSwatch}”.`;
    }
    const wantedRevisionId = line.wantedRecipe === '' ? null : revisionIdOf(db, line.wantedRecipe);
    if (wantedRevisionId === undefined) {
      errors[at(i, 'wantedRecipe')] = `There is no recipe “${line.wantedRecipe}”.`;
    }
    return {
      description: line.description,
      fibreId: line.fibreId,
      pieces: line.pieces,
      dryMassMg: line.dryMass,
      wantedSwatchId: wantedSwatchId ?? null,
      wantedRevisionId: wantedRevisionId ?? null,
      wantedNote: line.wantedNote,
      toleranceFormula: line.toleranceFormula,
      toleranceMilli: line.toleranceLimit === null ? null : Math.round(line.toleranceLimit * 1000),
      priceMinor: line.price,
    };
  });
  if (Object.keys(errors).length > 0) throw invalid(errors);
  return inputs;
}

/** "Slate grey" or "Slate grey, revision 2"; a recipe whose own name ends so is found first. */
function revisionIdOf(db: Db, words: string): number | undefined {
  const whole = revisionIdOfName(db, words, null);
  if (whole !== undefined) return whole;
  const [, name, number] = /^(.+?),\s*revision\s+(\d{1,6})$/i.exec(words) ?? [];
  return name === undefined ? undefined : revisionIdOfName(db, name, Number(number));
}

function refuseClosed(order: OrderRow): void {
  if (order.status === 'delivered' || order.status === 'cancelled') {
    throw new Refusal('conflict', `Order ${order.number} is ${order.status}: reopen it to change its lines.`);
  }
}

function refuseBadHead(db: Db, head: OrderHeadInput, exceptOrderId: number | null): void {
  const errors: FieldErrors = {};
  if (!customerById(db, head.customerId)) errors['customerId'] = 'There is no such customer.';
  if (head.dueOn !== null && head.dueOn < head.orderedOn) errors['dueOn'] = 'Due before it was ordered.';
  if (head.number !== undefined && numberIsTaken(db, head.number, exceptOrderId)) {
    errors['number'] = `Order ${head.number} is there already.`;
  }
  if (Object.keys(errors).length > 0) throw invalid(errors);
}

/** A limit without its formula says nothing: each formula gives the same pair another figure. */
function refuseBadLines(lines: readonly OrderLineInput[], at: (i: number, field: string) => string): void {
  const errors: FieldErrors = {};
  lines.forEach((line, i) => {
    const { toleranceFormula: formula, toleranceMilli: limit } = line;
    if (limit !== null && (formula === null || formula === 'by eye')) {
      errors[at(i, 'toleranceFormula')] = 'A limit in figures needs the formula that it is measured by.';
    }
    if (limit === null && formula !== null && formula !== 'by eye') {
      errors[at(i, 'toleranceLimit')] = `How much may ${formula} be?`;
    }
    if (line.pieces !== null && line.pieces < 1) errors[at(i, 'pieces')] = 'At least one piece.';
  });
  if (Object.keys(errors).length > 0) throw invalid(errors);
}

/** Saves a customer against the version that was read. */
export function saveCustomer(db: Db, customerId: number, input: CustomerInput, version: number): CustomerRow {
  if (!customerById(db, customerId)) throw notFound('customer');
  const saved = updateCustomer(db, customerId, input, version);
  if (!saved) {
    throw new Refusal('staleEdit', 'Somebody saved this customer meanwhile. What you typed is below, beside theirs.');
  }
  return saved;
}

/** Puts a customer in the archive, or takes them out; their orders stay. */
export function archiveCustomer(db: Db, customerId: number, archivedAt: number | null): CustomerRow {
  return db.transaction((tx) => {
    const customer = customerById(tx, customerId);
    if (!customer) throw notFound('customer');
    return updateCustomer(tx, customerId, { archivedAt }, customer.version) ?? customer;
  });
}
