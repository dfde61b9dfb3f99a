import { blob, integer, sqliteTable, text } from 'drizzle-orm/sqlite-core';

/* Written by triggers alone (server/db/proof). */

export const recordLinks = sqliteTable('record_links', {
  id: integer().primaryKey(),
  chainId: integer('chain_id').notNull(),
  rowId: integer('row_id').notNull(),
  removed: integer().notNull().default(0),
  link: blob({ mode: 'buffer' }).notNull(),
});

export const recordChains = sqliteTable('record_chains', {
  id: integer().primaryKey(),
  tableName: text('table_name').notNull().unique(),
  columns: text().notNull(),
  fromLink: integer('from_link').notNull(),
});

export const tableSums = sqliteTable('table_sums', {
  id: integer().primaryKey(),
  tableName: text('table_name').notNull().unique(),
  state: blob({ mode: 'buffer' }).notNull(),
});

export const proofFindings = sqliteTable('proof_findings', {
  id: integer().primaryKey(),
  foundAt: integer('found_at').notNull(),
  words: text().notNull(),
});
