import { type AnySQLiteColumn, integer, sqliteTable, text } from 'drizzle-orm/sqlite-core';
import { lots, weighings } from './lots.ts';
import { auxiliaries, dyes, fibres } from './materials.ts';
import { people } from './studio.ts';

export const stockLots = sqliteTable('stock_lots', {
  id: integer('id').primaryKey(),
  code: text('code').notNull(),
  kind: text('kind', { enum: ['dye', 'auxiliary', 'fibre'] }).notNull(),
  dyeId: integer('dye_id').references((): AnySQLiteColumn => dyes.id),
  auxiliaryId: integer('auxiliary_id').references((): AnySQLiteColumn => auxiliaries.id),
  fibreId: integer('fibre_id').references((): AnySQLiteColumn => fibres.id),
  unit: text('unit', { enum: ['mg', 'ul'] }).notNull(),
  supplier: text('supplier').notNull().default(''),
  makerLot: text('maker_lot').notNull().default(''),
  strengthPpm: integer('strength_ppm').notNull().default(1000000),
  receivedOn: text('received_on').notNull(),
  openedOn: text('opened_on'),
  bestBeforeOn: text('best_before_on'),
  priceMinor: integer('price_minor').notNull(),
  freightMinor: integer('freight_minor').notNull().default(0),
  receivedQuantity: integer('received_quantity').notNull(),
  sourceStockLotId: integer('source_stock_lot_id').references((): AnySQLiteColumn => stockLots.id),
  concPpm: integer('conc_ppm'),
  note: text('note').notNull().default(''),
  recalledAt: integer('recalled_at'),
  recallReason: text('recall_reason').notNull().default(''),
  closedAt: integer('closed_at'),
  version: integer('version').notNull().default(1),
});
export type StockLotRow = typeof stockLots.$inferSelect;

export const stockLedger = sqliteTable('stock_ledger', {
  id: integer('id').primaryKey(),
  stockLotId: integer('stock_lot_id')
    .notNull()
    .references((): AnySQLiteColumn => stockLots.id),
  kind: text('kind', { enum: ['receipt', 'issue', 'waste', 'stockTake', 'reversal'] }).notNull(),
  quantity: integer('quantity').notNull(),
  at: integer('at').notNull(),
  recordedAt: integer('recorded_at').notNull(),
  byPersonId: integer('by_person_id')
    .notNull()
    .references((): AnySQLiteColumn => people.id),
  reason: text('reason').notNull().default(''),
  lotId: integer('lot_id').references((): AnySQLiteColumn => lots.id),
  weighingId: integer('weighing_id').references((): AnySQLiteColumn => weighings.id),
  solutionId: integer('solution_id').references((): AnySQLiteColumn => stockLots.id),
  reversesId: integer('reverses_id').references((): AnySQLiteColumn => stockLedger.id),
  clientId: text('client_id'),
  balancesId: integer('balances_id').references((): AnySQLiteColumn => stockLedger.id),
  causedById: integer('caused_by_id').references((): AnySQLiteColumn => stockLedger.id),
  empties: integer('empties').notNull().default(0),
  contentDigest: text('content_digest'),
});
export type LedgerEntryRow = typeof stockLedger.$inferSelect;

export const stockLotEvents = sqliteTable('stock_lot_events', {
  id: integer('id').primaryKey(),
  stockLotId: integer('stock_lot_id')
    .notNull()
    .references((): AnySQLiteColumn => stockLots.id),
  kind: text('kind', { enum: ['closed', 'reopened', 'recalled', 'recallLifted'] }).notNull(),
  reason: text('reason').notNull().default(''),
  throughId: integer('through_id').references((): AnySQLiteColumn => stockLots.id),
  at: integer('at').notNull(),
  byPersonId: integer('by_person_id').references((): AnySQLiteColumn => people.id),
});
export type StockLotEventRow = typeof stockLotEvents.$inferSelect;

export const strengthChanges = sqliteTable('strength_changes', {
  id: integer('id').primaryKey(),
  stockLotId: integer('stock_lot_id')
    .notNull()
    .references((): AnySQLiteColumn => stockLots.id),
  wasPpm: integer('was_ppm').notNull(),
  isPpm: integer('is_ppm').notNull(),
  at: integer('at').notNull(),
  byPersonId: integer('by_person_id')
    .notNull()
    .references((): AnySQLiteColumn => people.id),
});
export type StrengthChangeRow = typeof strengthChanges.$inferSelect;

/** Money that moved after the receipt of a container: late freight, a late bill, a credit (below nothing). */
export const stockMoney = sqliteTable('stock_money', {
  id: integer('id').primaryKey(),
  stockLotId: integer('stock_lot_id')
    .notNull()
    .references((): AnySQLiteColumn => stockLots.id),
  kind: text('kind', { enum: ['freight', 'bill', 'credit'] }).notNull(),
  amountMinor: integer('amount_minor').notNull(),
  reason: text('reason').notNull(),
  at: integer('at').notNull(),
  recordedAt: integer('recorded_at').notNull(),
  byPersonId: integer('by_person_id')
    .notNull()
    .references((): AnySQLiteColumn => people.id),
  clientId: text('client_id'),
  contentDigest: text('content_digest'),
});
export type StockMoneyRow = typeof stockMoney.$inferSelect;

export const valuationChanges = sqliteTable('valuation_changes', {
  id: integer('id').primaryKey(),
  valuationBefore: text('valuation_before', { enum: ['specific', 'movingAverage'] }).notNull(),
  valuation: text('valuation', { enum: ['specific', 'movingAverage'] }).notNull(),
  changedAt: integer('changed_at').notNull(),
  changedBy: integer('changed_by')
    .notNull()
    .references((): AnySQLiteColumn => people.id),
});
export type ValuationChangeRow = typeof valuationChanges.$inferSelect;
