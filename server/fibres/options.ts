import type { Option } from '../../views/kit/field.ts';
import type { Db } from '../db/open.ts';
import { listFibres } from './queries.ts';

/** The goods to choose from on a form. */
export const fibreOptions = (db: Db): Option[] =>
  listFibres(db).map(({ id, name }) => ({ value: String(id), label: name }));
