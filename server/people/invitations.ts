import { randomBytes, randomInt } from 'node:crypto';
import type { InvitationRow, PersonRow } from '../db/tables/studio.ts';
import type { Actor, Deps } from '../deps.ts';
import { invalid, notFound, Refusal } from '../errors.ts';
import { theStudio } from '../settings/queries.ts';
import { forgetOtherDevices, isKnownDevice } from './doorQueries.ts';
import { demandTokensSaid, type TokensThen } from './members.ts';
import { hashNewPassphrase } from './passphrase.ts';
import {
  insertInvitation,
  insertPerson,
  liveInvitation,
  personById,
  personByName,
  revokeInvitationsOf,
  revokeOtherSignIns,
  revokeTokensOf,
  spendInvitation,
  updatePerson,
} from './queries.ts';
import { tokenHash } from './signIn.ts';
import { tried } from './tries.ts';

const HOUR_MS = 3_600_000;
export const INVITATION_HOURS = 72;
export const PASSPHRASE_LINK_HOURS = 24;
export const BENCH_CODE_MINUTES = 10;
const CODE_TRIES = 10;

/** Letters and digits that cannot be taken for one another when read off a screen. */
export const CODE_LETTERS = '23456789ABCDEFGHJKMNPQRSTUVWXYZ';
const CODE_LENGTH = 8;

const secret = (): string => randomBytes(32).toString('base64url');

/** Invites somebody; answers the secret of the one-time link, which is kept only as a hash. */
export function invite(
  { db, now }: Deps,
  input: { role: 'owner' | 'dyer' | 'viewer'; labourRateMinorPerHour: number | null; note: string },
  by: Actor,
): string {
  const token = secret();
  insertInvitation(db, {
    ...input,
    kind: 'person',
    tokenHash: tokenHash(token),
    madeAt: now(),
    madeBy: by.personId,
    expiresAt: now() + INVITATION_HOURS * HOUR_MS,
  });
  return token;
}

/** A one-time link by which a person who lost the passphrase chooses another. Earlier links of theirs end. */
export function passphraseLink({ db, now }: Deps, personId: number, by: Actor): string {
  const person = activePerson(personById(db, personId));
  if (person.role === 'bench') throw new Refusal('conflict', 'A bench device has no passphrase: make a code for it.');
  const token = secret();
  db.transaction((tx) => {
    revokeInvitationsOf(tx, person.id, now());
    insertInvitation(tx, {
      kind: 'passphrase',
      tokenHash: tokenHash(token),
      personId: person.id,
      madeAt: now(),
      madeBy: by.personId,
      expiresAt: now() + PASSPHRASE_LINK_HOURS * HOUR_MS,
    });
  });
  return token;
}

/** Adds a bench device as a person of its own, so that the log can name it. */
export const addBenchDevice = ({ db, now }: Deps, name: string): PersonRow =>
  insertPerson(db, {
    name,
    role: 'bench',
    passphraseHash: null,
    labourRateMinorPerHour: null,
    active: 1,
    createdAt: now(),
  });

/** A short code that signs a bench device in, once and soon. Earlier codes of the device end. */
export function benchCode({ db, now }: Deps, personId: number, by: Actor): string {
  const person = activePerson(personById(db, personId));
  if (person.role !== 'bench') throw new Refusal('conflict', 'Only a bench device signs in by a code.');
  const code = Array.from({ length: CODE_LENGTH }, () => CODE_LETTERS[randomInt(CODE_LETTERS.length)]).join('');
  db.transaction((tx) => {
    revokeInvitationsOf(tx, person.id, now());
    insertInvitation(tx, {
      kind: 'bench',
      tokenHash: tokenHash(code),
      personId: person.id,
      madeAt: now(),
      madeBy: by.personId,
      expiresAt: now() + BENCH_CODE_MINUTES * 60_000,
    });
  });
  return `${code.slice(0, 4)}-${code.slice(4)}`;
}

function activePerson(person: PersonRow | undefined): PersonRow {
  if (!person) throw notFound('person');
  if (person.active !== 1)
    throw new Refusal('conflict', `${person.name} is no longer active. Let them in again first.`);
  return person;
}

