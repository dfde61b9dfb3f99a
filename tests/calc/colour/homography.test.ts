import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { ridgeSolve, solveInPlace } from '../../../server/calc/colour/denseSolve.ts';
import {
  homographyBetween,
  inverseHomography,
  mapPoint,
  turnOfCorners,
} from '../../../server/calc/colour/homography.ts';

const UNIT = [
  { x: 0, y: 0 },
  { x: 1, y: 0 },
  { x: 1, y: 1 },
  { x: 0, y: 1 },
];
const near = (base: { x: number; y: number }) =>
  fc.record({
    x: fc.double({ min: base.x - 0.2, max: base.x + 0.2, noNaN: true }),
    y: fc.double({ min: base.y - 0.2, max: base.y + 0.2, noNaN: true }),
  });
const quad = fc.tuple(near(UNIT[0]!), near(UNIT[1]!), near(UNIT[2]!), near(UNIT[3]!));

describe('homography', () => {
  test('carries four points exactly, straight lines to straight lines, and back', () => {
    fc.assert(
      fc.property(quad, fc.double({ min: 0, max: 1, noNaN: true }), (to, t) => {
        const h = homographyBetween(UNIT, to);
        UNIT.forEach((p, i) => {
          const q = mapPoint(h, p.x, p.y);
          expect(Math.hypot(q.x - to[i]!.x, q.y - to[i]!.y)).toBeLessThan(1e-9);
        });
        const on = mapPoint(h, t, 0);
        const [a, b] = to;
        expect(Math.abs((b.x - a.x) * (on.y - a.y) - (b.y - a.y) * (on.x - a.x))).toBeLessThan(1e-9);
        const back = mapPoint(inverseHomography(h), on.x, on.y);
        expect(Math.hypot(back.x - t, back.y)).toBeLessThan(1e-7);
      }),
    );
  });

  test('the diagonals of the square meet where the diagonals of its image meet', () => {
    const to = [
      { x: 10, y: 20 },
      { x: 220, y: 40 },
      { x: 180, y: 260 },
      { x: 30, y: 160 },
    ];
    const p = mapPoint(homographyBetween(UNIT, to), 0.5, 0.5);
    const on = (a: { x: number; y: number }, b: { x: number; y: number }) =>
      (b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x);
    expect(on(to[0]!, to[2]!)).toBeCloseTo(0, 6);
    expect(on(to[1]!, to[3]!)).toBeCloseTo(0, 6);
  });

  test('points on one line, or too few, are refused', () => {
    const line = UNIT.map((p) => ({ x: p.x + p.y, y: 0 }));
    expect(() => homographyBetween(UNIT.slice(0, 3), UNIT.slice(0, 3))).toThrow(/four pairs/);
    expect(() => homographyBetween(line, UNIT)).toThrow();
    expect(() =>
      homographyBetween(
        UNIT,
        UNIT.map(() => ({ x: 3, y: 3 })),
      ),
    ).toThrow();
  });

  test('which way four corners go round', () => {
    expect(turnOfCorners(UNIT)).toBe('clockwise');
    expect(turnOfCorners([...UNIT].reverse())).toBe('anticlockwise');
    expect(turnOfCorners([UNIT[0]!, UNIT[2]!, UNIT[1]!, UNIT[3]!])).toBe('crossed');
  });
});

describe('small systems', () => {
  test('a system solved by hand', () => {
    // 2x + y = 5, x − 3y = −8  →  x = 1, y = 3
    const x = solveInPlace(Float64Array.of(2, 1, 1, -3), Float64Array.of(5, -8), 2, 1);
    expect(x[0]).toBeCloseTo(1, 12);
    expect(x[1]).toBeCloseTo(3, 12);
  });

  test('no inverse, no answer', () => {
    expect(() => solveInPlace(Float64Array.of(1, 2, 2, 4), Float64Array.of(1, 2), 2, 1)).toThrow(/determine/);
  });

  test('least squares finds the line that was there; a ridge draws towards what is believed', () => {
    const x = [0, 1, 2, 3, 4].map((v) => [1, v]);
    const y = x.map((row) => [7 - 2 * row[1]!]);
    const weights = [1, 5, 1, 2, 1];
    const plain = ridgeSolve({ x, y, weights, ridge: 0 });
    expect(plain[0]).toBeCloseTo(7, 10);
    expect(plain[1]).toBeCloseTo(-2, 10);
    const drawn = ridgeSolve({ x, y, weights, ridge: 1e9, towards: Float64Array.of(1, 1) });
    expect(drawn[0]).toBeCloseTo(1, 5);
    expect(drawn[1]).toBeCloseTo(1, 5);
  });
});
