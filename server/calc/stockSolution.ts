import { CalcError, finiteIn } from './calcError.ts';

const positive = { min: 0, exclusiveMin: true };
/** % w/v here always means grams in 100 mL of finished solution, made up to volume. Over 100 nothing in a dye room dissolves. */
const strengthRange = { min: 0, exclusiveMin: true, max: 100 };

/** Stock solution that brings a depth:  V (mL) = W · d / c
 *  goodsDryMassG > 0 · depthPct % owg ≥ 0 · stockStrengthPct % w/v, > 0 to 100. Throws CalcError.
 *  Source: Dyeing calculation in lab dip, textilecalculation.blogspot.com, 2015. One web page prints 50 for 100 g at 50 % from a
 *  10 % stock; the formula gives 500 mL. */
export function stockVolumeMl(input: { goodsDryMassG: number; depthPct: number; stockStrengthPct: number }): number {
  const goodsDryMassG = finiteIn('goodsDryMassG', input.goodsDryMassG, positive);
  const depthPct = finiteIn('depthPct', input.depthPct, { min: 0 });
  return finiteIn(
    'goodsDryMassG',
    (goodsDryMassG * depthPct) / finiteIn('stockStrengthPct', input.stockStrengthPct, strengthRange),
  );
}

/** Stock solution that holds a mass:  V (mL) = 100 · m / c. massG ≥ 0 · stockStrengthPct % w/v. Throws CalcError. Definition of % w/v. */
export function stockVolumeMlOfMass(input: { massG: number; stockStrengthPct: number }): number {
  const massG = finiteIn('massG', input.massG, { min: 0 });
  return (100 * massG) / finiteIn('stockStrengthPct', input.stockStrengthPct, strengthRange);
}

/** Mass in a volume of stock solution, and the powder needed to make it:  m = c · V / 100, *made up to* V.
 *  volumeMl ≥ 0 · stockStrengthPct % w/v. Throws CalcError. Source: J. Cowern, wool dye method, jennycowern.co.uk. */
export function stockMassG(input: { volumeMl: number; stockStrengthPct: number }): number {
  const volumeMl = finiteIn('volumeMl', input.volumeMl, { min: 0 });
  return (finiteIn('stockStrengthPct', input.stockStrengthPct, strengthRange) * volumeMl) / 100;
}

/** 1 % w/v = 10 g/L. Definition. */
export function stockStrengthPctOfConc(input: { concGPerL: number }): number {
  return finiteIn('concGPerL', input.concGPerL, { min: 0, exclusiveMin: true, max: 1000 }) / 10;
}

/** 1 % w/v = 10 g/L. Definition. */
export function concGPerLOfStock(input: { stockStrengthPct: number }): number {
  return finiteIn('stockStrengthPct', input.stockStrengthPct, strengthRange) * 10;
}

/** A weaker solution from a stronger:  C₁V₁ = C₂V₂
 *  Strengths > 0 in one unit, toStrengthPct ≤ fromStrengthPct · toVolumeMl > 0. Throws CalcError('mismatch', 'toStrengthPct').
 *  Source: Dilution arithmetic note, orchidboard.com. */
export function dilution(input: { fromStrengthPct: number; toStrengthPct: number; toVolumeMl: number }): {
  stockMl: number;
  waterMl: number;
} {
  const from = finiteIn('fromStrengthPct', input.fromStrengthPct, strengthRange);
  const to = finiteIn('toStrengthPct', input.toStrengthPct, strengthRange);
  if (to > from) {
    throw new CalcError('mismatch', 'toStrengthPct', `a ${from} % solution cannot be diluted to a stronger ${to} %`);
  }
  const toVolumeMl = finiteIn('toVolumeMl', input.toVolumeMl, positive);
  const stockMl = (to / from) * toVolumeMl;
  return { stockMl, waterMl: toVolumeMl - stockMl };
}

/** What a measured volume of a stronger solution makes of a weaker:  V₂ = C₁V₁ / C₂
 *  Ranges, errors and source as dilution; stockMl > 0. Definition. */
export function dilutedVolume(input: { fromStrengthPct: number; toStrengthPct: number; stockMl: number }): {
  toVolumeMl: number;
  waterMl: number;
} {
  const stockMl = finiteIn('stockMl', input.stockMl, positive);
  const toOneMl = dilution({ ...input, toVolumeMl: 1 });
  const toVolumeMl = stockMl / toOneMl.stockMl;
  return { toVolumeMl, waterMl: toVolumeMl - stockMl };
}

/** Strength of what a solution was made up to:  C₂ = C₁V₁ / V₂
 *  fromStrengthPct % w/v, > 0 to 100 · 0 < stockMl ≤ toVolumeMl. Throws CalcError('mismatch', 'toVolumeMl').
 *  Source: Dilution arithmetic note, orchidboard.com. */
export function dilutedStrengthPct(input: { fromStrengthPct: number; stockMl: number; toVolumeMl: number }): number {
  return finiteIn('fromStrengthPct', input.fromStrengthPct, strengthRange) * shareDrawn(input);
}

/** Strength of the solution that a weaker one was made from:  C₁ = C₂V₂ / V₁
 *  toStrengthPct % w/v, > 0 to 100, and so is what comes out · 0 < stockMl ≤ toVolumeMl.
 *  Throws CalcError('mismatch', 'toVolumeMl'), CalcError('outOfRange', 'toStrengthPct') when no solution can have been so strong.
 *  Source: Dilution arithmetic note, orchidboard.com. */
