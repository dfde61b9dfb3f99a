import { CalcError, finiteIn } from '../calcError.ts';
import { type Conditions, conditionsInWords, type Lab } from '../colour/reading.ts';
import { whiteXyz, xyzFromLab } from '../colour/spaces.ts';
import { resampledSpectrum, type Spectrum, tristimulusWeights } from '../colour/spectra.ts';
import { choleskyInPlace, choleskySolve, inverseOf } from './linear.ts';

/* Two-constant Kubelka-Munk theory of coloured goods, learned from dyed samples.

   Each dye has an absorption k(λ) and a scattering s(λ) for each unit of its amount. They are kept in 16 bands, 400–700 nm,
   and fitted to what was read of the samples: to CIELAB always, and to the reflectance curve besides where an instrument gave
   one. Where only Lab is known, k(λ) is the smoothest curve that explains the readings of all the samples in which the dye
   occurs: that is our documented reconstruction, and it beats three colour channels, since mixing happens band by band.

   Per dye:  ln k in 16 bands (second differences penalised: smooth)
             ln s₀ as a polynomial of the third degree over wavelength, and s = s₀ + ρ·k: strong absorbers never fall below a
             floor of reflectance of their own (surface reflection), which k/s → 1/ρ gives
             γ and η, the depth curve: γ for how exhaustion falls with depth (Freundlich), η for how sites fill up (Langmuir)
   For all:  δ, how far dyes that share a bath keep each other off the goods
   Effective amount of a dye, x being depth/typical depth:
             e = x^γ · (1 + η)/(1 + η·x) · (1 + the others' x)^−δ
   How noisy the samples are is learned along with them (τ of `Noise`): with a noise fixed beforehand, what was taken for likely
   before any sample wins over clean data.
   Source: P. Kubelka & F. Munk, Z. techn. Phys. 12 (1931) 593–601; P. Kubelka, J. Opt. Soc. Am. 38 (1948) 448–457. Build-up:
   H. Freundlich, Z. phys. Chem. 57 (1906) 385–470; I. Langmuir, J. Am. Chem. Soc. 40 (1918) 1361–1403. */

export const BAND_COUNT = 16;
const BAND_START_NM = 400;
const BAND_STEP_NM = 20;
const SCATTER_TERMS = 4;
const RHO = BAND_COUNT + SCATTER_TERMS;
const GAMMA = RHO + 1;
const ETA = GAMMA + 1;
/** Parameters of one dye: 16 ln k, 4 terms of ln s₀, ln ρ, γ, ln η. After those of the last dye comes δ. */
export const DYE_PARAMETERS = ETA + 1;

/** `layer`: the colourant lies over the substrate, whose own reflectance shows through. `body`: it sits within the substrate,
 *  whose own scattering it shares, as pigment does in a paste (K/S of two constants). `dye`: the same, and it hardly scatters at
 *  all, as a dye in a thick fibre (K/S adds up). The data say how far each is to be believed; their answers are averaged. */
export const GEOMETRIES = ['dye', 'body', 'layer'] as const;
export type Geometry = (typeof GEOMETRIES)[number];

/** Kubelka-Munk function K/S of an opaque layer, (1 − R)²/2R. R in (0, 1]. Sources: as at the head of this file. */
export function kOverS(reflectance: number): number {
  finiteIn('reflectance', reflectance, { min: 0, exclusiveMin: true, max: 1 });
  return (1 - reflectance) ** 2 / (2 * reflectance);
}

/** Reflectance of an opaque layer of this K/S ≥ 0: the inverse of `kOverS`. Sources: as at the head of this file. */
export function reflectanceFromKOverS(ratio: number): number {
  finiteIn('ratio', ratio, { min: 0 });
  // 1 + q − √(q² + 2q), written so that it does not cancel for large q.
  return 1 / (1 + ratio + Math.sqrt(ratio * ratio + 2 * ratio));
}

/** Reflectance, and how it changes with absorption and scattering. */
interface Reflected {
  R: number;
  dK: number;
  dS: number;
}

/** Layer of absorption K and scattering S (both times thickness) over a substrate of reflectance Rg, in the form
 *  R = (S − Rg(u − w)) / (u − Rg·S + w), u = K + S, w = z·coth z, z² = K(K + 2S), which holds to S = 0 (then R = Rg·e^−2K). */
function layer(K: number, S: number, Rg: number, out: Reflected): void {
  const z2 = K * (K + 2 * S);
  let w: number;
  let dw: number;
  if (z2 < 1e-6) {
    w = 1 + z2 / 3;
    dw = 1 / 3;
  } else {
    const z = Math.sqrt(z2);
    if (z > 18) {
      w = z;
      dw = 0.5 / z;
    } else {
      const e = Math.exp(-2 * z);
      const coth = (1 + e) / (1 - e);
      w = z * coth;
      // d(z coth z)/d(z²) = (coth z − z/sinh² z)/2z
      dw = (coth - (4 * z * e) / ((1 - e) * (1 - e))) / (2 * z);
    }
  }
  const u = K + S;
  const denominator = u - Rg * S + w;
  const R = (S - Rg * (u - w)) / denominator;
  const wK = dw * 2 * u;
  const wS = dw * 2 * K;
  out.R = R;
  out.dK = (-Rg * (1 - wK) - R * (1 + wK)) / denominator;
  out.dS = (1 - Rg * (1 - wS) - R * (1 - Rg + wS)) / denominator;
}

/** Opaque mixture of a substrate (scattering 1, absorption from its own K/S) with K and S of what was added. */
function body(K: number, S: number, Rg: number, out: Reflected): void {
  const whole = 1 + S;
  const q = ((1 - Rg) ** 2 / (2 * Rg) + K) / whole;
  const root = Math.sqrt(q * q + 2 * q);
  const R = 1 / (1 + q + root);
  // dR/dq = 1 − (q + 1)/√(q² + 2q) = −R/√…
  const dq = root > 1e-9 ? -R / root : -1e9;
  out.R = R;
  out.dK = dq / whole;
  out.dS = (-dq * q) / whole;
}

/** Reflectance of a colourant layer over a substrate. K, S ≥ 0 (times thickness), Rg in [0, 1]. Sources: as at the head of this file. */
export function layerReflectance({ K, S, Rg }: { K: number; S: number; Rg: number }): number {
  finiteIn('K', K, { min: 0 });
  finiteIn('S', S, { min: 0 });
  finiteIn('Rg', Rg, { min: 0, max: 1 });
  const out = { R: 0, dK: 0, dS: 0 };
  layer(K, S, Rg, out);
  return out.R;
}

/** Bands to colour under some conditions. */
export interface BandWeights {
  x: Float64Array;
  y: Float64Array;
  z: Float64Array;
}

const weightsOfLight = new Map<string, BandWeights>();

/** Weights of the bands under these conditions; reckoned once for each, from tables by the nanometre.
 *  Sources: as at the head of this file. */
export function bandWeights(conditions: Conditions): BandWeights {
  const key = conditionsInWords(conditions);
  const known = weightsOfLight.get(key);
  if (known !== undefined) return known;
  const { X, Y, Z, white } = tristimulusWeights({
    conditions,
    startNm: BAND_START_NM,
    stepNm: BAND_STEP_NM,
    count: BAND_COUNT,
  });
  const weights = { x: X.map((v) => v / white.X), y: Y.map((v) => v / white.Y), z: Z.map((v) => v / white.Z) };
  weightsOfLight.set(key, weights);
  return weights;
}

