import { CalcError, finiteIn } from './calcError.ts';
import { largestRemainder } from './rounding.ts';
import { stockVolumeMl } from './stockSolution.ts';

/** Depths of one recipe from pale to deep.
 *  'even' adds the same depth each time, 'ratio' multiplies by the same factor, which the eye sees as more even steps.
 *  Returns whole ppm, strictly rising. fromDepthPct > 0 · toDepthPct > fromDepthPct · count ≥ 2, few enough that no two samples fall on
 *  the same ppm. Throws CalcError. Common practice. */
export function depthLadderPpm(input: {
  fromDepthPct: number;
  toDepthPct: number;
  count: number;
  spacing: 'even' | 'ratio';
}): number[] {
  const from = finiteIn('fromDepthPct', input.fromDepthPct, { min: 0, exclusiveMin: true });
  const to = finiteIn('toDepthPct', input.toDepthPct, { min: from, exclusiveMin: true });
  const count = sampleCount(input.count, 2);
  const depths = Array.from({ length: count }, (_, index) => {
    const part = index / (count - 1);
    const depthPct = input.spacing === 'even' ? from + (to - from) * part : from * (to / from) ** part;
    return Math.round(depthPct * 10_000);
  });
  if (depths.some((depth, index) => depth <= (depths[index - 1] ?? 0))) {
    throw new CalcError('outOfRange', 'count', 'so many samples would not differ from one another');
  }
  return depths;
}

function sampleCount(count: number, min: number): number {
  if (!Number.isInteger(finiteIn('count', count, { min, max: 2000 }))) {
    throw new CalcError('outOfRange', 'count', 'count must be a whole number of samples');
  }
  return count;
}

/** Every set of shares of `dyeCount` dyes at a step: two dyes make a ladder, three a triangle, C(n + k − 1, k − 1) samples for n = 100/step
 *  steps (a 10 % step: 11 for two dyes, 66 for three).
 *  Shares in ppm, each set adding to exactly 1 000 000, pure dyes included; the first dye falls from 100 %.
 *  stepPct must divide 100 (10, 12.5, 20, 25, 33⅓…, 50) · dyeCount 2 to 4. Throws CalcError('outOfRange', 'stepPct').
 *  Definition of a simplex lattice. */
export function blendSharesPpm(input: { dyeCount: number; stepPct: number }): number[][] {
  const stepPct = finiteIn('stepPct', input.stepPct, { min: 0, exclusiveMin: true, max: 50 });
  const steps = Math.round(100 / stepPct);
  if (Math.abs(steps * stepPct - 100) > 0.05) {
    throw new CalcError(
      'outOfRange',
      'stepPct',
      `a step of ${stepPct} % does not divide 100 %: try 10, 12.5, 20 or 25`,
    );
  }
  if (!Number.isInteger(finiteIn('dyeCount', input.dyeCount, { min: 2, max: 4 }))) {
    throw new CalcError('outOfRange', 'dyeCount', 'dyeCount must be 2, 3 or 4');
  }
  const sets: number[][] = [];
  const fill = (taken: readonly number[], left: number): void => {
    if (taken.length === input.dyeCount - 1) {
      sets.push([...taken, left]);
      if (sets.length > 2000)
        throw new CalcError('outOfRange', 'stepPct', 'this step would make more than 2000 samples');
      return;
    }
    for (let part = left; part >= 0; part -= 1) fill([...taken, part], left - part);
  };
  fill([], steps);
  return sets.map((parts) => largestRemainder({ weights: parts, total: 1_000_000, field: 'sharePct' }));
}

/** Two dyes from all of the first to all of the second. Errors as blendSharesPpm. Definition of a simplex lattice. */
export function blendLadderPpm(input: { stepPct: number }): number[][] {
  return blendSharesPpm({ dyeCount: 2, stepPct: input.stepPct });
}

/** Three dyes in a triangle. Errors as blendSharesPpm. Definition of a simplex lattice. */
export function trianglePpm(input: { stepPct: number }): number[][] {
  return blendSharesPpm({ dyeCount: 3, stepPct: input.stepPct });
}

export interface Sample {
  readonly depthPct: number;
  readonly sharesPpm: readonly number[];
}

export interface SampleSet {
  /** For each sample, mL of each dye's stock and the water that makes up its liquor (undefined when no liquor ratio was given). */
  readonly cups: readonly { readonly stockMl: readonly number[]; readonly waterMl?: number }[];
  /** For each dye: mL used in all cups, mL to make with the reserve, and the powder that takes. */
  readonly stocks: readonly { readonly usedMl: number; readonly makeMl: number; readonly powderG: number }[];
  readonly goodsDryMassG: number;
}

/** Stock solution for every cup of a set, and how much of each stock to make:  V (mL) = W · d · s / c
 *  pieceDryMassG of one sample, > 0 · stockStrengthsPct % w/v of each dye's stock · reservePct more to make than is used (pipetting,
 *  dead volume), ≥ 0 · liquorRatioLPerKg where cups are to be made up with water.
 *  Throws CalcError('mismatch', 'sharePct') when a sample names another number of dyes, ('outOfRange', 'stockStrengthPct') when a cup's
 *  solutions are more than its liquor. Masses of the set: powderG, with the powder for the reserve in it.
 *  Follows from the definitions of % owg and % w/v. */
export function sampleSet(input: {
  pieceDryMassG: number;
  samples: readonly Sample[];
  stockStrengthsPct: readonly number[];
  reservePct: number;
  liquorRatioLPerKg?: number | undefined;
}): SampleSet {
  const { pieceDryMassG, stockStrengthsPct, liquorRatioLPerKg } = input;
  sampleCount(input.samples.length, 1);
  const reserve = 1 + finiteIn('reservePct', input.reservePct, { min: 0 }) / 100;
  const usedMl = stockStrengthsPct.map(() => 0);
  const cups = input.samples.map((sample) => {
    if (sample.sharesPpm.length !== stockStrengthsPct.length) {
      throw new CalcError('mismatch', 'sharePct', 'each sample needs one share for each dye');
    }
    const stockMl = sample.sharesPpm.map((sharePpm, index) => {
      const volumeMl = stockVolumeMl({
        goodsDryMassG: pieceDryMassG,
        depthPct: (sample.depthPct * finiteIn('sharePct', sharePpm, { min: 0, max: 1_000_000 })) / 1_000_000,
        stockStrengthPct: stockStrengthsPct[index] ?? 0,
      });
      usedMl[index] = (usedMl[index] ?? 0) + volumeMl;
      return volumeMl;
    });
    if (liquorRatioLPerKg === undefined) return { stockMl };
    const liquorMl = pieceDryMassG * finiteIn('liquorRatioLPerKg', liquorRatioLPerKg, { min: 0, exclusiveMin: true });
    const waterMl = liquorMl - stockMl.reduce((sum, volume) => sum + volume, 0);
    if (waterMl < -1e-9 * liquorMl) {
      throw new CalcError(
        'outOfRange',
        'stockStrengthPct',
        'the solutions of one cup are more than its liquor: make stronger stocks or take a higher liquor ratio',
      );
    }
    return { stockMl, waterMl: Math.max(0, waterMl) };
  });
  const stocks = usedMl.map((used, index) => ({
    usedMl: used,
    makeMl: used * reserve,
    powderG: (used * reserve * (stockStrengthsPct[index] ?? 0)) / 100,
  }));
  return { cups, stocks, goodsDryMassG: pieceDryMassG * input.samples.length };
}
