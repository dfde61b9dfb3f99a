import { minimumMassMg, overWeighTargets, roundedWeighing } from '../calc/weighing.ts';
import { calculation } from './calculation.ts';
import { anyNumber, choice, fromZero, inputs, list, outputs, positive, upTo } from './fields.ts';

const repeatabilityAndMinimum = 'USP general chapter 41, repeatability and minimum weight';
const errorPct = upTo('Error allowed', '%', 100);
const readabilityMg = positive('Readability of the scale', 'mg');
const smallest = outputs({ minimumMassMg: anyNumber('Smallest mass to weigh', 'mg') });

export const weighing = {
  'rounded-weighing': calculation({
    summary: 'A mass as a scale can show it, and how far that is off',
    formula: "m' = round(m/r) · r, e ≤ 50 · r/m %",
    input: inputs({ massMg: positive('Mass', 'mg'), readabilityMg }),
    output: outputs({
      exactMg: anyNumber('Exact', 'mg'),
      roundedMg: anyNumber('As the scale shows it', 'mg'),
      roundingErrorPct: anyNumber('Error of the rounding', '%'),
      halfDigitErrorPct: anyNumber('Half a digit of the scale', '%'),
    }),
    example: { massMg: 2414, readabilityMg: 10 },
    calculate: roundedWeighing,
  }),
  'minimum-mass-of-repeatability': calculation({
    summary: 'Smallest mass that a scale weighs to an error, from the standard deviation of repeat weighings',
    formula: 'm_min = 2 · max(SD, 0.41 d) / (error/100)',
    source: repeatabilityAndMinimum,
    input: inputs({
      sdMg: positive('Standard deviation of ten or more weighings', 'mg'),
      readabilityMg: positive('Readability of the scale, for the floor of 0.41 digits', 'mg').optional(),
      errorPct,
    }),
    output: smallest,
    example: { sdMg: 0.02, readabilityMg: 0.01, errorPct: 0.1 },
    calculate: (input) => ({
      minimumMassMg: minimumMassMg({ ...input, readabilityMg: input.readabilityMg ?? 0, rule: 'repeatability' }),
    }),
  }),
  'minimum-mass-of-readability': calculation({
    summary: 'Smallest mass that a scale can weigh to an error at best, from its readability',
    formula: 'm_min = 2 · max(SD, 0.41 d) / (error/100)\nm_min = 50 · d / error',
    source: repeatabilityAndMinimum,
    input: inputs({
      readabilityMg,
      errorPct,
      rule: choice('Rule: 0.41 digits of repeatability, or half a digit', ['repeatability', 'halfDigit']),
    }),
    output: smallest,
    example: { readabilityMg: 10, errorPct: 1, rule: 'repeatability' },
    calculate: (input) => ({ minimumMassMg: minimumMassMg(input) }),
  }),
  'over-weighed-targets': calculation({
    summary: 'The targets that keep the hue once one of them was over-weighed',
    formula: 'k = max(actualᵢ/planᵢ), every target × k',
    input: inputs({
      lines: list(
        'Lines',
        null,
        inputs({
          plannedMassG: positive('Planned', 'g'),
          actualMassG: fromZero('Weighed so far, where it is', 'g').optional(),
        }),
      ),
    }),
    output: outputs({
      factor: anyNumber('Factor', null),
      targetMassesG: list('New targets', 'g', anyNumber('Target', 'g')),
    }),
    example: { lines: [{ plannedMassG: 4 }, { plannedMassG: 2.4, actualMassG: 2.52 }, { plannedMassG: 1.6 }] },
    calculate: ({ lines }) => {
      const { factor, targets } = overWeighTargets({
        lines: lines.map(({ plannedMassG, actualMassG }) => ({ planned: plannedMassG, actual: actualMassG })),
      });
      return { factor, targetMassesG: targets };
    },
  }),
};
