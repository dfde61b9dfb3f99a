import { describe, expect, test } from 'vitest';
import {
  CHART_24_BEFORE_2014,
  CHART_24_SINCE_2014,
  greyCard,
  studioCard,
} from '../../../server/calc/colour/cardDefinitions.ts';
import type { CardCorners } from '../../../server/calc/colour/cardFinding.ts';
import { type CardReading, type PhotoWarning, readCard } from '../../../server/calc/colour/cardReading.ts';
import { deltaE2000 } from '../../../server/calc/colour/deltaE.ts';
import { D50_2, D65_2 } from '../../../server/calc/colour/reading.ts';
import type { Region } from '../../../server/calc/colour/regions.ts';
import { CHART_24 } from '../../reference/chart24.ts';
import { cornersOff, type LabTriple, type Rendered, render, type Scene } from '../../support/renderedCard.ts';

const LABS = CHART_24.map((p) => p.labAfter2014);
const BASE: Scene = { widthPx: 640, heightPx: 800, columns: 6, rows: 4, labs: LABS, stepPx: 62, noise: 1.5, phone: 1 };

/** Dyed goods of many hues, lying below the card. */
const GOODS: readonly LabTriple[] = [
  [40, 5, -30],
  [55, 40, 20],
  [70, -15, 45],
  [30, 2, 3],
  [85, 3, 12],
  [45, -30, 8],
];
const laid = GOODS.map((lab, i) => ({ x: i - 2.5, y: 3.4, width: 0.9, height: 1.2, lab }));
const spots = (scene: Rendered): Region[] =>
  laid.map(({ x, y }) => ({ kind: 'spot', ...scene.at(x, y), radiusPx: 14, clusters: 'none' }));
const asLab = ([L, a, b]: LabTriple) => ({ L, a, b });

type Read = Extract<CardReading, { outcome: 'read' }>;
function demandRead(reading: CardReading): Read {
  if (reading.outcome !== 'read') throw new Error(`the card was not read: ${reading.reason}`);
  return reading;
}
const codes = (reading: Read): PhotoWarning['code'][] => reading.warnings.map((w) => w.code);
const warning = <C extends PhotoWarning['code']>(reading: Read, code: C) =>
  reading.warnings.find((w): w is Extract<PhotoWarning, { code: C }> => w.code === code);

/** Rendering is the slow part: a scene that several tests look at is rendered once. None of them may write into it. */
const rendered = new Map<string, Rendered>();
const sceneOf = (changes: Partial<Scene>): Rendered => {
  const key = JSON.stringify(changes);
  const scene = rendered.get(key) ?? render({ ...BASE, ...changes });
  rendered.set(key, scene);
  return scene;
};
const readAnew = (changes: Partial<Scene>): Read => {
  const scene = sceneOf({ goods: laid, ...changes });
  return demandRead(
    readCard({ image: scene.image, card: CHART_24_SINCE_2014, corners: 'find', regions: spots(scene) }),
  );
};
/** The same for readings. */
const seen = new Map<string, Read>();
const readScene = (changes: Partial<Scene>): Read => {
  const key = JSON.stringify(changes);
  const reading = seen.get(key) ?? readAnew(changes);
  seen.set(key, reading);
  return reading;
};
const errors = (reading: Read): number[] =>
  reading.regions.map((r, i) => deltaE2000({ standard: asLab(GOODS[i]!), sample: r.lab }));
const mean = (values: readonly number[]): number => values.reduce((s, v) => s + v, 0) / values.length;

test.each(CHART_24.map((p, i) => [p.name, i] as const))('patch %s stands as published, both versions', (_, i) => {
  expect(CHART_24_SINCE_2014.patches[i]!.lab).toEqual(asLab(CHART_24[i]!.labAfter2014));
  expect(CHART_24_BEFORE_2014.patches[i]!.lab).toEqual(asLab(CHART_24[i]!.labBefore2014));
});

