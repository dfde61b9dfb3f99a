import { CalcError, finiteIn } from './calcError.ts';

/** What one thing cost in one lot: so much of it, for so much money. `quantity` in the thing's own unit. */
export interface CostPart {
  readonly key: string;
  readonly quantity: number;
  readonly costMinor: number;
}

export interface CostEffect {
  key: string;
  /** Because each unit cost more or less, in minor units a kilogram of goods. */
  priceEffect: number;
  /** Because more or less of it was used on a kilogram. */
  quantityEffect: number;
  earlierPerKg: number;
  laterPerKg: number;
}

const merged = (parts: readonly CostPart[]): Map<string, { quantity: number; costMinor: number }> => {
  const sums = new Map<string, { quantity: number; costMinor: number }>();
  for (const part of parts) {
    const sum = sums.get(part.key) ?? { quantity: 0, costMinor: 0 };
    sum.quantity += finiteIn('quantity', part.quantity);
    sum.costMinor += finiteIn('costMinor', part.costMinor);
    sums.set(part.key, sum);
  }
  return sums;
};

/** Why a kilogram of goods cost more, or less, in one lot than in an earlier one, thing by thing.
 *  With q the quantity on a kilogram and p the price of a unit, of a thing that both lots used:
 *    price effect = (p₂ − p₁) · (q₁ + q₂)/2     quantity effect = (q₂ − q₁) · (p₁ + p₂)/2
 *  which add to p₂q₂ − p₁q₁ exactly, and do not depend on which lot is called the first. What only one of them used is
 *  quantity. Masses g, > 0. A thing with no quantity left after corrections is quantity too. Throws CalcError.
 *  Source: Bennet, The theory of measurement of changes in cost of living, J. Royal Statistical Society 83, 1920 (from memory). */
export function costChangePerKg(input: {
  earlier: { dryMassG: number; parts: readonly CostPart[] };
  later: { dryMassG: number; parts: readonly CostPart[] };
}): { effects: CostEffect[]; earlierPerKg: number; laterPerKg: number } {
  const kg = (massG: number): number => finiteIn('dryMassG', massG, { min: 0, exclusiveMin: true }) / 1000;
  const kgBefore = kg(input.earlier.dryMassG);
  const kgAfter = kg(input.later.dryMassG);
  const before = merged(input.earlier.parts);
  const after = merged(input.later.parts);
  const effects = [...new Set([...before.keys(), ...after.keys()])].map((key): CostEffect => {
    const a = before.get(key) ?? { quantity: 0, costMinor: 0 };
    const b = after.get(key) ?? { quantity: 0, costMinor: 0 };
    const earlierPerKg = a.costMinor / kgBefore;
    const laterPerKg = b.costMinor / kgAfter;
    if (!(a.quantity > 0) || !(b.quantity > 0)) {
      return { key, priceEffect: 0, quantityEffect: laterPerKg - earlierPerKg, earlierPerKg, laterPerKg };
    }
    const priceEffect =
      ((b.costMinor / b.quantity - a.costMinor / a.quantity) * (a.quantity / kgBefore + b.quantity / kgAfter)) / 2;
    return { key, priceEffect, quantityEffect: laterPerKg - earlierPerKg - priceEffect, earlierPerKg, laterPerKg };
  });
  const sum = (of: (e: CostEffect) => number): number => effects.reduce((total, e) => total + of(e), 0);
  return { effects, earlierPerKg: sum((e) => e.earlierPerKg), laterPerKg: sum((e) => e.laterPerKg) };
}

/** Parts rounded to whole units so that they add to exactly the given total: each is rounded, and what is then missing goes,
 *  one unit each, to the parts that rounding wronged most. Parts may be below nothing. total whole, and nearer to the sum of
 *  the parts than one unit a part. Throws CalcError('mismatch') otherwise. A rule of our own. */
export function roundedParts(input: { parts: readonly number[]; total: number }): number[] {
  const parts = input.parts.map((part) => finiteIn('parts', part));
  const rounded = parts.map((part) => Math.floor(part));
  let missing = finiteIn('total', input.total) - rounded.reduce((sum, part) => sum + part, 0);
  if (!Number.isInteger(missing)) throw new CalcError('outOfRange', 'total', 'the total must be a whole number');
  if (missing < -parts.length || missing > 2 * parts.length)
    throw new CalcError('mismatch', 'parts', 'the parts do not add to the total');
  const byLoss = parts
    .map((part, i) => ({ i, loss: part - Math.floor(part) }))
    .sort((x, y) => y.loss - x.loss || x.i - y.i);
  for (let n = 0; missing > 0; n++, missing--) {
    const at = byLoss[n % byLoss.length]?.i ?? 0;
    rounded[at] = (rounded[at] ?? 0) + 1;
  }
  for (let n = byLoss.length - 1; missing < 0; n--, missing++) {
    const at = byLoss[(n + byLoss.length) % byLoss.length]?.i ?? 0;
    rounded[at] = (rounded[at] ?? 0) - 1;
  }
  return rounded.map((part) => (part === 0 ? 0 : part));
}
