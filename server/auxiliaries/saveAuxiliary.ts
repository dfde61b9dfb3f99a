import type { Db } from '../db/open.ts';
import { invalid, stale } from '../errors.ts';
import { hasContainers, updateAuxiliary } from './queries.ts';
import type { Auxiliary, AuxiliaryInput } from './schemas.ts';

/** Saves an auxiliary against the version that was read. The ledger of a container counts in mg or µL, so the form stands once
 *  there is one. */
export function saveAuxiliary(db: Db, auxiliary: Auxiliary, input: AuxiliaryInput, version: number): void {
  const { auxiliaryId, form } = auxiliary;
  if (input.form !== form && hasContainers(db, auxiliaryId)) {
    throw invalid({ form: `Its containers are counted as ${form}; add another auxiliary for the ${input.form}.` });
  }
  if (!updateAuxiliary(db, auxiliaryId, input, version)) throw stale('auxiliary');
}
