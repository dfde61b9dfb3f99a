import type { Deps } from '../deps.ts';
import { dayOf } from './days.ts';
import { theStudio } from './queries.ts';

/** The day that it is in the studio: 'YYYY-MM-DD'. */
export const today = ({ db, now }: Pick<Deps, 'db' | 'now'>): string => dayOf(now(), theStudio(db).zone);
