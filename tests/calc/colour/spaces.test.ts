import Color from 'colorjs.io';
import { converter } from 'culori';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CalcError } from '../../../server/calc/calcError.ts';
import { type Conditions, D50_2, D65_2, D65_10 } from '../../../server/calc/colour/reading.ts';
import {
  adaptLab,
  adaptXyz,
  hexFromSrgb,
  labFromLch,
  labFromSrgb,
  labFromXyz,
  lchFromLab,
  linearFromSrgb,
  srgbFromHex,
  srgbFromLab,
  srgbFromLinear,
  whiteXyz,
  xyzFromLab,
  xyzFromLinearSrgb,
  xyzFromXyY,
} from '../../../server/calc/colour/spaces.ts';
import { CHART_24 } from '../../reference/chart24.ts';
import { CIE_WHITES } from '../../reference/cieWhitesAndWeights.ts';

const channel = fc.double({ min: 0, max: 1, noNaN: true });
const rgb = fc.record({ r: channel, g: channel, b: channel });
const near = (ours: readonly number[], theirs: readonly (number | null)[], within: number) => {
  for (const [i, value] of ours.entries()) expect(Math.abs(value - Number(theirs[i])), `${i}`).toBeLessThan(within);
};

describe('sRGB, XYZ and CIELAB refereed by two libraries', () => {
  test('D65 and D50, there and back, to 1e-4', () => {
    const lab65 = converter('lab65');
    const lab50 = converter('lab');
    const xyz65 = converter('xyz65');
    fc.assert(
      fc.property(rgb, (srgb) => {
        const theirs = new Color('srgb', [srgb.r, srgb.g, srgb.b]);
        const culori = { mode: 'rgb' as const, ...srgb };
        const xyz = xyzFromLinearSrgb(linearFromSrgb(srgb));
        const cx = xyz65(culori);
        near([xyz.X / 100, xyz.Y / 100, xyz.Z / 100], [cx.x, cx.y, cx.z], 1e-6);
        near([xyz.X / 100, xyz.Y / 100, xyz.Z / 100], theirs.to('xyz-d65').coords, 1e-6);
        const ours65 = labFromSrgb({ srgb, conditions: D65_2 });
        const c65 = lab65(culori);
        near([ours65.L, ours65.a, ours65.b], [c65.l, c65.a, c65.b], 1e-4);
        near([ours65.L, ours65.a, ours65.b], theirs.to('lab-d65').coords, 1e-4);
        const ours50 = labFromSrgb({ srgb, conditions: D50_2 });
        const c50 = lab50(culori);
        near([ours50.L, ours50.a, ours50.b], [c50.l, c50.a, c50.b], 1e-4);
        near([ours50.L, ours50.a, ours50.b], theirs.to('lab').coords, 1e-4);
        const back = srgbFromLab({ lab: ours50, conditions: D50_2 });
        near([back.srgbExact.r, back.srgbExact.g, back.srgbExact.b], [srgb.r, srgb.g, srgb.b], 1e-6);
        expect(back.inGamut).toBe(true);
      }),
      { numRuns: 400 },
    );
  });

  test('LCh as a library has it, and back', () => {
    const lch = converter('lch65');
    fc.assert(
      fc.property(rgb, (srgb) => {
        const lab = labFromSrgb({ srgb, conditions: D65_2 });
        const ours = lchFromLab(lab);
        const theirs = lch({ mode: 'rgb', ...srgb });
        near([ours.L, ours.C], [theirs.l, theirs.c], 1e-4);
        if (ours.C > 0.01) {
          const turn = Math.abs(ours.hueDeg - (theirs.h ?? 0));
          expect(Math.min(turn, 360 - turn)).toBeLessThan(0.02);
        }
        const back = labFromLch(ours);
        near([back.L, back.a, back.b], [lab.L, lab.a, lab.b], 1e-9);
      }),
    );
  });

  test('hex as a library has it; what is not a code is refused', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 0xffffff }), (n) => {
        const hex = `#${n.toString(16).padStart(6, '0')}`;
        expect(hexFromSrgb(srgbFromHex(hex.toUpperCase()))).toBe(hex);
        near(Object.values(srgbFromHex(hex)), new Color(hex).coords, 1e-12);
      }),
    );
    expect(hexFromSrgb(srgbFromHex('fa3'))).toBe('#ffaa33');
    for (const wrong of ['', '#12', '#12345', 'redder', '#gggggg']) expect(() => srgbFromHex(wrong)).toThrow(CalcError);
  });
});

