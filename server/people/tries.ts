import type { Deps } from '../deps.ts';
import { Refusal } from '../errors.ts';
import { failedTries, insertTry, type TriedBy } from './doorQueries.ts';
import { markAttemptSucceeded } from './queries.ts';

/* Guessing at a door. A device that was let in there before has tries of its own, so that strangers who try the same name hold nobody up
 * but each other (OWASP, Blocking Brute Force Attacks: device cookies). */

export const WINDOW_MS = 15 * 60_000;
/** Failures of a door, of all strangers together or of one known device. */
export const DOOR_TRIES = 6;
/** A name is no longer; what is typed in its place may be. */
export const LONGEST_ACCOUNT = 80;
/** Failures of strangers from one address, whatever the doors. */
const ADDRESS_TRIES = 30;

/** Makes a try at a door: `check` answers undefined when it fails. Counted as failed before the check, which may be slow, so that tries sent
 *  all at once are counted as well. */
export async function tried<T>(
  { db, now }: Pick<Deps, 'db' | 'now'>,
  by: TriedBy,
  limits: { own?: number; words: string },
  check: () => T | undefined | Promise<T | undefined>,
): Promise<T | undefined> {
  const failed = failedTries(db, by, now() - WINDOW_MS);
  if (failed.own >= (limits.own ?? DOOR_TRIES) || (by.deviceHash === null && failed.address >= ADDRESS_TRIES))
    throw new Refusal('tooManyTries', limits.words);
  const id = insertTry(db, by, now());
  const found = await check();
  if (found !== undefined) markAttemptSucceeded(db, id);
  return found;
}
