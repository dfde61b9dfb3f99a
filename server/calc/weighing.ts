import { CalcError, finiteIn } from './calcError.ts';
import type { WAYS_OUT } from './lotTerms.ts';
import { roundedLines, roundedToStep } from './rounding.ts';
import { stockVolumeMlOfMass } from './stockSolution.ts';

const positive = { min: 0, exclusiveMin: true };

/** A line of the weigh-up rounded to what its scale or measure shows. */
export interface RoundedWeighing {
  readonly exactMg: number;
  readonly roundedMg: number;
  /** 100 · (rounded − exact) / exact; −100 when the scale would show nothing. */
  readonly roundingErrorPct: number;
  /** The most that a reading of this size can be off by half a digit:  e ≤ 50 · r / m. */
  readonly halfDigitErrorPct: number;
}

/** One mass rounded to the scale:  m' = round(m/r) · r,  e ≤ 50 · r/m %
 *  massMg > 0, not rounded before · readabilityMg > 0. Throws CalcError. Common practice. */
export function roundedWeighing(input: { massMg: number; readabilityMg: number }): RoundedWeighing {
  const massMg = finiteIn('massMg', input.massMg, positive);
  const roundedMg = roundedToStep({ value: massMg, step: input.readabilityMg, field: 'massMg' });
  return weighingOf({ massMg, roundedMg, readabilityMg: input.readabilityMg });
}

/** All lines of a weigh-up rounded so that those on one scale add to their rounded total (largest remainder): a line may be up to one
 *  digit from its exact mass instead of half a digit. massMg > 0 · readabilityMg of each line's scale, > 0. Throws CalcError.
 *  Source of the method: Hamilton’s method of largest remainders. */
export function roundedWeighings(input: {
  lines: readonly { readonly massMg: number; readonly readabilityMg: number }[];
}): RoundedWeighing[] {
  const rounded = roundedByStep(input.lines.map((line) => ({ value: line.massMg, step: line.readabilityMg })));
  return input.lines.map((line, index) =>
    weighingOf({
      massMg: finiteIn('massMg', line.massMg, positive),
      roundedMg: rounded[index] ?? Number.NaN,
      readabilityMg: line.readabilityMg,
    }),
  );
}

function weighingOf(input: { massMg: number; roundedMg: number; readabilityMg: number }): RoundedWeighing {
  return {
    exactMg: input.massMg,
    roundedMg: input.roundedMg,
    roundingErrorPct: (100 * (input.roundedMg - input.massMg)) / input.massMg,
    halfDigitErrorPct: (50 * input.readabilityMg) / input.massMg,
  };
}

/** Values that share a step are rounded together, so that they add up. */
function roundedByStep(lines: readonly { value: number; step: number }[]): number[] {
  const rounded = new Array<number>(lines.length).fill(0);
  for (const step of new Set(lines.map((line) => line.step))) {
    const indexes = lines.flatMap((line, index) => (line.step === step ? [index] : []));
    const values = indexes.map((index) => lines[index]?.value ?? 0);
    roundedLines({ values, step, field: 'massMg' }).forEach((value, place) => {
      const index = indexes[place];
      if (index !== undefined) rounded[index] = value;
    });
  }
  return rounded;
}

/** Smallest mass that a scale weighs to a wanted error.
 *  'repeatability':  m_min = 2 · max(SD, 0.41 d) / (error/100)  (SD 0.02 mg at 0.1 % → 40 mg; with SD unknown, 820 d at 0.1 %, 82 d at 1 %)
 *  'halfDigit':      m_min = 50 · d / error                     (a little looser: 50 d at 1 %; common practice)
 *  readabilityMg > 0 · errorPct > 0 to 100 · sdMg ≥ 0, the standard deviation of ten or more repeat weighings, where it was measured.
 *  Throws CalcError. Sources: USP general chapter 41, repeatability and minimum weight; balance maker's summary of its changes. */
