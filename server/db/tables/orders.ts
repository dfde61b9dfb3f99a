import { type AnySQLiteColumn, integer, sqliteTable, text } from 'drizzle-orm/sqlite-core';
import { fibres } from './materials.ts';
import { recipeRevisions } from './recipes.ts';
import { swatches } from './swatches.ts';

export const customers = sqliteTable('customers', {
  id: integer('id').primaryKey(),
  name: text('name').notNull(),
  contact: text('contact').notNull().default(''),
  note: text('note').notNull().default(''),
  archivedAt: integer('archived_at'),
  version: integer('version').notNull().default(1),
});
export type CustomerRow = typeof customers.$inferSelect;

export const orders = sqliteTable('orders', {
  id: integer('id').primaryKey(),
  number: text('number').notNull(),
  customerId: integer('customer_id')
    .notNull()
    .references((): AnySQLiteColumn => customers.id),
  orderedOn: text('ordered_on').notNull(),
  dueOn: text('due_on'),
  status: text('status', { enum: ['open', 'inWork', 'ready', 'delivered', 'cancelled'] }).notNull(),
  note: text('note').notNull().default(''),
  version: integer('version').notNull().default(1),
});
export type OrderRow = typeof orders.$inferSelect;

export const orderLines = sqliteTable('order_lines', {
  id: integer('id').primaryKey(),
  orderId: integer('order_id')
    .notNull()
    .references((): AnySQLiteColumn => orders.id),
  ordinal: integer('ordinal').notNull(),
  description: text('description').notNull(),
  fibreId: integer('fibre_id').references((): AnySQLiteColumn => fibres.id),
  pieces: integer('pieces'),
  dryMassMg: integer('dry_mass_mg'),
  wantedSwatchId: integer('wanted_swatch_id').references((): AnySQLiteColumn => swatches.id),
  wantedRevisionId: integer('wanted_revision_id').references((): AnySQLiteColumn => recipeRevisions.id),
  wantedNote: text('wanted_note').notNull().default(''),
  toleranceFormula: text('tolerance_formula', { enum: ['CIEDE2000', 'CMC(2:1)', 'CMC(1:1)', 'CIE76', 'by eye'] }),
  toleranceMilli: integer('tolerance_milli'),
  priceMinor: integer('price_minor'),
  mixingNote: text('mixing_note').notNull().default(''),
});
export type OrderLineRow = typeof orderLines.$inferSelect;
