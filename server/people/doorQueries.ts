import { and, asc, eq, isNull, lt, ne, sql } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import {
  type CodeAppRow,
  codeApps,
  type KeptAnswerRow,
  keptAnswers,
  knownDevices,
  type PasskeyRow,
  passkeys,
  recoveryCodes,
} from '../db/tables/doors.ts';
import { signInAttempts } from '../db/tables/studio.ts';

// ───────────── tries ─────────────
export interface TriedBy {
  /** Whose door it is. */
  account: string;
  address: string;
  /** The hash of a device that was let in through this door before; null for a stranger's. */
  deviceHash: string | null;
}

/** Failed tries since `since`. Of a device that was let in before its own since its last success; of a stranger those of all strangers
 *  at this door since one of them got in, and those from the address. */
export function failedTries(
  db: Db,
  { account, address, deviceHash }: TriedBy,
  since: number,
): { own: number; address: number } {
  const device = deviceHash === null ? sql`device_hash is null` : sql`device_hash = ${deviceHash}`;
  const row = db.get<{ own: number; address: number }>(sql`select
    (select count(*) from sign_in_attempts where account = ${account} and ${device} and succeeded = 0 and at > ${since}
      and id > coalesce((select max(id) from sign_in_attempts where account = ${account} and ${device} and succeeded = 1), 0)) as own,
    (select count(*) from sign_in_attempts where address = ${address} and device_hash is null and succeeded = 0 and at > ${since}) as address`);
  return row ?? { own: 0, address: 0 };
}

export const insertTry = (db: Db, by: TriedBy, at: number): number =>
  db
    .insert(signInAttempts)
    .values({ ...by, at, succeeded: 0 })
    .returning({ id: signInAttempts.id })
    .get().id;

// ───────────── devices that were let in before ─────────────
/** Whether somebody signed in on this device before: this person, or anybody with null. */
export const isKnownDevice = (db: Db, tokenHash: string, personId: number | null): boolean =>
  db
    .select({ at: knownDevices.lastAt })
    .from(knownDevices)
    .where(
      and(eq(knownDevices.tokenHash, tokenHash), personId === null ? undefined : eq(knownDevices.personId, personId)),
    )
    .get() !== undefined;

export const rememberDevice = (db: Db, tokenHash: string, personId: number, at: number): void => {
  db.insert(knownDevices)
    .values({ tokenHash, personId, knownAt: at, lastAt: at })
    .onConflictDoUpdate({ target: [knownDevices.tokenHash, knownDevices.personId], set: { lastAt: at } })
    .run();
};

/** Forgets the devices of a person but the one with this hash. */
export const forgetOtherDevices = (db: Db, personId: number, exceptHash: string): void => {
  db.delete(knownDevices)
    .where(and(eq(knownDevices.personId, personId), ne(knownDevices.tokenHash, exceptHash)))
    .run();
};

export const forgetDevicesBefore = (db: Db, at: number): void => {
  db.delete(knownDevices).where(lt(knownDevices.lastAt, at)).run();
};

// ───────────── the second step ─────────────
export const hasSecondStep = (db: Db, personId: number): boolean =>
  db.get<{ has: number }>(sql`select exists (select 1 from passkeys where person_id = ${personId})
    or exists (select 1 from code_apps where person_id = ${personId} and confirmed_at is not null) as has`)?.has === 1;

export const passkeysOf = (db: Db, personId: number): PasskeyRow[] =>
  db.select().from(passkeys).where(eq(passkeys.personId, personId)).orderBy(asc(passkeys.id)).all();

export const insertPasskey = (db: Db, row: Omit<PasskeyRow, 'id' | 'lastUsedAt'>): void => {
  db.insert(passkeys).values(row).run();
};

export const notePasskeyUse = (db: Db, id: number, useCount: number, lastUsedAt: number): void => {
  db.update(passkeys).set({ useCount, lastUsedAt }).where(eq(passkeys.id, id)).run();
};

export const deletePasskey = (db: Db, personId: number, id: number): boolean =>
  db
    .delete(passkeys)
    .where(and(eq(passkeys.personId, personId), eq(passkeys.id, id)))
    .run().changes === 1;