describe('goods beside a 24-patch chart', () => {
  test.each<[string, Partial<Scene>]>([
    ['a camera without fault', { phone: 0 }],
    ['a phone', {}],
    ['a phone in warm light', { cast: [1.3, 0.95, 0.55] }],
    ['a phone in blue shade, slanted', { cast: [0.75, 0.95, 1.2], tiltDeg: 18, swingDeg: -12 }],
    ['light falling from one side', { slope: 0.05, turnDeg: 0 }],
    ['dark corners', { vignette: 0.4 }],
    ['a noisy dark photo', { exposure: 0.35, noise: 4 }],
    ['a soft photo', { blurPx: 2 }],
  ])('%s: read to within what is stated, and better than uncorrected', (_, scene) => {
    const reading = readScene(scene);
    const off = errors(reading);
    expect(mean(off)).toBeLessThan(3);
    reading.regions.forEach((r, i) => {
      expect(off[i], `goods ${i}`).toBeLessThan(r.plusMinus);
      expect(r.plusMinus).toBeLessThan(12);
    });
    expect(reading.heldOutMedian).toBeLessThan(3);
    expect(reading.heldOutMedian!).toBeLessThan(Math.max(2.5, reading.uncorrectedMedian));
    expect(reading.conditions).toEqual(D50_2);
  });

  test('the reading names its conditions, and the same colour adapted to D65', () => {
    const reading = readScene({ phone: 0 });
    const grey = reading.regions[3]!;
    // A near-grey stays near grey under any white; a saturated blue moves by some units.
    expect(Math.hypot(grey.labD65.a - grey.lab.a, grey.labD65.b - grey.lab.b)).toBeLessThan(1.5);
    expect(deltaE2000({ standard: reading.regions[0]!.lab, sample: reading.regions[0]!.labD65 })).toBeGreaterThan(0.5);
    expect(D65_2.illuminant).toBe('D65');
  });

  test('the same photo gives the same reading', () => {
    expect(readAnew({ turnDeg: 20 })).toEqual(readAnew({ turnDeg: 20 }));
  });

  test('no card in the photo: the corners are asked for', () => {
    const { image } = sceneOf({ withoutCard: true });
    expect(readCard({ image, card: CHART_24_SINCE_2014, corners: 'find', regions: [] })).toMatchObject({
      outcome: 'cornersNeeded',
    });
  });

  test('a card cut off by the edge: the corners are asked for, with the reason', () => {
    const { image } = sceneOf({ middle: [0.2, 0.5] });
    expect(readCard({ image, card: CHART_24_SINCE_2014, corners: 'find', regions: [] })).toEqual({
      outcome: 'cornersNeeded',
      cardId: CHART_24_SINCE_2014.id,
      reason: 'cutOff',
    });
  });
});

test('a whole triangle of 66 samples is read from one photo', () => {
  // Shares of three dyes in steps of 10 %: 66 pieces in rows below the card, coloured by a plain mixture of three colours.
  const ends: readonly LabTriple[] = [
    [45, 40, 20],
    [75, 0, 55],
    [35, 5, -35],
  ];
  const pieces: { x: number; y: number; lab: LabTriple }[] = [];
  for (let i = 0; i <= 10; i++) {
    for (let j = 0; i + j <= 10; j++) {
      const share = [i / 10, j / 10, 1 - (i + j) / 10];
      const at = (c: number): number => share.reduce((sum, s, k) => sum + s * ends[k]![c]!, 0);
      pieces.push({ x: 0.55 * (i - 5), y: 2.8 + 0.55 * j, lab: [at(0), at(1), at(2)] });
    }
  }
  const scene = render({
    ...BASE,
    middle: [0.5, 0.22],
    goods: pieces.map((p) => ({ ...p, width: 0.45, height: 0.45 })),
  });
  const reading = demandRead(
    readCard({
      image: scene.image,
      card: CHART_24_SINCE_2014,
      corners: 'find',
      regions: pieces.map((p) => ({ kind: 'spot', ...scene.at(p.x, p.y), radiusPx: 8, clusters: 'none' })),
    }),
  );
  expect(reading.regions).toHaveLength(66);
  const off = reading.regions.map((r, i) => deltaE2000({ standard: asLab(pieces[i]!.lab), sample: r.lab }));
  expect(mean(off)).toBeLessThan(3);
  const held = off.filter((d, i) => d <= reading.regions[i]!.plusMinus);
  expect(held.length).toBeGreaterThan(0.85 * 66);
});

