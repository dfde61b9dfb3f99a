import { inverse, Matrix } from 'ml-matrix';
import { describe, expect, test } from 'vitest';
import { deltaE2000 } from '../../../server/calc/colour/deltaE.ts';
import { type Conditions, D65_10 } from '../../../server/calc/colour/reading.ts';
import { adaptLab } from '../../../server/calc/colour/spaces.ts';
import { labFromSpectrum } from '../../../server/calc/colour/spectra.ts';
import { learnModel, modelWith } from '../../../server/calc/match/learn.ts';
import { choleskyInPlace, inverseOf } from '../../../server/calc/match/linear.ts';
import { type KnownPrediction, predictColour, type RecipeComponent } from '../../../server/calc/match/predict.ts';
import { recipesToSample } from '../../../server/calc/match/recipesToSample.ts';
import {
  BlockHoldOut,
  learnedWith,
  type RecipePoint,
  residualMean,
  residualVariance,
  residualWith,
} from '../../../server/calc/match/residual.ts';
import { anyRecipe, type ClothWorld, clothWorld, dyed, dyedSwatch, LAWS } from '../../bench/clothWorlds.ts';
import { seededRandom } from '../../support/syntheticCloth.ts';

const UNDER_A: Conditions = { illuminant: 'A', observerDeg: 10 };
const DEPTHS = [0.06, 0.15, 0.4, 0.9, 1.8, 3];
const median = (list: readonly number[]) => [...list].sort((a, b) => a - b)[list.length >> 1] as number;
const mean = (list: readonly number[]) => list.reduce((sum, v) => sum + v, 0) / list.length;

function fourDyes(law: (typeof LAWS)[number], seed: number): ClothWorld {
  const world = clothWorld({ law, seed });
  return { ...world, dyeIds: [0, 3, 6, 7].map((i) => world.dyeIds[i] as string) };
}

const ladders = (world: ClothWorld, random: () => number) =>
  world.dyeIds.flatMap((dyeId) =>
    DEPTHS.map((depthPct) =>
      dyedSwatch({
        world,
        swatchId: `${dyeId} ${depthPct}`,
        components: [{ dyeId, depthPct }],
        reader: 'spectra',
        random,
      }),
    ),
  );

const predicted = (model: ReturnType<typeof learnModel>, components: readonly RecipeComponent[], under?: Conditions) =>
  predictColour({ model, components, ...(under ? { under } : {}) }) as KnownPrediction;

describe('from ladders of single dyes on cloths of six laws', () => {
  const worlds = LAWS.map((law) => {
    const world = fourDyes(law, 11);
    const random = seededRandom(21);
    const swatches = ladders(world, random);
    return { world, random, swatches, model: learnModel({ swatches, conditions: D65_10 }) };
  });
  const askedPairs = ({ world, random }: (typeof worlds)[number]) =>
    Array.from({ length: 30 }, () => anyRecipe({ world, dyes: 2, lowPct: 0.06, highPct: 3, random }));
  const exact = (world: ClothWorld, components: readonly RecipeComponent[], conditions: Conditions) =>
    labFromSpectrum({ spectrum: world.exact(components), conditions });

  test('pairs come out within ΔE 1.2 in the middle of the laws, and re-dyeings within the ±', () => {
    const found = worlds.map((one) => {
      const errors: number[] = [];
      let held = 0;
      for (const components of askedPairs(one)) {
        const answer = predicted(one.model, components);
        errors.push(deltaE2000({ standard: exact(one.world, components, D65_10), sample: answer.lab }));
        const again = labFromSpectrum({ spectrum: dyed(one.world, components, one.random), conditions: D65_10 });
        if (deltaE2000({ standard: again, sample: answer.lab }) <= answer.deltaE90) held += 1;
      }
      return { median: median(errors), held: held / 30 };
    });
    expect(mean(found.map((f) => f.median))).toBeLessThan(1.2);
    for (const { held } of found) expect(held).toBeGreaterThanOrEqual(0.8);
  });

  test('paler than the palest swatch the ± widens, and the dye is named', () => {
    for (const { world, model } of worlds) {
      const [dyeId] = world.dyeIds as [string];
      const at = (depthPct: number) => predicted(model, [{ dyeId, depthPct }]);
      expect(at(0.06).beyond.pale).toEqual([]);
      expect(at(0.03).beyond).toEqual({ pale: [dyeId], deep: [] });
      expect(at(4).beyond).toEqual({ pale: [], deep: [dyeId] });
      expect(at(0.03).deltaE90).toBeGreaterThan(at(0.06).deltaE90);
    }
  });

  test('under another lamp the curves tell more than an adaptation', () => {
    const found = worlds.map((one) => {
      const off = askedPairs(one).map((components) => {
        const there = exact(one.world, components, UNDER_A);
        const own = predicted(one.model, components).lab;
        const moved = adaptLab({ lab: own, from: D65_10, to: UNDER_A, method: 'bradford' });
        const answer = predicted(one.model, components, UNDER_A);
        return {
          byCurves: deltaE2000({ standard: there, sample: answer.lab }),
          adapted: deltaE2000({ standard: there, sample: moved }),
          within: deltaE2000({ standard: there, sample: answer.lab }) <= answer.deltaE90,
        };
      });
      expect(off.filter((o) => o.within).length / off.length).toBeGreaterThanOrEqual(0.8);
      return { byCurves: median(off.map((o) => o.byCurves)), adapted: median(off.map((o) => o.adapted)) };
    });
    expect(mean(found.map((f) => f.byCurves))).toBeLessThan(0.5 * mean(found.map((f) => f.adapted)));
  });

  test('a swatch more is taken in at once; a dye that nobody knows, or very many, is learned first', () => {
    const { world, model, random } = worlds[1] as (typeof worlds)[number];
    const components = [
      { dyeId: world.dyeIds[0] as string, depthPct: 0.7 },
      { dyeId: world.dyeIds[1] as string, depthPct: 0.9 },
    ];
    const swatch = dyedSwatch({ world, swatchId: 'new', components, reader: 'spectra', random });
    const more = modelWith(model, [swatch]);
    if (more === null) throw new Error('not taken in');
    expect(more).toMatchObject({ swatchCount: model.swatchCount + 1, mixtureCount: 1, newSwatches: 1 });
    const [before, after] = [predicted(model, components), predicted(more, components)];
    expect(before.familiarity).toBe('apart');
    expect(after.familiarity).toBe('together');
    const off = (p: KnownPrediction) => deltaE2000({ standard: swatch.lab, sample: p.lab });
    expect(off(after)).toBeLessThan(off(before));
    expect(after.deltaE90).toBeLessThan(before.deltaE90);
    const strange = { ...swatch, components: [{ dyeId: 'never seen', depthPct: 1 }] };
    expect(modelWith(model, [strange])).toBeNull();
    expect(modelWith(model, [swatch, swatch, swatch])).toBeNull();
  });

  test('a trial narrows what is not known, never below how closely one dyeing repeats another', () => {
    for (const { world, model } of worlds) {
      const [one, other] = world.dyeIds as [string, string];
      const answer = predicted(model, [
        { dyeId: one, depthPct: 1 },
        { dyeId: other, depthPct: 1 },
      ]);
      expect(answer.deltaE90AfterTrial).toBeLessThan(answer.deltaE90);
      expect(answer.deltaE90AfterTrial).toBeGreaterThan(0);
    }
  });

  test('what to sample next is a set of blends on no grid, each taking more of the doubt away', () => {
    for (const { world, model } of worlds) {
      const allowed = world.dyeIds.map((dyeId) => ({ dyeId, minDepthPct: 0.06, maxDepthPct: 3 }));
      const advised = recipesToSample({ model, allowed, maxDyes: 3, count: 10 });
      expect(advised).toHaveLength(10);
      expect(new Set(advised.map((a) => JSON.stringify(a.components))).size).toBe(10);
      // Ladders show nothing of how dyes act on each other: the first lesson is a blend.
      expect(advised[0]?.components.length).toBeGreaterThan(1);
      let before = 0;
      for (const { gone, components } of advised) {
        expect(gone).toBeGreaterThan(before);
        expect(gone).toBeLessThan(1);
        before = gone;
        for (const c of components) {
          expect(c.depthPct).toBeGreaterThanOrEqual(0.06);
          expect(c.depthPct).toBeLessThanOrEqual(3);
        }
      }
      const depths = advised.flatMap((a) => a.components.map((c) => c.depthPct));
      expect(new Set(depths).size).toBe(depths.length);
      expect(recipesToSample({ model, allowed: [], maxDyes: 3, count: 3 })).toEqual([]);
    }
  });
});

