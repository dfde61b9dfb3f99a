import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CalcError } from '../../../server/calc/calcError.ts';
import { deltaE2000, deltaECmc } from '../../../server/calc/colour/deltaE.ts';
import { colourIndex, type NearestFormula, nearestReadings } from '../../../server/calc/match/nearest.ts';

const coarse = fc.record({
  L: fc.integer({ min: 0, max: 20 }).map((n) => n * 5),
  a: fc.integer({ min: -12, max: 12 }).map((n) => n * 9),
  b: fc.integer({ min: -12, max: 12 }).map((n) => n * 9),
});
const fine = fc.record({
  L: fc.double({ min: 0, max: 100, noNaN: true }),
  a: fc.double({ min: -110, max: 110, noNaN: true }),
  b: fc.double({ min: -110, max: 110, noNaN: true }),
});
// Blues, where CIEDE2000's rotation bites, and near-greys, where hue turns about.
const blue = fc.record({
  L: fc.double({ min: 10, max: 60, noNaN: true }),
  a: fc.double({ min: -20, max: 45, noNaN: true }),
  b: fc.double({ min: -100, max: -20, noNaN: true }),
});
const grey = fc.record({
  L: fc.double({ min: 0, max: 100, noNaN: true }),
  a: fc.double({ min: -3, max: 3, noNaN: true }),
  b: fc.double({ min: -3, max: 3, noNaN: true }),
});
const colour = fc.oneof(coarse, fine, blue, grey);
const formula: fc.Arbitrary<NearestFormula> = fc.constantFrom<NearestFormula>(
  { name: 'deltaE2000' },
  { name: 'deltaECmc', l: 2, c: 1 },
  { name: 'deltaECmc', l: 1, c: 1 },
);

describe('nearest readings', () => {
  test('are those of trying them all, in order, equals by place', () => {
    fc.assert(
      fc.property(
        fc.array(fc.record({ colour, kept: fc.boolean() }), { minLength: 1, maxLength: 300, size: 'max' }),
        colour,
        formula,
        fc.integer({ min: 1, max: 25 }),
        fc.boolean(),
        fc.option(fc.double({ min: 0, max: 30, noNaN: true }), { nil: undefined }),
        (readings, target, by, count, masked, withinDeltaE) => {
          const colours = readings.map((r) => r.colour);
          const mask = Uint8Array.from(readings, (r) => Number(r.kept));
          const all = colours
            .map((sample, place) => ({
              place,
              deltaE:
                by.name === 'deltaE2000'
                  ? deltaE2000({ standard: target, sample })
                  : deltaECmc({ standard: target, sample, l: by.l, c: by.c }),
            }))
            .filter(({ place, deltaE }) => (!masked || mask[place] === 1) && deltaE <= (withinDeltaE ?? 1e9))
            .sort((one, other) => one.deltaE - other.deltaE || one.place - other.place)
            .slice(0, count);
          const index = colourIndex({
            L: colours.map((c) => c.L),
            a: colours.map((c) => c.a),
            b: colours.map((c) => c.b),
          });
          const ours = nearestReadings({
            index,
            target,
            formula: by,
            count,
            ...(masked ? { mask } : {}),
            ...(withinDeltaE === undefined ? {} : { withinDeltaE }),
          });
          expect(ours).toEqual(all);
        },
      ),
      { numRuns: 600 },
    );
  });

  test('differences that rounding hides are found as brute force finds them', () => {
    const a = [3e-162, 1.6e-162, 0, 2e-170, 1.2e-145, 4e-18];
    const b = a.map((_, i) => (i < 3 ? 0 : 2.999999999999992));
    const index = colourIndex({ L: a.map(() => 50), a, b });
    for (const target of [
      { L: 50, a: 0, b: 0 },
      { L: 50, a: 1.7e-162, b: 0 },
      { L: 50, a: 0, b: 2.999999999999992 },
    ]) {
      for (const by of [{ name: 'deltaE2000' }, { name: 'deltaECmc', l: 2, c: 1 }] as const) {
        const all = a
          .map((one, place) => {
            const sample = { L: 50, a: one, b: b[place] as number };
            return {
              place,
              deltaE:
                by.name === 'deltaE2000'
                  ? deltaE2000({ standard: target, sample })
                  : deltaECmc({ standard: target, sample, l: by.l, c: by.c }),
            };
          })
          .sort((one, other) => one.deltaE - other.deltaE || one.place - other.place);
        expect(nearestReadings({ index, target, formula: by, count: 2 })).toEqual(all.slice(0, 2));
        expect(nearestReadings({ index, target, formula: by, count: 9, withinDeltaE: 0 })).toEqual(
          all.filter((n) => n.deltaE === 0),
        );
      }
    }
  });

  test('an empty library has no nearest; crooked input is refused', () => {
    const empty = colourIndex({ L: [], a: [], b: [] });
    const target = { L: 50, a: 0, b: 0 };
    expect(nearestReadings({ index: empty, target, formula: { name: 'deltaE2000' }, count: 5 })).toEqual([]);
    expect(() => colourIndex({ L: [1], a: [], b: [1] })).toThrow(CalcError);
    expect(() => colourIndex({ L: [Number.NaN], a: [0], b: [1] })).toThrow(CalcError);
    const one = colourIndex({ L: [50], a: [0], b: [0] });
    const bad = { index: one, target, formula: { name: 'deltaE2000' } as const, count: 1 };
    expect(() => nearestReadings({ ...bad, mask: new Uint8Array(2) })).toThrow(CalcError);
    expect(() => nearestReadings({ ...bad, target: { L: 50, a: Number.NaN, b: 0 } })).toThrow(CalcError);
  });
});
