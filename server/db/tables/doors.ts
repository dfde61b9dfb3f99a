import { type AnySQLiteColumn, integer, primaryKey, sqliteTable, text } from 'drizzle-orm/sqlite-core';
import { people } from './studio.ts';

const personId = () =>
  integer('person_id')
    .notNull()
    .references((): AnySQLiteColumn => people.id);

export const knownDevices = sqliteTable(
  'known_devices',
  {
    tokenHash: text('token_hash').notNull(),
    personId: personId(),
    knownAt: integer('known_at').notNull(),
    lastAt: integer('last_at').notNull(),
  },
  (t) => [primaryKey({ columns: [t.tokenHash, t.personId] })],
);

export const passkeys = sqliteTable('passkeys', {
  id: integer('id').primaryKey(),
  personId: personId(),
  name: text('name').notNull(),
  hostName: text('host_name').notNull(),
  credentialId: text('credential_id').notNull(),
  publicKey: text('public_key').notNull(),
  useCount: integer('use_count').notNull(),
  transportsJson: text('transports_json').notNull(),
  addedAt: integer('added_at').notNull(),
  lastUsedAt: integer('last_used_at'),
});
export type PasskeyRow = typeof passkeys.$inferSelect;

export const codeApps = sqliteTable('code_apps', {
  personId: integer('person_id')
    .primaryKey()
    .references((): AnySQLiteColumn => people.id),
  sealedSecret: text('sealed_secret').notNull(),
  begunAt: integer('begun_at').notNull(),
  confirmedAt: integer('confirmed_at'),
  lastStep: integer('last_step').notNull().default(0),
});
export type CodeAppRow = typeof codeApps.$inferSelect;

export const recoveryCodes = sqliteTable(
  'recovery_codes',
  {
    personId: personId(),
    codeHash: text('code_hash').notNull(),
    madeAt: integer('made_at').notNull(),
    usedAt: integer('used_at'),
  },
  (t) => [primaryKey({ columns: [t.personId, t.codeHash] })],
);

export const keptAnswers = sqliteTable(
  'kept_answers',
  {
    personId: personId(),
    key: text('key').notNull(),
    digest: text('digest').notNull(),
    begunAt: integer('begun_at').notNull(),
    status: integer('status'),
    body: text('body'),
  },
  (t) => [primaryKey({ columns: [t.personId, t.key] })],
);
export type KeptAnswerRow = typeof keptAnswers.$inferSelect;
