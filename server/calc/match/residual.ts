import { CalcError } from '../calcError.ts';
import { choleskyInPlace, choleskySolve, forwardSubstitute, inverseOf } from './linear.ts';

/* What theory leaves over, read off the real swatches near by: a Gaussian process over recipes, in CIELAB. Two recipes are
   alike when theory gives them like colours, when they share a dye at like amounts, and above all when they share a pair of
   dyes. How much is left over, and how noisy a reading is, is asked of the swatches by their marginal likelihood. The same
   likeness holds for the leftovers under every light: one factor, three right-hand sides a light.
   Source: C. E. Rasmussen & C. K. I. Williams, Gaussian Processes for Machine Learning (2006), ch. 2 and 5. */

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
  /** What the likeness is multiplied by, and the variance of a reading, CIELAB units squared. */
  amplitude: number;
  noise: number;
  factor: Float64Array;
  /** For each light three channels, one after the other. */
  alpha: Float64Array[];
}

/** Source of the method: Gaussian processes, Rasmussen & Williams, 2006. */
export function levelOf(amount: number): number {
  return Math.log1p(amount / 0.6);
}

// Variances in CIELAB units squared, lengths in CIELAB units and in levels.
const BY_COLOUR = 4;
const COLOUR_LENGTH = 8;
const BY_DYE = 0.5;
const BY_PAIR = 4;
const LEVEL_LENGTH = 1.5;

const USUAL = { amplitude: 1, noise: 3 };
const AMPLITUDES = [1, 0.3, 0.1, 0.05];
const NOISES = [3, 1, 0.3, 0.1];
/** Nats a swatch by which another pair must beat the usual one where theory is a layer's, whose leftovers the usual pair was
 *  settled on; fewer would follow what a few swatches happen to show. */
const WORTH_LEAVING = { layer: 1, other: 0.02 };
const MOST_ASKED = 300;

/** How alike two recipes are, 0 to 1, for what the theory leaves over. Source of the method: Gaussian processes, Rasmussen & Williams, 2006. */
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

/** Likeness of every two points, lower triangle. */
function likenesses(points: readonly RecipePoint[]): Float64Array {
  const n = points.length;
  const out = new Float64Array(n * n);
  for (let i = 0; i < n; i += 1) {
    for (let j = 0; j <= i; j += 1) out[i * n + j] = likeness(points[i] as RecipePoint, points[j] as RecipePoint);
  }
  return out;
}

function factorOf(alike: Float64Array, n: number, amplitude: number, noise: number): Float64Array {
  const factor = alike.map((v) => amplitude * v);
  for (let i = 0; i < n; i += 1) factor[i * n + i] = (factor[i * n + i] as number) + noise;
  if (!choleskyInPlace(factor, n)) {
    throw new CalcError('outOfRange', 'swatches', 'the swatches contradict each other beyond reckoning');
  }
  return factor;
}

function solved(factor: Float64Array, n: number, leftovers: Float64Array): Float64Array {
  const alpha = new Float64Array(3 * n);
  for (let channel = 0; channel < 3; channel += 1) {
    const v = alpha.subarray(channel * n, (channel + 1) * n);
    for (let i = 0; i < n; i += 1) v[i] = leftovers[3 * i + channel] as number;
    choleskySolve(factor, n, v);
  }
  return alpha;
}

