import { D65_10, type Lab } from '../server/calc/colour/reading.ts';
import { labFromSpectrum } from '../server/calc/colour/spectra.ts';
import type { Chance } from './random.ts';

/* The colours of the invented studio. Not the model that the service predicts with: here each dye has a spectrum of its
   own made of smooth bands, the dyes of a bath compete for the places that a fibre has (Langmuir), and cloth sends light
   back partly from its outermost fibres, whose paths are short and spread by a gamma law, partly from its depth (Kubelka
   and Munk's infinitely thick layer). So predictions on the sample studio are a fair test of the predictor. */

const START_NM = 400;
const STEP_NM = 10;
const COUNT = 31;
const WAVELENGTHS_NM = Array.from({ length: COUNT }, (_, i) => START_NM + STEP_NM * i);

/** One smooth band: centre, half widths towards short and long waves (nm, at e^−½), height. */
type Band = readonly [centreNm: number, shortNm: number, longNm: number, height: number];

/** How a dye behaves: what it absorbs, and how eagerly it takes places on a fibre (share of the places at 1 % alone). */
interface Behaviour {
  bands: readonly Band[];
  affinity: number;
  strength: number;
}

const BEHAVIOURS: Readonly<Record<string, Behaviour>> = {
  F11: {
    strength: 8,
    affinity: 0.1,
    bands: [
      [414, 40, 30, 1],
      [392, 30, 40, 0.35],
      [500, 60, 90, 0.012],
    ],
  },
  F15: {
    strength: 8.5,
    affinity: 0.13,
    bands: [
      [434, 60, 40, 1],
      [488, 28, 24, 0.3],
      [560, 60, 70, 0.022],
    ],
  },
  F31: {
    strength: 8.5,
    affinity: 0.12,
    bands: [
      [512, 42, 22, 1],
      [543, 22, 17, 0.82],
      [405, 40, 40, 0.16],
      [620, 40, 60, 0.018],
    ],
  },
  F38: {
    strength: 8,
    affinity: 0.11,
    bands: [
      [530, 32, 18, 0.75],
      [558, 20, 15, 1],
      [365, 40, 50, 0.16],
      [430, 60, 60, 0.05],
    ],
  },
  F52: {
    strength: 7,
    affinity: 0.12,
    bands: [
      [596, 46, 24, 1],
      [640, 26, 22, 0.85],
      [420, 50, 40, 0.07],
    ],
  },
  F58: {
    strength: 6,
    affinity: 0.09,
    bands: [
      [664, 36, 36, 1],
      [616, 28, 26, 0.66],
      [560, 40, 30, 0.1],
      [395, 30, 34, 0.1],
    ],
  },
  F61: {
    strength: 9.5,
    affinity: 0.16,
    bands: [
      [588, 48, 34, 1],
      [650, 34, 34, 0.6],
      [440, 60, 60, 0.16],
    ],
  },
  F90: {
    strength: 9,
    affinity: 0.17,
    bands: [
      [600, 80, 52, 1],
      [465, 70, 70, 0.74],
      [690, 40, 40, 0.6],
    ],
  },
  M12: {
    strength: 15,
    affinity: 0.2,
    bands: [
      [430, 62, 40, 1],
      [480, 40, 36, 0.2],
      [580, 70, 80, 0.035],
    ],
  },
  M24: {
    strength: 16,
    affinity: 0.22,
    bands: [
      [462, 64, 46, 1],
      [530, 34, 34, 0.36],
      [620, 60, 60, 0.04],
    ],
  },
  M33: {
    strength: 16,
    affinity: 0.2,
    bands: [
      [522, 48, 32, 1],
      [420, 50, 60, 0.22],
      [575, 22, 26, 0.42],
    ],
  },
  M54: {
    strength: 14,
    affinity: 0.19,
    bands: [
      [604, 56, 34, 1],
      [655, 30, 32, 0.7],
      [420, 40, 50, 0.15],
    ],
  },
  M72: {
    strength: 15,
    affinity: 0.21,
    bands: [
      [432, 60, 40, 1],
      [640, 52, 52, 0.62],
      [560, 60, 60, 0.26],
    ],
  },
  M92: {
    strength: 17,
    affinity: 0.25,
    bands: [
      [585, 90, 70, 1],
      [450, 80, 70, 0.84],
      [690, 50, 50, 0.72],
    ],
  },
};