export function undilutedStrengthPct(input: { toStrengthPct: number; stockMl: number; toVolumeMl: number }): number {
  const toStrengthPct = finiteIn('toStrengthPct', input.toStrengthPct, strengthRange);
  const fromStrengthPct = toStrengthPct / shareDrawn(input);
  if (fromStrengthPct > strengthRange.max) {
    throw new CalcError(
      'outOfRange',
      'toStrengthPct',
      `it would have been made from a solution of ${Number(fromStrengthPct.toPrecision(6))} %, and there is none so strong`,
    );
  }
  return fromStrengthPct;
}

/** How much of the volume made was drawn from the stronger solution, > 0 to 1. */
function shareDrawn(input: { stockMl: number; toVolumeMl: number }): number {
  const stockMl = finiteIn('stockMl', input.stockMl, positive);
  const toVolumeMl = finiteIn('toVolumeMl', input.toVolumeMl, positive);
  if (toVolumeMl < stockMl) {
    throw new CalcError('mismatch', 'toVolumeMl', `${stockMl} mL cannot be made up to only ${toVolumeMl} mL`);
  }
  return stockMl / toVolumeMl;
}

export interface DilutionStep {
  readonly strengthPct: number;
  /** Drawn from the stronger solution before it; for the first step, from the stock in hand. */
  readonly drawnMl: number;
  readonly waterMl: number;
  /** All that must be made: what is wanted of it and what the next step draws from it. */
  readonly madeMl: number;
  readonly wantedMl: number;
}

/** A series of weaker and weaker solutions, each made from the one before (1 % → 0.1 % → 0.01 %), large enough that what is
 *  wanted of each is left after the next was made from it.  Each step:  C₁V₁ = C₂V₂.
 *  fromStrengthPct % w/v of the stock in hand · steps of strictly falling strength, wantedMl ≥ 0, the last > 0. Throws CalcError.
 *  Common practice. */
export function dilutionSeries(input: {
  fromStrengthPct: number;
  steps: readonly { readonly strengthPct: number; readonly wantedMl: number }[];
}): DilutionStep[] {
  const made: DilutionStep[] = [];
  let drawnByNextMl = 0;
  for (let index = input.steps.length - 1; index >= 0; index -= 1) {
    const step = input.steps[index];
    if (step === undefined) continue;
    const fromStrengthPct = input.steps[index - 1]?.strengthPct ?? input.fromStrengthPct;
    if (!(step.strengthPct < fromStrengthPct)) {
      throw new CalcError('mismatch', 'strengthPct', 'each solution of the series must be weaker than the one before');
    }
    const wantedMl = finiteIn('wantedMl', step.wantedMl, { min: 0 });
    const madeMl = finiteIn('wantedMl', wantedMl + drawnByNextMl, positive);
    const { stockMl, waterMl } = dilution({ fromStrengthPct, toStrengthPct: step.strengthPct, toVolumeMl: madeMl });
    made.unshift({ strengthPct: step.strengthPct, drawnMl: stockMl, waterMl, madeMl, wantedMl });
    drawnByNextMl = stockMl;
  }
  return made;
}

/** What is left of a stock solution:  V = made − used,  g = c · V / 100
 *  Volumes ≥ 0, used ≤ made · stockStrengthPct % w/v. Throws CalcError('mismatch', 'usedVolumeMl'). Definition of % w/v. */
export function stockLeft(input: { madeVolumeMl: number; usedVolumeMl: number; stockStrengthPct: number }): {
  volumeMl: number;
  massG: number;
} {
  const madeVolumeMl = finiteIn('madeVolumeMl', input.madeVolumeMl, { min: 0 });
  const usedVolumeMl = finiteIn('usedVolumeMl', input.usedVolumeMl, { min: 0 });
  if (usedVolumeMl > madeVolumeMl) {
    throw new CalcError('mismatch', 'usedVolumeMl', `${usedVolumeMl} mL cannot be used of ${madeVolumeMl} mL`);
  }
  const volumeMl = madeVolumeMl - usedVolumeMl;
  return { volumeMl, massG: stockMassG({ volumeMl, stockStrengthPct: input.stockStrengthPct }) };
}

/** Age of a solution against its shelf life. Instants in ms since 1970 UTC, durations in s.
 *  shelfLifeS > 0 · useSoonWithinS ≥ 0: so long before the end it is said to be used soon. A solution made after `nowMs` has age 0
 *  (clocks of two tablets differ). Throws CalcError. Lives by class differ widely between sheets: the studio's own number is taken.
 *  Common practice. */
export function stockAge(input: { madeAtMs: number; nowMs: number; shelfLifeS: number; useSoonWithinS: number }): {
  ageS: number;
  leftS: number;
  state: 'good' | 'useSoon' | 'past';
} {
  const shelfLifeS = finiteIn('shelfLifeS', input.shelfLifeS, positive);
  const useSoonWithinS = finiteIn('useSoonWithinS', input.useSoonWithinS, { min: 0 });
  const ageS = Math.max(0, (finiteIn('nowMs', input.nowMs) - finiteIn('madeAtMs', input.madeAtMs)) / 1000);
  const leftS = shelfLifeS - ageS;
  const state = leftS < 0 ? 'past' : leftS <= useSoonWithinS ? 'useSoon' : 'good';
  return { ageS, leftS, state };
}
