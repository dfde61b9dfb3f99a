import { type AnySQLiteColumn, integer, primaryKey, real, sqliteTable, text } from 'drizzle-orm/sqlite-core';
import { ILLUMINANTS, OBSERVERS } from '../../calc/colour/reading.ts';
import { imports } from './keeping.ts';
import { dyes, fibres } from './materials.ts';
import { methods } from './recipes.ts';
import { people, photos } from './studio.ts';
import { swatches } from './swatches.ts';

/** The colour of goods before dyeing. */
export const undyedGoods = sqliteTable('undyed_goods', {
  fibreId: integer('fibre_id')
    .primaryKey()
    .references((): AnySQLiteColumn => fibres.id),
  l: real('l').notNull(),
  a: real('a').notNull(),
  b: real('b').notNull(),
  illuminant: text('illuminant', { enum: ILLUMINANTS }).notNull(),
  observer: text('observer', { enum: OBSERVERS }).notNull(),
  readAt: integer('read_at').notNull(),
  readBy: integer('read_by')
    .notNull()
    .references((): AnySQLiteColumn => people.id),
  /** JSON: the curve, where it was measured; the colour above is its own then or was read beside it. */
  spectrum: text('spectrum'),
  /** The import that brought it; null once somebody read it here. */
  importId: integer('import_id').references((): AnySQLiteColumn => imports.id),
});
export type UndyedGoodsRow = typeof undyedGoods.$inferSelect;

export const samplingPlans = sqliteTable('sampling_plans', {
  id: integer('id').primaryKey(),
  name: text('name').notNull(),
  kind: text('kind', { enum: ['depthLadder', 'blendLadder', 'triangle', 'recipes'] }).notNull(),
  fibreId: integer('fibre_id')
    .notNull()
    .references((): AnySQLiteColumn => fibres.id),
  methodId: integer('method_id')
    .notNull()
    .references((): AnySQLiteColumn => methods.id),
  pieceMassMg: integer('piece_mass_mg').notNull(),
  liquorMlPerKg: integer('liquor_ml_per_kg'),
  reservePpm: integer('reserve_ppm').notNull(),
  gridColumns: integer('grid_columns').notNull(),
  note: text('note').notNull().default(''),
  madeAt: integer('made_at').notNull(),
  madeBy: integer('made_by')
    .notNull()
    .references((): AnySQLiteColumn => people.id),
  archivedAt: integer('archived_at'),
});
export type SamplingPlanRow = typeof samplingPlans.$inferSelect;

export const samplingStocks = sqliteTable(
  'sampling_stocks',
  {
    planId: integer('plan_id')
      .notNull()
      .references((): AnySQLiteColumn => samplingPlans.id),
    ordinal: integer('ordinal').notNull(),
    dyeId: integer('dye_id')
      .notNull()
      .references((): AnySQLiteColumn => dyes.id),
    concPpm: integer('conc_ppm').notNull(),
  },
  (t) => [primaryKey({ columns: [t.planId, t.ordinal] })],
);
export type SamplingStockRow = typeof samplingStocks.$inferSelect;

export const samplingPieces = sqliteTable('sampling_pieces', {
  id: integer('id').primaryKey(),
  planId: integer('plan_id')
    .notNull()
    .references((): AnySQLiteColumn => samplingPlans.id),
  ordinal: integer('ordinal').notNull(),
  depthPpm: integer('depth_ppm').notNull(),
  sharesPpm: text('shares_ppm', { mode: 'json' }).$type<number[]>().notNull(),
  l: real('l'),
  a: real('a'),
  b: real('b'),
  illuminant: text('illuminant', { enum: ILLUMINANTS }),
  observer: text('observer', { enum: OBSERVERS }),
  source: text('source', { enum: ['instrument', 'photoWithCard', 'typed'] }),
  asTyped: text('as_typed').notNull().default(''),
  uncertaintyMilli: integer('uncertainty_milli'),
  photoId: integer('photo_id').references((): AnySQLiteColumn => photos.id),
  swatchId: integer('swatch_id').references((): AnySQLiteColumn => swatches.id),
});
export type SamplingPieceRow = typeof samplingPieces.$inferSelect;
