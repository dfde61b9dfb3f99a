import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CalcError } from '../../../server/calc/calcError.ts';
import {
  differenceInWords,
  GREY_SCALE_GRADES,
  greyScaleBand,
  greyScaleChange,
  shadeShift,
  shadeSort555,
  toleranceBand,
} from '../../../server/calc/colour/tolerance.ts';
import { GREY_SCALE_CHANGES, GREY_SCALE_STEPS } from '../../reference/greyScale.ts';

const labOf = ([L, a, b]: readonly [number, number, number]) => ({ L, a, b });

describe('grey scale for change', () => {
  test.each(GREY_SCALE_STEPS)('grade $grade is ΔE*ab $deltaE76 ± $tolerance', ({ grade, deltaE76, tolerance }) => {
    expect(greyScaleBand(grade)).toEqual({ deltaE76, tolerance });
  });

  test('HB103, HB104: grades 4 and 3', () => {
    expect(greyScaleBand('4')).toEqual({ deltaE76: 1.7, tolerance: 0.3 });
    expect(greyScaleBand('3')).toEqual({ deltaE76: 3.4, tolerance: 0.4 });
    expect(greyScaleBand('4–5')).toEqual(greyScaleBand('4-5'));
    expect(() => greyScaleBand('6')).toThrow(CalcError);
    expect(GREY_SCALE_GRADES).toHaveLength(9);
  });

  test.each(GREY_SCALE_CHANGES)('change $id is grade $grade', (row) => {
    const ours = greyScaleChange({ reference: labOf(row.reference), test: labOf(row.test) });
    const off = (one: number, other: number) => Math.abs(one - other);
    expect(off(ours.deltaEF, row.deltaEF)).toBeLessThanOrEqual(5.1e-5);
    expect(off(ours.deltaCF, row.deltaCF)).toBeLessThanOrEqual(5.1e-5);
    expect(off(ours.deltaHF, row.deltaHF)).toBeLessThanOrEqual(5.1e-5);
    expect(off(ours.meanChroma, row.meanChroma)).toBeLessThanOrEqual(5.1e-5);
    expect(off(ours.chromaShare, row.chromaShare)).toBeLessThanOrEqual(5.1e-5);
    // Without chroma there is no mean hue, whatever the formulas make of it.
    if (row.meanChroma > 0) expect(off(ours.meanHueDeg, row.meanHueDeg)).toBeLessThanOrEqual(5.1e-5);
    expect(off(ours.gradeFine, row.gradeContinuous)).toBeLessThanOrEqual(0.0501);
    expect(ours.grade).toBe(row.grade);
  });
});

describe('555 shade sorting', () => {
  const standard = { L: 50, a: 10, b: -10 };
  const blocks = { blockL: 1, blockSecond: 0.6, blockThird: 0.6 } as const;

  test('the standard is 555; 357 is two blocks off, level, two the other way', () => {
    expect(shadeSort555({ standard, sample: standard, axes: 'Lab', ...blocks }).code).toBe('555');
    const sample = { L: 50 - 2.1, a: 10.2, b: -10 + 1.3 };
    expect(shadeSort555({ standard, sample, axes: 'Lab', ...blocks })).toEqual({ code: '357', beyond: false });
  });

  test('far off stays at the end of the digits and says so', () => {
    const sample = { L: 70, a: 10, b: -10 };
    expect(shadeSort555({ standard, sample, axes: 'Lab', ...blocks })).toEqual({ code: '955', beyond: true });
  });

  test('by chroma and hue: more of the same hue moves the second digit only', () => {
    const sample = { L: 50, a: 10 * 1.1, b: -10 * 1.1 };
    expect(shadeSort555({ standard, sample, axes: 'LCh', ...blocks }).code).toBe('575');
    const turned = { L: 50, a: Math.hypot(10, 10), b: 0 };
    expect(shadeSort555({ standard, sample: turned, axes: 'LCh', ...blocks }).code).toBe('559');
  });

  test('standard and sample swapped mirror about 5', () => {
    const part = fc.double({ min: -2, max: 2, noNaN: true });
    fc.assert(
      fc.property(part, part, part, (l, a, b) => {
        const sample = { L: standard.L + l, a: standard.a + a, b: standard.b + b };
        const there = shadeSort555({ standard, sample, axes: 'Lab', ...blocks }).code;
        const back = shadeSort555({ standard: sample, sample: standard, axes: 'Lab', ...blocks }).code;
        // Half blocks round up on one side only, so a digit may differ by one there.
        for (const i of [0, 1, 2]) expect(Math.abs(Number(there[i]) + Number(back[i]) - 10)).toBeLessThanOrEqual(1);
      }),
    );
  });
});

test('bands are those of their own formula', () => {
  expect(toleranceBand({ formula: 'deltaECmc21', deltaE: 0.8 })?.name).toBe('strict');
  expect(toleranceBand({ formula: 'deltaECmc21', deltaE: 1 })?.name).toBe('usual');
  expect(toleranceBand({ formula: 'deltaECmc21', deltaE: 1.01 })).toBeUndefined();
  expect(toleranceBand({ formula: 'deltaE2000', deltaE: 1.9 })?.name).toBe('craft');
  expect(() => toleranceBand({ formula: 'deltaE2000', deltaE: -1 })).toThrow(CalcError);
});

test('words and arrows', () => {
  expect(differenceInWords({ deltaE2000: 0.2 })).toBe('not to be told apart');
  expect(differenceInWords({ deltaE2000: 12 })).toBe('a different colour');
  const standard = { L: 50, a: 20, b: 20 };
  expect(shadeShift({ standard, sample: { L: 55, a: 30, b: 10 }, threshold: 0.5 })).toEqual({
    lightness: 'lighter',
    chroma: 'brighter',
    redGreen: 'redder',
    yellowBlue: 'bluer',
  });
  expect(shadeShift({ standard, sample: standard, threshold: 0.5 }).lightness).toBe('level');
});
