import { type AnySQLiteColumn, integer, primaryKey, real, sqliteTable, text } from 'drizzle-orm/sqlite-core';
import { COVERAGES, LOT_STATUSES, WAYS_OUT, WAYS_TO_FIND_MASS } from '../../calc/lotTerms.ts';
import { auxiliaries, dyes, fibres } from './materials.ts';
import { customers, type OrderLineRow, orderLines, orders } from './orders.ts';
import { methods, recipeRevisions } from './recipes.ts';
import { stockLots } from './stock.ts';
import { people, photos } from './studio.ts';
import { swatches } from './swatches.ts';

export const lots = sqliteTable('lots', {
  id: integer('id').primaryKey(),
  number: text('number').notNull(),
  status: text('status', { enum: LOT_STATUSES }).notNull(),
  methodId: integer('method_id')
    .notNull()
    .references((): AnySQLiteColumn => methods.id),
  fibreId: integer('fibre_id')
    .notNull()
    .references((): AnySQLiteColumn => fibres.id),
  goodsText: text('goods_text').notNull(),
  pieces: integer('pieces'),
  dryMassMg: integer('dry_mass_mg').notNull(),
  goodsOwner: text('goods_owner', { enum: ['studio', 'customer'] }).notNull(),
  goodsStockLotId: integer('goods_stock_lot_id').references((): AnySQLiteColumn => stockLots.id),
  massFound: text('mass_found', { enum: WAYS_TO_FIND_MASS }).notNull(),
  coverage: text('coverage', { enum: COVERAGES }).notNull(),
  bathUl: integer('bath_ul'),
  soakUl: integer('soak_ul'),
  lossPpm: integer('loss_ppm').notNull(),
  readabilityMg: integer('readability_mg').notNull(),
  estimateMinor: integer('estimate_minor').notNull(),
  planJson: text('plan_json').notNull(),
  plannedAt: integer('planned_at').notNull(),
  plannedBy: integer('planned_by')
    .notNull()
    .references((): AnySQLiteColumn => people.id),
  plannedForOn: text('planned_for_on'),
  startedAt: integer('started_at'),
  finishedAt: integer('finished_at'),
  repeatsLotId: integer('repeats_lot_id').references((): AnySQLiteColumn => lots.id),
});
export type LotRow = typeof lots.$inferSelect;

export const lotLines = sqliteTable(
  'lot_lines',
  {
    lotId: integer('lot_id')
      .notNull()
      .references((): AnySQLiteColumn => lots.id),
    orderLineId: integer('order_line_id')
      .notNull()
      .references((): AnySQLiteColumn => orderLines.id),
    pieces: integer('pieces'),
  },
  (t) => [primaryKey({ columns: [t.lotId, t.orderLineId] })],
);
export type LotLineRow = typeof lotLines.$inferSelect;

export const lotColours = sqliteTable('lot_colours', {
  id: integer('id').primaryKey(),
  lotId: integer('lot_id')
    .notNull()
    .references((): AnySQLiteColumn => lots.id),
  ordinal: integer('ordinal').notNull(),
  revisionId: integer('revision_id')
    .notNull()
    .references((): AnySQLiteColumn => recipeRevisions.id),
  swatchId: integer('swatch_id').references((): AnySQLiteColumn => swatches.id),
  depthPpm: integer('depth_ppm').notNull(),
  sharePpm: integer('share_ppm').notNull(),
  placement: text('placement').notNull().default(''),
});
export type LotColourRow = typeof lotColours.$inferSelect;

export const lotComponents = sqliteTable('lot_components', {
  id: integer('id').primaryKey(),
  lotId: integer('lot_id')
    .notNull()
    .references((): AnySQLiteColumn => lots.id),
  ordinal: integer('ordinal').notNull(),
  lotColourId: integer('lot_colour_id').references((): AnySQLiteColumn => lotColours.id),
  kind: text('kind', { enum: ['dye', 'auxiliary'] }).notNull(),
  dyeId: integer('dye_id').references((): AnySQLiteColumn => dyes.id),
  auxiliaryId: integer('auxiliary_id').references((): AnySQLiteColumn => auxiliaries.id),
  vessel: text('vessel', { enum: ['bath', 'soak'] }),
  basis: text('basis', { enum: ['owg', 'gPerL', 'mlPerL', 'fixedMass', 'fixedVolume'] }).notNull(),
  exactUg: integer('exact_ug'),
  plannedMassMg: integer('planned_mass_mg'),
  plannedVolumeUl: integer('planned_volume_ul'),
  concPpm: integer('conc_ppm'),
  strengthPpm: integer('strength_ppm').notNull().default(1000000),
  step: integer('step').notNull(),
  stockLotId: integer('stock_lot_id').references((): AnySQLiteColumn => stockLots.id),
});
export type LotComponentRow = typeof lotComponents.$inferSelect;

