import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CalcError } from '../../server/calc/calcError.ts';
import {
  componentMassesG,
  depthPctOfMass,
  dyeMassG,
  massesGOfOwnDepths,
  ownDepthsPpm,
  pieceDye,
  scaledMassesG,
  sharesPpm,
  splitOfOwnDepths,
  strengthCorrectedMassG,
} from '../../server/calc/dyeMass.ts';

const plain = { sharePct: 100, coverageFactor: 1, lossFactor: 0, uptakeFactor: 1, strengthPct: 100 };
/** 1 mg to 1 t. */
const goodsG = fc.double({ min: 1e-3, max: 1e6, noNaN: true });
const depthPct = fc.double({ min: 0.001, max: 20, noNaN: true });
const parts = fc
  .array(fc.integer({ min: 0, max: 1000 }), { minLength: 1, maxLength: 6 })
  .filter((all) => all.some((part) => part > 0));

describe('dye mass', () => {
  test('scales with the goods, the depth and every factor', () => {
    fc.assert(
      fc.property(goodsG, depthPct, fc.double({ min: 0.1, max: 10, noNaN: true }), (goodsDryMassG, depth, factor) => {
        const once = dyeMassG({ ...plain, goodsDryMassG, depthPct: depth });
        const relative = (massG: number) => massG / once;
        expect(relative(dyeMassG({ ...plain, goodsDryMassG: goodsDryMassG * factor, depthPct: depth }))).toBeCloseTo(
          factor,
          9,
        );
        expect(relative(dyeMassG({ ...plain, goodsDryMassG, depthPct: depth * factor }))).toBeCloseTo(factor, 9);
        expect(relative(dyeMassG({ ...plain, goodsDryMassG, depthPct: depth, uptakeFactor: factor }))).toBeCloseTo(
          factor,
          9,
        );
        expect(relative(dyeMassG({ ...plain, goodsDryMassG, depthPct: depth, lossFactor: factor }))).toBeCloseTo(
          1 + factor,
          9,
        );
        expect(relative(dyeMassG({ ...plain, goodsDryMassG, depthPct: depth, strengthPct: 100 * factor }))).toBeCloseTo(
          1 / factor,
          9,
        );
        expect(depthPctOfMass({ dyeMassG: once, goodsDryMassG }) / depth).toBeCloseTo(1, 9);
      }),
    );
  });

  test('from 1 mg to 1 t of goods: finite and never negative', () => {
    fc.assert(
      fc.property(
        goodsG,
        fc.double({ min: 0, max: 100, noNaN: true }),
        fc.double({ min: 0, max: 100, noNaN: true }),
        fc.double({ min: 0, max: 1, noNaN: true }),
        fc.double({ min: 1, max: 1000, noNaN: true }),
        (goodsDryMassG, depth, sharePct, coverageFactor, strengthPct) => {
          const massG = dyeMassG({ ...plain, goodsDryMassG, depthPct: depth, sharePct, coverageFactor, strengthPct });
          expect(Number.isFinite(massG)).toBe(true);
          expect(massG).toBeGreaterThanOrEqual(0);
        },
      ),
    );
  });

  test('a lot of 95 % of the standard needs 1.0526 times as much', () => {
    expect(strengthCorrectedMassG({ dyeMassG: 1, strengthPct: 95 })).toBeCloseTo(1.0526, 4);
  });

  test('components add to the total', () => {
    fc.assert(
      fc.property(goodsG, depthPct, parts, (goodsDryMassG, depth, weights) => {
        const total = weights.reduce((sum, weight) => sum + weight, 0);
        const masses = componentMassesG({
          goodsDryMassG,
          depthPct: depth,
          sharesPct: weights.map((weight) => (100 * weight) / total),
        });
        const sum = masses.reduce((all, massG) => all + massG, 0);
        expect(sum / dyeMassG({ ...plain, goodsDryMassG, depthPct: depth })).toBeCloseTo(1, 9);
      }),
    );
  });

  test('components stated by their own depths: 1.7 g and 0.2 g on 200 g, P. Burch, dye Q&A, 2011', () => {
    expect(massesGOfOwnDepths({ goodsDryMassG: 200, depthsPct: [0.85, 0.1] })).toEqual([
      expect.closeTo(1.7, 12),
      expect.closeTo(0.2, 12),
    ]);
    expect(() => massesGOfOwnDepths({ goodsDryMassG: 200, depthsPct: [0.85, -0.1] })).toThrow(
      expect.objectContaining({ code: 'outOfRange', field: 'depthsPct' }),
    );
  });

  test('shares are exactly 1 000 000 ppm, and own depths exactly the depth', () => {
    fc.assert(
      fc.property(parts, fc.integer({ min: 1, max: 400_000 }), (weights, depthPpm) => {
        const shares = sharesPpm({ parts: weights });
        expect(shares.reduce((sum, share) => sum + share, 0)).toBe(1_000_000);
        const own = ownDepthsPpm({ depthPpm, sharesPpm: shares });
        expect(own.reduce((sum, depth) => sum + depth, 0)).toBe(depthPpm);
        const back = splitOfOwnDepths({ ownDepthsPpm: own });
        expect(back.depthPpm).toBe(depthPpm);
        expect(back.sharesPpm.reduce((sum, share) => sum + share, 0)).toBe(1_000_000);
      }),
    );
    expect(sharesPpm({ parts: [1, 1, 1] })).toEqual([333_334, 333_333, 333_333]);
    expect(() => ownDepthsPpm({ depthPpm: 20_000, sharesPpm: [500_000, 400_000] })).toThrow(CalcError);
  });

  test('a swatch of 5 g scales to a lot of 500 g by a hundred', () => {
    expect(scaledMassesG({ massesG: [0.1, 0.02], fromGoodsDryMassG: 5, toGoodsDryMassG: 500 })).toEqual([10, 2]);
  });

  test.each([
    [{ goodsDryMassG: 0 }, 'goodsDryMassG'],
    [{ goodsDryMassG: Number.NaN }, 'goodsDryMassG'],
    [{ depthPct: -1 }, 'depthPct'],
    [{ sharePct: 101 }, 'sharePct'],
    [{ coverageFactor: 1.5 }, 'coverageFactor'],
    [{ lossFactor: -0.1 }, 'lossFactor'],
    [{ uptakeFactor: 0 }, 'uptakeFactor'],
    [{ strengthPct: 0 }, 'strengthPct'],
  ])('refuses %j, naming the field', (wrong, field) => {
    expect(() => dyeMassG({ ...plain, goodsDryMassG: 100, depthPct: 2, ...wrong })).toThrow(
      expect.objectContaining({ field }),
    );
  });
});

