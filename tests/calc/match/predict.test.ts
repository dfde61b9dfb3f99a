import { beforeAll, describe, expect, test } from 'vitest';
import { CalcError } from '../../../server/calc/calcError.ts';
import { deltaE2000 } from '../../../server/calc/colour/deltaE.ts';
import { D65_10 } from '../../../server/calc/colour/reading.ts';
import { proposeCorrections } from '../../../server/calc/match/correct.ts';
import { learnModel } from '../../../server/calc/match/learn.ts';
import {
  type ColourModel,
  type KnownPrediction,
  type KnownSwatch,
  predictColour,
  type RecipeComponent,
} from '../../../server/calc/match/predict.ts';
import { proposeRecipes } from '../../../server/calc/match/propose.ts';
import {
  SYNTHETIC_DYES,
  SYNTHETIC_SUBSTRATE,
  seededRandom,
  syntheticLab,
  syntheticSwatch,
} from '../../support/syntheticCloth.ts';

/* The cloth is made by other rules than the model's (tests/support/syntheticCloth.ts), so that these are questions, not echoes. */

const dyeIds = SYNTHETIC_DYES.map((dye) => dye.dyeId);
const pairs = dyeIds.flatMap((one, i) => dyeIds.slice(i + 1).map((other) => [one, other] as const));

function library(input: {
  seed: number;
  pairs: readonly (readonly [string, string])[];
  withSpectrum: boolean;
}): KnownSwatch[] {
  const random = seededRandom(input.seed);
  const out: KnownSwatch[] = [];
  const add = (components: RecipeComponent[]) =>
    out.push(syntheticSwatch({ swatchId: `w${out.length + 1}`, components, random, withSpectrum: input.withSpectrum }));
  for (const dyeId of dyeIds) for (const depthPct of [0.1, 0.25, 0.5, 1, 2, 4]) add([{ dyeId, depthPct }]);
  for (const [one, other] of input.pairs) {
    for (const total of [0.5, 2]) {
      for (const share of [0.25, 0.5, 0.75]) {
        add([
          { dyeId: one, depthPct: total * share },
          { dyeId: other, depthPct: total * (1 - share) },
        ]);
      }
    }
  }
  return out;
}

function recipe(random: () => number, count: number): RecipeComponent[] {
  const dyes = [...dyeIds];
  for (let i = dyes.length - 1; i > 0; i -= 1) {
    const j = Math.floor(random() * (i + 1));
    [dyes[i], dyes[j]] = [dyes[j] as string, dyes[i] as string];
  }
  const shares = dyes.slice(0, count).map((dyeId) => ({ dyeId, share: 0.2 + random() }));
  const sum = shares.reduce((total, { share }) => total + share, 0);
  const total = 0.3 + 3 * random();
  return shares.map(({ dyeId, share }) => ({ dyeId, depthPct: (total * share) / sum }));
}

function trial(model: ColourModel, count: number, seed: number, from: readonly KnownSwatch[]) {
  const random = seededRandom(seed);
  const errors: number[] = [];
  const nearest: number[] = [];
  let covered = 0;
  for (let i = 0; i < 100; i += 1) {
    const components = recipe(random, count);
    const real = syntheticLab(components);
    const prediction = predictColour({ model, components }) as KnownPrediction;
    expect(prediction.known).toBe(true);
    const off = deltaE2000({ standard: prediction.lab, sample: real });
    errors.push(off);
    if (off <= prediction.deltaE90) covered += 1;
    // The card whose recipe is nearest is what a studio without a model would look at.
    const distance = (swatch: KnownSwatch) => {
      const depth = (list: readonly RecipeComponent[], id: string) => list.find((c) => c.dyeId === id)?.depthPct ?? 0;
      return dyeIds.reduce((sum, id) => sum + (depth(swatch.components, id) - depth(components, id)) ** 2, 0);
    };
    const card = from.reduce((best, swatch) => (distance(swatch) < distance(best) ? swatch : best));
    nearest.push(deltaE2000({ standard: card.lab as KnownPrediction['lab'], sample: real }));
  }
  const median = (list: number[]) => list.sort((a, b) => a - b)[50] as number;
  return { median: median(errors), nearestMedian: median(nearest), coverage: covered / 100 };
}