export const lotSteps = sqliteTable('lot_steps', {
  id: integer('id').primaryKey(),
  lotId: integer('lot_id')
    .notNull()
    .references((): AnySQLiteColumn => lots.id),
  ordinal: integer('ordinal').notNull(),
  name: text('name').notNull(),
  plannedDurationS: integer('planned_duration_s').notNull(),
  plannedTempC: real('planned_temp_c'),
  plannedHandsOnS: integer('planned_hands_on_s').notNull(),
  note: text('note').notNull().default(''),
});
export type LotStepRow = typeof lotSteps.$inferSelect;

export const logEntries = sqliteTable('log_entries', {
  id: integer('id').primaryKey(),
  lotId: integer('lot_id')
    .notNull()
    .references((): AnySQLiteColumn => lots.id),
  clientId: text('client_id').notNull(),
  kind: text('kind', {
    enum: [
      'note',
      'deviation',
      'photo',
      'temperature',
      'reading',
      'field',
      'weighing',
      'adjustment',
      'discard',
      'stepStart',
      'stepEnd',
      'labour',
      'start',
      'finish',
      'abandon',
      'voiding',
      'placement',
      'voice',
    ],
  }).notNull(),
  stepId: integer('step_id').references((): AnySQLiteColumn => lotSteps.id),
  refersToId: integer('refers_to_id').references((): AnySQLiteColumn => logEntries.id),
  text: text('text').notNull().default(''),
  valueJson: text('value_json').notNull().default('{}'),
  photoId: integer('photo_id').references((): AnySQLiteColumn => photos.id),
  at: integer('at').notNull(),
  recordedAt: integer('recorded_at').notNull(),
  byPersonId: integer('by_person_id')
    .notNull()
    .references((): AnySQLiteColumn => people.id),
  late: integer('late').notNull().default(0),
  clockSaidAt: integer('clock_said_at'),
  contentDigest: text('content_digest'),
});
export type LogEntryRow = typeof logEntries.$inferSelect;

export const lotAdjustments = sqliteTable('lot_adjustments', {
  id: integer('id').primaryKey(),
  lotId: integer('lot_id')
    .notNull()
    .references((): AnySQLiteColumn => lots.id),
  logEntryId: integer('log_entry_id')
    .notNull()
    .references((): AnySQLiteColumn => logEntries.id),
  way: text('way', { enum: WAYS_OUT }).notNull(),
  factorPpm: integer('factor_ppm').notNull(),
  dryMassMg: integer('dry_mass_mg').notNull(),
});
export type LotAdjustmentRow = typeof lotAdjustments.$inferSelect;

export const lotTargets = sqliteTable('lot_targets', {
  id: integer('id').primaryKey(),
  lotId: integer('lot_id')
    .notNull()
    .references((): AnySQLiteColumn => lots.id),
  adjustmentId: integer('adjustment_id')
    .notNull()
    .references((): AnySQLiteColumn => lotAdjustments.id),
  componentId: integer('component_id')
    .notNull()
    .references((): AnySQLiteColumn => lotComponents.id),
  targetMassMg: integer('target_mass_mg'),
  targetVolumeUl: integer('target_volume_ul'),
});
export type LotTargetRow = typeof lotTargets.$inferSelect;

