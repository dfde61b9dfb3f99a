import type { Db } from '../db/open.ts';
import type { OrderRow } from '../db/tables/orders.ts';
import { demandNone, type FieldErrors, found, invalid, stale } from '../errors.ts';
import { lineInputsOf, refuseBadLines } from './orderLines.ts';
import {
  customerById,
  customerOfName,
  highestNumberOf,
  insertCustomer,
  insertLines,
  insertOrder,
  numberIsTaken,
  orderById,
  updateOrder,
} from './queries.ts';
import type { NewOrderWords, OrderHeadInput, OrderInput } from './schemas.ts';

export const theOrder = (db: Db, orderId: number): OrderRow => found(orderById(db, orderId), 'order');

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
    const customerId = customerOf(tx, form);
    const { number, orderedOn, dueOn, note } = form;
    return takeOrder(tx, { number, customerId, orderedOn, dueOn, note, lines });
  });
}

/** Who ordered: the customer that was chosen, or one who is named for the first time and is added. */
function customerOf(db: Db, { customerId, newCustomer }: NewOrderWords): number {
  if (newCustomer === '') {
    if (customerId !== null) return customerId;
    throw invalid({ customerId: 'Who ordered it? Choose one, or write the name of a new customer.' });
  }
  const namesake = customerOfName(db, newCustomer);
  if (namesake) {
    const where = namesake.archivedAt === null ? 'in the list already: choose them there' : 'in the archive';
    throw invalid({ newCustomer: `${namesake.name} is ${where}.` });
  }
  return insertCustomer(db, { name: newCustomer, contact: '', note: '' }).id;
}

/** Saves number, customer, days and note against the version that was read. */
export function saveOrderHead(db: Db, orderId: number, input: OrderHeadInput, version: number): OrderRow {
  return db.transaction((tx) => {
    const order = theOrder(tx, orderId);
    refuseBadHead(tx, input, orderId);
    const saved = updateOrder(tx, orderId, { ...input, number: input.number ?? order.number }, version);
    if (!saved) throw stale('order', 'beside');
    return saved;
  });
}

function refuseBadHead(db: Db, head: OrderHeadInput, exceptOrderId: number | null): void {
  const errors: FieldErrors = {};
  if (!customerById(db, head.customerId)) errors['customerId'] = 'There is no such customer.';
  if (head.dueOn !== null && head.dueOn < head.orderedOn) errors['dueOn'] = 'Due before it was ordered.';
  if (head.number !== undefined && numberIsTaken(db, head.number, exceptOrderId)) {
    errors['number'] = `Order ${head.number} is there already.`;
  }
  demandNone(errors);
}
