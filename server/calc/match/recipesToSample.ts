import { finiteIn } from '../calcError.ts';
import { colourName, type HueFamily } from '../colour/colourName.ts';
import { JointVariance, type PlannedRecipe } from './jointVariance.ts';
import {
  type ColourModel,
  type KnownPrediction,
  modelSubstrate,
  predictedLab,
  predictResolved,
  type RecipeComponent,
  reachTotalPct,
} from './predict.ts';
import { type AllowedDye, componentsOf, type UsableDye, usableDyes } from './propose.ts';

/* What to dye next so that the recipes that the studio will ask for are known best: a set, chosen one by one, each for how much it
   lowers the expected squared error over those recipes after the ones before it are dyed (an A-optimal design over the model's
   joint variance). Recipes lie anywhere between the depths of the dyes, on no grid.
   Source: D. A. Cohn, Z. Ghahramani & M. I. Jordan, J. Artif. Intell. Res. 4 (1996) 129–145. */

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
  /** Share of the expected squared error over the studio's recipes that is gone once this one and those before it are dyed. */
  gone: number;
}

/** Recipes that could be dyed, and recipes that will be asked for. */
const CANDIDATES = 300;
const ASKED_FOR = 70;
const MOST_TRIES = 3000;
/** How often a recipe of the studio holds one, two or three dyes: guessed. */
const SIZES_ASKED = [0.15, 0.4, 0.45] as const;

/** The recipes that would teach most, in the order in which to dye them; count 1–50. A rule of our own over the model. */
export function recipesToSample(input: LessonInput): RecipeToSample[] {
  const { model } = input;
  finiteIn('count', input.count, { min: 1, max: 50 });
  const substrate = modelSubstrate(model, undefined);
  const dyes = usableDyes(model, input.allowed);
  if (dyes.length === 0) return [];
  const draw = recipeDrawer(input, dyes, substrate);
  const share = (sizes: readonly number[]) => {
    const possible = sizes.slice(0, dyes.length);
    const sum = possible.reduce((total, v) => total + v, 0);
    return possible.map((v) => v / sum);
  };
  const candidates = draw(CANDIDATES, share([0.2, 0.4, 0.4].slice(0, input.maxDyes)));
  const askedFor = draw(ASKED_FOR, share(SIZES_ASKED));
  if (candidates.length === 0) return [];
  const joint = new JointVariance(model, [...candidates, ...askedFor], substrate);
  const goals = askedFor.map(({ dyes: set, depthsPct }, i) => {
    const [, a, b] = predictedLab(model, set, depthsPct, substrate);
    const chroma = (1 + 0.03 * Math.hypot(a, b)) ** -2;
    return { at: candidates.length + i, weights: [1, chroma, chroma] as const };
  });
  const open = () =>
    goals.reduce(
      (sum, { at, weights }) => sum + weights.reduce((s, w, c) => s + w * joint.at(3 * at + c, 3 * at + c), 0),
      0,
    );
  const before = open();
  const chosen: { place: number; gone: number }[] = [];
  while (chosen.length < Math.min(input.count, candidates.length)) {
    let best = -1;
    let most = 0;
    for (let place = 0; place < candidates.length; place += 1) {
      if (chosen.some((one) => one.place === place)) continue;
      const gain = goals.reduce((sum, { at, weights }) => sum + joint.lowered(place, at, weights), 0);
      if (gain > most) {
        most = gain;
        best = place;
      }
    }
    if (best < 0) break;
    joint.dye(best);
    chosen.push({ place: best, gone: 1 - open() / before });
  }
  return chosen.map(({ place, gone }) => {
    const { dyes: set, depthsPct } = candidates[place] as PlannedRecipe;
    return {
      components: componentsOf(model, set, depthsPct),
      prediction: predictResolved(model, set, depthsPct, substrate, true),
      gone,
    };
  });
}

/** Draws recipes: dyes by lot, depths by an additive recurrence in the logarithm, which fills the space without a grid. */
function recipeDrawer(
  { model, families }: LessonInput,
  dyes: readonly UsableDye[],
  substrate: Float64Array,
): (count: number, sizes: readonly number[]) => PlannedRecipe[] {
  const reach = reachTotalPct(model);
  let tries = 0;
  // Fractional parts of multiples of powers of the plastic numbers: M. Roberts, "The unreasonable effectiveness of quasirandom
  // sequences" (2018).
  const part = (dimension: number) => (0.5 + (tries + 1) * PLASTIC ** -(dimension + 1)) % 1;
  return (count, sizes) => {
    const found: PlannedRecipe[] = [];
    const last = tries + MOST_TRIES;
    while (found.length < count && tries < last) {
      tries += 1;
      const wanted = part(0);
      let size = 1;
      for (let sum = sizes[0] ?? 1; size < sizes.length && wanted > sum; size += 1) sum += sizes[size] as number;
      const pool = [...dyes];
      const set = Array.from({ length: size }, (_, i) => pool.splice(Math.floor(part(1 + i) * pool.length), 1)[0]);
      const recipe = set
        .flatMap((dye, i) =>
          dye === undefined
            ? []
            : [{ dye: dye.dye, depth: dye.minDepthPct * (dye.maxDepthPct / dye.minDepthPct) ** part(4 + i) }],
        )
        .sort((one, other) => one.dye - other.dye);
      const planned = { dyes: recipe.map((r) => r.dye), depthsPct: recipe.map((r) => r.depth) };
      if (planned.depthsPct.reduce((sum, d) => sum + d, 0) > reach) continue;
      if (families !== undefined) {
        const [L, a, b] = predictedLab(model, planned.dyes, planned.depthsPct, substrate);
        const { family } = colourName({ lab: { L: Math.min(100, L), a, b }, conditions: model.conditions });
        if (!families.includes(family)) continue;
      }
      found.push(planned);
    }
    return found;
  };
}
/** The root of x⁸ = x + 1: its powers leave seven dimensions evenly filled. */
const PLASTIC = 1.0969815577985598;
