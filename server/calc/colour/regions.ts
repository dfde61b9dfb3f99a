import { CalcError, finiteIn } from '../calcError.ts';
import type { ColourFit } from './colourFit.ts';
import { deltaE2000 } from './deltaE.ts';
import { LINEAR_OF_BYTE, type PixelImage, type Point } from './pixelImage.ts';
import type { Lab } from './reading.ts';

/** Where to read on the goods: a round spot, or an area within a closed line. Pixels of the upright image. */
export type Region =
  | { kind: 'spot'; x: number; y: number; radiusPx: number; clusters: ClusterWish }
  | { kind: 'area'; outline: readonly Point[]; clusters: ClusterWish };

/** 'none' for goods of one colour; a number of clusters, or as many of 3 to 6 as the goods show. */
export type ClusterWish = 'none' | 'auto' | 3 | 4 | 5 | 6;

export interface ColourCluster {
  /** D50/2° */
  lab: Lab;
  /** 90 % half-width in CIEDE2000, as far as the card tells. */
  plusMinus: number;
  areaSharePct: number;
  spread: number;
}

export interface RegionReading {
  /** Mean over the region, averaged in linear light as an instrument's window would. D50/2°. */
  lab: Lab;
  /** 90 % half-width in CIEDE2000, as far as the card tells. */
  plusMinus: number;
  /** Mean CIEDE2000 of single places from the mean colour: shade of folds, texture, variegation, camera noise. */
  spread: number;
  /** Share of pixels, 0–100, with a channel that the camera could not hold. */
  clippedPct: number;
  pixels: number;
  clusters: ColourCluster[];
}

/** What turns places and light of one photo into colours. */
export interface PhotoCalibration {
  image: PixelImage;
  fit: ColourFit;
  /** Place in the image → place in the card's units. */
  place(p: Point): { u: number; v: number };
}

const MAX_PLACES = 3000;
const MIN_PIXELS = 9;
const MAX_OUTLINE = 400;

/** `places`: how many places are looked at for spread and clusters (the mean takes every pixel). A rule of our own. */
export function readRegion(calibration: PhotoCalibration, region: Region, places = MAX_PLACES): RegionReading {
  const { image, fit, place } = calibration;
  const pixels = pixelsOf(image, region);
  if (pixels.length < MIN_PIXELS) {
    throw new CalcError('outOfRange', 'region', 'the region holds too few pixels of the photo to read a colour');
  }
  const mean: [number, number, number] = [0, 0, 0];
  let clipped = 0;
  let x = 0;
  let y = 0;
  for (const p of pixels) {
    const px = p % image.width;
    x += px / pixels.length;
    y += (p - px) / image.width / pixels.length;
    let out = false;
    for (let c = 0; c < 3; c++) {
      const byte = image.data[p * image.channels + c]!;
      mean[c]! += LINEAR_OF_BYTE[byte]! / pixels.length;
      if (byte >= 254) out = true;
    }
    if (out) clipped++;
  }
  const middle = place({ x, y });
  const { lab, sd } = fit.read(mean, middle.u, middle.v);
  // An even stride over the pixels in reading order: the same places each time, over the whole region.
  const stride = Math.max(1, pixels.length / places);
  const looked: { linear: [number, number, number]; lab: Lab; u: number; v: number }[] = [];
  for (let i = 0; Math.floor(i) < pixels.length; i += stride) {
    const p = pixels[Math.floor(i)]!;
    const px = p % image.width;
    const py = (p - px) / image.width;
    const linear = smoothed(image, px, py);
    const at = place({ x: px, y: py });
    looked.push({ linear, lab: fit.labOf(linear, at.u, at.v), ...at });
  }
  return {
    lab,
    plusMinus: sd * fit.plusMinusPerSd,
    spread: spreadOf(
      looked.map((p) => p.lab),
      lab,
    ),
    clippedPct: (100 * clipped) / pixels.length,
    pixels: pixels.length,
    clusters: region.clusters === 'none' ? [] : clustersOf(fit, looked, region.clusters),
  };
}