/** CIELAB of the bands of a reflectance curve. Sources: CIE 15:2018, with weights as bandWeights. */
export function labFromBands({
  reflectance,
  conditions,
}: {
  reflectance: ArrayLike<number>;
  conditions: Conditions;
}): Lab {
  const weights = bandWeights(conditions);
  const lab = new Float64Array(3);
  labOf(reflectance, weights, lab, undefined);
  return { L: lab[0] as number, a: lab[1] as number, b: lab[2] as number };
}

const LAB_LIMIT = 216 / 24389;
const LAB_SLOPE = 24389 / 27;

/** Lab of the bands into `lab`; with `slopes` also dLab/dR, 3 × 16. Sources: as at the head of this file. */
export function labOf(
  R: ArrayLike<number>,
  weights: BandWeights,
  lab: Float64Array,
  slopes: Float64Array | undefined,
): void {
  let X = 0;
  let Y = 0;
  let Z = 0;
  for (let b = 0; b < BAND_COUNT; b += 1) {
    const r = R[b] as number;
    X += r * (weights.x[b] as number);
    Y += r * (weights.y[b] as number);
    Z += r * (weights.z[b] as number);
  }
  const fx = labF(X);
  const fy = labF(Y);
  const fz = labF(Z);
  lab[0] = 116 * fy - 16;
  lab[1] = 500 * (fx - fy);
  lab[2] = 200 * (fy - fz);
  if (slopes === undefined) return;
  const gx = labFSlope(X, fx);
  const gy = labFSlope(Y, fy);
  const gz = labFSlope(Z, fz);
  for (let b = 0; b < BAND_COUNT; b += 1) {
    const x = gx * (weights.x[b] as number);
    const y = gy * (weights.y[b] as number);
    slopes[b] = 116 * y;
    slopes[BAND_COUNT + b] = 500 * (x - y);
    slopes[2 * BAND_COUNT + b] = 200 * (y - gz * (weights.z[b] as number));
  }
}

const labF = (t: number): number => (t > LAB_LIMIT ? Math.cbrt(t) : (LAB_SLOPE * t + 16) / 116);
const labFSlope = (t: number, f: number): number => (t > LAB_LIMIT ? 1 / (3 * f * f) : LAB_SLOPE / 116);

/** Reflectance in the model's bands of an instrument's curve. Sources: as at the head of this file. */
export function bandsFromSpectrum(spectrum: Spectrum): Float64Array {
  const { reflectance } = resampledSpectrum({
    spectrum,
    startNm: BAND_START_NM,
    stepNm: BAND_STEP_NM,
    count: BAND_COUNT,
  });
  return Float64Array.from(reflectance as number[], (r) => Math.min(1.2, Math.max(1e-4, r)));
}

/** A smooth reflectance curve that has this Lab: least second differences of the logit, found by damped Gauss-Newton. An
 *  estimate among many metamers; for undyed substrate, which is near-white, the choice hardly matters.
 *  Sources: as at the head of this file. */
export function bandsFromLab({ lab, conditions }: { lab: Lab; conditions: Conditions }): Float64Array {
  const weights = bandWeights(conditions);
  const Y = xyzFromLab({ lab, white: whiteXyz(conditions) }).Y / 100;
  const start = Math.min(0.97, Math.max(0.01, Y));
  const z = new Float64Array(BAND_COUNT).fill(Math.log(start / (1 - start)));
  const R = new Float64Array(BAND_COUNT);
  const slopes = new Float64Array(3 * BAND_COUNT);
  const now = new Float64Array(3);
  const goal = [lab.L, lab.a, lab.b];
  const H = new Float64Array(BAND_COUNT * BAND_COUNT);
  const g = new Float64Array(BAND_COUNT);
  for (let pass = 0; pass < 40; pass += 1) {
    for (let b = 0; b < BAND_COUNT; b += 1) R[b] = 1 / (1 + Math.exp(-(z[b] as number)));
    labOf(R, weights, now, slopes);
    H.fill(0);
    g.fill(0);
    addSecondDifferences(H, g, z, BAND_COUNT, 0, 1, 1e-4);
    for (let r = 0; r < 3; r += 1) {
      const off = (now[r] as number) - (goal[r] as number);
      for (let i = 0; i < BAND_COUNT; i += 1) {
        const ri = (slopes[r * BAND_COUNT + i] as number) * (R[i] as number) * (1 - (R[i] as number));
        g[i] = (g[i] as number) + 30 * ri * off;
        for (let j = 0; j <= i; j += 1) {
          const rj = (slopes[r * BAND_COUNT + j] as number) * (R[j] as number) * (1 - (R[j] as number));
          H[i * BAND_COUNT + j] = (H[i * BAND_COUNT + j] as number) + 30 * ri * rj;
        }
      }
    }
    if (!choleskyInPlace(H, BAND_COUNT)) break;
    choleskySolve(H, BAND_COUNT, g);
    let moved = 0;
    for (let b = 0; b < BAND_COUNT; b += 1) {
      const step = Math.max(-1, Math.min(1, g[b] as number));
      z[b] = (z[b] as number) - step;
      moved = Math.max(moved, Math.abs(step));
    }
    if (moved < 1e-6) break;
  }
  return R;
}

/** Adds weight·|D²v|² + ridge·|v|² to a normal system (lower triangle) at `offset`; returns the penalty. */
function addSecondDifferences(
  H: Float64Array,
  g: Float64Array,
  v: Float64Array,
  size: number,
  offset: number,
  weight: number,
  ridge: number,
): number {
  let penalty = 0;
  for (let b = 0; b < BAND_COUNT; b += 1) {
    const at = offset + b;
    const value = v[at] as number;
    penalty += ridge * value * value;
    H[at * size + at] = (H[at * size + at] as number) + ridge;
    g[at] = (g[at] as number) + ridge * value;
    if (b < 2) continue;
    const d = value - 2 * (v[at - 1] as number) + (v[at - 2] as number);
    penalty += weight * d * d;
    for (const [i, ci] of SECOND_DIFFERENCE) {
      g[at + i] = (g[at + i] as number) + weight * ci * d;
      for (const [j, cj] of SECOND_DIFFERENCE) {
        if (j > i) continue;
        H[(at + i) * size + at + j] = (H[(at + i) * size + at + j] as number) + weight * ci * cj;
      }
    }
  }
  return penalty;
}
const SECOND_DIFFERENCE: readonly [number, number][] = [
  [0, 1],
  [-1, -2],
  [-2, 1],
];

// Legendre polynomials over the bands, so that the terms of ln s₀ do not fight each other.
const SCATTER_BASIS = (() => {
  const out = new Float64Array(BAND_COUNT * SCATTER_TERMS);
  for (let b = 0; b < BAND_COUNT; b += 1) {
    const x = (2 * b) / (BAND_COUNT - 1) - 1;
    out.set([1, x, (3 * x * x - 1) / 2, (5 * x ** 3 - 3 * x) / 2], b * SCATTER_TERMS);
  }
  return out;
})();

