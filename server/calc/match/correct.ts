import { finiteIn } from '../calcError.ts';
import { deltaE2000 } from '../colour/deltaE.ts';
import { demandLab, type Lab } from '../colour/reading.ts';
import {
  type ColourModel,
  modelSubstrate,
  type NoIdea,
  predictedLab,
  predictResolved,
  type RecipeComponent,
  resolveRecipe,
  type SubstrateReading,
} from './predict.ts';
import {
  type AllowedDye,
  componentsOf,
  distinct,
  type FoundRecipe,
  NO_OFFSET,
  PRICE_OF_DYE,
  RecipeSearch,
  usableDyes,
} from './propose.ts';

/* Bringing an off-shade lot nearer by adding dye: what is in the goods cannot be taken out. First the colour that came out is
   read as depths: weak dye, bad uptake or a slip of the scale look like less (or more) of the recipe's own dyes. What no such
   depths explain (water, goods, another dye) is taken to stay with the lot. Additions start from there. */

export interface Correction {
  additions: RecipeComponent[];
  /** Colour to expect after it. */
  lab: Lab;
  deltaE2000: number;
  /** Nine of ten times within this CIEDE2000 of `lab`; as wide as for the same recipe dyed afresh, which errs on the safe side. */
  deltaE90: number;
}

export interface CorrectionAdvice {
  known: true;
  deltaE2000Now: number;
  /** `leave`: within tolerance as it is · `add`: an addition brings it within · `nearer`: additions help but do not reach ·
   *  `cannot`: no addition helps; strip, or overdye darker. */
  verdict: 'leave' | 'add' | 'nearer' | 'cannot';
  /** The target is lighter or cleaner than the goods, which no dye can bring about. */
  targetLighter: boolean;
  /** What the goods seem to hold, from their colour. */
  seeming: RecipeComponent[];
  /** Nearest first, with a price on each dye added and twice that on one that is not in the goods yet. */
  corrections: Correction[];
}

/** Additions for a lot that came out as `actual` instead of `target`. `maxDepthPct` of an allowed dye is for what is in the
 *  goods and the addition together. `toleranceDeltaE2000` > 0 decides the verdict. A rule of our own over the model. */
export function proposeCorrections(input: {
  model: ColourModel;
  applied: readonly RecipeComponent[];
  actual: Lab;
  target: Lab;
  toleranceDeltaE2000: number;
  allowed: readonly AllowedDye[];
  maxDyes: 1 | 2 | 3;
  count: number;
  substrate?: SubstrateReading;
}): CorrectionAdvice | NoIdea {
  const { model, actual, target } = input;
  demandLab('actual', actual);
  demandLab('target', target);
  const tolerance = finiteIn('toleranceDeltaE2000', input.toleranceDeltaE2000, { min: 0, exclusiveMin: true });
  finiteIn('count', input.count, { min: 1, max: 50 });
  const base = resolveRecipe(model, input.applied);
  if ('known' in base) return base;
  const substrate = modelSubstrate(model, input.substrate);
  const seeming = seemingRecipe(model, base, actual, substrate);
  const expected = predictedLab(model, seeming.dyes, seeming.depthsPct, substrate);
  const offset = [actual.L - expected[0], actual.a - expected[1], actual.b - expected[2]] as const;
  const deltaE2000Now = deltaE2000({ standard: target, sample: actual });
  const search = new RecipeSearch({ model, target, substrate, base: seeming, offset });
  const price = ({ deltaE, added }: FoundRecipe) =>
    deltaE + added.reduce((sum, dye) => sum + PRICE_OF_DYE * (base.dyes.includes(dye) ? 1 : 2), 0);
  const found = search
    .run(usableDyes(model, input.allowed), input.maxDyes)
    .filter(({ deltaE }) => deltaE < deltaE2000Now)
    .sort((one, other) => price(one) - price(other))
    .map((one) => ({ one, dyes: one.added, depthsPct: one.depthsPct, deltaE: one.deltaE }));
  const corrections = distinct(found, input.count)
    .map(({ one }) => one)
    .map(({ dyes, depthsPct, added, deltaE }): Correction => {
      const prediction = predictResolved(model, dyes, depthsPct, substrate, false);
      const inGoods = (dye: number) => {
        const j = seeming.dyes.indexOf(dye);
        return j < 0 ? 0 : (seeming.depthsPct[j] as number);
      };
      return {
        additions: componentsOf(
          model,
          added,
          added.map((dye) => (depthsPct[dyes.indexOf(dye)] as number) - inGoods(dye)),
        ),
        lab: {
          L: prediction.lab.L + offset[0],
          a: prediction.lab.a + offset[1],
          b: prediction.lab.b + offset[2],
        },
        deltaE2000: deltaE,
        deltaE90: prediction.deltaE90,
      };
    });
  const best = corrections[0];
  const verdict =
    deltaE2000Now <= tolerance
      ? 'leave'
      : best === undefined || best.deltaE2000 > 0.7 * deltaE2000Now
        ? 'cannot'
        : best.deltaE2000 <= tolerance
          ? 'add'
          : 'nearer';
  return {
    known: true,
    deltaE2000Now,
    verdict,
    targetLighter: target.L > actual.L + 0.5,
    seeming: componentsOf(model, seeming.dyes, seeming.depthsPct),
    corrections,
  };
}

function seemingRecipe(
  model: ColourModel,
  base: { dyes: number[]; depthsPct: number[] },
  actual: Lab,
  substrate: Float64Array,
): { dyes: number[]; depthsPct: number[] } {
  if (base.dyes.length === 0) return base;
  const none = { dyes: [], depthsPct: [] };
  const search = new RecipeSearch({ model, target: actual, substrate, base: none, offset: NO_OFFSET });
  const set = base.dyes.map((dye, j) => ({
    dye,
    minDepthPct: (base.depthsPct[j] as number) / 3,
    maxDepthPct: (base.depthsPct[j] as number) * 3,
  }));
  return { dyes: base.dyes, depthsPct: search.seemingDepths(set, Float64Array.from(base.depthsPct)) };
}
