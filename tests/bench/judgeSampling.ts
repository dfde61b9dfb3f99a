import { deltaE2000 } from '../../server/calc/colour/deltaE.ts';
import { D65_10 } from '../../server/calc/colour/reading.ts';
import { labFromSpectrum } from '../../server/calc/colour/spectra.ts';
import { learnModel } from '../../server/calc/match/learn.ts';
import { type ColourModel, predictColour, type RecipeComponent } from '../../server/calc/match/predict.ts';
import { recipesToSample } from '../../server/calc/match/recipesToSample.ts';
import { seededRandom } from '../support/syntheticCloth.ts';
import { anyRecipe, type ClothWorld, clothWorld, dyed, dyedSwatch, type Law } from './clothWorlds.ts';
import { quantile } from './runningService.ts';

/* Whether "what to sample next" beats chance: a studio with eleven swatches dyes 24 more in four rounds of six, as it is advised;
   beside it the same studio with 24 recipes by lot, and with 24 that fill the space of recipes evenly. Then all are asked for
   recipes of three dyes that were never dyed. */

const ROUNDS = 4;
const EACH_ROUND = 6;
const DYES = 5;
const ASKED = 60;

type Dyer = (components: readonly RecipeComponent[]) => ReturnType<typeof dyedSwatch>;

const mean = (list: readonly number[]) => list.reduce((sum, v) => sum + v, 0) / list.length;

const narrow = (world: ClothWorld): ClothWorld => ({
  ...world,
  dyeIds: [0, 2, 4, 6, 7].map((i) => world.dyeIds[i] as string).slice(0, DYES),
});

/** Two depths of each dye and one blend. */
const begun = (world: ClothWorld, dye: Dyer) => [
  ...world.dyeIds.flatMap((dyeId) => [0.3, 2].map((depthPct) => dye([{ dyeId, depthPct }]))),
  dye([
    { dyeId: world.dyeIds[0] as string, depthPct: 0.7 },
    { dyeId: world.dyeIds[2] as string, depthPct: 0.7 },
  ]),
];

const byLot = (world: ClothWorld, random: () => number) => (count: number) =>
  Array.from({ length: count }, (_, i) =>
    anyRecipe({ world, dyes: 1 + (i % 3), lowPct: world.palestPct, highPct: world.deepestPct, random }),
  );

/** Of many recipes by lot, each next the one furthest from all before it, in ln(1 + depth/palest) of every dye. */
function spaceFilling(world: ClothWorld, known: readonly (readonly RecipeComponent[])[], random: () => number) {
  const place = (recipe: readonly RecipeComponent[]) =>
    world.dyeIds.map((dyeId) => Math.log1p((recipe.find((c) => c.dyeId === dyeId)?.depthPct ?? 0) / world.palestPct));
  const far = (one: readonly number[], other: readonly number[]) =>
    Math.hypot(...one.map((v, i) => v - (other[i] as number)));
  const pool = byLot(world, random)(600).map((recipe) => ({ recipe, at: place(recipe) }));
  const taken = known.map(place);
  return Array.from({ length: ROUNDS * EACH_ROUND }, () => {
    const best = pool.reduce((one, other) =>
      Math.min(...taken.map((t) => far(t, other.at))) > Math.min(...taken.map((t) => far(t, one.at))) ? other : one,
    );
    taken.push(best.at);
    return best.recipe;
  });
}

function scored(world: ClothWorld, model: ColourModel, seed: number): { median: number; coverage: number } {
  const random = seededRandom(31 * seed + 5);
  const errors: number[] = [];
  let held = 0;
  for (let i = 0; i < ASKED; i += 1) {
    const components = anyRecipe({ world, dyes: 3, lowPct: world.palestPct, highPct: world.deepestPct, random });
    const seen = (spectrum: ReturnType<typeof dyed>) => labFromSpectrum({ spectrum, conditions: D65_10 });
    const again = seen(dyed(world, components, random));
    const answer = predictColour({ model, components });
    if (!answer.known) continue;
    errors.push(deltaE2000({ standard: seen(world.exact(components)), sample: answer.lab }));
    if (deltaE2000({ standard: again, sample: answer.lab }) <= answer.deltaE90) held += 1;
  }
  return { median: quantile(errors, 0.5), coverage: held / errors.length };
}

const learned = (swatches: readonly ReturnType<Dyer>[]) => learnModel({ swatches, conditions: D65_10 });

function trialOf(law: Law, seed: number, lots: number) {
  const world = narrow(clothWorld({ law, seed }));
  const dyer = (random: () => number): Dyer => {
    let n = 0;
    return (components) => {
      n += 1;
      return dyedSwatch({ world, swatchId: `s${n}`, components, reader: 'spectra', random });
    };
  };
  const start = () => {
    const dye = dyer(seededRandom(17 * seed + 3));
    return { dye, swatches: begun(world, dye) };
  };
  const allowed = world.dyeIds.map((dyeId) => ({ dyeId, minDepthPct: world.palestPct, maxDepthPct: world.deepestPct }));
  const ours = start();
  for (let round = 0; round < ROUNDS; round += 1) {
    const advised = recipesToSample({ model: learned(ours.swatches), allowed, maxDyes: 3, count: EACH_ROUND });
    ours.swatches.push(...advised.map(({ components }) => ours.dye(components)));
  }
  const after = (recipes: readonly (readonly RecipeComponent[])[]) => {
    const { dye, swatches } = start();
    return scored(world, learned([...swatches, ...recipes.map(dye)]), seed);
  };
  const chance = Array.from({ length: lots }, (_, i) =>
    after(byLot(world, seededRandom(1009 * seed + 7 * i + 1))(ROUNDS * EACH_ROUND)),
  );
  const known = start().swatches.map((s) => s.components);
  return {
    before: scored(world, learned(start().swatches), seed),
    ours: scored(world, learned(ours.swatches), seed),
    filling: after(spaceFilling(world, known, seededRandom(211 * seed + 9))),
    chance: { median: mean(chance.map((c) => c.median)), coverage: mean(chance.map((c) => c.coverage)) },
  };
}

/** Prints the table; `lots` random designs a world. */
export function judgeSampling(input: { laws: readonly Law[]; seeds: readonly number[]; lots: number }): void {
  const say = (text: string) => console.log(text);
  say(
    `\nWhat to sample next: 11 swatches of ${DYES} dyes, then ${ROUNDS} rounds of ${EACH_ROUND}; three dyes never dyed`,
  );
  say(
    `Median CIEDE2000 (re-dyeings within ±), mean over seeds ${input.seeds.join(', ')}; ${input.lots} designs by lot each.`,
  );
  say(`${'law'.padEnd(14)} ${['before', 'as advised', 'space-filling', 'by lot'].map((h) => h.padEnd(16)).join('')}`);
  const cell = (list: readonly { median: number; coverage: number }[]) =>
    `${mean(list.map((one) => one.median)).toFixed(2)} (${(100 * mean(list.map((one) => one.coverage))).toFixed(0)} %)`.padEnd(
      16,
    );
  for (const law of input.laws) {
    const found = input.seeds.map((seed) => trialOf(law, seed, input.lots));
    say(
      `${law.padEnd(14)} ${cell(found.map((f) => f.before))}${cell(found.map((f) => f.ours))}${cell(found.map((f) => f.filling))}${cell(found.map((f) => f.chance))}`,
    );
  }
}
