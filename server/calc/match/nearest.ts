import { CalcError, finiteIn } from '../calcError.ts';
import { deltaE2000Of, deltaECmcOf } from '../colour/deltaE.ts';
import { demandLab, type Lab } from '../colour/reading.ts';

/* Exact nearest colours in memory. Readings lie sorted by lightness; the search walks outwards from the target's lightness,
   skips what a cheap lower bound of ΔE already puts behind the worst of the best so far, and stops where lightness alone does.
   What is skipped is proved to be farther, so the answer is that of trying them all (held to it by a property test).

   Lower bound of CIEDE2000, written x = ΔC′/SC, y = ΔH′/SH:
     x² + y² + RT·x·y ≥ (1 − |RT|/2)(x² + y²), and |RT| ≤ RC·sin 60°
     T ≤ 1.93, so SH ≤ 1 + 0.02895·C̄′ ≤ SC = 1 + 0.045·C̄′, and ΔC′² + ΔH′² = Δa′² + Δb² ≥ Δa² + Δb²
     C̄′ ≤ 1.5·C̄, and both RC and SC grow with C̄′
   hence ΔE² ≥ (ΔL/SL)² + κ(C̄)·(Δa² + Δb²), κ(C̄) = (1 − sin 60°·RC(1.5 C̄)/2)/SC(1.5 C̄)², which falls as C̄ grows.
   |ΔL|/SL grows with |ΔL| up to 122, as SL′ ≤ 0.01634: further out in lightness is never nearer by it.
   CMC: SL, SC, SH hang on the standard alone, so ΔE² ≥ (ΔL/l·SL)² + (Δa² + Δb²)/max(c·SC, SH)². */

export type NearestFormula = { name: 'deltaE2000' } | { name: 'deltaECmc'; l: number; c: number };

export interface ColourIndex {
  readonly count: number;
  /** Sorted by lightness. */
  readonly L: Float64Array;
  readonly a: Float64Array;
  readonly b: Float64Array;
  readonly C: Float64Array;
  /** Place of each sorted reading in the arrays that the index was made from. */
  readonly place: Uint32Array;
}

export interface NearReading {
  place: number;
  deltaE: number;
}

/** Index over readings of one illuminant and observer; O(n log n). The arrays are copied. A rule of our own over the model. */
export function colourIndex(readings: {
  L: ArrayLike<number>;
  a: ArrayLike<number>;
  b: ArrayLike<number>;
}): ColourIndex {
  const count = readings.L.length;
  if (readings.a.length !== count || readings.b.length !== count) {
    throw new CalcError('mismatch', 'readings', 'L, a and b must be of equal length');
  }
  for (let i = 0; i < count; i += 1) {
    demandLab('readings', { L: readings.L[i] as number, a: readings.a[i] as number, b: readings.b[i] as number });
  }
  const place = Uint32Array.from({ length: count }, (_, i) => i);
  place.sort((one, other) => (readings.L[one] as number) - (readings.L[other] as number) || one - other);
  const L = new Float64Array(count);
  const a = new Float64Array(count);
  const b = new Float64Array(count);
  const C = new Float64Array(count);
  for (let i = 0; i < count; i += 1) {
    const from = place[i] as number;
    L[i] = readings.L[from] as number;
    a[i] = readings.a[from] as number;
    b[i] = readings.b[from] as number;
    C[i] = Math.hypot(a[i] as number, b[i] as number);
  }
  return { count, L, a, b, C, place };
}

const POW25_7 = 25 ** 7;
const KAPPA_STEP = 0.25;
// κ at the upper end of each step of mean chroma, 0 to 300: never more than the true value within the step.
const KAPPA = Float64Array.from({ length: 1201 }, (_, i) => {
  const Cp7 = (1.5 * (i + 1) * KAPPA_STEP) ** 7;
  const RC = 2 * Math.sqrt(Cp7 / (Cp7 + POW25_7));
  return (1 - (Math.sin(Math.PI / 3) * RC) / 2) / (1 + 0.045 * 1.5 * (i + 1) * KAPPA_STEP) ** 2;
});

// Bounds are cut by a hair so that rounding in the last bit cannot skip an equal.
const HAIR = 1 - 1e-9;
// A difference is told by subtraction of chromas and hues, which leaves some 1e-13 of rounding, and a difference smaller than
// that as nothing at all: nothing is skipped unless it is farther by more.
const ROUNDING = 1e-9;
const squareOf = (limit: number): number => (limit + ROUNDING) ** 2;

const lightnessWeight = (Lbar: number): number => {
  const x = Lbar - 50;
  return 1 + (0.015 * x * x) / Math.sqrt(20 + x * x);
};

