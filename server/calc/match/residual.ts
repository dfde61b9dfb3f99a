import { CalcError } from '../calcError.ts';
import { choleskyInPlace, choleskySolve, forwardSubstitute } from './linear.ts';

/* What theory leaves over, read off the real swatches near by: a Gaussian process over recipes, in CIELAB. Two recipes are
   alike when theory gives them like colours, when they share a dye at like amounts, and above all when they share a pair of
   dyes. Source: C. E. Rasmussen & C. K. I. Williams, Gaussian Processes for Machine Learning (2006), ch. 2. */

export interface RecipePoint {
  /** Rising. */
  dyes: ArrayLike<number>;
  /** ln(1 + amount/0.6) of each dye, amounts in typical depths. */
  levels: ArrayLike<number>;
  /** CIELAB by theory alone. */
  theory: ArrayLike<number>;
}

export interface Residual {
  points: RecipePoint[];
  factor: Float64Array;
  /** Three channels, one after the other. */
  alpha: Float64Array;
}

export function levelOf(amount: number): number {
  return Math.log1p(amount / 0.6);
}

// Variances in CIELAB units squared, lengths in CIELAB units and in levels.
const BY_COLOUR = 4;
const COLOUR_LENGTH = 8;
const BY_DYE = 0.5;
const BY_PAIR = 4;
const LEVEL_LENGTH = 1.5;
export const READING_VARIANCE = 3;

export function likeness(one: RecipePoint, other: RecipePoint): number {
  const dL = (one.theory[0] as number) - (other.theory[0] as number);
  const da = (one.theory[1] as number) - (other.theory[1] as number);
  const db = (one.theory[2] as number) - (other.theory[2] as number);
  let sum = 0;
  let squares = 0;
  let i = 0;
  let j = 0;
  while (i < one.dyes.length && j < other.dyes.length) {
    const a = one.dyes[i] as number;
    const b = other.dyes[j] as number;
    if (a === b) {
      const d = ((one.levels[i] as number) - (other.levels[j] as number)) / LEVEL_LENGTH;
      const shared = Math.exp(-0.5 * d * d);
      sum += shared;
      squares += shared * shared;
      i += 1;
      j += 1;
    } else if (a < b) i += 1;
    else j += 1;
  }
  return (
    BY_COLOUR * Math.exp((-0.5 * (dL * dL + da * da + db * db)) / (COLOUR_LENGTH * COLOUR_LENGTH)) +
    BY_DYE * sum +
    (BY_PAIR * (sum * sum - squares)) / 2
  );
}

/** Learns the leftovers (measured − theory, three for each point). */
export function learnResidual({ points, leftovers }: { points: RecipePoint[]; leftovers: Float64Array }): Residual {
  const n = points.length;
  const factor = new Float64Array(n * n);
  for (let i = 0; i < n; i += 1) {
    for (let j = 0; j <= i; j += 1) factor[i * n + j] = likeness(points[i] as RecipePoint, points[j] as RecipePoint);
    factor[i * n + i] = (factor[i * n + i] as number) + READING_VARIANCE;
  }
  if (!choleskyInPlace(factor, n)) {
    throw new CalcError('outOfRange', 'swatches', 'the swatches contradict each other beyond reckoning');
  }
  const alpha = new Float64Array(3 * n);
  for (let channel = 0; channel < 3; channel += 1) {
    const v = alpha.subarray(channel * n, (channel + 1) * n);
    for (let i = 0; i < n; i += 1) v[i] = leftovers[3 * i + channel] as number;
    choleskySolve(factor, n, v);
  }
  return { points, factor, alpha };
}

/** Leftover to expect at a recipe. */
export function residualMean(residual: Residual, point: RecipePoint, out: Float64Array): void {
  const n = residual.points.length;
  out.fill(0);
  for (let i = 0; i < n; i += 1) {
    const k = likeness(point, residual.points[i] as RecipePoint);
    out[0] = (out[0] as number) + k * (residual.alpha[i] as number);
    out[1] = (out[1] as number) + k * (residual.alpha[n + i] as number);
    out[2] = (out[2] as number) + k * (residual.alpha[2 * n + i] as number);
  }
}

/** Variance of a new reading of this recipe, as far as the likeness of recipes tells; the same for the three channels. */
export function residualVariance(residual: Residual, point: RecipePoint): number {
  const n = residual.points.length;
  const v = new Float64Array(n);
  for (let i = 0; i < n; i += 1) v[i] = likeness(point, residual.points[i] as RecipePoint);
  forwardSubstitute(residual.factor, n, v);
  let explained = 0;
  for (let i = 0; i < n; i += 1) explained += (v[i] as number) ** 2;
  return Math.max(0, likeness(point, point) - explained) + READING_VARIANCE;
}
