import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { movingAverageAfter } from '../../server/calc/cost.ts';
import { type CostPart, costChangePerKg, roundedParts } from '../../server/calc/costChange.ts';
import { purchaseQuantity, reorderPoint, reorderRule } from '../../server/calc/reorder.ts';
import { pastUsualLifeDays } from '../../server/calc/shelf.ts';
import { CALCULATIONS } from '../../server/calculators/table.ts';
import { TRADE_ARITHMETIC } from '../reference/tradeArithmetic.ts';

const publishedAverage = TRADE_ARITHMETIC.find((row) => row.calculation === 'moving-average');

describe('moving average', () => {
  test('500 g at 0.04 and 250 g at 0.07 are 750 g at 0.05', () => {
    if (!publishedAverage) throw new Error('the row is gone');
    const { holdings } = CALCULATIONS['moving-average'].input.parse(publishedAverage.inputs);
    const average = movingAverageAfter({
      events: holdings.map(({ quantity, unitCostMinor }) => ({ quantity, paidMinor: quantity * unitCostMinor * 100 })),
    });
    expect(Math.abs((average?.unitCostMinor ?? 0) / 100 - (publishedAverage.expected as number))).toBeLessThanOrEqual(
      publishedAverage.tolerance,
    );
    expect(average).toMatchObject({ quantity: 750, valueMinor: 3750 });
  });

  test('a receipt is averaged with what is left then, not with what ever came', () => {
    // 500 g at 4 cents, 400 g used, 250 g at 7 cents: (100·4 + 250·7)/350 = 6.142857… cents, by hand
    const events = [
      { quantity: 500, paidMinor: 2000 },
      { quantity: -400 },
      { quantity: 250, paidMinor: 1750 },
      { quantity: -50 },
    ];
    expect(movingAverageAfter({ events })?.unitCostMinor).toBeCloseTo(2150 / 350, 12);
    expect(movingAverageAfter({ events: [{ quantity: -5 }] })).toBeNull();
    // Below nothing on hand weighs nothing: the next receipt sets the average.
    const short = [{ quantity: 100, paidMinor: 400 }, { quantity: -130 }, { quantity: 50, paidMinor: 500 }];
    expect(movingAverageAfter({ events: short })?.unitCostMinor).toBe(10);
    expect(() => movingAverageAfter({ events: [{ quantity: 0, paidMinor: 1 }] })).toThrow(
      expect.objectContaining({ field: 'quantity' }),
    );
  });

  test('lies between the cheapest and the dearest receipt, whatever was used meanwhile', () => {
    const event = fc.oneof(
      fc.record({ quantity: fc.integer({ min: 1, max: 1_000_000 }), paidMinor: fc.integer({ min: 0, max: 100_000 }) }),
      fc.record({ quantity: fc.integer({ min: -500_000, max: 1_000 }) }),
    );
    fc.assert(
      fc.property(fc.array(event, { minLength: 1, maxLength: 30 }), (events) => {
        const average = movingAverageAfter({ events });
        const prices = events.flatMap((e) => ('paidMinor' in e ? [e.paidMinor / e.quantity] : []));
        if (prices.length === 0) expect(average).toBeNull();
        else {
          expect(average?.unitCostMinor).toBeGreaterThanOrEqual(Math.min(...prices) * (1 - 1e-9));
          expect(average?.unitCostMinor).toBeLessThanOrEqual(Math.max(...prices) * (1 + 1e-9));
        }
      }),
    );
  });
});

