import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CalcError } from '../../../server/calc/calcError.ts';
import { deltaE76 } from '../../../server/calc/colour/deltaE.ts';
import { D65_10 } from '../../../server/calc/colour/reading.ts';
import { labFromSpectrum } from '../../../server/calc/colour/spectra.ts';
import {
  bandsFromLab,
  bandsFromSpectrum,
  kOverS,
  labFromBands,
  layerReflectance,
  reflectanceFromKOverS,
} from '../../../server/calc/match/kubelkaMunk.ts';
import { CHART_24 } from '../../reference/chart24.ts';

const positive = fc.double({ min: 1e-4, max: 30, noNaN: true });
const share = fc.double({ min: 0.01, max: 0.99, noNaN: true });

describe('Kubelka-Munk', () => {
  // Worked by hand from (1 − R)²/2R.
  test.each([
    [1, 0],
    [0.5, 0.25],
    [0.25, 1.125],
    [0.1, 4.05],
    [0.05, 9.025],
  ])('R = %d has K/S = %d', (R, ratio) => {
    expect(kOverS(R)).toBeCloseTo(ratio, 12);
    expect(reflectanceFromKOverS(ratio)).toBeCloseTo(R, 12);
  });

  // Kubelka's closed form, J. Opt. Soc. Am. 38 (1948), eq. for R with a = (S + K)/S, b = √(a² − 1), written with cosh/sinh.
  const closedForm = (K: number, S: number, Rg: number) => {
    const a = (S + K) / S;
    const b = Math.sqrt(a * a - 1);
    const coth = Math.cosh(b * S) / Math.sinh(b * S);
    return (1 - Rg * (a - b * coth)) / (a - Rg + b * coth);
  };

  test('a layer is as the closed form has it', () => {
    fc.assert(
      fc.property(positive, positive, share, (K, S, Rg) => {
        fc.pre(Math.sqrt(K * (K + 2 * S)) < 300);
        expect(layerReflectance({ K, S, Rg })).toBeCloseTo(closedForm(K, S, Rg), 7);
      }),
    );
  });

  test('limits: nothing leaves the substrate, no scattering is Beer’s law there and back, a thick layer hides all', () => {
    expect(layerReflectance({ K: 0, S: 0, Rg: 0.6 })).toBeCloseTo(0.6, 9);
    expect(layerReflectance({ K: 0.7, S: 0, Rg: 0.6 })).toBeCloseTo(0.6 * Math.exp(-1.4), 9);
    fc.assert(
      fc.property(fc.double({ min: 0.01, max: 5, noNaN: true }), share, (ratio, Rg) => {
        expect(layerReflectance({ K: 400 * ratio, S: 400, Rg })).toBeCloseTo(reflectanceFromKOverS(ratio), 6);
      }),
    );
    expect(() => kOverS(0)).toThrow(CalcError);
    expect(() => layerReflectance({ K: -1, S: 0, Rg: 0.5 })).toThrow(CalcError);
  });

  test('more absorption is darker, more scattering over black is lighter', () => {
    fc.assert(
      fc.property(positive, positive, share, (K, S, Rg) => {
        const R = layerReflectance({ K, S, Rg });
        expect(R).toBeGreaterThanOrEqual(0);
        expect(R).toBeLessThanOrEqual(1);
        expect(layerReflectance({ K: K * 1.1, S, Rg })).toBeLessThanOrEqual(R + 1e-12);
        expect(layerReflectance({ K, S: S * 1.1, Rg: 0 })).toBeGreaterThanOrEqual(
          layerReflectance({ K, S, Rg: 0 }) - 1e-12,
        );
      }),
    );
  });
});

describe('the model’s bands', () => {
  test.each(CHART_24)('patch $patch: 16 bands see the colour of 36 readings', ({ reflectance }) => {
    const spectrum = { startNm: 380, stepNm: 10 as const, reflectance };
    const full = labFromSpectrum({ spectrum, conditions: D65_10 });
    const bands = labFromBands({ reflectance: bandsFromSpectrum(spectrum), conditions: D65_10 });
    expect(deltaE76({ standard: full, sample: bands })).toBeLessThan(0.8);
  });

  test.each(CHART_24)(
    'patch $patch: a curve made up from Lab has that Lab and stays between 0 and 1',
    ({ reflectance }) => {
      const lab = labFromSpectrum({ spectrum: { startNm: 380, stepNm: 10, reflectance }, conditions: D65_10 });
      const bands = bandsFromLab({ lab, conditions: D65_10 });
      expect(
        deltaE76({ standard: lab, sample: labFromBands({ reflectance: bands, conditions: D65_10 }) }),
      ).toBeLessThan(0.25);
      for (const r of bands) {
        expect(r).toBeGreaterThan(0);
        expect(r).toBeLessThan(1);
      }
    },
  );
});
