import type { Show } from '../../views/kit/show.ts';
import type { Db } from '../db/open.ts';
import { theStudio } from './queries.ts';

/** How this studio wants quantities and times shown: what views are handed. */
export function showOf(db: Db): Show {
  const { units, currency, zone } = theStudio(db);
  return { units, currency, zone };
}
