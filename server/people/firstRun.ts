import type { Deps } from '../deps.ts';
import { invalid, Refusal } from '../errors.ts';
import { findStudio, insertScale, insertStudio } from '../settings/queries.ts';
import { hashNewPassphrase } from './passphrase.ts';
import { insertPerson } from './queries.ts';
import type { FirstRunInput } from './schemas.ts';

/** Wrong codes from one address, and from all together, until the next start. A stranger at another address does not shut out who has
 *  the code, and whoever guesses has one chance in a thousand. */
const TRIES_AN_ADDRESS = 10;
const TRIES_IN_ALL = 1000;
const wrongCodes = new WeakMap<Deps, { inAll: number; byAddress: Map<string, number> }>();

/** Refuses whoever does not know the code that the server’s terminal shows. */
export function demandTerminalCode(deps: Deps, { code, address }: { code: string; address: string }): void {
  const wrong = wrongCodes.get(deps) ?? { inAll: 0, byAddress: new Map<string, number>() };
  const own = wrong.byAddress.get(address) ?? 0;
  if (own >= TRIES_AN_ADDRESS || wrong.inAll >= TRIES_IN_ALL)
    throw new Refusal('tooManyTries', 'Too many wrong codes. Restart the server for a new one.');
  if (code === deps.firstRunCode) return;
  wrong.inAll++;
  wrong.byAddress.set(address, own + 1);
  wrongCodes.set(deps, wrong);
  throw invalid({ code: 'That is not the code in the server’s terminal.' });
}

/** Sets the studio up, once. Answers the owner’s person id. */
export async function setUpStudio(deps: Deps, input: FirstRunInput): Promise<number> {
  if (findStudio(deps.db)) throw setUpAlready();
  const names = [input.ownerName, input.studioName];
  return foundStudio(deps, input, await hashNewPassphrase(deps, input.passphrase, names));
}

/** The same for a visitor, who needs the code of the terminal. Nothing about a connection proves that somebody sits at the server’s own
 *  machine: a proxy on it connects just so for the whole world. */
export function setUpByVisitor(deps: Deps, input: FirstRunInput, address: string): Promise<number> {
  if (findStudio(deps.db)) throw setUpAlready();
  demandTerminalCode(deps, { code: input.code ?? '', address });
  return setUpStudio(deps, input);
}

const setUpAlready = (): Refusal => new Refusal('conflict', 'This studio is set up already. Sign in instead.');

/** Writes the studio, its scale and its owner, once; answers the owner's person id. */
export function foundStudio(
  { db, now }: Deps,
  input: Omit<FirstRunInput, 'passphrase' | 'code'>,
  passphraseHash: string,
): number {
  return db.transaction((tx) => {
    if (findStudio(tx)) throw setUpAlready();
    insertStudio(tx, {
      name: input.studioName,
      currency: input.currency,
      zone: input.zone,
      units: input.units,
      labourRateMinorPerHour: 0,
      overheadRateMinorPerHour: 0,
      weighingTolerancePpm: 20_000,
      weighingFloorPpm: 10_000,
      stockConcPpm: 10_000,
      costing: 'specific',
      sample: input.sample ? 1 : 0,
      createdAt: now(),
    });
    insertScale(tx, { name: 'Dye scale', readabilityMg: input.readabilityMg, capacityMg: null, isDefault: 1 });
    return insertPerson(tx, {
      name: input.ownerName,
      role: 'owner',
      passphraseHash,
      labourRateMinorPerHour: null,
      active: 1,
      createdAt: now(),
    }).id;
  });
}
