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
import { mapPoint } from '../../server/calc/colour/homography.ts';
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

/** Mean standard deviation over windows of 84 % of a step: the better a card is centred, the less of its frame they touch. */
function unevenness(image: PixelImage, corners: CardCorners): number {
  const toImage = cardToImage(CARD, corners);
  let total = 0;
  for (let patch = 0; patch < 24; patch++) {
    const values: number[] = [];
    for (let iy = -10; iy <= 10; iy++) {
      for (let ix = -10; ix <= 10; ix++) {
        const p = mapPoint(toImage, (patch % 6) + 0.042 * ix, Math.floor(patch / 6) + 0.042 * iy);
        const i = (Math.round(p.y) * image.width + Math.round(p.x)) * 3;
        values.push((image.data[i]! + image.data[i + 1]! + image.data[i + 2]!) / 3);
      }
    }
    const mean = values.reduce((s, v) => s + v, 0) / values.length;
    total += Math.sqrt(values.reduce((s, v) => s + (v - mean) ** 2, 0) / values.length) / 24;
  }
  return total;
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
  console.log(row(['photo', 'mean of four', 'worst of four', 'confidence', 'unevenness*', 'ms']));
  const found = new Map<string, CardCorners>();
  let meanWithin = 0;
  let worstWithin = 0;
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
    const even = `${unevenness(image, finding.corners).toFixed(1)} : ${unevenness(image, marked).toFixed(1)}`;
    console.log(
      row([file, mean.toFixed(1), Math.max(...offs).toFixed(1), finding.confidence.toFixed(2), even, ms.toFixed(0)]),
    );
  }
  console.log(
    `found ${found.size} of ${photos.length}; within 5 %: ${meanWithin} by the mean of the four corners, ${worstWithin} by the worst.`,
  );
  console.log('* mean sd (8-bit) of 24 windows of 84 % of a step, found : marked. Less frame inside = better centred.');

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
