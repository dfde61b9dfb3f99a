import { CalcError, finiteIn } from '../calcError.ts';
import {
  CMF_1931_2DEG,
  CMF_1964_10DEG,
  CMF_START_NM,
  ILLUMINANT_POWER,
  ILLUMINANT_START_NM,
  TABLE_STEP_NM,
} from './cieTables.ts';
import type { Conditions, Lab } from './reading.ts';
import { labFromXyz, type Xyz } from './spaces.ts';

/** Reflectance factors 0–1 (fluorescent goods may pass 1) at startNm, startNm + stepNm, … */
export interface Spectrum {
  startNm: number;
  stepNm: 5 | 10 | 20;
  reflectance: ArrayLike<number>;
}

/** Weights to multiply reflectances with and add up; the white is their sum, so that a perfect white has no tint. */
export interface TristimulusWeights {
  X: Float64Array;
  Y: Float64Array;
  Z: Float64Array;
  white: Xyz;
}

const TABLE_END_NM = 780;
const cmfOf = (conditions: Conditions) => (conditions.observerDeg === 2 ? CMF_1931_2DEG : CMF_1964_10DEG);

function tableRow(conditions: Conditions, nm: number): [number, number, number] {
  const cmf = cmfOf(conditions);
  const power = ILLUMINANT_POWER[conditions.illuminant];
  const i = (nm - CMF_START_NM) / TABLE_STEP_NM;
  const S = power[(nm - ILLUMINANT_START_NM) / TABLE_STEP_NM] ?? 0;
  return [S * (cmf.x[i] ?? 0), S * (cmf.y[i] ?? 0), S * (cmf.z[i] ?? 0)];
}

/** CMF at every nanometre by cubic (Lagrange) interpolation of the 5 nm table, times the illuminant, read linearly as the
 *  CIE says for D65. 360–780 nm. */
function oneNanometreProducts(conditions: Conditions): [Float64Array, Float64Array, Float64Array] {
  const cmf = cmfOf(conditions);
  const power = ILLUMINANT_POWER[conditions.illuminant];
  const count = TABLE_END_NM - CMF_START_NM + 1;
  const out: [Float64Array, Float64Array, Float64Array] = [
    new Float64Array(count),
    new Float64Array(count),
    new Float64Array(count),
  ];
  for (let k = 0; k < count; k += 1) {
    const place = k / TABLE_STEP_NM;
    const first = Math.max(0, Math.floor(place) - 1);
    const w = lagrange4(place - first);
    const s = (k + CMF_START_NM - ILLUMINANT_START_NM) / TABLE_STEP_NM;
    const low = Math.min(Math.floor(s), power.length - 2);
    const S = (power[low] ?? 0) * (1 - (s - low)) + (power[low + 1] ?? 0) * (s - low);
    for (const [channel, table] of [cmf.x, cmf.y, cmf.z].entries()) {
      let sum = 0;
      for (let j = 0; j < 4; j += 1) sum += (w[j] ?? 0) * (table[first + j] ?? 0);
      (out[channel] as Float64Array)[k] = S * sum;
    }
  }
  return out;
}

const lagrange4 = (t: number): [number, number, number, number] => [
  -((t - 1) * (t - 2) * (t - 3)) / 6,
  (t * (t - 2) * (t - 3)) / 2,
  -(t * (t - 1) * (t - 3)) / 2,
  (t * (t - 1) * (t - 2)) / 6,
];

const lagrange3 = (t: number): [number, number, number] => [((t - 1) * (t - 2)) / 2, -t * (t - 2), (t * (t - 1)) / 2];

/** Weights by the method of ASTM E2022: the reflectance between the readings is taken as a cubic through the four nearest
 *  (quadratic in the first and last interval), and the sum over every nanometre is gathered onto the readings. 360–780 nm,
 *  Y of the white = 100. Within 0.003 of the printed ASTM E308 tables, which start from 1 nm tables where we have 5 nm.
 *  Source of the method: as said, from memory. */
export function abridgedWeights(input: { conditions: Conditions; stepNm: 10 | 20 }): TristimulusWeights {
  const { conditions, stepNm } = input;
  const products = oneNanometreProducts(conditions);
  const count = (TABLE_END_NM - CMF_START_NM) / stepNm + 1;
  const weights = [new Float64Array(count), new Float64Array(count), new Float64Array(count)] as const;
  const total = products[1].reduce((sum, y) => sum + y, 0);
  for (let k = 0; k <= TABLE_END_NM - CMF_START_NM; k += 1) {
    const interval = Math.min(Math.floor(k / stepNm), count - 2);
    const first = interval === 0 ? 0 : interval - 1;
    const t = k / stepNm - first;
    const edge = interval === 0 || interval === count - 2;
    const shares = edge ? lagrange3(t) : lagrange4(t);
    for (const [channel, weight] of weights.entries()) {
      const product = (100 * ((products[channel] as Float64Array)[k] ?? 0)) / total;
      for (const [j, share] of shares.entries()) weight[first + j] = (weight[first + j] ?? 0) + share * product;
    }
  }
  return withWhite(weights[0], weights[1], weights[2]);
}

function withWhite(X: Float64Array, Y: Float64Array, Z: Float64Array): TristimulusWeights {
  const sum = (w: Float64Array) => w.reduce((total, v) => total + v, 0);
  return { X, Y, Z, white: { X: sum(X), Y: sum(Y), Z: sum(Z) } };
}

const cache = new Map<string, TristimulusWeights>();

