import type { Deps } from '../deps.ts';
import { invalid, Refusal } from '../errors.ts';
import { findStudio, insertScale, insertStudio } from '../settings/queries.ts';
import { hashPassphrase } from './passphrase.ts';
import { insertPerson } from './queries.ts';
import type { FirstRunInput } from './schemas.ts';

const MAX_CODE_TRIES = 10;
const wrongCodes = new WeakMap<Deps, number>();

/** Refuses whoever does not know the code that the server’s terminal shows. Ten wrong ones close the door until the next start. */
export function demandTerminalCode(deps: Deps, code: string): void {
  const tries = wrongCodes.get(deps) ?? 0;
  if (tries >= MAX_CODE_TRIES)
    throw new Refusal('tooManyTries', 'Too many wrong codes. Restart the server for a new one.');
  if (code === deps.firstRunCode) return;
  wrongCodes.set(deps, tries + 1);
  throw invalid({ code: 'That is not the code in the server’s terminal.' });
}

/** Sets the studio up, once. `codeNeeded` when the visitor is not at the server's own machine.
 *  Answers the owner's person id. */
export async function setUpStudio(deps: Deps, input: FirstRunInput, codeNeeded: boolean): Promise<number> {
  const { db } = deps;
  if (findStudio(db)) throw new Refusal('conflict', 'This studio is set up already. Sign in instead.');
  if (codeNeeded) demandTerminalCode(deps, input.code ?? '');
  return foundStudio(deps, input, await hashPassphrase(input.passphrase));
}

/** Writes the studio, its scale and its owner, once; answers the owner's person id. */
export function foundStudio(
  { db, now }: Deps,
  input: Omit<FirstRunInput, 'passphrase' | 'code'>,
  passphraseHash: string,
): number {
  return db.transaction((tx) => {
    if (findStudio(tx)) throw new Refusal('conflict', 'This studio is set up already. Sign in instead.');
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