export const weighings = sqliteTable('weighings', {
  id: integer('id').primaryKey(),
  lotId: integer('lot_id')
    .notNull()
    .references((): AnySQLiteColumn => lots.id),
  componentId: integer('component_id')
    .notNull()
    .references((): AnySQLiteColumn => lotComponents.id),
  stockLotId: integer('stock_lot_id')
    .notNull()
    .references((): AnySQLiteColumn => stockLots.id),
  logEntryId: integer('log_entry_id')
    .notNull()
    .references((): AnySQLiteColumn => logEntries.id),
  massMg: integer('mass_mg'),
  volumeUl: integer('volume_ul'),
  /** Of the container when it was weighed from; null of no weighing, since a trigger demands it. */
  strengthPpm: integer('strength_ppm'),
  concPpm: integer('conc_ppm'),
  /** 'atUpgrade': an earlier version kept none, and this is what the container had when this version came. */
  strengthKept: text('strength_kept', { enum: ['whenWeighed', 'atUpgrade'] })
    .notNull()
    .default('whenWeighed'),
});
export type WeighingRow = typeof weighings.$inferSelect;

export const lotLabour = sqliteTable('lot_labour', {
  id: integer('id').primaryKey(),
  lotId: integer('lot_id')
    .notNull()
    .references((): AnySQLiteColumn => lots.id),
  logEntryId: integer('log_entry_id')
    .notNull()
    .references((): AnySQLiteColumn => logEntries.id),
  stepId: integer('step_id').references((): AnySQLiteColumn => lotSteps.id),
  personId: integer('person_id')
    .notNull()
    .references((): AnySQLiteColumn => people.id),
  durationS: integer('duration_s').notNull(),
  rateMinorPerHour: integer('rate_minor_per_hour').notNull(),
});
export type LotLabourRow = typeof lotLabour.$inferSelect;

export const lotOutcomes = sqliteTable('lot_outcomes', {
  lotId: integer('lot_id')
    .primaryKey()
    .references((): AnySQLiteColumn => lots.id),
  firstQuality: integer('first_quality').notNull(),
  seconds: integer('seconds').notNull(),
  rework: integer('rework').notNull(),
  scrap: integer('scrap').notNull(),
  secondsValueMinor: integer('seconds_value_minor').notNull().default(0),
  note: text('note').notNull().default(''),
  doDifferently: text('do_differently').notNull().default(''),
  judgedAt: integer('judged_at').notNull(),
  judgedBy: integer('judged_by')
    .notNull()
    .references((): AnySQLiteColumn => people.id),
});
export type LotOutcomeRow = typeof lotOutcomes.$inferSelect;

/** Kept by the database's triggers alone: what reports over many years ask of a closed lot. */
export const closedLots = sqliteTable(
  'closed_lots',
  {
    finishedAt: integer('finished_at').notNull(),
    lotId: integer('lot_id')
      .notNull()
      .unique()
      .references((): AnySQLiteColumn => lots.id),
    status: text('status', { enum: ['finished', 'abandoned'] }).notNull(),
    number: text('number').notNull(),
    methodId: integer('method_id')
      .notNull()
      .references((): AnySQLiteColumn => methods.id),
    fibreId: integer('fibre_id')
      .notNull()
      .references((): AnySQLiteColumn => fibres.id),
    dryMassMg: integer('dry_mass_mg').notNull(),
    estimateMinor: integer('estimate_minor').notNull(),
    firstQuality: integer('first_quality'),
    seconds: integer('seconds'),
    rework: integer('rework'),
    scrap: integer('scrap'),
    secondsValueMinor: integer('seconds_value_minor'),
    dyeMinor: integer('dye_minor').notNull(),
    auxiliaryMinor: integer('auxiliary_minor').notNull(),
    goodsMinor: integer('goods_minor').notNull(),
    labourMinor: integer('labour_minor').notNull(),
    overheadMinor: integer('overhead_minor').notNull(),
    otherMinor: integer('other_minor').notNull(),
    wastedMinor: integer('wasted_minor').notNull(),
    closedOn: text('closed_on').notNull(),
  },
  (t) => [primaryKey({ columns: [t.finishedAt, t.lotId] })],
);

/** Kept by the database's triggers alone: what the figures of a closed lot rest on beside its weighings and cost lines. */
export const lotClosings = sqliteTable('lot_closings', {
  lotId: integer('lot_id')
    .primaryKey()
    .references((): AnySQLiteColumn => lots.id),
  closedOn: text('closed_on').notNull(),
  zone: text('zone').notNull(),
  currency: text('currency').notNull(),
  dryMassMg: integer('dry_mass_mg').notNull(),
  weighingTolerancePpm: integer('weighing_tolerance_ppm').notNull(),
  kept: text('kept', { enum: ['atClosing', 'atUpgrade'] }).notNull(),
});
export type LotClosingRow = typeof lotClosings.$inferSelect;

