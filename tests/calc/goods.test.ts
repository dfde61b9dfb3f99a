import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CalcError } from '../../server/calc/calcError.ts';
import * as goods from '../../server/calc/goods.ts';
import { converted } from '../../server/calc/units.ts';
import { AREAL_MASS_AFTER_WASH, WOOL_REGAINS } from '../reference/tradeArithmetic.ts';

const positive = fc.double({ min: 1e-3, max: 1e6, noNaN: true });
const regain = fc.double({ min: 0, max: 400, noNaN: true });

describe('goods', () => {
  test('areal mass after the wash, and the piece weighs what it did', () => {
    const { before, lengthPct, widthPct, after, tolerance } = AREAL_MASS_AFTER_WASH;
    const washed = goods.arealMassGPerM2AfterWash({
      arealMassGPerM2: before,
      lengthShrinkagePct: lengthPct,
      widthShrinkagePct: widthPct,
    });
    expect(Math.abs(washed - after)).toBeLessThanOrEqual(tolerance);
    const massG = goods.clothMassG({
      arealMassGPerM2: washed,
      lengthM: goods.finishedLengthM({ cutLengthM: 2, shrinkagePct: lengthPct }),
      widthM: goods.finishedLengthM({ cutLengthM: 1.5, shrinkagePct: widthPct }),
    });
    expect(massG).toBeCloseTo(goods.clothMassG({ arealMassGPerM2: before, lengthM: 2, widthM: 1.5 }), 9);
  });

  test('wool by the EU and the US convention', () => {
    const { euPct, usPct, differencePct, tolerance } = WOOL_REGAINS;
    const [eu, us] = [euPct, usPct].map((regainPct) => goods.conditionedMassG({ ovenDryMassG: 1000, regainPct }));
    expect(Math.abs(100 * ((eu ?? 0) / (us ?? 1) - 1) - differencePct)).toBeLessThanOrEqual(tolerance);
  });

  test('regain is not content, and each gives the other back', () => {
    fc.assert(
      fc.property(regain, (regainPct) => {
        const contentPct = goods.contentPctOfRegain({ regainPct });
        expect(contentPct).toBeLessThanOrEqual(regainPct);
        expect(goods.regainPctOfContent({ contentPct })).toBeCloseTo(regainPct, 6);
      }),
    );
  });

  test('a blend lies between its fibres, and shares by conditioned mass give less weight to the wetter fibre', () => {
    fc.assert(
      fc.property(fc.double({ min: 1, max: 99, noNaN: true }), regain, regain, (pct, a, b) => {
        const shares = [pct, 100 - pct] as const;
        const dry = goods.blendRegainPct({
          parts: [
            { dryPct: shares[0], regainPct: a },
            { dryPct: shares[1], regainPct: b },
          ],
        });
        const conditioned = goods.blendRegainPctOfConditioned({
          parts: [
            { conditionedPct: shares[0], regainPct: a },
            { conditionedPct: shares[1], regainPct: b },
          ],
        });
        expect(dry).toBeGreaterThanOrEqual(Math.min(a, b) - 1e-6);
        expect(dry).toBeLessThanOrEqual(Math.max(a, b) + 1e-6);
        expect(conditioned).toBeLessThanOrEqual(dry + 1e-6);
      }),
    );
    expect(() => goods.blendRegainPct({ parts: [{ dryPct: 60, regainPct: 8 }] })).toThrow(CalcError);
  });

  test('a blend by conditioned mass weighs as much as its parts do, conditioned', () => {
    const parts = [
      { conditionedPct: 80, regainPct: 17 },
      { conditionedPct: 20, regainPct: 5.75 },
    ];
    const ovenDryG = parts.reduce(
      (sum, part) => sum + goods.ovenDryMassGOfRegain({ massG: part.conditionedPct, regainPct: part.regainPct }),
      0,
    );
    const regainPct = goods.blendRegainPctOfConditioned({ parts });
    expect(goods.conditionedMassG({ ovenDryMassG: ovenDryG, regainPct })).toBeCloseTo(100, 9);
  });

  test('damp goods count the same by regain and by a dried sample', () => {
    fc.assert(
      fc.property(positive, regain, fc.double({ min: 0, max: 30, noNaN: true }), (dryG, actualRegainPct, regainPct) => {
        const dampMassG = dryG * (1 + actualRegainPct / 100);
        const expected = dryG * (1 + regainPct / 100);
        expect(goods.goodsDryMassGOfDamp({ dampMassG, actualRegainPct, regainPct })).toBeCloseTo(expected, 5);
        const sample = { dampMassG, sampleDampMassG: dampMassG / 10, sampleDryMassG: dryG / 10, regainPct };
        expect(goods.goodsDryMassGOfDriedSample({ ...sample, sampleDriedTo: 'ovenDry' })).toBeCloseTo(expected, 5);
        expect(goods.goodsDryMassGOfDriedSample({ ...sample, sampleDriedTo: 'airDry' })).toBeCloseTo(dryG, 5);
      }),
    );
  });

  test('cutting by (1 − S) gives the finished length; adding S does not', () => {
    fc.assert(
      fc.property(positive, fc.double({ min: 0.1, max: 60, noNaN: true }), (length, shrinkagePct) => {
        const cut = goods.cutLengthM({ finishedLengthM: length, shrinkagePct });
        expect(goods.finishedLengthM({ cutLengthM: cut, shrinkagePct }) / length).toBeCloseTo(1, 9);
        expect(cut).toBeGreaterThan(length * (1 + shrinkagePct / 100));
        expect(goods.shrinkagePct({ before: cut, after: length })).toBeCloseTo(shrinkagePct, 6);
      }),
    );
  });

  test('an ounce to the running yard weighs less to the square yard the wider the cloth', () => {
    const linearMassGPerM = converted({ value: 14, from: 'ozPerYd', to: 'gPerM' });
    const at = (widthM: number) => goods.arealMassGPerM2OfLinear({ linearMassGPerM, widthM });
    expect(at(1.5)).toBeLessThan(at(1.1));
    /* at a width of one yard the two are the same number */
    expect(at(0.9144)).toBeCloseTo(14 * 33.90575, 3);
    expect(goods.linearMassGPerMOfAreal({ arealMassGPerM2: at(1.5), widthM: 1.5 })).toBeCloseTo(linearMassGPerM, 9);
    /* three yards of it are 42 oz */
    const massG = goods.clothMassGOfLinear({ linearMassGPerM, lengthM: 3 * 0.9144 });
    expect(converted({ value: massG, from: 'g', to: 'oz' })).toBeCloseTo(42, 9);
  });

  test('mass and length of yarn undo each other, and two plies of one count weigh twice the single', () => {
    fc.assert(
      fc.property(positive, fc.double({ min: 1, max: 1000, noNaN: true }), (massG, tex) => {
        expect(goods.yarnMassG({ lengthM: goods.yarnLengthM({ massG, tex }), tex }) / massG).toBeCloseTo(1, 9);
      }),
    );
    expect(goods.resultantTex({ system: 'Nm', singleCount: 30, plies: 2 })).toBeCloseTo(
      2 * goods.resultantTex({ system: 'Nm', singleCount: 30, plies: 1 }),
      9,
    );
  });

  test('put-ups', () => {
    expect(goods.putUpsMassG({ count: 24, putUpMassG: 50 })).toBe(1200);
    expect(() => goods.putUpsMassG({ count: 2.5, putUpMassG: 50 })).toThrow(CalcError);
  });

  test.each<[string, () => number]>([
    ['no width', () => goods.clothMassG({ arealMassGPerM2: 150, lengthM: 2, widthM: 0 })],
    ['a negative areal mass', () => goods.clothMassG({ arealMassGPerM2: -150, lengthM: 2, widthM: 1 })],
    ['all water', () => goods.ovenDryMassGOfContent({ massG: 100, contentPct: 100 })],
    [
      'a sample heavier dry than damp',
      () =>
        goods.goodsDryMassGOfDriedSample({
          dampMassG: 100,
          sampleDampMassG: 10,
          sampleDryMassG: 11,
          sampleDriedTo: 'airDry',
        }),
    ],
    ['shrinking to nothing', () => goods.cutLengthM({ finishedLengthM: 1, shrinkagePct: 100 })],
    ['half a ply', () => goods.resultantTex({ system: 'Nm', singleCount: 30, plies: 1.5 })],
    ['no number', () => goods.yarnLengthM({ massG: Number.NaN, tex: 20 })],
  ])('refuses %s', (_, run) => {
    expect(run).toThrow(CalcError);
  });
});
