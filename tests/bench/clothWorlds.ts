import { D65_10, type Lab } from '../../server/calc/colour/reading.ts';
import { labFromSpectrum, type Spectrum } from '../../server/calc/colour/spectra.ts';
import type { KnownSwatch, RecipeComponent } from '../../server/calc/match/predict.ts';
import { seededRandom } from '../support/syntheticCloth.ts';

/* Invented cloths that a model of dyeing is judged on. Each follows a law of its own; only `single` is the textbook's, and none
   uses any of the product's match code. Dyes are skewed absorption bands; depths are % on weight of goods. What is told to the
   model carries errors of weighing, dyeing and reading; what it is scored against is the same cloth without them, and its
   interval against one more dyeing with them. */

export const LAWS = ['single', 'competition', 'translucent', 'unlevel', 'shift', 'rough'] as const;
export type Law = (typeof LAWS)[number];

/** What each law does that a textbook does not. */
export const LAW_IN_WORDS: Record<Law, string> = {
  single: 'K/S of opaque cloth adds up; uptake levels off dye by dye',
  competition: 'dyes share one number of sites on the fibre',
  translucent: 'a cloth of finite thickness over white, whose dyes scatter',
  unlevel: 'yarn takes dye unevenly, under a glossy surface',
  shift: 'hue shifts as a dye gets deeper, and pairs act on each other',
  rough: 'light is reflected at the surface from outside and from inside',
};

interface WorldDye {
  dyeId: string;
  /** Centre nm, width nm, K/S at 1 %. */
  bands: [number, number, number][];
  /** Depth % at which uptake has fallen to half. */
  halfUptakePct: number;
  scatter: number;
  /** nm by which its bands move for each 1 % taken up. */
  shiftNm: number;
}

export interface ClothWorld {
  law: Law;
  seed: number;
  dyeIds: string[];
  /** Palest and deepest of the ladders. */
  palestPct: number;
  deepestPct: number;
  /** The cloth of this recipe, without errors. */
  exact(components: readonly RecipeComponent[]): Spectrum;
}

const START_NM = 400;
const STEP_NM = 10;
const COUNT = 31;

const gaussian = (random: () => number) => Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
const between = (random: () => number, low: number, high: number) => low + (high - low) * random();
const fromKs = (q: number) => 1 / (1 + q + Math.sqrt(q * q + 2 * q));
const toKs = (r: number) => (1 - r) ** 2 / (2 * r);

/** Main bands of ordinary dyes, nm: yellow, golden, orange, red, rubine, violet, blue, turquoise. */
const MAIN_BANDS = [425, 445, 485, 515, 540, 570, 605, 665];
export const DYES_OF_A_WORLD = MAIN_BANDS.length;

function inventedDyes(random: () => number): WorldDye[] {
  return MAIN_BANDS.map((nm, i) => {
    const strength = between(random, 3, 7);
    const bands: [number, number, number][] = [
      [nm + between(random, -10, 10), between(random, 28, 46), strength],
      [nm - between(random, 35, 60), between(random, 24, 40), strength * between(random, 0.2, 0.5)],
    ];
    // Reds and blues absorb again in the violet; one dye in eight is dull.
    if (nm > 500) bands.push([395, between(random, 20, 40), strength * between(random, 0.05, 0.3)]);
    if (random() < 0.125) bands.push([550, 110, strength * between(random, 0.2, 0.5)]);
    return {
      dyeId: `d${i + 1}`,
      bands,
      halfUptakePct: between(random, 4, 14),
      scatter: between(random, 0, 0.12),
      shiftNm: between(random, -3, 3),
    };
  });
}

const undyed = (nm: number) => 0.86 - 0.12 * Math.exp(-((nm - 380) / 50));

function absorptionOf(dye: WorldDye, nm: number, movedNm: number): number {
  let k = 0.01 * (dye.bands[0]?.[2] ?? 0);
  for (const [centre, width, height] of dye.bands) {
    const off = nm - centre - movedNm;
    k += height * Math.exp(-0.5 * (off / (width * (off > 0 ? 0.8 : 1.2))) ** 2);
  }
  return k;
}

/** Kubelka-Munk reflectance of a layer of finite thickness over a backing, in the hyperbolic form of 1948. */
function finiteCloth(K: number, S: number, backing: number): number {
  const a = 1 + K / S;
  const b = Math.sqrt(Math.max(1e-12, a * a - 1));
  const coth = 1 / Math.tanh(Math.max(1e-6, b * S));
  return (1 - backing * (a - b * coth)) / (a - backing + b * coth);
}

/** Eleven places of a yarn, as multiples of the mean depth: log-normal with σ = 0.45. */
const PLACES = (() => {
  const spread = [-1.69, -1.1, -0.75, -0.47, -0.23, 0, 0.23, 0.47, 0.75, 1.1, 1.69].map((z) => Math.exp(0.45 * z));
  const mean = spread.reduce((sum, v) => sum + v, 0) / spread.length;
  return spread.map((v) => v / mean);
})();

