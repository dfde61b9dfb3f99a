import { type Conditions, ILLUMINANTS, OBSERVERS, sameConditions } from '../colour/reading.ts';
import { BAND_COUNT, type BandWeights, bandWeights, labOf, type Member, MemberOptics } from './kubelkaMunk.ts';
import { levelOf, type RecipePoint } from './residual.ts';

/* The theories of a model side by side: each answers, and the answers are averaged by how well each explains the swatches. */

/** Every light that a colour may be asked for under, the model's own first. A rule of our own over the model. */
export function lightsFrom(own: Conditions): Conditions[] {
  const all = ILLUMINANTS.flatMap((illuminant) =>
    OBSERVERS.map((observer): Conditions => ({ illuminant, observerDeg: observer === '2' ? 2 : 10 })),
  );
  return [own, ...all.filter((light) => !sameConditions(light, own))];
}

/** Theory of one recipe: mean over the members and their spread, three channels for each light asked. */
export interface Theory {
  lab: Float64Array;
  /** Variance over the members. */
  spread: Float64Array;
}

// What a weighing and an uptake are off by, as a share of the depth; and by how much more for each e-fold beyond the palest or
// deepest swatch of the dye. Common practice; held-out ends of ladders scale the whole.
const DEPTH_NOISE = 0.04;
const BEYOND_NOISE = 0.25;

export interface DepthRange {
  minDepthPct: number;
  maxDepthPct: number;
}

export class Theories {
  readonly members: readonly Member[];
  readonly optics: MemberOptics[];
  readonly typical: Float64Array;
  readonly lights: Conditions[];
  readonly weights: BandWeights[];
  readonly #covariances: readonly (Float32Array | undefined)[];
  readonly #one = new Float64Array(3);

  constructor(
    members: readonly Member[],
    conditions: Conditions,
    covariances: readonly (Float32Array | undefined)[] = [],
  ) {
    this.members = members;
    this.optics = members.map((member) => new MemberOptics(member, conditions));
    this.typical = (members[0] as Member).typicalDepthPct;
    this.lights = lightsFrom(conditions);
    this.weights = this.lights.map(bandWeights);
    this.#covariances = covariances;
  }

