import { colourName, HUE_FAMILIES, type HueFamily, type LightnessWord } from '../calc/colour/colourName.ts';
import { D65_2, labOf } from '../calc/colour/reading.ts';
import { labFromLch, lchFromLab, srgbFromLab } from '../calc/colour/spaces.ts';
import type { MapRow } from './queries.ts';

/* Where the swatches lie, and where there are none although there are some around: in the plane of a* and b*, and by hue
   family and lightness. In CIELAB D65/2°, as the wall shows them. */

export const LIGHTNESS_BANDS: readonly LightnessWord[] = ['very pale', 'pale', 'light', 'mid', 'deep', 'very dark'];

export interface MapPoint extends Pick<MapRow, 'swatchId' | 'code' | 'name' | 'hex' | 'l' | 'a' | 'b'> {
  family: HueFamily;
  lightness: LightnessWord;
}

export interface MapHole {
  number: number;
  l: number;
  a: number;
  b: number;
  hex: string;
  name: string;
  /** To the nearest swatch, in the plane. */
  distance: number;
}

export interface MapCell {
  family: HueFamily;
  lightness: LightnessWord;
  count: number;
  /** Empty between filled ones. */
  hole: { l: number; c: number; h: number; name: string } | null;
}

export interface LibraryMap {
  points: MapPoint[];
  holes: MapHole[];
  cells: MapCell[];
}

/** A hole in the plane is as far as this from every swatch; steps of the search. CIELAB units. */
const HOLE_RADIUS = 11;
const STEP = 3;
const MOST_HOLES = 10;

export function libraryMap(rows: readonly MapRow[]): LibraryMap {
  const points = rows.map((row): MapPoint => {
    const named = colourName({ lab: labOf(row), conditions: D65_2 });
    return { ...row, family: named.family, lightness: named.lightness };
  });
  return { points, holes: holesOf(points), cells: cellsOf(points) };
}

/** The emptiest places within the outline of the swatches, emptiest first, none in another's reach. */
function holesOf(points: readonly MapPoint[]): MapHole[] {
  const outline = hullOf(points);
  if (outline.length < 3) return [];
  const span = (of: (p: MapPoint) => number): [number, number] => [
    points.reduce((low, p) => Math.min(low, of(p)), Number.POSITIVE_INFINITY),
    points.reduce((high, p) => Math.max(high, of(p)), Number.NEGATIVE_INFINITY),
  ];
  const [aLow, aHigh] = span((p) => p.a);
  const [bLow, bHigh] = span((p) => p.b);
  const distanceTo = nearestIn(points);
  const found: { a: number; b: number; distance: number }[] = [];
  for (let a = aLow; a <= aHigh; a += STEP) {
    for (let b = bLow; b <= bHigh; b += STEP) {
      if (!isInside(outline, a, b)) continue;
      const distance = distanceTo(a, b);
      if (distance >= HOLE_RADIUS) found.push({ a, b, distance });
    }
  }
  found.sort((x, y) => y.distance - x.distance);
  const kept: typeof found = [];
  for (const one of found) {
    if (kept.every((k) => Math.hypot(k.a - one.a, k.b - one.b) > 1.5 * HOLE_RADIUS)) kept.push(one);
    if (kept.length === MOST_HOLES) break;
  }
  return kept.map(({ a, b, distance }, i) => {
    const lab = { L: lightnessAround(points, a, b), a, b };
    return {
      number: i + 1,
      l: lab.L,
      a,
      b,
      distance,
      hex: srgbFromLab({ lab, conditions: D65_2 }).hex,
      name: colourName({ lab, conditions: D65_2 }).name,
    };
  });
}

/** How far a place in the plane is from the nearest swatch; exact from the radius of a hole on, which is all that is asked.
 *  Swatches lie in squares as wide as that radius, and the search looks at squares from the place outwards. */
