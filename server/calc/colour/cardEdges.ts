import { type Homography, homographyIfAny, mapPoint } from './homography.ts';
import type { PixelImage, Point } from './pixelImage.ts';

/* All lengths in steps of the card (one patch to the next). An edge is looked for between a quarter and three quarters of a
   step from the middle of a patch, as the mean over the middle of its side. */
const FROM = 0.24;
const TO = 0.72;
const ADVANCE = 0.01;
const BAND = [-0.24, -0.16, -0.08, 0, 0.08, 0.16, 0.24] as const;
/** Least change of a channel (8-bit units) across an edge. */
const LEAST_EDGE = 6;
const FIRST_EDGE_SHARE = 0.4;

/** Moves a card that is about in place onto the edges of its patches. Per patch the four edges give its true middle, however
 *  wide the frame between the patches is; patches without four clear edges (black on a black frame, glare) are passed over.
 *  A rule of our own. */
export function settledOnEdges(input: {
  image: PixelImage;
  toImage: Homography;
  columns: number;
  rows: number;
}): Homography | undefined {
  const { image, toImage, columns, rows } = input;
  const sides = [];
  for (let row = 0; row < rows; row++) {
    for (let column = 0; column < columns; column++) {
      const right = edge(image, toImage, column, row, 1, 0);
      const left = edge(image, toImage, column, row, -1, 0);
      const down = edge(image, toImage, column, row, 0, 1);
      const up = edge(image, toImage, column, row, 0, -1);
      if (right === undefined || left === undefined || down === undefined || up === undefined) continue;
      sides.push({ column, row, width: right + left, height: down + up, du: (right - left) / 2, dv: (down - up) / 2 });
    }
  }
  if (sides.length < 6) return undefined;
  const width = median(sides.map((s) => s.width));
  const height = median(sides.map((s) => s.height));
  let kept = sides.filter((s) => Math.abs(s.width / width - 1) < 0.08 && Math.abs(s.height / height - 1) < 0.08);
  while (kept.length >= 6) {
    const from: Point[] = kept.map((s) => ({ x: s.column, y: s.row }));
    const to: Point[] = kept.map((s) => mapPoint(toImage, s.column + s.du, s.row + s.dv));
    const settled = homographyIfAny(from, to);
    if (settled === undefined) return undefined;
    const off = kept.map((_, i) => {
      const p = mapPoint(settled, from[i]!.x, from[i]!.y);
      const q = mapPoint(settled, from[i]!.x + 1, from[i]!.y);
      return Math.hypot(p.x - to[i]!.x, p.y - to[i]!.y) / Math.hypot(q.x - p.x, q.y - p.y);
    });
    const most = Math.max(...off);
    // A bent card or a curved lens leaves some hundredths of a step on every patch: only what stands out of the rest goes.
    if (most < Math.max(0.02, 3 * median(off))) return settled;
    kept = kept.filter((_, i) => off[i]! < most);
  }
  return undefined;
}

/** Distance from the middle of a patch to its edge in one direction, in steps. */
function edge(
  image: PixelImage,
  toImage: Homography,
  column: number,
  row: number,
  dx: number,
  dy: number,
): number | undefined {
  const n = Math.round((TO - FROM) / ADVANCE) + 1;
  const profile = new Float64Array(n * 3);
  for (let i = 0; i < n; i++) {
    const t = FROM + i * ADVANCE;
    for (const across of BAND) {
      const p = mapPoint(toImage, column + dx * t + dy * across, row + dy * t + dx * across);
      if (!addPixel(image, p, profile, i * 3)) return undefined;
    }
  }
  const reach = 3;
  const change = new Float64Array(n);
  let most = 0;
  for (let i = reach; i < n - reach; i++) {
    for (let c = 0; c < 3; c++) {
      const d = Math.abs(profile[(i + reach) * 3 + c]! - profile[(i - reach) * 3 + c]!) / BAND.length;
      if (d > change[i]!) change[i] = d;
    }
    if (change[i]! > most) most = change[i]!;
  }
  if (most < LEAST_EDGE) return undefined;
  for (let i = reach + 1; i < n - reach - 1; i++) {
    if (change[i]! < FIRST_EDGE_SHARE * most || change[i]! < LEAST_EDGE) continue;
    // Up the slope to its top: the middle of the first clear edge.
    let top = i;
    while (top + 1 < n - reach && change[top + 1]! > change[top]!) top++;
    const [a, b, c] = [change[top - 1]!, change[top]!, change[top + 1]!];
    const bend = a - 2 * b + c;
    return FROM + ADVANCE * (top + (bend < 0 ? (0.5 * (a - c)) / bend : 0));
  }
  return undefined;
}

/** Adds the colour between the four pixels around a point; false outside the image. */
function addPixel({ data, width, height, channels }: PixelImage, p: Point, into: Float64Array, at: number): boolean {
  if (!(p.x >= 0 && p.y >= 0 && p.x < width - 1 && p.y < height - 1)) return false;
  const x = Math.floor(p.x);
  const y = Math.floor(p.y);
  const fx = p.x - x;
  const fy = p.y - y;
  const i = (y * width + x) * channels;
  const j = i + width * channels;
  for (let c = 0; c < 3; c++) {
    into[at + c]! +=
      (data[i + c]! * (1 - fx) + data[i + channels + c]! * fx) * (1 - fy) +
      (data[j + c]! * (1 - fx) + data[j + channels + c]! * fx) * fy;
  }
  return true;
}

function median(values: readonly number[]): number {
  const sorted = [...values].sort((p, q) => p - q);
  return sorted[Math.floor(sorted.length / 2)]!;
}
