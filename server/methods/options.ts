import type { Option } from '../../views/kit/field.ts';
import type { Db } from '../db/open.ts';
import { listMethods } from './queries.ts';

/** The methods to choose from on a form. */
export const methodOptions = (db: Db): Option[] =>
  listMethods(db).map(({ id, name }) => ({ value: String(id), label: name }));
