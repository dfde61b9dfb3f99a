import { createHash, randomBytes } from 'node:crypto';
import type { Db } from '../db/open.ts';
import type { PersonRow } from '../db/tables/studio.ts';
import type { Deps } from '../deps.ts';
import { Refusal } from '../errors.ts';
import { verifyPassphrase } from './passphrase.ts';
import {
  dropAttemptsBefore,
  failedAttempts,
  insertAttempt,
  insertSignIn,
  insertToken,
  markAttemptSucceeded,
  personByName,
} from './queries.ts';

export const SIGN_IN_DAYS = 30;
export const WINDOW_MS = 15 * 60_000;
export const ACCOUNT_TRIES = 6;
const ADDRESS_TRIES = 30;

export const tokenHash = (token: string): string => createHash('sha256').update(token).digest('hex');

/** Checks name and passphrase and opens a sign-in; answers the token for the cookie. Failures are counted by account and
 *  by address, and further tries refused for a quarter of an hour. */
export async function signIn(
  deps: Deps,
  input: { name: string; passphrase: string; address: string; device: string },
): Promise<{ token: string; person: PersonRow }> {
  const { db, now } = deps;
  const account = input.name.trim().toLowerCase();
  const tries = failedAttempts(db, { account, address: input.address, since: now() - WINDOW_MS });
  if (tries.account >= ACCOUNT_TRIES || tries.address >= ADDRESS_TRIES) {
    throw new Refusal('tooManyTries', 'Too many failed tries. Wait a quarter of an hour, then try again.');
  }
  // Counted as failed before the slow check, so that tries sent all at once are counted as well.
  const attemptId = insertAttempt(db, { account, address: input.address, at: now(), succeeded: 0 });
  const person = personByName(db, input.name.trim());
  const right = await verifyPassphrase(input.passphrase, person?.active ? person.passphraseHash : null);
  if (right) markAttemptSucceeded(db, attemptId);
  if (!right || !person)
    throw new Refusal('wrongPassphrase', 'Name and passphrase do not match.', {
      passphrase: 'Name and passphrase do not match.',
    });
  dropAttemptsBefore(db, now() - 30 * 24 * 3_600_000);
  return { token: openSignIn(deps, person.id, input.device), person };
}

/** Opens a sign-in for a person already known to be that person. Only the token's hash is stored. */
export function openSignIn({ db, now }: { db: Db; now: Deps['now'] }, personId: number, device: string): string {
  const token = randomBytes(32).toString('base64url');
  insertSignIn(db, {
    tokenHash: tokenHash(token),
    personId,
    createdAt: now(),
    lastSeenAt: now(),
    expiresAt: now() + SIGN_IN_DAYS * 24 * 3_600_000,
    device: device.slice(0, 200),
  });
  return token;
}

/** Makes an API token, answered once in clear and stored hashed. */
export function makeToken(
  { db, now }: Deps,
  input: { name: string; scope: 'read' | 'write'; expiresAt: number | null },
  personId: number,
): { token: string; tokenId: number } {
  const token = `ls_${randomBytes(30).toString('base64url')}`;
  const row = insertToken(db, {
    name: input.name,
    scope: input.scope,
    expiresAt: input.expiresAt,
    personId,
    tokenHash: tokenHash(token),
    createdAt: now(),
  });
  return { token, tokenId: row.id };
}