describe('corners given by hand', () => {
  test('a finger off by a sixth of a patch is settled on the card', () => {
    const scene = sceneOf({ goods: laid, tiltDeg: 10, turnDeg: 12 });
    const pushed = scene.corners.map((p, i) => ({ x: p.x + (i % 2 === 0 ? 9 : -9), y: p.y + (i < 2 ? 7 : -8) }));
    const reading = demandRead(
      readCard({
        image: scene.image,
        card: CHART_24_SINCE_2014,
        corners: pushed as unknown as CardCorners,
        regions: spots(scene),
      }),
    );
    reading.corners.forEach((p, i) => {
      expect(Math.hypot(p.x - scene.corners[i]!.x, p.y - scene.corners[i]!.y)).toBeLessThan(0.05 * 62);
    });
    expect(reading.cornersFrom).toBe('given');
    expect(reading.confidence).toBeNull();
    expect(codes(reading)).not.toContain('cornersReordered');
  });

  test.each([
    ['begun at another corner', [1, 2, 3, 0]],
    ['begun at the far corner', [2, 3, 0, 1]],
    ['begun at the last corner', [3, 0, 1, 2]],
    ['gone round the other way', [0, 3, 2, 1]],
  ] as const)('%s: put in order by the colours, and said so', (_, order) => {
    const scene = sceneOf({ goods: laid });
    const given = order.map((i) => scene.corners[i]!) as unknown as CardCorners;
    const reading = demandRead(
      readCard({ image: scene.image, card: CHART_24_SINCE_2014, corners: given, regions: spots(scene) }),
    );
    expect(codes(reading)).toContain('cornersReordered');
    expect(mean(errors(reading))).toBeLessThan(3);
  });

  test.each<[string, (at: Rendered['at'], corners: CardCorners) => CardCorners]>([
    ['of the card itself', (at) => [at(-3.2, -2.2), at(3.2, -2.2), at(3.2, 2.2), at(-3.2, 2.2)]],
    ['of the outer patches', (at) => [at(-2.9, -1.9), at(2.9, -1.9), at(2.9, 1.9), at(-2.9, 1.9)]],
    ['one of them a patch aside', (at, [, b, c, d]) => [at(-1.5, -1.5), b, c, d]],
  ])('corners %s: the card beside them is found and read, and that is said', (_, given) => {
    const scene = sceneOf({ goods: laid, tiltDeg: 10, turnDeg: 12 });
    const corners = given(scene.at, scene.corners);
    const reading = demandRead(
      readCard({ image: scene.image, card: CHART_24_SINCE_2014, corners, regions: spots(scene) }),
    );
    expect(codes(reading)).toContain('cornersMoved');
    expect(reading.cornersFrom).toBe('found');
    expect(cornersOff(reading.corners, scene.corners, 6)).toBeLessThan(0.05);
    expect(mean(errors(reading))).toBeLessThan(3);
  });

  test('corners far from the card that is there are not led to it, and the colours do not fit', () => {
    const { image, at } = sceneOf({ goods: laid });
    const corners: CardCorners = [at(-2.5, 2.9), at(2.5, 2.9), at(2.5, 4.4), at(-2.5, 4.4)];
    const reading = demandRead(readCard({ image, card: CHART_24_SINCE_2014, corners, regions: [] }));
    expect(reading.cornersFrom).toBe('given');
    expect(codes(reading)).toContain('poorFit');
  });

  test('corners that cross, lie outside or on one line are refused', () => {
    const { image, corners } = sceneOf({});
    const [a, b, c, d] = corners;
    const read = (given: CardCorners) => () =>
      readCard({ image, card: CHART_24_SINCE_2014, corners: given, regions: [] });
    expect(read([a, c, b, d])).toThrow(/without crossing/);
    expect(read([a, b, c, { x: -5, y: d.y }])).toThrow(/corners.4.x/);
    expect(read([a, { x: (a.x + c.x) / 2, y: (a.y + c.y) / 2 }, c, c])).toThrow();
  });

  test('corners on no card at all give a warning that the colours do not fit', () => {
    const { image } = sceneOf({ withoutCard: true });
    const corners: CardCorners = [
      { x: 80, y: 80 },
      { x: 560, y: 80 },
      { x: 560, y: 700 },
      { x: 80, y: 700 },
    ];
    const reading = demandRead(readCard({ image, card: CHART_24_SINCE_2014, corners, regions: [] }));
    expect(codes(reading)).toContain('poorFit');
  });
});