export const codeAppOf = (db: Db, personId: number): CodeAppRow | undefined =>
  db.select().from(codeApps).where(eq(codeApps.personId, personId)).get();

/** Puts a secret in the place of one that was never confirmed; false when there is a confirmed one. */
export const beginCodeApp = (db: Db, personId: number, sealedSecret: string, begunAt: number): boolean => {
  db.delete(codeApps)
    .where(and(eq(codeApps.personId, personId), isNull(codeApps.confirmedAt)))
    .run();
  return db.insert(codeApps).values({ personId, sealedSecret, begunAt }).onConflictDoNothing().run().changes === 1;
};

/** Uses a time step up, once; false when it, or a later one, was used before. */
export const spendStep = (db: Db, personId: number, step: number): boolean =>
  db
    .update(codeApps)
    .set({ lastStep: step })
    .where(and(eq(codeApps.personId, personId), lt(codeApps.lastStep, step)))
    .run().changes === 1;

export const confirmCodeApp = (db: Db, personId: number, confirmedAt: number): void => {
  db.update(codeApps).set({ confirmedAt }).where(eq(codeApps.personId, personId)).run();
};

export const deleteCodeApp = (db: Db, personId: number): boolean =>
  db.delete(codeApps).where(eq(codeApps.personId, personId)).run().changes === 1;

export const recoveryCodesLeft = (db: Db, personId: number): number =>
  db.get<{ n: number }>(sql`select count(*) as n from recovery_codes where person_id = ${personId} and used_at is null`)
    ?.n ?? 0;

/** Puts new codes in the place of all that there were. */
export const replaceRecoveryCodes = (db: Db, personId: number, hashes: readonly string[], madeAt: number): void => {
  db.delete(recoveryCodes).where(eq(recoveryCodes.personId, personId)).run();
  for (const codeHash of hashes) db.insert(recoveryCodes).values({ personId, codeHash, madeAt }).run();
};

/** Uses a code up, once; false when there is no such code (any more). */
export const spendRecoveryCode = (db: Db, personId: number, codeHash: string, usedAt: number): boolean =>
  db
    .update(recoveryCodes)
    .set({ usedAt })
    .where(
      and(eq(recoveryCodes.personId, personId), eq(recoveryCodes.codeHash, codeHash), isNull(recoveryCodes.usedAt)),
    )
    .run().changes === 1;

/** Ends every second step of a person, its codes on paper too. */
export function endSecondStep(db: Db, personId: number): void {
  db.delete(passkeys).where(eq(passkeys.personId, personId)).run();
  db.delete(codeApps).where(eq(codeApps.personId, personId)).run();
  db.delete(recoveryCodes).where(eq(recoveryCodes.personId, personId)).run();
}

/** The same for everybody, with every device that was let in before. */
export function endEverySecondStep(db: Db): void {
  for (const table of [passkeys, codeApps, recoveryCodes, knownDevices]) db.delete(table).run();
}

// ───────────── answers that are given a second time ─────────────
export const keptAnswer = (db: Db, personId: number, key: string, since: number): KeptAnswerRow | undefined =>
  db
    .select()
    .from(keptAnswers)
    .where(and(eq(keptAnswers.personId, personId), eq(keptAnswers.key, key), sql`${keptAnswers.begunAt} > ${since}`))
    .get();

export const beginAnswer = (db: Db, row: Omit<KeptAnswerRow, 'status' | 'body'>): void => {
  db.insert(keptAnswers).values(row).run();
};

export const keepAnswer = (db: Db, personId: number, key: string, answer: { status: number; body: string }): void => {
  db.update(keptAnswers)
    .set(answer)
    .where(and(eq(keptAnswers.personId, personId), eq(keptAnswers.key, key)))
    .run();
};

export const dropAnswer = (db: Db, personId: number, key: string): void => {
  db.delete(keptAnswers)
    .where(and(eq(keptAnswers.personId, personId), eq(keptAnswers.key, key), isNull(keptAnswers.status)))
    .run();
};

export const dropAnswersBefore = (db: Db, at: number): void => {
  db.delete(keptAnswers).where(sql`${keptAnswers.begunAt} <= ${at}`).run();
};