const allowed = dyeIds.map((dyeId) => ({ dyeId, minDepthPct: 0.005, maxDepthPct: 4 }));

describe('a library of single dyes and half of the pairs, Lab readings alone', () => {
  let swatches: KnownSwatch[];
  let model: ColourModel;
  beforeAll(() => {
    swatches = library({ seed: 11, pairs: pairs.filter((_, i) => i % 2 === 0), withSpectrum: false });
    model = learnModel({ swatches, conditions: D65_10 });
  });

  test.each([
    { dyes: 1, most: 1 },
    { dyes: 2, most: 2 },
    { dyes: 3, most: 3.5 },
    { dyes: 4, most: 5 },
  ])('recipes of $dyes dyes: nearer than the nearest card, and under ΔE $most in the middle', ({ dyes, most }) => {
    const { median, nearestMedian, coverage } = trial(model, dyes, 100 + dyes, swatches);
    expect(median).toBeLessThan(most);
    expect(median).toBeLessThan(nearestMedian / 2);
    expect(coverage).toBeGreaterThanOrEqual(0.85);
  });

  test('says how well it knows each dye', () => {
    expect(model.dyes.map((dye) => dye.dyeId)).toEqual([...dyeIds].sort());
    for (const dye of model.dyes) {
      expect(dye.alone).toBe(6);
      expect(dye.minDepthPct).toBe(0.1);
      expect(dye.maxDepthPct).toBe(4);
    }
    expect(model.swatchCount).toBe(swatches.length);
    expect(model.mixtureCount).toBe(swatches.length - 42);
  });

  test('a set never dyed together is less sure than one that was', () => {
    const width = (list: readonly (readonly [string, string])[]) => {
      const all = list.map(([one, other]) => {
        const components = [
          { dyeId: one, depthPct: 0.6 },
          { dyeId: other, depthPct: 0.6 },
        ];
        return (predictColour({ model, components }) as KnownPrediction).deltaE90;
      });
      return all.reduce((sum, w) => sum + w, 0) / all.length;
    };
    const known = pairs.filter((_, i) => i % 2 === 0);
    const strange = pairs.filter((_, i) => i % 2 === 1);
    expect(width(strange)).toBeGreaterThan(width(known));
  });

  test('outside its swatches it has no idea, and says why', () => {
    const ask = (components: RecipeComponent[]) => predictColour({ model, components });
    expect(ask([{ dyeId: 'madder', depthPct: 1 }])).toMatchObject({
      known: false,
      reason: 'dyeNotKnown',
      dyeIds: ['madder'],
    });
    expect(ask([{ dyeId: 'red', depthPct: 40 }])).toMatchObject({ known: false, reason: 'tooDeep', dyeIds: ['red'] });
    expect(ask(dyeIds.map((dyeId) => ({ dyeId, depthPct: 3 })))).toMatchObject({ known: false, reason: 'tooDeep' });
    expect(ask(dyeIds.map((dyeId) => ({ dyeId, depthPct: 0.3 })))).toMatchObject({
      known: false,
      reason: 'tooManyDyes',
    });
    expect(() => ask([{ dyeId: 'red', depthPct: -1 }])).toThrow(CalcError);
  });

  test('no dye is the undyed cloth; the order and the splitting of components do not matter', () => {
    const none = predictColour({ model, components: [{ dyeId: 'red', depthPct: 0 }] }) as KnownPrediction;
    expect(deltaE2000({ standard: none.lab, sample: SYNTHETIC_SUBSTRATE.lab })).toBeLessThan(1.5);
    const one = predictColour({
      model,
      components: [
        { dyeId: 'red', depthPct: 0.5 },
        { dyeId: 'blue', depthPct: 0.25 },
      ],
    });
    const other = predictColour({
      model,
      components: [
        { dyeId: 'blue', depthPct: 0.25 },
        { dyeId: 'red', depthPct: 0.3 },
        { dyeId: 'red', depthPct: 0.2 },
      ],
    });
    expect(other).toEqual(one);
  });

  test('a model sent to another thread answers the same', () => {
    const components = [
      { dyeId: 'yellow', depthPct: 0.5 },
      { dyeId: 'turquoise', depthPct: 0.5 },
    ];
    expect(predictColour({ model: structuredClone(model), components })).toEqual(predictColour({ model, components }));
  });

  test('rests on swatches of the same dyes', () => {
    const components = [
      { dyeId: pairs[0]?.[0] as string, depthPct: 0.5 },
      { dyeId: pairs[0]?.[1] as string, depthPct: 0.5 },
    ];
    const { restsOn } = predictColour({ model, components }) as KnownPrediction;
    expect(restsOn.length).toBeGreaterThan(2);
    const first = swatches.find(({ swatchId }) => swatchId === restsOn[0]?.swatchId);
    expect(first?.components.map((c) => c.dyeId).sort()).toEqual([...(pairs[0] as readonly string[])].sort());
    expect(restsOn.reduce((sum, { share }) => sum + share, 0)).toBeCloseTo(1, 9);
  });

  test('proposals keep to what is allowed, differ, and really come near', () => {
    const random = seededRandom(77);
    const real: number[] = [];
    for (let i = 0; i < 20; i += 1) {
      const target = syntheticLab(recipe(random, 1 + (i % 3)));
      const some = allowed.filter((_, j) => j !== i % allowed.length);
      const proposals = proposeRecipes({ model, target, allowed: some, maxDyes: 3, count: 5 });
      expect(proposals.length).toBeGreaterThan(1);
      const sets = proposals.map(({ components }) => components.map((c) => c.dyeId).join());
      expect(new Set(sets).size).toBe(sets.length);
      for (const { components, deltaE2000: off, prediction } of proposals) {
        expect(components.length).toBeLessThanOrEqual(3);
        for (const { dyeId, depthPct } of components) {
          const limit = some.find((dye) => dye.dyeId === dyeId);
          expect(limit).toBeDefined();
          expect(depthPct).toBeGreaterThanOrEqual(0.005 - 1e-12);
          expect(depthPct).toBeLessThanOrEqual(4 + 1e-9);
        }
        expect(off).toBeCloseTo(deltaE2000({ standard: target, sample: prediction.lab }), 9);
        expect(predictColour({ model, components })).toEqual(prediction);
      }
      real.push(
        Math.min(
          ...proposals.map(({ components }) => deltaE2000({ standard: target, sample: syntheticLab(components) })),
        ),
      );
    }
    real.sort((a, b) => a - b);
    // A dye of the recipe may be the one left out, so only the middle is held to it.
    expect(real[10]).toBeLessThan(2);
  });

  test('one dye is enough where one dye is the answer', () => {
    const target = syntheticLab([{ dyeId: 'rubine', depthPct: 1.2 }]);
    const [best] = proposeRecipes({ model, target, allowed, maxDyes: 4, count: 3 });
    expect(best?.components.map((c) => c.dyeId)).toContain('rubine');
    const rubine = best?.components.find((c) => c.dyeId === 'rubine')?.depthPct as number;
    expect(rubine).toBeGreaterThan(1);
    expect(rubine).toBeLessThan(1.4);
  });

  test('nothing allowed is nothing proposed; a dye allowed twice is a slip', () => {
    const target = syntheticLab([{ dyeId: 'red', depthPct: 1 }]);
    const ask = (list: typeof allowed) => proposeRecipes({ model, target, allowed: list, maxDyes: 3, count: 3 });
    expect(ask([])).toEqual([]);
    expect(ask([{ dyeId: 'madder', minDepthPct: 0.01, maxDepthPct: 2 }])).toEqual([]);
    expect(() => ask([...allowed, ...allowed])).toThrow(CalcError);
  });

  test('a lot that took up too little is brought nearer by additions alone', () => {
    const planned = [
      { dyeId: 'red', depthPct: 1 },
      { dyeId: 'blue', depthPct: 0.5 },
    ];
    const target = syntheticLab(planned);
    const taken = planned.map((c) => ({ ...c, depthPct: 0.8 * c.depthPct }));
    const advice = proposeCorrections({
      model,
      applied: planned,
      actual: syntheticLab(taken),
      target,
      toleranceDeltaE2000: 1,
      allowed,
      maxDyes: 3,
      count: 4,
    });
    if (!advice.known) throw new Error(advice.message);
    expect(advice.verdict).toBe('add');
    const best = advice.corrections[0];
    for (const { depthPct } of best?.additions ?? []) expect(depthPct).toBeGreaterThan(0);
    const after = syntheticLab([...taken, ...(best?.additions ?? [])]);
    expect(deltaE2000({ standard: target, sample: after })).toBeLessThan(advice.deltaE2000Now / 2);
    // What is missing is a fifth of each.
    for (const { dyeId, depthPct } of advice.seeming) {
      const asked = planned.find((c) => c.dyeId === dyeId)?.depthPct as number;
      expect(depthPct / asked).toBeGreaterThan(0.7);
      expect(depthPct / asked).toBeLessThan(0.9);
    }
  });

  test('a lot that came out too deep cannot be helped by adding', () => {
    const planned = [{ dyeId: 'blue', depthPct: 0.5 }];
    const advice = proposeCorrections({
      model,
      applied: planned,
      actual: syntheticLab([{ dyeId: 'blue', depthPct: 1 }]),
      target: syntheticLab(planned),
      toleranceDeltaE2000: 1,
      allowed,
      maxDyes: 3,
      count: 4,
    });
    expect(advice).toMatchObject({ known: true, verdict: 'cannot', targetLighter: true });
  });

  test('a lot within tolerance is left alone', () => {
    const planned = [{ dyeId: 'blue', depthPct: 0.5 }];
    const advice = proposeCorrections({
      model,
      applied: planned,
      actual: syntheticLab([{ dyeId: 'blue', depthPct: 0.505 }]),
      target: syntheticLab(planned),
      toleranceDeltaE2000: 1,
      allowed,
      maxDyes: 3,
      count: 4,
    });
    expect(advice).toMatchObject({ known: true, verdict: 'leave' });
  });
});

