import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  minimumMassMg,
  overWeighFactor,
  overWeighTargets,
  readingVerdict,
  roundedWeighing,
  roundedWeighings,
  stockAdvice,
  type WayOut,
  type WeighUpLine,
  waysOutOfOverWeighing,
  weighingTolerance,
} from '../../server/calc/weighing.ts';
import { MINIMUM_MASSES_G } from '../reference/tradeArithmetic.ts';

describe('rounding to the scale', () => {
  test('0.45 g on a 0.1 g scale may be off by 11 %', () => {
    const line = roundedWeighing({ massMg: 450, readabilityMg: 100 });
    expect(line.roundedMg).toBe(500);
    expect(line.halfDigitErrorPct).toBeCloseTo(11.1, 1);
    expect(line.roundingErrorPct).toBeCloseTo(11.1, 1);
  });

  test('a mass that the scale would not show is told as lost', () => {
    expect(roundedWeighing({ massMg: 4, readabilityMg: 10 })).toMatchObject({
      roundedMg: 0,
      roundingErrorPct: -100,
      exactMg: 4,
    });
  });

  test('lines of one scale add to their rounded total, lines of another to theirs', () => {
    fc.assert(
      fc.property(
        fc.array(
          fc.record({
            massMg: fc.double({ min: 1, max: 1e9, noNaN: true }),
            readabilityMg: fc.constantFrom(1, 10, 100),
          }),
          { minLength: 1, maxLength: 10 },
        ),
        (lines) => {
          const rounded = roundedWeighings({ lines });
          for (const readabilityMg of new Set(lines.map((line) => line.readabilityMg))) {
            const own = lines.flatMap((line, index) => (line.readabilityMg === readabilityMg ? [index] : []));
            const exact = own.reduce((sum, index) => sum + (lines[index]?.massMg ?? 0), 0);
            const total = own.reduce((sum, index) => sum + (rounded[index]?.roundedMg ?? 0), 0);
            expect(total % readabilityMg).toBe(0);
            expect(Math.abs(total - exact)).toBeLessThanOrEqual(readabilityMg / 2 + 1e-3);
          }
          rounded.forEach(({ roundedMg }, index) => {
            const { massMg = 0, readabilityMg = 1 } = lines[index] ?? {};
            expect(Math.abs(roundedMg - massMg)).toBeLessThanOrEqual(readabilityMg * (1 + 1e-6));
          });
        },
      ),
    );
  });
});

describe('the floor of a scale', () => {
  test.each(MINIMUM_MASSES_G)('readability $readabilityG g at $errorPct %', ({ readabilityG, errorPct, minimumG }) => {
    const massMg = minimumMassMg({ readabilityMg: readabilityG * 1000, errorPct, rule: 'repeatability' });
    expect(massMg / 1000 / minimumG).toBeCloseTo(1, 9);
  });
  test('the half-digit rule is looser: 50 d at 1 %', () => {
    expect(minimumMassMg({ readabilityMg: 10, errorPct: 1, rule: 'halfDigit' })).toBe(500);
  });
  test('a measured deviation counts once it is worse than 0.41 d', () => {
    expect(minimumMassMg({ readabilityMg: 10, sdMg: 1, errorPct: 1, rule: 'repeatability' })).toBeCloseTo(820, 9);
    expect(minimumMassMg({ readabilityMg: 10, sdMg: 10, errorPct: 1, rule: 'repeatability' })).toBeCloseTo(2000, 9);
  });
});

