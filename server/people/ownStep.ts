import type { Deps } from '../deps.ts';
import { Refusal } from '../errors.ts';
import { findStudio } from '../settings/queries.ts';
import { deleteCodeApp, deletePasskey, endSecondStep, hasSecondStep, recoveryCodesLeft } from './doorQueries.ts';
import { personById, revokeOtherSignIns } from './queries.ts';
import { makeRecoveryCodes } from './recoveryCodes.ts';

/* One's own second step is changed by who has just typed the passphrase: a device that lies about signed in is not enough. That is
 * remembered in memory, for the sign-in and a few minutes. */

const OPEN_MINUTES = 10;

interface Opening {
  until: number;
  /** What a passkey that is being made has to sign. */
  challenge: string | null;
}

const openings = new WeakMap<Deps, Map<string, Opening>>();
function openingsOf(deps: Deps): Map<string, Opening> {
  const all = openings.get(deps) ?? new Map<string, Opening>();
  openings.set(deps, all);
  for (const [key, { until }] of all) if (until <= deps.now()) all.delete(key);
  return all;
}

export function openChanges(deps: Deps, signInHash: string): void {
  openingsOf(deps).set(signInHash, { until: deps.now() + OPEN_MINUTES * 60_000, challenge: null });
}

export const mayChange = (deps: Deps, signInHash: string): boolean => openingsOf(deps).has(signInHash);

export function demandOpen(deps: Deps, signInHash: string): Opening {
  const opening = openingsOf(deps).get(signInHash);
  if (!opening) throw new Refusal('conflict', 'Type your passphrase first.');
  return opening;
}

/** What follows when somebody has got a second step: where it is the first, codes for paper, which are shown once; and the other devices,
 *  which came in without, are signed out. */
export function afterAdding(deps: Deps, personId: number, signInHash: string): string[] | null {
  revokeOtherSignIns(deps.db, personId, signInHash, deps.now());
  return recoveryCodesLeft(deps.db, personId) > 0 ? null : makeRecoveryCodes(deps, personId);
}

/** Takes a passkey or the app away. With the last one go the codes on paper. */
export function takeAway(deps: Deps, personId: number, what: { passkeyId: number } | 'app'): void {
  const { db } = deps;
  db.transaction((tx) => {
    const isGone = what === 'app' ? deleteCodeApp(tx, personId) : deletePasskey(tx, personId, what.passkeyId);
    if (!isGone) throw new Refusal('notFound', 'That was taken away already.');
    if (hasSecondStep(tx, personId)) return;
    if (findStudio(tx)?.secondStepForOwners === 1 && personById(tx, personId)?.role === 'owner')
      throw new Refusal(
        'conflict',
        'Owners of this studio need a second step. Add another before you take this one away.',
      );
    endSecondStep(tx, personId);
  });
}
