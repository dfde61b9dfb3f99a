import { describe, expect, test } from 'vitest';
import { CHART_24_SINCE_2014, studioCard } from '../../../server/calc/colour/cardDefinitions.ts';
import { findCard } from '../../../server/calc/colour/cardFinding.ts';
import { D50_2 } from '../../../server/calc/colour/reading.ts';
import { CHART_24 } from '../../reference/chart24.ts';
import { cornersOff, type LabTriple, render, type Scene } from '../../support/renderedCard.ts';

const LABS = CHART_24.map((p) => p.labAfter2014);
const BASE: Scene = { widthPx: 600, heightPx: 800, columns: 6, rows: 4, labs: LABS, stepPx: 70, noise: 1.5, phone: 1 };

const SCENES: [string, Partial<Scene>][] = [
  ['straight', {}],
  ['turned by 90°', { turnDeg: 90 }],
  ['upside down', { turnDeg: 180 }],
  ['turned by 270°', { turnDeg: 270 }],
  ['turned by 37°', { turnDeg: 37 }],
  ['turned by 133°', { turnDeg: 133 }],
  ['from low in front', { tiltDeg: 40, turnDeg: 8, stepPx: 60 }],
  ['from the side and above', { tiltDeg: -25, swingDeg: 30, turnDeg: 95 }],
  ['far off in a large photo', { widthPx: 1300, heightPx: 1700, stepPx: 16, turnDeg: 8, middle: [0.3, 0.7] }],
  ['small, on white paper', { stepPx: 26, turnDeg: 92, tiltDeg: 12, middle: [0.4, 0.6] }],
  ['warm light', { cast: [1.25, 0.9, 0.5] }],
  ['blue shade', { cast: [0.6, 0.9, 1.3], exposure: 0.6 }],
  ['underexposed', { exposure: 0.12, noise: 1 }],
  ['overexposed', { exposure: 1.5 }],
  ['dark corners and light from one side', { vignette: 0.5, slope: 0.08 }],
  ['noisy', { noise: 6 }],
  ['out of focus', { blurPx: 3 }],
  ['a shine over one corner', { glare: { x: 2.2, y: -1.2, radius: 0.9, strength: 0.5 } }],
  ['a shine in the middle', { glare: { x: 0, y: 0, radius: 0.7, strength: 0.8 }, turnDeg: 200 }],
  ['on a plain table without paper', { table: 'plain', paper: false }],
  ['on a rough table without paper', { paper: false, turnDeg: 300 }],
];

describe('finding a 24-patch chart', () => {
  test.each(SCENES)('%s: its corners within 5 %% of a step', (_, scene) => {
    const { image, corners } = render({ ...BASE, ...scene });
    const finding = findCard({ image, card: CHART_24_SINCE_2014 });
    expect(finding).toMatchObject({ found: true });
    if (!finding.found) return;
    expect(cornersOff(finding.corners, corners, 6)).toBeLessThan(0.05);
    expect(finding.confidence).toBeGreaterThan(0.35);
    const turn = (((Math.round((scene.turnDeg ?? 0) / 90) * 90) % 360) + 360) % 360;
    expect(finding.turnedDeg).toBe(turn);
  });

  test('an image with an alpha channel gives the same corners', () => {
    const { image } = render(BASE);
    const data = new Uint8Array(image.width * image.height * 4);
    for (let i = 0; i < image.width * image.height; i++) {
      data.set(image.data.subarray(i * 3, i * 3 + 3), i * 4);
      data[i * 4 + 3] = 255;
    }
    const three = findCard({ image, card: CHART_24_SINCE_2014 });
    expect(findCard({ image: { ...image, data, channels: 4 }, card: CHART_24_SINCE_2014 })).toEqual(three);
  });
});