describe('a library of single dyes alone', () => {
  test('mixtures are guessed at, with a wide interval that holds', () => {
    const swatches = library({ seed: 5, pairs: [], withSpectrum: false });
    const model = learnModel({ swatches, conditions: D65_10 });
    const { median, nearestMedian, coverage } = trial(model, 2, 31, swatches);
    expect(median).toBeLessThan(nearestMedian / 2);
    expect(coverage).toBeGreaterThanOrEqual(0.85);
    expect(model.calibration[0]?.apart.count).toBe(0);
  });
});

describe('spectra', () => {
  test('help where they are, and mix with swatches that have none', () => {
    const known = pairs.filter((_, i) => i % 2 === 0);
    const swatches = library({ seed: 21, pairs: known, withSpectrum: true }).map((swatch, i) => {
      if (i % 3 > 0 || swatch.lab === undefined) return swatch;
      const { spectrum: _, ...rest } = swatch;
      return rest;
    });
    const model = learnModel({ swatches, conditions: D65_10 });
    expect(model.spectrumCount).toBeLessThan(swatches.length);
    expect(model.spectrumCount).toBeGreaterThan(0);
    expect(trial(model, 2, 9, swatches).median).toBeLessThan(2);
  });

  test('the proposal tells how far goods and target part under lamplight', () => {
    const swatches = library({ seed: 21, pairs, withSpectrum: true });
    const model = learnModel({ swatches, conditions: D65_10 });
    const own = swatches.find(({ components }) => components.length === 2) as KnownSwatch & {
      lab: KnownPrediction['lab'];
    };
    const proposals = proposeRecipes({
      model,
      target: own.lab,
      targetSpectrum: own.spectrum as NonNullable<KnownSwatch['spectrum']>,
      allowed,
      maxDyes: 3,
      count: 5,
    });
    const same = (list: readonly RecipeComponent[]) =>
      list
        .map((c) => c.dyeId)
        .sort()
        .join();
    const likeOwn = proposals.find(({ components }) => same(components) === same(own.components));
    expect(likeOwn?.deltaE2000UnderA).toBeLessThan(1.5);
    for (const { deltaE2000UnderA } of proposals) expect(deltaE2000UnderA).toBeGreaterThanOrEqual(0);
  });
});

