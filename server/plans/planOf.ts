import type { LotRow } from '../db/tables/lots.ts';
import type { Plan } from './schemas.ts';

/** The plan as it was snapshot. */
export const planOf = (lot: Pick<LotRow, 'planJson'>): Plan => JSON.parse(lot.planJson) as Plan;
