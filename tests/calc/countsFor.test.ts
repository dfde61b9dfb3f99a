import { describe, expect, test } from 'vitest';
import { countsFor } from '../../server/calc/countsFor.ts';

const powderLine = { plannedMassMg: 10_000, concPpm: null, strengthPpm: 1_000_000 };
const solutionLine = { plannedMassMg: null, concPpm: 10_000, strengthPpm: 1_000_000 };
const jar = { massMg: null, volumeUl: null, stockLotStrengthPpm: 1_000_000, stockLotConcPpm: null };

describe('what a reading counts for', () => {
  // 1 % w/v is 1 g in 100 mL, so 10 mg in 1 mL: 1 000 mL hold 10 g. Common practice; the arithmetic stands beside each row.
  test.each([
    ['powder of the planned strength', powderLine, { massMg: 10_000 }, 10_000],
    [
      '10.00 g of a powder of 128 % are 12.80 g',
      powderLine,
      { massMg: 10_000, stockLotStrengthPpm: 1_280_000 },
      12_800,
    ],
    [
      'a line planned from 80 % takes 8 g of 100 % for 10 g',
      { ...powderLine, strengthPpm: 800_000 },
      { massMg: 8000 },
      10_000,
    ],
    ['500 mL of 1 % in a line of powder are 5 g', powderLine, { volumeUl: 500_000, stockLotConcPpm: 10_000 }, 5000],
    ['5 g of powder in a line of 1 % are 500 mL', solutionLine, { massMg: 5000 }, 500_000],
    [
      '250 mL of 2 % in a line of 1 % are 500 mL',
      solutionLine,
      { volumeUl: 250_000, stockLotConcPpm: 20_000 },
      500_000,
    ],
    [
      'and at 110 % strength 550 mL',
      solutionLine,
      { volumeUl: 250_000, stockLotConcPpm: 20_000, stockLotStrengthPpm: 1_100_000 },
      550_000,
    ],
    ['a liquid as bought goes by volume', { ...solutionLine, concPpm: null }, { volumeUl: 30_000 }, 30_000],
  ])('%s', (_, line, reading, expected) => {
    expect(countsFor(line, { ...jar, ...reading })).toBeCloseTo(expected, 6);
  });

  test('is linear in what was read', () => {
    const one = countsFor(solutionLine, { ...jar, volumeUl: 7000, stockLotConcPpm: 13_000 });
    const three = countsFor(solutionLine, { ...jar, volumeUl: 21_000, stockLotConcPpm: 13_000 });
    expect(three).toBeCloseTo(3 * one, 9);
  });
});