describe('the 24-patch chart', () => {
  test.each(CHART_24)('patch $patch $name: Lab (D50) to sRGB within 0.05 of an 8-bit step', (row) => {
    const [L, a, b] = row.labAfter2014;
    const { srgbExact, inGamut } = srgbFromLab({ lab: { L, a, b }, conditions: D50_2 });
    near([srgbExact.r * 255, srgbExact.g * 255, srgbExact.b * 255], row.srgb8AfterLab, 0.05);
    // Patch 18, cyan, needs less than no red.
    expect(inGamut).toBe(row.patch !== 18);
  });

  test.each(CHART_24)('patch $patch $name: xyY (2005) to Lab near the makers’ figure', (row) => {
    const [x, y, Y] = row.xyY;
    const lab = labFromXyz({ xyz: xyzFromXyY({ x, y, Y: 100 * Y }), white: whiteXyz(D50_2) });
    // The two published tables are rounded apart (xyY to four decimals); blue, dark and saturated, is the worst.
    near([lab.L, lab.a, lab.b], row.labBefore2014, 0.25);
  });
});

describe('adaptation', () => {
  test.each(CIE_WHITES)(
    'white of $illuminant/$observerDeg° by CIE 015:2018 (D65/2° is that of sRGB, 0.026 off in Z)',
    (row) => {
      const white = whiteXyz(row);
      near([white.X, white.Y, white.Z], [row.X, row.Y, row.Z], 0.03);
    },
  );

  test('Bradford D65 to D50 as a library has it', () => {
    const xyz50 = converter('xyz50');
    fc.assert(
      fc.property(rgb, (srgb) => {
        const xyz = xyzFromLinearSrgb(linearFromSrgb(srgb));
        const ours = adaptXyz({ xyz, fromWhite: whiteXyz(D65_2), toWhite: whiteXyz(D50_2), method: 'bradford' });
        const theirs = xyz50({ mode: 'rgb', ...srgb });
        near([ours.X / 100, ours.Y / 100, ours.Z / 100], [theirs.x, theirs.y, theirs.z], 1e-6);
      }),
    );
  });

  const everyCondition: Conditions[] = CIE_WHITES.map(({ illuminant, observerDeg }) => ({ illuminant, observerDeg }));
  test.each(['bradford', 'cat16'] as const)(
    '%s: white stays white, greys stay grey, and the way back is exact',
    (method) => {
      for (const from of everyCondition) {
        for (const to of everyCondition) {
          for (const L of [100, 50, 5]) {
            const grey = adaptLab({ lab: { L, a: 0, b: 0 }, from, to, method });
            near([grey.L, grey.a, grey.b], [L, 0, 0], 1e-9);
          }
          const lab = { L: 42, a: 31, b: -18 };
          const there = adaptLab({ lab, from, to, method });
          const back = adaptLab({ lab: there, from: to, to: from, method });
          near([back.L, back.a, back.b], [lab.L, lab.a, lab.b], 1e-9);
        }
      }
    },
  );

  test('the two methods differ where it matters and not at the white', () => {
    const lab = { L: 50, a: 60, b: 40 };
    const bradford = adaptLab({ lab, from: D50_2, to: D65_10, method: 'bradford' });
    const cat16 = adaptLab({ lab, from: D50_2, to: D65_10, method: 'cat16' });
    expect(Math.abs(bradford.a - cat16.a)).toBeGreaterThan(0.05);
    expect(Math.abs(bradford.a - cat16.a)).toBeLessThan(6);
  });
});

test('Lab and XYZ are inverse on both branches of the curve', () => {
  fc.assert(
    fc.property(
      fc.double({ min: 0, max: 100, noNaN: true }),
      fc.double({ min: -100, max: 100, noNaN: true }),
      fc.double({ min: -100, max: 100, noNaN: true }),
      (L, a, b) => {
        const white = whiteXyz(D65_10);
        const back = labFromXyz({ xyz: xyzFromLab({ lab: { L, a, b }, white }), white });
        near([back.L, back.a, back.b], [L, a, b], 1e-9);
      },
    ),
  );
});

test('linear light and the sRGB curve are inverse', () => {
  fc.assert(
    fc.property(rgb, (srgb) => {
      const back = srgbFromLinear(linearFromSrgb(srgb));
      near([back.r, back.g, back.b], [srgb.r, srgb.g, srgb.b], 1e-9);
    }),
  );
});

test('a colour that no screen shows says so, and its code is still a code', () => {
  const shown = srgbFromLab({ lab: { L: 50, a: -90, b: 10 }, conditions: D65_2 });
  expect(shown.inGamut).toBe(false);
  expect(shown.hex).toMatch(/^#[0-9a-f]{6}$/);
  expect(shown.srgbExact.r).toBeLessThan(0);
  expect(shown.srgb.r).toBe(0);
});
