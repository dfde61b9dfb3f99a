import type { Lab } from '../calc/colour/reading.ts';
import type { Deps } from '../deps.ts';
import { invalid } from '../errors.ts';
import type { App } from '../http/app.ts';
import { comparedUnder, conditionsAt, formulaInWords, nearestFormula, nearTo } from './near.ts';
import { NearQuery, NearResource } from './schemas.ts';
import { standardOf } from './standard.ts';

export const labResource = ({ L, a, b }: Lab) => ({ l: L, a, b });

export function nearApi(app: App, deps: Deps): void {
  const { db } = deps;
  app.get(
    '/swatches/near',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'findNearSwatches',
        tags: ['Swatches'],
        summary: 'The swatches nearest to a colour',
        description:
          'The colour: `colour` (typed), or `lightness`, `chroma`, `hue`, or `swatchId`, or `lotId`. It is the standard of the difference. Exact: what comparing with every reading gives; of variegated goods the nearest colour counts.',
        querystring: NearQuery,
        response: { 200: NearResource },
      },
    },
    async (request) => {
      const q = request.query;
      const standard = standardOf(db, q);
      if (!standard)
        throw invalid({ colour: 'Say which colour: colour, or lightness, chroma and hue, or swatchId, or lotId.' });
      const formula = nearestFormula(q.formula, q);
      const under = q.under === undefined ? standard.conditions : conditionsAt(q.under);
      const { labCompared, hits, adaptation } = nearTo(db, {
        standard,
        under,
        formula,
        filter: { ...q, inStockForMassMg: q.stockForMassMg },
        count: q.count,
      });
      return {
        standard: {
          of: standard.of,
          lab: labResource(standard.lab),
          illuminant: standard.conditions.illuminant,
          observer: standard.conditions.observerDeg === 2 ? ('2' as const) : ('10' as const),
          labCompared: labResource(labCompared),
          hex: standard.hex,
          inGamut: standard.inGamut,
          name: standard.name,
          plusMinus: standard.plusMinus,
        },
        formula: formulaInWords(formula),
        under: comparedUnder(under),
        adaptation,
        near: hits.map(({ towards: _towards, lab, ...hit }) => ({ ...hit, lab: labResource(lab) })),
      };
    },
  );
}
