import { CalcError, finiteIn } from './calcError.ts';

/* Sets of pieces that go from deep to pale. Depths in % owg, masses g, volumes mL. */

const positive = { min: 0, exclusiveMin: true };

/** Depths of n pieces from the first to the last:  by the same factor  dₖ = d₁ · q^(k−1), q = (dₙ/d₁)^(1/(n−1)), or by the same
 *  amount  dₖ = d₁ − (k−1)(d₁ − dₙ)/(n−1). Halving looks even; equal steps bunch at the dark end. Depths > 0, pieces whole, 2–200.
 *  Throws CalcError. Source: P. Burch, 2012, pburch.net/dyeing/dyeblog/C1224992486. */
export function depthSeriesPct(input: {
  firstDepthPct: number;
  lastDepthPct: number;
  pieces: number;
  steps: 'factor' | 'amount';
}): number[] {
  const first = finiteIn('firstDepthPct', input.firstDepthPct, positive);
  const last = finiteIn('lastDepthPct', input.lastDepthPct, positive);
  const pieces = finiteIn('pieces', input.pieces, { min: 2, max: 200 });
  if (!Number.isInteger(pieces)) throw new CalcError('outOfRange', 'pieces', 'pieces must be a whole number');
  return Array.from({ length: pieces }, (_, k) => {
    const way = k / (pieces - 1);
    return input.steps === 'factor' ? first * (last / first) ** way : first + way * (last - first);
  });
}

/** Half, and half again: the depths of n pieces, each half of the one before. firstDepthPct > 0, pieces whole, 1–50.
 *  Throws CalcError. Follows from the definition. */
export function halvingPct(input: { firstDepthPct: number; pieces: number }): number[] {
  const first = finiteIn('firstDepthPct', input.firstDepthPct, positive);
  return Array.from(
    { length: Math.trunc(finiteIn('pieces', input.pieces, { min: 1, max: 50 })) },
    (_, k) => first / 2 ** k,
  );
}

/** Pour and refill: a jug of twice the pour is filled with dye for 2 · d₁ · W; each piece gets the pour, the jug is filled up with
 *  water again, so that each piece has half the depth of the one before. What is left after n pours:  start · ½ⁿ.
 *  Each piece of the same dry mass. Throws CalcError. Source: Dye Another Day, CD text, discmaster.textfiles.com/view/8117. */
export function pourAndRefill(input: {
  firstDepthPct: number;
  pieceDryMassG: number;
  pourMl: number;
  pieces: number;
}): {
  jugMl: number;
  startMassG: number;
  depthsPct: number[];
  leftMassG: number;
} {
  const depthsPct = halvingPct(input);
  const pieceDryMassG = finiteIn('pieceDryMassG', input.pieceDryMassG, positive);
  const startMassG = (2 * input.firstDepthPct * pieceDryMassG) / 100;
  return {
    jugMl: 2 * finiteIn('pourMl', input.pourMl, positive),
    startMassG,
    depthsPct,
    leftMassG: startMassG / 2 ** depthsPct.length,
  };
}

/** An ombré in one bath: dye is added stage by stage and goods are drawn out before each; what the bath has had in all after each
 *  addition. Volumes mL ≥ 0. Throws CalcError. Source: lhitbd.blogspot.com/2012/07. */
export function ombreTotalsMl(input: { additionsMl: readonly number[] }): number[] {
  let total = 0;
  return input.additionsMl.map((addition) => {
    total += finiteIn('additionsMl', addition, { min: 0 });
    return total;
  });
}

/** Stock solution for each of several small pieces:  V (mL) = W · d / c. stockStrengthPct % w/v, > 0 to 100. Throws CalcError.
 *  Source: T. Chiu, travelingtiger.com/crafts/dyeing.htm. */
export function seriesVolumesMl(input: {
  pieceDryMassG: number;
  depthsPct: readonly number[];
  stockStrengthPct: number;
}): number[] {
  const pieceDryMassG = finiteIn('pieceDryMassG', input.pieceDryMassG, positive);
  const strength = finiteIn('stockStrengthPct', input.stockStrengthPct, { ...positive, max: 100 });
  return input.depthsPct.map((depth) => (pieceDryMassG * finiteIn('depthsPct', depth, { min: 0 })) / strength);
}

/** Dye of one bath handed out over goods that share it, by mass × uptake:  mᵢ = M · Wᵢuᵢ / Σ Wu, and the depth that each gets.
 *  dyeMassG ≥ 0, masses > 0, uptakes > 0 in any one unit. Throws CalcError. Follows from the definition of uptake. */
export function sharedBath(input: { dyeMassG: number; goods: readonly { dryMassG: number; uptakeFactor: number }[] }): {
  massesG: number[];
  depthsPct: number[];
} {
  const dyeMassG = finiteIn('dyeMassG', input.dyeMassG, { min: 0 });
  const weights = input.goods.map(
    ({ dryMassG, uptakeFactor }) =>
      finiteIn('dryMassG', dryMassG, positive) * finiteIn('uptakeFactor', uptakeFactor, positive),
  );
  const all = finiteIn(
    'goods',
    weights.reduce((sum, one) => sum + one, 0),
    positive,
  );
  const massesG = weights.map((one) => (dyeMassG * one) / all);
  return { massesG, depthsPct: massesG.map((mass, i) => (100 * mass) / (input.goods[i]?.dryMassG ?? 1)) };
}

/** Depth on the part of a blend that dyes:  d / its share of the dry mass. depthPct ≥ 0, partDryPct > 0 to 100. Throws CalcError.
 *  Follows from the definition of depth. */
export const depthOnPartPct = (input: { depthPct: number; partDryPct: number }): number =>
  (100 * finiteIn('depthPct', input.depthPct, { min: 0 })) /
  finiteIn('partDryPct', input.partDryPct, { ...positive, max: 100 });