test('nothing to learn from is refused', () => {
  expect(() => learnModel({ swatches: [], conditions: D65_10 })).toThrow(CalcError);
  const blank = { swatchId: 1, components: [], lab: { L: 90, a: 0, b: 0 }, substrate: SYNTHETIC_SUBSTRATE };
  expect(() => learnModel({ swatches: [blank], conditions: D65_10 })).toThrow(CalcError);
});

test('two swatches are little, but no crash: the interval is wide', () => {
  const random = seededRandom(1);
  const swatches = [0.5, 1].map((depthPct, i) =>
    syntheticSwatch({ swatchId: `w${i}`, components: [{ dyeId: 'red', depthPct }], random, withSpectrum: false }),
  );
  const model = learnModel({ swatches, conditions: D65_10 });
  const prediction = predictColour({ model, components: [{ dyeId: 'red', depthPct: 0.7 }] }) as KnownPrediction;
  expect(prediction.known).toBe(true);
  expect(prediction.calibratedOn).toBe(0);
  expect(prediction.deltaE90).toBeGreaterThan(3);
});

describe('slips', () => {
  test('a card with two dyes mixed up is found, and hardly bends its neighbours', () => {
    const known = pairs.filter((_, i) => i % 2 === 0);
    const right = library({ seed: 11, pairs: known, withSpectrum: false });
    const [one, other] = known[1] as readonly [string, string];
    const at = right.findIndex(({ components }) => components.map((c) => c.dyeId).join() === `${one},${other}`) + 4;
    expect([one, other]).not.toContain('turquoise');
    expect(at).toBeGreaterThan(0);
    const wrong = right.map((swatch, i) =>
      i === at
        ? { ...swatch, components: [{ dyeId: 'turquoise', depthPct: 1.5 }, ...swatch.components.slice(1)] }
        : swatch,
    );
    const model = learnModel({ swatches: wrong, conditions: D65_10 });
    expect(model.doubtful[0]?.swatchId).toBe(right[at]?.swatchId);
    expect(model.doubtful.length).toBeLessThanOrEqual(3);
    const clean = learnModel({ swatches: right, conditions: D65_10 });
    expect(clean.doubtful.length).toBeLessThanOrEqual(2);
    expect(trial(model, 2, 102, wrong).median).toBeLessThan(trial(clean, 2, 102, right).median + 0.4);
  });

  test('goods that nobody read: undyed swatches stand in, or an ordinary white, and the model says which', () => {
    const read = library({ seed: 11, pairs: pairs.slice(0, 6), withSpectrum: false });
    const unread = read.map(({ substrate: _, ...swatch }) => swatch);
    const assumed = learnModel({ swatches: unread, conditions: D65_10 });
    expect(assumed.substratesRead).toBe(0);
    expect(assumed.substratesAssumed).toBe(read.length);
    const blank = { swatchId: 'blank', components: [], lab: SYNTHETIC_SUBSTRATE.lab };
    const stood = learnModel({ swatches: [...unread, blank], conditions: D65_10 });
    expect(stood.substratesAssumed).toBe(0);
    const full = learnModel({ swatches: read, conditions: D65_10 });
    expect(full.substratesRead).toBe(read.length);
    const components = [{ dyeId: 'blue', depthPct: 0.3 }];
    const lab = (model: ColourModel) => (predictColour({ model, components }) as KnownPrediction).lab;
    expect(deltaE2000({ standard: lab(full), sample: lab(stood) })).toBeLessThan(0.01);
    expect(deltaE2000({ standard: lab(full), sample: lab(assumed) })).toBeLessThan(3);
  });
});