/** Kept by triggers too: what the things of a closed lot were called. */
export const lotNames = sqliteTable(
  'lot_names',
  {
    lotId: integer('lot_id')
      .notNull()
      .references((): AnySQLiteColumn => lots.id),
    kind: text('kind', {
      enum: ['fibre', 'method', 'recipe', 'swatch', 'dye', 'auxiliary', 'stockLot', 'person'],
    }).notNull(),
    refId: integer('ref_id').notNull(),
    code: text('code').notNull(),
    name: text('name').notNull(),
  },
  (t) => [primaryKey({ columns: [t.lotId, t.kind, t.refId] })],
);
export type LotNameRow = typeof lotNames.$inferSelect;

/** Kept by triggers too: what was ever called otherwise than some closed lot has it. */
export const renamedThings = sqliteTable(
  'renamed_things',
  {
    kind: text('kind', { enum: ['fibre', 'method', 'recipe', 'dye', 'auxiliary', 'person', 'stockLot'] }).notNull(),
    refId: integer('ref_id').notNull(),
  },
  (t) => [primaryKey({ columns: [t.kind, t.refId] })],
);

/** And whom a closed lot was for. */
export const lotLineClosings = sqliteTable(
  'lot_line_closings',
  {
    lotId: integer('lot_id')
      .notNull()
      .references((): AnySQLiteColumn => lots.id),
    orderLineId: integer('order_line_id')
      .notNull()
      .references((): AnySQLiteColumn => orderLines.id),
    orderId: integer('order_id')
      .notNull()
      .references((): AnySQLiteColumn => orders.id),
    orderNumber: text('order_number').notNull(),
    customerId: integer('customer_id')
      .notNull()
      .references((): AnySQLiteColumn => customers.id),
    customerName: text('customer_name').notNull(),
    description: text('description').notNull(),
    pieces: integer('pieces'),
    dryMassMg: integer('dry_mass_mg'),
    priceMinor: integer('price_minor'),
    toleranceFormula: text('tolerance_formula').$type<OrderLineRow['toleranceFormula']>(),
    toleranceMilli: integer('tolerance_milli'),
  },
  (t) => [primaryKey({ columns: [t.lotId, t.orderLineId] })],
);

export const costLines = sqliteTable('cost_lines', {
  id: integer('id').primaryKey(),
  lotId: integer('lot_id')
    .notNull()
    .references((): AnySQLiteColumn => lots.id),
  ordinal: integer('ordinal').notNull(),
  kind: text('kind', { enum: ['dye', 'auxiliary', 'goods', 'labour', 'overhead', 'other'] }).notNull(),
  description: text('description').notNull(),
  dyeId: integer('dye_id').references((): AnySQLiteColumn => dyes.id),
  auxiliaryId: integer('auxiliary_id').references((): AnySQLiteColumn => auxiliaries.id),
  stockLotId: integer('stock_lot_id').references((): AnySQLiteColumn => stockLots.id),
  personId: integer('person_id').references((): AnySQLiteColumn => people.id),
  stepId: integer('step_id').references((): AnySQLiteColumn => lotSteps.id),
  quantity: integer('quantity').notNull(),
  quantityUnit: text('quantity_unit', { enum: ['mg', 'ul', 's', 'piece'] }).notNull(),
  priceMinor: integer('price_minor').notNull(),
  perQuantity: integer('per_quantity').notNull(),
  wasted: integer('wasted').notNull().default(0),
  costMinor: integer('cost_minor').notNull(),
  correctsId: integer('corrects_id').references((): AnySQLiteColumn => costLines.id),
  writtenAt: integer('written_at').notNull(),
  valuation: text('valuation', { enum: ['specific', 'movingAverage'] }),
  correction: text('correction', { enum: ['reversal', 'replacement'] }),
  reason: text('reason').notNull().default(''),
  writtenBy: integer('written_by').references((): AnySQLiteColumn => people.id),
  added: integer('added').notNull().default(0),
  clientId: text('client_id'),
  /** Of the container that a forgotten material came from. */
  strengthPpm: integer('strength_ppm'),
  lateEntryId: integer('late_entry_id').references((): AnySQLiteColumn => logEntries.id),
  contentDigest: text('content_digest'),
});
export type CostLineRow = typeof costLines.$inferSelect;
