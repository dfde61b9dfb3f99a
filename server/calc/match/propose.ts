import { CalcError, finiteIn } from '../calcError.ts';
import { deltaE2000, deltaE2000Of } from '../colour/deltaE.ts';
import { demandLab, type Lab } from '../colour/reading.ts';
import { labFromSpectrum, type Spectrum } from '../colour/spectra.ts';
import type { MemberOptics } from './kubelkaMunk.ts';
import {
  type ColourModel,
  type DyeId,
  type DyeKnowledge,
  type KnownPrediction,
  lightOf,
  MAX_DYES,
  modelOptics,
  modelSubstrate,
  predictedLab,
  predictResolved,
  type RecipeComponent,
  reachPct,
  reachTotalPct,
  type SubstrateReading,
} from './predict.ts';

/* Recipes for a colour: every set of up to three of the allowed dyes, and the best of these with a fourth, is fitted to the
   target by damped Gauss-Newton in the logarithm of the depths (so that none is negative), by theory alone; the best of each
   size are then corrected by the full prediction, and ranked with a price on every dye more. */

export interface AllowedDye {
  dyeId: DyeId;
  /** Least depth worth weighing, > 0. */
  minDepthPct: number;
  /** Most that the dye or its stock allows; what the swatches reach limits it further. */
  maxDepthPct: number;
}

export interface Proposal {
  components: RecipeComponent[];
  prediction: KnownPrediction;
  deltaE2000: number;
  /** Colour under illuminant A. */
  labUnderA: Lab;
  /** Nine of ten times within this CIEDE2000 of it. */
  deltaE90UnderA: number;
  /** How far goods and target part under A; known only where the target has a spectrum. */
  deltaE2000UnderA?: number;
}

export interface ProposeInput {
  model: ColourModel;
  target: Lab;
  /** The target's curve, where an instrument read one. */
  targetSpectrum?: Spectrum;
  allowed: readonly AllowedDye[];
  maxDyes: 1 | 2 | 3 | 4;
  /** How many proposals to return at most. */
  count: number;
  substrate?: SubstrateReading;
}

/** ΔE that a further dye has to earn. */
export const PRICE_OF_DYE = 0.5;
/** Share of the 90 % radius that counts against a recipe. */
const PRICE_OF_DOUBT = 0.1;
const KEPT_PER_SIZE = 14;
const FOURTH_DYE_TO = 16;

/** Several distinct recipes for a target colour, best first; empty when none of the allowed dyes is known well enough.
 *  A rule of our own over the model. */
export function proposeRecipes(input: ProposeInput): Proposal[] {
  const { model, target } = input;
  demandLab('target', target);
  finiteIn('count', input.count, { min: 1, max: 50 });
  const substrate = modelSubstrate(model, input.substrate);
  const search = new RecipeSearch({ model, target, substrate, base: { dyes: [], depthsPct: [] }, offset: NO_OFFSET });
  const found = search.run(usableDyes(model, input.allowed), input.maxDyes);
  const price = ({ deltaE, dyes }: Ranked) => deltaE + PRICE_OF_DYE * dyes.length;
  // How sure a recipe is costs a pass over all the swatches: asked of the likely ones alone.
  const likely = distinct(
    found.sort((a, b) => price(a) - price(b)),
    2 * input.count,
  );
  const ranked = likely
    .map((recipe) => {
      const prediction = predictResolved(model, recipe.dyes, recipe.depthsPct, substrate, true);
      return { ...recipe, prediction, score: price(recipe) + PRICE_OF_DOUBT * prediction.deltaE90 };
    })
    .sort((a, b) => a.score - b.score)
    .slice(0, input.count);
  const underA = { illuminant: 'A', observerDeg: model.conditions.observerDeg } as const;
  const targetUnderA = input.targetSpectrum && labFromSpectrum({ spectrum: input.targetSpectrum, conditions: underA });
  const lamp = lightOf(model, underA);
  return ranked.map(({ dyes, depthsPct, prediction }) => {
    const { lab: labUnderA, deltaE90: deltaE90UnderA } = predictResolved(
      model,
      dyes,
      depthsPct,
      substrate,
      false,
      lamp,
    );
    return {
      components: componentsOf(model, dyes, depthsPct),
      prediction,
      deltaE2000: deltaE2000({ standard: target, sample: prediction.lab }),
      labUnderA,
      deltaE90UnderA,
      ...(targetUnderA === undefined
        ? {}
        : { deltaE2000UnderA: deltaE2000({ standard: targetUnderA, sample: labUnderA }) }),
    };
  });
}