/** Weights for readings at these wavelengths. 5 and 10 nm: the CIE table read at the same wavelengths (CIE 015:2018, 7);
 *  20 nm: `abridgedWeights`. What lies outside the measured range is left out at 5 and 10 nm, from the goods and from the
 *  white alike, and taken as equal to the end readings at 20 nm (ASTM E308, 7.3).
 *  Throws CalcError when the range does not cover 400–700 nm, without which a colour cannot be reckoned. */
export function tristimulusWeights(input: {
  conditions: Conditions;
  startNm: number;
  stepNm: 5 | 10 | 20;
  count: number;
}): TristimulusWeights {
  const { conditions, startNm, stepNm, count } = input;
  const key = `${conditions.illuminant}/${conditions.observerDeg}/${startNm}/${stepNm}/${count}`;
  const known = cache.get(key);
  if (known !== undefined) return known;
  if (stepNm !== 5 && stepNm !== 10 && stepNm !== 20) {
    throw new CalcError('outOfRange', 'stepNm', 'readings at every 5, 10 or 20 nm are known');
  }
  if (!Number.isInteger(startNm) || startNm % stepNm !== 0) {
    throw new CalcError(
      'outOfRange',
      'startNm',
      `readings every ${stepNm} nm must start at a multiple of ${stepNm} nm`,
    );
  }
  const endNm = startNm + stepNm * (count - 1);
  if (startNm > 400 || endNm < 700) {
    throw new CalcError('outOfRange', 'reflectance', 'the readings must cover 400 to 700 nm');
  }
  const weights =
    stepNm === 20 ? foldedWeights(conditions, startNm, count) : summedWeights(conditions, startNm, stepNm, count);
  if (cache.size > 200) cache.clear();
  cache.set(key, weights);
  return weights;
}

function summedWeights(conditions: Conditions, startNm: number, stepNm: number, count: number): TristimulusWeights {
  const [X, Y, Z] = [new Float64Array(count), new Float64Array(count), new Float64Array(count)];
  let total = 0;
  for (let i = 0; i < count; i += 1) {
    const nm = startNm + i * stepNm;
    if (nm < CMF_START_NM || nm > TABLE_END_NM) continue;
    const [x, y, z] = tableRow(conditions, nm);
    X[i] = x;
    Y[i] = y;
    Z[i] = z;
    total += y;
  }
  for (let i = 0; i < count; i += 1) {
    X[i] = (100 * (X[i] ?? 0)) / total;
    Y[i] = (100 * (Y[i] ?? 0)) / total;
    Z[i] = (100 * (Z[i] ?? 0)) / total;
  }
  return withWhite(X, Y, Z);
}

function foldedWeights(conditions: Conditions, startNm: number, count: number): TristimulusWeights {
  const full = abridgedWeights({ conditions, stepNm: 20 });
  const [X, Y, Z] = [new Float64Array(count), new Float64Array(count), new Float64Array(count)];
  for (let k = 0; k < full.X.length; k += 1) {
    const place = Math.min(count - 1, Math.max(0, (CMF_START_NM + 20 * k - startNm) / 20));
    X[place] = (X[place] ?? 0) + (full.X[k] ?? 0);
    Y[place] = (Y[place] ?? 0) + (full.Y[k] ?? 0);
    Z[place] = (Z[place] ?? 0) + (full.Z[k] ?? 0);
  }
  return withWhite(X, Y, Z);
}

function weightsFor(spectrum: Spectrum, conditions: Conditions): TristimulusWeights {
  const { startNm, stepNm, reflectance } = spectrum;
  return tristimulusWeights({ conditions, startNm, stepNm, count: reflectance.length });
}

/** Tristimulus values of a reflectance spectrum, Y = 100 for the perfect white. Source: CIE 15:2018, as ASTM E308. */
export function xyzFromSpectrum({ spectrum, conditions }: { spectrum: Spectrum; conditions: Conditions }): Xyz {
  const weights = weightsFor(spectrum, conditions);
  const xyz: Xyz = { X: 0, Y: 0, Z: 0 };
  for (let i = 0; i < spectrum.reflectance.length; i += 1) {
    const R = finiteIn('reflectance', spectrum.reflectance[i] as number, { min: 0, max: 3 });
    xyz.X += R * (weights.X[i] ?? 0);
    xyz.Y += R * (weights.Y[i] ?? 0);
    xyz.Z += R * (weights.Z[i] ?? 0);
  }
  return xyz;
}

/** CIELAB of a reflectance spectrum. The white is the sum of the very weights used: dividing 10 nm sums by the printed CIE
 *  white would leave a tint of up to 0.18 on a perfect white. */
export function labFromSpectrum({ spectrum, conditions }: { spectrum: Spectrum; conditions: Conditions }): Lab {
  return labFromXyz({ xyz: xyzFromSpectrum({ spectrum, conditions }), white: weightsFor(spectrum, conditions).white });
}

/** The same goods read on another grid of wavelengths, linearly between readings and held level past the ends. Common practice. */
export function resampledSpectrum(input: {
  spectrum: Spectrum;
  startNm: number;
  stepNm: 5 | 10 | 20;
  count: number;
}): Spectrum {
  const { spectrum, startNm, stepNm, count } = input;
  const from = spectrum.reflectance;
  if (from.length < 2) throw new CalcError('missing', 'reflectance', 'a spectrum has at least two readings');
  const reflectance = Array.from({ length: count }, (_, i) => {
    const place = Math.min(from.length - 1, Math.max(0, (startNm + i * stepNm - spectrum.startNm) / spectrum.stepNm));
    const low = Math.min(Math.floor(place), from.length - 2);
    const part = place - low;
    return (from[low] as number) * (1 - part) + (from[low + 1] as number) * part;
  });
  return { startNm, stepNm, reflectance };
}
