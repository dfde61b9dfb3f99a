import type { Db } from '../db/open.ts';
import { found } from '../errors.ts';
import { cupMassMg } from './cups.ts';
import { type AuxiliaryWithShelf, auxiliariesInUse, auxiliaryWithShelf } from './queries.ts';
import type { AuxiliaryOnShelf } from './schemas.ts';

const onShelf = ({ id, archivedAt, ...row }: AuxiliaryWithShelf): AuxiliaryOnShelf => ({
  ...row,
  auxiliaryId: id,
  archived: archivedAt !== null,
  unit: row.form === 'liquid' ? 'ul' : 'mg',
  cupMassMg: cupMassMg(row),
});

/** Every auxiliary in use, by name. */
export const listAuxiliaries = (db: Db): AuxiliaryOnShelf[] => auxiliariesInUse(db).map(onShelf);

export const theAuxiliary = (db: Db, auxiliaryId: number): AuxiliaryOnShelf =>
  onShelf(found(auxiliaryWithShelf(db, auxiliaryId), 'auxiliary'));
