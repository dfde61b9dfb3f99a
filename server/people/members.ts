import type { Db } from '../db/open.ts';
import type { PersonRow } from '../db/tables/studio.ts';
import type { Deps } from '../deps.ts';
import { invalid, notFound, Refusal } from '../errors.ts';
import { hashPassphrase, verifyPassphrase } from './passphrase.ts';
import {
  failedAttempts,
  insertAttempt,
  markAttemptSucceeded,
  otherActiveOwners,
  personById,
  personByName,
  revokeInvitationsOf,
  revokeOtherSignIns,
  revokeTokensOf,
  updatePerson,
} from './queries.ts';
import { ACCOUNT_TRIES, WINDOW_MS } from './signIn.ts';

function found(person: PersonRow | undefined): PersonRow {
  if (!person) throw notFound('person');
  return person;
}

/** Saves name, role and rate. A bench device stays one, and somebody must remain who may do everything. */
export function changePerson(
  db: Db,
  personId: number,
  input: { name: string; role?: 'owner' | 'dyer' | 'viewer' | undefined; labourRate: number | null },
): void {
  db.transaction((tx) => {
    const person = found(personById(tx, personId));
    const namesake = personByName(tx, input.name);
    if (namesake && namesake.id !== personId) throw invalid({ name: 'Somebody else has that name.' });
    const role = person.role === 'bench' ? 'bench' : (input.role ?? person.role);
    if (person.role === 'owner' && person.active === 1 && role !== 'owner') demandAnotherOwner(tx, personId, 'role');
    updatePerson(tx, personId, { name: input.name, role, labourRateMinorPerHour: input.labourRate });
  });
}

/** Lets a person in no more, or in again. Their work stays under their name; every way in that they had ends at once. */
export function setActive({ db, now }: Deps, personId: number, active: boolean): void {
  db.transaction((tx) => {
    const person = found(personById(tx, personId));
    if (active) {
      updatePerson(tx, personId, { active: 1 });
      return;
    }
    if (person.role === 'owner') demandAnotherOwner(tx, personId, '');
    updatePerson(tx, personId, { active: 0 });
    revokeOtherSignIns(tx, personId, '', now());
    revokeTokensOf(tx, personId, now());
    revokeInvitationsOf(tx, personId, now());
  });
}

function demandAnotherOwner(db: Db, personId: number, field: string): void {
  if (otherActiveOwners(db, personId) === 0) {
    throw invalid({ [field]: 'This is the only owner. Make somebody else an owner first.' });
  }
}

/** Changes one's own passphrase; every other sign-in of the person ends. Wrong tries count as at the door. */
export async function changePassphrase(
  { db, now }: Deps,
  personId: number,
  input: { current: string; passphrase: string },
  from: { address: string; signInHash: string },
): Promise<void> {
  const person = found(personById(db, personId));
  if (person.role === 'bench') throw new Refusal('conflict', 'A bench device has no passphrase.');
  const account = person.name.trim().toLowerCase();
  const tries = failedAttempts(db, { account, address: from.address, since: now() - WINDOW_MS });
  if (tries.account >= ACCOUNT_TRIES) {
    throw new Refusal('tooManyTries', 'Too many wrong tries. Wait a quarter of an hour, then try again.');
  }
  const attemptId = insertAttempt(db, { account, address: from.address, at: now(), succeeded: 0 });
  if (!(await verifyPassphrase(input.current, person.passphraseHash))) {
    throw invalid({ current: 'That is not your passphrase.' });
  }
  markAttemptSucceeded(db, attemptId);
  if (input.passphrase === input.current) throw invalid({ passphrase: 'That is the old one.' });
  const passphraseHash = await hashPassphrase(input.passphrase);
  db.transaction((tx) => {
    updatePerson(tx, personId, { passphraseHash });
    revokeOtherSignIns(tx, personId, from.signInHash, now());
  });
}