/** Amplitude and noise that make these leftovers likeliest, of an evenly thinned part of them. */
function likeliest(
  points: readonly RecipePoint[],
  leftovers: Float64Array,
  worthLeaving: number,
): { amplitude: number; noise: number } {
  const step = Math.max(1, points.length / MOST_ASKED);
  const rows = Array.from({ length: Math.min(points.length, MOST_ASKED) }, (_, i) => Math.floor(i * step));
  const n = rows.length;
  const alike = likenesses(rows.map((i) => points[i] as RecipePoint));
  const part = new Float64Array(3 * n);
  for (const [to, i] of rows.entries()) part.set(leftovers.subarray(3 * i, 3 * i + 3), 3 * to);
  const lnLikelihood = (amplitude: number, noise: number): number => {
    const factor = factorOf(alike, n, amplitude, noise);
    const alpha = solved(factor, n, part);
    let sum = 0;
    for (let i = 0; i < n; i += 1) {
      for (let c = 0; c < 3; c += 1) sum -= 0.5 * (part[3 * i + c] as number) * (alpha[c * n + i] as number);
      sum -= 3 * Math.log(factor[i * n + i] as number);
    }
    return sum;
  };
  let best = { ...USUAL, ln: lnLikelihood(USUAL.amplitude, USUAL.noise) + worthLeaving * n };
  for (const amplitude of AMPLITUDES) {
    for (const noise of NOISES) {
      const ln = lnLikelihood(amplitude, noise);
      if (ln > best.ln) best = { amplitude, noise, ln };
    }
  }
  return best;
}

/** Learns the leftovers (measured − theory, three for each point), for each light; the first says how much is left over.
 *  Source of the method: Gaussian processes, Rasmussen & Williams, 2006. */
export function learnResidual(input: { points: RecipePoint[]; leftovers: Float64Array[]; isLayer: boolean }): Residual {
  const { points, leftovers, isLayer } = input;
  const worth = isLayer ? WORTH_LEAVING.layer : WORTH_LEAVING.other;
  return learnedWith({ points, leftovers, ...likeliest(points, leftovers[0] as Float64Array, worth) });
}

/** The leftovers under a stated amplitude and noise. Source of the method: Gaussian processes, Rasmussen & Williams, 2006. */
export function learnedWith(input: {
  points: RecipePoint[];
  leftovers: readonly Float64Array[];
  amplitude: number;
  noise: number;
}): Residual {
  const { points, leftovers, amplitude, noise } = input;
  const n = points.length;
  const factor = factorOf(likenesses(points), n, amplitude, noise);
  return { points, amplitude, noise, factor, alpha: leftovers.map((left) => solved(factor, n, left)) };
}

/** The same with a few points more, each a row appended to the factor: O(n²) a point. `leftovers` are those of all.
 *  Source of the method: Gaussian processes, Rasmussen & Williams, 2006. */
export function residualWith(residual: Residual, more: readonly RecipePoint[], leftovers: Float64Array[]): Residual {
  const points = [...residual.points, ...more];
  const before = residual.points.length;
  const n = points.length;
  const factor = new Float64Array(n * n);
  for (let i = 0; i < before; i += 1) factor.set(residual.factor.subarray(i * before, i * before + i + 1), i * n);
  for (let i = before; i < n; i += 1) {
    const row = factor.subarray(i * n, i * n + n);
    for (let j = 0; j <= i; j += 1) {
      row[j] = residual.amplitude * likeness(points[i] as RecipePoint, points[j] as RecipePoint);
    }
    let left = (row[i] as number) + residual.noise;
    for (let j = 0; j < i; j += 1) {
      let sum = row[j] as number;
      const above = j * n;
      for (let k = 0; k < j; k += 1) sum -= (factor[above + k] as number) * (row[k] as number);
      const value = sum / (factor[above + j] as number);
      row[j] = value;
      left -= value * value;
    }
    row[i] = Math.sqrt(Math.max(1e-9, left));
  }
  return { ...residual, points, factor, alpha: leftovers.map((of) => solved(factor, n, of)) };
}

/** Leftover to expect at a recipe under one of the lights. Source of the method: Gaussian processes, Rasmussen & Williams, 2006. */
export function residualMean(residual: Residual, point: RecipePoint, out: Float64Array, light = 0): void {
  const n = residual.points.length;
  const alpha = residual.alpha[light] as Float64Array;
  out.fill(0);
  for (let i = 0; i < n; i += 1) {
    const k = residual.amplitude * likeness(point, residual.points[i] as RecipePoint);
    out[0] = (out[0] as number) + k * (alpha[i] as number);
    out[1] = (out[1] as number) + k * (alpha[n + i] as number);
    out[2] = (out[2] as number) + k * (alpha[2 * n + i] as number);
  }
}