  /** Under the lights of these places; the model's own when left out. */
  of(
    dyes: ArrayLike<number>,
    depthsPct: ArrayLike<number>,
    substrate: ArrayLike<number>,
    lights: readonly number[] = OWN_LIGHT,
  ): Theory {
    const size = 3 * lights.length;
    const lab = new Float64Array(size);
    const squares = new Float64Array(size);
    const amounts = new Float64Array(dyes.length);
    for (const [m, optics] of this.optics.entries()) {
      const { weight } = this.members[m] as Member;
      optics.amounts(dyes, depthsPct, amounts);
      const bands = optics.bands(dyes, amounts, substrate);
      for (const [l, light] of lights.entries()) {
        labOf(bands, this.weights[light] as BandWeights, this.#one, undefined);
        for (let c = 0; c < 3; c += 1) {
          const v = this.#one[c] as number;
          lab[3 * l + c] = (lab[3 * l + c] as number) + weight * v;
          squares[3 * l + c] = (squares[3 * l + c] as number) + weight * v * v;
        }
      }
    }
    const spread = squares.map((v, i) => Math.max(0, v - (lab[i] as number) ** 2));
    return { lab, spread };
  }

  point(dyes: ArrayLike<number>, depthsPct: ArrayLike<number>, lab: ArrayLike<number>): RecipePoint {
    const levels = Float64Array.from(dyes, (dye, j) =>
      levelOf((depthsPct[j] as number) / (this.typical[dye] as number)),
    );
    return { dyes: Uint32Array.from(dyes), levels, theory: Float64Array.from([lab[0] ?? 0, lab[1] ?? 0, lab[2] ?? 0]) };
  }

  /** Variance of theory that comes of what its parameters leave open, J·H⁻¹·Jᵀ averaged over the members, under one light. */
  parameterVariance(
    dyes: ArrayLike<number>,
    depthsPct: ArrayLike<number>,
    substrate: ArrayLike<number>,
    light: number,
  ): Float64Array {
    const out = new Float64Array(3);
    for (const [m, optics] of this.optics.entries()) {
      const covariance = this.#covariances[m];
      if (covariance === undefined || dyes.length === 0) continue;
      const { weight, parameters } = this.members[m] as Member;
      const size = parameters.length;
      const { places, rows } = optics.labSlopes(dyes, depthsPct, substrate, this.weights[light] as BandWeights);
      const length = places.length;
      for (let i = 0; i < length; i += 1) {
        const from = (places[i] as number) * size;
        const [a, b, c] = [rows[i] as number, rows[length + i] as number, rows[2 * length + i] as number];
        let sum0 = 0;
        let sum1 = 0;
        let sum2 = 0;
        for (let j = 0; j < length; j += 1) {
          const by = covariance[from + (places[j] as number)] as number;
          sum0 += by * (rows[j] as number);
          sum1 += by * (rows[length + j] as number);
          sum2 += by * (rows[2 * length + j] as number);
        }
        out[0] = (out[0] as number) + weight * a * sum0;
        out[1] = (out[1] as number) + weight * b * sum1;
        out[2] = (out[2] as number) + weight * c * sum2;
      }
    }
    return out.map((v) => Math.max(0, v));
  }

  /** What each member makes of a recipe under the model's own light, and how its parameters move that: for how recipes vary
   *  together. J·C is as wide as the parameters; without a covariance the parameters are taken for known. */
  views(
    dyes: ArrayLike<number>,
    depthsPct: ArrayLike<number>,
    substrate: ArrayLike<number>,
  ): { lab: Float64Array; slopes?: { places: Uint32Array; rows: Float64Array; spread: Float64Array } }[] {
    const amounts = new Float64Array(dyes.length);
    return this.optics.map((optics, m) => {
      const lab = new Float64Array(3);
      optics.amounts(dyes, depthsPct, amounts);
      optics.colour(dyes, amounts, substrate, lab);
      const covariance = this.#covariances[m];
      if (covariance === undefined || dyes.length === 0) return { lab };
      const size = (this.members[m] as Member).parameters.length;
      const { places, rows } = optics.labSlopes(dyes, depthsPct, substrate, this.weights[0] as BandWeights);
      const length = places.length;
      const spread = new Float64Array(3 * size);
      for (let i = 0; i < length; i += 1) {
        const from = (places[i] as number) * size;
        for (let c = 0; c < 3; c += 1) {
          const by = rows[c * length + i] as number;
          if (by === 0) continue;
          const to = c * size;
          for (let j = 0; j < size; j += 1) {
            spread[to + j] = (spread[to + j] as number) + by * (covariance[from + j] as number);
          }
        }
      }
      return { lab, slopes: { places, rows, spread } };
    });
  }

  /** Variance of the colour that comes of errors of the depths, by the leading member: Σ (∂Lab/∂ln d)²·(0.04² + (0.25 · e-folds
   *  beyond the dye's swatches)²). */
  depthVariance(
    dyes: ArrayLike<number>,
    depthsPct: ArrayLike<number>,
    substrate: ArrayLike<number>,
    ranges: readonly DepthRange[],
    light: number,
  ): Float64Array {
    const out = new Float64Array(3);
    const count = dyes.length;
    if (count === 0) return out;
    const optics = this.optics[0] as MemberOptics;
    const amounts = new Float64Array(count);
    const amountSlopes = new Float64Array(count * count);
    optics.amountSlopes(dyes, depthsPct, amounts, amountSlopes);
    const slopes = optics.slopesUnder(dyes, amounts, substrate, this.weights[light] as BandWeights);
    for (let j = 0; j < count; j += 1) {
      const depth = depthsPct[j] as number;
      const { minDepthPct, maxDepthPct } = ranges[dyes[j] as number] as DepthRange;
      const beyond = Math.max(0, Math.log(minDepthPct / depth), Math.log(depth / maxDepthPct));
      const share = DEPTH_NOISE ** 2 + (BEYOND_NOISE * beyond) ** 2;
      for (let c = 0; c < 3; c += 1) {
        let by = 0;
        for (let i = 0; i < count; i += 1) {
          by += (amountSlopes[i * count + j] as number) * (slopes[c * count + i] as number);
        }
        out[c] = (out[c] as number) + (by * depth) ** 2 * share;
      }
    }
    return out;
  }

  /** Estimated curve of the recipe in the model's bands. */
  curve(dyes: ArrayLike<number>, depthsPct: ArrayLike<number>, substrate: ArrayLike<number>): Float64Array {
    const out = new Float64Array(BAND_COUNT);
    const amounts = new Float64Array(dyes.length);
    for (const [m, optics] of this.optics.entries()) {
      optics.amounts(dyes, depthsPct, amounts);
      const bands = optics.bands(dyes, amounts, substrate);
      const { weight } = this.members[m] as Member;
      for (let b = 0; b < BAND_COUNT; b += 1) out[b] = (out[b] as number) + weight * (bands[b] as number);
    }
    return out;
  }
}

const OWN_LIGHT = [0] as const;
