import { createHash, randomBytes } from 'node:crypto';
import type { Db } from '../db/open.ts';
import type { PersonRow } from '../db/tables/studio.ts';
import type { Deps } from '../deps.ts';
import { Refusal } from '../errors.ts';
import { forgetDevicesBefore, isKnownDevice } from './doorQueries.ts';
import { verifyPassphrase } from './passphrase.ts';
import { dropAttemptsBefore, insertSignIn, insertToken, personByName } from './queries.ts';
import { LONGEST_ACCOUNT, tried } from './tries.ts';

export const SIGN_IN_DAYS = 30;
const DAY_MS = 24 * 3_600_000;
/** Tries are of no use after a month. */
const TRIES_KEPT_DAYS = 30;
/** Browsers keep a cookie no longer. */
export const DEVICE_DAYS = 400;

export const tokenHash = (token: string): string => createHash('sha256').update(token).digest('hex');

/** Checks name and passphrase; answers whose they are. Failures are counted, and further tries refused for a quarter of an hour: of this device
 *  when it was let in under this name before, else of all strangers together, and by address. */
export async function signIn(
  deps: Deps,
  input: { name: string; passphrase: string; address: string; deviceHash: string | null },
): Promise<PersonRow> {
  const { db, now } = deps;
  const person = personByName(db, input.name.trim());
  const isKnown = person !== undefined && input.deviceHash !== null && isKnownDevice(db, input.deviceHash, person.id);
  const by = {
    account: input.name.trim().toLowerCase().slice(0, LONGEST_ACCOUNT),
    address: input.address,
    deviceHash: isKnown ? input.deviceHash : null,
  };
  const words = 'Too many failed tries. Wait a quarter of an hour, then try again.';
  const entered = await tried(deps, by, { words }, async () => {
    const hash = person?.active ? person.passphraseHash : null;
    return (await verifyPassphrase(input.passphrase, hash, isKnown ? 'known' : 'strangers')) ? person : undefined;
  });
  if (!entered)
    throw new Refusal('wrongPassphrase', 'Name and passphrase do not match.', {
      passphrase: 'Name and passphrase do not match.',
    });
  dropAttemptsBefore(db, now() - TRIES_KEPT_DAYS * DAY_MS);
  forgetDevicesBefore(db, now() - DEVICE_DAYS * DAY_MS);
  return entered;
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
