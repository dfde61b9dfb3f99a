import { type AnySQLiteColumn, integer, primaryKey, sqliteTable, text } from 'drizzle-orm/sqlite-core';

export const people = sqliteTable('people', {
  id: integer('id').primaryKey(),
  name: text('name').notNull(),
  role: text('role', { enum: ['owner', 'dyer', 'viewer', 'bench'] }).notNull(),
  passphraseHash: text('passphrase_hash'),
  labourRateMinorPerHour: integer('labour_rate_minor_per_hour'),
  active: integer('active').notNull().default(1),
  createdAt: integer('created_at').notNull(),
});
export type PersonRow = typeof people.$inferSelect;

export const studio = sqliteTable('studio', {
  id: integer('id').primaryKey(),
  name: text('name').notNull(),
  currency: text('currency').notNull(),
  zone: text('zone').notNull(),
  units: text('units', { enum: ['metric', 'us'] }).notNull(),
  labourRateMinorPerHour: integer('labour_rate_minor_per_hour').notNull(),
  overheadRateMinorPerHour: integer('overhead_rate_minor_per_hour').notNull(),
  weighingTolerancePpm: integer('weighing_tolerance_ppm').notNull(),
  weighingFloorPpm: integer('weighing_floor_ppm').notNull(),
  stockConcPpm: integer('stock_conc_ppm').notNull(),
  costing: text('costing', { enum: ['specific', 'movingAverage'] })
    .notNull()
    .default('specific'),
  sample: integer('sample').notNull().default(0),
  createdAt: integer('created_at').notNull(),
  version: integer('version').notNull().default(1),
  secondStepForOwners: integer('second_step_for_owners').notNull().default(0),
});
export type StudioRow = typeof studio.$inferSelect;

export const scales = sqliteTable('scales', {
  id: integer('id').primaryKey(),
  name: text('name').notNull(),
  readabilityMg: integer('readability_mg').notNull(),
  capacityMg: integer('capacity_mg'),
  isDefault: integer('is_default').notNull().default(0),
});
export type ScaleRow = typeof scales.$inferSelect;

export const signIns = sqliteTable('sign_ins', {
  tokenHash: text('token_hash').primaryKey(),
  personId: integer('person_id')
    .notNull()
    .references((): AnySQLiteColumn => people.id),
  createdAt: integer('created_at').notNull(),
  lastSeenAt: integer('last_seen_at').notNull(),
  expiresAt: integer('expires_at').notNull(),
  device: text('device').notNull().default(''),
  revokedAt: integer('revoked_at'),
});
export type SignInRow = typeof signIns.$inferSelect;

export const signInAttempts = sqliteTable('sign_in_attempts', {
  id: integer('id').primaryKey(),
  account: text('account').notNull(),
  address: text('address').notNull(),
  at: integer('at').notNull(),
  succeeded: integer('succeeded').notNull(),
  deviceHash: text('device_hash'),
});
export type SignInAttemptRow = typeof signInAttempts.$inferSelect;

export const apiTokens = sqliteTable('api_tokens', {
  id: integer('id').primaryKey(),
  name: text('name').notNull(),
  tokenHash: text('token_hash').notNull(),
  personId: integer('person_id')
    .notNull()
    .references((): AnySQLiteColumn => people.id),
  scope: text('scope', { enum: ['read', 'write'] }).notNull(),
  createdAt: integer('created_at').notNull(),
  expiresAt: integer('expires_at'),
  lastUsedAt: integer('last_used_at'),
  revokedAt: integer('revoked_at'),
});
export type ApiTokenRow = typeof apiTokens.$inferSelect;

export const photos = sqliteTable('photos', {
  id: integer('id').primaryKey(),
  sha256: text('sha256').notNull(),
  widthPx: integer('width_px').notNull(),
  heightPx: integer('height_px').notNull(),
  byteSize: integer('byte_size').notNull(),
  storedAt: integer('stored_at').notNull(),
  storedBy: integer('stored_by').references((): AnySQLiteColumn => people.id),
});
export type PhotoRow = typeof photos.$inferSelect;

export const voices = sqliteTable('voices', {
  id: integer('id').primaryKey(),
  sha256: text('sha256').notNull(),
  mediaType: text('media_type', { enum: ['audio/webm', 'audio/ogg', 'audio/mp4', 'audio/wav'] }).notNull(),
  byteSize: integer('byte_size').notNull(),
  durationMs: integer('duration_ms'),
  storedAt: integer('stored_at').notNull(),
  storedBy: integer('stored_by')
    .notNull()
    .references((): AnySQLiteColumn => people.id),
});
export type VoiceRow = typeof voices.$inferSelect;

export const invitations = sqliteTable('invitations', {
  id: integer('id').primaryKey(),
  kind: text('kind', { enum: ['person', 'passphrase', 'bench'] }).notNull(),
  tokenHash: text('token_hash').notNull(),
  personId: integer('person_id').references((): AnySQLiteColumn => people.id),
  role: text('role', { enum: ['owner', 'dyer', 'viewer'] }),
  labourRateMinorPerHour: integer('labour_rate_minor_per_hour'),
  note: text('note').notNull().default(''),
  madeAt: integer('made_at').notNull(),
  madeBy: integer('made_by')
    .notNull()
    .references((): AnySQLiteColumn => people.id),
  expiresAt: integer('expires_at').notNull(),
  usedAt: integer('used_at'),
  revokedAt: integer('revoked_at'),
});
export type InvitationRow = typeof invitations.$inferSelect;

export const auditEntries = sqliteTable('audit_entries', {
  id: integer('id').primaryKey(),
  at: integer('at').notNull(),
  personId: integer('person_id').references((): AnySQLiteColumn => people.id),
  tokenId: integer('token_id').references((): AnySQLiteColumn => apiTokens.id),
  door: text('door', { enum: ['page', 'api', 'command'] }).notNull(),
  action: text('action').notNull(),
  path: text('path').notNull().default(''),
  status: integer('status').notNull(),
  detail: text('detail').notNull().default(''),
  address: text('address').notNull().default(''),
});
export type AuditEntryRow = typeof auditEntries.$inferSelect;

export const restores = sqliteTable('restores', {
  id: integer('id').primaryKey(),
  restoredAt: integer('restored_at').notNull(),
  archive: text('archive').notNull(),
  archiveMadeAt: integer('archive_made_at').notNull(),
  keptIn: text('kept_in'),
  compared: integer('compared').notNull(),
  openedAt: integer('opened_at'),
  openedBy: integer('opened_by').references((): AnySQLiteColumn => people.id),
  settledAt: integer('settled_at'),
});
export type RestoreRow = typeof restores.$inferSelect;

export const restoredStandings = sqliteTable(
  'restored_standings',
  {
    restoreId: integer('restore_id')
      .notNull()
      .references((): AnySQLiteColumn => restores.id),
    ordinal: integer('ordinal').notNull(),
    name: text('name').notNull(),
    personId: integer('person_id').references((): AnySQLiteColumn => people.id),
    archiveRole: text('archive_role', { enum: ['owner', 'dyer', 'viewer', 'bench'] }),
    archiveActive: integer('archive_active'),
    replacedRole: text('replaced_role', { enum: ['owner', 'dyer', 'viewer', 'bench'] }),
    replacedActive: integer('replaced_active'),
  },
  (t) => [primaryKey({ columns: [t.restoreId, t.ordinal] })],
);
export type RestoredStandingRow = typeof restoredStandings.$inferSelect;
