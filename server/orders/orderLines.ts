import type { Db } from '../db/open.ts';
import type { OrderLineRow, OrderRow } from '../db/tables/orders.ts';
import { demandNone, type FieldErrors, found, Refusal, stale } from '../errors.ts';
import {
  deleteLine,
  highestOrdinal,
  insertLines,
  lineCountOf,
  lineIsServed,
  type OrderLineWithOrder,
  orderById,
  orderLineById,
  revisionIdOfName,
  swatchIdOfCode,
  updateLine,
  updateOrder,
} from './queries.ts';
import { isClosed, type OrderLineInput, type OrderLineWords } from './schemas.ts';

export const theOrderLine = (db: Db, orderLineId: number): OrderLineWithOrder =>
  found(orderLineById(db, orderLineId), 'order line');

/** Names the field of a line on the form that it was typed into. */
type FieldAt = (i: number, field: string) => string;
/** On a form of one line a field is called by its own name. */
const alone: FieldAt = (_, field) => field;

export function addLine(db: Db, orderId: number, input: OrderLineInput): OrderLineRow {
  return db.transaction((tx) => {
    const order = found(orderById(tx, orderId), 'order');
    refuseClosed(order);
    refuseBadLines([input], alone);
    const [line] = insertLines(tx, orderId, [input], highestOrdinal(tx, orderId) + 1);
    updateOrder(tx, orderId, {}, order.version);
    return found(line, 'order line');
  });
}

/** Saves a line. Its version is that of its order, since the two are agreed together. */
export function saveLine(db: Db, orderLineId: number, input: OrderLineInput, version: number): OrderLineRow {
  return db.transaction((tx) => {
    const { order } = theOrderLine(tx, orderLineId);
    refuseClosed(order);
    refuseBadLines([input], alone);
    if (!updateOrder(tx, order.id, {}, version)) throw stale('order', 'beside');
    return updateLine(tx, orderLineId, input);
  });
}

/** Takes a line out of an order; not once a lot or a reading stands on it, and never the last one. */
export function removeLine(db: Db, orderLineId: number): OrderRow {
  return db.transaction((tx) => {
    const { order } = theOrderLine(tx, orderLineId);
    refuseClosed(order);
    if (lineIsServed(tx, orderLineId)) {
      throw new Refusal('conflict', 'A lot serves this line: it stays in the order.');
    }
    if (lineCountOf(tx, order.id) === 1) {
      throw new Refusal('conflict', 'An order has at least one line: cancel the order instead.');
    }
    deleteLine(tx, orderLineId);
    updateOrder(tx, order.id, {}, order.version);
    return order;
  });
}

/** Typed lines as the API's input: codes and names looked up, messages beside the fields. */
export function lineInputsOf(db: Db, lines: readonly OrderLineWords[], at: FieldAt): OrderLineInput[] {
  const errors: FieldErrors = {};
  const inputs = lines.map((line, i) => readLine(db, line, (field) => at(i, field), errors));
  demandNone(errors);
  return inputs;
}

/** The same of a form of one line. */
export function lineInputOf(db: Db, line: OrderLineWords): OrderLineInput {
  const errors: FieldErrors = {};
  const input = readLine(db, line, (field) => field, errors);
  demandNone(errors);
  return input;
}

function readLine(db: Db, line: OrderLineWords, at: (field: string) => string, errors: FieldErrors): OrderLineInput {
  const wantedSwatchId = line.wantedSwatch === '' ? null : swatchIdOfCode(db, line.wantedSwatch);
  if (wantedSwatchId === undefined) errors[at('wantedSwatch')] = `No swatch has the code “${line.wantedSwatch}”.`;
  const wantedRevisionId = line.wantedRecipe === '' ? null : revisionIdOf(db, line.wantedRecipe);
  if (wantedRevisionId === undefined) errors[at('wantedRecipe')] = `There is no recipe “${line.wantedRecipe}”.`;
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
}

/** "Slate grey" or "Slate grey, revision 2"; a recipe whose own name ends so is found first. */
function revisionIdOf(db: Db, words: string): number | undefined {
  const whole = revisionIdOfName(db, words, null);
  if (whole !== undefined) return whole;
  const [, name, number] = /^(.+?),\s*revision\s+(\d{1,6})$/i.exec(words) ?? [];
  return name === undefined ? undefined : revisionIdOfName(db, name, Number(number));
}

function refuseClosed(order: OrderRow): void {
  if (isClosed(order.status)) {
    throw new Refusal('conflict', `Order ${order.number} is ${order.status}: reopen it to change its lines.`);
  }
}

/** A limit without its formula says nothing: each formula gives the same pair another figure. */
export function refuseBadLines(lines: readonly OrderLineInput[], at: FieldAt): void {
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
  demandNone(errors);
}
