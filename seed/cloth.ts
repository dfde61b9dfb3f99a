import { largestRemainder } from '../server/calc/rounding.ts';
import type { ReadingInput } from '../server/readings/schemas.ts';
import { colourOf, type DyePct, type Ground, readColour } from './colourWorld.ts';
import type { Chance } from './random.ts';

/** One tone of a piece and the part of its area. */
export interface Tone {
  dyePct: DyePct;
  share: number;
}

const scaled = (dyePct: DyePct, factor: number): DyePct =>
  Object.fromEntries(Object.entries(dyePct).map(([code, pct]) => [code, pct * factor]));

/** Dyes of a blend part on their way through ice and dry goods: each takes a part of its own of every patch. */
const parted = (dyePct: DyePct, factor: number, spread: number, chance: Chance): DyePct =>
  Object.fromEntries(
    Object.entries(dyePct).map(([code, pct]) => [code, pct * factor * Math.exp(chance.noise(spread))]),
  );

/** The tones that a method makes of the dye of its colours: one of even goods, several of the others. */
export function tonesOf(method: string, colours: readonly { dyePct: DyePct; share: number }[], chance: Chance): Tone[] {
  const patchwork = (depths: readonly (readonly [factor: number, share: number])[], spread: number): Tone[] =>
    colours.flatMap(({ dyePct, share }) =>
      depths.map(([factor, part]) => ({
        dyePct: parted(dyePct, factor * Math.exp(chance.noise(0.1)), spread, chance),
        share: share * part * chance.between(0.8, 1.2),
      })),
    );
  switch (method) {
    case 'ice':
      return patchwork(
        colours.length > 1
          ? [
              [1.3, 0.36],
              [0.62, 0.4],
              [0.1, 0.24],
            ]
          : [
              [1.55, 0.24],
              [0.95, 0.31],
              [0.5, 0.24],
              [0.2, 0.14],
              [0.03, 0.07],
            ],
        0.42,
      );
    case 'lowWater':
      return patchwork(
        [
          [1.12, 0.42],
          [0.74, 0.38],
          [0.45, 0.2],
        ],
        0.12,
      );
    case 'speckle':
      return patchwork(
        [
          [0.06, 0.56],
          [0.8, 0.27],
          [2.6, 0.17],
        ],
        0.3,
      );
    case 'dip':
      return colours.flatMap(({ dyePct, share }) =>
        [1.25, 0.78, 0.4, 0.15, 0.02].map((factor) => ({ dyePct: scaled(dyePct, factor), share: share * 0.2 })),
      );
    case 'paint':
      return colours.flatMap(({ dyePct, share }) => [
        { dyePct: scaled(dyePct, 0.86), share: share * 0.8 },
        { dyePct: scaled(dyePct, 0.34), share: share * 0.2 },
      ]);
    default:
      return colours.map(({ dyePct, share }) => ({ dyePct, share }));
  }
}

/** What a bath does that nobody planned: the same for all its dyes, and a little for each. */
export const asItCameOut = (dyePct: DyePct, chance: Chance, bath = 0.022): DyePct => {
  const all = Math.exp(chance.noise(bath));
  return Object.fromEntries(
    Object.entries(dyePct).map(([code, pct]) => [code, pct * all * Math.exp(chance.noise(0.012))]),
  );
};

/** The readings of a piece: one a tone, with its share of the area where there are several. */
export function readingsOf(tones: readonly Tone[], ground: Ground, chance: Chance): ReadingInput[] {
  const shares =
    tones.length > 1
      ? largestRemainder({ weights: tones.map((t) => t.share), total: 1_000_000, field: 'share' })
      : [null];
  return tones.map((tone, i) => {
    const { L, a, b } = readColour(colourOf(tone.dyePct, ground), chance);
    return {
      colour: { l: L, a, b, illuminant: 'D65', observer: '10' },
      source: 'invented',
      asTyped: '',
      areaSharePpm: shares[i] ?? null,
      uncertaintyMilli: 300,
      note: '',
    };
  });
}