function nearestIn(points: readonly MapPoint[]): (a: number, b: number) => number {
  const squares = new Map<number, MapPoint[]>();
  const side = (x: number): number => Math.floor(x / HOLE_RADIUS);
  const key = (i: number, j: number): number => i * 4096 + j;
  let rings = 1;
  for (const p of points) {
    const [i, j] = [side(p.a), side(p.b)];
    rings = Math.max(rings, 2 * Math.abs(i) + 2, 2 * Math.abs(j) + 2);
    const square = squares.get(key(i, j));
    if (square) square.push(p);
    else squares.set(key(i, j), [p]);
  }
  return (a, b) => {
    let least = Number.POSITIVE_INFINITY;
    const look = (i: number, j: number): void => {
      for (const p of squares.get(key(i, j)) ?? []) least = Math.min(least, (p.a - a) ** 2 + (p.b - b) ** 2);
    };
    const [i, j] = [side(a), side(b)];
    look(i, j);
    // What lies in the n-th ring of squares is at least n − 1 sides away.
    for (let n = 1; n <= rings && least > (Math.max(1, n - 1) * HOLE_RADIUS) ** 2; n++) {
      for (let k = -n; k <= n; k++) {
        look(i - n, j + k);
        look(i + n, j + k);
        if (Math.abs(k) === n) continue;
        look(i + k, j - n);
        look(i + k, j + n);
      }
    }
    return Math.sqrt(least);
  };
}

/** Mean lightness of the four nearest swatches in the plane: what a colour there would most likely be wanted at. */
function lightnessAround(points: readonly MapPoint[], a: number, b: number): number {
  const near: { l: number; d: number }[] = [];
  for (const p of points) {
    const d = (p.a - a) ** 2 + (p.b - b) ** 2;
    if (near.length === 4 && d >= (near[3]?.d ?? 0)) continue;
    near.push({ l: p.l, d });
    near.sort((x, y) => x.d - y.d);
    near.length = Math.min(near.length, 4);
  }
  return near.reduce((sum, p) => sum + p.l, 0) / near.length;
}

function cellsOf(points: readonly MapPoint[]): MapCell[] {
  const filled = new Map<string, MapPoint[]>();
  for (const p of points) {
    const key = `${p.family} ${p.lightness}`;
    const cell = filled.get(key);
    if (cell) cell.push(p);
    else filled.set(key, [p]);
  }
  return HUE_FAMILIES.flatMap((family) =>
    LIGHTNESS_BANDS.map((lightness, i): MapCell => {
      const inBand = (band: LightnessWord | undefined): readonly MapPoint[] => filled.get(`${family} ${band}`) ?? [];
      const own = inBand(lightness).length;
      const lighter = inBand(LIGHTNESS_BANDS[i - 1]);
      const darker = inBand(LIGHTNESS_BANDS[i + 1]);
      if (own > 0 || lighter.length === 0 || darker.length === 0) return { family, lightness, count: own, hole: null };
      // Half-way between what is lighter and what is darker.
      const mean = (list: readonly MapPoint[], of: (p: MapPoint) => number): number =>
        list.reduce((sum, p) => sum + of(p), 0) / list.length;
      const middle = {
        L: (mean(lighter, (p) => p.l) + mean(darker, (p) => p.l)) / 2,
        a: (mean(lighter, (p) => p.a) + mean(darker, (p) => p.a)) / 2,
        b: (mean(lighter, (p) => p.b) + mean(darker, (p) => p.b)) / 2,
      };
      const { C, hueDeg } = lchFromLab(middle);
      const name = colourName({ lab: labFromLch({ L: middle.L, C, hueDeg }), conditions: D65_2 }).name;
      return { family, lightness, count: 0, hole: { l: middle.L, c: C, h: hueDeg, name } };
    }),
  );
}

interface Place {
  a: number;
  b: number;
}

/** Outline of the points, anticlockwise. Source: A. M. Andrew, Another efficient algorithm for convex hulls in two dimensions,
 *  Information Processing Letters 9 (1979) 216–219. */
function hullOf(points: readonly Place[]): Place[] {
  const sorted = [...points].sort((p, q) => p.a - q.a || p.b - q.b);
  const turn = (o: Place, p: Place, q: Place): number => (p.a - o.a) * (q.b - o.b) - (p.b - o.b) * (q.a - o.a);
  const half = (list: readonly Place[]): Place[] => {
    const chain: Place[] = [];
    const turnsIn = (next: Place): boolean => {
      const [before, last] = chain.slice(-2);
      return before !== undefined && last !== undefined && turn(before, last, next) <= 0;
    };
    for (const p of list) {
      while (turnsIn(p)) chain.pop();
      chain.push(p);
    }
    return chain.slice(0, -1);
  };
  return [...half(sorted), ...half([...sorted].reverse())];
}

const isInside = (outline: readonly Place[], a: number, b: number): boolean =>
  outline.every((p, i) => {
    const q = outline[(i + 1) % outline.length] ?? p;
    return (q.a - p.a) * (b - p.b) - (q.b - p.b) * (a - p.a) >= 0;
  });
