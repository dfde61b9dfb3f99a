import { describe, expect, test } from 'vitest';
import { doubtWords, hasUnit, readingAmount, readingDoubts } from '../../server/calc/plausibleReading.ts';

/** Common practice; every figure is worked out by hand beside it. Amounts in mg or µL. */
describe('a reading that is hard to believe', () => {
  const line = { target: 6100, actual: 0, onHand: 214_000, step: 100 };
  test.each([
    [
      '610 mL for 6.1 mL with 214 mL left: beyond both, digits of 6.1 with the point two places on',
      610_000,
      {},
      ['beyondContainer', 'beyondLine', 'decimalSlip'],
    ],
    ['61 mL: ten times what is wanted', 61_000, {}, ['beyondLine', 'decimalSlip']],
    ['0.61 mL: a tenth of it', 610, {}, ['decimalSlip']],
    ['0.61 mL where 6.0 is wanted: 6.1 / 6.0 is 1.7 % off, the same digits', 610, { target: 6000 }, ['decimalSlip']],
    ['0.61 mL where 5.9 is wanted: 3.4 % off, a reading like any other', 610, { target: 5900 }, []],
    ['6.1 mL as asked', 6100, {}, []],
    ['6.6 mL: over-weighed, which has its ways out', 6600, {}, []],
    ['12.3 mL: twice, as when two phones weigh one line', 12_300, {}, []],
    ['18.4 mL: 18.4 ≤ 3 · 6.1 + 0.1', 18_400, {}, []],
    ['18.5 mL: more than three times', 18_500, {}, ['beyondLine']],
    ['12.5 mL on 6.1 in the cup: 18.6 together', 12_500, { actual: 6100 }, ['beyondLine']],
    ['1.0 mL of a jar with 0.9 mL left: 1.0 ≤ 1.05 · 0.9 + 0.1', 1000, { onHand: 900 }, []],
    ['1.1 mL of a jar with 0.9 mL left: 1.1 > 1.045', 1100, { onHand: 900 }, ['beyondContainer']],
    ['anything of a jar that is below nothing by its card', 6100, { onHand: -396_000 }, ['beyondContainer']],
    ['a tenth of the last 0.5 mL: too little to tell', 50, { actual: 5600 }, []],
    ['more of a line that wants nothing is judged by the cup', 600, { actual: 6100 }, []],
    ['a line that wants nothing at all', 600, { target: 0 }, []],
  ])('%s', (_, amount, more, doubts) => {
    expect(readingDoubts({ ...line, ...more, amount })).toEqual(doubts);
  });

  test('the question says what was typed, what the container holds and what is wanted', () => {
    const reading = { ...line, amount: 610_000 };
    expect(
      doubtWords({ doubts: readingDoubts(reading), reading, unit: 'ul', name: 'Hip red', container: 'R-1-S1' }),
    ).toBe(
      '610 mL? R-1-S1 holds 214.0 mL by its card, and Hip red wants 6.1 mL. Is the point in the right place? If it is right, confirm it.',
    );
    const empty = { target: 4800, actual: 0, onHand: -10, step: 10, amount: 4800 };
    expect(
      doubtWords({ doubts: readingDoubts(empty), reading: empty, unit: 'mg', name: 'Hip red', container: 'R-1' }),
    ).toBe('4.8 g? R-1 is empty by its card. If it is right, confirm it.');
  });

  test.each([0, -1, Number.NaN, Number.POSITIVE_INFINITY])('%d is no reading', (amount) => {
    expect(() => readingDoubts({ ...line, amount })).toThrow(/amount/);
  });
});

describe('a typed reading fits its container', () => {
  test.each([
    ['6.1', 'mg', 6100],
    ['6.1 g', 'mg', 6100],
    ['610 mg', 'mg', 610],
    ['6.1', 'ul', 6100],
    ['6.1 mL', 'ul', 6100],
    ['0.0061 L', 'ul', 6100],
  ] as const)('%s from a container in %s is %d', (text, unit, amount) => {
    expect(readingAmount({ text, unit, container: 'R-1' })).toBe(amount);
  });
  test('a unit of the other kind is refused in words', () => {
    expect(() => readingAmount({ text: '6.1 mL', unit: 'mg', container: 'R-1' })).toThrow(
      '“6.1 mL” is a volume, and R-1 is weighed',
    );
    expect(() => readingAmount({ text: ' 30 g', unit: 'ul', container: 'R-1-S1' })).toThrow(
      '“30 g” is a mass, and R-1-S1 is measured by volume',
    );
    expect(() => readingAmount({ text: 'a spoon', unit: 'mg', container: 'R-1' })).toThrow(/a spoon/);
    expect([hasUnit('6.1'), hasUnit('6,1 '), hasUnit('6.1g'), hasUnit('6 µL')]).toEqual([false, false, true, true]);
  });
});