/** Samples in arrays. Components of sample n are those from start[n] to start[n + 1], by rising dye. */
export interface SampleTable {
  count: number;
  dyeCount: number;
  start: Uint32Array;
  dye: Uint32Array;
  depthPct: Float64Array;
  /** 3 for each sample. */
  lab: Float64Array;
  /** 16 for each sample; without meaning where `hasBands` is 0. */
  bands: Float64Array;
  hasBands: Uint8Array;
  /** 16 for each sample: its undyed substrate. */
  substrate: Float64Array;
}

/** What is taken for likely before any sample: the middle of ln s₀ and of ln(mean k), per typical depth. Dyes that were only
 *  seen alone over one substrate leave both open, so several priors are learned side by side and averaged. */
export interface Prior {
  geometry: Geometry;
  scatter: number;
  lnStrength: number;
}

/** How far readings scatter about theory, as multiples of NOISE_LAB and NOISE_BANDS, and what the dyes have in common: the
 *  middles that each dye's ln ρ, γ and ln η are pulled to. */
export interface Noise {
  lab: number;
  bands: number;
  lnRho: number;
  gamma: number;
  lnEta: number;
}

export interface Member {
  prior: Prior;
  noise: Noise;
  /** DYE_PARAMETERS for each dye, and δ. */
  parameters: Float64Array;
  typicalDepthPct: Float64Array;
  /** Penalised misfit of all samples. */
  cost: number;
  /** Share of this member in the answers; those of a model add up to 1. */
  weight: number;
}

/* Weights of the fit, in units of the misfit: what theory and reading together leave open. Settled by cross-validation on
   measured watercolour layers (Chen et al., arXiv:1904.00275), so that the bench's figures on that set are a little kind. */
const NOISE_LAB = 4;
const NOISE_BANDS = 0.4;
const DARK = 0.003;
/** Misfit (6 CIELAB units) from which on a sample pulls no harder: a mistyped card must not bend the dye. */
const GROSS = 1.5;
const SMOOTH = 0.5;
const RIDGE = 1e-3;
const WEIGHT_SCATTER: Record<Geometry, number> = { dye: 20, body: 5, layer: 5 };
const WEIGHT_SCATTER_SHAPE = 4;
const WEIGHT_STRENGTH = 5;
const WEIGHT_RHO = 10;
const LN_RHO = Math.log(0.06);
const WEIGHT_GAMMA = 100;
const WEIGHT_ETA = 1;
const LN_ETA = Math.log(0.05);
/** As good as no filling-up: what a layer is held to. */
const LN_NO_ETA = -30;
const DELTA: Record<Geometry, { middle: number; weight: number }> = {
  dye: { middle: 0.05, weight: 25 },
  body: { middle: 0.05, weight: 25 },
  layer: { middle: 0, weight: 20 },
};

const noiseBefore = (geometry: Geometry): Noise => ({
  lab: 1,
  bands: 1,
  lnRho: LN_RHO,
  gamma: 1,
  lnEta: geometry === 'layer' ? LN_NO_ETA : LN_ETA,
});

/** Geometric mean of the depths at which each dye occurs: the unit of its amounts. Sources: as at the head of this file. */
export function typicalDepths(samples: SampleTable): Float64Array {
  const sum = new Float64Array(samples.dyeCount);
  const seen = new Float64Array(samples.dyeCount);
  for (let i = 0; i < samples.dye.length; i += 1) {
    const dye = samples.dye[i] as number;
    sum[dye] = (sum[dye] as number) + Math.log(samples.depthPct[i] as number);
    seen[dye] = (seen[dye] as number) + 1;
  }
  return sum.map((total, dye) => ((seen[dye] as number) > 0 ? Math.exp(total / (seen[dye] as number)) : 1));
}

/** Scratch of one evaluation, so that the hot path does not allocate. */
class Scratch {
  readonly K = new Float64Array(BAND_COUNT);
  readonly S = new Float64Array(BAND_COUNT);
  readonly R = new Float64Array(BAND_COUNT);
  readonly RK = new Float64Array(BAND_COUNT);
  readonly RS = new Float64Array(BAND_COUNT);
  readonly lab = new Float64Array(3);
  readonly slopes = new Float64Array(3 * BAND_COUNT);
  readonly reflected: Reflected = { R: 0, dK: 0, dS: 0 };

  reflect(geometry: Geometry, substrate: ArrayLike<number>, offset: number): void {
    const optics = geometry === 'layer' ? layer : body;
    for (let b = 0; b < BAND_COUNT; b += 1) {
      optics(this.K[b] as number, this.S[b] as number, substrate[offset + b] as number, this.reflected);
      this.R[b] = Math.max(1e-5, this.reflected.R);
      this.RK[b] = this.reflected.dK;
      this.RS[b] = this.reflected.dS;
    }
  }
}

/** k, s₀ and ρ of each dye unfolded from its parameters. */
interface Unfolded {
  k: Float64Array;
  s0: Float64Array;
  rho: Float64Array;
  /** s₀ + ρ·k */
  s: Float64Array;
  gamma: Float64Array;
  eta: Float64Array;
  delta: number;
}

/** The dyes as numbers again, from the parameters that are fitted. A rule of our own. */
export function unfoldDyes(parameters: Float64Array): Unfolded {
  const dyeCount = Math.floor(parameters.length / DYE_PARAMETERS);
  const k = new Float64Array(dyeCount * BAND_COUNT);
  const s0 = new Float64Array(dyeCount * BAND_COUNT);
  const s = new Float64Array(dyeCount * BAND_COUNT);
  const rho = new Float64Array(dyeCount);
  const gamma = new Float64Array(dyeCount);
  const eta = new Float64Array(dyeCount);
  for (let dye = 0; dye < dyeCount; dye += 1) {
    const at = dye * DYE_PARAMETERS;
    rho[dye] = Math.exp(parameters[at + RHO] as number);
    gamma[dye] = parameters[at + GAMMA] as number;
    eta[dye] = Math.exp(parameters[at + ETA] as number);
    for (let b = 0; b < BAND_COUNT; b += 1) {
      let lnScatter = 0;
      for (let m = 0; m < SCATTER_TERMS; m += 1) {
        lnScatter += (parameters[at + BAND_COUNT + m] as number) * (SCATTER_BASIS[b * SCATTER_TERMS + m] as number);
      }
      const i = dye * BAND_COUNT + b;
      k[i] = Math.exp(parameters[at + b] as number);
      s0[i] = Math.exp(lnScatter);
      s[i] = (s0[i] as number) + (rho[dye] as number) * (k[i] as number);
    }
  }
  return { k, s0, rho, s, gamma, eta, delta: parameters[dyeCount * DYE_PARAMETERS] as number };
}

/** Normal equations of a fit: H (lower triangle, row after row) and gradient g. */
export interface NormalSystem {
  H: Float64Array;
  g: Float64Array;
}

/** ln of (1 + η)/(1 + η·x). */
const fillingUp = (eta: number, x: number): number => Math.log1p(eta) - Math.log1p(eta * x);
/** Its slope by ln η. */
const fillingSlope = (eta: number, x: number): number => eta / (1 + eta) - (eta * x) / (1 + eta * x);

