import sharp from 'sharp';
import { D65_10 } from '../server/calc/colour/reading.ts';
import { srgbFromLab } from '../server/calc/colour/spaces.ts';
import type { Tone } from './cloth.ts';
import { colourOf, type Ground } from './colourWorld.ts';
import { type Chance, chanceOf } from './random.ts';

/* Pictures of cloth that was never woven: tones laid out by smooth noise so that each covers its share of the area, under a
   weave or the strands of a hank. */

const WIDTH = 640;
const HEIGHT = 480;

export type Lay = 'even' | 'patches' | 'graded' | 'speckled';

export const layOf = (method: string): Lay =>
  method === 'dip'
    ? 'graded'
    : method === 'speckle'
      ? 'speckled'
      : method === 'ice' || method === 'lowWater' || method === 'paint'
        ? 'patches'
        : 'even';

/** Smooth noise over the picture: random heights on a grid, joined by a cubic. */
function smoothNoise(chance: Chance, cellPx: number): (x: number, y: number) => number {
  const columns = Math.ceil(WIDTH / cellPx) + 3;
  const rows = Math.ceil(HEIGHT / cellPx) + 3;
  const heights = Float32Array.from({ length: columns * rows }, () => chance.next());
  const eased = (t: number): number => t * t * (3 - 2 * t);
  return (x, y) => {
    const gx = Math.min(Math.max(x / cellPx, 0), columns - 2.001);
    const gy = Math.min(Math.max(y / cellPx, 0), rows - 2.001);
    const i = Math.floor(gx);
    const j = Math.floor(gy);
    const u = eased(gx - i);
    const v = eased(gy - j);
    const at = (di: number, dj: number): number => heights[(j + dj) * columns + i + di] ?? 0;
    return (at(0, 0) * (1 - u) + at(1, 0) * u) * (1 - v) + (at(0, 1) * (1 - u) + at(1, 1) * u) * v;
  };
}

function heightField(lay: Lay, chance: Chance): Float32Array {
  const field = new Float32Array(WIDTH * HEIGHT);
  const [bend, large, middle, small, grain] = [160, 120, 52, 19, 5].map((cell) => smoothNoise(chance, cell));
  if (!bend || !large || !middle || !small || !grain) return field;
  for (let y = 0; y < HEIGHT; y += 1) {
    for (let x = 0; x < WIDTH; x += 1) {
      const warp = 70 * (bend(x, y) - 0.5);
      const patch =
        0.5 * large(x + warp, y - warp) + 0.3 * middle(x - warp, y + warp) + 0.14 * small(x, y) + 0.06 * grain(x, y);
      field[y * WIDTH + x] =
        lay === 'graded'
          ? 1 - y / HEIGHT + 0.07 * (middle(x, y * 0.3) - 0.5) + 0.02 * (grain(x, y) - 0.5)
          : lay === 'speckled'
            ? 0.3 * middle(x, y) + 0.5 * small(x, y) + 0.5 * grain(x, y)
            : patch;
    }
  }
  return field;
}

/** Linear light of a tone. */
function lightOf(tone: Tone, ground: Ground): [number, number, number] {
  const { hex } = srgbFromLab({ lab: colourOf(tone.dyePct, ground), conditions: D65_10 });
  const channel = (at: number): number => {
    const v = Number.parseInt(hex.slice(at, at + 2), 16) / 255;
    return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
  };
  return [channel(1), channel(3), channel(5)];
}

const ENCODED = Uint8Array.from({ length: 4097 }, (_, i) => {
  const v = i / 4096;
  return Math.round(255 * (v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055));
});

/** Light and shade of threads: warp and weft of cloth, strands of a hank. */
function threads(isYarn: boolean, chance: Chance): (x: number, y: number) => number {
  const slub = smoothNoise(chance, 34);
  const warp = Float32Array.from({ length: WIDTH }, () => 1 + chance.noise(0.035));
  const weft = Float32Array.from({ length: WIDTH + HEIGHT }, () => 1 + chance.noise(0.035));
  if (isYarn) {
    return (x, y) => {
      const strand = x + 14 * Math.sin(y / 90) + 6 * slub(x, y);
      const twist = Math.sin((strand * 2 * Math.PI) / 11);
      const ply = Math.sin((y + strand * 2.4) / 3.1);
      return (0.86 + 0.16 * twist + 0.05 * ply) * (weft[Math.floor(Math.abs(strand) / 11)] ?? 1) ** 2;
    };
  }
  return (x, y) => {
    const over = ((x >> 1) + (y >> 1)) % 2 === 0 ? 1.03 : 0.96;
    return over * (warp[x >> 1] ?? 1) * (weft[y >> 1] ?? 1) * (0.95 + 0.1 * slub(x, y));
  };
}

/** One picture, as PNG. */
export async function picture(input: {
  name: string;
  tones: readonly Tone[];
  ground: Ground;
  lay: Lay;
  isYarn: boolean;
}): Promise<Buffer> {
  const chance = chanceOf(`picture ${input.name}`);
  const tones = input.tones
    .map((tone) => ({ tone, light: lightOf(tone, input.ground) }))
    .sort((a, b) => b.light[1] - a.light[1]);
  const field = heightField(input.lay, chance);
  const shade = threads(input.isYarn, chance);
  const total = tones.reduce((sum, t) => sum + t.tone.share, 0);
  // Heights at which one tone gives way to the next, so that each has its area.
  const sorted = field.slice().sort();
  let share = 0;
  const borders = tones.map(({ tone }) => {
    share += tone.share / total;
    return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? 1;
  });
  const soft = input.lay === 'graded' ? 0.075 : input.lay === 'speckled' ? 0.018 : 0.026;
  const pixels = Buffer.alloc(WIDTH * HEIGHT * 3);
  for (let y = 0; y < HEIGHT; y += 1) {
    for (let x = 0; x < WIDTH; x += 1) {
      const at = y * WIDTH + x;
      const h = field[at] ?? 0;
      let [r, g, b] = tones[0]?.light ?? [0, 0, 0];
      for (let k = 1; k < tones.length; k += 1) {
        const t = Math.min(1, Math.max(0, (h - (borders[k - 1] ?? 1)) / (2 * soft) + 0.5));
        const next = tones[k]?.light ?? [0, 0, 0];
        r += (next[0] - r) * t;
        g += (next[1] - g) * t;
        b += (next[2] - b) * t;
      }
      const light = shade(x, y) * (1.02 - 0.06 * (x / WIDTH));
      pixels[at * 3] = ENCODED[Math.min(4096, Math.round(4096 * r * light))] ?? 255;
      pixels[at * 3 + 1] = ENCODED[Math.min(4096, Math.round(4096 * g * light))] ?? 255;
      pixels[at * 3 + 2] = ENCODED[Math.min(4096, Math.round(4096 * b * light))] ?? 255;
    }
  }
  return sharp(pixels, { raw: { width: WIDTH, height: HEIGHT, channels: 3 } })
    .png({ compressionLevel: 1 })
    .toBuffer();
}
