import { describe, expect, test } from 'vitest';
import { CalcError } from '../../server/calc/calcError.ts';
import * as cost from '../../server/calc/cost.ts';
import * as dyeMass from '../../server/calc/dyeMass.ts';
import * as goods from '../../server/calc/goods.ts';
import * as stock from '../../server/calc/stockSolution.ts';

/* Parts of a whole that do not make it, and lists without anything in them: shares of a recipe, fibres of a blend, colours of a
 * piece, a series of solutions. A studio that went on with them would dye at 96 % of the depth and never learn why. */

const refusalOf = (work: () => unknown): string => {
  try {
    return `read as ${JSON.stringify(work())}`;
  } catch (error) {
    if (!(error instanceof CalcError)) throw error;
    return `${error.code} ${error.field}: ${error.message}`;
  }
};

describe('fibres of a blend', () => {
  const dry =
    (...pcts: number[]) =>
    () =>
      goods.blendRegainPct({ parts: pcts.map((dryPct) => ({ dryPct, regainPct: 10 })) });
  test('add to all of it, give or take half of the last printed digit of each', () => {
    expect(
      goods.blendRegainPct({
        parts: [
          { dryPct: 55, regainPct: 12 },
          { dryPct: 45, regainPct: 8 },
        ],
      }),
    ).toBeCloseTo(10.2, 9);
    expect(dry(33.3, 33.3, 33.3)()).toBeCloseTo(10, 9);
    expect(refusalOf(dry(50, 49.85))).toBe('mismatch dryPct: the fibres add to 99.85 %, not to 100 %');
    expect(refusalOf(dry(60, 60))).toBe('mismatch dryPct: the fibres add to 120 %, not to 100 %');
    expect(refusalOf(dry())).toBe('missing dryPct: a blend needs at least one fibre');
    expect(refusalOf(dry(120, -20))).toMatch(/^outOfRange dryPct/);
    expect(refusalOf(() => goods.blendRegainPct({ parts: [{ dryPct: 100, regainPct: -1 }] }))).toMatch(
      /^outOfRange regainPct/,
    );
    expect(
      refusalOf(() => goods.blendRegainPctOfConditioned({ parts: [{ conditionedPct: 100, regainPct: -1 }] })),
    ).toMatch(/^outOfRange regainPct/);
  });
});

describe('shares of a recipe', () => {
  test('add to exactly a million', () => {
    expect(dyeMass.ownDepthsPpm({ depthPpm: 20_000, sharesPpm: [600_000, 400_000] })).toEqual([12_000, 8000]);
    expect(refusalOf(() => dyeMass.ownDepthsPpm({ depthPpm: 20_000, sharesPpm: [600_000, 399_999] }))).toBe(
      'mismatch sharePct: the shares add to 99.9999 %, not to 100 %',
    );
    expect(refusalOf(() => dyeMass.ownDepthsPpm({ depthPpm: 1, sharesPpm: [1_200_000, -200_000] }))).toMatch(
      /^outOfRange sharePct/,
    );
    expect(refusalOf(() => dyeMass.splitOfOwnDepths({ ownDepthsPpm: [5, -1] }))).toMatch(/^outOfRange depthPpm/);
    expect(refusalOf(() => dyeMass.sharesPpm({ parts: [] }))).toBe(
      'outOfRange sharePct: sharePct needs at least one part that is more than 0',
    );
  });
  test('in per cent, give or take half of the last printed digit of each', () => {
    const masses =
      (...sharesPct: number[]) =>
      () =>
        dyeMass.componentMassesG({ goodsDryMassG: 500, depthPct: 2, sharesPct });
    expect(masses(33.3, 33.3, 33.3)()[0]).toBeCloseTo(10 / 3, 9);
    expect(refusalOf(masses(50, 49.85))).toBe('mismatch sharesPct: the shares add to 99.85 %, not to 100 %');
    expect(refusalOf(masses())).toBe('mismatch sharesPct: the shares add to 0 %, not to 100 %');
    expect(refusalOf(masses(120, -20))).toMatch(/^outOfRange sharesPct/);
  });
});