/** Slopes of Lab by the parameters of one sample's dyes into J (3 rows of `count` × DYE_PARAMETERS) and by δ into `byDelta`.
 *  `bench` holds what `reflect` and `labOf` left there; E, X, own and Z are the amounts of the dyes, their logarithms, their
 *  depths in typical ones, and ln(1 + the others'). */
function labJacobian(
  of: {
    dyes: ArrayLike<number>;
    from: number;
    count: number;
    E: Float64Array;
    X: Float64Array;
    own: Float64Array;
    Z: Float64Array;
    by: readonly [number, number, number];
  },
  unfolded: Unfolded,
  bench: Scratch,
  J: Float64Array,
  byDelta: Float64Array,
): void {
  const { dyes, from, count, E, X, own, Z, by } = of;
  const { RK, RS, slopes } = bench;
  const stride = count * DYE_PARAMETERS;
  for (let r = 0; r < 3; r += 1) {
    const weight = by[r] as number;
    let shared = 0;
    for (let j = 0; j < count; j += 1) {
      const dye = dyes[from + j] as number;
      const e = E[j] as number;
      const rho = unfolded.rho[dye] as number;
      const at = r * stride + j * DYE_PARAMETERS;
      let sum0 = 0;
      let sum1 = 0;
      let sum2 = 0;
      let sum3 = 0;
      let sumRho = 0;
      let sumAll = 0;
      for (let b = 0; b < BAND_COUNT; b += 1) {
        const i = dye * BAND_COUNT + b;
        const slope = weight * (slopes[r * BAND_COUNT + b] as number);
        const byS = slope * (RS[b] as number) * e;
        const byFloor = byS * rho * (unfolded.k[i] as number);
        const byK = slope * (RK[b] as number) * e * (unfolded.k[i] as number) + byFloor;
        const byS0 = byS * (unfolded.s0[i] as number);
        J[at + b] = byK;
        const basis = b * SCATTER_TERMS;
        sum0 += byS0 * (SCATTER_BASIS[basis] as number);
        sum1 += byS0 * (SCATTER_BASIS[basis + 1] as number);
        sum2 += byS0 * (SCATTER_BASIS[basis + 2] as number);
        sum3 += byS0 * (SCATTER_BASIS[basis + 3] as number);
        sumRho += byFloor;
        sumAll += byK + byS0;
      }
      J[at + BAND_COUNT] = sum0;
      J[at + BAND_COUNT + 1] = sum1;
      J[at + BAND_COUNT + 2] = sum2;
      J[at + BAND_COUNT + 3] = sum3;
      J[at + RHO] = sumRho;
      J[at + GAMMA] = sumAll * (X[j] as number);
      J[at + ETA] = sumAll * fillingSlope(unfolded.eta[dye] as number, own[j] as number);
      shared -= sumAll * (Z[j] as number);
    }
    byDelta[r] = shared;
  }
}

/** Weight of a sample that is so far off, and the loss that has these weights: Huber, Ann. Math. Statist. 35 (1964) 73–101. */
const trustIn = (off: number): number => (off > GROSS ? GROSS / off : 1);
const lossOf = (off: number): number => (off > GROSS ? GROSS * (2 * off - GROSS) : off * off);

/** Misfit and penalties of these parameters; with `system` also its normal equations (lower triangle). With `rows` only the
 *  misfit of these samples, without the penalties. Long because one pass over the samples makes both. */