describe('warnings', () => {
  test('a good photo has none', () => {
    expect(readScene({ phone: 0 }).warnings).toEqual([]);
  });

  test('a white that ran over', () => {
    const reading = readScene({ exposure: 1.7 });
    expect(warning(reading, 'clipped')!.patches).toContain('white');
    expect(warning(reading, 'clipped')!.patches).not.toContain('black');
  });

  test('goods that ran over', () => {
    const reading = readScene({ exposure: 1.7 });
    expect(warning(reading, 'goodsClipped')!.regions).toContain(4);
    expect(warning(reading, 'goodsClipped')!.regions).not.toContain(3);
  });

  test('a shine on a patch', () => {
    const glare = { x: 0.5, y: 0.5, radius: 0.5, strength: 0.6 };
    const reading = readScene({ glare });
    const named = [...(warning(reading, 'glare')?.patches ?? []), ...(warning(reading, 'oddPatches')?.patches ?? [])];
    expect(named).toContain(CHART_24[15]!.name.split(' (')[0]);
    expect(mean(errors(reading))).toBeLessThan(4);
  });

  test('a thumb over a corner of the card: found all the same, and the covered patches named', () => {
    const scene = sceneOf({ goods: laid });
    const thumb = scene.at(2.5, -1.5);
    const { width, height } = scene.image;
    const image = { ...scene.image, data: scene.image.data.slice() };
    for (let y = 0; y < height; y++) {
      for (let x = 0; x < width; x++) {
        if (Math.hypot(x - thumb.x, y - thumb.y) < 0.8 * 62) image.data.set([205, 150, 120], (y * width + x) * 3);
      }
    }
    const reading = demandRead(readCard({ image, card: CHART_24_SINCE_2014, corners: 'find', regions: spots(scene) }));
    expect(warning(reading, 'oddPatches')!.patches).toContain('bluish green');
    expect(warning(reading, 'oddPatches')!.patches.length).toBeLessThan(5);
    expect(mean(errors(reading))).toBeLessThan(3);
  });

  test('light from one side, and by about how much', () => {
    // 6 % per step over the five steps from the first to the last column.
    const reading = readScene({ slope: 0.06, phone: 0 });
    const { changePct } = warning(reading, 'unevenLight')!;
    expect(changePct).toBeGreaterThan(15);
    expect(changePct).toBeLessThan(45);
    expect(codes(readScene({ slope: 0.01, phone: 0 }))).not.toContain('unevenLight');
  });

  test('a light far from white', () => {
    expect(warning(readScene({ cast: [1.2, 0.95, 0.5] }), 'wrongWhite')!.chroma).toBeGreaterThan(12);
  });

  test('a photo far too dark', () => {
    expect(warning(readScene({ exposure: 0.08, noise: 0.5 }), 'tooDark')!.lightestPct).toBeLessThan(20);
  });

  test('a card that lies turned', () => {
    const scene = render({ ...BASE, turnDeg: 90, stepPx: 55 });
    const reading = readCard({ image: scene.image, card: CHART_24_SINCE_2014, corners: 'find', regions: [] });
    expect(warning(demandRead(reading), 'cardTurned')).toEqual({ code: 'cardTurned', turnedDeg: 90 });
  });
});

