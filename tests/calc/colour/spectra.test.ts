import { describe, expect, test } from 'vitest';
import { CalcError } from '../../../server/calc/calcError.ts';
import { deltaE2000 } from '../../../server/calc/colour/deltaE.ts';
import { type Conditions, D50_2, D65_2, D65_10 } from '../../../server/calc/colour/reading.ts';
import {
  abridgedWeights,
  labFromSpectrum,
  resampledSpectrum,
  tristimulusWeights,
  xyzFromSpectrum,
} from '../../../server/calc/colour/spectra.ts';
import { CHART_24 } from '../../reference/chart24.ts';
import {
  CIE_WHITES,
  E308_A_10DEG_10NM,
  E308_A_10DEG_20NM,
  E308_D65_2DEG_20NM,
} from '../../reference/cieWhitesAndWeights.ts';

describe('white points and weights', () => {
  test.each(CIE_WHITES)('$illuminant/$observerDeg°: the 5 nm sum is the printed white within 0.02', (row) => {
    const { white } = tristimulusWeights({ conditions: row, startNm: 360, stepNm: 5, count: 85 });
    expect(Math.abs(white.X - row.X)).toBeLessThan(0.02);
    expect(white.Y).toBeCloseTo(100, 9);
    expect(Math.abs(white.Z - row.Z)).toBeLessThan(0.02);
  });

  test.each([
    { name: 'A/10° 10 nm', conditions: { illuminant: 'A', observerDeg: 10 }, stepNm: 10, table: E308_A_10DEG_10NM },
    { name: 'A/10° 20 nm', conditions: { illuminant: 'A', observerDeg: 10 }, stepNm: 20, table: E308_A_10DEG_20NM },
    { name: 'D65/2° 20 nm', conditions: { illuminant: 'D65', observerDeg: 2 }, stepNm: 20, table: E308_D65_2DEG_20NM },
  ] as const)('$name: abridged weights within 0.003 of ASTM E308', ({ conditions, stepNm, table }) => {
    const weights = abridgedWeights({ conditions, stepNm });
    // The standard works from 1 nm tables; from 5 nm ones the worst weight is off by 0.0028 of 100.
    for (const [nm, X, Y, Z] of table) {
      const i = (nm - 360) / stepNm;
      if (i >= weights.X.length) continue;
      expect(Math.abs((weights.X[i] as number) - X), `X ${nm}`).toBeLessThan(0.003);
      expect(Math.abs((weights.Y[i] as number) - Y), `Y ${nm}`).toBeLessThan(0.003);
      expect(Math.abs((weights.Z[i] as number) - Z), `Z ${nm}`).toBeLessThan(0.003);
    }
  });
});

describe('spectrum to colour', () => {
  const patches = CHART_24.map((row) => ({
    ...row,
    spectrum: { startNm: 380, stepNm: 10 as const, reflectance: row.reflectance },
  }));

  test('24 measured patches lie by their specification: median 0.44, worst 1.14 (chart to chart, not arithmetic)', () => {
    const off = patches
      .map(({ spectrum, labBefore2014: [L, a, b] }) =>
        deltaE2000({ standard: { L, a, b }, sample: labFromSpectrum({ spectrum, conditions: D50_2 }) }),
      )
      .sort((one, other) => one - other);
    expect(((off[11] as number) + (off[12] as number)) / 2).toBeCloseTo(0.44, 1);
    expect(off[23]).toBeCloseTo(1.14, 1);
  });

  test.each(patches)('patch $patch: every second reading gives nearly the same colour', ({ spectrum }) => {
    const sparse = {
      startNm: 380,
      stepNm: 20 as const,
      reflectance: spectrum.reflectance.filter((_, i) => i % 2 === 0),
    };
    const standard = labFromSpectrum({ spectrum, conditions: D65_10 });
    const sample = labFromSpectrum({ spectrum: sparse, conditions: D65_10 });
    expect(deltaE2000({ standard, sample })).toBeLessThan(0.45);
  });

  test('a perfect white and a perfect grey have no tint, whatever the grid', () => {
    const everyCondition: Conditions[] = CIE_WHITES.map(({ illuminant, observerDeg }) => ({ illuminant, observerDeg }));
    for (const conditions of everyCondition) {
      for (const [startNm, stepNm, count] of [
        [400, 10, 31],
        [380, 10, 41],
        [360, 20, 22],
        [400, 20, 16],
        [380, 5, 81],
      ] as const) {
        const lab = labFromSpectrum({ spectrum: { startNm, stepNm, reflectance: Array(count).fill(0.2) }, conditions });
        expect(lab.a).toBeCloseTo(0, 9);
        expect(lab.b).toBeCloseTo(0, 9);
        expect(
          xyzFromSpectrum({ spectrum: { startNm, stepNm, reflectance: Array(count).fill(1) }, conditions }).Y,
        ).toBeCloseTo(100, 9);
      }
    }
  });

  test('too short a range, a crooked grid and an impossible reflectance are refused', () => {
    const of = (startNm: number, count: number, value = 0.5) =>
      labFromSpectrum({ spectrum: { startNm, stepNm: 10, reflectance: Array(count).fill(value) }, conditions: D65_2 });
    expect(() => of(420, 29)).toThrow(CalcError);
    expect(() => of(405, 31)).toThrow(CalcError);
    expect(() => of(400, 31, -0.1)).toThrow(CalcError);
    expect(() => of(400, 31, Number.NaN)).toThrow(CalcError);
  });

  test('resampling keeps a straight spectrum straight and holds the ends level', () => {
    const ramp = {
      startNm: 400,
      stepNm: 20 as const,
      reflectance: Array.from({ length: 16 }, (_, i) => 0.1 + i * 0.02),
    };
    const fine = resampledSpectrum({ spectrum: ramp, startNm: 380, stepNm: 10, count: 41 });
    expect(fine.reflectance[0]).toBeCloseTo(0.1, 12);
    expect(fine.reflectance[3]).toBeCloseTo(0.11, 12);
    expect(fine.reflectance[40]).toBeCloseTo(0.4, 12);
  });
});
