import { diff as colorDiff } from 'color-diff';
import Color from 'colorjs.io';
import { differenceCiede2000, differenceCmc, differenceEuclidean } from 'culori';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CalcError } from '../../../server/calc/calcError.ts';
import {
  deltaE76,
  deltaE2000,
  deltaE2000Of,
  deltaE2000Steps,
  deltaECmc,
  type Lab,
} from '../../../server/calc/colour/deltaE.ts';
import { D50_2, D65_10, demandSameConditions } from '../../../server/calc/colour/reading.ts';
import { CIEDE2000_PAIRS, CIEDE2000_STEPS } from '../../reference/ciede2000.ts';
import { CMC_PAIRS } from '../../reference/cmc.ts';

const labOf = ([L, a, b]: readonly [number, number, number]): Lab => ({ L, a, b });
// culori's `lab65` and colorjs.io's `lab` are the spaces that their own ΔE does not adapt first.
const culoriLab = (lab: Lab) => ({ mode: 'lab65' as const, l: lab.L, a: lab.a, b: lab.b });
const colorJs = (lab: Lab) => new Color('lab', [lab.L, lab.a, lab.b]);
const lab = fc.record({
  L: fc.double({ min: 0, max: 100, noNaN: true }),
  a: fc.double({ min: -110, max: 110, noNaN: true }),
  b: fc.double({ min: -110, max: 110, noNaN: true }),
});

describe('CIEDE2000 against the published pairs', () => {
  test.each(CIEDE2000_PAIRS)('pair $id = $deltaE2000, both ways round', (row) => {
    const standard = labOf(row.standard);
    const sample = labOf(row.sample);
    // Half a unit of the fourth decimal, and a hair for the printed value's own binary form.
    expect(Math.abs(deltaE2000({ standard, sample }) - row.deltaE2000)).toBeLessThanOrEqual(5.1e-5);
    expect(Math.abs(deltaE2000({ standard: sample, sample: standard }) - row.deltaE2000)).toBeLessThanOrEqual(5.1e-5);
  });

  test.each(CIEDE2000_PAIRS.map((pair, i) => ({ ...pair, steps: CIEDE2000_STEPS[i] as readonly number[] })))(
    'pair $id, every intermediate quantity',
    ({ id, standard, sample, steps }) => {
      const s = deltaE2000Steps({ standard: labOf(standard), sample: labOf(sample) });
      const ours = [s.a1p, s.C1p, s.h1pDeg, s.a2p, s.C2p, s.h2pDeg, s.hBarpDeg, s.G, s.T, s.SL, s.SC, s.SH, s.RT];
      expect(steps).toHaveLength(14);
      // Pairs 21–24 were printed from inputs with more digits than the table shows: half a unit of the fourth decimal in b*
      // turns a hue at chroma 2.8 by 0.001°.
      const within = (column: number) => (id < 21 || id > 24 ? 6e-5 : column === 5 || column === 6 ? 1.2e-3 : 1e-4);
      for (const [i, value] of [...ours, s.deltaE2000].entries()) {
        expect(Math.abs(value - (steps[i] as number)), `column ${i}`).toBeLessThanOrEqual(within(i));
      }
    },
  );

  test('three libraries say the same of random pairs', () => {
    const culori = differenceCiede2000();
    fc.assert(
      fc.property(lab, lab, (standard, sample) => {
        const ours = deltaE2000({ standard, sample });
        expect(Math.abs(ours - culori(culoriLab(standard), culoriLab(sample)))).toBeLessThan(1e-4);
        expect(Math.abs(ours - colorJs(standard).deltaE2000(colorJs(sample)))).toBeLessThan(1e-4);
        const third = colorDiff(
          { L: standard.L, a: standard.a, b: standard.b },
          { L: sample.L, a: sample.a, b: sample.b },
        );
        expect(Math.abs(ours - third)).toBeLessThan(1e-4);
      }),
      { numRuns: 500 },
    );
  });

  test('the hot kernel and the step-by-step form are one formula, and the order does not matter', () => {
    fc.assert(
      fc.property(lab, lab, (standard, sample) => {
        const ours = deltaE2000Of(standard.L, standard.a, standard.b, sample.L, sample.a, sample.b);
        expect(Math.abs(ours - deltaE2000Steps({ standard, sample }).deltaE2000)).toBeLessThan(1e-9);
        expect(Math.abs(ours - deltaE2000({ standard: sample, sample: standard }))).toBeLessThan(1e-9);
        expect(deltaE2000({ standard, sample: standard })).toBe(0);
      }),
      { numRuns: 2000 },
    );
  });
});

