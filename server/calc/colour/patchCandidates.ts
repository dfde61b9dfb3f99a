import type { PixelImage } from './pixelImage.ts';

/** An evenly coloured, roughly four-sided piece of the image: it may be a patch of a card. */
export interface PatchCandidate {
  x: number;
  y: number;
  areaPx: number;
}

/* Steps between neighbouring pixels (8-bit units) under which a piece counts as even. Several, since noise asks for a high
   one and dark patches on a dark frame for a low one. */
const EVENNESS_LEVELS = [3, 5, 8, 12, 18, 28] as const;
const MIN_AREA_PX = 20;
const MAX_AREA_SHARE = 0.1;
/* For an evenly filled parallelogram area = 12 √det(covariance), however it is turned or slanted; ragged and hollow shapes
   have less area. A disc has 0.955, an L of three squares 0.77. */
const MIN_SQUARENESS = 0.88;
const MAX_SLENDERNESS = 2.6;

/** Largest channel step across a pixel, left to right or top to bottom, after smoothing by 1-2-1 both ways. The outermost
 *  pixels count as steep. */
function steps({ data, width, height, channels }: PixelImage): Uint8Array {
  const row = width * 3;
  const across = new Uint16Array(width * height * 3);
  for (let y = 0; y < height; y++) {
    for (let x = 0; x < width; x++) {
      const p = (y * width + x) * channels;
      const l = x > 0 ? p - channels : p;
      const r = x < width - 1 ? p + channels : p;
      const q = (y * width + x) * 3;
      across[q] = data[l]! + 2 * data[p]! + data[r]!;
      across[q + 1] = data[l + 1]! + 2 * data[p + 1]! + data[r + 1]!;
      across[q + 2] = data[l + 2]! + 2 * data[p + 2]! + data[r + 2]!;
    }
  }
  const smooth = new Uint8Array(width * height * 3);
  for (let y = 0; y < height; y++) {
    const up = y > 0 ? -row : 0;
    const down = y < height - 1 ? row : 0;
    for (let q = y * row, end = q + row; q < end; q++) {
      smooth[q] = (across[q + up]! + 2 * across[q]! + across[q + down]! + 8) >> 4;
    }
  }
  const out = new Uint8Array(width * height).fill(255);
  for (let y = 1; y < height - 1; y++) {
    for (let x = 1; x < width - 1; x++) {
      const p = (y * width + x) * 3;
      let most = 0;
      for (let q = p; q < p + 3; q++) {
        const dx = smooth[q + 3]! - smooth[q - 3]!;
        const dy = smooth[q + row]! - smooth[q - row]!;
        most = Math.max(most, dx, -dx, dy, -dy);
      }
      out[y * width + x] = most;
    }
  }
  return out;
}

/** Pieces that may be patches, the larger of those that are the same piece at two levels. A rule of our own. */
export function patchCandidates(image: PixelImage): PatchCandidate[] {
  const step = steps(image);
  const found: PatchCandidate[] = [];
  for (const level of EVENNESS_LEVELS) piecesAt(step, image.width, image.height, level, found);
  return withoutTwins(found, image.width);
}

/** Moments of a connected piece: pixels, sums of x, y, xx, xy, yy. */
const MOMENTS = 6;