describe('powder or stock solution', () => {
  const studio = {
    floorMg: 820,
    strengthsPct: [1, 0.1, 0.01],
    measureCapacitiesMl: [10, 50, 250],
    liquorVolumeMl: 2000,
  };
  test('at the floor and above it is weighed', () => {
    expect(stockAdvice({ ...studio, massMg: 820 })).toEqual({ kind: 'powder' });
  });
  test.each([
    [500, 1, 50, 50],
    [81, 1, 8.1, 10],
    [9, 0.1, 9, 10],
    [4, 0.1, 4, 10],
    [0.4, 0.01, 4, 10],
  ])('%d mg: the strongest stock that can still be measured', (massMg, strengthPct, volumeMl, measureCapacityMl) => {
    expect(stockAdvice({ ...studio, massMg })).toEqual({
      kind: 'stock',
      strengthPct,
      volumeMl: expect.closeTo(volumeMl, 9),
      measureCapacityMl,
      fills: 1,
    });
  });
  test('says so when no stock fits', () => {
    expect(stockAdvice({ ...studio, massMg: 0.05 })).toEqual({ kind: 'noStockFits', reason: 'tooLittleToMeasure' });
    expect(stockAdvice({ ...studio, massMg: 700, liquorVolumeMl: 60 })).toEqual({
      kind: 'noStockFits',
      reason: 'tooMuchLiquor',
    });
  });
  test('whatever is advised holds the dye, can be measured and fits the bath', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.001, max: 5000, noNaN: true }),
        fc.double({ min: 5, max: 5000, noNaN: true }),
        (massMg, liquorVolumeMl) => {
          const advice = stockAdvice({ ...studio, massMg, liquorVolumeMl });
          if (advice.kind !== 'stock') return;
          expect((advice.volumeMl * advice.strengthPct * 10) / massMg).toBeCloseTo(1, 9);
          expect(advice.volumeMl).toBeGreaterThanOrEqual(advice.measureCapacityMl / 10);
          expect(advice.volumeMl).toBeLessThanOrEqual(liquorVolumeMl);
          expect(advice.fills * advice.measureCapacityMl).toBeGreaterThanOrEqual(advice.volumeMl);
        },
      ),
    );
  });
});

describe('judging a reading', () => {
  test.each([
    [2400, 'within', 0],
    [2430, 'within', 30],
    [2520, 'over', 120],
    [2300, 'under', -100],
  ] as const)('%d mg of 2400 at 2 %%: %s', (reading, verdict, difference) => {
    const tolerance = weighingTolerance({ target: 2400, step: 10, tolerancePct: 2 });
    expect(readingVerdict({ target: 2400, reading, tolerance })).toMatchObject({ verdict, difference });
  });
  test('a target between two digits can always be met', () => {
    const tolerance = weighingTolerance({ target: 14.4, step: 10, tolerancePct: 1 });
    expect(readingVerdict({ target: 14.4, reading: 10, tolerance }).verdict).toBe('within');
    expect(readingVerdict({ target: 14.4, reading: 30, tolerance }).verdict).toBe('over');
  });
});

/** 400 g at 2 %, 50/30/20: 4.0 / 2.4 / 1.6 g, with 2.52 g of the blue on the scale. */
const dye = (lineId: string, planned: number, depthPct: number, more: Partial<WeighUpLine> = {}): WeighUpLine => ({
  lineId,
  colourId: 'rust',
  unit: 'mg',
  planned,
  step: 10,
  depthPct,
  scalesWith: 'depth',
  ...more,
});
const lot: WeighUpLine[] = [
  dye('yellow', 4000, 1),
  dye('blue', 2400, 0.6, { actual: 2520 }),
  dye('red', 1600, 0.4),
  { lineId: 'alum', colourId: null, unit: 'mg', planned: 60_000, step: 1000, scalesWith: 'goods' },
  { lineId: 'salt', colourId: null, unit: 'mg', planned: 400_000, step: 1000, scalesWith: 'liquor' },
  { lineId: 'wetting', colourId: null, unit: 'ul', planned: 5000, step: 100, scalesWith: 'fixed' },
];
const over = {
  lines: lot,
  overLineId: 'blue',
  goodsDryMassMg: 400_000,
  stage: 'dry',
  vessel: 'own',
  liquorFollowsGoods: true,
} as const;
const way = (ways: readonly WayOut[], kind: WayOut['kind']): WayOut => {
  const found = ways.find((one) => one.kind === kind);
  if (found === undefined) throw new Error(`no way ${kind}`);
  return found;
};
const targets = (found: WayOut) => Object.fromEntries(found.lines.map((line) => [line.lineId, line.targetRounded]));

