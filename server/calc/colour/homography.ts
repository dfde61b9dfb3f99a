import { CalcError } from '../calcError.ts';
import { solveInPlace } from './denseSolve.ts';
import type { Point } from './pixelImage.ts';

/** Plane to plane under perspective, nine numbers row by row: (x, y) → ((h0 x + h1 y + h2)/w, (h3 x + h4 y + h5)/w), w = h6 x + h7 y + h8. */
export type Homography = Float64Array;

/** Where a homography carries a point. Definition. */
export function mapPoint(h: Homography, x: number, y: number): Point {
  const w = h[6]! * x + h[7]! * y + h[8]!;
  return { x: (h[0]! * x + h[1]! * y + h[2]!) / w, y: (h[3]! * x + h[4]! * y + h[5]!) / w };
}

/** Centre and mean distance to it, so that the equations stay well conditioned (Hartley, IEEE PAMI 19 (1997) 580–593). */
function normaliser(points: readonly Point[]): { cx: number; cy: number; s: number } {
  let cx = 0;
  let cy = 0;
  for (const p of points) {
    cx += p.x / points.length;
    cy += p.y / points.length;
  }
  let d = 0;
  for (const p of points) d += Math.hypot(p.x - cx, p.y - cy) / points.length;
  if (!(d > 0)) throw new CalcError('outOfRange', 'corners', 'the points lie on one another');
  return { cx, cy, s: Math.SQRT2 / d };
}

/** The homography that carries `from` to `to`: exact for four pairs, least squares for more (direct linear transformation).
 *  Source of the method: Hartley & Zisserman, Multiple View Geometry, 2003, section 4.1 (from memory). */
export function homographyBetween(from: readonly Point[], to: readonly Point[]): Homography {
  if (from.length !== to.length || from.length < 4) {
    throw new CalcError('missing', 'corners', 'at least four pairs of points are needed');
  }
  const nf = normaliser(from);
  const nt = normaliser(to);
  const a = new Float64Array(64);
  const b = new Float64Array(8);
  const row = new Float64Array(8);
  const add = (value: number): void => {
    for (let i = 0; i < 8; i++) {
      const r = row[i]!;
      if (r === 0) continue;
      for (let j = i; j < 8; j++) a[i * 8 + j]! += r * row[j]!;
      b[i]! += r * value;
    }
  };
  for (let i = 0; i < from.length; i++) {
    const x = (from[i]!.x - nf.cx) * nf.s;
    const y = (from[i]!.y - nf.cy) * nf.s;
    const u = (to[i]!.x - nt.cx) * nt.s;
    const v = (to[i]!.y - nt.cy) * nt.s;
    row.fill(0);
    row[0] = x;
    row[1] = y;
    row[2] = 1;
    row[6] = -u * x;
    row[7] = -u * y;
    add(u);
    row.fill(0);
    row[3] = x;
    row[4] = y;
    row[5] = 1;
    row[6] = -v * x;
    row[7] = -v * y;
    add(v);
  }
  for (let i = 1; i < 8; i++) for (let j = 0; j < i; j++) a[i * 8 + j] = a[j * 8 + i]!;
  const s = solveInPlace(a, b, 8, 1);
  // to⁻¹ · [s 1] · from, written out.
  const n = new Float64Array([nf.s, 0, -nf.s * nf.cx, 0, nf.s, -nf.s * nf.cy, 0, 0, 1]);
  const m = new Float64Array([1 / nt.s, 0, nt.cx, 0, 1 / nt.s, nt.cy, 0, 0, 1]);
  return product(m, product(new Float64Array([s[0]!, s[1]!, s[2]!, s[3]!, s[4]!, s[5]!, s[6]!, s[7]!, 1]), n));
}

/** The same, undefined where the points do not tell one: on one another, or on a line. Source of the method: as homographyBetween. */
export function homographyIfAny(from: readonly Point[], to: readonly Point[]): Homography | undefined {
  try {
    return homographyBetween(from, to);
  } catch {
    return undefined;
  }
}

function product(p: Float64Array, q: Float64Array): Float64Array {
  const out = new Float64Array(9);
  for (let i = 0; i < 3; i++) {
    for (let j = 0; j < 3; j++) {
      out[i * 3 + j] = p[i * 3]! * q[j]! + p[i * 3 + 1]! * q[3 + j]! + p[i * 3 + 2]! * q[6 + j]!;
    }
  }
  return out;
}

/** The homography that carries back. Definition. */
export function inverseHomography(h: Homography): Homography {
  const [a, b, c, d, e, f, g, i, j] = h as unknown as [
    number,
    number,
    number,
    number,
    number,
    number,
    number,
    number,
    number,
  ];
  const det = a * (e * j - f * i) - b * (d * j - f * g) + c * (d * i - e * g);
  if (!(Math.abs(det) > 0)) throw new CalcError('outOfRange', 'corners', 'the corners lie on one line');
  return Float64Array.from(
    [
      e * j - f * i,
      c * i - b * j,
      b * f - c * e,
      f * g - d * j,
      a * j - c * g,
      c * d - a * f,
      d * i - e * g,
      b * g - a * i,
      a * e - b * d,
    ],
    (v) => v / det,
  );
}

/** Whether the four points, in order, go round a convex figure the right-hand way (clockwise on the screen, as y points down).
 *  Definition: the sign of the cross products of the sides. */
export function turnOfCorners(corners: readonly Point[]): 'clockwise' | 'anticlockwise' | 'crossed' {
  let right = 0;
  for (let i = 0; i < 4; i++) {
    const p = corners[i]!;
    const q = corners[(i + 1) % 4]!;
    const r = corners[(i + 2) % 4]!;
    const cross = (q.x - p.x) * (r.y - q.y) - (q.y - p.y) * (r.x - q.x);
    if (cross > 0) right++;
    else if (cross < 0) right--;
  }
  return right === 4 ? 'clockwise' : right === -4 ? 'anticlockwise' : 'crossed';
}
