import { createHash, randomInt } from 'node:crypto';
import type { Deps } from '../deps.ts';
import { replaceRecoveryCodes, spendRecoveryCode } from './doorQueries.ts';
import { CODE_LETTERS } from './invitations.ts';

const CODES = 10;
const GROUPS = 3;
const GROUP_LETTERS = 5;

/** 15 letters of 31 are 74 bits: what is hashed is beyond guessing, so a plain hash will do. */
const hashOf = (personId: number, letters: string): string =>
  createHash('sha256').update(`${personId}:${letters}`).digest('hex');

const group = (): string =>
  Array.from({ length: GROUP_LETTERS }, () => CODE_LETTERS[randomInt(CODE_LETTERS.length)]).join('');

/** Ten codes for paper, each good for one sign-in when the phone is lost. Shown once; earlier ones end. */
export function makeRecoveryCodes({ db, now }: Pick<Deps, 'db' | 'now'>, personId: number): string[] {
  const codes = Array.from({ length: CODES }, () => Array.from({ length: GROUPS }, group).join('-'));
  const hashes = codes.map((code) => hashOf(personId, code.replaceAll('-', '')));
  db.transaction((tx) => replaceRecoveryCodes(tx, personId, hashes, now()));
  return codes;
}

/** Whether this is a code of the person’s that was not used yet; uses it up. */
export function spendPaperCode({ db, now }: Pick<Deps, 'db' | 'now'>, personId: number, typed: string): boolean {
  const letters = typed.toUpperCase().replace(/[^A-Z0-9]/g, '');
  return letters.length === GROUPS * GROUP_LETTERS && spendRecoveryCode(db, personId, hashOf(personId, letters), now());
}