describe('an over-weighed blue', () => {
  const ways = waysOutOfOverWeighing(over);

  test('offers the ways out that are still open', () => {
    expect(ways.map(({ kind }) => kind)).toEqual(['moreGoods', 'deeper', 'weighAgain']);
    expect(waysOutOfOverWeighing({ ...over, stage: 'inBath' }).map(({ kind }) => kind)).toEqual([
      'addOthersToBath',
      'keepAsMade',
    ]);
  });

  test('more goods: everything that goes by goods × 1.05, at the same depth', () => {
    const found = way(ways, 'moreGoods');
    expect(found.goodsFactor).toBeCloseTo(1.05, 12);
    expect(found.goodsDryMassMg).toBeCloseTo(420_000, 6);
    expect(found.extraGoodsMg).toBeCloseTo(20_000, 6);
    expect(targets(found)).toEqual({ yellow: 4200, blue: 2520, red: 1680, alum: 63_000, salt: 420_000, wetting: 5000 });
    expect(found.colourDepthPct).toBeCloseTo(2, 9);
    expect(found.hue).toBe('asPlanned');
  });

  test('more goods in the same bath leave the salt', () => {
    expect(targets(way(waysOutOfOverWeighing({ ...over, liquorFollowsGoods: false }), 'moreGoods'))).toMatchObject({
      alum: 63_000,
      salt: 400_000,
    });
  });

  test('deeper: the dyes × 1.05 on the same goods, auxiliaries as planned', () => {
    const found = way(ways, 'deeper');
    expect(found.goodsDryMassMg).toBe(400_000);
    expect(found.colourDepthPct).toBeCloseTo(2.1, 9);
    expect(found.colourSharesPct).toEqual([expect.closeTo(50, 9), expect.closeTo(30, 9), expect.closeTo(20, 9)]);
    expect(targets(found)).toEqual({ yellow: 4200, blue: 2520, red: 1680, alum: 60_000, salt: 400_000, wetting: 5000 });
  });

  test('weigh again: the blue is waste and due once more, the rest as planned', () => {
    const found = way(ways, 'weighAgain');
    expect(found.discarded).toEqual([{ lineId: 'blue', unit: 'mg', amount: 2520 }]);
    expect(found.lines.find(({ lineId }) => lineId === 'blue')).toMatchObject({ toAdd: 2400, kept: 0, act: 'weigh' });
    expect(found.colourDepthPct).toBeCloseTo(2, 9);
  });

  test('mixed in one vessel, all that is in it is waste', () => {
    const lines = lot.map((line) => (line.lineId === 'yellow' ? { ...line, actual: 4000 } : line));
    const found = way(waysOutOfOverWeighing({ ...over, lines, vessel: 'shared' }), 'weighAgain');
    expect(found.discarded.map(({ lineId }) => lineId)).toEqual(['yellow', 'blue']);
    expect(found.lines.filter(({ act }) => act === 'weigh').map(({ lineId }) => lineId)).toContain('yellow');
  });

  test('a yellow weighed before asks for the difference, the blue for nothing', () => {
    const lines = lot.map((line) => (line.lineId === 'yellow' ? { ...line, actual: 4000 } : line));
    const found = way(waysOutOfOverWeighing({ ...over, lines }), 'deeper');
    expect(found.lines.slice(0, 3)).toMatchObject([
      { lineId: 'yellow', targetRounded: 4200, kept: 4000, toAdd: 200, act: 'addDifference' },
      { lineId: 'blue', targetRounded: 2520, toAdd: 0, act: 'done' },
      { lineId: 'red', targetRounded: 1680, toAdd: 1680, act: 'weigh' },
    ]);
  });

  test('two over: the worse one leads', () => {
    const lines = lot.map((line) => (line.lineId === 'yellow' ? { ...line, actual: 4400 } : line));
    const found = way(waysOutOfOverWeighing({ ...over, lines }), 'deeper');
    expect(found.depthFactor).toBeCloseTo(1.1, 12);
    expect(found.lines.slice(0, 3)).toMatchObject([
      { toAdd: 0 },
      { targetRounded: 2640, toAdd: 120 },
      { targetRounded: 1760 },
    ]);
  });

  test('in the bath: add the others, or keep it and have another hue', () => {
    const inBath = waysOutOfOverWeighing({ ...over, stage: 'inBath' });
    expect(way(inBath, 'addOthersToBath').colourDepthPct).toBeCloseTo(2.1, 9);
    const kept = way(inBath, 'keepAsMade');
    expect(targets(kept)).toMatchObject({ yellow: 4000, blue: 2520, red: 1600 });
    expect(kept.hue).toBe('changed');
    expect(kept.colourDepthPct).toBeCloseTo(2.03, 9);
    expect(kept.colourSharesPct?.[1]).toBeCloseTo((100 * 0.63) / 2.03, 9);
  });

  test('a line of stock solution gets its mL, and another colour of the lot only moves with the goods', () => {
    const lines: WeighUpLine[] = [
      ...lot,
      dye('tint', 45_400, 0.05, { unit: 'ul', step: 500 }),
      dye('slate', 3000, 1, { colourId: 'slate' }),
    ];
    const withMore = waysOutOfOverWeighing({ ...over, lines });
    expect(targets(way(withMore, 'deeper'))).toMatchObject({ tint: 47_500, slate: 3000 });
    expect(targets(way(withMore, 'moreGoods'))).toMatchObject({ tint: 47_500, slate: 3150 });
  });

  test('an over-weighed salt can be weighed again or, in the bath, kept; it makes no shade deeper', () => {
    const lines = lot.map((line) => ({ ...line, actual: line.lineId === 'salt' ? 440_000 : undefined }));
    const salt = { ...over, lines, overLineId: 'salt', liquorFollowsGoods: false };
    expect(waysOutOfOverWeighing(salt).map(({ kind }) => kind)).toEqual(['weighAgain']);
    expect(waysOutOfOverWeighing({ ...salt, stage: 'inBath' })).toMatchObject([
      { kind: 'keepAsMade', hue: 'asPlanned', depthFactor: 1 },
    ]);
  });

  test('a line that is not over, or not there, is refused', () => {
    expect(() => waysOutOfOverWeighing({ ...over, overLineId: 'red' })).toThrow(
      expect.objectContaining({ code: 'mismatch', field: 'overLineId' }),
    );
    expect(() => waysOutOfOverWeighing({ ...over, overLineId: 'green' })).toThrow(
      expect.objectContaining({ code: 'missing' }),
    );
  });

  test('every way: hue holds but in keepAsMade, nothing is ever taken out, and rounded lines stay within a digit', () => {
    const amount = fc.integer({ min: 100, max: 1_000_000 });
    fc.assert(
      fc.property(
        fc.array(
          fc.record({
            planned: amount,
            weighed: fc.option(fc.double({ min: 0.9, max: 1.3, noNaN: true }), { nil: undefined }),
          }),
          { minLength: 1, maxLength: 5 },
        ),
        fc.double({ min: 1.02, max: 2, noNaN: true }),
        fc.constantFrom('dry' as const, 'inBath' as const),
        (others, excess, stage) => {
          const lines = [
            dye('over', 50_000, 0.5, { actual: Math.round((50_000 * excess) / 10) * 10 }),
            ...others.map(({ planned, weighed }, index) =>
              dye(`line ${index}`, planned, planned / 100_000, {
                actual: weighed === undefined ? undefined : Math.round((planned * weighed) / 10) * 10,
              }),
            ),
          ];
          const factor = overWeighFactor({ lines });
          expect(factor).toBeGreaterThanOrEqual(1.0199);
          expect(overWeighTargets({ lines })).toEqual({
            factor,
            targets: lines.map(({ planned }) => planned * factor),
          });
          for (const found of waysOutOfOverWeighing({ ...over, lines, overLineId: 'over', stage })) {
            found.lines.forEach((line, index) => {
              expect(line.toAdd).toBeGreaterThanOrEqual(0);
              expect(Math.abs(line.targetRounded - line.target)).toBeLessThanOrEqual(10 + 1e-6);
              if (found.kind === 'deeper' || found.kind === 'moreGoods' || found.kind === 'addOthersToBath') {
                expect(line.target / (lines[index]?.planned ?? 0)).toBeCloseTo(factor, 9);
                expect(line.kept + line.toAdd).toBeGreaterThanOrEqual(line.targetRounded);
              }
            });
            if (found.kind === 'weighAgain') expect(found.discarded[0]?.lineId).toBe('over');
          }
        },
      ),
    );
  });
});
