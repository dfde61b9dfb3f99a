import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CHART_24_SINCE_2014 } from '../../../server/calc/colour/cardDefinitions.ts';
import { readCard } from '../../../server/calc/colour/cardReading.ts';
import { deltaE2000 } from '../../../server/calc/colour/deltaE.ts';
import { kMeans, type Region } from '../../../server/calc/colour/regions.ts';
import { CHART_24 } from '../../reference/chart24.ts';
import { type LabTriple, render } from '../../support/renderedCard.ts';

const LABS = CHART_24.map((p) => p.labAfter2014);
/** A variegated piece: four colours in stripes of known width (steps of the card). */
const STRIPES: readonly { lab: LabTriple; width: number }[] = [
  { lab: [35, 10, -40], width: 2 },
  { lab: [75, 5, 50], width: 1 },
  { lab: [50, 45, 15], width: 0.6 },
  { lab: [88, 0, 6], width: 0.4 },
];
const scene = render({
  widthPx: 560,
  heightPx: 700,
  columns: 6,
  rows: 4,
  labs: LABS,
  stepPx: 60,
  noise: 2,
  phone: 1,
  goods: STRIPES.map(({ lab, width }, i) => ({
    lab,
    width,
    height: 1.4,
    x: -2 + STRIPES.slice(0, i).reduce((s, p) => s + p.width, 0) + width / 2,
    y: 3.6,
  })),
});
const outline = [scene.at(-1.98, 3), scene.at(1.98, 3), scene.at(1.98, 4.2), scene.at(-1.98, 4.2)];

function read(region: Region) {
  const reading = readCard({
    image: scene.image,
    card: CHART_24_SINCE_2014,
    corners: scene.corners,
    regions: [region],
  });
  if (reading.outcome !== 'read') throw new Error('not read');
  return reading.regions[0]!;
}

describe('a variegated piece', () => {
  test.each(['auto', 4] as const)('%s clusters: its colours with their shares of the area', (clusters) => {
    const got = read({ kind: 'area', outline, clusters });
    const total = STRIPES.reduce((s, p) => s + p.width, 0);
    expect(got.clusters.reduce((s, c) => s + c.areaSharePct, 0)).toBeCloseTo(100, 6);
    STRIPES.forEach(({ lab: [L, a, b], width }) => {
      const near = got.clusters.filter((c) => deltaE2000({ standard: { L, a, b }, sample: c.lab }) < 6);
      expect(near.length, `a cluster near L ${L}`).toBeGreaterThan(0);
      const share = near.reduce((s, c) => s + c.areaSharePct, 0);
      expect(Math.abs(share - (100 * width) / total)).toBeLessThan(5);
    });
    const shares = got.clusters.map((c) => c.areaSharePct);
    expect(shares).toEqual([...shares].sort((p, q) => q - p));
  });

  test('the spread tells it from an even piece', () => {
    const even = read({ kind: 'spot', ...scene.at(-1, 3.6), radiusPx: 20, clusters: 'none' });
    const whole = read({ kind: 'area', outline, clusters: 'none' });
    expect(even.spread).toBeLessThan(3);
    expect(whole.spread).toBeGreaterThan(15);
    expect(even.clusters).toEqual([]);
  });

  test('a spot is as many pixels as its circle, an area as its outline', () => {
    expect(read({ kind: 'spot', x: 100, y: 600, radiusPx: 20, clusters: 'none' }).pixels / (Math.PI * 400)).toBeCloseTo(
      1,
      1,
    );
    const square = [
      { x: 10.5, y: 10.5 },
      { x: 40.5, y: 10.5 },
      { x: 40.5, y: 50.5 },
      { x: 10.5, y: 50.5 },
    ];
    expect(read({ kind: 'area', outline: square, clusters: 'none' }).pixels).toBe(30 * 40);
  });

  test('regions outside the photo, or of nothing, are refused', () => {
    expect(() => read({ kind: 'spot', x: 900, y: 100, radiusPx: 10, clusters: 'none' })).toThrow(/too few pixels/);
    expect(() => read({ kind: 'spot', x: 100, y: 100, radiusPx: 0, clusters: 'none' })).toThrow(/radiusPx/);
    expect(() => read({ kind: 'spot', x: Number.NaN, y: 100, radiusPx: 5, clusters: 'none' })).toThrow(
      /x must be a number/,
    );
    expect(() => read({ kind: 'area', outline: outline.slice(0, 2), clusters: 'none' })).toThrow(/3 to 400/);
  });
});

describe('k-means', () => {
  const colour = fc.record({
    L: fc.double({ min: 0, max: 100, noNaN: true }),
    a: fc.double({ min: -80, max: 80, noNaN: true }),
    b: fc.double({ min: -80, max: 80, noNaN: true }),
  });
  test('every colour belongs to its nearest centre, and every run is alike', () => {
    fc.assert(
      fc.property(fc.array(colour, { minLength: 1, maxLength: 60 }), fc.integer({ min: 1, max: 6 }), (labs, k) => {
        const one = kMeans(labs, k);
        expect(kMeans(labs, k)).toEqual(one);
        expect(one.centres.length).toBeLessThanOrEqual(k);
        const d2 = (p: (typeof labs)[0], q: (typeof labs)[0]) => (p.L - q.L) ** 2 + (p.a - q.a) ** 2 + (p.b - q.b) ** 2;
        labs.forEach((lab, i) => {
          const own = d2(lab, one.centres[one.of[i]!]!);
          for (const centre of one.centres) expect(own).toBeLessThanOrEqual(d2(lab, centre) + 1e-9);
        });
      }),
      { numRuns: 60 },
    );
  });
});
