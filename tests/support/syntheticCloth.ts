import type { Lab } from '../../server/calc/colour/reading.ts';
import { D65_10 } from '../../server/calc/colour/reading.ts';
import { labFromSpectrum, type Spectrum } from '../../server/calc/colour/spectra.ts';
import type { KnownSwatch, RecipeComponent } from '../../server/calc/match/predict.ts';

/* Invented cloth and dyes for tests, made by other rules than the model that is to predict them: transmission of light through
   a stack of fibre plies with diffuse re-reflection (a sum over path lengths, not Kubelka-Munk), absorption bands of skewed
   Gaussians at 5 nm, uptake that saturates and that dyes compete for, surface gloss, and noise of weighing and reading. */

export interface SyntheticDye {
  dyeId: string;
  /** Centre nm, width nm, height at 1 %. */
  bands: readonly (readonly [number, number, number])[];
  /** Depth % at which uptake has fallen to half. */
  halfUptakePct: number;
}

export const SYNTHETIC_DYES: readonly SyntheticDye[] = [
  { dyeId: 'yellow', bands: [[425, 42, 2.4]], halfUptakePct: 6 },
  {
    dyeId: 'golden',
    bands: [
      [450, 48, 1.9],
      [400, 30, 0.8],
    ],
    halfUptakePct: 5,
  },
  {
    dyeId: 'red',
    bands: [
      [520, 36, 2.6],
      [400, 40, 0.5],
    ],
    halfUptakePct: 5,
  },
  {
    dyeId: 'rubine',
    bands: [
      [540, 34, 2.2],
      [500, 30, 1.0],
    ],
    halfUptakePct: 7,
  },
  {
    dyeId: 'blue',
    bands: [
      [620, 44, 2.3],
      [580, 30, 1.1],
    ],
    halfUptakePct: 5,
  },
  {
    dyeId: 'turquoise',
    bands: [
      [670, 34, 2.5],
      [610, 40, 1.2],
      [400, 26, 0.7],
    ],
    halfUptakePct: 4,
  },
  {
    dyeId: 'black',
    bands: [
      [600, 90, 1.9],
      [450, 80, 1.6],
    ],
    halfUptakePct: 9,
  },
];

/** Small seeded generator (mulberry32), so that a test is the same each time. */
export function seededRandom(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
}

const gauss = (random: () => number) => Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());

const undyedR = (nm: number) => 0.84 - 0.1 * Math.exp(-((nm - 380) / 45));

function absorbance(components: readonly RecipeComponent[], nm: number): number {
  const total = components.reduce((sum, c) => sum + c.depthPct, 0);
  let A = 0;
  for (const { dyeId, depthPct } of components) {
    const dye = SYNTHETIC_DYES.find((d) => d.dyeId === dyeId) as SyntheticDye;
    // Dyes compete for the same sites: the whole depth counts against each.
    const taken = depthPct / (1 + (0.6 * depthPct + 0.4 * total) / dye.halfUptakePct);
    for (const [centre, width, height] of dye.bands) {
      const side = nm > centre ? 0.8 : 1.25;
      A += taken * height * Math.exp(-0.5 * ((nm - centre) / (width * side)) ** 2);
    }
    A += taken * 0.02;
  }
  return A;
}

/** Reflectance of the cloth dyed to this recipe, without noise: light leaves after 1, 2, 3… plies with falling shares. */
export function syntheticSpectrum(components: readonly RecipeComponent[]): Spectrum {
  const reflectance: number[] = [];
  for (let nm = 400; nm <= 700; nm += 10) {
    const A = absorbance(components, nm);
    const clear = undyedR(nm);
    // Geometric shares of path length: undyed, the sum is the cloth's own reflectance.
    const stay = clear / (0.35 + 0.65 * clear);
    let R = 0;
    let share = 1;
    for (let ply = 1; ply <= 60; ply += 1) {
      R += share * 0.35 * stay * Math.exp(-0.55 * ply * A);
      share *= 0.65 * stay;
    }
    reflectance.push(0.018 + 0.982 * R);
  }
  return { startNm: 400, stepNm: 10, reflectance };
}

export function syntheticLab(components: readonly RecipeComponent[]): Lab {
  return labFromSpectrum({ spectrum: syntheticSpectrum(components), conditions: D65_10 });
}

export const SYNTHETIC_SUBSTRATE = { lab: syntheticLab([]), spectrum: syntheticSpectrum([]) };

/** A swatch as a studio would hold it: weighed with 2 % error, read with 0.3 units of noise in each of L*, a*, b*. */
export function syntheticSwatch(input: {
  swatchId: string;
  components: readonly RecipeComponent[];
  random: () => number;
  withSpectrum: boolean;
}): KnownSwatch {
  const { random, components } = input;
  const weighed = components.map((c) => ({ dyeId: c.dyeId, depthPct: c.depthPct * (1 + 0.02 * gauss(random)) }));
  const spectrum = syntheticSpectrum(weighed);
  const lab = labFromSpectrum({ spectrum, conditions: D65_10 });
  return {
    swatchId: input.swatchId,
    components,
    lab: { L: lab.L + 0.3 * gauss(random), a: lab.a + 0.3 * gauss(random), b: lab.b + 0.3 * gauss(random) },
    ...(input.withSpectrum ? { spectrum } : {}),
    substrate: input.withSpectrum ? SYNTHETIC_SUBSTRATE : { lab: SYNTHETIC_SUBSTRATE.lab },
  };
}
