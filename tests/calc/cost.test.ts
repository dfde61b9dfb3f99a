import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import * as cost from '../../server/calc/cost.ts';
import { MARKUP_AND_MARGIN } from '../reference/tradeArithmetic.ts';

const quantity = fc.integer({ min: 1, max: 1_000_000 });
const unitCost = fc.double({ min: 0, max: 100, noNaN: true });

describe('cost', () => {
  test('freight belongs to the price of a gram, a discount does not', () => {
    expect(cost.unitCostMinor({ priceMinor: 1800, freightMinor: 300, discountMinor: 100, quantity: 500 })).toBe(4);
    expect(() => cost.unitCostMinor({ priceMinor: 100, freightMinor: 0, discountMinor: 101, quantity: 5 })).toThrow(
      expect.objectContaining({ field: 'discountMinor' }),
    );
  });

  test('a cost is rounded once', () => {
    expect(cost.costMinorOfQuantity({ quantity: 2.5, unitCostMinor: 4.2 })).toBe(11);
    expect(cost.costMinorOfTime({ durationS: 5400, rateMinorPerHour: 1825 })).toBe(2738);
  });

  test('markup and margin are two numbers for one price', () => {
    const { markupPct, marginPct, tolerance } = MARKUP_AND_MARGIN;
    expect(Math.abs(cost.marginPctOfMarkup({ markupPct }) - marginPct)).toBeLessThanOrEqual(tolerance);
    const price = cost.priceMinor({ costMinor: 2000, markupPct });
    expect(price).toBe(3000);
    expect(cost.markupPct({ priceMinor: price, costMinor: 2000 })).toBe(markupPct);
    expect(Math.abs(cost.marginPct({ priceMinor: price, costMinor: 2000 }) - marginPct)).toBeLessThanOrEqual(tolerance);
    expect(cost.priceMinor({ costMinor: 2000, marginPct: 50 })).toBe(4000);
    expect(() => cost.markupPctOfMargin({ marginPct: 100 })).toThrow(expect.objectContaining({ field: 'marginPct' }));
    fc.assert(
      fc.property(fc.double({ min: 0, max: 900, noNaN: true }), (markup) => {
        expect(cost.markupPctOfMargin({ marginPct: cost.marginPctOfMarkup({ markupPct: markup }) })).toBeCloseTo(
          markup,
          6,
        );
      }),
    );
  });

  test('the good pieces carry the lot, less what the seconds bring', () => {
    const lot = {
      materialsMinor: 1000,
      labourMinor: 3000,
      overheadMinor: 500,
      reworkMinor: 100,
      secondsNetValueMinor: 200,
    };
    expect(cost.unitCostMinorPerGoodPiece({ ...lot, goodCount: 22 })).toBe(200);
    expect(() => cost.unitCostMinorPerGoodPiece({ ...lot, goodCount: 0 })).toThrow(
      expect.objectContaining({ field: 'goodCount' }),
    );
    expect(cost.passedPct({ passedCount: 22, startedCount: 24 })).toBeCloseTo(91.67, 2);
  });

  test('an allocated cost adds to its total, also when reversed', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: -1_000_000, max: 1_000_000 }),
        fc.array(quantity, { minLength: 1, maxLength: 10 }),
        (totalMinor, keys) => {
          const parts = cost.allocatedMinor({ totalMinor, keys });
          expect(parts.reduce((sum, part) => sum + part, 0)).toBe(totalMinor);
          const reversed = cost.allocatedMinor({ totalMinor: totalMinor === 0 ? 0 : -totalMinor, keys });
          expect(reversed.map((part) => (part === 0 ? 0 : -part))).toEqual(parts);
        },
      ),
    );
  });
});