/** What a fibre is before any dye, and what it does with light and dye. */
export interface Ground {
  /** Reflectance at 400 and 700 nm of the scoured goods; between them it rises as natural fibre does. */
  low: number;
  high: number;
  /** Share of the light that comes back from the outermost fibres. */
  outer: number;
  /** Light that the surface mirrors before it meets any dye. */
  gloss: number;
  /** Dye that all places of the fibre hold, % of the goods. */
  placesPct: number;
  /** Depth of colour against the same mass of dye on the library cloth. */
  yieldFactor: number;
}

const bandAt = ([centre, short, long, height]: Band, nm: number): number => {
  const width = nm < centre ? short : long;
  return height * Math.exp(-0.5 * ((nm - centre) / width) ** 2);
};

const ABSORPTIONS = new Map<string, Float64Array>();

function absorptionOf(code: string): Float64Array {
  const known = ABSORPTIONS.get(code);
  if (known) return known;
  const behaviour = behaviourOf(code);
  const spectrum = Float64Array.from(WAVELENGTHS_NM, (nm) =>
    behaviour.bands.reduce((sum, band) => sum + bandAt(band, nm), 0),
  );
  ABSORPTIONS.set(code, spectrum);
  return spectrum;
}

function behaviourOf(code: string): Behaviour {
  const behaviour = BEHAVIOURS[code];
  if (!behaviour) throw new Error(`no behaviour is written for dye ${code}`);
  return behaviour;
}

/** Dye on the goods by code, % of their mass, at standard strength. */
export type DyePct = Readonly<Record<string, number>>;

/** Dye that holds after wash-off: each takes its part of the places in proportion to its eagerness and its amount. */
function held(dyePct: DyePct, ground: Ground): [string, number][] {
  const eager = Object.entries(dyePct).map(([code, pct]) => [code, behaviourOf(code).affinity * pct] as const);
  const crowd = 1 + eager.reduce((sum, [, k]) => sum + k, 0) / (ground.placesPct / 10);
  return Object.entries(dyePct).map(([code, pct]) => [code, (ground.yieldFactor * pct) / crowd]);
}

/** Reflectance of the dyed goods, 400–700 nm at every 10 nm. */
export function reflectanceOf(dyePct: DyePct, ground: Ground): Float64Array {
  const onFibre = held(dyePct, ground);
  return Float64Array.from(WAVELENGTHS_NM, (nm, i) => {
    const rise = 1 - Math.exp(-(nm - START_NM) / 90);
    const bare = ground.low + ((ground.high - ground.low) * rise) / (1 - Math.exp(-300 / 90));
    let absorbed = 0;
    for (const [code, pct] of onFibre) absorbed += behaviourOf(code).strength * pct * (absorptionOf(code)[i] ?? 0);
    const outer = bare * (1 + absorbed / 0.9) ** -0.9;
    const ownAbsorption = (1 - bare) ** 2 / (2 * bare);
    const ks = ownAbsorption + absorbed * 0.62;
    const deep = 1 + ks - Math.sqrt(ks * ks + 2 * ks);
    return ground.gloss + (1 - ground.gloss) * (ground.outer * outer + (1 - ground.outer) * deep);
  });
}

/** The colour of dyed goods under D65 for the 10° observer. */
export const colourOf = (dyePct: DyePct, ground: Ground): Lab =>
  labFromSpectrum({
    spectrum: { startNm: START_NM, stepNm: STEP_NM, reflectance: reflectanceOf(dyePct, ground) },
    conditions: D65_10,
  });

/** A reading of it: spread of a hand instrument on cloth, and two decimals. */
export function readColour(lab: Lab, chance: Chance): Lab {
  const read = (value: number, deviation: number): number => Math.round((value + chance.noise(deviation)) * 100) / 100;
  return { L: Math.min(100, Math.max(0, read(lab.L, 0.16))), a: read(lab.a, 0.14), b: read(lab.b, 0.16) };
}