function misfit(
  samples: SampleTable,
  { prior, noise }: Pick<Member, 'prior' | 'noise'>,
  typical: Float64Array,
  parameters: Float64Array,
  weights: BandWeights,
  bench: Scratch,
  system: NormalSystem | undefined,
  rows?: ArrayLike<number>,
): number {
  const size = parameters.length;
  const dyes = unfoldDyes(parameters);
  const { K, S, R, RK, RS, lab, slopes } = bench;
  let cost = 0;
  if (system !== undefined) {
    system.H.fill(0);
    system.g.fill(0);
  }
  let width = 0;
  for (let n = 0; n < samples.count; n += 1) {
    width = Math.max(width, (samples.start[n + 1] as number) - (samples.start[n] as number));
  }
  const E = new Float64Array(width);
  const X = new Float64Array(width);
  const O = new Float64Array(width);
  // ln(1 + the others' amounts): the slope of ln e by −δ.
  const Z = new Float64Array(width);
  const deltaAt = size - 1;
  const J = new Float64Array(3 * width * DYE_PARAMETERS);
  const byDelta = new Float64Array(3);
  const perBand = SCATTER_TERMS + 4;
  const noiseLab = NOISE_LAB * noise.lab;
  const noiseBands = NOISE_BANDS * noise.bands;
  const bandIndex = new Uint32Array(width * perBand + 1);
  const bandValue = new Float64Array(width * perBand + 1);

  const sampleCount = rows?.length ?? samples.count;
  for (let place = 0; place < sampleCount; place += 1) {
    const n = rows === undefined ? place : (rows[place] as number);
    const from = samples.start[n] as number;
    const count = (samples.start[n + 1] as number) - from;
    K.fill(0);
    S.fill(0);
    let total = 0;
    for (let j = 0; j < count; j += 1) {
      total += (samples.depthPct[from + j] as number) / (typical[samples.dye[from + j] as number] as number);
    }
    for (let j = 0; j < count; j += 1) {
      const dye = samples.dye[from + j] as number;
      const own = (samples.depthPct[from + j] as number) / (typical[dye] as number);
      O[j] = own;
      X[j] = Math.log(own);
      Z[j] = count === 1 ? 0 : Math.log1p(Math.max(0, total - own));
      E[j] = Math.exp(
        (X[j] as number) * (dyes.gamma[dye] as number) +
          fillingUp(dyes.eta[dye] as number, own) -
          dyes.delta * (Z[j] as number),
      );
      for (let b = 0; b < BAND_COUNT; b += 1) {
        const i = dye * BAND_COUNT + b;
        K[b] = (K[b] as number) + (E[j] as number) * (dyes.k[i] as number);
        S[b] = (S[b] as number) + (E[j] as number) * (dyes.s[i] as number);
      }
    }
    bench.reflect(prior.geometry, samples.substrate, n * BAND_COUNT);
    labOf(R, weights, lab, system === undefined ? undefined : slopes);
    const seenL = samples.lab[3 * n] as number;
    const seenA = samples.lab[3 * n + 1] as number;
    const seenB = samples.lab[3 * n + 2] as number;
    // Chroma and hue weigh less in strong colours, about as in CIEDE2000.
    const wL = 1 / noiseLab;
    const wC = wL / (1 + 0.03 * Math.hypot(seenA, seenB));
    const norm =
      wL *
      Math.hypot(
        (lab[0] as number) - seenL,
        (wC / wL) * ((lab[1] as number) - seenA),
        (wC / wL) * ((lab[2] as number) - seenB),
      );
    const trust = trustIn(norm);
    const root = Math.sqrt(trust);
    const r0 = root * wL * ((lab[0] as number) - seenL);
    const r1 = root * wC * ((lab[1] as number) - seenA);
    const r2 = root * wC * ((lab[2] as number) - seenB);
    cost += lossOf(norm);
    const withBands = samples.hasBands[n] === 1;
    if (withBands) {
      for (let b = 0; b < BAND_COUNT; b += 1) {
        const r =
          (Math.cbrt((R[b] as number) + DARK) - Math.cbrt((samples.bands[n * BAND_COUNT + b] as number) + DARK)) /
          noiseBands;
        cost += trust * r * r;
      }
    }
    if (system === undefined) continue;

    const { H, g } = system;
    const stride = count * DYE_PARAMETERS;
    labJacobian(
      { dyes: samples.dye, from, count, E, X, own: O, Z, by: [root * wL, root * wC, root * wC] },
      dyes,
      bench,
      J,
      byDelta,
    );
    const d0 = byDelta[0] as number;
    const d1 = byDelta[1] as number;
    const d2 = byDelta[2] as number;
    const deltaRow = deltaAt * size;
    g[deltaAt] = (g[deltaAt] as number) + d0 * r0 + d1 * r1 + d2 * r2;
    H[deltaRow + deltaAt] = (H[deltaRow + deltaAt] as number) + d0 * d0 + d1 * d1 + d2 * d2;
    for (let j = 0; j < count; j += 1) {
      const gj = (samples.dye[from + j] as number) * DYE_PARAMETERS;
      for (let p = 0; p < DYE_PARAMETERS; p += 1) {
        const lp = j * DYE_PARAMETERS + p;
        const a0 = J[lp] as number;
        const a1 = J[stride + lp] as number;
        const a2 = J[2 * stride + lp] as number;
        g[gj + p] = (g[gj + p] as number) + a0 * r0 + a1 * r1 + a2 * r2;
        H[deltaRow + gj + p] = (H[deltaRow + gj + p] as number) + a0 * d0 + a1 * d1 + a2 * d2;
        const row = (gj + p) * size;
        for (let i = 0; i <= j; i += 1) {
          const gi = (samples.dye[from + i] as number) * DYE_PARAMETERS;
          const last = i === j ? p : DYE_PARAMETERS - 1;
          const li = i * DYE_PARAMETERS;
          for (let q = 0; q <= last; q += 1) {
            H[row + gi + q] =
              (H[row + gi + q] as number) +
              a0 * (J[li + q] as number) +
              a1 * (J[stride + li + q] as number) +
              a2 * (J[2 * stride + li + q] as number);
          }
        }
      }
    }
    if (!withBands) continue;
    for (let b = 0; b < BAND_COUNT; b += 1) {
      const f = Math.cbrt((R[b] as number) + DARK);
      const r = (root * (f - Math.cbrt((samples.bands[n * BAND_COUNT + b] as number) + DARK))) / noiseBands;
      const slope = root / (3 * f * f * noiseBands);
      let shared = 0;
      for (let j = 0; j < count; j += 1) {
        const dye = samples.dye[from + j] as number;
        const i = dye * BAND_COUNT + b;
        const at = dye * DYE_PARAMETERS;
        const byS = slope * (RS[b] as number) * (E[j] as number);
        const byFloor = byS * (dyes.rho[dye] as number) * (dyes.k[i] as number);
        const byK = slope * (RK[b] as number) * (E[j] as number) * (dyes.k[i] as number) + byFloor;
        const byS0 = byS * (dyes.s0[i] as number);
        const o = j * perBand;
        bandIndex[o] = at + b;
        bandValue[o] = byK;
        for (let m = 0; m < SCATTER_TERMS; m += 1) {
          bandIndex[o + 1 + m] = at + BAND_COUNT + m;
          bandValue[o + 1 + m] = byS0 * (SCATTER_BASIS[b * SCATTER_TERMS + m] as number);
        }
        bandIndex[o + 1 + SCATTER_TERMS] = at + RHO;
        bandValue[o + 1 + SCATTER_TERMS] = byFloor;
        bandIndex[o + 2 + SCATTER_TERMS] = at + GAMMA;
        bandValue[o + 2 + SCATTER_TERMS] = (byK + byS0) * (X[j] as number);
        bandIndex[o + 3 + SCATTER_TERMS] = at + ETA;
        bandValue[o + 3 + SCATTER_TERMS] = (byK + byS0) * fillingSlope(dyes.eta[dye] as number, O[j] as number);
        shared -= (byK + byS0) * (Z[j] as number);
      }
      bandIndex[count * perBand] = deltaAt;
      bandValue[count * perBand] = shared;
      const filled = count * perBand + 1;
      for (let p = 0; p < filled; p += 1) {
        const index = bandIndex[p] as number;
        const value = bandValue[p] as number;
        g[index] = (g[index] as number) + value * r;
        const row = index * size;
        // Indices rise within a sample, so q ≤ p is the lower triangle.
        for (let q = 0; q <= p; q += 1) {
          const column = row + (bandIndex[q] as number);
          H[column] = (H[column] as number) + value * (bandValue[q] as number);
        }
      }
    }
  }

  if (rows !== undefined) return cost;
  const H = system?.H ?? new Float64Array(0);
  const g = system?.g ?? new Float64Array(0);
  const lnScatter = Math.log(prior.scatter);
  const pull = (index: number, middle: number, weight: number) => {
    const off = (parameters[index] as number) - middle;
    cost += weight * off * off;
    if (system === undefined) return;
    H[index * size + index] = (H[index * size + index] as number) + weight;
    g[index] = (g[index] as number) + weight * off;
  };
  pull(deltaAt, DELTA[prior.geometry].middle, DELTA[prior.geometry].weight);
  for (let dye = 0; dye < samples.dyeCount; dye += 1) {
    const at = dye * DYE_PARAMETERS;
    pull(at + BAND_COUNT, lnScatter, WEIGHT_SCATTER[prior.geometry]);
    for (let m = 1; m < SCATTER_TERMS; m += 1) pull(at + BAND_COUNT + m, 0, WEIGHT_SCATTER_SHAPE);
    pull(at + RHO, noise.lnRho, WEIGHT_RHO);
    pull(at + GAMMA, noise.gamma, WEIGHT_GAMMA);
    pull(at + ETA, noise.lnEta, WEIGHT_ETA);
    let total = 0;
    for (let b = 0; b < BAND_COUNT; b += 1) total += dyes.k[dye * BAND_COUNT + b] as number;
    const off = Math.log(total / BAND_COUNT) - prior.lnStrength;
    cost += WEIGHT_STRENGTH * off * off;
    if (system === undefined) {
      cost += secondDifferencePenalty(parameters, at);
      continue;
    }
    for (let b = 0; b < BAND_COUNT; b += 1) {
      const share = (dyes.k[dye * BAND_COUNT + b] as number) / total;
      g[at + b] = (g[at + b] as number) + WEIGHT_STRENGTH * off * share;
      const row = (at + b) * size + at;
      for (let c = 0; c <= b; c += 1) {
        H[row + c] =
          (H[row + c] as number) + (WEIGHT_STRENGTH * share * (dyes.k[dye * BAND_COUNT + c] as number)) / total;
      }
    }
    cost += addSecondDifferences(H, g, parameters, size, at, SMOOTH, RIDGE);
  }
  return cost;
}

