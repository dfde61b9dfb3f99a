import { type AnySQLiteColumn, integer, sqliteTable, text } from 'drizzle-orm/sqlite-core';
import { lots } from './lots.ts';
import { fibres } from './materials.ts';
import { customers, orders } from './orders.ts';
import { methods } from './recipes.ts';
import { people } from './studio.ts';

export const lotReworks = sqliteTable('lot_reworks', {
  id: integer('id').primaryKey(),
  reworkLotId: integer('rework_lot_id')
    .notNull()
    .references((): AnySQLiteColumn => lots.id),
  ofLotId: integer('of_lot_id').references((): AnySQLiteColumn => lots.id),
  notedAt: integer('noted_at').notNull(),
  notedBy: integer('noted_by')
    .notNull()
    .references((): AnySQLiteColumn => people.id),
});
export type LotReworkRow = typeof lotReworks.$inferSelect;

export const savedExports = sqliteTable('saved_exports', {
  id: integer('id').primaryKey(),
  name: text('name').notNull(),
  rowKind: text('row_kind', { enum: ['lot', 'costLine'] }).notNull(),
  format: text('format', { enum: ['csv', 'xlsx'] }).notNull(),
  span: text('span', { enum: ['fixed', 'thisMonth', 'lastMonth', 'thisYear', 'lastYear', 'everything'] }).notNull(),
  fromOn: text('from_on'),
  toOn: text('to_on'),
  orderId: integer('order_id').references((): AnySQLiteColumn => orders.id),
  customerId: integer('customer_id').references((): AnySQLiteColumn => customers.id),
  methodId: integer('method_id').references((): AnySQLiteColumn => methods.id),
  fibreId: integer('fibre_id').references((): AnySQLiteColumn => fibres.id),
  columnsJson: text('columns_json').notNull(),
  madeAt: integer('made_at').notNull(),
  madeBy: integer('made_by')
    .notNull()
    .references((): AnySQLiteColumn => people.id),
  version: integer('version').notNull().default(1),
});
export type SavedExportRow = typeof savedExports.$inferSelect;