/** The `count` readings nearest to the target, nearest first, equals by place; the target is the standard. `mask`, by place,
 *  keeps those that are not 0. `withinDeltaE` leaves out what is farther. A rule of our own over the model. */
export function nearestReadings(input: {
  index: ColourIndex;
  target: Lab;
  formula: NearestFormula;
  count: number;
  mask?: Uint8Array;
  withinDeltaE?: number;
}): NearReading[] {
  const { index, target, formula, mask } = input;
  demandLab('target', target);
  const wanted = Math.min(finiteIn('count', Math.trunc(input.count), { min: 1 }), index.count);
  if (mask !== undefined && mask.length !== index.count) {
    throw new CalcError('mismatch', 'mask', 'a mask has one entry for each reading');
  }
  const { L, a, b, C, place } = index;
  const tL = target.L;
  const ta = target.a;
  const tb = target.b;
  const tC = Math.hypot(ta, tb);

  const cmc = formula.name === 'deltaECmc';
  const l = cmc ? finiteIn('l', formula.l, { min: 0, exclusiveMin: true }) : 1;
  const c = cmc ? finiteIn('c', formula.c, { min: 0, exclusiveMin: true }) : 1;
  const cmcL = tL < 16 ? 0.511 : (0.040975 * tL) / (1 + 0.01765 * tL);
  const cmcC = (0.0638 * tC) / (1 + 0.0131 * tC) + 0.638;
  // T ≤ 0.76 and F ≤ 1, so SH ≤ SC.
  const cmcKappa = 1 / (Math.max(c, 1) * cmcC) ** 2;

  const bestDeltaE = new Float64Array(wanted);
  const bestPlace = new Uint32Array(wanted);
  let found = 0;
  let limit =
    input.withinDeltaE === undefined
      ? Number.POSITIVE_INFINITY
      : finiteIn('withinDeltaE', input.withinDeltaE, { min: 0 });
  let limit2 = squareOf(limit);

  const consider = (i: number, lightness2: number): void => {
    const at = place[i] as number;
    if (mask !== undefined && mask[at] === 0) return;
    const da = (a[i] as number) - ta;
    const db = (b[i] as number) - tb;
    const kappa = cmc ? cmcKappa : (KAPPA[Math.trunc(((C[i] as number) + tC) * (0.5 / KAPPA_STEP))] as number);
    if ((lightness2 + kappa * (da * da + db * db)) * HAIR > limit2) return;
    const deltaE = cmc
      ? deltaECmcOf(tL, ta, tb, L[i] as number, a[i] as number, b[i] as number, l, c)
      : deltaE2000Of(tL, ta, tb, L[i] as number, a[i] as number, b[i] as number);
    if (deltaE > limit) return;
    if (found === wanted) {
      if (deltaE === limit && at > (bestPlace[found - 1] as number)) return;
    } else {
      found += 1;
    }
    let k = found - 1;
    while (k > 0) {
      const before = bestDeltaE[k - 1] as number;
      if (before < deltaE || (before === deltaE && (bestPlace[k - 1] as number) < at)) break;
      bestDeltaE[k] = before;
      bestPlace[k] = bestPlace[k - 1] as number;
      k -= 1;
    }
    bestDeltaE[k] = deltaE;
    bestPlace[k] = at;
    if (found === wanted) {
      limit = Math.min(limit, bestDeltaE[found - 1] as number);
      limit2 = squareOf(limit);
    }
  };

  const lightness2At = (i: number): number => {
    const Li = L[i] as number;
    const weighted = (Li - tL) / (cmc ? l * cmcL : lightnessWeight((Li + tL) / 2));
    return weighted * weighted;
  };

  let up = firstAtLeast(L, tL);
  let down = up - 1;
  while (up < index.count || down >= 0) {
    const goUp = down < 0 || (up < index.count && (L[up] as number) - tL <= tL - (L[down] as number));
    const i = goUp ? up : down;
    const lightness2 = lightness2At(i);
    if (lightness2 * HAIR > limit2) {
      // All that lies further on this side is farther too.
      if (goUp) up = index.count;
      else down = -1;
      continue;
    }
    consider(i, lightness2);
    if (goUp) up += 1;
    else down -= 1;
  }
  return Array.from({ length: found }, (_, k) => ({ place: bestPlace[k] as number, deltaE: bestDeltaE[k] as number }));
}

function firstAtLeast(sorted: Float64Array, value: number): number {
  let low = 0;
  let high = sorted.length;
  while (low < high) {
    const mid = (low + high) >>> 1;
    if ((sorted[mid] as number) < value) low = mid + 1;
    else high = mid;
  }
  return low;
}
