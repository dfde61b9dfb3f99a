import { z } from 'zod';
import { operation } from '../../http/routes.ts';
import { idParams } from '../../typedFields.ts';
import { ShadeCostResource } from '../schemas.ts';
import { changeBetween, shadeSeries } from '../shade.ts';

export const getShadeCost = operation({
  id: 'getShadeCost',
  summary: 'What a kilogram of a shade cost, lot by lot; with earlier and later, why it changed',
  params: idParams,
  query: z.object({
    earlier: z.coerce.number().int().positive().optional(),
    later: z.coerce.number().int().positive().optional(),
  }),
  answer: ShadeCostResource,
  run: ({ db }, { query, params }) => {
    const { earlier, later } = query;
    const { name, lots } = shadeSeries(db, params.id);
    const change = earlier !== undefined && later !== undefined ? changeBetween(db, lots, earlier, later) : null;
    return {
      name,
      lots,
      change: change && {
        earlierMinorPerKg: change.earlierMinorPerKg,
        laterMinorPerKg: change.laterMinorPerKg,
        differenceMinor: change.differenceMinor,
        lines: change.lines,
      },
    };
  },
});