describe('why a shade came to cost more', () => {
  test('dearer powder is price, more powder is quantity, a third dye is quantity', () => {
    const change = costChangePerKg({
      earlier: {
        dryMassG: 1000,
        parts: [
          { key: 'blue', quantity: 10_000, costMinor: 100 },
          { key: 'labour', quantity: 3600, costMinor: 2000 },
        ],
      },
      later: {
        dryMassG: 2000,
        parts: [
          { key: 'blue', quantity: 20_000, costMinor: 300 },
          { key: 'labour', quantity: 5400, costMinor: 3000 },
          { key: 'red', quantity: 1_000, costMinor: 50 },
        ],
      },
    });
    // Blue: 10 g/kg both times, 1.00 → 1.50 per kg: all price. Labour: 1 h/kg → 0.75 h/kg at one rate: all time. By hand.
    expect(
      change.effects.map((e) => [e.key, Number(e.priceEffect.toFixed(9)), Number(e.quantityEffect.toFixed(9))]),
    ).toEqual([
      ['blue', 50, 0],
      ['labour', 0, -500],
      ['red', 0, 25],
    ]);
    expect([change.earlierPerKg, change.laterPerKg]).toEqual([2100, 1675]);
  });

  const part: fc.Arbitrary<CostPart> = fc.record({
    key: fc.constantFrom('a', 'b', 'c', 'd'),
    quantity: fc.integer({ min: -1000, max: 100_000 }),
    costMinor: fc.integer({ min: -500, max: 100_000 }),
  });
  const lot = fc.record({
    dryMassG: fc.double({ min: 1, max: 20_000, noNaN: true }),
    parts: fc.array(part, { maxLength: 8 }),
  });

  test('the effects add to the difference, and turn their sign when the lots change places', () => {
    fc.assert(
      fc.property(lot, lot, (earlier, later) => {
        const there = costChangePerKg({ earlier, later });
        const back = costChangePerKg({ earlier: later, later: earlier });
        const sum = there.effects.reduce((total, e) => total + e.priceEffect + e.quantityEffect, 0);
        const scale = 1 + Math.abs(there.laterPerKg) + Math.abs(there.earlierPerKg);
        expect(Math.abs(sum - (there.laterPerKg - there.earlierPerKg))).toBeLessThanOrEqual(1e-6 * scale);
        for (const effect of there.effects) {
          const turned = back.effects.find((e) => e.key === effect.key);
          expect(Math.abs((turned?.priceEffect ?? 0) + effect.priceEffect)).toBeLessThanOrEqual(
            1e-6 * (scale + Math.abs(effect.priceEffect)),
          );
        }
      }),
    );
  });

  test('rounded parts add to the rounded total, each within one unit of itself', () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: -5000, max: 5000, noNaN: true }), { minLength: 1, maxLength: 12 }),
        (parts) => {
          const total = Math.round(parts.reduce((sum, p) => sum + p, 0));
          const rounded = roundedParts({ parts, total });
          expect(rounded.reduce((sum, p) => sum + p, 0)).toBe(total === 0 ? 0 : total);
          rounded.forEach((r, i) => {
            expect(Math.abs(r - (parts[i] ?? 0))).toBeLessThanOrEqual(1 + 1e-9);
          });
        },
      ),
    );
    expect(() => roundedParts({ parts: [1, 1], total: 90 })).toThrow(expect.objectContaining({ code: 'mismatch' }));
  });
});

describe('reorder', () => {
  test('90 g in 90 days, two weeks of waiting and two of safety: order again at 28 g', () => {
    const point = reorderPoint({ usedQuantity: 90, onHandQuantity: 45, knownDays: 400, rule: reorderRule });
    expect(point).toEqual({ meanDailyQuantity: 1, reorderQuantity: 28, lastsDays: 45 });
    // 118 days' use and 30 g that planned lots want, less 45 g there.
    expect(purchaseQuantity({ meanDailyQuantity: 1, onHandQuantity: 45, plannedQuantity: 30, rule: reorderRule })).toBe(
      103,
    );
    expect(purchaseQuantity({ meanDailyQuantity: 1, onHandQuantity: 500, plannedQuantity: 0, rule: reorderRule })).toBe(
      0,
    );
  });

  test('a jar of last week is not read as if its first day were every day', () => {
    const point = reorderPoint({ usedQuantity: 28, onHandQuantity: 0, knownDays: 3, rule: reorderRule });
    expect(point.meanDailyQuantity).toBe(1);
    expect(reorderPoint({ usedQuantity: 0, onHandQuantity: 5, knownDays: 3, rule: reorderRule }).lastsDays).toBeNull();
  });
});

describe('age', () => {
  const solution = { dyeClass: 'reactive', isSolution: true, bestBeforeOn: null, todayOn: '2026-03-16' };
  test('a reactive solution is past its week on the eighth day, unless it has a day of its own', () => {
    expect(pastUsualLifeDays({ ...solution, fromOn: '2026-03-09' })).toBeNull();
    expect(pastUsualLifeDays({ ...solution, fromOn: '2026-03-08' })).toEqual({ lifeDays: 7, overDays: 1 });
    expect(pastUsualLifeDays({ ...solution, fromOn: '2026-01-01', bestBeforeOn: '2026-02-01' })).toBeNull();
  });
  test('a class without a published life is not judged', () => {
    expect(pastUsualLifeDays({ ...solution, dyeClass: 'natural', fromOn: '2020-01-01' })).toBeNull();
    expect(pastUsualLifeDays({ ...solution, dyeClass: null, fromOn: '2020-01-01' })).toBeNull();
    expect(
      pastUsualLifeDays({ ...solution, isSolution: false, fromOn: '2025-03-16', dyeClass: 'reactive' }),
    ).toBeNull();
    expect(pastUsualLifeDays({ ...solution, isSolution: false, fromOn: '2025-03-15', dyeClass: 'reactive' })).toEqual({
      lifeDays: 365,
      overDays: 1,
    });
  });
});
