import type { CardDefinition } from './cardDefinitions.ts';
import type { CardCorners } from './cardFinding.ts';
import { type Homography, homographyBetween, mapPoint } from './homography.ts';
import { LINEAR_OF_BYTE, type PixelImage, type Point } from './pixelImage.ts';

/** What the middle of one patch gave. */
export interface PatchSample {
  /** Robust mean in linear light, 0–1, red green blue. */
  linear: readonly [number, number, number];
  /** Standard deviation inside the window, 8-bit units, mean of the channels: texture, noise, glare. */
  sd8: number;
  /** Share of pixels with a channel at 254 or 255: light that the camera could not hold. */
  clippedHighShare: number;
  /** Share of pixels with a channel at 0: a colour deeper than the camera's space. */
  clippedLowShare: number;
  /** Position on the card, −1 to 1 along its longer side, for the evenness of the light. */
  u: number;
  v: number;
  pixels: number;
}

/** Side of the window read, as a share of the step from patch to patch. */
const WINDOW = 0.44;
const MAX_PER_SIDE = 48;
/** Left out at each end by lightness before averaging: dust, scratches, a highlight on a ridge. */
const TRIM = 0.1;

/** The homography from positions on the card to the image. Definition. */
export function cardToImage(card: CardDefinition, corners: CardCorners): Homography {
  const c = Math.max(1, card.columns - 1);
  const r = Math.max(1, card.rows - 1);
  return homographyBetween(
    [
      { x: 0, y: 0 },
      { x: c, y: 0 },
      { x: c, y: r },
      { x: 0, y: r },
    ],
    corners,
  );
}

/** Position on the card in units of its half longer side, from its middle. Definition. */
export function positionOnCard(card: CardDefinition, column: number, row: number): { u: number; v: number } {
  const half = Math.max(card.columns - 1, card.rows - 1, 1) / 2;
  return { u: (column - (card.columns - 1) / 2) / half, v: (row - (card.rows - 1) / 2) / half };
}

/** Reads every patch of a card of two rows and columns or more. Undefined for a patch that lies outside the image. A rule of our own. */
export function samplePatches(input: {
  image: PixelImage;
  card: CardDefinition;
  corners: CardCorners;
}): (PatchSample | undefined)[] {
  const { image, card, corners } = input;
  const toImage = cardToImage(card, corners);
  return card.patches.map((_, i) => {
    const column = i % card.columns;
    const row = Math.floor(i / card.columns);
    const places: Point[] = [];
    const middle = mapPoint(toImage, column, row);
    const next = mapPoint(toImage, column + WINDOW, row + WINDOW);
    const perSide = Math.max(3, Math.min(MAX_PER_SIDE, Math.round(Math.hypot(next.x - middle.x, next.y - middle.y))));
    for (let iy = 0; iy < perSide; iy++) {
      for (let ix = 0; ix < perSide; ix++) {
        places.push(
          mapPoint(
            toImage,
            column + WINDOW * ((ix + 0.5) / perSide - 0.5),
            row + WINDOW * ((iy + 0.5) / perSide - 0.5),
          ),
        );
      }
    }
    return sampleAt(image, places, positionOnCard(card, column, row));
  });
}

/** A card of one patch, of which the person marks the four corners of the even area itself. A rule of our own. */
export function sampleQuad(image: PixelImage, corners: CardCorners): PatchSample | undefined {
  const toImage = homographyBetween(
    [
      { x: 0, y: 0 },
      { x: 1, y: 0 },
      { x: 1, y: 1 },
      { x: 0, y: 1 },
    ],
    corners,
  );
  const places: Point[] = [];
  for (let iy = 0; iy < MAX_PER_SIDE; iy++) {
    for (let ix = 0; ix < MAX_PER_SIDE; ix++) {
      places.push(mapPoint(toImage, 0.1 + (0.8 * (ix + 0.5)) / MAX_PER_SIDE, 0.1 + (0.8 * (iy + 0.5)) / MAX_PER_SIDE));
    }
  }
  return sampleAt(image, places, { u: 0, v: 0 });
}

/** Reads one patch around a place of the card. A rule of our own. */
export function sampleAt(
  image: PixelImage,
  places: readonly Point[],
  position: { u: number; v: number },
): PatchSample | undefined {
  const { data, width, height, channels } = image;
  const n = places.length;
  const bytes = new Uint8Array(n * 3);
  let high = 0;
  let low = 0;
  const sum = [0, 0, 0];
  const squares = [0, 0, 0];
  for (let i = 0; i < n; i++) {
    const x = Math.round(places[i]!.x);
    const y = Math.round(places[i]!.y);
    if (!(x >= 0 && y >= 0 && x < width && y < height)) return undefined;
    const p = (y * width + x) * channels;
    let most = 0;
    let least = 255;
    for (let c = 0; c < 3; c++) {
      const v = data[p + c]!;
      bytes[i * 3 + c] = v;
      sum[c]! += v;
      squares[c]! += v * v;
      if (v > most) most = v;
      if (v < least) least = v;
    }
    if (most >= 254) high++;
    if (least === 0) low++;
  }
  const light = Float64Array.from({ length: n }, (_, i) => bytes[i * 3]! + 2 * bytes[i * 3 + 1]! + bytes[i * 3 + 2]!);
  const sorted = Float64Array.from(light).sort();
  const from = sorted[Math.floor(n * TRIM)]!;
  const to = sorted[Math.min(n - 1, Math.ceil(n * (1 - TRIM)))]!;
  const linear: [number, number, number] = [0, 0, 0];
  let kept = 0;
  for (let i = 0; i < n; i++) {
    if (light[i]! < from || light[i]! > to) continue;
    kept++;
    for (let c = 0; c < 3; c++) linear[c]! += LINEAR_OF_BYTE[bytes[i * 3 + c]!]!;
  }
  const variance = squares.map((s, c) => Math.max(0, s / n - (sum[c]! / n) ** 2));
  return {
    linear: [linear[0] / kept, linear[1] / kept, linear[2] / kept],
    sd8: variance.reduce((total, v) => total + Math.sqrt(v), 0) / 3,
    clippedHighShare: high / n,
    clippedLowShare: low / n,
    ...position,
    pixels: n,
  };
}