/** A cloth of this law. Equal seeds give equal dyes under every law. */
export function clothWorld({ law, seed }: { law: Law; seed: number }): ClothWorld {
  const random = seededRandom(7919 * seed + 13);
  const dyes = inventedDyes(random);
  const places = new Map(dyes.map((dye, i) => [dye.dyeId, i]));
  const pairEffect = dyes.map(() => dyes.map(() => 0.08 * gaussian(random)));
  const part = (c: RecipeComponent) => ({ at: places.get(String(c.dyeId)) as number, depthPct: c.depthPct });

  const taken = (parts: readonly { at: number; depthPct: number }[]) => {
    const crowd = parts.reduce((sum, p) => sum + p.depthPct / (dyes[p.at] as WorldDye).halfUptakePct, 0);
    return parts.map(({ at, depthPct }) => {
      const own = depthPct / (dyes[at] as WorldDye).halfUptakePct;
      return {
        at,
        e: depthPct / (1 + (law === 'competition' ? 2 * crowd : law === 'rough' ? 0.5 * (own + crowd) : own)),
      };
    });
  };

  const reflectanceAt = (nm: number, uptakes: readonly { at: number; e: number }[], times: number): number => {
    const whole = uptakes.reduce((sum, u) => sum + u.e, 0);
    let K = 0;
    let S = 0;
    for (const { at, e } of uptakes) {
      const dye = dyes[at] as WorldDye;
      const moved = law === 'shift' ? dye.shiftNm * e : 0;
      let pull = 1;
      if (law === 'shift') {
        for (const other of uptakes) {
          if (other.at === at || whole === 0) continue;
          const [low, high] = [Math.min(at, other.at), Math.max(at, other.at)];
          pull += ((pairEffect[low] as number[])[high] as number) * 2 * (Math.sqrt(e * other.e) / whole);
        }
      }
      K += times * e * pull * absorptionOf(dye, nm, moved);
      S += times * e * dye.scatter;
    }
    if (law === 'translucent') {
      const cloth = 3.2 * (1 + 0.25 * ((550 - nm) / 150));
      return finiteCloth(cloth * (toKs(undyed(nm)) + K), cloth * (1 + S), 0.82);
    }
    return fromKs(toKs(undyed(nm)) + K);
  };

  const seen = (nm: number, uptakes: readonly { at: number; e: number }[]): number => {
    if (law === 'unlevel') {
      const mean = PLACES.reduce((sum, times) => sum + reflectanceAt(nm, uptakes, times), 0) / PLACES.length;
      return 0.025 + 0.975 * mean;
    }
    const R = reflectanceAt(nm, uptakes, 1);
    // J. L. Saunderson, J. Opt. Soc. Am. 32 (1942) 727–736.
    return law === 'rough' ? 0.04 + (0.96 * 0.6 * R) / (1 - 0.4 * R) : R;
  };

  return {
    law,
    seed,
    dyeIds: dyes.map((dye) => dye.dyeId),
    palestPct: 0.06,
    deepestPct: 3,
    exact: (components) => {
      const uptakes = taken(components.filter((c) => c.depthPct > 0).map(part));
      return {
        startNm: START_NM,
        stepNm: STEP_NM,
        reflectance: Array.from({ length: COUNT }, (_, i) => seen(START_NM + STEP_NM * i, uptakes)),
      };
    },
  };
}

export const READERS = ['spectra', 'Lab', 'phone'] as const;
export type Reader = (typeof READERS)[number];

const WEIGHING = 0.015;
const DYEING = 0.01;
const PHONE_NOISE = 1.5;

/** One dyeing of a recipe: each dye weighed with an error of 1.5 %, the whole taken up with one of 1 %, and read. */
export function dyed(world: ClothWorld, components: readonly RecipeComponent[], random: () => number): Spectrum {
  const bath = 1 + DYEING * gaussian(random);
  const weighed = components.map((c) => ({ ...c, depthPct: c.depthPct * bath * (1 + WEIGHING * gaussian(random)) }));
  const whole = 1 + 0.002 * gaussian(random);
  const { startNm, stepNm, reflectance } = world.exact(weighed);
  return {
    startNm,
    stepNm,
    reflectance: Array.from(reflectance, (r) => Math.max(1e-4, r * whole + 0.0005 * gaussian(random))),
  };
}

/** The same as a swatch in a studio's library. */
export function dyedSwatch(input: {
  world: ClothWorld;
  swatchId: string;
  components: readonly RecipeComponent[];
  reader: Reader;
  random: () => number;
}): KnownSwatch & { lab: Lab; seen: Spectrum } {
  const { world, reader, random, components, swatchId } = input;
  const seen = dyed(world, components, random);
  const lab = labFromSpectrum({ spectrum: seen, conditions: D65_10 });
  const noise = reader === 'phone' ? PHONE_NOISE : 0.1;
  const bare = world.exact([]);
  const bareLab = labFromSpectrum({ spectrum: bare, conditions: D65_10 });
  return {
    swatchId,
    components,
    lab: {
      L: Math.max(0, lab.L + noise * gaussian(random)),
      a: lab.a + noise * gaussian(random),
      b: lab.b + noise * gaussian(random),
    },
    ...(reader === 'spectra' ? { spectrum: seen } : {}),
    substrate: reader === 'spectra' ? { lab: bareLab, spectrum: bare } : { lab: bareLab },
    seen,
  };
}

/** A recipe of so many dyes, each by itself anywhere between these depths on a logarithmic scale; all together no deeper than
 *  1.3 times the deepest. */
export function anyRecipe(input: {
  world: ClothWorld;
  dyes: number;
  lowPct: number;
  highPct: number;
  random: () => number;
}): RecipeComponent[] {
  const { world, random, lowPct, highPct } = input;
  const pool = [...world.dyeIds];
  const chosen = Array.from(
    { length: input.dyes },
    () => pool.splice(Math.floor(random() * pool.length), 1)[0] as string,
  );
  for (;;) {
    const recipe = chosen.map((dyeId) => ({ dyeId, depthPct: lowPct * (highPct / lowPct) ** random() }));
    if (recipe.reduce((sum, c) => sum + c.depthPct, 0) <= 1.3 * highPct) return recipe;
  }
}
