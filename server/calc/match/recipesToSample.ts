import { finiteIn } from '../calcError.ts';
import { colourName, type HueFamily } from '../colour/colourName.ts';
import {
  type ColourModel,
  type KnownPrediction,
  modelSubstrate,
  predictedLab,
  predictResolved,
  type RecipeComponent,
  reachTotalPct,
} from './predict.ts';
import { type AllowedDye, componentsOf, usableDyes } from './propose.ts';

/* What to dye next so that the model learns most: of recipes spread over the dyes at hand, those whose colour it is least sure
   of (the width of the 90 % interval stands for what a dyeing would teach), one for each set of dyes. */

export interface LessonInput {
  model: ColourModel;
  allowed: readonly AllowedDye[];
  maxDyes: 1 | 2 | 3;
  /** Only recipes that are predicted to come out in these families; all when left out. */
  families?: readonly HueFamily[];
  count: number;
}

export interface RecipeToSample {
  components: RecipeComponent[];
  prediction: KnownPrediction;
}

/** Recipes whose interval is reckoned: each costs a pass over all the swatches. */
const MOST_ASKED = 240;
/** Blends by parts: halves, and one to three either way. */
const PAIRS = [
  [0.5, 0.5],
  [0.25, 0.75],
  [0.75, 0.25],
] as const;
const THIRDS = [[1 / 3, 1 / 3, 1 / 3]] as const;

/** The recipes that would teach most, most first; count 1–50. */
export function recipesToSample(input: LessonInput): RecipeToSample[] {
  const { model, families } = input;
  finiteIn('count', input.count, { min: 1, max: 50 });
  const substrate = modelSubstrate(model, undefined);
  const reach = reachTotalPct(model);
  const dyes = usableDyes(model, input.allowed);
  const candidates: { dyes: number[]; depthsPct: number[] }[] = [];
  const add = (chosen: readonly (typeof dyes)[number][], shares: readonly number[], level: number): void => {
    // Between the palest and the deepest that each dye may have, in the same step of the ladder for all.
    const depthsPct = chosen.map(
      ({ minDepthPct, maxDepthPct }, j) => minDepthPct * (maxDepthPct / minDepthPct) ** level * (shares[j] as number),
    );
    const fits = depthsPct.every((d, j) => d >= (chosen[j] as (typeof dyes)[number]).minDepthPct);
    if (!fits || depthsPct.reduce((sum, d) => sum + d, 0) > reach) return;
    const order = chosen.map((_, j) => j).sort((x, y) => (chosen[x]?.dye ?? 0) - (chosen[y]?.dye ?? 0));
    candidates.push({
      dyes: order.map((j) => chosen[j]?.dye as number),
      depthsPct: order.map((j) => depthsPct[j] as number),
    });
  };
  for (const [i, one] of dyes.entries()) {
    for (const level of [0.35, 0.6, 0.85]) add([one], [1], level);
    for (const [j, other] of dyes.entries()) {
      if (input.maxDyes < 2 || j <= i) continue;
      for (const shares of PAIRS) for (const level of [0.6, 0.85]) add([one, other], shares, level);
      for (const third of dyes.slice(j + 1)) {
        if (input.maxDyes < 3) break;
        for (const shares of THIRDS) add([one, other, third], shares, 0.8);
      }
    }
  }
  const wanted = candidates.filter((c) => {
    if (families === undefined) return true;
    const [L, a, b] = predictedLab(model, c.dyes, c.depthsPct, substrate);
    return families.includes(colourName({ lab: { L: Math.min(100, L), a, b }, conditions: model.conditions }).family);
  });
  const step = Math.max(1, wanted.length / MOST_ASKED);
  const asked = Array.from({ length: Math.min(wanted.length, MOST_ASKED) }, (_, i) => Math.floor(i * step));
  const sets = new Set<string>();
  return asked
    .map((i) => wanted[i] as (typeof wanted)[number])
    .map((c) => ({ ...c, prediction: predictResolved(model, c.dyes, c.depthsPct, substrate, false) }))
    .sort((x, y) => y.prediction.deltaE90 - x.prediction.deltaE90)
    .filter(({ dyes: set }) => {
      const key = set.join('+');
      if (sets.has(key)) return false;
      sets.add(key);
      return true;
    })
    .slice(0, input.count)
    .map(({ dyes: set, depthsPct }) => ({
      components: componentsOf(model, set, depthsPct),
      prediction: predictResolved(model, set, depthsPct, substrate, true),
    }));
}
