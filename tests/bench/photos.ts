import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { parse } from 'csv-parse/sync';
import sharp from 'sharp';
import { CHART_24_SINCE_2014, greyCard } from '../../server/calc/colour/cardDefinitions.ts';
import { type CardCorners, findCard } from '../../server/calc/colour/cardFinding.ts';
import { fitPatchOf } from '../../server/calc/colour/cardReading.ts';
import {
  type CameraModel,
  camera,
  type FitPatch,
  fitCard,
  uncorrectedLab,
} from '../../server/calc/colour/colourFit.ts';
import { deltaE2000 } from '../../server/calc/colour/deltaE.ts';
import { type Homography, mapPoint } from '../../server/calc/colour/homography.ts';
import { cardToImage, samplePatches } from '../../server/calc/colour/patchSampling.ts';
import type { PixelImage, Point } from '../../server/calc/colour/pixelImage.ts';

/* Photographs of a 24-patch chart, read in place: photos/photos.csv with the marked centres of the corner patches, and the
   photographs beside it. Every patch is read by a fit that never saw it. */

const CARD = CHART_24_SINCE_2014;

interface Photo {
  file: string;
  isPhone: boolean;
  image: PixelImage;
  marked: CardCorners;
}

interface Method {
  name: string;
  /** Reads one patch by a fit of the others. */
  read(others: readonly FitPatch[], patch: FitPatch): { deltaE: number; plusMinus?: number };
}

const off = (patch: FitPatch, lab: FitPatch['lab']): number => deltaE2000({ standard: patch.lab, sample: lab });
const plain = (name: string, model: CameraModel): Method => ({
  name,
  read: (others, patch) => ({ deltaE: off(patch, camera(others, model)(patch.linear)) }),
});

const METHODS: readonly Method[] = [
  { name: 'uncorrected', read: (_, patch) => ({ deltaE: off(patch, uncorrectedLab(patch.linear)) }) },
  plain('3×3', 'linear'),
  plain('root-poly', 'rootPolynomial'),
  plain('curve+root-poly', 'greyCurveRootPolynomial'),
  {
    name: 'ours',
    read: (others, patch) => {
      const fit = fitCard(others);
      const { lab, sd } = fit.read(patch.linear, patch.u, patch.v);
      return { deltaE: off(patch, lab), plusMinus: sd * fit.plusMinusPerSd };
    },
  },
];

const GREY = 21;
/** What a plain grey card in place of the chart would have given: the fit sees patch "neutral 5" and nothing else. */
function byGreyAlone(patches: readonly FitPatch[]): { deltaE: number; plusMinus: number }[] {
  const fit = fitCard([{ ...patches[GREY]!, lab: greyCard({ L: CARD.patches[GREY]!.lab.L }).patches[0]!.lab }]);
  return patches
    .filter((_, i) => i !== GREY)
    .map((patch) => {
      const { lab, sd } = fit.read(patch.linear, patch.u, patch.v);
      return { deltaE: off(patch, lab), plusMinus: sd * fit.plusMinusPerSd };
    });
}

async function load(folder: string): Promise<Photo[]> {
  const rows = parse(readFileSync(join(folder, 'photos.csv')), { columns: true }) as Record<string, string>[];
  const photos: Photo[] = [];
  for (const row of rows) {
    const at = (patch: number): Point => ({ x: Number(row[`p${patch}_x`]), y: Number(row[`p${patch}_y`]) });
    const { data, info } = await sharp(join(folder, row['file']!))
      .autoOrient()
      .removeAlpha()
      .toColourspace('srgb')
      .raw()
      .toBuffer({ resolveWithObject: true });
    photos.push({
      file: row['file']!,
      isPhone: row['chart']!.includes('phone'),
      image: { data, width: info.width, height: info.height, channels: 3 },
      marked: [at(1), at(6), at(24), at(19)],
    });
  }
  return photos;
}

function quantile(values: readonly number[], q: number): number {
  const sorted = [...values].sort((p, r) => p - r);
  const at = (sorted.length - 1) * q;
  const low = Math.floor(at);
  return sorted[low]! + (at - low) * ((sorted[low + 1] ?? sorted[low]!) - sorted[low]!);
}

const figures = (values: readonly number[]): string =>
  values.length === 0 ? '–' : `${quantile(values, 0.5).toFixed(2)} / ${quantile(values, 0.9).toFixed(2)}`;

/** Where a side of a patch is seen, in steps from its middle: the steepest place along each of nine lines outward, and of
 *  those the median. Undefined where they do not agree: black on a black frame, a shine. */