export function minimumMassMg(input: {
  readabilityMg: number;
  errorPct: number;
  rule: 'repeatability' | 'halfDigit';
  sdMg?: number | undefined;
}): number {
  const readabilityMg = finiteIn('readabilityMg', input.readabilityMg, { min: 0 });
  const errorPct = finiteIn('errorPct', input.errorPct, { min: 0, exclusiveMin: true, max: 100 });
  const sdMg = finiteIn('sdMg', input.sdMg ?? 0, { min: 0 });
  if (readabilityMg === 0 && sdMg === 0) {
    throw new CalcError(
      'missing',
      'readabilityMg',
      "the scale's readability or its measured standard deviation is needed",
    );
  }
  return input.rule === 'repeatability'
    ? (200 * Math.max(sdMg, 0.41 * readabilityMg)) / errorPct
    : (50 * readabilityMg) / errorPct;
}

/** Cylinders and syringes of a small dye room, mL. Common practice. */
export const measureCapacitiesMl: readonly number[] = [1, 2, 5, 10, 25, 50, 100, 250, 500, 1000, 2000];

/** What a measure is read to, µL: a hundredth of its capacity (cylinders are good to about 1 %), and 10 µL at the least. Common practice. */
export function measureDivisionUl(input: { capacityMl: number }): number {
  return Math.max(10, finiteIn('capacityMl', input.capacityMl, positive) * 10);
}

export type StockAdvice =
  | { readonly kind: 'powder' }
  | {
      readonly kind: 'stock';
      readonly strengthPct: number;
      readonly volumeMl: number;
      readonly measureCapacityMl: number;
      /** How often the measure is filled; 1 when the volume fits. */
      readonly fills: number;
    }
  | { readonly kind: 'noStockFits'; readonly reason: 'tooLittleToMeasure' | 'tooMuchLiquor' };

/** Whether a mass is weighed as powder or taken as stock solution, and at which strength.
 *  At or above the scale's floor: powder. Below it: the strongest stock whose volume  V = 100 · m / c  is at least a tenth of a
 *  measure's capacity and at most the liquor it may take up; the smallest measure that holds it in one filling.
 *  massMg > 0 · floorMg > 0 (minimumMassMg) · strengthsPct the stocks the studio keeps or would make (1, 0.1, 0.01) ·
 *  measureCapacitiesMl its cylinders and syringes · liquorVolumeMl what the bath has room for. Throws CalcError.
 *  Common practice: the lower tenth of a measure is not read from. */
export function stockAdvice(input: {
  massMg: number;
  floorMg: number;
  strengthsPct: readonly number[];
  measureCapacitiesMl: readonly number[];
  liquorVolumeMl: number;
}): StockAdvice {
  const massMg = finiteIn('massMg', input.massMg, positive);
  if (massMg >= finiteIn('floorMg', input.floorMg, { min: 0 })) return { kind: 'powder' };
  const liquorVolumeMl = finiteIn('liquorVolumeMl', input.liquorVolumeMl, positive);
  const measures = input.measureCapacitiesMl.map((capacity) => finiteIn('measureCapacityMl', capacity, positive));
  if (measures.length === 0) throw new CalcError('missing', 'measureCapacityMl', 'at least one measure is needed');
  if (input.strengthsPct.length === 0)
    throw new CalcError('missing', 'strengthPct', 'at least one stock strength is needed');
  measures.sort((a, b) => a - b);
  let reason: 'tooLittleToMeasure' | 'tooMuchLiquor' = 'tooLittleToMeasure';
  for (const strengthPct of [...input.strengthsPct].sort((a, b) => b - a)) {
    const volumeMl = stockVolumeMlOfMass({ massG: massMg / 1000, stockStrengthPct: strengthPct });
    if (volumeMl > liquorVolumeMl) {
      reason = 'tooMuchLiquor';
      break;
    }
    const capacityMl = measures.find((capacity) => capacity >= volumeMl) ?? measures.at(-1) ?? 0;
    if (volumeMl >= capacityMl / 10) {
      return {
        kind: 'stock',
        strengthPct,
        volumeMl,
        measureCapacityMl: capacityMl,
        fills: Math.ceil(volumeMl / capacityMl),
      };
    }
  }
  return { kind: 'noStockFits', reason };
}

/** How far a reading may be from its target: the wanted percentage, but never less than one digit of the scale or measure, since a
 *  target between two digits cannot be met. Amounts in one integer unit (mg or µL). Throws CalcError. Common practice. */