const spreadOf = (labs: readonly Lab[], middle: Lab): number =>
  labs.reduce((sum, lab) => sum + deltaE2000({ standard: middle, sample: lab }), 0) / Math.max(1, labs.length);

/** Linear light of a place and its eight neighbours: single pixels are mostly noise of the camera. */
function smoothed({ data, width, height, channels }: PixelImage, x: number, y: number): [number, number, number] {
  const sum: [number, number, number] = [0, 0, 0];
  let n = 0;
  for (let yy = Math.max(0, y - 1); yy <= Math.min(height - 1, y + 1); yy++) {
    for (let xx = Math.max(0, x - 1); xx <= Math.min(width - 1, x + 1); xx++) {
      n++;
      for (let c = 0; c < 3; c++) sum[c]! += LINEAR_OF_BYTE[data[(yy * width + xx) * channels + c]!]!;
    }
  }
  return [sum[0] / n, sum[1] / n, sum[2] / n];
}

/** Indices (y · width + x) of the pixels inside a region, in reading order; what lies outside the image is left out. */
function pixelsOf({ width, height }: PixelImage, region: Region): number[] {
  const out: number[] = [];
  if (region.kind === 'spot') {
    const x = finiteIn('x', region.x);
    const y = finiteIn('y', region.y);
    const r = finiteIn('radiusPx', region.radiusPx, { min: 0, exclusiveMin: true });
    for (let py = Math.max(0, Math.ceil(y - r)); py <= Math.min(height - 1, Math.floor(y + r)); py++) {
      const half = Math.sqrt(Math.max(0, r * r - (py - y) ** 2));
      for (let px = Math.max(0, Math.ceil(x - half)); px <= Math.min(width - 1, Math.floor(x + half)); px++) {
        out.push(py * width + px);
      }
    }
    return out;
  }
  const { outline } = region;
  if (outline.length < 3 || outline.length > MAX_OUTLINE) {
    throw new CalcError('outOfRange', 'outline', `an area needs 3 to ${MAX_OUTLINE} points`);
  }
  for (const p of outline) {
    finiteIn('outline.x', p.x);
    finiteIn('outline.y', p.y);
  }
  const top = Math.max(0, Math.ceil(Math.min(...outline.map((p) => p.y))));
  const bottom = Math.min(height - 1, Math.floor(Math.max(...outline.map((p) => p.y))));
  for (let py = top; py <= bottom; py++) {
    const crossings: number[] = [];
    outline.forEach((p, i) => {
      const q = outline[(i + 1) % outline.length]!;
      if (p.y <= py !== q.y <= py) crossings.push(p.x + ((py - p.y) * (q.x - p.x)) / (q.y - p.y));
    });
    crossings.sort((p, q) => p - q);
    for (let i = 0; i + 1 < crossings.length; i += 2) {
      const from = Math.max(0, Math.ceil(crossings[i]!));
      const to = Math.min(width - 1, Math.floor(crossings[i + 1]!));
      for (let px = from; px <= to; px++) out.push(py * width + px);
    }
  }
  return out;
}

/** Under this CIEDE2000 two clusters are one colour to the eye at arm's length; used when the number is left open. */
const SAME_COLOUR = 5;
/** Under this share of the area a cluster is a speck, not a colour of the goods; likewise. */
const SPECK_SHARE = 0.02;

interface Place {
  linear: readonly [number, number, number];
  lab: Lab;
  u: number;
  v: number;
}

function clustersOf(fit: ColourFit, places: readonly Place[], wish: Exclude<ClusterWish, 'none'>): ColourCluster[] {
  let k = wish === 'auto' ? 6 : wish;
  let groups = kMeans(
    places.map((p) => p.lab),
    k,
  );
  while (wish === 'auto' && k > 3 && (closest(groups.centres) < SAME_COLOUR || least(groups.of, k) < SPECK_SHARE)) {
    k--;
    groups = kMeans(
      places.map((p) => p.lab),
      k,
    );
  }
  return groups.centres
    .map((_, g) => {
      const members = places.filter((_, i) => groups.of[i] === g);
      const mean: [number, number, number] = [0, 0, 0];
      let u = 0;
      let v = 0;
      for (const m of members) {
        for (let c = 0; c < 3; c++) mean[c]! += m.linear[c]! / members.length;
        u += m.u / members.length;
        v += m.v / members.length;
      }
      if (members.length === 0) return undefined;
      const { lab, sd } = fit.read(mean, u, v);
      return {
        lab,
        plusMinus: sd * fit.plusMinusPerSd,
        areaSharePct: (100 * members.length) / places.length,
        spread: spreadOf(
          members.map((m) => m.lab),
          lab,
        ),
      };
    })
    .filter((c) => c !== undefined)
    .sort((p, q) => q.areaSharePct - p.areaSharePct);
}