function seenSide(image: PixelImage, toImage: Homography, place: Point, dx: number, dy: number): number | undefined {
  const NEAR = 0.25;
  const FAR = 0.66;
  const STEP = 0.005;
  const REACH = 4;
  const count = Math.round((FAR - NEAR) / STEP);
  const seen: number[] = [];
  for (let line = -4; line <= 4; line++) {
    const across = 0.07 * line;
    const profile = Array.from({ length: count }, (_, i) => {
      const t = NEAR + STEP * i;
      return colourBetween(image, mapPoint(toImage, place.x + dx * t + dy * across, place.y + dy * t + dx * across));
    });
    const change = profile.map((_, i) => {
      const inner = profile[i - REACH];
      const outer = profile[i + REACH];
      return inner && outer ? Math.max(...inner.map((v, c) => Math.abs(v - outer[c]!))) : 0;
    });
    const most = Math.max(...change);
    if (most < 15) continue;
    let top = change.findIndex((v) => v > 0.5 * most);
    while (change[top + 1]! > change[top]!) top++;
    seen.push(NEAR + STEP * top);
  }
  seen.sort((p, r) => p - r);
  if (seen.length < 5 || seen.at(-2)! - seen[1]! > 0.08) return undefined;
  return seen[Math.floor(seen.length / 2)];
}

function colourBetween({ data, width, height }: PixelImage, p: Point): number[] | undefined {
  const x = Math.floor(p.x);
  const y = Math.floor(p.y);
  if (!(x >= 0 && y >= 0 && x < width - 1 && y < height - 1)) return undefined;
  const [fx, fy] = [p.x - x, p.y - y];
  const at = (dx: number, dy: number, c: number): number => data[((y + dy) * width + x + dx) * 3 + c]!;
  return [0, 1, 2].map(
    (c) => (at(0, 0, c) * (1 - fx) + at(1, 0, c) * fx) * (1 - fy) + (at(0, 1, c) * (1 - fx) + at(1, 1, c) * fx) * fy,
  );
}

/** Middles of the patches as their own four edges show them, where these are clear. Measured without the finder's edges, so
 *  that they can judge its corners and those marked by hand alike; `about` says only where to look. */
function seenMiddles(image: PixelImage, about: CardCorners): { place: Point; at: Point }[] {
  const toImage = cardToImage(CARD, about);
  const seen: { place: Point; at: Point; width: number; height: number }[] = [];
  for (let patch = 0; patch < 24; patch++) {
    const place = { x: patch % 6, y: Math.floor(patch / 6) };
    const [right, left, down, up] = [
      [1, 0],
      [-1, 0],
      [0, 1],
      [0, -1],
    ].map(([dx, dy]) => seenSide(image, toImage, place, dx!, dy!));
    if (right === undefined || left === undefined || down === undefined || up === undefined) continue;
    const at = mapPoint(toImage, place.x + (right - left) / 2, place.y + (down - up) / 2);
    seen.push({ place, at, width: right + left, height: down + up });
  }
  const middle = (of: (s: { width: number; height: number }) => number): number => quantile(seen.map(of), 0.5);
  const [width, height] = [middle((s) => s.width), middle((s) => s.height)];
  return seen.filter((s) => Math.abs(s.width - width) < 0.04 && Math.abs(s.height - height) < 0.04);
}

/** How far four corners put the middles of patches from where they are seen: per cent of a step. */
function offSeen(seen: ReturnType<typeof seenMiddles>, corners: CardCorners, stepPx: number) {
  const toImage = cardToImage(CARD, corners);
  const offs = seen.map(({ place, at }) => {
    const p = mapPoint(toImage, place.x, place.y);
    return (100 * Math.hypot(p.x - at.x, p.y - at.y)) / stepPx;
  });
  return { rms: Math.sqrt(offs.reduce((s, v) => s + v * v, 0) / offs.length), most: Math.max(...offs) };
}

function fitPatches(image: PixelImage, corners: CardCorners): FitPatch[] {
  return samplePatches({ image, card: CARD, corners }).map((sample, i) => {
    if (sample === undefined) throw new Error(`patch ${i + 1} lies outside the photo`);
    return fitPatchOf(CARD.patches[i]!.lab, sample, false);
  });
}

const row = (cells: readonly string[]): string =>
  cells.map((c, i) => (i === 0 ? c.padEnd(16) : c.padStart(17))).join('');

