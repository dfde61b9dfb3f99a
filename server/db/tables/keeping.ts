import { type AnySQLiteColumn, blob, integer, primaryKey, sqliteTable, text } from 'drizzle-orm/sqlite-core';
import { people } from './studio.ts';

export const backupSettings = sqliteTable('backup_settings', {
  id: integer('id').primaryKey(),
  daily: integer('daily').notNull().default(1),
  dailyAt: text('daily_at').notNull().default('03:30'),
  keepCount: integer('keep_count').notNull().default(14),
  warnAfterHours: integer('warn_after_hours').notNull().default(48),
  version: integer('version').notNull().default(1),
});
export type BackupSettingsRow = typeof backupSettings.$inferSelect;

export const backupRuns = sqliteTable('backup_runs', {
  id: integer('id').primaryKey(),
  how: text('how', { enum: ['daily', 'button', 'command'] }).notNull(),
  startedAt: integer('started_at').notNull(),
  finishedAt: integer('finished_at'),
  file: text('file').notNull(),
  byteSize: integer('byte_size'),
  sha256: text('sha256'),
  madeBy: integer('made_by').references((): AnySQLiteColumn => people.id),
  failure: text('failure').notNull().default(''),
  removedAt: integer('removed_at'),
});
export type BackupRunRow = typeof backupRuns.$inferSelect;

export const trials = sqliteTable('trials', {
  id: integer('id').primaryKey(),
  kind: text('kind', { enum: ['database', 'archive'] }).notNull(),
  startedAt: integer('started_at').notNull(),
  finishedAt: integer('finished_at').notNull(),
  file: text('file').notNull(),
  failure: text('failure').notNull().default(''),
});
export type TrialRow = typeof trials.$inferSelect;

const importKinds = ['customers', 'fibres', 'dyes', 'auxiliaries', 'stock', 'swatches'] as const;

export const importDrafts = sqliteTable('import_drafts', {
  id: text('id').primaryKey(),
  kind: text('kind', { enum: importKinds }).notNull(),
  fileName: text('file_name').notNull(),
  content: blob('content', { mode: 'buffer' }).notNull(),
  choicesJson: text('choices_json').notNull().default('{}'),
  madeAt: integer('made_at').notNull(),
  madeBy: integer('made_by')
    .notNull()
    .references((): AnySQLiteColumn => people.id),
});
export type ImportDraftRow = typeof importDrafts.$inferSelect;

export const imports = sqliteTable('imports', {
  id: integer('id').primaryKey(),
  kind: text('kind', { enum: importKinds }).notNull(),
  fileName: text('file_name').notNull(),
  rowCount: integer('row_count').notNull(),
  madeAt: integer('made_at').notNull(),
  madeBy: integer('made_by')
    .notNull()
    .references((): AnySQLiteColumn => people.id),
  undoing: integer('undoing').notNull().default(0),
  undoneAt: integer('undone_at'),
  undoneBy: integer('undone_by').references((): AnySQLiteColumn => people.id),
});
export type ImportRow = typeof imports.$inferSelect;

export const importRows = sqliteTable(
  'import_rows',
  {
    importId: integer('import_id')
      .notNull()
      .references((): AnySQLiteColumn => imports.id),
    thing: text('thing', {
      enum: ['customer', 'fibre', 'dye', 'auxiliary', 'method', 'stockLot', 'recipe', 'revision', 'swatch'],
    }).notNull(),
    thingId: integer('thing_id').notNull(),
    line: integer('line'),
  },
  (t) => [primaryKey({ columns: [t.importId, t.thing, t.thingId] })],
);
export type ImportedThingRow = typeof importRows.$inferSelect;