export function weighingTolerance(input: { target: number; step: number; tolerancePct: number }): number {
  const byPct =
    (finiteIn('target', input.target, { min: 0 }) * finiteIn('tolerancePct', input.tolerancePct, { min: 0 })) / 100;
  return Math.max(byPct, finiteIn('step', input.step, positive));
}

export interface ReadingVerdict {
  readonly verdict: 'within' | 'over' | 'under';
  /** Reading − target; to be added when negative. */
  readonly difference: number;
  readonly differencePct: number;
}

/** Judges a reading (all that is in the vessel of this component) against its target.
 *  target > 0 · reading ≥ 0 · tolerance ≥ 0, in one unit (mg or µL). Throws CalcError. A rule of our own. */
export function readingVerdict(input: { target: number; reading: number; tolerance: number }): ReadingVerdict {
  const target = finiteIn('target', input.target, positive);
  const difference = finiteIn('reading', input.reading, { min: 0 }) - target;
  const tolerance = finiteIn('tolerance', input.tolerance, { min: 0 });
  const verdict = Math.abs(difference) <= tolerance * (1 + 1e-9) ? 'within' : difference > 0 ? 'over' : 'under';
  return { verdict, difference, differencePct: (100 * difference) / target };
}

/** Targets that hold the hue once something was over-weighed:  k = max(actualᵢ/planᵢ), every target × k
 *  planned > 0 · actual of each line or undefined where it is not weighed yet; k is at least 1, since nothing is taken out.
 *  Throws CalcError. Common practice. */
export function overWeighFactor(input: {
  lines: readonly { readonly planned: number; readonly actual?: number | undefined }[];
}): number {
  return input.lines.reduce((factor, { planned, actual }) => {
    finiteIn('planned', planned, positive);
    return actual === undefined ? factor : Math.max(factor, finiteIn('actual', actual, { min: 0 }) / planned);
  }, 1);
}

/** The new target of every line once something was over-weighed:  targetᵢ = k · planᵢ, with k of overWeighFactor, whose ranges, errors
 *  and source hold. Common practice. */
export function overWeighTargets(input: Parameters<typeof overWeighFactor>[0]): { factor: number; targets: number[] } {
  const factor = overWeighFactor(input);
  return { factor, targets: input.lines.map(({ planned }) => planned * factor) };
}

/** One line of a lot's weigh-up, dye or auxiliary, in mg of powder or µL of stock solution. */
export interface WeighUpLine {
  readonly lineId: string;
  /** The colour that the line belongs to; null for an auxiliary that serves the whole lot. */
  readonly colourId: string | null;
  readonly unit: 'mg' | 'ul';
  /** What the plan says, not rounded. */
  readonly planned: number;
  /** Readability of its scale, or the division of its measure. */
  readonly step: number;
  /** All that has been weighed of it so far; undefined when nothing has. */
  readonly actual?: number | undefined;
  /** Own depth of a dye line in its colour, % owg, as planned. */
  readonly depthPct?: number | undefined;
  /** What the line grows with. depth: dye · goods: an auxiliary on weight of goods · liquor: one per litre of bath · fixed: as stated. */
  readonly scalesWith: 'depth' | 'goods' | 'liquor' | 'fixed';
}

export interface LineAfter {
  readonly lineId: string;
  readonly unit: 'mg' | 'ul';
  /** What the line has to hold now, not rounded. */
  readonly target: number;
  /** The same as its scale can show it; lines of one scale add to their rounded total. */
  readonly targetRounded: number;
  /** What is in the vessel already and stays. */
  readonly kept: number;
  /** What is still to be weighed: all of it, or the difference to what was weighed. */
  readonly toAdd: number;
  readonly act: 'weigh' | 'addDifference' | 'done';
}

export type WayOutKind = (typeof WAYS_OUT)[number];

export interface WayOut {
  readonly kind: WayOutKind;
  readonly goodsFactor: number;
  readonly depthFactor: number;
  readonly goodsDryMassMg: number;
  /** Goods to add to those planned. */
  readonly extraGoodsMg: number;
  /** Depth of the colour that the over-weighed line belongs to; undefined when that line is no dye. */
  readonly colourDepthPct?: number;
  /** Shares that its colour's dye lines will have, in their order; they differ from the plan only in 'keepAsMade'. */
  readonly colourSharesPct?: readonly number[];
  readonly hue: 'asPlanned' | 'changed';
  readonly lines: readonly LineAfter[];
  /** What is thrown away and must be booked as waste. */
  readonly discarded: readonly { readonly lineId: string; readonly unit: 'mg' | 'ul'; readonly amount: number }[];
}