function secondDifferencePenalty(v: Float64Array, offset: number): number {
  let penalty = 0;
  for (let b = 0; b < BAND_COUNT; b += 1) {
    const value = v[offset + b] as number;
    penalty += RIDGE * value * value;
    if (b < 2) continue;
    const d = value - 2 * (v[offset + b - 1] as number) + (v[offset + b - 2] as number);
    penalty += SMOOTH * d * d;
  }
  return penalty;
}

/** First guess of ln k: from the palest samples of the dye alone, as if nothing scattered. */
function firstGuess(samples: SampleTable, prior: Prior, typical: Float64Array, conditions: Conditions): Float64Array {
  const out = new Float64Array(samples.dyeCount * DYE_PARAMETERS + 1);
  const start = noiseBefore(prior.geometry);
  out[out.length - 1] = DELTA[prior.geometry].middle;
  const alone: number[][] = Array.from({ length: samples.dyeCount }, () => []);
  for (let n = 0; n < samples.count; n += 1) {
    const from = samples.start[n] as number;
    if ((samples.start[n + 1] as number) - from === 1) alone[samples.dye[from] as number]?.push(n);
  }
  for (let dye = 0; dye < samples.dyeCount; dye += 1) {
    const at = dye * DYE_PARAMETERS;
    out[at + BAND_COUNT] = Math.log(prior.scatter);
    out[at + RHO] = start.lnRho;
    out[at + GAMMA] = start.gamma;
    out[at + ETA] = start.lnEta;
    const depthOf = (n: number) => samples.depthPct[samples.start[n] as number] as number;
    const palest = (alone[dye] ?? []).sort((a, b) => depthOf(a) - depthOf(b)).slice(0, 3);
    if (palest.length === 0) {
      out.fill(prior.lnStrength, at, at + BAND_COUNT);
      continue;
    }
    const sum = new Float64Array(BAND_COUNT);
    for (const n of palest) {
      const R =
        samples.hasBands[n] === 1
          ? samples.bands.subarray(n * BAND_COUNT, (n + 1) * BAND_COUNT)
          : bandsFromLab({
              lab: {
                L: samples.lab[3 * n] as number,
                a: samples.lab[3 * n + 1] as number,
                b: samples.lab[3 * n + 2] as number,
              },
              conditions,
            });
      const amount = depthOf(n) / (typical[dye] as number);
      for (let b = 0; b < BAND_COUNT; b += 1) {
        const r = Math.max(0.003, R[b] as number);
        const Rg = samples.substrate[n * BAND_COUNT + b] as number;
        const k =
          prior.geometry === 'layer'
            ? Math.log(Math.max(1.02, Rg / r)) / 2
            : Math.max(0.005, (1 - Math.min(r, 0.99)) ** 2 / (2 * r) - (1 - Rg) ** 2 / (2 * Rg));
        sum[b] = (sum[b] as number) + k / amount;
      }
    }
    for (let b = 0; b < BAND_COUNT; b += 1) out[at + b] = Math.log(Math.max(0.01, (sum[b] as number) / palest.length));
  }
  return out;
}

// Longest step, lowest, highest.
const DELTA_RANGE = [0.1, -0.3, 0.9] as const;
const GAMMA_RANGE = [0.15, 0.3, 2] as const;
const ETA_RANGE = [0.7, LN_NO_ETA, 3] as const;
const LOGARITHM_RANGE = [0.7, -9, 9] as const;

function rangeOf(i: number, size: number): readonly [number, number, number] {
  if (i === size - 1) return DELTA_RANGE;
  const p = i % DYE_PARAMETERS;
  return p === GAMMA ? GAMMA_RANGE : p === ETA ? ETA_RANGE : LOGARITHM_RANGE;
}

/** Parameters moved by −`move`, no farther at once and no further out than each may go. */
function movedBy(parameters: Float64Array, move: Float64Array): Float64Array {
  const out = parameters.slice();
  for (let i = 0; i < out.length; i += 1) {
    const [limit, low, high] = rangeOf(i, out.length);
    out[i] = Math.max(low, Math.min(high, (out[i] as number) - Math.max(-limit, Math.min(limit, move[i] as number))));
  }
  return out;
}

/** Learns the dyes of these samples under one prior and with this noise, by damped Gauss-Newton (Levenberg-Marquardt). `from`
 *  warm-starts it. Sources: as at the head of this file. */
export function fitMember(input: {
  samples: SampleTable;
  prior: Prior;
  noise?: Noise;
  conditions: Conditions;
  typicalDepthPct: Float64Array;
  from?: Float64Array;
  maxSteps: number;
  /** Ends once a step gains less than this share of the misfit. */
  leastGain?: number;
}): Member {
  const { samples, prior, typicalDepthPct: typical, leastGain = 3e-4 } = input;
  if (samples.count === 0) throw new CalcError('missing', 'swatches', 'there are no swatches to learn from');
  const under = { prior, noise: input.noise ?? noiseBefore(prior.geometry) };
  const weights = bandWeights(input.conditions);
  const bench = new Scratch();
  let parameters = input.from?.slice() ?? firstGuess(samples, prior, typical, input.conditions);
  const size = parameters.length;
  const system = { H: new Float64Array(size * size), g: new Float64Array(size) };
  const trialMatrix = new Float64Array(size * size);
  let damping = 1e-2;
  let cost = misfit(samples, under, typical, parameters, weights, bench, system);
  for (let step = 0; step < input.maxSteps; step += 1) {
    trialMatrix.set(system.H);
    for (let i = 0; i < size; i += 1) {
      const at = i * size + i;
      trialMatrix[at] = (trialMatrix[at] as number) * (1 + damping) + damping * 1e-6;
    }
    const move = system.g.slice();
    let trial = parameters;
    let trialCost = Number.POSITIVE_INFINITY;
    if (choleskyInPlace(trialMatrix, size)) {
      choleskySolve(trialMatrix, size, move);
      trial = movedBy(parameters, move);
      trialCost = misfit(samples, under, typical, trial, weights, bench, undefined);
    }
    if (trialCost < cost) {
      const gain = (cost - trialCost) / cost;
      parameters = trial;
      cost = trialCost;
      damping = Math.max(1e-7, damping / 4);
      if (gain < leastGain) break;
      if (step + 1 < input.maxSteps) misfit(samples, under, typical, parameters, weights, bench, system);
    } else {
      damping *= 6;
      if (damping > 1e8) break;
    }
  }
  return { ...under, parameters, typicalDepthPct: typical, cost, weight: 1 };
}

// Twice the scatter, so that what theory leaves over in common is not taken for certain; never under these.
const SCATTERS = 2;
const LEAST_NOISE_LAB = 0.12;
const LEAST_NOISE_BANDS = 0.06;
const NOISE_ROUNDS = 6;
/** Each round starts near where it will end. */
const ROUND = { maxSteps: 8, leastGain: 2e-3 };
/** Relative change of the noise from which on it is learned. */
const NOISE_SETTLED = 0.08;
/** How many dyes' worth the middles from before any sample count. */
const MIDDLE_COUNTS = 2;