describe('colours of a piece', () => {
  const piece =
    (coverageMode: dyeMass.CoverageMode, ...areas: number[]) =>
    () =>
      dyeMass.pieceDye({
        goodsDryMassG: 100,
        coverageMode,
        lossFactor: 0,
        uptakeFactor: 1,
        colours: areas.map((areaSharePct) => ({ areaSharePct, components: [{ depthPct: 2, strengthPct: 100 }] })),
      });
  test('cover no more than there is, unless they lie over one another', () => {
    expect(piece('eachOverItsShare', 60, 40)().massG).toBeCloseTo(2, 9);
    expect(piece('eachOverItsShare', 60, 20)().massG).toBeCloseTo(1.6, 9);
    expect(piece('eachOverAll', 100, 100)().massG).toBeCloseTo(4, 9);
    expect(piece('eachOverItsShare', 33.4, 33.4, 33.3)().massG).toBeCloseTo(2.002, 9);
    expect(refusalOf(piece('eachOverItsShare', 60, 40.15))).toBe(
      'mismatch areaSharePct: the colours cover 100.15 % of the piece',
    );
    expect(refusalOf(piece('eachOverAll'))).toBe('missing colours: a piece needs at least one colour');
    for (const area of [-1, 101]) expect(refusalOf(piece('eachOverAll', area))).toMatch(/^outOfRange areaSharePct/);
  });
});

describe('solutions', () => {
  test('are diluted, not strengthened, and none is used that was not made', () => {
    expect(refusalOf(() => stock.dilution({ fromStrengthPct: 1, toStrengthPct: 5, toVolumeMl: 10 }))).toBe(
      'mismatch toStrengthPct: a 1 % solution cannot be diluted to a stronger 5 %',
    );
    const series =
      (...steps: [number, number][]) =>
      () =>
        stock.dilutionSeries({
          fromStrengthPct: 5,
          steps: steps.map(([strengthPct, wantedMl]) => ({ strengthPct, wantedMl })),
        });
    // 100 mL of 0.1 % take 10 mL of 1 %; 60 mL of 1 % take 12 mL of 5 %.
    expect(series([1, 50], [0.1, 100])().map((s) => [s.madeMl, s.drawnMl, s.waterMl])).toEqual([
      [60, 12, 48],
      [100, 10, 90],
    ]);
    for (const strength of [5, 6])
      expect(refusalOf(series([strength, 50]))).toBe(
        'mismatch strengthPct: each solution of the series must be weaker than the one before',
      );
    expect(refusalOf(series([1, -1]))).toMatch(/^outOfRange wantedMl/);
    expect(refusalOf(() => stock.stockLeft({ madeVolumeMl: 100, usedVolumeMl: 101, stockStrengthPct: 1 }))).toBe(
      'mismatch usedVolumeMl: 101 mL cannot be used of 100 mL',
    );
    expect(refusalOf(() => stock.stockLeft({ madeVolumeMl: -1, usedVolumeMl: 0, stockStrengthPct: 1 }))).toMatch(
      /^outOfRange madeVolumeMl/,
    );
  });
});

describe('stock and pieces', () => {
  test('that are not there cannot be averaged, issued or priced', () => {
    expect(refusalOf(() => cost.movingAverageUnitCost({ holdings: [] }))).toBe(
      'outOfRange quantity: an average needs some stock to be taken over',
    );
    expect(
      refusalOf(() =>
        cost.movingAverageUnitCost({
          holdings: [
            { quantity: -1, unitCost: 1 },
            { quantity: 5, unitCost: 1 },
          ],
        }),
      ),
    ).toMatch(/^outOfRange quantity: quantity must be at least 0/);
    expect(refusalOf(() => cost.fifoIssue({ layers: [{ quantity: 5, unitCost: 1 }], quantity: 7.5 }))).toBe(
      'mismatch quantity: there is not enough in stock: 2.5 short',
    );
    expect(refusalOf(() => cost.markupPctOfMargin({ marginPct: 100 }))).toBe(
      'outOfRange marginPct: a margin is under 100 %: the goods cost something',
    );
    expect(refusalOf(() => cost.movingAverageAfter({ events: [{ quantity: Number.NaN }] }))).toMatch(
      /^notFinite quantity/,
    );
    const layers = [
      { quantity: 5, unitCost: 1 },
      { quantity: 5, unitCost: 2 },
    ];
    expect(cost.fifoIssue({ layers, quantity: 5 }).draws).toHaveLength(1);
    expect(
      cost.fifoIssue({ layers: [{ quantity: 0, unitCost: 9 }, ...layers], quantity: 5 }).draws.map((d) => d.layerIndex),
    ).toEqual([1]);
  });
});