/** The invitation behind a link; refuses one that was used, revoked or ran out in the same words as one that never was. */
export function invitationOf({ db, now }: Deps, token: string): InvitationRow {
  const invitation = liveInvitation(db, tokenHash(token), now());
  if (!invitation || invitation.kind === 'bench') {
    throw new Refusal('notFound', 'This link was used already, or its time is over. Ask the owner for another.');
  }
  return invitation;
}

/** Takes up an invitation: the person is there from now on, with name and passphrase of their own choice. Answers who it is. */
export async function acceptInvitation(
  deps: Deps,
  token: string,
  input: { name: string; passphrase: string },
): Promise<number> {
  const { db, now } = deps;
  const invitation = invitationOf(deps, token);
  const { role } = invitation;
  if (invitation.kind !== 'person' || role === null) throw notFound('invitation');
  if (personByName(db, input.name)) throw invalid({ name: 'Somebody has that name already. Add a letter to yours.' });
  const passphraseHash = await hashNewPassphrase(deps, input.passphrase, [input.name, theStudio(db).name]);
  return db.transaction((tx) => {
    const person = insertPerson(tx, {
      name: input.name,
      role,
      passphraseHash,
      labourRateMinorPerHour: invitation.labourRateMinorPerHour,
      active: 1,
      createdAt: now(),
    });
    if (!spendInvitation(tx, invitation.id, now(), person.id)) throw usedMeanwhile();
    return person.id;
  });
}

/** Sets the passphrase that a link was made for, and ends every sign-in of the person, and the tokens as was said. Answers who it is: a
 *  second step that they have is still asked for. */
export async function acceptPassphraseLink(
  deps: Deps,
  token: string,
  input: { passphrase: string; tokens?: TokensThen },
): Promise<number> {
  const { db, now } = deps;
  const invitation = invitationOf(deps, token);
  const { personId } = invitation;
  if (invitation.kind !== 'passphrase' || personId === null) throw notFound('invitation');
  const person = activePerson(personById(db, personId));
  demandTokensSaid(deps, personId, input.tokens);
  const passphraseHash = await hashNewPassphrase(deps, input.passphrase, [person.name, theStudio(db).name]);
  db.transaction((tx) => {
    if (!spendInvitation(tx, invitation.id, now(), personId)) throw usedMeanwhile();
    updatePerson(tx, personId, { passphraseHash });
    revokeOtherSignIns(tx, personId, '', now());
    forgetOtherDevices(tx, personId, '');
    if (input.tokens === 'end') revokeTokensOf(tx, personId, now());
  });
  return personId;
}

const usedMeanwhile = (): Refusal =>
  new Refusal('conflict', 'This link was used meanwhile. Ask the owner for another.');

/** Whose bench device the code on the owner's screen stands for; uses it up. Guesses are counted by address, and by device where
 *  somebody was let in on it before. */
export async function enterByCode(
  deps: Deps,
  input: { code: string; address: string; deviceHash: string | null },
): Promise<number> {
  const { db, now } = deps;
  const isKnown = input.deviceHash !== null && isKnownDevice(db, input.deviceHash, null);
  const by = {
    account: isKnown ? 'bench code' : `bench code from ${input.address}`,
    address: input.address,
    deviceHash: isKnown ? input.deviceHash : null,
  };
  const words = 'Too many wrong codes. Wait a quarter of an hour, then ask for a new one.';
  const personId = await tried(deps, by, { own: CODE_TRIES, words }, () => {
    const code = input.code.toUpperCase().replace(/[^A-Z0-9]/g, '');
    const invitation = liveInvitation(db, tokenHash(code), now());
    const person = invitation?.personId == null ? undefined : personById(db, invitation.personId);
    if (invitation?.kind !== 'bench' || person?.active !== 1) return undefined;
    if (!spendInvitation(db, invitation.id, now(), person.id)) throw usedMeanwhile();
    return person.id;
  });
  if (personId === undefined)
    throw invalid({ code: 'That is not a code that is open now. It lasts ten minutes and works once.' });
  return personId;
}
