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

/** Largest channel step to the neighbours right, below and two across, on a lightly smoothed image. */
function steps({ data, width, height, channels }: PixelImage): Uint8Array {
  const smooth = new Uint8Array(width * height * 3);
  for (let y = 0; y < height; y++) {
    const up = Math.max(0, y - 1) * width;
    const mid = y * width;
    const down = Math.min(height - 1, y + 1) * width;
    for (let x = 0; x < width; x++) {
      const l = Math.max(0, x - 1);
      const r = Math.min(width - 1, x + 1);
      for (let c = 0; c < 3; c++) {
        const at = (i: number): number => data[i * channels + c]!;
        smooth[(mid + x) * 3 + c] =
          (4 * at(mid + x) +
            2 * (at(mid + l) + at(mid + r) + at(up + x) + at(down + x)) +
            at(up + l) +
            at(up + r) +
            at(down + l) +
            at(down + r) +
            8) >>
          4;
      }
    }
  }
  const out = new Uint8Array(width * height).fill(255);
  for (let y = 1; y < height - 1; y++) {
    for (let x = 1; x < width - 1; x++) {
      const p = (y * width + x) * 3;
      let most = 0;
      for (let c = 0; c < 3; c++) {
        const dx = Math.abs(smooth[p + 3 + c]! - smooth[p - 3 + c]!);
        const dy = Math.abs(smooth[p + width * 3 + c]! - smooth[p - width * 3 + c]!);
        most = Math.max(most, dx, dy);
      }
      out[y * width + x] = most;
    }
  }
  return out;
}

/** Pieces that may be patches, larger level last wins where two levels give the same piece. */
export function patchCandidates(image: PixelImage): PatchCandidate[] {
  const { width, height } = image;
  const step = steps(image);
  const label = new Int32Array(width * height);
  const queue = new Int32Array(width * height);
  const maxArea = width * height * MAX_AREA_SHARE;
  const found: PatchCandidate[] = [];
  let mark = 0;
  for (const level of EVENNESS_LEVELS) {
    const base = mark;
    for (let start = 0; start < step.length; start++) {
      if (step[start]! > level || label[start]! > base) continue;
      mark++;
      label[start] = mark;
      queue[0] = start;
      let length = 1;
      let sx = 0;
      let sy = 0;
      let sxx = 0;
      let sxy = 0;
      let syy = 0;
      const x0 = start % width;
      const y0 = (start - x0) / width;
      for (let head = 0; head < length; head++) {
        const p = queue[head]!;
        const px = p % width;
        const x = px - x0;
        const y = (p - px) / width - y0;
        sx += x;
        sy += y;
        sxx += x * x;
        sxy += x * y;
        syy += y * y;
        for (const q of [p - 1, p + 1, p - width, p + width]) {
          // The outermost pixels carry the step 255, so the walk never leaves the image.
          if (step[q]! <= level && label[q]! <= base) {
            label[q] = mark;
            queue[length++] = q;
          }
        }
      }
      if (length < MIN_AREA_PX || length > maxArea) continue;
      const mx = sx / length;
      const my = sy / length;
      const cxx = sxx / length - mx * mx + 1 / 12;
      const cyy = syy / length - my * my + 1 / 12;
      const cxy = sxy / length - mx * my;
      const det = cxx * cyy - cxy * cxy;
      if (!(det > 0) || length / (12 * Math.sqrt(det)) < MIN_SQUARENESS) continue;
      const half = (cxx + cyy) / 2;
      const root = Math.sqrt(Math.max(0, half * half - det));
      if (Math.sqrt((half + root) / Math.max(1e-9, half - root)) > MAX_SLENDERNESS) continue;
      found.push({ x: x0 + mx, y: y0 + my, areaPx: length });
    }
  }
  return withoutTwins(found);
}

/** The same piece seen at several levels counts once, at its largest; its edge-worn smaller selves are dropped. */
function withoutTwins(found: PatchCandidate[]): PatchCandidate[] {
  const sorted = [...found].sort((p, q) => q.areaPx - p.areaPx || p.y - q.y || p.x - q.x);
  const kept: PatchCandidate[] = [];
  for (const one of sorted) {
    const twin = kept.some(
      (other) =>
        Math.hypot(other.x - one.x, other.y - one.y) < 0.25 * Math.sqrt(other.areaPx) &&
        one.areaPx > 0.3 * other.areaPx,
    );
    if (!twin) kept.push(one);
  }
  return kept;
}
