import { keptConditions, keptLab } from '../../calc/colour/reading.ts';
import { invalid } from '../../errors.ts';
import { operation } from '../../http/routes.ts';
import { comparedUnder, conditionsAt, formulaInWords, nearestFormula, nearTo } from '../near.ts';
import { NearQuery, NearResource } from '../schemas.ts';
import { standardOf } from '../standard.ts';

export const findNearSwatches = operation({
  id: 'findNearSwatches',
  summary: 'The swatches nearest to a colour',
  description:
    'The colour: `colour` (typed), or `lightness`, `chroma`, `hue`, or `swatchId`, or `lotId`. It is the standard of the difference. Exact: what comparing with every reading gives; of variegated goods the nearest colour counts.',
  query: NearQuery,
  answer: NearResource,
  run: ({ db }, { query }) => {
    const standard = standardOf(db, query);
    if (!standard)
      throw invalid({ colour: 'Say which colour: colour, or lightness, chroma and hue, or swatchId, or lotId.' });
    const formula = nearestFormula(query.formula, query);
    const under = query.under === undefined ? standard.conditions : conditionsAt(query.under);
    const { labCompared, hits, adaptation } = nearTo(db, {
      standard,
      under,
      formula,
      filter: { ...query, inStockForMassMg: query.stockForMassMg },
      count: query.count,
    });
    const { of, hex, inGamut, name, plusMinus } = standard;
    return {
      standard: {
        of,
        lab: keptLab(standard.lab),
        ...keptConditions(standard.conditions),
        labCompared: keptLab(labCompared),
        hex,
        inGamut,
        name,
        plusMinus,
      },
      formula: formulaInWords(formula),
      under: comparedUnder(under),
      adaptation,
      near: hits.map(({ towards: _towards, lab, ...hit }) => ({ ...hit, lab: keptLab(lab) })),
    };
  },
});