/** Root mean square misfit of these samples in units of NOISE_LAB and NOISE_BANDS, gross ones trusted the less. */
function scatterOf(samples: SampleTable, member: Member, conditions: Conditions): { lab: number; bands: number } {
  const optics = new MemberOptics(member, conditions);
  const lab = new Float64Array(3);
  let labSum = 0;
  let labCount = 0;
  let bandSum = 0;
  let bandCount = 0;
  for (let n = 0; n < samples.count; n += 1) {
    const from = samples.start[n] as number;
    const to = samples.start[n + 1] as number;
    const dyes = samples.dye.subarray(from, to);
    const amounts = new Float64Array(to - from);
    optics.amounts(dyes, samples.depthPct.subarray(from, to), amounts);
    optics.colour(dyes, amounts, samples.substrate.subarray(n * BAND_COUNT, (n + 1) * BAND_COUNT), lab);
    const seen = samples.lab.subarray(3 * n, 3 * n + 3);
    const chroma = 1 + 0.03 * Math.hypot(seen[1] as number, seen[2] as number);
    const off =
      Math.hypot(
        (lab[0] as number) - (seen[0] as number),
        ((lab[1] as number) - (seen[1] as number)) / chroma,
        ((lab[2] as number) - (seen[2] as number)) / chroma,
      ) / NOISE_LAB;
    const trust = trustIn(off / member.noise.lab);
    labSum += trust * off * off;
    labCount += 3 * trust;
    if (samples.hasBands[n] !== 1) continue;
    const R = optics.lastBands;
    for (let b = 0; b < BAND_COUNT; b += 1) {
      const r =
        (Math.cbrt((R[b] as number) + DARK) - Math.cbrt((samples.bands[n * BAND_COUNT + b] as number) + DARK)) /
        NOISE_BANDS;
      bandSum += trust * r * r;
      bandCount += trust;
    }
  }
  return { lab: Math.sqrt(labSum / labCount), bands: bandCount === 0 ? 1 : Math.sqrt(bandSum / bandCount) };
}

/** Learns the dyes, how noisy the samples are and what the dyes have in common, in turn, until the noise has settled.
 *  Sources: as at the head of this file. */
export function fitWithNoise(input: {
  samples: SampleTable;
  prior: Prior;
  conditions: Conditions;
  typicalDepthPct: Float64Array;
  maxSteps: number;
}): Member {
  const { samples, prior, conditions } = input;
  let member = fitMember(input);
  for (let round = 0; round < NOISE_ROUNDS; round += 1) {
    const scatter = scatterOf(samples, member, conditions);
    const before = noiseBefore(prior.geometry);
    const middle = (at: number, usual: number): number => {
      let sum = MIDDLE_COUNTS * usual;
      for (let dye = 0; dye < samples.dyeCount; dye += 1) sum += member.parameters[dye * DYE_PARAMETERS + at] as number;
      return sum / (samples.dyeCount + MIDDLE_COUNTS);
    };
    const noise: Noise = {
      lab: Math.max(LEAST_NOISE_LAB, Math.min(1, SCATTERS * scatter.lab)),
      bands: Math.max(LEAST_NOISE_BANDS, Math.min(1, SCATTERS * scatter.bands)),
      lnRho: middle(RHO, before.lnRho),
      gamma: middle(GAMMA, before.gamma),
      lnEta: middle(ETA, before.lnEta),
    };
    const change = Math.max(Math.abs(noise.lab / member.noise.lab - 1), Math.abs(noise.bands / member.noise.bands - 1));
    member = fitMember({ ...input, noise, from: member.parameters, ...ROUND });
    if (change < NOISE_SETTLED) break;
  }
  return member;
}

/** Normal equations of the whole fit at the member's parameters. Sources: as at the head of this file. */
export function normalSystemOf(samples: SampleTable, member: Member, conditions: Conditions): NormalSystem {
  const size = member.parameters.length;
  const system = { H: new Float64Array(size * size), g: new Float64Array(size) };
  misfit(samples, member, member.typicalDepthPct, member.parameters, bandWeights(conditions), new Scratch(), system);
  return system;
}

/** The member as it would have been learned without these samples, by one step of Gauss-Newton from where it stands with them:
 *  the misfit is nearly a paraboloid there. `whole` are the normal equations of all samples. Sources: as at the head of this file. */
export function memberWithout(input: {
  samples: SampleTable;
  rows: ArrayLike<number>;
  member: Member;
  whole: NormalSystem;
  conditions: Conditions;
}): Member {
  const { samples, rows, member, whole } = input;
  const size = member.parameters.length;
  const part = { H: new Float64Array(size * size), g: new Float64Array(size) };
  misfit(
    samples,
    member,
    member.typicalDepthPct,
    member.parameters,
    bandWeights(input.conditions),
    new Scratch(),
    part,
    rows,
  );
  for (let i = 0; i < size * size; i += 1) part.H[i] = (whole.H[i] as number) - (part.H[i] as number);
  for (let i = 0; i < size; i += 1) {
    part.g[i] = (whole.g[i] as number) - (part.g[i] as number);
    part.H[i * size + i] = (part.H[i * size + i] as number) * (1 + 1e-6);
  }
  if (!choleskyInPlace(part.H, size)) return member;
  choleskySolve(part.H, size, part.g);
  return { ...member, parameters: movedBy(member.parameters, part.g) };
}

/** ln of the evidence for a member, up to what all geometries share (Laplace's approximation). Three figures a sample count as
 *  independent, and four of a curve's sixteen bands. Sources: as at the head of this file. */
export function lnEvidence(samples: SampleTable, member: Member, conditions: Conditions): number {
  const size = member.parameters.length;
  const { H } = normalSystemOf(samples, member, conditions);
  let lnDet = 0;
  if (choleskyInPlace(H, size)) for (let i = 0; i < size; i += 1) lnDet += 2 * Math.log(H[i * size + i] as number);
  const curves = samples.hasBands.reduce((sum, has) => sum + has, 0);
  return (
    -0.5 * member.cost -
    3 * samples.count * Math.log(member.noise.lab) -
    4 * curves * Math.log(member.noise.bands) -
    0.5 * lnDet
  );
}

/** Covariance of the parameters at the optimum, row after row: the inverse of the normal equations, with the scatter itself for
 *  noise and not its double. Sources: as at the head of this file. */
export function parameterCovariance(samples: SampleTable, member: Member, conditions: Conditions): Float32Array {
  const size = member.parameters.length;
  const { lab, bands } = member.noise;
  const noise = { ...member.noise, lab: lab / SCATTERS, bands: bands / SCATTERS };
  const { H } = normalSystemOf(samples, { ...member, noise }, conditions);
  for (let i = 0; i < size; i += 1) H[i * size + i] = (H[i * size + i] as number) * (1 + 1e-9);
  if (!choleskyInPlace(H, size)) return new Float32Array(size * size);
  return Float32Array.from(inverseOf(H, size));
}

/** Evaluates a member: the hot path of prediction and of the search for recipes. Works in effective amounts. */
export class MemberOptics {
  readonly #member: Member;
  readonly #dyes: Unfolded;
  readonly #weights: BandWeights;
  readonly #bench = new Scratch();

  constructor(member: Member, conditions: Conditions) {
    this.#member = member;
    this.#dyes = unfoldDyes(member.parameters);
    this.#weights = bandWeights(conditions);
  }