/** The ways out when a line was over-weighed, each with every line of the weigh-up recomputed.
 *  k = max(actualᵢ/plannedᵢ) of the lines that must keep step.
 *  Before the dye is used (`stage: 'dry'`):
 *    moreGoods   goods × k at the same depth: every line that grows with the goods × k, all colours; liquor lines too where the bath
 *                grows with the goods (liquorFollowsGoods)
 *    deeper      same goods, depth × k: the other dyes of this colour × k; auxiliaries and other colours stay
 *    weighAgain  discard and weigh again: this line, or everything in the vessel when the colour is mixed in one (`vessel: 'shared'`)
 *  Once it is in the bath (`stage: 'inBath'`), where nothing can be taken out:
 *    addOthersToBath  the other dyes of this colour × k: hue holds, depth × k
 *    keepAsMade       the rest as planned: hue moves, and the shares that result are given
 *  A line already weighed becomes "add the difference" under its new target. An auxiliary that grows with nothing can only be weighed
 *  again or kept.
 *  goodsDryMassMg > 0 · lines of the whole lot, planned > 0. Throws CalcError('mismatch', 'overLineId') when that line is not over its plan.
 *  Common practice. */
export function waysOutOfOverWeighing(input: {
  lines: readonly WeighUpLine[];
  overLineId: string;
  goodsDryMassMg: number;
  stage: 'dry' | 'inBath';
  vessel: 'own' | 'shared';
  liquorFollowsGoods: boolean;
}): WayOut[] {
  const { lines, goodsDryMassMg, stage, vessel } = input;
  finiteIn('goodsDryMassMg', goodsDryMassMg, positive);
  const over = lines.find((line) => line.lineId === input.overLineId);
  if (over === undefined)
    throw new CalcError('missing', 'overLineId', 'the over-weighed line is not one of the weigh-up');
  if (!(over.actual !== undefined && over.actual > finiteIn('planned', over.planned, positive))) {
    throw new CalcError('mismatch', 'overLineId', 'this line is not over its target');
  }
  const isDye = over.scalesWith === 'depth';
  const sameColour = (line: WeighUpLine) => line.scalesWith === 'depth' && line.colourId === over.colourId;
  const growsWithGoods = (line: WeighUpLine) =>
    line.scalesWith === 'depth' ||
    line.scalesWith === 'goods' ||
    (line.scalesWith === 'liquor' && input.liquorFollowsGoods);

  const wayOut = (
    kind: WayOutKind,
    factors: { goods: number; depth: number },
    linesAfter: readonly LineAfter[],
    discarded: WayOut['discarded'] = [],
  ): WayOut => {
    const newGoodsMg = goodsDryMassMg * factors.goods;
    return {
      kind,
      goodsFactor: factors.goods,
      depthFactor: factors.depth,
      goodsDryMassMg: newGoodsMg,
      extraGoodsMg: newGoodsMg - goodsDryMassMg,
      ...(isDye ? colourAfter({ lines: lines.filter(sameColour), linesAfter, goodsFactor: factors.goods }) : {}),
      hue: kind === 'keepAsMade' && isDye ? 'changed' : 'asPlanned',
      lines: linesAfter,
      discarded,
    };
  };
  const scaled = (factor: number, grows: (line: WeighUpLine) => boolean) =>
    linesAfter({ lines, targetOf: (line) => (grows(line) ? line.planned * factor : line.planned) });

  const ways: WayOut[] = [];
  if (stage === 'dry') {
    if (growsWithGoods(over)) {
      const factor = overWeighFactor({ lines: lines.filter(growsWithGoods) });
      ways.push(wayOut('moreGoods', { goods: factor, depth: 1 }, scaled(factor, growsWithGoods)));
    }
    if (isDye) {
      const factor = overWeighFactor({ lines: lines.filter(sameColour) });
      ways.push(wayOut('deeper', { goods: 1, depth: factor }, scaled(factor, sameColour)));
    }
    const thrownAway = (line: WeighUpLine) =>
      line === over || (vessel === 'shared' && isDye && sameColour(line) && line.actual !== undefined);
    const discarded = lines
      .filter(thrownAway)
      .map((line) => ({ lineId: line.lineId, unit: line.unit, amount: line.actual ?? 0 }));
    const fresh = lines.map((line) => (thrownAway(line) ? { ...line, actual: undefined } : line));
    const again = linesAfter({ lines: fresh, targetOf: (line) => line.planned });
    ways.push(wayOut('weighAgain', { goods: 1, depth: 1 }, again, discarded));
  } else {
    if (isDye) {
      const factor = overWeighFactor({ lines: lines.filter(sameColour) });
      ways.push(wayOut('addOthersToBath', { goods: 1, depth: factor }, scaled(factor, sameColour)));
    }
    const kept = linesAfter({
      lines,
      targetOf: (line) => (line === over ? Math.max(line.planned, line.actual ?? 0) : line.planned),
    });
    ways.push(
      wayOut('keepAsMade', { goods: 1, depth: depthGain({ lines: lines.filter(sameColour), linesAfter: kept }) }, kept),
    );
  }
  return ways;
}