/** The dyes of a recipe that are used, with their depths. A rule of our own. */
export function componentsOf(
  model: ColourModel,
  dyes: readonly number[],
  depthsPct: readonly number[],
): RecipeComponent[] {
  return dyes.map((dye, j) => ({ dyeId: (model.dyes[dye] as DyeKnowledge).dyeId, depthPct: depthsPct[j] as number }));
}

export interface UsableDye {
  dye: number;
  minDepthPct: number;
  maxDepthPct: number;
}

/** Allowed dyes that the model knows, with the depths that it reaches. A rule of our own over the model. */
export function usableDyes(model: ColourModel, allowed: readonly AllowedDye[]): UsableDye[] {
  const seen = new Set<DyeId>();
  return allowed.flatMap(({ dyeId, minDepthPct, maxDepthPct }) => {
    finiteIn('minDepthPct', minDepthPct, { min: 0, exclusiveMin: true });
    finiteIn('maxDepthPct', maxDepthPct, { min: 0 });
    if (seen.has(dyeId)) throw new CalcError('mismatch', 'allowed', 'a dye is allowed twice');
    seen.add(dyeId);
    const dye = model.dyes.findIndex((known) => known.dyeId === dyeId);
    if (dye < 0) return [];
    const reach = Math.min(maxDepthPct, reachPct(model, dye));
    return reach > minDepthPct ? [{ dye, minDepthPct, maxDepthPct: reach }] : [];
  });
}

interface Ranked {
  dyes: number[];
  depthsPct: number[];
  deltaE: number;
}

/** Drops a recipe whose dyes hold all those of a better one without coming nearer by what the dyes more cost.
 *  A rule of our own over the model. */
export function distinct<T extends Ranked>(ranked: readonly T[], count: number): T[] {
  const kept: T[] = [];
  for (const one of ranked) {
    const idle = kept.some(
      (other) => other.dyes.every((dye) => one.dyes.includes(dye)) && one.deltaE > other.deltaE - PRICE_OF_DYE,
    );
    if (!idle) kept.push(one);
    if (kept.length === count) break;
  }
  return kept;
}

export const NO_OFFSET: readonly [number, number, number] = [0, 0, 0];

export interface FoundRecipe {
  /** All dyes of the recipe, base included, rising. */
  dyes: number[];
  depthsPct: number[];
  /** Those that were searched for. */
  added: number[];
  deltaE: number;
}

/** One target on one substrate, over what is already on the goods. `offset` is added to every prediction: what the goods in
 *  hand are off the prediction of their own recipe. */
export class RecipeSearch {
  readonly #model: ColourModel;
  readonly #target: Lab;
  readonly #substrate: Float64Array;
  readonly #base: { dyes: readonly number[]; depthsPct: readonly number[] };
  readonly #offset: readonly [number, number, number];
  readonly #optics: MemberOptics;
  readonly #weights: readonly [number, number, number, number, number];

