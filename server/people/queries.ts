import { and, desc, eq, gt, isNotNull, isNull, or, sql } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import { ready } from '../db/ready.ts';
import {
  type ApiTokenRow,
  type AuditEntryRow,
  apiTokens,
  auditEntries,
  type InvitationRow,
  invitations,
  type PersonRow,
  people,
  type RestoredStandingRow,
  type RestoreRow,
  restoredStandings,
  restores,
  signInAttempts,
  signIns,
} from '../db/tables/studio.ts';

const personOfId = ready((db) =>
  db
    .select()
    .from(people)
    .where(eq(people.id, sql.placeholder('personId')))
    .prepare(),
);
export const personById = (db: Db, personId: number): PersonRow | undefined => personOfId(db).get({ personId });

export const personByName = (db: Db, name: string): PersonRow | undefined =>
  db.select().from(people).where(sql`${people.name} = ${name} collate nocase`).get();

export const listPeople = (db: Db): PersonRow[] => db.select().from(people).orderBy(people.name).all();

export const insertPerson = (db: Db, person: Omit<PersonRow, 'id'>): PersonRow =>
  db.insert(people).values(person).returning().get();

const liveSignIn = ready((db) =>
  db
    .select({ person: people, lastSeenAt: signIns.lastSeenAt })
    .from(signIns)
    .innerJoin(people, eq(people.id, signIns.personId))
    .where(
      and(
        eq(signIns.tokenHash, sql.placeholder('tokenHash')),
        gt(signIns.expiresAt, sql.placeholder('now')),
        isNull(signIns.revokedAt),
        eq(people.active, 1),
      ),
    )
    .prepare(),
);
/** The person behind a live sign-in and when it was last seen, or undefined. */
export const personOfSignIn = (
  db: Db,
  tokenHash: string,
  now: number,
): { person: PersonRow; lastSeenAt: number } | undefined => liveSignIn(db).get({ tokenHash, now });

export const insertSignIn = (db: Db, row: typeof signIns.$inferInsert): void => {
  db.insert(signIns).values(row).run();
};

export const touchSignIn = (db: Db, tokenHash: string, now: number): void => {
  db.update(signIns).set({ lastSeenAt: now }).where(eq(signIns.tokenHash, tokenHash)).run();
};

export const revokeSignIn = (db: Db, tokenHash: string, now: number): void => {
  db.update(signIns).set({ revokedAt: now }).where(eq(signIns.tokenHash, tokenHash)).run();
};

export const markAttemptSucceeded = (db: Db, attemptId: number): void => {
  db.update(signInAttempts).set({ succeeded: 1 }).where(eq(signInAttempts.id, attemptId)).run();
};

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

export const touchToken = (db: Db, tokenId: number, now: number): void => {
  db.update(apiTokens).set({ lastUsedAt: now }).where(eq(apiTokens.id, tokenId)).run();
};

// ───────────── people and their sign-ins ─────────────
export const updatePerson = (
  db: Db,
  personId: number,
  changes: Partial<Pick<PersonRow, 'name' | 'role' | 'passphraseHash' | 'labourRateMinorPerHour' | 'active'>>,
): void => {
  db.update(people).set(changes).where(eq(people.id, personId)).run();
};

export interface PersonOverview extends Omit<PersonRow, 'passphraseHash'> {
  hasPassphrase: boolean;
  liveSignIns: number;
  lastSeenAt: number | null;
}

/** Everybody with how many devices they are signed in on; those who left come last. */
export const peopleOverview = (db: Db, now: number): PersonOverview[] =>
  db
    .all<Omit<PersonOverview, 'hasPassphrase'> & { hasPassphrase: number }>(
      sql`select p.id, p.name, p.role, p.labour_rate_minor_per_hour as "labourRateMinorPerHour", p.active, p.created_at as "createdAt",
        p.passphrase_hash is not null as "hasPassphrase",
        (select count(*) from sign_ins s where s.person_id = p.id and s.revoked_at is null and s.expires_at > ${now}) as "liveSignIns",
        (select max(last_seen_at) from sign_ins s where s.person_id = p.id) as "lastSeenAt"
      from people p order by p.active desc, p.role = 'bench', p.name collate nocase`,
    )
    .map((row) => ({ ...row, hasPassphrase: row.hasPassphrase === 1 }));

/** Owners who may still sign in, but for one person. */
export const otherActiveOwners = (db: Db, personId: number): number =>
  db.get<{ n: number }>(sql`select count(*) as n from people where role = 'owner' and active = 1 and id <> ${personId}`)
    ?.n ?? 0;