describe('stock flow', () => {
  const layers = fc.array(fc.record({ quantity, unitCost }), { minLength: 1, maxLength: 8 });

  test('first in, first out: the oldest layer is drawn to the bottom first', () => {
    const issue = cost.fifoIssue({
      layers: [
        { quantity: 100, unitCost: 4 },
        { quantity: 250, unitCost: 7 },
      ],
      quantity: 150,
    });
    expect(issue.draws).toEqual([
      { layerIndex: 0, quantity: 100, cost: 400 },
      { layerIndex: 1, quantity: 50, cost: 350 },
    ]);
    expect(issue.layersLeft).toEqual([
      { quantity: 0, unitCost: 4 },
      { quantity: 200, unitCost: 7 },
    ]);
    expect(() => cost.fifoIssue({ layers: [{ quantity: 100, unitCost: 4 }], quantity: 101 })).toThrow(
      expect.objectContaining({ code: 'mismatch', field: 'quantity' }),
    );
  });

  test('what is issued and what is left are all there was, in grams and in money', () => {
    fc.assert(
      fc.property(layers, fc.double({ min: 0.01, max: 1, noNaN: true }), (stock, part) => {
        const total = stock.reduce((sum, layer) => sum + layer.quantity, 0);
        const worth = stock.reduce((sum, layer) => sum + layer.quantity * layer.unitCost, 0);
        const issue = cost.fifoIssue({ layers: stock, quantity: total * part });
        const left = issue.layersLeft.reduce((sum, layer) => sum + layer.quantity, 0);
        const leftWorth = issue.layersLeft.reduce((sum, layer) => sum + layer.quantity * layer.unitCost, 0);
        expect(Math.abs(left + total * part - total)).toBeLessThanOrEqual(1e-6 * total);
        expect(Math.abs(leftWorth + issue.cost - worth)).toBeLessThanOrEqual(1e-6 * worth + 1e-9);
      }),
    );
  });

  test('the moving average lies between the cheapest and the dearest, and keeps the value', () => {
    fc.assert(
      fc.property(layers, (holdings) => {
        const average = cost.movingAverageUnitCost({ holdings });
        const costs = holdings.map((holding) => holding.unitCost);
        expect(average).toBeGreaterThanOrEqual(Math.min(...costs) - 1e-9);
        expect(average).toBeLessThanOrEqual(Math.max(...costs) + 1e-9);
      }),
    );
    expect(() => cost.movingAverageUnitCost({ holdings: [{ quantity: 0, unitCost: 1 }] })).toThrow(
      expect.objectContaining({ field: 'quantity' }),
    );
  });

  /* IAS 2 Inventories (weighted average), each receipt averaged with what is on hand then; by hand. */
  test('the moving average is that of what is on hand when a receipt comes, freight in it', () => {
    const averaged = (events: readonly cost.StockEvent[]) => cost.movingAverageAfter({ events });
    expect(averaged([])).toBeNull();
    expect(averaged([{ quantity: -50 }])).toBeNull();
    const first = { quantity: 500, paidMinor: 2_000 };
    expect(averaged([first])).toEqual({ unitCostMinor: 4, valueMinor: 2_000, quantity: 500 });
    // 250 g left at 4, 250 g at 8 (1 800 and 200 of freight): 6.
    expect(averaged([first, { quantity: -250 }, { quantity: 250, paidMinor: 1_800 + 200 }])).toEqual({
      unitCostMinor: 6,
      valueMinor: 3_000,
      quantity: 500,
    });
    // An issue that is taken back later leaves the average as it is, and counts in the next.
    expect(averaged([first, { quantity: -250 }, { quantity: 250 }])?.unitCostMinor).toBe(4);
    expect(
      averaged([first, { quantity: -250 }, { quantity: 250 }, { quantity: 500, paidMinor: 4_000 }])?.unitCostMinor,
    ).toBe(6);
    // 20 g more were weighed than there were: nothing at 4, 250 g at 8.
    expect(averaged([first, { quantity: -520 }, { quantity: 250, paidMinor: 2_000 }])).toEqual({
      unitCostMinor: 8,
      valueMinor: 2_000,
      quantity: 250,
    });
    // Of those 250 g 20 are gone already: 230 g at 8, 230 g at 4.
    expect(
      averaged([first, { quantity: -520 }, { quantity: 250, paidMinor: 2_000 }, { quantity: 230, paidMinor: 920 }])
        ?.unitCostMinor,
    ).toBe(6);
    expect(() => averaged([{ quantity: 0, paidMinor: 5 }])).toThrow(expect.objectContaining({ field: 'quantity' }));
  });
});