describe('what is not the card', () => {
  test.each<[string, Partial<Scene>]>([
    ['a rough table', { withoutCard: true, paper: false }],
    ['a sheet of paper', { withoutCard: true }],
    ['one even colour', { withoutCard: true, paper: false, table: 'plain', noise: 0 }],
  ])('%s holds no grid of patches', (_, scene) => {
    const { image } = render({ ...BASE, ...scene });
    expect(findCard({ image, card: CHART_24_SINCE_2014 })).toMatchObject({ found: false });
  });

  test('a grid of other colours is told from the card', () => {
    // The card's own patches in another order: every colour is there, none where it should be.
    const shuffled = LABS.map((_, i) => LABS[(i * 7 + 5) % 24]!);
    const { image } = render({ ...BASE, labs: shuffled });
    expect(findCard({ image, card: CHART_24_SINCE_2014 })).toEqual({ found: false, reason: 'otherColours' });
  });

  test('a mirrored card, as front cameras show it, is told from the card', () => {
    const { image } = render(BASE);
    const { data, width } = image;
    const mirrored = new Uint8Array(data.length);
    for (let i = 0; i < data.length; i += 3) {
      const x = (i / 3) % width;
      mirrored.set(data.subarray(i, i + 3), i + 3 * (width - 1 - 2 * x));
    }
    expect(findCard({ image: { ...image, data: mirrored }, card: CHART_24_SINCE_2014 })).toEqual({
      found: false,
      reason: 'otherColours',
    });
  });

  test('two cards in one photo are not chosen between', () => {
    const { image } = render({ ...BASE, widthPx: 300, heightPx: 400, stepPx: 35 });
    const { data, width, height } = image;
    const both = new Uint8Array(2 * data.length);
    for (let y = 0; y < height; y++) {
      const row = data.subarray(y * width * 3, (y + 1) * width * 3);
      both.set(row, 2 * y * width * 3);
      both.set(row, (2 * y + 1) * width * 3);
    }
    const side = { ...image, data: both, width: 2 * width };
    expect(findCard({ image: side, card: CHART_24_SINCE_2014 })).toEqual({ found: false, reason: 'ambiguous' });
  });

  test('a grid of greys is told from the card', () => {
    const greys = LABS.map((_, i): LabTriple => [20 + 3 * i, 0, 0]);
    const { image } = render({ ...BASE, labs: greys });
    expect(findCard({ image, card: CHART_24_SINCE_2014 })).toEqual({ found: false, reason: 'otherColours' });
  });

  test.each<[string, Partial<Scene>]>([
    ['two columns beyond the edge', { middle: [0.22, 0.5] }],
    ['one row beyond the edge', { middle: [0.5, 0.13] }],
    ['turned, one column beyond the edge', { turnDeg: 90, middle: [0.5, 0.84] }],
  ])('a card cut off (%s) is said to be cut off', (_, scene) => {
    const { image } = render({ ...BASE, ...scene });
    expect(findCard({ image, card: CHART_24_SINCE_2014 })).toEqual({ found: false, reason: 'cutOff' });
  });
});

describe("a studio's own card", () => {
  const labs: LabTriple[] = [
    [95, 0, 2],
    [75, 0, 0],
    [50, 0, 0],
    [25, 0, 0],
    [45, 50, 30],
    [60, 35, 55],
    [80, 0, 75],
    [55, -40, 30],
    [45, -15, -35],
    [30, 20, -45],
    [50, 50, -15],
    [35, 15, 15],
  ];
  const card = studioCard({
    id: 'own',
    name: 'own',
    columns: 4,
    rows: 3,
    conditions: D50_2,
    patches: labs.map(([L, a, b], i) => ({ name: `${i + 1}`, lab: { L, a, b } })),
  });
  test.each<[string, Partial<Scene>]>([
    ['patches on a black frame', {}],
    ['patches on white board, turned', { frame: 'white', turnDeg: 75 }],
    ['patches edge to edge', { patchShare: 1, turnDeg: 181 }],
  ])('%s', (_, scene) => {
    const { image, corners } = render({ ...BASE, columns: 4, rows: 3, labs, stepPx: 80, ...scene });
    const finding = findCard({ image, card });
    expect(finding).toMatchObject({ found: true });
    if (finding.found) expect(cornersOff(finding.corners, corners, 4)).toBeLessThan(0.05);
  });

  test('a card of few patches is not looked for', () => {
    const few = studioCard({
      id: 'few',
      name: 'few',
      columns: 2,
      rows: 2,
      conditions: D50_2,
      patches: labs.slice(0, 4).map(([L, a, b], i) => ({ name: `${i + 1}`, lab: { L, a, b } })),
    });
    const { image } = render(BASE);
    expect(findCard({ image, card: few })).toEqual({ found: false, reason: 'tooFewPatches' });
  });
});