/** A sign-in as a page names it: by the beginning of its token's hash, which opens nothing. */
export const SIGN_IN_KEY_LENGTH = 16;

export interface SignInOverview {
  key: string;
  device: string;
  createdAt: number;
  lastSeenAt: number;
  expiresAt: number;
  current: boolean;
}

/** Live sign-ins of a person, the latest used first; `current` marks the one with this hash. */
export const signInsOf = (db: Db, personId: number, now: number, currentHash: string): SignInOverview[] =>
  db
    .all<Omit<SignInOverview, 'current'> & { current: number }>(
      sql`select substr(token_hash, 1, ${SIGN_IN_KEY_LENGTH}) as key, device, created_at as "createdAt", last_seen_at as "lastSeenAt",
        expires_at as "expiresAt", token_hash = ${currentHash} as current
      from sign_ins where person_id = ${personId} and revoked_at is null and expires_at > ${now} order by last_seen_at desc`,
    )
    .map((row) => ({ ...row, current: row.current === 1 }));

export const revokeSignInOf = (db: Db, personId: number, key: string, now: number): number =>
  db
    .update(signIns)
    .set({ revokedAt: now })
    .where(
      and(
        eq(signIns.personId, personId),
        isNull(signIns.revokedAt),
        sql`substr(${signIns.tokenHash}, 1, ${SIGN_IN_KEY_LENGTH}) = ${key}`,
      ),
    )
    .run().changes;

/** Ends every sign-in of a person but the one with this hash. */
export const revokeOtherSignIns = (db: Db, personId: number, exceptHash: string, now: number): number =>
  db
    .update(signIns)
    .set({ revokedAt: now })
    .where(and(eq(signIns.personId, personId), isNull(signIns.revokedAt), sql`${signIns.tokenHash} <> ${exceptHash}`))
    .run().changes;

/** The tokens of a person that open something now, the latest first. */
export const liveTokensOf = (db: Db, personId: number, now: number): ApiTokenRow[] =>
  db
    .select()
    .from(apiTokens)
    .where(
      and(
        eq(apiTokens.personId, personId),
        isNull(apiTokens.revokedAt),
        or(isNull(apiTokens.expiresAt), gt(apiTokens.expiresAt, now)),
      ),
    )
    .orderBy(desc(apiTokens.id))
    .all();

export const revokeTokensOf = (db: Db, personId: number, now: number): void => {
  db.update(apiTokens)
    .set({ revokedAt: now })
    .where(and(eq(apiTokens.personId, personId), isNull(apiTokens.revokedAt)))
    .run();
};

// ───────────── invitations ─────────────
export const insertInvitation = (db: Db, row: typeof invitations.$inferInsert): InvitationRow =>
  db.insert(invitations).values(row).returning().get();

const isLive = (now: number) =>
  and(isNull(invitations.usedAt), isNull(invitations.revokedAt), gt(invitations.expiresAt, now));

/** The invitation with this hash that may still be used. */
export const liveInvitation = (db: Db, hash: string, now: number): InvitationRow | undefined =>
  db
    .select()
    .from(invitations)
    .where(and(eq(invitations.tokenHash, hash), isLive(now)))
    .get();

export const listLiveInvitations = (db: Db, now: number): (InvitationRow & { personName: string | null })[] =>
  db
    .select({ invitation: invitations, personName: people.name })
    .from(invitations)
    .leftJoin(people, eq(people.id, invitations.personId))
    .where(isLive(now))
    .orderBy(desc(invitations.id))
    .all()
    .map((row) => ({ ...row.invitation, personName: row.personName }));

/** Uses an invitation up; false when it was used, revoked or ran out meanwhile. */
export const spendInvitation = (db: Db, invitationId: number, now: number, personId: number): boolean =>
  db
    .update(invitations)
    .set({ usedAt: now, personId })
    .where(and(eq(invitations.id, invitationId), isLive(now)))
    .run().changes === 1;

export const revokeInvitation = (db: Db, invitationId: number, now: number): number =>
  db
    .update(invitations)
    .set({ revokedAt: now })
    .where(and(eq(invitations.id, invitationId), isLive(now)))
    .run().changes;

export const revokeInvitationsOf = (db: Db, personId: number, now: number): void => {
  db.update(invitations)
    .set({ revokedAt: now })
    .where(and(eq(invitations.personId, personId), isLive(now)))
    .run();
};

