import { describe, expect, test } from 'vitest';
import { CalcError } from '../../server/calc/calcError.ts';
import { calcTopics } from '../../server/calc/topics.ts';
import { CIEDE2000_PAIRS } from '../reference/ciede2000.ts';
import { TRADE_ARITHMETIC } from '../reference/tradeArithmetic.ts';

describe('published figures of the trade, by topic', () => {
  test.each(TRADE_ARITHMETIC)('$id $topic $inputs → $expected $unit', (row) => {
    const { value, unit } = calcTopics[row.topic].run(row.inputs);
    expect(unit).toBe(row.unit);
    const values = [value].flat();
    const expected = [row.expected].flat();
    expect(values).toHaveLength(expected.length);
    expected.forEach((one, index) => {
      expect(Math.abs((values[index] ?? Number.NaN) - one), `${values[index]} against ${one}`).toBeLessThanOrEqual(
        row.tolerance * (1 + 1e-9),
      );
    });
  });
});

/* Relations between fields, not figures: the same quantity said in another way must give the same answer. */
describe('the same thing said in other fields', () => {
  const resultOf = (topic: keyof typeof calcTopics, inputs: Record<string, unknown>) =>
    calcTopics[topic].run(inputs).value;

  test.each<[keyof typeof calcTopics, Record<string, unknown>, Record<string, unknown>]>([
    ['dye-mass', { goodsG: 453.59237, depthPct: 2 }, { goodsLb: 1, depthPct: 2 }],
    ['dye-mass', { goodsKg: 0.2, depthPct: 2 }, { goodsG: 200, depthPct: 2 }],
    ['dye-mass', { goodsG: 100, depthPct: 2, lossPct: 10 }, { goodsG: 110, depthPct: 2 }],
    ['dye-mass', { goodsG: 100, depthPct: 2, coveragePct: 25 }, { goodsG: 25, depthPct: 2 }],
    ['stock-volume', { goodsG: 5, depthPct: 2, stockPct: 0.5 }, { goodsG: 5, depthPct: 2, stockGPerL: 5 }],
    ['stock-volume', { dyeG: 0.1, stockPct: 1 }, { goodsG: 5, depthPct: 2, stockPct: 1 }],
    [
      'aux-stock-volume',
      { liquorMl: 50, gPerL: 2, stockPct: 1 },
      { goodsG: 5, liquorRatio: 10, gPerL: 2, stockPct: 1 },
    ],
    ['aux-mass-gPerL', { liquorL: 6, gPerL: 50 }, { goodsG: 300, liquorRatio: 20, gPerL: 50 }],
    ['make-up-water', { liquorMl: 50, additionsMl: [10, 5] }, { goodsG: 5, liquorRatio: 10, additionsMl: [15] }],
    ['liquor-ratio', { goodsG: 100, liquorMl: 1000 }, { goodsKg: 0.1, liquorL: 1 }],
    ['cup-to-g', { cupUS: 1, bulkDensityKgPerM3: 600 }, { tablespoonUS: 16, bulkDensityGPerMl: 0.6 }],
    [
      'soak-conc',
      { cupUSPerGallonUS: 1, bulkDensityKgPerM3: 600 },
      { tablespoonUSPerQuartUS: 4, bulkDensityKgPerM3: 600 },
    ],
    ['soak-conc', { cupUSPerGallonUS: 1, bulkDensityKgPerM3: 600 }, { cupUS: 2, gallonUS: 2, bulkDensityKgPerM3: 600 }],
    [
      'dye-mass',
      { goodsG: 100, depthPct: 2, lotStrengthPct: 95 },
      { goodsG: 100, depthPct: 4, lotStrengthPct: 95, standardStrengthPct: 50 },
    ],
    ['liquor-ratio', { liquorGallonUS: 3, goodsLb: 1 }, { gallonUSPerLb: 3 }],
    ['hydrate-factor', { from: 'Na2CO3', to: 'Na2CO3.H2O' }, { from: 'soda ash (anhydrous)', to: 'Na₂CO₃·H₂O' }],
    ['aux-rate-to-owg', { ozPerLb: 1 }, { gPerKg: 62.5 }],
    ['fabric-mass', { gPerM2: 150, lengthM: 2, widthM: 1 }, { gPerM2: 150, lengthCm: 200, widthCm: 100 }],
    ['fabric-mass', { gPerM2: 150, areaM2: 2 }, { gPerM2: 150, lengthM: 2, widthM: 1 }],
    ['yarn-count', { NmSingle: 30, ply: 2, to: 'tex' }, { texSingle: 1000 / 30, ply: 2, to: 'tex' }],
    ['over-weigh-scale', { planG: [4, 2.4], overIndex: 1, actualG: 2.52 }, { planG: [4, 2.4], actualG: [null, 2.52] }],
    ['dilution', { C1pct: 1, C2pct: 0.1, V2mL: 100 }, { C1GPerL: 10, C2GPerL: 1, V2mL: 100 }],
    [
      'damp-goods',
      { dampMassG: 260, ovenDryG: 200, targetRegainPct: 8.5 },
      { dampMassG: 260, actualRegainPct: 30, targetRegainPct: 8.5 },
    ],
    [
      'damp-goods',
      { dampMassG: 260, ovenDryG: 200, targetRegainPct: 8.5 },
      { dampMassG: 260, sampleDampG: 26, sampleDryG: 20, targetRegainPct: 8.5 },
    ],
  ])('%s %j = %j', (topic, one, other) => {
    const [a, b] = [[resultOf(topic, one)].flat(), [resultOf(topic, other)].flat()];
    a.forEach((value, index) => {
      expect(value).toBeCloseTo(b[index] ?? Number.NaN, 8);
    });
  });

  test.each<[keyof typeof calcTopics, Record<string, unknown>, Record<string, unknown>]>([
    ['unit-areal', { ozPerYd2: 5 }, { gPerM2: 169.52873737 }],
    ['unit-temp', { degF: 105 }, { degC: 40.55555556 }],
    ['silk-weight', { momme: 16 }, { gPerM2: 69.44 }],
    ['regain-to-content', { regainPct: 11 }, { contentPct: 9.90990991 }],
    ['gPerL-to-owg', { gPerL: 5, liquorRatio: 5 }, { pctOwg: 2.5, liquorRatio: 5 }],
    ['shrinkage-cut', { finished: 100, shrinkPct: 6 }, { cut: 106.38297872, shrinkPct: 6 }],
    ['conditioned-mass', { ovenDryG: 1000, regainPct: 17 }, { conditionedG: 1170, regainPct: 17 }],
    ['dilution', { C1pct: 1, C2pct: 0.1, V2mL: 100 }, { C1pct: 1, C2pct: 0.1, V1mL: 10 }],
  ])('%s undoes itself: %j and %j', (topic, there, back) => {
    const first = (record: Record<string, unknown>) =>
      Object.values(record).filter((value) => typeof value === 'number');
    expect(first(back)).toContainEqual(expect.closeTo(resultOf(topic, there) as number, 6));
    expect(first(there)).toContainEqual(expect.closeTo(resultOf(topic, back) as number, 6));
  });

  test.each(CIEDE2000_PAIRS)('CIEDE2000 pair %# of the published table', ({ standard, sample, deltaE2000 }) => {
    expect(resultOf('ciede2000', { lab1: standard, lab2: sample })).toBeCloseTo(deltaE2000, 4);
  });
  test('CMC(2:1) of white to black, B. Lindbloom', () => {
    expect(resultOf('cmc21', { std: [100, 0, 0], trial: [0, 0, 0] })).toBeCloseTo(33.740085, 4);
  });
  test('grey scale grades 4 and 3, EN 20105-A02:1994', () => {
    expect(resultOf('grey-scale', { changeGrade: '4' })).toBe(1.7);
    expect(resultOf('grey-scale', { changeGrade: '3' })).toBe(3.4);
  });
});

