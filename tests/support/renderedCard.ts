import { converter } from 'culori';
import sharp from 'sharp';
import type { PixelImage, Point } from '../../server/calc/colour/pixelImage.ts';

/* Photographs that a test renders itself: a flat table with a sheet of paper, a card and goods, seen by a pinhole camera.
   Geometry by rays in space and colours by culori, so that neither rests on the code under test. */

export type LabTriple = readonly [number, number, number];

export interface Scene {
  widthPx: number;
  heightPx: number;
  columns: number;
  rows: number;
  labs: readonly LabTriple[];
  /** Step from patch to patch at the middle of the card, in pixels. */
  stepPx: number;
  /** Middle of the card in the image, share of width and height. */
  middle?: readonly [number, number];
  /** Turn in the plane of the table, clockwise on the screen. */
  turnDeg?: number;
  /** Slant of the camera: about the horizontal and about the vertical axis. */
  tiltDeg?: number;
  swingDeg?: number;
  /** Share of a step that a patch fills; the rest is frame. */
  patchShare?: number;
  frame?: 'black' | 'white';
  table?: 'rough' | 'plain';
  paper?: boolean;
  /** Goods lying beside the card: rectangles in steps from the middle of the card. */
  goods?: readonly { x: number; y: number; width: number; height: number; lab: LabTriple }[];
  /** Light per channel. */
  cast?: LabTriple;
  exposure?: number;
  /** Light lost in the corners of the image, share. */
  vignette?: number;
  /** Light gained per step to the right of the card, share. */
  slope?: number;
  /** Standard deviation in 8-bit units. */
  noise?: number;
  blurPx?: number;
  /** A shine over one place of the card, in steps from its middle. */
  glare?: { x: number; y: number; radius: number; strength: number };
  /** Phones saturate and bend: 0 is a camera without fault. */
  phone?: number;
  /** Colour of what lies in place of the card's patches; for scenes without a card. */
  withoutCard?: boolean;
  seed?: number;
}

const toLinear = converter('lrgb');

export function linearOf([l, a, b]: LabTriple): [number, number, number] {
  const c = toLinear({ mode: 'lab', l, a, b });
  return [c.r, c.g, c.b];
}

/* Encoded value of linear light 0–1 (IEC 61966-2-1), tabled: a photo asks for it a million times. Straight between two
   entries it is off by less than 1e-6. */
const ENCODED_STEPS = 65_536;
const ENCODED = Float64Array.from({ length: ENCODED_STEPS + 1 }, (_, i) => {
  const v = i / ENCODED_STEPS;
  return v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055;
});

