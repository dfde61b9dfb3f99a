import type { Db } from '../db/open.ts';
import type { PersonRow } from '../db/tables/studio.ts';
import type { Actor, Deps } from '../deps.ts';
import { found, invalid, Refusal } from '../errors.ts';
import { setSecondStepForOwners, theStudio } from '../settings/queries.ts';
import { endSecondStep, forgetOtherDevices, hasSecondStep } from './doorQueries.ts';
import { hashNewPassphrase, verifyPassphrase } from './passphrase.ts';
import {
  liveTokensOf,
  otherActiveOwners,
  personById,
  personByName,
  revokeInvitationsOf,
  revokeOtherSignIns,
  revokeTokensOf,
  updatePerson,
} from './queries.ts';
import { tried } from './tries.ts';

/** Saves name, role and rate. A bench device stays one, and somebody must remain who may do everything. */
export function changePerson(
  db: Db,
  personId: number,
  input: { name: string; role?: 'owner' | 'dyer' | 'viewer' | undefined; labourRate: number | null },
): void {
  db.transaction((tx) => {
    const person = found(personById(tx, personId), 'person');
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
    const person = found(personById(tx, personId), 'person');
    if (active) {
      updatePerson(tx, personId, { active: 1 });
      return;
    }
    if (person.role === 'owner') demandAnotherOwner(tx, personId, '');
    updatePerson(tx, personId, { active: 0 });
    revokeOtherSignIns(tx, personId, '', now());
    revokeTokensOf(tx, personId, now());
    revokeInvitationsOf(tx, personId, now());
    forgetOtherDevices(tx, personId, '');
  });
}

function demandAnotherOwner(db: Db, personId: number, field: string): void {
  if (otherActiveOwners(db, personId) === 0) {
    throw invalid({ [field]: 'This is the only owner. Make somebody else an owner first.' });
  }
}

/** Checks that somebody who is signed in knows their own passphrase, before what matters is changed. Strangers at the door do not count
 *  here, nor does this there. */
export async function demandPassphrase(
  deps: Pick<Deps, 'db' | 'now'>,
  personId: number,
  current: string,
  from: { address: string; signInHash: string },
): Promise<PersonRow> {
  const person = found(personById(deps.db, personId), 'person');
  if (person.role === 'bench') throw new Refusal('conflict', 'A bench device has no passphrase.');
  // The sign-in stands in the place of the device: it has been let in.
  const by = { account: `own passphrase of ${personId}`, address: from.address, deviceHash: from.signInHash };
  const words = 'Too many wrong tries. Wait a quarter of an hour, then try again.';
  const isRight = await tried(deps, by, { words }, async () =>
    (await verifyPassphrase(current, person.passphraseHash, 'known')) ? true : undefined,
  );
  if (!isRight) throw invalid({ current: 'That is not your passphrase.' });
  return person;
}

/** What becomes of a person's API tokens when their passphrase changes: asked, since either may be meant. */
export type TokensThen = 'end' | 'keep' | undefined;

/** Refuses while it is not said what becomes of the tokens, where there are some. */
export function demandTokensSaid({ db, now }: Pick<Deps, 'db' | 'now'>, personId: number, tokens: TokensThen): void {
  if (tokens === undefined && liveTokensOf(db, personId, now()).length > 0)
    throw invalid({ tokens: 'Say whether these tokens go on.' });
}

/** Changes one's own passphrase; every other sign-in of the person ends, and the tokens as was said. */
export async function changePassphrase(
  deps: Deps,
  personId: number,
  input: { current: string; passphrase: string; tokens?: TokensThen },
  from: { address: string; signInHash: string; deviceHash: string | null },
): Promise<void> {
  const { db, now } = deps;
  const person = await demandPassphrase(deps, personId, input.current, from);
  if (input.passphrase === input.current) throw invalid({ passphrase: 'That is the old one.' });
  demandTokensSaid(deps, personId, input.tokens);
  const passphraseHash = await hashNewPassphrase(deps, input.passphrase, [person.name, theStudio(db).name]);
  db.transaction((tx) => {
    updatePerson(tx, personId, { passphraseHash });
    revokeOtherSignIns(tx, personId, from.signInHash, now());
    forgetOtherDevices(tx, personId, from.deviceHash ?? '');
    if (input.tokens === 'end') revokeTokensOf(tx, personId, now());
  });
}

/** An owner ends the second step of somebody who has lost phone and paper. One's own is ended on one's own page, with the passphrase. */
export function endSecondStepOf({ db, now }: Pick<Deps, 'db' | 'now'>, personId: number, by: Actor): void {
  const person = found(personById(db, personId), 'person');
  if (person.id === by.personId) throw new Refusal('conflict', 'Your own second step is changed on your own page.');
  db.transaction((tx) => {
    endSecondStep(tx, person.id);
    revokeOtherSignIns(tx, person.id, '', now());
  });
}

/** Whether owners have to have a second step. Who asks it of the others has one. */
export function demandOfOwners({ db }: Pick<Deps, 'db'>, isRequired: boolean, by: Actor): void {
  if (isRequired && !hasSecondStep(db, by.personId))
    throw invalid({ required: 'Set up your own second step first: this would shut you out.' });
  setSecondStepForOwners(db, isRequired);
}
