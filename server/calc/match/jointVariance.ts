import { type ColourModel, modelTheories } from './predict.ts';
import { learnedWith, likeness, type RecipePoint, type Residual, residualReach } from './residual.ts';
import type { Theories } from './theories.ts';

/* How what a model does not know of one recipe goes with what it does not know of another: parameters that both rest on, theories
   that part over both, leftovers that are alike. What a dyeing of one would teach of the other follows from it. */

export interface PlannedRecipe {
  dyes: number[];
  depthsPct: number[];
}

// Ladders alone show little that theory leaves over, and nothing of what pairs do to each other: for planning, at least so much is
// taken to be left over between recipes.
const LEAST_AMPLITUDE = 1;
const MOST_POINTS = 400;
/** A trial is weighed twice as closely as what a prediction must reckon with. */
const TRIAL_SHARE = 0.25;

/** Covariance of CIELAB between recipes, three rows and columns a recipe, without the noise of a dyeing; and that noise. */
export class JointVariance {
  readonly size: number;
  readonly values: Float64Array;
  /** Variance of one dyeing and reading, three a recipe. */
  readonly noise: Float64Array;

  constructor(model: ColourModel, recipes: readonly PlannedRecipe[], substrate: Float64Array) {
    const theories = modelTheories(model);
    this.size = 3 * recipes.length;
    this.values = new Float64Array(this.size * this.size);
    this.noise = new Float64Array(this.size);
    this.#addTheories(theories, recipes, substrate);
    const residual = planningResidual(model);
    const points = recipes.map(({ dyes, depthsPct }) =>
      theories.point(dyes, depthsPct, theories.of(dyes, depthsPct, substrate).lab),
    );
    this.#addLeftovers(residual, points);
    for (const [i, { dyes, depthsPct }] of recipes.entries()) {
      const depth = theories.depthVariance(dyes, depthsPct, substrate, model.dyes, 0);
      for (let c = 0; c < 3; c += 1) this.noise[3 * i + c] = residual.noise + TRIAL_SHARE * (depth[c] as number);
    }
  }

  at(row: number, column: number): number {
    return this.values[row * this.size + column] as number;
  }

  /** Takes in that a recipe is dyed and read: everything that goes with it is known the better. */
  dye(recipe: number): void {
    const { size, values } = this;
    const gain = this.#gain(recipe);
    const rows = [0, 1, 2].map((c) => values.slice((3 * recipe + c) * size, (3 * recipe + c + 1) * size));
    for (let x = 0; x < size; x += 1) {
      const by = [0, 1, 2].map((d) =>
        [0, 1, 2].reduce((sum, c) => sum + (rows[c]?.[x] as number) * (gain[3 * c + d] as number), 0),
      ) as [number, number, number];
      const to = x * size;
      const [r0, r1, r2] = rows as [Float64Array, Float64Array, Float64Array];
      for (let y = 0; y < size; y += 1) {
        values[to + y] =
          (values[to + y] as number) -
          (by[0] * (r0[y] as number) + by[1] * (r1[y] as number) + by[2] * (r2[y] as number));
      }
    }
  }

  /** By how much a dyeing of `recipe` would lower the variance of `other`, each coordinate times its weight. */
  lowered(recipe: number, other: number, weights: readonly [number, number, number]): number {
    const gain = this.#gain(recipe);
    let sum = 0;
    for (let e = 0; e < 3; e += 1) {
      const row = (3 * other + e) * this.size + 3 * recipe;
      for (let c = 0; c < 3; c += 1) {
        for (let d = 0; d < 3; d += 1) {
          sum +=
            (weights[e] as number) *
            (this.values[row + c] as number) *
            (gain[3 * c + d] as number) *
            (this.values[row + d] as number);
        }
      }
    }
    return sum;
  }

  /** Inverse of the variance of a reading of this recipe, 3 × 3. */
  #gain(recipe: number): number[] {
    const v = (c: number, d: number) =>
      this.at(3 * recipe + c, 3 * recipe + d) + (c === d ? (this.noise[3 * recipe + c] as number) : 0);
    const [a, b, c, e, f, i] = [v(0, 0), v(0, 1), v(0, 2), v(1, 1), v(1, 2), v(2, 2)];
    const A = e * i - f * f;
    const B = c * f - b * i;
    const C = b * f - c * e;
    const determinant = a * A + b * B + c * C;
    const [E, F, I] = [a * i - c * c, b * c - a * f, a * e - b * b];
    return [A, B, C, B, E, F, C, F, I].map((value) => value / determinant);
  }

  #addTheories(theories: Theories, recipes: readonly PlannedRecipe[], substrate: Float64Array): void {
    const views = recipes.map(({ dyes, depthsPct }) => theories.views(dyes, depthsPct, substrate));
    const means = recipes.map(({ dyes, depthsPct }) => theories.of(dyes, depthsPct, substrate).lab);
    for (const [m, { weight, parameters }] of theories.members.entries()) {
      const width = parameters.length;
      for (let x = 0; x < recipes.length; x += 1) {
        const one = views[x]?.[m] as (typeof views)[number][number];
        for (let y = 0; y <= x; y += 1) {
          const other = views[y]?.[m] as (typeof views)[number][number];
          for (let c = 0; c < 3; c += 1) {
            const partOne = (one.lab[c] as number) - (means[x]?.[c] as number);
            for (let d = 0; d < 3; d += 1) {
              let sum = partOne * ((other.lab[d] as number) - (means[y]?.[d] as number));
              if (one.slopes && other.slopes) {
                const { places, rows } = other.slopes;
                const { spread } = one.slopes;
                const length = places.length;
                for (let k = 0; k < length; k += 1) {
                  sum += (spread[c * width + (places[k] as number)] as number) * (rows[d * length + k] as number);
                }
              }
              this.#add(3 * x + c, 3 * y + d, weight * sum);
            }
          }
        }
      }
    }
  }

  #addLeftovers(residual: Residual, points: readonly RecipePoint[]): void {
    const reaches = points.map((point) => residualReach(residual, point));
    for (const [x, one] of points.entries()) {
      const mine = reaches[x] as Float64Array;
      for (let y = 0; y <= x; y += 1) {
        const yours = reaches[y] as Float64Array;
        let known = 0;
        for (let k = 0; k < mine.length; k += 1) known += (mine[k] as number) * (yours[k] as number);
        const left = residual.amplitude * likeness(one, points[y] as RecipePoint) - known;
        for (let c = 0; c < 3; c += 1) this.#add(3 * x + c, 3 * y + c, left);
      }
    }
  }

  #add(row: number, column: number, value: number): void {
    this.values[row * this.size + column] = this.at(row, column) + value;
    if (Math.floor(row / 3) !== Math.floor(column / 3)) {
      this.values[column * this.size + row] = this.at(column, row) + value;
    }
  }
}

function planningResidual(model: ColourModel): Residual {
  const { points, amplitude, noise } = model.residual;
  const step = Math.max(1, points.length / MOST_POINTS);
  const rows = Array.from({ length: Math.min(points.length, MOST_POINTS) }, (_, i) => Math.floor(i * step));
  return learnedWith({
    points: rows.map((i) => points[i] as RecipePoint),
    leftovers: [],
    amplitude: Math.max(LEAST_AMPLITUDE, amplitude),
    noise,
  });
}