describe('a topic refuses', () => {
  const refusal = (topic: keyof typeof calcTopics, inputs: Record<string, unknown>) => {
    try {
      calcTopics[topic].run(inputs);
    } catch (error) {
      if (error instanceof CalcError) return `${error.code} ${error.field}`;
      throw error;
    }
    return 'nothing';
  };

  test.each<[keyof typeof calcTopics, Record<string, unknown>, string]>([
    ['cup-to-g', { cupUS: 1 }, 'missing bulkDensity'],
    ['soak-conc', { cupUSPerGallonUS: 1 }, 'missing bulkDensity'],
    ['dye-mass', { goodsG: 100 }, 'missing depthPct'],
    ['dye-mass', { goods: 100, depthPct: 2 }, 'missing goodsG'],
    ['dye-mass', { goodsG: 100, goodsKg: 1, depthPct: 2 }, 'mismatch goodsKg'],
    ['dye-mass', { goodsG: 100, depthPct: 2, moonPhase: 3 }, 'unreadable moonPhase'],
    ['dye-mass', { goodsG: 'a lot', depthPct: 2 }, 'notFinite goodsG'],
    ['dye-mass', { goodsG: 100, depthPct: 2, strengthPct: 0 }, 'outOfRange strengthPct'],
    ['dye-mass', { goodsLb: -1, depthPct: 2 }, 'outOfRange goodsLb'],
    ['unit-areal', { ozPerLinearYard: 7 }, 'missing gPerM2'],
    ['unit-mass', { g: 1, to: 'm' }, 'unreadable to'],
    ['make-up-water', { liquorMl: 50, additionsMl: [40, 20] }, 'outOfRange additionsMl'],
    ['make-up-water', { liquorMl: 50, additionsMl: 'none' }, 'unreadable additionsMl'],
    ['hydrate-factor', { from: 'Na2CO3', to: 'NaHCO3' }, 'mismatch toFormula'],
    ['regain-blend', { cottonPct: 60, cottonRegain: 8.5, viscosePct: 30, viscoseRegain: 13 }, 'mismatch dryPct'],
    ['regain-blend', { cottonPct: 60, cottonRegain: 8.5, viscosePct: 40 }, 'missing viscoseRegain'],
    ['component-split', { goodsG: 400, totalDepthPct: 2, sharePct: [50, 30] }, 'mismatch sharePct'],
    ['fifo-issue', { layers: [[100, 0.04]], issue: 150 }, 'mismatch quantity'],
    ['dilution', { C1pct: 1, C2pct: 2, V2mL: 100 }, 'mismatch toStrengthPct'],
    ['exhaustion', { startGPerL: 0.1, endGPerL: 1 }, 'mismatch endGPerL'],
    ['grey-scale', { changeGrade: '7' }, 'notKnown grade'],
    ['ciede2000', { lab1: [50, 1], lab2: [50, 0, 0] }, 'unreadable lab1'],
    ['yarn-count', { Nm: 0, to: 'tex' }, 'outOfRange singleCount'],
  ])('%s %j: %s', (topic, inputs, expected) => {
    expect(refusal(topic, inputs)).toBe(expected);
  });
});
