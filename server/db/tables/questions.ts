import { type AnySQLiteColumn, integer, sqliteTable, text } from 'drizzle-orm/sqlite-core';
import { logEntries, lots } from './lots.ts';
import { stockLedger, stockLots } from './stock.ts';
import { people } from './studio.ts';

export const questions = sqliteTable('questions', {
  id: integer('id').primaryKey(),
  kind: text('kind').notNull(),
  asks: text('asks', { enum: ['owner', 'bench'] }).notNull(),
  lotId: integer('lot_id').references((): AnySQLiteColumn => lots.id),
  stockLotId: integer('stock_lot_id').references((): AnySQLiteColumn => stockLots.id),
  logEntryId: integer('log_entry_id').references((): AnySQLiteColumn => logEntries.id),
  ledgerEntryId: integer('ledger_entry_id').references((): AnySQLiteColumn => stockLedger.id),
  words: text('words').notNull(),
  detailsJson: text('details_json').notNull().default('{}'),
  askedAt: integer('asked_at').notNull(),
  answer: text('answer'),
  answerWords: text('answer_words').notNull().default(''),
  answeredAt: integer('answered_at'),
  answeredBy: integer('answered_by').references((): AnySQLiteColumn => people.id),
});
export type QuestionRow = typeof questions.$inferSelect;