describe('other cards', () => {
  test('a plain grey card takes off cast and exposure, and says that it does no more', () => {
    const cast: LabTriple = [1.2, 0.9, 0.7];
    const scene = render({
      ...BASE,
      columns: 1,
      rows: 1,
      labs: [[50, 0, 0]],
      stepPx: 160,
      phone: 0,
      cast,
      exposure: 0.6,
      goods: [{ x: 0, y: 1.4, width: 0.8, height: 0.8, lab: [45, 20, -25] }],
    });
    const corners = [scene.at(-0.4, -0.4), scene.at(0.4, -0.4), scene.at(0.4, 0.4), scene.at(-0.4, 0.4)] as const;
    const reading = demandRead(
      readCard({
        image: scene.image,
        card: greyCard({ L: 50 }),
        corners,
        regions: [{ kind: 'spot', ...scene.at(0, 1.4), radiusPx: 30, clusters: 'none' }],
      }),
    );
    expect(codes(reading)).toContain('greyOnly');
    expect(reading.heldOutMedian).toBeNull();
    const [goods] = reading.regions;
    const off = deltaE2000({ standard: { L: 45, a: 20, b: -25 }, sample: goods!.lab });
    expect(off).toBeLessThan(2);
    expect(goods!.plusMinus).toBeGreaterThan(6);
    expect(readCard({ image: scene.image, card: greyCard({ L: 50 }), corners: 'find', regions: [] })).toMatchObject({
      reason: 'tooFewPatches',
    });
  });

  test("a studio's card of nine measured patches", () => {
    const labs: LabTriple[] = [
      [95, 0, 2],
      [60, 0, 0],
      [28, 0, 0],
      [45, 50, 30],
      [80, 0, 75],
      [55, -40, 30],
      [45, -15, -35],
      [30, 20, -45],
      [50, 50, -15],
    ];
    const card = studioCard({
      id: 'own',
      name: 'own',
      columns: 3,
      rows: 3,
      conditions: D50_2,
      patches: labs.map((lab, i) => ({ name: `${i + 1}`, lab: asLab(lab) })),
    });
    const scene = render({
      ...BASE,
      columns: 3,
      rows: 3,
      labs,
      stepPx: 90,
      frame: 'white',
      goods: [{ x: 0, y: 2.6, width: 1, height: 1, lab: [55, 25, 20] }],
    });
    const reading = demandRead(
      readCard({
        image: scene.image,
        card,
        corners: 'find',
        regions: [{ kind: 'spot', ...scene.at(0, 2.6), radiusPx: 25, clusters: 'none' }],
      }),
    );
    const off = deltaE2000({ standard: { L: 55, a: 25, b: 20 }, sample: reading.regions[0]!.lab });
    expect(off).toBeLessThan(reading.regions[0]!.plusMinus);
  });

  test('impossible cards are refused', () => {
    const patch = { name: 'x', lab: { L: 50, a: 0, b: 0 } };
    const base = { id: 'x', name: 'x', columns: 2, rows: 2, conditions: D50_2, patches: [patch, patch, patch, patch] };
    expect(() => studioCard({ ...base, columns: 3 })).toThrow(/needs 6 patches/);
    expect(() => studioCard({ ...base, rows: 0 })).toThrow(/1 to 40/);
    expect(() => studioCard({ ...base, conditions: D65_2 })).toThrow(/D50/);
    expect(() =>
      studioCard({ ...base, patches: [patch, patch, patch, { name: 'x', lab: { L: 150, a: 0, b: 0 } }] }),
    ).toThrow();
    expect(() => greyCard({ L: 3 })).toThrow();
  });
});
