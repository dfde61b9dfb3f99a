import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CalcError } from '../../server/calc/calcError.ts';
import {
  costMinor,
  largestRemainder,
  minorUnitDecimals,
  nearestInteger,
  roundedLines,
  roundedToStep,
} from '../../server/calc/rounding.ts';

const field = 'massMg';

describe('rounding', () => {
  test.each([
    [2.5, 3],
    [-2.5, -3],
    [0.1 + 0.2, 0],
    [1.005 * 100, 101],
    [0.145 * 100, 15],
    [1e15, 1e15],
    [999_999_999_999.4, 999_999_999_999],
  ])('nearest integer of %d is %d: a decimal half stays a half', (value, expected) => {
    expect(nearestInteger({ value, field })).toBe(expected);
  });

  test('0.145 g on a 0.01 g scale is 0.15 g, although its double is a hair under', () => {
    expect(roundedToStep({ value: 0.145 * 1000, step: 10, field })).toBe(150);
  });

  test.each([Number.NaN, Number.POSITIVE_INFINITY, 1e300])('refuses %d', (value) => {
    expect(() => nearestInteger({ value, field })).toThrow(CalcError);
  });

  test('largest remainder adds to the total and hands ties to the earlier', () => {
    expect(largestRemainder({ weights: [1, 1, 1], total: 100, field })).toEqual([34, 33, 33]);
    expect(largestRemainder({ weights: [0, 5, 0], total: 7, field })).toEqual([0, 7, 0]);
    expect(largestRemainder({ weights: [1, 1, 1], total: -100, field })).toEqual([-34, -33, -33]);
    expect(() => largestRemainder({ weights: [0, 0], total: 1, field })).toThrow(CalcError);
    expect(() => largestRemainder({ weights: [], total: 1, field })).toThrow(CalcError);
  });

  test('shares of any total: exact sum, each within one unit of its part, none negative', () => {
    fc.assert(
      fc.property(
        fc
          .array(fc.double({ min: 0, max: 1e6, noNaN: true }), { minLength: 1, maxLength: 12 })
          .filter((w) => w.some((x) => x > 1e-6)),
        fc.integer({ min: 0, max: 1_000_000_000 }),
        (weights, total) => {
          const parts = largestRemainder({ weights, total, field });
          const sum = weights.reduce((a, b) => a + b, 0);
          expect(parts.reduce((a, b) => a + b, 0)).toBe(total);
          parts.forEach((part, index) => {
            expect(part).toBeGreaterThanOrEqual(0);
            expect(Math.abs(part - (total * (weights[index] ?? 0)) / sum)).toBeLessThan(1 + 1e-6);
          });
        },
      ),
    );
  });

  test('rounded lines add to the rounded total, each within one step', () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: 0, max: 1e9, noNaN: true }), { minLength: 1, maxLength: 10 }),
        fc.constantFrom(1, 10, 100, 1000),
        (values, step) => {
          const lines = roundedLines({ values, step, field });
          const exact = values.reduce((sum, value) => sum + value / step, 0);
          expect(lines.reduce((a, b) => a + b, 0)).toBe(nearestInteger({ value: exact, field }) * step);
          lines.forEach((line, index) => {
            expect(line % step).toBe(0);
            expect(Math.abs(line - (values[index] ?? 0))).toBeLessThanOrEqual(step * (1 + 1e-6));
          });
        },
      ),
    );
  });

  test('lines that the scale can show are left as they are', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: 1_000_000 }), { minLength: 1, maxLength: 8 }), (steps) => {
        const values = steps.map((step) => step * 10);
        expect(roundedLines({ values, step: 10, field })).toEqual(values);
      }),
    );
  });
});

describe('money', () => {
  /* Referee: the platform's own currency data, for currencies in which it and ISO 4217 agree. */
  test.each(['EUR', 'USD', 'GBP', 'CHF', 'SEK', 'INR', 'JPY', 'KRW', 'CLP', 'VND', 'XAF', 'KWD', 'BHD', 'TND', 'OMR'])(
    'decimals of %s',
    (currency) => {
      const { maximumFractionDigits } = new Intl.NumberFormat('en', { style: 'currency', currency }).resolvedOptions();
      expect(minorUnitDecimals({ currency })).toBe(maximumFractionDigits);
    },
  );

  test('rounds once, halves away from zero', () => {
    expect(costMinor({ amount: 1.005, currency: 'EUR', field })).toBe(101);
    expect(costMinor({ amount: 1249.5, currency: 'JPY', field })).toBe(1250);
    expect(() => minorUnitDecimals({ currency: 'euro' })).toThrow(CalcError);
  });
});
