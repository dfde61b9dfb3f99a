import { operation } from '../../http/routes.ts';
import { idParams } from '../../typedFields.ts';
import { repeatOf } from '../repeat.ts';
import { RepeatQuery, WeighUpResource } from '../schemas.ts';
import { swatchSheet } from '../sheet.ts';

export const scaleSwatch = operation({
  id: 'scaleSwatch',
  summary: 'What to weigh to repeat it on a mass of goods',
  params: idParams,
  query: RepeatQuery,
  answer: WeighUpResource,
  run: ({ db }, { params, query }) => {
    const { formula, method, swatch } = swatchSheet(db, params.id);
    const { massMg, fibreId = swatch.fibreId, depthPpm = swatch.depthPpm } = query;
    return repeatOf(db, { revision: formula, method }, { massMg, fibreId, depthPpm });
  },
});
