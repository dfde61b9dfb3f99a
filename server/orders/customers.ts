import type { Db } from '../db/open.ts';
import type { CustomerRow } from '../db/tables/orders.ts';
import { found, stale } from '../errors.ts';
import { customerById, updateCustomer } from './queries.ts';
import type { CustomerInput } from './schemas.ts';

export const theCustomer = (db: Db, customerId: number): CustomerRow => found(customerById(db, customerId), 'customer');

/** Saves a customer against the version that was read. */
export function saveCustomer(db: Db, customerId: number, input: CustomerInput, version: number): CustomerRow {
  theCustomer(db, customerId);
  const saved = updateCustomer(db, customerId, input, version);
  if (!saved) throw stale('customer', 'beside');
  return saved;
}

/** Puts a customer in the archive, or takes them out; their orders stay. */
export function setCustomerArchived(db: Db, customerId: number, archivedAt: number | null): void {
  db.transaction((tx) => {
    updateCustomer(tx, customerId, { archivedAt }, theCustomer(tx, customerId).version);
  });
}
