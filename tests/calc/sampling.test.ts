import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { blendLadderPpm, blendSharesPpm, depthLadderPpm, sampleSet, trianglePpm } from '../../server/calc/sampling.ts';

describe('sampling sets', () => {
  test('a 10 % step: 11 samples of two dyes, 66 of three', () => {
    expect(blendLadderPpm({ stepPct: 10 })).toHaveLength(11);
    expect(trianglePpm({ stepPct: 10 })).toHaveLength(66);
    expect(blendLadderPpm({ stepPct: 50 })).toEqual([
      [1_000_000, 0],
      [500_000, 500_000],
      [0, 1_000_000],
    ]);
  });

  test.each([10, 12.5, 20, 25, 33.33, 50])(
    'a step of %d %%: every set adds to 100 %% and none comes twice',
    (stepPct) => {
      for (const dyeCount of [2, 3, 4]) {
        const sets = blendSharesPpm({ dyeCount, stepPct });
        const n = Math.round(100 / stepPct);
        const binomial = Array.from({ length: dyeCount - 1 }, (_, i) => (n + 1 + i) / (i + 1)).reduce(
          (a, b) => a * b,
          1,
        );
        expect(sets).toHaveLength(Math.round(binomial));
        expect(new Set(sets.map((set) => set.join())).size).toBe(sets.length);
        for (const set of sets) expect(set.reduce((sum, share) => sum + share, 0)).toBe(1_000_000);
      }
    },
  );

  test.each([0, 15, 30, 100, Number.NaN])('a step of %d %% is refused', (stepPct) => {
    expect(() => trianglePpm({ stepPct })).toThrow(expect.objectContaining({ field: 'stepPct' }));
  });

  test('depth ladders rise evenly or by a factor', () => {
    expect(depthLadderPpm({ fromDepthPct: 1, toDepthPct: 4, count: 4, spacing: 'even' })).toEqual([
      10_000, 20_000, 30_000, 40_000,
    ]);
    expect(depthLadderPpm({ fromDepthPct: 0.5, toDepthPct: 4, count: 4, spacing: 'ratio' })).toEqual([
      5000, 10_000, 20_000, 40_000,
    ]);
    expect(() => depthLadderPpm({ fromDepthPct: 0.001, toDepthPct: 0.0011, count: 5, spacing: 'even' })).toThrow(
      expect.objectContaining({ field: 'count' }),
    );
  });

  test('volumes for every cup: 5 g at 2 % from 1 % stocks, half and half, in 100 mL', () => {
    const set = sampleSet({
      pieceDryMassG: 5,
      samples: [
        { depthPct: 2, sharesPpm: [500_000, 500_000] },
        { depthPct: 2, sharesPpm: [1_000_000, 0] },
      ],
      stockStrengthsPct: [1, 0.5],
      reservePct: 10,
      liquorRatioLPerKg: 20,
    });
    expect(set.cups).toEqual([
      { stockMl: [5, 10], waterMl: 85 },
      { stockMl: [10, 0], waterMl: 90 },
    ]);
    expect(set.stocks).toEqual([
      { usedMl: 15, makeMl: expect.closeTo(16.5, 9), powderG: expect.closeTo(0.165, 9) },
      { usedMl: 10, makeMl: expect.closeTo(11, 9), powderG: expect.closeTo(0.055, 9) },
    ]);
    expect(set.goodsDryMassG).toBe(10);
  });

  test('a cup whose solutions are more than its liquor is refused', () => {
    expect(() =>
      sampleSet({
        pieceDryMassG: 5,
        samples: [{ depthPct: 4, sharesPpm: [1_000_000] }],
        stockStrengthsPct: [0.1],
        reservePct: 0,
        liquorRatioLPerKg: 20,
      }),
    ).toThrow(expect.objectContaining({ field: 'stockStrengthPct' }));
  });

  test('the dye of a set is goods × depth, whatever the shares', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.5, max: 50, noNaN: true }),
        fc.double({ min: 0.01, max: 10, noNaN: true }),
        (pieceDryMassG, depthPct) => {
          const samples = trianglePpm({ stepPct: 25 }).map((sharesPpm) => ({ depthPct, sharesPpm }));
          const { stocks } = sampleSet({ pieceDryMassG, samples, stockStrengthsPct: [1, 2, 0.5], reservePct: 0 });
          const powderG = stocks.reduce((sum, stock) => sum + stock.powderG, 0);
          expect(powderG / ((samples.length * pieceDryMassG * depthPct) / 100)).toBeCloseTo(1, 9);
        },
      ),
    );
  });
});