function least(of: Int32Array, k: number): number {
  const counts = new Float64Array(k);
  for (const g of of) counts[g]!++;
  return Math.min(...counts) / of.length;
}

function closest(centres: readonly Lab[]): number {
  let least = Number.POSITIVE_INFINITY;
  for (let i = 0; i < centres.length; i++) {
    for (let j = i + 1; j < centres.length; j++) {
      least = Math.min(least, deltaE2000({ standard: centres[i]!, sample: centres[j]! }));
    }
  }
  return least;
}

const MAX_ROUNDS = 60;

/** k-means in CIELAB, the same every time: the first centre is the colour furthest from the mean, each next one the colour
 *  whose squared distance to the centres there are, times how common its neighbourhood is, is largest.
 *  Source of the method: Lloyd’s iteration (from memory). */
export function kMeans(labs: readonly Lab[], k: number): { centres: Lab[]; of: Int32Array } {
  if (labs.length === 0) throw new CalcError('missing', 'region', 'there is nothing to sort into clusters');
  const distance2 = (p: Lab, q: Lab): number => (p.L - q.L) ** 2 + (p.a - q.a) ** 2 + (p.b - q.b) ** 2;
  const common = commonness(labs);
  const mean = meanOf(labs);
  const nearest = Float64Array.from(labs, (lab) => distance2(lab, mean));
  const centres: Lab[] = [];
  while (centres.length < Math.min(k, labs.length)) {
    let chosen = 0;
    for (let i = 1; i < labs.length; i++) if (nearest[i]! * common[i]! > nearest[chosen]! * common[chosen]!) chosen = i;
    const first = centres.length === 0;
    if (!first && nearest[chosen] === 0) break;
    const centre = labs[chosen]!;
    centres.push(centre);
    labs.forEach((lab, i) => {
      const d = distance2(lab, centre);
      nearest[i] = first ? d : Math.min(nearest[i]!, d);
    });
  }
  const of = new Int32Array(labs.length).fill(-1);
  for (let round = 0; round < MAX_ROUNDS; round++) {
    let moved = false;
    labs.forEach((lab, i) => {
      let best = 0;
      for (let c = 1; c < centres.length; c++)
        if (distance2(lab, centres[c]!) < distance2(lab, centres[best]!)) best = c;
      if (of[i] !== best) {
        of[i] = best;
        moved = true;
      }
    });
    if (!moved) break;
    centres.forEach((_, c) => {
      const members = labs.filter((_, i) => of[i] === c);
      if (members.length > 0) centres[c] = meanOf(members);
    });
  }
  return { centres, of };
}

function meanOf(labs: readonly Lab[]): Lab {
  const sum = { L: 0, a: 0, b: 0 };
  for (const lab of labs) {
    sum.L += lab.L / labs.length;
    sum.a += lab.a / labs.length;
    sum.b += lab.b / labs.length;
  }
  return sum;
}

/** Square root of how many colours share a cell of 8 units: a lone speck is no centre. */
function commonness(labs: readonly Lab[]): Float64Array {
  const cell = (lab: Lab): string => `${Math.floor(lab.L / 8)},${Math.floor(lab.a / 8)},${Math.floor(lab.b / 8)}`;
  const counts = new Map<string, number>();
  for (const lab of labs) counts.set(cell(lab), (counts.get(cell(lab)) ?? 0) + 1);
  return Float64Array.from(labs, (lab) => Math.sqrt(counts.get(cell(lab))!));
}
