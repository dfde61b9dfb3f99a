import fc from 'fast-check';
import { DateTime } from 'luxon';
import { describe, expect, test } from 'vitest';
import { CalcError } from '../../server/calc/calcError.ts';
import { dayLater, daysBetween, keeping, stockValueMinor, supply } from '../../server/calc/shelf.ts';

const day = fc
  .date({ min: new Date('1990-01-01'), max: new Date('2090-12-31'), noInvalidDate: true })
  .map((date) => date.toISOString().slice(0, 10));

describe('calendar days', () => {
  test('are counted as a calendar library counts them', () => {
    fc.assert(
      fc.property(day, day, (fromOn, toOn) => {
        const utc = (on: string): DateTime => DateTime.fromISO(on, { zone: 'utc' });
        expect(daysBetween({ fromOn, toOn })).toBe(utc(toOn).diff(utc(fromOn), 'days').days);
      }),
    );
    fc.assert(
      fc.property(day, fc.integer({ min: -4000, max: 4000 }), (on, days) => {
        expect(dayLater({ on, days })).toBe(DateTime.fromISO(on, { zone: 'utc' }).plus({ days }).toISODate());
      }),
    );
  });

  test.each(['2026-02-29', '2026-13-01', '2026-1-1', 'soon', ''])('%j is none', (on) => {
    expect(() => dayLater({ on, days: 1 })).toThrow(CalcError);
    expect(() => daysBetween({ fromOn: '2026-01-01', toOn: on })).toThrow(CalcError);
  });
});

test.each([
  { bestBeforeOn: '2026-03-15', state: 'past', leftDays: -1 },
  { bestBeforeOn: '2026-03-16', state: 'useSoon', leftDays: 0 },
  { bestBeforeOn: '2026-03-19', state: 'useSoon', leftDays: 3 },
  { bestBeforeOn: '2026-03-20', state: 'good', leftDays: 4 },
  { bestBeforeOn: null, state: 'undated', leftDays: null },
])(
  'best before $bestBeforeOn is $state on 16 March, three days before the end',
  ({ bestBeforeOn, state, leftDays }) => {
    expect(keeping({ bestBeforeOn, todayOn: '2026-03-16', useSoonWithinDays: 3 })).toEqual({ state, leftDays });
  },
);

test.each([
  { onHandQuantity: 101, receivedQuantity: 1000, state: 'enough', leftPpm: 101_000 },
  { onHandQuantity: 100, receivedQuantity: 1000, state: 'nearlyOut', leftPpm: 100_000 },
  { onHandQuantity: 0, receivedQuantity: 1000, state: 'out', leftPpm: 0 },
  { onHandQuantity: -5, receivedQuantity: 1000, state: 'out', leftPpm: 0 },
  { onHandQuantity: 0, receivedQuantity: 0, state: 'out', leftPpm: 0 },
])('$onHandQuantity of $receivedQuantity is $state', ({ state, leftPpm, ...held }) => {
  expect(supply({ ...held, nearlyOutPpm: 100_000 })).toEqual({ state, leftPpm });
});

describe('value of what is left', () => {
  const receipt = { priceMinor: 3000, freightMinor: 500, receivedQuantity: 250_000 };

  test('is the part of price and freight that belongs to it, and nothing below nothing', () => {
    // 35.00 for 250 g is 14.00 for 100 g, by proportion
    expect(stockValueMinor({ ...receipt, lateMinor: 0, onHandQuantity: 100_000 })).toBe(1400);
    expect(stockValueMinor({ ...receipt, lateMinor: 0, onHandQuantity: 250_000 })).toBe(3500);
    expect(stockValueMinor({ ...receipt, lateMinor: 0, onHandQuantity: -1 })).toBe(0);
  });

  test('never exceeds what was paid while no more is there than came, and grows with what is there', () => {
    const amount = fc.integer({ min: 0, max: 1_000_000_000 });
    fc.assert(
      fc.property(amount, amount, fc.integer({ min: 1, max: 1_000_000_000 }), fc.nat(), fc.nat(), (p, f, q, x, y) => {
        const paid = { priceMinor: p, freightMinor: f, receivedQuantity: q };
        const [less, more] = [Math.min(x % (q + 1), y % (q + 1)), Math.max(x % (q + 1), y % (q + 1))];
        const of = (onHandQuantity: number): number => stockValueMinor({ ...paid, lateMinor: 0, onHandQuantity });
        expect(of(more)).toBeLessThanOrEqual(p + f);
        expect(of(less)).toBeLessThanOrEqual(of(more));
        expect(Number.isSafeInteger(of(more))).toBe(true);
      }),
    );
  });
});