  /** Effective amounts of these depths into `amounts`. */
  amounts(dyes: ArrayLike<number>, depthsPct: ArrayLike<number>, amounts: Float64Array): void {
    const typical = this.#member.typicalDepthPct;
    let total = 0;
    for (let j = 0; j < dyes.length; j += 1) total += (depthsPct[j] as number) / (typical[dyes[j] as number] as number);
    for (let j = 0; j < dyes.length; j += 1) {
      const dye = dyes[j] as number;
      const own = (depthsPct[j] as number) / (typical[dye] as number);
      amounts[j] =
        own <= 0
          ? 0
          : Math.exp(
              (this.#dyes.gamma[dye] as number) * Math.log(own) +
                fillingUp(this.#dyes.eta[dye] as number, own) -
                this.#dyes.delta * Math.log1p(Math.max(0, total - own)),
            );
    }
  }

  /** Amounts, and the slope of each amount by each depth (amount i by depth j at i × count + j). */
  amountSlopes(
    dyes: ArrayLike<number>,
    depthsPct: ArrayLike<number>,
    amounts: Float64Array,
    slopes: Float64Array,
  ): void {
    this.amounts(dyes, depthsPct, amounts);
    const typical = this.#member.typicalDepthPct;
    const count = dyes.length;
    let total = 0;
    for (let j = 0; j < count; j += 1) total += (depthsPct[j] as number) / (typical[dyes[j] as number] as number);
    for (let i = 0; i < count; i += 1) {
      const dye = dyes[i] as number;
      const own = (depthsPct[i] as number) / (typical[dye] as number);
      const eta = this.#dyes.eta[dye] as number;
      const steepness = (this.#dyes.gamma[dye] as number) - (eta * own) / (1 + eta * own);
      const byOthers = (-this.#dyes.delta * (amounts[i] as number)) / (1 + total - own);
      for (let j = 0; j < count; j += 1) {
        slopes[i * count + j] =
          i === j
            ? ((amounts[i] as number) * steepness) / Math.max(1e-9, depthsPct[i] as number)
            : byOthers / (typical[dyes[j] as number] as number);
      }
    }
  }

  /** Lab of these amounts over the substrate into `lab`; with `slopes`, dLab/damount of each dye, 3 × dyes. */
  colour(
    dyes: ArrayLike<number>,
    amounts: ArrayLike<number>,
    substrate: ArrayLike<number>,
    lab: Float64Array,
    slopes?: Float64Array,
  ): void {
    this.#reflect(dyes, amounts, substrate);
    labOf(this.#bench.R, this.#weights, lab, slopes === undefined ? undefined : this.#bench.slopes);
    if (slopes !== undefined) this.#byAmounts(dyes, slopes);
  }

  /** dLab/damount under other weights, 3 × dyes. */
  slopesUnder(
    dyes: ArrayLike<number>,
    amounts: ArrayLike<number>,
    substrate: ArrayLike<number>,
    weights: BandWeights,
  ): Float64Array {
    this.#reflect(dyes, amounts, substrate);
    labOf(this.#bench.R, weights, new Float64Array(3), this.#bench.slopes);
    const slopes = new Float64Array(3 * dyes.length);
    this.#byAmounts(dyes, slopes);
    return slopes;
  }

  #byAmounts(dyes: ArrayLike<number>, slopes: Float64Array): void {
    const bench = this.#bench;
    const count = dyes.length;
    for (let j = 0; j < count; j += 1) {
      const at = (dyes[j] as number) * BAND_COUNT;
      let L = 0;
      let a = 0;
      let b = 0;
      for (let band = 0; band < BAND_COUNT; band += 1) {
        const dR =
          (bench.RK[band] as number) * (this.#dyes.k[at + band] as number) +
          (bench.RS[band] as number) * (this.#dyes.s[at + band] as number);
        L += (bench.slopes[band] as number) * dR;
        a += (bench.slopes[BAND_COUNT + band] as number) * dR;
        b += (bench.slopes[2 * BAND_COUNT + band] as number) * dR;
      }
      slopes[j] = L;
      slopes[count + j] = a;
      slopes[2 * count + j] = b;
    }
  }

  /** Bands of the colour that was asked for last; the next call overwrites them. */
  get lastBands(): Float64Array {
    return this.#bench.R;
  }

  /** Slopes of Lab under these weights by the member's parameters, of one recipe: three rows, and the parameters' places. */
  labSlopes(
    dyes: ArrayLike<number>,
    depthsPct: ArrayLike<number>,
    substrate: ArrayLike<number>,
    weights: BandWeights,
  ): { places: Uint32Array; rows: Float64Array } {
    const count = dyes.length;
    const typical = this.#member.typicalDepthPct;
    const E = new Float64Array(count);
    this.amounts(dyes, depthsPct, E);
    const own = Float64Array.from(dyes, (dye, j) => (depthsPct[j] as number) / (typical[dye] as number));
    const total = own.reduce((sum, x) => sum + x, 0);
    const X = own.map((x) => Math.log(Math.max(1e-12, x)));
    const Z = own.map((x) => (count === 1 ? 0 : Math.log1p(Math.max(0, total - x))));
    this.#reflect(dyes, E, substrate);
    labOf(this.#bench.R, weights, new Float64Array(3), this.#bench.slopes);
    const stride = count * DYE_PARAMETERS;
    const J = new Float64Array(3 * stride);
    const byDelta = new Float64Array(3);
    labJacobian({ dyes, from: 0, count, E, X, own, Z, by: [1, 1, 1] }, this.#dyes, this.#bench, J, byDelta);
    const places = new Uint32Array(stride + 1);
    const rows = new Float64Array(3 * (stride + 1));
    for (let j = 0; j < count; j += 1) {
      for (let p = 0; p < DYE_PARAMETERS; p += 1) {
        places[j * DYE_PARAMETERS + p] = (dyes[j] as number) * DYE_PARAMETERS + p;
      }
    }
    places[stride] = this.#member.parameters.length - 1;
    for (let r = 0; r < 3; r += 1) {
      rows.set(J.subarray(r * stride, (r + 1) * stride), r * (stride + 1));
      rows[r * (stride + 1) + stride] = byDelta[r] as number;
    }
    return { places, rows };
  }

  /** Reflectance in the 16 bands, an estimate where the samples were read as Lab only; the next call overwrites it. */
  bands(dyes: ArrayLike<number>, amounts: ArrayLike<number>, substrate: ArrayLike<number>): Float64Array {
    this.#reflect(dyes, amounts, substrate);
    return this.#bench.R;
  }

  #reflect(dyes: ArrayLike<number>, amounts: ArrayLike<number>, substrate: ArrayLike<number>): void {
    const { K, S } = this.#bench;
    K.fill(0);
    S.fill(0);
    for (let j = 0; j < dyes.length; j += 1) {
      const at = (dyes[j] as number) * BAND_COUNT;
      const amount = amounts[j] as number;
      if (amount === 0) continue;
      for (let b = 0; b < BAND_COUNT; b += 1) {
        K[b] = (K[b] as number) + amount * (this.#dyes.k[at + b] as number);
        S[b] = (S[b] as number) + amount * (this.#dyes.s[at + b] as number);
      }
    }
    this.#bench.reflect(this.#member.prior.geometry, substrate, 0);
  }
}