describe('CMC(l:c)', () => {
  test.each(CMC_PAIRS)('row $id ($source) = $deltaECmc', (row) => {
    const ours = deltaECmc({ standard: labOf(row.standard), sample: labOf(row.sample), l: row.l, c: row.c });
    const tolerance = row.id >= 45 && row.id <= 47 ? row.deltaECmc * 1e-8 : 0.5001 * 10 ** -row.decimals;
    expect(Math.abs(ours - row.deltaECmc)).toBeLessThanOrEqual(tolerance);
  });

  test('HB102: white to black at 2:1 is 33.7401 (B. Lindbloom, colour difference reference values)', () => {
    const white = { L: 100, a: 0, b: 0 };
    const black = { L: 0, a: 0, b: 0 };
    expect(Math.abs(deltaECmc({ standard: white, sample: black, l: 2, c: 1 }) - 33.740085)).toBeLessThanOrEqual(1e-4);
    expect(deltaECmc({ standard: black, sample: white, l: 2, c: 1 })).toBeGreaterThan(90);
  });

  test('two libraries say the same of random pairs', () => {
    const culori = differenceCmc(2, 1);
    fc.assert(
      fc.property(lab, lab, (standard, sample) => {
        // The second library takes a chroma under 0.0015 for none; this is about the formula, not about that.
        fc.pre(Math.hypot(standard.a, standard.b) > 0.01 && Math.hypot(sample.a, sample.b) > 0.01);
        const ours = deltaECmc({ standard, sample, l: 2, c: 1 });
        expect(Math.abs(ours - culori(culoriLab(standard), culoriLab(sample)))).toBeLessThan(1e-4);
        const other = colorJs(standard).deltaECMC(colorJs(sample), { l: 2, c: 1 });
        expect(Math.abs(ours - other)).toBeLessThan(1e-4);
      }),
      { numRuns: 500 },
    );
  });
});

test('ΔE*ab is the distance, as a library has it', () => {
  const culori = differenceEuclidean('lab65');
  fc.assert(
    fc.property(lab, lab, (standard, sample) => {
      expect(deltaE76({ standard, sample })).toBeCloseTo(culori(culoriLab(standard), culoriLab(sample)), 9);
    }),
  );
});

// Sharma, Wu & Dalal 2005 again, under the row ids of a table of the trade's arithmetic.
test.each([
  { id: 'HB097', standard: [50, 2.6772, -79.7751], sample: [50, 0, -82.7485], expected: 2.0425 },
  { id: 'HB098', standard: [50, 3.1571, -77.2803], sample: [50, 0, -82.7485], expected: 2.8615 },
  { id: 'HB099', standard: [50, -1.3802, -84.2814], sample: [50, 0, -82.7485], expected: 1 },
  { id: 'HB100', standard: [50, 2.5, 0], sample: [73, 25, -18], expected: 27.1492 },
  { id: 'HB101', standard: [50, 2.5, 0], sample: [58, 24, 15], expected: 19.4535 },
] as const)('$id CIEDE2000 = $expected', ({ standard, sample, expected }) => {
  expect(Math.abs(deltaE2000({ standard: labOf(standard), sample: labOf(sample) }) - expected)).toBeLessThanOrEqual(
    1e-4,
  );
});

test('colours under unlike light are refused, not compared', () => {
  expect(() => demandSameConditions({ standard: D50_2, sample: D65_10 })).toThrow(CalcError);
  expect(() =>
    demandSameConditions({ standard: D65_10, sample: { illuminant: 'D65', observerDeg: 10 } }),
  ).not.toThrow();
});

test('a number that is none is refused', () => {
  expect(() => deltaE2000({ standard: { L: Number.NaN, a: 0, b: 0 }, sample: { L: 1, a: 0, b: 0 } })).toThrow(
    CalcError,
  );
  expect(() => deltaECmc({ standard: { L: 1, a: 0, b: 0 }, sample: { L: 1, a: 0, b: 0 }, l: 0, c: 1 })).toThrow(
    CalcError,
  );
});