describe('several colours on one piece', () => {
  const colour = (areaSharePct: number, depth: number) => ({
    areaSharePct,
    components: [{ depthPct: depth, strengthPct: 100 }],
  });
  const four = [colour(25, 2), colour(25, 2), colour(25, 2), colour(25, 2)];
  const piece = { goodsDryMassG: 100, lossFactor: 0, uptakeFactor: 1, colours: four };

  test('each at full depth over all is four times each over its share, and the depth that results is shown', () => {
    const overAll = pieceDye({ ...piece, coverageMode: 'eachOverAll' });
    const overShares = pieceDye({ ...piece, coverageMode: 'eachOverItsShare' });
    expect(overAll.depthOverAllPct).toBeCloseTo(8, 9);
    expect(overShares.depthOverAllPct).toBeCloseTo(2, 9);
    expect(overAll.massG).toBeCloseTo(8, 9);
    expect(overShares.massG).toBeCloseTo(2, 9);
    expect(overShares.colours.map(({ massG }) => massG)).toEqual([0.5, 0.5, 0.5, 0.5]);
  });

  test('the loss allowance is a factor of its own and leaves the depth alone', () => {
    const without = pieceDye({ ...piece, coverageMode: 'eachOverItsShare' });
    const withLoss = pieceDye({ ...piece, coverageMode: 'eachOverItsShare', lossFactor: 0.2 });
    expect(withLoss.depthOverAllPct).toBe(without.depthOverAllPct);
    expect(withLoss.massG).toBeCloseTo(1.2 * without.massG, 9);
    expect(withLoss.lossMassG).toBeCloseTo(withLoss.massG - without.massG, 9);
    expect(withLoss.weighedPct).toBeCloseTo(2.4, 9);
  });

  test('cloth may stay white, but is not covered twice', () => {
    expect(
      pieceDye({ ...piece, coverageMode: 'eachOverItsShare', colours: [colour(30, 2)] }).depthOverAllPct,
    ).toBeCloseTo(0.6, 9);
    expect(() =>
      pieceDye({ ...piece, coverageMode: 'eachOverItsShare', colours: [colour(70, 2), colour(40, 2)] }),
    ).toThrow(expect.objectContaining({ code: 'mismatch', field: 'areaSharePct' }));
    expect(() => pieceDye({ ...piece, coverageMode: 'eachOverAll', colours: [] })).toThrow(CalcError);
  });

  test('colours and components add to the whole', () => {
    fc.assert(
      fc.property(
        goodsG,
        fc.array(
          fc.record({
            share: fc.integer({ min: 1, max: 20 }),
            depths: fc.array(depthPct, { minLength: 1, maxLength: 3 }),
          }),
          { minLength: 1, maxLength: 5 },
        ),
        fc.constantFrom('eachOverAll' as const, 'eachOverItsShare' as const),
        (goodsDryMassG, colours, coverageMode) => {
          const result = pieceDye({
            goodsDryMassG,
            coverageMode,
            lossFactor: 0,
            uptakeFactor: 1,
            colours: colours.map(({ share, depths }) => ({
              areaSharePct: share,
              components: depths.map((depth) => ({ depthPct: depth, strengthPct: 100 })),
            })),
          });
          const lines = result.colours.flatMap(({ massesG }) => massesG);
          expect(lines.reduce((sum, massG) => sum + massG, 0) / result.massG).toBeCloseTo(1, 9);
          expect(result.weighedPct / result.depthOverAllPct).toBeCloseTo(1, 9);
        },
      ),
    );
  });
});
