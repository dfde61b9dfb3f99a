import { deltaE76, deltaE2000, deltaECmc } from '../calc/colour/deltaE.ts';
import { conditionsOf, demandSameConditions, sameConditions } from '../calc/colour/reading.ts';
import { differenceInWords } from '../calc/colour/tolerance.ts';
import type { ColourReadingRow } from '../db/tables/swatches.ts';

type Formula = 'CIEDE2000' | 'CMC(2:1)' | 'CMC(1:1)' | 'CIE76' | 'by eye';

/** A lot's reading held against the standard's, in words with the formula's name. Readings of unlike conditions are not
 *  compared: it says so instead. `limitMilli` is the order's tolerance in thousandths. */
export function shadeCheck(input: {
  standard: ColourReadingRow;
  standardName: string;
  sample: ColourReadingRow;
  formula: Formula | null;
  limitMilli: number | null;
}): string {
  const { standard, sample, standardName } = input;
  const [std, smp] = [conditionsOf(standard), conditionsOf(sample)];
  if (!sameConditions(std, smp))
    return `Not compared with ${standardName}: it was read under another light or observer.`;
  demandSameConditions({ standard: std, sample: smp });
  const pair = {
    standard: { L: standard.l, a: standard.a, b: standard.b },
    sample: { L: sample.l, a: sample.a, b: sample.b },
  };
  const formula = input.formula === null || input.formula === 'by eye' ? 'CIEDE2000' : input.formula;
  const value =
    formula === 'CIEDE2000'
      ? deltaE2000(pair)
      : formula === 'CIE76'
        ? deltaE76(pair)
        : deltaECmc({ ...pair, l: formula === 'CMC(2:1)' ? 2 : 1, c: 1 });
  const verdict =
    input.limitMilli === null || input.formula === 'by eye'
      ? differenceInWords({ deltaE2000: deltaE2000(pair) })
      : value <= input.limitMilli / 1000
        ? `within the tolerance of ${input.limitMilli / 1000}`
        : `outside the tolerance of ${input.limitMilli / 1000}`;
  return `${formula} ${value.toFixed(2)} from ${standardName}: ${verdict}`;
}