/** New targets, rounded by scale, and what is still to be added to what was weighed. Where the rounded target is at or under what is
 *  there, nothing is to be done: it cannot be taken out. */
function linesAfter(input: { lines: readonly WeighUpLine[]; targetOf: (line: WeighUpLine) => number }): LineAfter[] {
  const targets = input.lines.map((line) => finiteIn('planned', input.targetOf(line), positive));
  const rounded = new Array<number>(targets.length).fill(0);
  for (const unit of ['mg', 'ul'] as const) {
    const indexes = input.lines.flatMap((line, index) => (line.unit === unit ? [index] : []));
    const steps = indexes.map((index) => ({ value: targets[index] ?? 0, step: input.lines[index]?.step ?? 1 }));
    roundedByStep(steps).forEach((value, place) => {
      const index = indexes[place];
      if (index !== undefined) rounded[index] = value;
    });
  }
  return input.lines.map((line, index) => {
    const kept = line.actual ?? 0;
    const targetRounded = rounded[index] ?? 0;
    const toAdd = Math.max(0, targetRounded - kept);
    const act = line.actual === undefined ? 'weigh' : toAdd > 0 ? 'addDifference' : 'done';
    return { lineId: line.lineId, unit: line.unit, target: targets[index] ?? 0, targetRounded, kept, toAdd, act };
  });
}

/** What a dye line will hold when its part is done, against its plan. */
function heldFactor(line: WeighUpLine, after: LineAfter | undefined): number {
  return after === undefined ? 1 : Math.max(after.target, after.kept) / line.planned;
}

function depthGain(input: { lines: readonly WeighUpLine[]; linesAfter: readonly LineAfter[] }): number {
  const planned = input.lines.reduce((sum, line) => sum + (line.depthPct ?? 0), 0);
  if (planned === 0) return 1;
  return depthsHeldPct(input).reduce((sum, depth) => sum + depth, 0) / planned;
}

function depthsHeldPct(input: { lines: readonly WeighUpLine[]; linesAfter: readonly LineAfter[] }): number[] {
  return input.lines.map(
    (line) =>
      finiteIn('depthPct', line.depthPct ?? 0, { min: 0 }) *
      heldFactor(
        line,
        input.linesAfter.find((after) => after.lineId === line.lineId),
      ),
  );
}

function colourAfter(input: {
  lines: readonly WeighUpLine[];
  linesAfter: readonly LineAfter[];
  goodsFactor: number;
}): { colourDepthPct: number; colourSharesPct: number[] } | Record<string, never> {
  if (input.lines.some((line) => line.depthPct === undefined)) return {};
  const depths = depthsHeldPct(input).map((depth) => depth / input.goodsFactor);
  const colourDepthPct = depths.reduce((sum, depth) => sum + depth, 0);
  if (colourDepthPct === 0) return {};
  return { colourDepthPct, colourSharesPct: depths.map((depth) => (100 * depth) / colourDepthPct) };
}