/** How the swatches speak to a point: the factor's forward solution of its likenesses. Two points vary together, beyond what
 *  the swatches say, by their likeness less the product of these.
 *  Source of the method: Gaussian processes, Rasmussen & Williams, 2006. */
export function residualReach(residual: Residual, point: RecipePoint): Float64Array {
  const n = residual.points.length;
  const v = new Float64Array(n);
  for (let i = 0; i < n; i += 1) v[i] = residual.amplitude * likeness(point, residual.points[i] as RecipePoint);
  forwardSubstitute(residual.factor, n, v);
  return v;
}

/** Variance of a new reading of this recipe, as far as the likeness of recipes tells; the same for the three channels.
 *  Source of the method: Gaussian processes, Rasmussen & Williams, 2006. */
export function residualVariance(residual: Residual, point: RecipePoint): number {
  const v = residualReach(residual, point);
  let explained = 0;
  for (let i = 0; i < v.length; i += 1) explained += (v[i] as number) ** 2;
  return Math.max(0, residual.amplitude * likeness(point, point) - explained) + residual.noise;
}

/** Predicts points from the others, in closed form from the inverse P of the whole covariance: for a block B held out of all,
 *  with leftovers y of those that were kept, the mean is −P_BB⁻¹·P_BA·y_A and the covariance P_BB⁻¹. O(n·|B| + |B|³) a block.
 *  Source: Rasmussen & Williams, eq. 5.12, for blocks. */
export class BlockHoldOut {
  readonly #inverse: Float64Array;
  readonly #n: number;

  constructor(residual: Residual) {
    this.#n = residual.points.length;
    this.#inverse = inverseOf(residual.factor, this.#n);
  }

  /** Means under each light (three a held point) and variances of a reading. `leftovers` are those of the theory that was learned
   *  without the block; what stands at the held points is not looked at. */
  without(
    held: readonly number[],
    leftovers: readonly Float64Array[],
  ): { means: Float64Array[]; variance: Float64Array } {
    const n = this.#n;
    const P = this.#inverse;
    const size = held.length;
    const isHeld = new Uint8Array(n);
    for (const i of held) isHeld[i] = 1;
    const block = new Float64Array(size * size);
    for (let i = 0; i < size; i += 1) {
      for (let j = 0; j <= i; j += 1) block[i * size + j] = P[(held[i] as number) * n + (held[j] as number)] as number;
    }
    if (!choleskyInPlace(block, size)) {
      throw new CalcError('outOfRange', 'swatches', 'the swatches contradict each other beyond reckoning');
    }
    const means = leftovers.map((y) => {
      const out = new Float64Array(3 * size);
      const v = new Float64Array(size);
      for (let c = 0; c < 3; c += 1) {
        for (let i = 0; i < size; i += 1) {
          const row = (held[i] as number) * n;
          let sum = 0;
          for (let k = 0; k < n; k += 1) if (isHeld[k] === 0) sum -= (P[row + k] as number) * (y[3 * k + c] as number);
          v[i] = sum;
        }
        choleskySolve(block, size, v);
        for (let i = 0; i < size; i += 1) out[3 * i + c] = v[i] as number;
      }
      return out;
    });
    const variance = new Float64Array(size);
    const unit = new Float64Array(size);
    for (let i = 0; i < size; i += 1) {
      unit.fill(0);
      unit[i] = 1;
      forwardSubstitute(block, size, unit);
      variance[i] = unit.reduce((sum, v) => sum + v * v, 0);
    }
    return { means, variance };
  }
}