/** Connected pieces of pixels whose step is within the level, found by joining the runs of neighbouring rows. */
function piecesAt(step: Uint8Array, width: number, height: number, level: number, into: PatchCandidate[]): void {
  const parent: number[] = [];
  const moments: number[] = [];
  const root = (i: number): number => {
    let r = i;
    while (parent[r] !== r) r = parent[r]!;
    for (let k = i; parent[k] !== r; ) {
      const next = parent[k]!;
      parent[k] = r;
      k = next;
    }
    return r;
  };
  // Runs of the row above and of this one: first x, last x, piece.
  let above: number[] = [];
  let here: number[] = [];
  for (let y = 1; y < height - 1; y++) {
    here = [];
    let seek = 0;
    for (let x = 1; x < width - 1; x++) {
      if (step[y * width + x]! > level) continue;
      const first = x;
      while (step[y * width + x + 1]! <= level) x++;
      const n = x - first + 1;
      const sx = ((first + x) * n) / 2;
      // Σ x² from first to last.
      const sxx = (x * (x + 1) * (2 * x + 1) - (first - 1) * first * (2 * first - 1)) / 6;
      let piece = -1;
      while (seek < above.length && above[seek + 1]! < first) seek += 3;
      for (let k = seek; k < above.length && above[k]! <= x; k += 3) {
        const other = root(above[k + 2]!);
        if (piece < 0) piece = other;
        else if (other !== piece) {
          parent[other] = piece;
          for (let m = 0; m < MOMENTS; m++) moments[piece * MOMENTS + m]! += moments[other * MOMENTS + m]!;
        }
      }
      if (piece < 0) {
        piece = parent.length;
        parent.push(piece);
        moments.push(0, 0, 0, 0, 0, 0);
      }
      const at = piece * MOMENTS;
      moments[at]! += n;
      moments[at + 1]! += sx;
      moments[at + 2]! += n * y;
      moments[at + 3]! += sxx;
      moments[at + 4]! += sx * y;
      moments[at + 5]! += n * y * y;
      here.push(first, x, piece);
    }
    above = here;
  }
  const maxArea = width * height * MAX_AREA_SHARE;
  for (let i = 0; i < parent.length; i++) {
    if (parent[i] !== i) continue;
    const [n, sx, sy, sxx, sxy, syy] = moments.slice(i * MOMENTS, i * MOMENTS + MOMENTS) as [
      number,
      number,
      number,
      number,
      number,
      number,
    ];
    if (n < MIN_AREA_PX || n > maxArea) continue;
    const x = sx / n;
    const y = sy / n;
    // A pixel is a small square, not a point: 1/12.
    const cxx = sxx / n - x * x + 1 / 12;
    const cyy = syy / n - y * y + 1 / 12;
    const cxy = sxy / n - x * y;
    const det = cxx * cyy - cxy * cxy;
    if (!(det > 0) || n / (12 * Math.sqrt(det)) < MIN_SQUARENESS) continue;
    const half = (cxx + cyy) / 2;
    const spread = Math.sqrt(Math.max(0, half * half - det));
    if (Math.sqrt((half + spread) / Math.max(1e-9, half - spread)) > MAX_SLENDERNESS) continue;
    into.push({ x, y, areaPx: n });
  }
}

const TWIN_REACH = 0.25;
const TWIN_SHARE = 0.3;
const BUCKET_PX = 16;

/** The same piece seen at several levels counts once, at its largest; its edge-worn smaller selves are dropped. */
function withoutTwins(found: PatchCandidate[], width: number): PatchCandidate[] {
  const sorted = [...found].sort((p, q) => q.areaPx - p.areaPx || p.y - q.y || p.x - q.x);
  const kept: PatchCandidate[] = [];
  const across = Math.ceil(width / BUCKET_PX);
  // Each kept piece stands in every bucket within which a twin of it may lie.
  const buckets = new Map<number, PatchCandidate[]>();
  const bucket = (v: number): number => Math.floor(v / BUCKET_PX);
  for (const one of sorted) {
    const twin = buckets
      .get(bucket(one.y) * across + bucket(one.x))
      ?.some(
        (other) =>
          Math.hypot(other.x - one.x, other.y - one.y) < TWIN_REACH * Math.sqrt(other.areaPx) &&
          one.areaPx > TWIN_SHARE * other.areaPx,
      );
    if (twin) continue;
    kept.push(one);
    const reach = TWIN_REACH * Math.sqrt(one.areaPx);
    for (let y = bucket(one.y - reach); y <= bucket(one.y + reach); y++) {
      for (let x = Math.max(0, bucket(one.x - reach)); x <= Math.min(across - 1, bucket(one.x + reach)); x++) {
        const list = buckets.get(y * across + x);
        if (list === undefined) buckets.set(y * across + x, [one]);
        else list.push(one);
      }
    }
  }
  return kept;
}
