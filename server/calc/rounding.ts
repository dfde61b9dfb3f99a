import { CalcError, finiteIn } from './calcError.ts';

/** Floor of a value ≥ 0 after lifting it by a few last-place bits, so that 0.145 g (144.999…97 mg in doubles) still rounds as the half
 *  that it is, and 3 steps of 0.1 are 3 steps. A whole number stays what it is: from about 10¹⁵ on, the lift itself would be a unit. */
function liftedFloor(value: number): number {
  return Number.isInteger(value) ? value : Math.floor(value + Math.min(value * 4 * Number.EPSILON, 1e-3));
}

/** Nearest integer, halves away from zero. Throws CalcError when the result is beyond what a double holds exactly. Common practice. */
export function nearestInteger(input: { value: number; field: string }): number {
  const { value, field } = input;
  finiteIn(field, value, { min: -Number.MAX_SAFE_INTEGER, max: Number.MAX_SAFE_INTEGER });
  const magnitude = Number.isInteger(value) ? Math.abs(value) : liftedFloor(Math.abs(value) + 0.5);
  return value < 0 && magnitude !== 0 ? -magnitude : magnitude;
}

/** Rounded to a scale's readability:  m' = round(m / r) · r
 *  value and step in one unit (integers of the smallest unit give an exact integer), step > 0. Throws CalcError. Common practice. */
export function roundedToStep(input: { value: number; step: number; field: string }): number {
  const { value, step, field } = input;
  finiteIn('step', step, { min: 0, exclusiveMin: true });
  return nearestInteger({ value: value / step, field }) * step;
}

/** Whole units of `total` handed out in proportion to the weights, so that they add to exactly `total`
 *  (largest remainder; ties go to the earlier entry).
 *  weights ≥ 0, not all 0 · total an integer, negative for a reversal. Throws CalcError.
 *  Source of the method: Hamilton’s method of largest remainders. */
export function largestRemainder(input: { weights: readonly number[]; total: number; field: string }): number[] {
  const { weights, total, field } = input;
  if (!Number.isSafeInteger(total)) throw new CalcError('notFinite', field, `${field} must be a whole number`);
  let sum = 0;
  for (const weight of weights) sum += finiteIn(field, weight, { min: 0 });
  if (weights.length === 0 || !(sum > 0) || !Number.isFinite(sum)) {
    throw new CalcError('outOfRange', field, `${field} needs at least one part that is more than 0`);
  }
  const sign = total < 0 ? -1 : 1;
  const exact = weights.map((weight) => Math.abs(total) * (weight / sum));
  return filledUp({ exact, total: Math.abs(total) }).map((units) => (units === 0 ? 0 : sign * units));
}

/** Lines rounded to the step so that they add to the rounded total; every line stays within one step of its exact value.
 *  values ≥ 0 and step in one unit, step > 0. Throws CalcError. Source of the method: Hamilton’s method of largest remainders. */
export function roundedLines(input: { values: readonly number[]; step: number; field: string }): number[] {
  const { values, step, field } = input;
  finiteIn('step', step, { min: 0, exclusiveMin: true });
  const exact = values.map((value) => finiteIn(field, value, { min: 0 }) / step);
  const total = nearestInteger({ value: exact.reduce((sum, steps) => sum + steps, 0), field });
  return filledUp({ exact, total }).map((steps) => steps * step);
}

/** Floors of `exact`, with the units still missing from `total` given to the largest fractions. */
function filledUp(input: { exact: readonly number[]; total: number }): number[] {
  const whole = input.exact.map((value) => liftedFloor(value));
  let missing = input.total - whole.reduce((sum, units) => sum + units, 0);
  const byFraction = input.exact
    .map((value, index) => ({ index, fraction: value - (whole[index] ?? 0) }))
    .sort((a, b) => b.fraction - a.fraction || a.index - b.index);
  for (const { index } of byFraction) {
    if (missing <= 0) break;
    whole[index] = (whole[index] ?? 0) + 1;
    missing -= 1;
  }
  return whole;
}

/** Currencies whose minor unit is not a hundredth (ISO 4217:2015 list one, from memory). A fixed table and not the
 *  platform's locale data: stored minor units must keep their meaning when that data is updated. */
const minorUnitExponents: Readonly<Record<string, number>> = {
  BIF: 0,
  CLP: 0,
  DJF: 0,
  GNF: 0,
  ISK: 0,
  JPY: 0,
  KMF: 0,
  KRW: 0,
  PYG: 0,
  RWF: 0,
  UGX: 0,
  UYI: 0,
  VND: 0,
  VUV: 0,
  XAF: 0,
  XOF: 0,
  XPF: 0,
  BHD: 3,
  IQD: 3,
  JOD: 3,
  KWD: 3,
  LYD: 3,
  OMR: 3,
  TND: 3,
  CLF: 4,
  UYW: 4,
};

/** Decimal places of a currency's minor unit (EUR 2, JPY 0, KWD 3). Throws CalcError when it is no three-letter code.
 *  Source: ISO 4217, as the run time’s Intl has it. */
export function minorUnitDecimals(input: { currency: string }): number {
  if (!/^[A-Z]{3}$/.test(input.currency)) {
    throw new CalcError(
      'unreadable',
      'currency',
      `"${input.currency}" is not a three-letter currency code such as EUR`,
    );
  }
  return minorUnitExponents[input.currency] ?? 2;
}

/** Money in whole minor units, rounded once, halves away from zero. amount in major units. Throws CalcError. Common practice. */
export function costMinor(input: { amount: number; currency: string; field: string }): number {
  const value = input.amount * 10 ** minorUnitDecimals({ currency: input.currency });
  return nearestInteger({ value, field: input.field });
}