describe('the leftovers', () => {
  const random = seededRandom(3);
  const points = Array.from({ length: 30 }, (): RecipePoint => {
    const dyes = [Math.floor(random() * 3), 3 + Math.floor(random() * 3)];
    const theory = [20 + 60 * random(), 40 * random() - 20, 40 * random() - 20];
    return { dyes, levels: dyes.map(() => 2 * random()), theory };
  });
  const leftovers = [0, 1].map(() => Float64Array.from({ length: 90 }, () => 4 * random() - 2));
  const wanted = { amplitude: 0.7, noise: 0.5 };
  const some = (rows: readonly number[]) => ({
    points: rows.map((i) => points[i] as RecipePoint),
    leftovers: leftovers.map((of) => Float64Array.from(rows.flatMap((i) => [...of.subarray(3 * i, 3 * i + 3)]))),
    ...wanted,
  });
  const all = points.map((_, i) => i);

  test('rows appended to the factor give what the whole gives', () => {
    const whole = learnedWith(some(all));
    const grown = residualWith(learnedWith(some(all.slice(0, 26))), points.slice(26), some(all).leftovers);
    for (const light of [0, 1]) {
      for (const [i, v] of (whole.alpha[light] as Float64Array).entries()) {
        expect(grown.alpha[light]?.[i]).toBeCloseTo(v, 9);
      }
    }
  });

  test('a block held out in closed form is what the others alone predict', () => {
    const held = [2, 7, 8, 19, 29];
    const kept = all.filter((i) => !held.includes(i));
    const { means, variance } = new BlockHoldOut(learnedWith(some(all))).without(held, leftovers);
    const without = learnedWith(some(kept));
    const out = new Float64Array(3);
    for (const [i, place] of held.entries()) {
      for (const light of [0, 1]) {
        residualMean(without, points[place] as RecipePoint, out, light);
        for (let c = 0; c < 3; c += 1) expect(means[light]?.[3 * i + c]).toBeCloseTo(out[c] as number, 9);
      }
      expect(variance[i]).toBeCloseTo(residualVariance(without, points[place] as RecipePoint), 9);
    }
  });

  test('the inverse is that of a general matrix library', () => {
    const A = Matrix.rand(9, 9, { random });
    const symmetric = A.mmul(A.transpose()).add(Matrix.eye(9));
    const factor = Float64Array.from(symmetric.to1DArray());
    expect(choleskyInPlace(factor, 9)).toBe(true);
    const ours = inverseOf(factor, 9);
    for (const [i, v] of inverse(symmetric).to1DArray().entries()) expect(ours[i]).toBeCloseTo(v, 9);
  });
});
