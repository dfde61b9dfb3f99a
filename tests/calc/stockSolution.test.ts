import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CalcError } from '../../server/calc/calcError.ts';
import {
  concGPerLOfStock,
  dilutedStrengthPct,
  dilutedVolume,
  dilution,
  dilutionSeries,
  stockAge,
  stockLeft,
  stockMassG,
  stockStrengthPctOfConc,
  stockVolumeMl,
  stockVolumeMlOfMass,
  undilutedStrengthPct,
} from '../../server/calc/stockSolution.ts';

const strength = fc.double({ min: 0.01, max: 100, noNaN: true });
const hourMs = 3_600_000;

describe('stock solutions', () => {
  test('500 mL of 1 % take 5 g, made up to volume (J. Cowern, wool dye method)', () => {
    expect(stockMassG({ volumeMl: 500, stockStrengthPct: 1 })).toBe(5);
  });

  test('250 mL of 2 % less 180 mL leave 70 mL and 1.4 g', () => {
    expect(stockLeft({ madeVolumeMl: 250, usedVolumeMl: 180, stockStrengthPct: 2 })).toEqual({
      volumeMl: 70,
      massG: expect.closeTo(1.4, 9),
    });
    expect(() => stockLeft({ madeVolumeMl: 250, usedVolumeMl: 251, stockStrengthPct: 2 })).toThrow(CalcError);
  });

  test('volume and mass undo each other; volume is linear in goods and falls with strength', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 1e-3, max: 1e6, noNaN: true }),
        fc.double({ min: 0.001, max: 20, noNaN: true }),
        strength,
        (goodsDryMassG, depthPct, c) => {
          const volumeMl = stockVolumeMl({ goodsDryMassG, depthPct, stockStrengthPct: c });
          expect(stockMassG({ volumeMl, stockStrengthPct: c }) / ((goodsDryMassG * depthPct) / 100)).toBeCloseTo(1, 9);
          expect(
            stockVolumeMlOfMass({ massG: (goodsDryMassG * depthPct) / 100, stockStrengthPct: c }) / volumeMl,
          ).toBeCloseTo(1, 9);
          expect(
            stockVolumeMl({ goodsDryMassG: 3 * goodsDryMassG, depthPct, stockStrengthPct: c }) / volumeMl,
          ).toBeCloseTo(3, 9);
          expect(stockVolumeMl({ goodsDryMassG, depthPct, stockStrengthPct: c / 2 }) / volumeMl).toBeCloseTo(2, 9);
        },
      ),
    );
  });

  test('1 % is 10 g/L', () => {
    expect(concGPerLOfStock({ stockStrengthPct: 1 })).toBe(10);
    expect(stockStrengthPctOfConc({ concGPerL: 5 })).toBe(0.5);
  });

  test('dilution keeps the dye and fills with water', () => {
    fc.assert(
      fc.property(
        strength,
        fc.double({ min: 0.001, max: 1, noNaN: true }),
        fc.double({ min: 1, max: 1e5, noNaN: true }),
        (from, part, volume) => {
          const { stockMl, waterMl } = dilution({
            fromStrengthPct: from,
            toStrengthPct: from * part,
            toVolumeMl: volume,
          });
          expect(stockMl + waterMl).toBeCloseTo(volume, 6);
          expect((from * stockMl) / (from * part * volume)).toBeCloseTo(1, 9);
          expect(waterMl).toBeGreaterThanOrEqual(-1e-9);
        },
      ),
    );
  });

  test('whichever of C₁V₁ = C₂V₂ is left out, the others give it', () => {
    /* 10 mL of 1 % made up to 100 mL is 0.1 %, by hand */
    const [fromStrengthPct, stockMl, toStrengthPct, toVolumeMl] = [1, 10, 0.1, 100];
    expect(dilution({ fromStrengthPct, toStrengthPct, toVolumeMl })).toEqual({ stockMl: 10, waterMl: 90 });
    expect(dilutedVolume({ fromStrengthPct, toStrengthPct, stockMl })).toEqual({ toVolumeMl: 100, waterMl: 90 });
    expect(dilutedStrengthPct({ fromStrengthPct, stockMl, toVolumeMl })).toBeCloseTo(0.1, 12);
    expect(undilutedStrengthPct({ toStrengthPct, stockMl, toVolumeMl })).toBeCloseTo(1, 12);
  });

  test('nothing is made up to less than was drawn, made stronger by water, or drawn from what cannot be', () => {
    const refused = (code: string, field: string) => expect.objectContaining({ code, field });
    expect(() => dilutedStrengthPct({ fromStrengthPct: 1, stockMl: 100, toVolumeMl: 10 })).toThrow(
      refused('mismatch', 'toVolumeMl'),
    );
    expect(() => dilutedVolume({ fromStrengthPct: 1, toStrengthPct: 2, stockMl: 10 })).toThrow(
      refused('mismatch', 'toStrengthPct'),
    );
    expect(() => undilutedStrengthPct({ toStrengthPct: 20, stockMl: 10, toVolumeMl: 100 })).toThrow(
      refused('outOfRange', 'toStrengthPct'),
    );
    expect(() => dilutedVolume({ fromStrengthPct: 1, toStrengthPct: 0.1, stockMl: 0 })).toThrow(
      refused('outOfRange', 'stockMl'),
    );
  });

  test('a series makes enough of each that the wanted volume is left once the next was drawn', () => {
    const series = dilutionSeries({
      fromStrengthPct: 10,
      steps: [
        { strengthPct: 1, wantedMl: 100 },
        { strengthPct: 0.1, wantedMl: 100 },
        { strengthPct: 0.01, wantedMl: 50 },
      ],
    });
    /* by hand: 50 mL of 0.01 % draw 5 of 0.1 %; 105 of 0.1 % draw 10.5 of 1 %; 110.5 of 1 % draw 11.05 of 10 % */
    expect(series.map(({ madeMl }) => madeMl)).toEqual([expect.closeTo(110.5, 9), expect.closeTo(105, 9), 50]);
    expect(series.map(({ drawnMl }) => drawnMl)).toEqual([
      expect.closeTo(11.05, 9),
      expect.closeTo(10.5, 9),
      expect.closeTo(5, 9),
    ]);
    series.forEach((step, index) => {
      expect(step.madeMl - (series[index + 1]?.drawnMl ?? 0)).toBeCloseTo(step.wantedMl, 9);
      expect(step.drawnMl + step.waterMl).toBeCloseTo(step.madeMl, 9);
    });
    expect(() => dilutionSeries({ fromStrengthPct: 1, steps: [{ strengthPct: 1, wantedMl: 10 }] })).toThrow(CalcError);
    expect(() => dilutionSeries({ fromStrengthPct: 1, steps: [{ strengthPct: 0.1, wantedMl: 0 }] })).toThrow(
      expect.objectContaining({ code: 'outOfRange', field: 'wantedMl' }),
    );
  });

  test('age against shelf life', () => {
    const week = { madeAtMs: 0, shelfLifeS: 7 * 86_400, useSoonWithinS: 86_400 };
    expect(stockAge({ ...week, nowMs: 24 * hourMs })).toEqual({ ageS: 86_400, leftS: 6 * 86_400, state: 'good' });
    expect(stockAge({ ...week, nowMs: 6 * 24 * hourMs }).state).toBe('useSoon');
    expect(stockAge({ ...week, nowMs: 7 * 24 * hourMs }).state).toBe('useSoon');
    expect(stockAge({ ...week, nowMs: 7 * 24 * hourMs + 1000 }).state).toBe('past');
    expect(stockAge({ ...week, madeAtMs: hourMs, nowMs: 0 }).ageS).toBe(0);
  });

  test.each([0, -1, 101, Number.NaN])('refuses a stock of %d %%', (stockStrengthPct) => {
    expect(() => stockVolumeMl({ goodsDryMassG: 5, depthPct: 1, stockStrengthPct })).toThrow(
      expect.objectContaining({ field: 'stockStrengthPct' }),
    );
  });
});