// ───────────── after a restore ─────────────
/** Ends every sign-in, token, link and code, and every passphrase, whoever’s it is. The second steps are doorQueries’. */
export function endEveryWayIn(db: Db, now: number): void {
  db.update(signIns).set({ revokedAt: now }).where(isNull(signIns.revokedAt)).run();
  db.update(apiTokens).set({ revokedAt: now }).where(isNull(apiTokens.revokedAt)).run();
  db.update(invitations)
    .set({ revokedAt: now })
    .where(and(isNull(invitations.usedAt), isNull(invitations.revokedAt)))
    .run();
  db.update(people).set({ passphraseHash: null }).run();
}

export function insertRestore(
  db: Db,
  row: Omit<RestoreRow, 'id' | 'openedAt' | 'openedBy' | 'settledAt'>,
  standings: readonly {
    name: string;
    personId: number | null;
    archive: Pick<PersonRow, 'role' | 'active'> | null;
    replaced: Pick<PersonRow, 'role' | 'active'> | null;
  }[],
): void {
  const { id: restoreId } = db.insert(restores).values(row).returning({ id: restores.id }).get();
  for (const [i, { name, personId, archive, replaced }] of standings.entries()) {
    db.insert(restoredStandings)
      .values({
        restoreId,
        ordinal: i + 1,
        name,
        personId,
        archiveRole: archive?.role ?? null,
        archiveActive: archive?.active ?? null,
        replacedRole: replaced?.role ?? null,
        replacedActive: replaced?.active ?? null,
      })
      .run();
  }
}

/** How this studio last came out of an archive; undefined when it never did. */
export const latestRestore = (db: Db): RestoreRow | undefined =>
  db.select().from(restores).orderBy(desc(restores.id)).limit(1).get();

/** Whose standing differed then, with what it is now. */
export const standingsOf = (
  db: Db,
  restoreId: number,
): (RestoredStandingRow & { role: PersonRow['role'] | null; active: number | null })[] =>
  db
    .select({ standing: restoredStandings, role: people.role, active: people.active })
    .from(restoredStandings)
    .leftJoin(people, eq(people.id, restoredStandings.personId))
    .where(eq(restoredStandings.restoreId, restoreId))
    .orderBy(restoredStandings.ordinal)
    .all()
    .map(({ standing, ...now }) => ({ ...standing, ...now }));

const theLatest = sql`${restores.id} = (select max(id) from restores)`;

/** Opens the restored studio; false when somebody else has opened it meanwhile. */
export const openRestore = (db: Db, personId: number, now: number): boolean =>
  db
    .update(restores)
    .set({ openedAt: now, openedBy: personId })
    .where(and(theLatest, isNull(restores.openedAt)))
    .run().changes === 1;

/** False when it was settled before, or nothing is to be settled. */
export const settleRestore = (db: Db, now: number): boolean =>
  db
    .update(restores)
    .set({ settledAt: now })
    .where(and(theLatest, isNotNull(restores.openedAt), isNull(restores.settledAt)))
    .run().changes === 1;

/** On how many people an owner has still to look; null when nothing is to be settled. */
export const unsettledStandings = (db: Db): number | null =>
  db.get<
    { n: number } | undefined
  >(sql`select count(s.ordinal) as n from restores r left join restored_standings s on s.restore_id = r.id
    where r.id = (select max(id) from restores) and r.settled_at is null group by r.id`)?.n ?? null;

// ───────────── audit ─────────────
export const insertAudit = (db: Db, row: typeof auditEntries.$inferInsert): void => {
  db.insert(auditEntries).values(row).run();
};

export interface AuditLine extends AuditEntryRow {
  personName: string | null;
  tokenName: string | null;
}

/** What was done, the latest first, before an entry and by one person where wanted. */
export const auditBefore = (
  db: Db,
  filter: { personId: number | null; before: number | null },
  limit: number,
): AuditLine[] =>
  db
    .select({ entry: auditEntries, personName: people.name, tokenName: apiTokens.name })
    .from(auditEntries)
    .leftJoin(people, eq(people.id, auditEntries.personId))
    .leftJoin(apiTokens, eq(apiTokens.id, auditEntries.tokenId))
    .where(
      and(
        filter.personId === null ? undefined : eq(auditEntries.personId, filter.personId),
        filter.before === null ? undefined : sql`${auditEntries.id} < ${filter.before}`,
      ),
    )
    .orderBy(desc(auditEntries.id))
    .limit(limit)
    .all()
    .map(({ entry, ...names }) => ({ ...entry, ...names }));