  constructor(input: {
    model: ColourModel;
    target: Lab;
    substrate: Float64Array;
    base: { dyes: readonly number[]; depthsPct: readonly number[] };
    offset: readonly [number, number, number];
  }) {
    this.#model = input.model;
    this.#target = input.target;
    this.#substrate = input.substrate;
    this.#base = input.base;
    this.#offset = input.offset;
    this.#optics = modelOptics(input.model)[0] as MemberOptics;
    // Lightness, chroma and hue weigh about as in CIEDE2000 at the target.
    const { L, a, b } = input.target;
    const C = Math.hypot(a, b);
    const cos = C < 1e-6 ? 1 : a / C;
    const sin = C < 1e-6 ? 0 : b / C;
    const x = L - 50;
    this.#weights = [
      1 / (1 + (0.015 * x * x) / Math.sqrt(20 + x * x)),
      1 / (1 + 0.045 * C),
      1 / (1 + 0.015 * C),
      cos,
      sin,
    ];
  }

  run(usable: readonly UsableDye[], maxDyes: number): FoundRecipe[] {
    const room = MAX_DYES - this.#base.dyes.length;
    const bySize: { set: UsableDye[]; depths: Float64Array; cost: number }[][] = [];
    for (let size = 1; size <= Math.min(maxDyes, usable.length, Math.max(room, 1)); size += 1) {
      const sets = size <= 3 ? combinations(usable, size) : this.#withOneMore(bySize[size - 2] ?? [], usable);
      const fitted = sets.map((set) => this.#fit(set, NO_OFFSET, undefined)).sort((a, b) => a.cost - b.cost);
      bySize.push(fitted);
    }
    return bySize
      .flatMap((fitted) => fitted.slice(0, KEPT_PER_SIZE))
      .map(({ set, depths }) => this.#refine(set, depths))
      .filter(({ depthsPct }) => depthsPct.reduce((sum, d) => sum + d, 0) <= reachTotalPct(this.#model))
      .sort((a, b) => a.deltaE - b.deltaE);
  }

  /** Depths, near those of the set, that the target colour speaks for: what goods of that colour seem to have taken up. Each
   *  is held by a spring to where it starts, as strong against a change of 30 % as one CIEDE2000. */
  seemingDepths(set: UsableDye[], start: Float64Array): number[] {
    const { dyes, depthsPct } = this.#whole(set, start);
    const full = predictedLab(this.#model, dyes, depthsPct, this.#substrate);
    const theory = this.#theory(dyes, depthsPct);
    const aside = [full[0] - theory[0], full[1] - theory[1], full[2] - theory[2]] as const;
    return [...this.#fit(set, aside, start, 1 / 0.3 ** 2).depths];
  }

  #withOneMore(best: readonly { set: UsableDye[] }[], usable: readonly UsableDye[]): UsableDye[][] {
    const sets = new Map<string, UsableDye[]>();
    for (const { set } of best.slice(0, FOURTH_DYE_TO)) {
      for (const one of usable) {
        if (set.includes(one)) continue;
        const more = [...set, one].sort((a, b) => a.dye - b.dye);
        sets.set(more.map(({ dye }) => dye).join('+'), more);
      }
    }
    return [...sets.values()];
  }

  /** Full prediction against theory: aims theory off by their difference, three times, and keeps the best. */
  #refine(set: UsableDye[], start: Float64Array): FoundRecipe {
    let depths = start;
    let best: FoundRecipe | undefined;
    for (let pass = 0; pass < 4; pass += 1) {
      const { dyes, depthsPct } = this.#whole(set, depths);
      const full = predictedLab(this.#model, dyes, depthsPct, this.#substrate);
      const L = full[0] + this.#offset[0];
      const a = full[1] + this.#offset[1];
      const b = full[2] + this.#offset[2];
      const deltaE = deltaE2000Of(this.#target.L, this.#target.a, this.#target.b, L, a, b);
      if (best === undefined || deltaE < best.deltaE) {
        best = { dyes, depthsPct, added: set.map(({ dye }) => dye), deltaE };
      }
      if (deltaE < 0.05 || pass === 3) break;
      const theory = this.#theory(dyes, depthsPct);
      depths = this.#fit(set, [L - theory[0], a - theory[1], b - theory[2]], depths).depths;
    }
    return best as FoundRecipe;
  }

  #whole(set: readonly UsableDye[], depths: Float64Array): { dyes: number[]; depthsPct: number[] } {
    const all = new Map<number, number>(this.#base.dyes.map((dye, j) => [dye, this.#base.depthsPct[j] as number]));
    for (const [j, { dye }] of set.entries()) all.set(dye, (all.get(dye) ?? 0) + (depths[j] as number));
    const sorted = [...all].sort((a, b) => a[0] - b[0]);
    return { dyes: sorted.map(([dye]) => dye), depthsPct: sorted.map(([, depth]) => depth) };
  }

  #theory(dyes: readonly number[], depthsPct: readonly number[]): Float64Array & { 0: number; 1: number; 2: number } {
    const amounts = new Float64Array(dyes.length);
    const lab = new Float64Array(3);
    this.#optics.amounts(dyes, depthsPct, amounts);
    this.#optics.colour(dyes, amounts, this.#substrate, lab);
    return lab as Float64Array & { 0: number; 1: number; 2: number };
  }

  /** Depths of the set, over the base, whose theory plus `aside` comes nearest to the target. */
  #fit(
    set: UsableDye[],
    aside: readonly [number, number, number],
    start: Float64Array | undefined,
    spring = 0,
  ): { set: UsableDye[]; depths: Float64Array; cost: number } {
    const size = set.length;
    // Base dyes that the set does not touch come after it.
    const still = this.#base.dyes.map((dye, j) => ({ dye, depth: this.#base.depthsPct[j] as number }));
    const dyes = set.map(({ dye }) => dye);
    const under = set.map(({ dye }) => still.find((s) => s.dye === dye)?.depth ?? 0);
    for (const { dye } of still) if (!dyes.includes(dye)) dyes.push(dye);
    const count = dyes.length;
    const whole = new Float64Array(count);
    for (let j = size; j < count; j += 1) whole[j] = still.find((s) => s.dye === dyes[j])?.depth ?? 0;

    const low = set.map(({ minDepthPct }) => Math.log(minDepthPct));
    const high = set.map(({ maxDepthPct }, j) => Math.log(Math.max(maxDepthPct - (under[j] as number), 1e-9)));
    const t = Float64Array.from(set, ({ minDepthPct, maxDepthPct }, j) => {
      const first = start?.[j] ?? Math.sqrt(minDepthPct * maxDepthPct);
      return Math.max(low[j] as number, Math.min(high[j] as number, Math.log(first)));
    });
    const home = t.slice();
    const amounts = new Float64Array(count);
    const amountSlopes = new Float64Array(count * count);
    const lab = new Float64Array(3);
    const slopes = new Float64Array(3 * count);
    const J = new Float64Array(3 * size);
    const [wL, wC, wH, cos, sin] = this.#weights;
    const residual = new Float64Array(3);

    const evaluate = (at: Float64Array, withSlopes: boolean): number => {
      for (let j = 0; j < size; j += 1) whole[j] = (under[j] as number) + Math.exp(at[j] as number);
      if (withSlopes) this.#optics.amountSlopes(dyes, whole, amounts, amountSlopes);
      else this.#optics.amounts(dyes, whole, amounts);
      this.#optics.colour(dyes, amounts, this.#substrate, lab, withSlopes ? slopes : undefined);
      const dL = (lab[0] as number) + aside[0] - this.#target.L;
      const da = (lab[1] as number) + aside[1] - this.#target.a;
      const db = (lab[2] as number) + aside[2] - this.#target.b;
      residual[0] = wL * dL;
      residual[1] = wC * (cos * da + sin * db);
      residual[2] = wH * (cos * db - sin * da);
      if (withSlopes) {
        for (let j = 0; j < size; j += 1) {
          let L = 0;
          let a = 0;
          let b = 0;
          for (let i = 0; i < count; i += 1) {
            const by = amountSlopes[i * count + j] as number;
            L += by * (slopes[i] as number);
            a += by * (slopes[count + i] as number);
            b += by * (slopes[2 * count + i] as number);
          }
          const added = Math.exp(at[j] as number);
          J[j] = wL * L * added;
          J[size + j] = wC * (cos * a + sin * b) * added;
          J[2 * size + j] = wH * (cos * b - sin * a) * added;
        }
      }
      let held = 0;
      if (spring > 0) for (let j = 0; j < size; j += 1) held += spring * ((at[j] as number) - (home[j] as number)) ** 2;
      return held + (residual[0] as number) ** 2 + (residual[1] as number) ** 2 + (residual[2] as number) ** 2;
    };

    let damping = 1e-2;
    let cost = evaluate(t, true);
    const trial = new Float64Array(size);
    for (let step = 0; step < 14 && cost > 1e-4; step += 1) {
      const move = boundedStep({ J, residual, t, low, high, damping, spring, home });
      for (let j = 0; j < size; j += 1) {
        const moved = (t[j] as number) - Math.max(-1.2, Math.min(1.2, move[j] as number));
        trial[j] = Math.max(low[j] as number, Math.min(high[j] as number, moved));
      }
      const trialCost = evaluate(trial, false);
      if (trialCost < cost) {
        const gain = (cost - trialCost) / cost;
        t.set(trial);
        damping = Math.max(1e-5, damping / 5);
        cost = evaluate(t, true);
        if (gain < 1e-3) break;
      } else {
        damping *= 8;
        if (damping > 1e4) break;
        evaluate(t, true);
      }
    }
    return { set, depths: t.map((v) => Math.exp(v)), cost };
  }
}

/** Damped Gauss-Newton step; depths at a bound that would move beyond it are held. */
function boundedStep(input: {
  J: Float64Array;
  residual: Float64Array;
  t: Float64Array;
  low: readonly number[];
  high: readonly number[];
  damping: number;
  spring: number;
  home: Float64Array;
}): Float64Array {
  const { J, residual, t, low, high, damping, spring, home } = input;
  const size = t.length;
  const A: number[][] = [];
  const g: number[] = [];
  const free: number[] = [];
  for (let j = 0; j < size; j += 1) {
    let gradient = spring * ((t[j] as number) - (home[j] as number));
    for (let r = 0; r < 3; r += 1) gradient += (J[r * size + j] as number) * (residual[r] as number);
    const stuckLow = (t[j] as number) <= (low[j] as number) + 1e-12 && gradient > 0;
    const stuckHigh = (t[j] as number) >= (high[j] as number) - 1e-12 && gradient < 0;
    if (stuckLow || stuckHigh) continue;
    free.push(j);
    g.push(gradient);
  }
  for (const i of free) {
    A.push(
      free.map((j) => {
        let sum = 0;
        for (let r = 0; r < 3; r += 1) sum += (J[r * size + i] as number) * (J[r * size + j] as number);
        return i === j ? (sum + spring) * (1 + damping) + damping * 1e-2 + 1e-9 : sum;
      }),
    );
  }
  // Gaussian elimination; the matrix is positive definite and at most 4 × 4.
  const n = free.length;
  for (let i = 0; i < n; i += 1) {
    const row = A[i] as number[];
    for (let k = i + 1; k < n; k += 1) {
      const other = A[k] as number[];
      const factor = (other[i] as number) / (row[i] as number);
      for (let c = i; c < n; c += 1) other[c] = (other[c] as number) - factor * (row[c] as number);
      g[k] = (g[k] as number) - factor * (g[i] as number);
    }
  }
  const out = new Float64Array(size);
  for (let i = n - 1; i >= 0; i -= 1) {
    const row = A[i] as number[];
    let sum = g[i] as number;
    for (let c = i + 1; c < n; c += 1) sum -= (row[c] as number) * (out[free[c] as number] as number);
    out[free[i] as number] = sum / (row[i] as number);
  }
  return out;
}

function combinations<T>(items: readonly T[], size: number): T[][] {
  if (size === 0) return [[]];
  return items.flatMap((item, i) => combinations(items.slice(i + 1), size - 1).map((rest) => [item, ...rest]));
}
