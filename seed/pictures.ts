import sharp from 'sharp';
import { D65_10 } from '../server/calc/colour/reading.ts';
import { srgbFromLab } from '../server/calc/colour/spaces.ts';
import type { Tone } from './cloth.ts';
import { colourOf, type Ground } from './colourWorld.ts';
import { type Chance, chanceOf } from './random.ts';

/* Pictures of cloth that was never woven: tones laid out by smooth noise so that each covers its share of the area, under a
   weave or the strands of a hank. */

const WIDTH = 520;
const HEIGHT = 390;

export type Lay = 'even' | 'patches' | 'graded' | 'speckled';

export const layOf = (method: string): Lay =>
  method === 'dip'
    ? 'graded'
    : method === 'speckle'
      ? 'speckled'
      : method === 'ice' || method === 'lowWater' || method === 'paint'
        ? 'patches'
        : 'even';

/** Smooth noise over the picture: random heights on a grid, joined by a cubic. No closures in the loops over pixels here
 *  and below: a development loader gives each a name as it is made, which costs more than all else. */
function smoothNoise(chance: Chance, cellPx: number): Float32Array {
  const columns = Math.ceil(WIDTH / cellPx) + 2;
  const rows = Math.ceil(HEIGHT / cellPx) + 2;
  const heights = Float32Array.from({ length: columns * rows }, () => chance.next());
  const field = new Float32Array(WIDTH * HEIGHT);
  for (let y = 0; y < HEIGHT; y += 1) {
    const j = Math.floor(y / cellPx);
    const down = y / cellPx - j;
    const v = down * down * (3 - 2 * down);
    for (let x = 0; x < WIDTH; x += 1) {
      const i = Math.floor(x / cellPx);
      const along = x / cellPx - i;
      const u = along * along * (3 - 2 * along);
      const k = j * columns + i;
      const top = (heights[k] as number) * (1 - u) + (heights[k + 1] as number) * u;
      const bottom = (heights[k + columns] as number) * (1 - u) + (heights[k + columns + 1] as number) * u;
      field[y * WIDTH + x] = top * (1 - v) + bottom * v;
    }
  }
  return field;
}

function heightField(lay: Lay, chance: Chance): Float32Array {
  const field = new Float32Array(WIDTH * HEIGHT);
  if (lay === 'even') return field;
  const middle = smoothNoise(chance, 52);
  const small = smoothNoise(chance, 19);
  const grain = smoothNoise(chance, 5);
  const bend = smoothNoise(chance, 160);
  const large = smoothNoise(chance, 120);
  for (let y = 0; y < HEIGHT; y += 1) {
    for (let x = 0; x < WIDTH; x += 1) {
      const at = y * WIDTH + x;
      const [m, s, g] = [middle[at] as number, small[at] as number, grain[at] as number];
      if (lay === 'graded') field[at] = 1 - y / HEIGHT + 0.07 * (m - 0.5) + 0.02 * (g - 0.5);
      else if (lay === 'speckled') field[at] = 0.2 * m + 0.1 * s;
      else {
        const shift = Math.round(70 * ((bend[at] as number) - 0.5));
        const bentX = Math.min(WIDTH - 1, Math.max(0, x + shift));
        const bentY = Math.min(HEIGHT - 1, Math.max(0, y - shift));
        field[at] =
          0.5 * (large[bentY * WIDTH + bentX] as number) +
          0.3 * (middle[y * WIDTH + bentX] as number) +
          0.14 * s +
          0.06 * g;
      }
    }
  }
  if (lay === 'speckled') scatterSpots(field, chance);
  return field;
}

/** Grains of powder on a damp hank: spots that run a little along the strands, deepest in their middle. */
function scatterSpots(field: Float32Array, chance: Chance): void {
  for (let n = 0; n < 1500; n += 1) {
    const [centreX, centreY] = [chance.between(0, WIDTH), chance.between(0, HEIGHT)];
    const wide = 1.5 + 7 * chance.next() ** 3;
    const tall = wide * chance.between(1.2, 2.6);
    const height = chance.between(0.35, 0.75);
    for (let y = Math.max(0, Math.ceil(centreY - tall)); y < Math.min(HEIGHT, centreY + tall); y += 1) {
      for (let x = Math.max(0, Math.ceil(centreX - wide)); x < Math.min(WIDTH, centreX + wide); x += 1) {
        const fall = ((x - centreX) / wide) ** 2 + ((y - centreY) / tall) ** 2;
        if (fall < 1) field[y * WIDTH + x] = (field[y * WIDTH + x] as number) + height * (1 - fall);
      }
    }
  }
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
function threads(isYarn: boolean, chance: Chance): Float32Array {
  const light = smoothNoise(chance, 34);
  const warp = Float32Array.from({ length: WIDTH }, () => 1 + chance.noise(0.035));
  const weft = Float32Array.from({ length: WIDTH }, () => 1 + chance.noise(0.035));
  for (let y = 0; y < HEIGHT; y += 1) {
    const sway = 14 * Math.sin(y / 90);
    for (let x = 0; x < WIDTH; x += 1) {
      const at = y * WIDTH + x;
      const slub = light[at] as number;
      if (isYarn) {
        const strand = x + sway + 6 * slub;
        const twist = Math.sin((strand * 2 * Math.PI) / 11);
        const ply = Math.sin((y + strand * 2.4) / 3.1);
        light[at] = (0.86 + 0.16 * twist + 0.05 * ply) * (weft[Math.floor(Math.abs(strand) / 11)] as number) ** 2;
      } else {
        const over = ((x >> 1) + (y >> 1)) % 2 === 0 ? 1.03 : 0.96;
        light[at] = over * (warp[x >> 1] as number) * (weft[y >> 1] as number) * (0.95 + 0.1 * slub);
      }
    }
  }
  return light;
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
  const soft = input.lay === 'graded' ? 0.075 : input.lay === 'speckled' ? 0.05 : 0.026;
  // Channels apart, by index: taking arrays to pieces at every pixel takes longer than the sums.
  const [reds, greens, blues] = [0, 1, 2].map((channel) => Float64Array.from(tones, (t) => t.light[channel] ?? 0)) as [
    Float64Array,
    Float64Array,
    Float64Array,
  ];
  const pixels = Buffer.alloc(WIDTH * HEIGHT * 3);
  for (let y = 0; y < HEIGHT; y += 1) {
    for (let x = 0; x < WIDTH; x += 1) {
      const at = y * WIDTH + x;
      const h = field[at] ?? 0;
      let r = reds[0] as number;
      let g = greens[0] as number;
      let b = blues[0] as number;
      for (let k = 1; k < reds.length; k += 1) {
        const t = Math.min(1, Math.max(0, (h - (borders[k - 1] as number)) / (2 * soft) + 0.5));
        r += ((reds[k] as number) - r) * t;
        g += ((greens[k] as number) - g) * t;
        b += ((blues[k] as number) - b) * t;
      }
      const light = (shade[at] as number) * (1.02 - 0.06 * (x / WIDTH));
      pixels[at * 3] = ENCODED[Math.min(4096, Math.round(4096 * r * light))] ?? 255;
      pixels[at * 3 + 1] = ENCODED[Math.min(4096, Math.round(4096 * g * light))] ?? 255;
      pixels[at * 3 + 2] = ENCODED[Math.min(4096, Math.round(4096 * b * light))] ?? 255;
    }
  }
  return sharp(pixels, { raw: { width: WIDTH, height: HEIGHT, channels: 3 } })
    .png({ compressionLevel: 1 })
    .toBuffer();
}