export async function benchPhotos(dataDir: string): Promise<void> {
  const folder = join(dataDir, 'photos');
  if (!existsSync(join(folder, 'photos.csv'))) {
    console.log(`Photographs: no ${join(folder, 'photos.csv')}; nothing measured.`);
    return;
  }
  const photos = await load(folder);

  console.log('\nCorners found, against those marked by hand (per cent of a step from patch to patch)');
  console.log(
    row([
      'photo',
      'mean of four',
      'worst of four',
      'confidence',
      'found off seen*',
      'marked off seen*',
      'patches',
      'ms',
    ]),
  );
  const found = new Map<string, CardCorners>();
  let meanWithin = 0;
  let worstWithin = 0;
  const seen = { found: 0, marked: 0 };
  for (const { file, image, marked } of photos) {
    const began = performance.now();
    const finding = findCard({ image, card: CARD });
    const ms = performance.now() - began;
    if (!finding.found) {
      console.log(row([file, `asks: ${finding.reason}`]));
      continue;
    }
    found.set(file, finding.corners);
    const [a, b] = marked;
    const step = Math.hypot(b.x - a.x, b.y - a.y) / 5;
    const offs = finding.corners.map((p, i) => (100 * Math.hypot(p.x - marked[i]!.x, p.y - marked[i]!.y)) / step);
    const mean = offs.reduce((s, v) => s + v, 0) / 4;
    if (mean <= 5) meanWithin++;
    if (Math.max(...offs) <= 5) worstWithin++;
    const middles = seenMiddles(image, finding.corners);
    const [ours, byHand] = [offSeen(middles, finding.corners, step), offSeen(middles, marked, step)];
    if (ours.most <= 5) seen.found++;
    if (byHand.most <= 5) seen.marked++;
    const shown = (off: typeof ours): string => `${off.rms.toFixed(1)} / ${off.most.toFixed(1)}`;
    console.log(
      row([
        file,
        mean.toFixed(1),
        Math.max(...offs).toFixed(1),
        finding.confidence.toFixed(2),
        shown(ours),
        shown(byHand),
        `${middles.length}`,
        ms.toFixed(0),
      ]),
    );
  }
  console.log(
    `found ${found.size} of ${photos.length}; within 5 %: ${meanWithin} by the mean of the four corners, ${worstWithin} by the worst.`,
  );
  console.log(
    `* rms / most: how far the corners put the middles of patches from where their own edges show them, per cent of a step; all within 5 %: found ${seen.found}, marked ${seen.marked} of ${photos.length}.`,
  );

  console.log('\nHeld-out patches, CIEDE2000 median / 90th percentile (corners as marked; last column as found)');
  console.log(row(['photo', ...METHODS.map((m) => m.name), 'ours, found', 'grey card only']));
  const pooled = new Map<string, number[]>();
  const inside = { within: 0, of: 0, greyWithin: 0, greyOf: 0 };
  const widths: number[] = [];
  for (const { file, isPhone, image, marked } of photos) {
    const patches = fitPatches(image, marked);
    const cells = METHODS.map((method) => heldOut(method, patches));
    const corners = found.get(file);
    const ours = METHODS[METHODS.length - 1]!;
    cells.push(corners === undefined ? [] : heldOut(ours, fitPatches(image, corners)));
    cells.push(byGreyAlone(patches));
    console.log(row([file, ...cells.map((c) => figures(c.map((r) => r.deltaE)))]));
    if (!isPhone) continue;
    [...METHODS.map((m) => m.name), 'found', 'grey'].forEach((name, i) => {
      pooled.set(name, [...(pooled.get(name) ?? []), ...cells[i]!.map((r) => r.deltaE)]);
    });
    for (const r of cells[METHODS.length - 1]!) {
      inside.of++;
      if (r.deltaE <= r.plusMinus!) inside.within++;
      widths.push(r.plusMinus!);
    }
    for (const r of cells[METHODS.length + 1]!) {
      inside.greyOf++;
      if (r.deltaE <= r.plusMinus!) inside.greyWithin++;
    }
  }
  console.log(row(['phones pooled', ...[...pooled.values()].map(figures)]));
  console.log(
    `stated ± (90 %) held ${((100 * inside.within) / inside.of).toFixed(1)} % of held-out patches on phones, median width ±${quantile(widths, 0.5).toFixed(1)}; ` +
      `with a grey card alone ${((100 * inside.greyWithin) / inside.greyOf).toFixed(1)} %.`,
  );
}

function heldOut(method: Method, patches: readonly FitPatch[]): { deltaE: number; plusMinus?: number }[] {
  return patches.map((patch, i) =>
    method.read(
      patches.filter((_, j) => j !== i),
      patch,
    ),
  );
}