/** Small repeatable noise (mulberry32). */
function randomFrom(seed: number): () => number {
  let s = seed >>> 0;
  return () => {
    s = (s + 0x6d2b79f5) >>> 0;
    let t = s;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

/** Roughness of a place on the table, the same each time. */
function rough(x: number, y: number): number {
  let h = (Math.imul(Math.floor(x), 374761393) + Math.imul(Math.floor(y), 668265263)) | 0;
  h = Math.imul(h ^ (h >>> 13), 1274126177);
  return ((h ^ (h >>> 16)) >>> 0) / 4294967296;
}

type V3 = readonly [number, number, number];
const cross = (a: V3, b: V3): V3 => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
const dot = (a: V3, b: V3): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];

export interface Rendered {
  image: PixelImage;
  /** True centres of the corner patches, in the card's own order. */
  corners: [Point, Point, Point, Point];
  /** Where a place on the table, in steps from the middle of the card, lies in the image. */
  at(x: number, y: number): Point;
}

export function render(scene: Scene): Rendered {
  const { widthPx: w, heightPx: h, columns, rows, labs, stepPx } = scene;
  const rad = Math.PI / 180;
  const [turn, tilt, swing] = [(scene.turnDeg ?? 0) * rad, (scene.tiltDeg ?? 0) * rad, (scene.swingDeg ?? 0) * rad];
  const f = 1.1 * Math.max(w, h);
  // Card axes in camera space: turned in its plane, then slanted about x and y.
  const slant = ([x, y, z]: V3): V3 => {
    const y1 = y * Math.cos(tilt) - z * Math.sin(tilt);
    const z1 = y * Math.sin(tilt) + z * Math.cos(tilt);
    return [x * Math.cos(swing) + z1 * Math.sin(swing), y1, z1 * Math.cos(swing) - x * Math.sin(swing)];
  };
  const right = slant([Math.cos(turn), Math.sin(turn), 0]);
  const down = slant([-Math.sin(turn), Math.cos(turn), 0]);
  const normal = cross(right, down);
  const depth = f / stepPx;
  const [mx, my] = scene.middle ?? [0.5, 0.5];
  const origin: V3 = [((mx - 0.5) * w * depth) / f, ((my - 0.5) * h * depth) / f, depth];
  const at = (x: number, y: number): Point => {
    const p = [0, 1, 2].map((i) => origin[i]! + x * right[i]! + y * down[i]!) as unknown as V3;
    return { x: w / 2 - 0.5 + (f * p[0]) / p[2], y: h / 2 - 0.5 + (f * p[1]) / p[2] };
  };
  const patchShare = scene.patchShare ?? 0.88;
  // No light is less than none: colours outside the camera's space are cut off here.
  const lightOf = (lab: LabTriple): V3 => linearOf(lab).map((v) => Math.max(0, v)) as unknown as V3;
  const frame = lightOf(scene.frame === 'white' ? [92, 0, 1] : [16, 0, 0]);
  const patches = labs.map(lightOf);
  const goods = (scene.goods ?? []).map((g) => ({ ...g, light: lightOf(g.lab) }));
  const paper = lightOf([93, 0.5, -1]);
  const wood = lightOf([48, 6, 16]);
  const roughWood: [number, number, number] = [0, 0, 0];
  const colourAt = (x: number, y: number): V3 => {
    if (!scene.withoutCard) {
      const cx = x + (columns - 1) / 2;
      const cy = y + (rows - 1) / 2;
      const column = Math.round(cx);
      const row = Math.round(cy);
      if (column >= 0 && column < columns && row >= 0 && row < rows) {
        const inside = Math.abs(cx - column) < patchShare / 2 && Math.abs(cy - row) < patchShare / 2;
        return inside ? patches[row * columns + column]! : frame;
      }
      if (Math.abs(x) < columns / 2 + 0.25 && Math.abs(y) < rows / 2 + 0.3) return frame;
    }
    for (const g of goods) {
      if (Math.abs(x - g.x) < g.width / 2 && Math.abs(y - g.y) < g.height / 2) return g.light;
    }
    if (scene.paper !== false && Math.abs(x) < columns * 0.9 && Math.abs(y) < rows * 1.2) return paper;
    if (scene.table === 'plain') return wood;
    const k = 0.6 + 0.8 * rough(x * 9, y * 9);
    for (let c = 0; c < 3; c++) roughWood[c] = wood[c]! * k;
    return roughWood;
  };
  const cast = scene.cast ?? [1, 1, 1];
  const exposure = scene.exposure ?? 0.9;
  const phone = scene.phone ?? 0;
  const slope = scene.slope ?? 0;
  const vignette = scene.vignette ?? 0;
  const out = new Float64Array(w * h * 3);
  const g = scene.glare;
  // The ray (sx − w/2, sy − h/2, f) meets the table at towards / (ray · normal) of its length; its place there, in steps from
  // the middle of the card, is what that point lies along the card's two axes.
  const towards = dot(origin, normal);
  const alongRight = dot(origin, right);
  const alongDown = dot(origin, down);
  let hitX = 0;
  let hitY = 0;
  const hit = (sx: number, sy: number): void => {
    const rx = sx - w / 2;
    const ry = sy - h / 2;
    const t = towards / (rx * normal[0] + ry * normal[1] + f * normal[2]);
    hitX = t * (rx * right[0] + ry * right[1] + f * right[2]) - alongRight;
    hitY = t * (rx * down[0] + ry * down[1] + f * down[2]) - alongDown;
  };
  const sum = [0, 0, 0];
  for (let py = 0; py < h; py++) {
    for (let px = 0; px < w; px++) {
      sum.fill(0);
      for (let i = 0; i < 4; i++) {
        hit(px + 0.25 + 0.5 * (i & 1), py + 0.25 + 0.25 * (i & 2));
        const colour = colourAt(hitX, hitY);
        for (let c = 0; c < 3; c++) sum[c]! += colour[c]!;
      }
      hit(px + 0.5, py + 0.5);
      const fall = ((px / w - 0.5) ** 2 + (py / h - 0.5) ** 2) * 2;
      const light = exposure * (1 + slope * hitX) * (1 - vignette * fall);
      const shine =
        g === undefined ? 0 : g.strength * Math.exp(-(((hitX - g.x) ** 2 + (hitY - g.y) ** 2) / g.radius ** 2) * 2);
      for (let c = 0; c < 3; c++) sum[c] = (sum[c]! / 4) * Math.max(0, light * cast[c]!) + shine;
      const grey = (sum[0]! + sum[1]! + sum[2]!) / 3;
      for (let c = 0; c < 3; c++) {
        // More saturation in linear light, then a gentle S on the encoded value, as phones do to please.
        const v = Math.min(1, Math.max(0, grey + (sum[c]! - grey) * (1 + 0.25 * phone)));
        const place = Math.min(ENCODED_STEPS - 1, Math.floor(v * ENCODED_STEPS));
        const low = ENCODED[place]!;
        const e = low + (ENCODED[place + 1]! - low) * (v * ENCODED_STEPS - place);
        out[(py * w + px) * 3 + c] = 255 * (e + 0.35 * phone * e * (1 - e) * (e - 0.35));
      }
    }
  }
  const soft = scene.blurPx === undefined ? out : boxBlur(out, w, h, scene.blurPx);
  const random = randomFrom(scene.seed ?? 1);
  const noise = scene.noise ?? 0;
  const data = new Uint8Array(soft.length);
  for (let i = 0; i < soft.length; i++) {
    const n = noise === 0 ? 0 : noise * (random() + random() + random() + random() - 2) * Math.sqrt(3);
    data[i] = Math.round(Math.min(255, Math.max(0, soft[i]! + n)));
  }
  const hx = (columns - 1) / 2;
  const hy = (rows - 1) / 2;
  return {
    image: { data, width: w, height: h, channels: 3 },
    corners: [at(-hx, -hy), at(hx, -hy), at(hx, hy), at(-hx, hy)],
    at,
  };
}

/** Mean over 2 · radius + 1 pixels along rows and columns, twice; a running sum each way. */
function boxBlur(from: Float64Array, w: number, h: number, radius: number): Float64Array {
  let now = from;
  for (let round = 0; round < 2; round++) {
    now = boxAlong(now, h, w, 3 * w, 3, radius);
    now = boxAlong(now, w, h, 3, 3 * w, radius);
  }
  return now;
}

function boxAlong(
  from: Float64Array,
  lines: number,
  length: number,
  lineStride: number,
  stride: number,
  radius: number,
): Float64Array {
  const next = new Float64Array(from.length);
  for (let line = 0; line < lines; line++) {
    for (let c = 0; c < 3; c++) {
      const start = line * lineStride + c;
      const at = (i: number): number => from[start + Math.min(length - 1, Math.max(0, i)) * stride]!;
      let sum = 0;
      for (let i = -radius; i <= radius; i++) sum += at(i);
      for (let i = 0; i < length; i++) {
        next[start + i * stride] = sum / (2 * radius + 1);
        sum += at(i + radius + 1) - at(i - radius);
      }
    }
  }
  return next;
}

/** Largest distance of the four corners from the true ones, as a share of a step. */
export function cornersOff(corners: readonly Point[], truth: readonly Point[], columns: number): number {
  const step = Math.hypot(truth[1]!.x - truth[0]!.x, truth[1]!.y - truth[0]!.y) / (columns - 1);
  return Math.max(...corners.map((p, i) => Math.hypot(p.x - truth[i]!.x, p.y - truth[i]!.y))) / step;
}

/** As a phone sends it. */
export const jpegOf = ({ image: { data, width, height } }: Pick<Rendered, 'image'>): Promise<Buffer> =>
  sharp(Buffer.from(data), { raw: { width, height, channels: 3 } })
    .jpeg({ quality: 92 })
    .toBuffer();
