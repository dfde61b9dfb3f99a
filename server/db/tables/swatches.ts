import { type AnySQLiteColumn, integer, primaryKey, real, sqliteTable, text } from 'drizzle-orm/sqlite-core';
import { ILLUMINANTS, OBSERVERS, READING_SOURCES } from '../../calc/colour/reading.ts';
import { lots } from './lots.ts';
import { fibres } from './materials.ts';
import { orderLines } from './orders.ts';
import { methods, recipeRevisions } from './recipes.ts';
import { stockLots } from './stock.ts';
import { people, photos } from './studio.ts';

export const swatches = sqliteTable('swatches', {
  id: integer('id').primaryKey(),
  code: text('code').notNull(),
  name: text('name').notNull(),
  revisionId: integer('revision_id')
    .notNull()
    .references((): AnySQLiteColumn => recipeRevisions.id),
  depthPpm: integer('depth_ppm').notNull(),
  fibreId: integer('fibre_id')
    .notNull()
    .references((): AnySQLiteColumn => fibres.id),
  methodId: integer('method_id')
    .notNull()
    .references((): AnySQLiteColumn => methods.id),
  lotId: integer('lot_id').references((): AnySQLiteColumn => lots.id),
  dryMassMg: integer('dry_mass_mg'),
  dyedOn: text('dyed_on').notNull(),
  madeBy: integer('made_by')
    .notNull()
    .references((): AnySQLiteColumn => people.id),
  cardPlace: text('card_place').notNull().default(''),
  photoId: integer('photo_id').references((): AnySQLiteColumn => photos.id),
  rating: integer('rating'),
  note: text('note').notNull().default(''),
  archivedAt: integer('archived_at'),
  version: integer('version').notNull().default(1),
});
export type SwatchRow = typeof swatches.$inferSelect;
/** What a card says besides what was dyed. */
export const CARD_COLUMNS = ['cardPlace', 'rating', 'note'] as const satisfies readonly (keyof SwatchRow)[];

export const swatchStockLots = sqliteTable(
  'swatch_stock_lots',
  {
    swatchId: integer('swatch_id')
      .notNull()
      .references((): AnySQLiteColumn => swatches.id),
    stockLotId: integer('stock_lot_id')
      .notNull()
      .references((): AnySQLiteColumn => stockLots.id),
  },
  (t) => [primaryKey({ columns: [t.swatchId, t.stockLotId] })],
);
export type SwatchStockLotRow = typeof swatchStockLots.$inferSelect;

export const colourReadings = sqliteTable('colour_readings', {
  id: integer('id').primaryKey(),
  swatchId: integer('swatch_id').references((): AnySQLiteColumn => swatches.id),
  lotId: integer('lot_id').references((): AnySQLiteColumn => lots.id),
  orderLineId: integer('order_line_id').references((): AnySQLiteColumn => orderLines.id),
  l: real('l').notNull(),
  a: real('a').notNull(),
  b: real('b').notNull(),
  illuminant: text('illuminant', { enum: ILLUMINANTS }).notNull(),
  observer: text('observer', { enum: OBSERVERS }).notNull(),
  source: text('source', { enum: READING_SOURCES }).notNull(),
  asTyped: text('as_typed').notNull().default(''),
  areaSharePpm: integer('area_share_ppm'),
  uncertaintyMilli: integer('uncertainty_milli'),
  readAt: integer('read_at').notNull(),
  readBy: integer('read_by')
    .notNull()
    .references((): AnySQLiteColumn => people.id),
  note: text('note').notNull().default(''),
  withdrawnAt: integer('withdrawn_at'),
  photoId: integer('photo_id').references((): AnySQLiteColumn => photos.id),
});
export type ColourReadingRow = typeof colourReadings.$inferSelect;

export const swatchColours = sqliteTable('swatch_colours', {
  swatchId: integer('swatch_id')
    .primaryKey()
    .references((): AnySQLiteColumn => swatches.id),
  l: real('l').notNull(),
  a: real('a').notNull(),
  b: real('b').notNull(),
  hex: text('hex').notNull(),
  inGamut: integer('in_gamut').notNull(),
  adapted: integer('adapted').notNull(),
  source: text('source', { enum: READING_SOURCES }).notNull(),
  cardPlace: integer('card_place').notNull(),
  hueFamilies: text('hue_families').notNull(),
  bands: text('bands', { mode: 'json' }).$type<{ hex: string; sharePpm: number }[]>().notNull(),
});
export type SwatchColourRow = typeof swatchColours.$inferSelect;

export const swatchSpectra = sqliteTable('swatch_spectra', {
  swatchId: integer('swatch_id')
    .primaryKey()
    .references((): AnySQLiteColumn => swatches.id),
  startNm: integer('start_nm').notNull(),
  stepNm: integer('step_nm').$type<5 | 10 | 20>().notNull(),
  reflectance: text('reflectance', { mode: 'json' }).$type<number[]>().notNull(),
  measuredAt: integer('measured_at').notNull(),
});
export type SwatchSpectrumRow = typeof swatchSpectra.$inferSelect;

/** A reference card that the studio measured itself: its patches under the conditions that are told. */
export const referenceCards = sqliteTable('reference_cards', {
  id: integer('id').primaryKey(),
  name: text('name').notNull(),
  columns: integer('patch_columns').notNull(),
  rows: integer('patch_rows').notNull(),
  illuminant: text('illuminant', { enum: ILLUMINANTS }).notNull(),
  observer: text('observer', { enum: OBSERVERS }).notNull(),
  patches: text('patches', { mode: 'json' }).$type<{ name: string; l: number; a: number; b: number }[]>().notNull(),
  note: text('note').notNull().default(''),
  madeAt: integer('made_at').notNull(),
  madeBy: integer('made_by')
    .notNull()
    .references((): AnySQLiteColumn => people.id),
  archivedAt: integer('archived_at'),
});
export type ReferenceCardRow = typeof referenceCards.$inferSelect;

/** Written by triggers: the swatches whose colours or goods changed, in the order of the changes. */
export const swatchChanges = sqliteTable('swatch_changes', {
  swatchId: integer('swatch_id').primaryKey(),
  sequence: integer('sequence').notNull(),
});
