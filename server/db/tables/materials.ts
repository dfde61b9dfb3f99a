import { type AnySQLiteColumn, integer, primaryKey, sqliteTable, text } from 'drizzle-orm/sqlite-core';
import { dyeClasses } from '../../calc/classFit.ts';

export const fibres = sqliteTable('fibres', {
  id: integer('id').primaryKey(),
  name: text('name').notNull(),
  class: text('class', {
    enum: ['cellulose', 'protein', 'polyamide', 'polyester', 'acetate', 'acrylic', 'blend'],
  }).notNull(),
  kind: text('kind', { enum: ['cloth', 'yarn'] }).notNull(),
  construction: text('construction').notNull().default(''),
  arealMassMgPerM2: integer('areal_mass_mg_per_m2'),
  widthMm: integer('width_mm'),
  countText: text('count_text').notNull().default(''),
  texMilli: integer('tex_milli'),
  putUpMassMg: integer('put_up_mass_mg'),
  putUpLengthMm: integer('put_up_length_mm'),
  regainPpm: integer('regain_ppm'),
  shrinkLengthPpm: integer('shrink_length_ppm').notNull().default(0),
  shrinkWidthPpm: integer('shrink_width_ppm').notNull().default(0),
  uptakePpm: integer('uptake_ppm').notNull().default(1000000),
  costMinorPerKg: integer('cost_minor_per_kg'),
  note: text('note').notNull().default(''),
  archivedAt: integer('archived_at'),
  version: integer('version').notNull().default(1),
});
export type FibreRow = typeof fibres.$inferSelect;

export const fibreParts = sqliteTable(
  'fibre_parts',
  {
    fibreId: integer('fibre_id')
      .notNull()
      .references((): AnySQLiteColumn => fibres.id),
    ordinal: integer('ordinal').notNull(),
    name: text('name').notNull(),
    sharePpm: integer('share_ppm').notNull(),
    regainPpm: integer('regain_ppm').notNull(),
  },
  (t) => [primaryKey({ columns: [t.fibreId, t.ordinal] })],
);
export type FibrePartRow = typeof fibreParts.$inferSelect;

export const dyes = sqliteTable('dyes', {
  id: integer('id').primaryKey(),
  code: text('code').notNull(),
  name: text('name').notNull(),
  class: text('class', { enum: dyeClasses }).notNull(),
  ciName: text('ci_name').notNull().default(''),
  singleColourant: integer('single_colourant').notNull().default(1),
  palePpm: integer('pale_ppm'),
  mediumPpm: integer('medium_ppm'),
  deepPpm: integer('deep_ppm'),
  solutionLifeDays: integer('solution_life_days'),
  shownHex: text('shown_hex'),
  hazardCodes: text('hazard_codes').notNull().default(''),
  sdsUrl: text('sds_url').notNull().default(''),
  note: text('note').notNull().default(''),
  archivedAt: integer('archived_at'),
  version: integer('version').notNull().default(1),
});
export type DyeRow = typeof dyes.$inferSelect;

export const auxiliaries = sqliteTable('auxiliaries', {
  id: integer('id').primaryKey(),
  code: text('code').notNull(),
  name: text('name').notNull(),
  form: text('form', { enum: ['solid', 'liquid'] }).notNull(),
  hydrate: text('hydrate').notNull().default(''),
  grade: text('grade').notNull().default(''),
  bulkDensityGPerL: integer('bulk_density_g_per_l'),
  solutionConcPpm: integer('solution_conc_ppm'),
  hazardCodes: text('hazard_codes').notNull().default(''),
  sdsUrl: text('sds_url').notNull().default(''),
  note: text('note').notNull().default(''),
  archivedAt: integer('archived_at'),
  version: integer('version').notNull().default(1),
});
export type AuxiliaryRow = typeof auxiliaries.$inferSelect;
