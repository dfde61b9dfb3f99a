import { type AnySQLiteColumn, integer, primaryKey, real, sqliteTable, text } from 'drizzle-orm/sqlite-core';
import { dyeClasses } from '../../calc/classFit.ts';
import { auxiliaries, dyes } from './materials.ts';
import { people } from './studio.ts';

export const methods = sqliteTable('methods', {
  id: integer('id').primaryKey(),
  name: text('name').notNull(),
  dyeClass: text('dye_class', { enum: dyeClasses }),
  summary: text('summary').notNull().default(''),
  bathMlPerKg: integer('bath_ml_per_kg'),
  soakMlPerKg: integer('soak_ml_per_kg'),
  lossPpm: integer('loss_ppm').notNull().default(0),
  cautions: text('cautions').notNull().default(''),
  archivedAt: integer('archived_at'),
  version: integer('version').notNull().default(1),
});
export type MethodRow = typeof methods.$inferSelect;

export const methodSteps = sqliteTable('method_steps', {
  id: integer('id').primaryKey(),
  methodId: integer('method_id')
    .notNull()
    .references((): AnySQLiteColumn => methods.id),
  ordinal: integer('ordinal').notNull(),
  name: text('name').notNull(),
  durationS: integer('duration_s').notNull(),
  tempC: real('temp_c'),
  handsOnS: integer('hands_on_s').notNull().default(0),
  note: text('note').notNull().default(''),
});
export type MethodStepRow = typeof methodSteps.$inferSelect;

export const methodAuxiliaries = sqliteTable('method_auxiliaries', {
  id: integer('id').primaryKey(),
  methodId: integer('method_id')
    .notNull()
    .references((): AnySQLiteColumn => methods.id),
  ordinal: integer('ordinal').notNull(),
  auxiliaryId: integer('auxiliary_id')
    .notNull()
    .references((): AnySQLiteColumn => auxiliaries.id),
  vessel: text('vessel', { enum: ['bath', 'soak'] }).notNull(),
  basis: text('basis', { enum: ['owg', 'gPerL', 'mlPerL', 'fixedMass', 'fixedVolume'] }).notNull(),
  amountMilli: integer('amount_milli').notNull(),
  asTyped: text('as_typed').notNull().default(''),
});
export type MethodAuxiliaryRow = typeof methodAuxiliaries.$inferSelect;

export const methodFields = sqliteTable('method_fields', {
  id: integer('id').primaryKey(),
  methodId: integer('method_id')
    .notNull()
    .references((): AnySQLiteColumn => methods.id),
  ordinal: integer('ordinal').notNull(),
  label: text('label').notNull(),
  kind: text('kind', { enum: ['text', 'number', 'mass', 'temperature', 'duration', 'choice'] }).notNull(),
  unit: text('unit').notNull().default(''),
  choices: text('choices').notNull().default(''),
});
export type MethodFieldRow = typeof methodFields.$inferSelect;

export const recipes = sqliteTable('recipes', {
  id: integer('id').primaryKey(),
  name: text('name').notNull(),
  dyeClass: text('dye_class', { enum: dyeClasses }).notNull(),
  note: text('note').notNull().default(''),
  archivedAt: integer('archived_at'),
  version: integer('version').notNull().default(1),
});
export type RecipeRow = typeof recipes.$inferSelect;

export const recipeRevisions = sqliteTable('recipe_revisions', {
  id: integer('id').primaryKey(),
  recipeId: integer('recipe_id')
    .notNull()
    .references((): AnySQLiteColumn => recipes.id),
  number: integer('number').notNull(),
  entryStyle: text('entry_style', { enum: ['split', 'ownDepths'] }).notNull(),
  totalDepthPpm: integer('total_depth_ppm').notNull(),
  why: text('why').notNull().default(''),
  madeAt: integer('made_at').notNull(),
  madeBy: integer('made_by')
    .notNull()
    .references((): AnySQLiteColumn => people.id),
});
export type RecipeRevisionRow = typeof recipeRevisions.$inferSelect;

export const recipeComponents = sqliteTable(
  'recipe_components',
  {
    revisionId: integer('revision_id')
      .notNull()
      .references((): AnySQLiteColumn => recipeRevisions.id),
    ordinal: integer('ordinal').notNull(),
    dyeId: integer('dye_id')
      .notNull()
      .references((): AnySQLiteColumn => dyes.id),
    sharePpm: integer('share_ppm').notNull(),
    depthPpm: integer('depth_ppm').notNull(),
  },
  (t) => [primaryKey({ columns: [t.revisionId, t.ordinal] })],
);
export type RecipeComponentRow = typeof recipeComponents.$inferSelect;
