import { and, desc, eq, gt, isNull, sql } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import { type ApiTokenRow, apiTokens, type PersonRow, people, signInAttempts, signIns } from '../db/tables/studio.ts';

export const personById = (db: Db, personId: number): PersonRow | undefined =>
  db.select().from(people).where(eq(people.id, personId)).get();

export const personByName = (db: Db, name: string): PersonRow | undefined =>
  db.select().from(people).where(sql`${people.name} = ${name} collate nocase`).get();

export const listPeople = (db: Db): PersonRow[] => db.select().from(people).orderBy(people.name).all();

export const insertPerson = (db: Db, person: Omit<PersonRow, 'id'>): PersonRow =>
  db.insert(people).values(person).returning().get();

/** The person behind a live sign-in, or undefined. */
export const personOfSignIn = (db: Db, tokenHash: string, now: number): PersonRow | undefined =>
  db
    .select({ person: people })
    .from(signIns)
    .innerJoin(people, eq(people.id, signIns.personId))
    .where(
      and(
        eq(signIns.tokenHash, tokenHash),
        gt(signIns.expiresAt, now),
        isNull(signIns.revokedAt),
        eq(people.active, 1),
      ),
    )
    .get()?.person;

export const insertSignIn = (db: Db, row: typeof signIns.$inferInsert): void => {
  db.insert(signIns).values(row).run();
};

export const touchSignIn = (db: Db, tokenHash: string, now: number, every: number): void => {
  db.update(signIns)
    .set({ lastSeenAt: now })
    .where(and(eq(signIns.tokenHash, tokenHash), sql`${signIns.lastSeenAt} < ${now - every}`))
    .run();
};

export const revokeSignIn = (db: Db, tokenHash: string, now: number): void => {
  db.update(signIns).set({ revokedAt: now }).where(eq(signIns.tokenHash, tokenHash)).run();
};

export const insertAttempt = (db: Db, row: typeof signInAttempts.$inferInsert): number =>
  db.insert(signInAttempts).values(row).returning({ id: signInAttempts.id }).get().id;

export const markAttemptSucceeded = (db: Db, attemptId: number): void => {
  db.update(signInAttempts).set({ succeeded: 1 }).where(eq(signInAttempts.id, attemptId)).run();
};

/** Failed sign-ins since `since`, by account (after its last success) and by address. */
export function failedAttempts(
  db: Db,
  by: { account: string; address: string; since: number },
): { account: number; address: number } {
  const row = db.get<{ account: number; address: number }>(sql`select
    (select count(*) from sign_in_attempts where account = ${by.account} and succeeded = 0 and at > max(${by.since},
      coalesce((select max(at) from sign_in_attempts where account = ${by.account} and succeeded = 1), 0))) as account,
    (select count(*) from sign_in_attempts where address = ${by.address} and succeeded = 0 and at > ${by.since}) as address`);
  return row ?? { account: 0, address: 0 };
}

export const dropAttemptsBefore = (db: Db, at: number): void => {
  db.delete(signInAttempts).where(sql`${signInAttempts.at} < ${at}`).run();
};

export const listTokens = (db: Db): (ApiTokenRow & { personName: string })[] =>
  db
    .select({ token: apiTokens, personName: people.name })
    .from(apiTokens)
    .innerJoin(people, eq(people.id, apiTokens.personId))
    .where(isNull(apiTokens.revokedAt))
    .orderBy(desc(apiTokens.id))
    .all()
    .map((row) => ({ ...row.token, personName: row.personName }));

export const insertToken = (db: Db, row: typeof apiTokens.$inferInsert): ApiTokenRow =>
  db.insert(apiTokens).values(row).returning().get();

export const revokeToken = (db: Db, tokenId: number, now: number): number =>
  db
    .update(apiTokens)
    .set({ revokedAt: now })
    .where(and(eq(apiTokens.id, tokenId), isNull(apiTokens.revokedAt)))
    .run().changes;

/** The live token with this hash and its person. */
export const liveToken = (
  db: Db,
  tokenHash: string,
  now: number,
): { token: ApiTokenRow; person: PersonRow } | undefined =>
  db
    .select({ token: apiTokens, person: people })
    .from(apiTokens)
    .innerJoin(people, eq(people.id, apiTokens.personId))
    .where(
      and(
        eq(apiTokens.tokenHash, tokenHash),
        isNull(apiTokens.revokedAt),
        sql`coalesce(${apiTokens.expiresAt}, ${now} + 1) > ${now}`,
        eq(people.active, 1),
      ),
    )
    .get();

export const touchToken = (db: Db, tokenId: number, now: number, every: number): void => {
  db.update(apiTokens)
    .set({ lastUsedAt: now })
    .where(and(eq(apiTokens.id, tokenId), sql`coalesce(${apiTokens.lastUsedAt}, 0) < ${now - every}`))
    .run();
};
