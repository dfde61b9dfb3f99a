import { CalcError } from './calcError.ts';
import { nearestInteger } from './rounding.ts';
import {
  type ReadingVerdict,
  readingVerdict,
  type WayOut,
  type WeighUpLine,
  waysOutOfOverWeighing,
  weighingTolerance,
} from './weighing.ts';

/** A line of the weigh-up as it stands at the scale. Amounts in mg or µL. */
export interface LineAtScale extends Omit<WeighUpLine, 'planned' | 'depthPct'> {
  /** The plan's target, rounded to the scale. */
  readonly planned: number;
  /** The target that holds now: the plan's, or the last adjustment's. */
  readonly target: number;
  /** The exact figure behind the target: the plan's before rounding, as long as the plan's target holds. */
  readonly exact: number;
  /** Own depth of a dye line in the plan, % owg. */
  readonly plannedDepthPct?: number | undefined;
}

/** A weigh-up as it stands at the scale: plain data, so that the page of the bench can carry it and work on without network. */
export interface WeighUpAtScale {
  readonly lines: readonly LineAtScale[];
  readonly plannedGoodsDryMassMg: number;
  /** Dry mass that holds now. */
  readonly goodsDryMassMg: number;
  readonly liquorFollowsGoods: boolean;
  readonly tolerancePct: number;
}

export interface WayOutOffer extends WayOut {
  readonly stage: 'dry' | 'inBath';
  /** 'shared' when everything in the colour's cup goes with it. */
  readonly vessel: 'own' | 'shared';
}

/** Tolerance of a line, and the verdict on what is in its cup: null where nothing was weighed or nothing is wanted.
 *  Throws CalcError. A rule of our own, over weighing.ts. */
export function judgedLine(input: { line: Pick<LineAtScale, 'target' | 'step' | 'actual'>; tolerancePct: number }): {
  tolerance: number;
  verdict: ReadingVerdict | null;
} {
  const { target, step, actual } = input.line;
  const tolerance = weighingTolerance({ target, step, tolerancePct: input.tolerancePct });
  const verdict = actual === undefined || target === 0 ? null : readingVerdict({ target, reading: actual, tolerance });
  return { tolerance, verdict };
}

/** The ways out of an over-weighed line, each with every other line recomputed; none when the line is within its tolerance or under.
 *  With other powders in the cup of its colour already, the whole cup may be discarded too. Throws CalcError('missing', 'overLineId')
 *  when the line is not of this weigh-up. The rule is waysOutOfOverWeighing's. A rule of our own, over weighing.ts. */
export function waysOutAtScale(input: {
  weighUp: WeighUpAtScale;
  overLineId: string;
  stage: 'dry' | 'inBath';
}): WayOutOffer[] {
  const { weighUp, overLineId, stage } = input;
  const over = weighUp.lines.find((line) => line.lineId === overLineId);
  if (!over) throw new CalcError('missing', 'overLineId', 'the over-weighed line is not one of the weigh-up');
  if (judgedLine({ line: over, tolerancePct: weighUp.tolerancePct }).verdict?.verdict !== 'over') return [];
  const lines = weighUp.lines
    .filter((line) => line.target > 0)
    .map(
      (line): WeighUpLine => ({
        lineId: line.lineId,
        colourId: line.colourId,
        unit: line.unit,
        planned: line.exact,
        step: line.step,
        actual: line.actual,
        depthPct: depthNowPct({ line, weighUp }),
        scalesWith: line.scalesWith,
      }),
    );
  const offer = (vessel: 'own' | 'shared'): WayOutOffer[] =>
    waysOutOfOverWeighing({
      lines,
      overLineId,
      goodsDryMassMg: weighUp.goodsDryMassMg,
      stage,
      vessel,
      liquorFollowsGoods: weighUp.liquorFollowsGoods,
    }).map((way) => ({ ...way, stage, vessel }));
  const othersInCup = weighUp.lines.some(
    (line) => line !== over && line.actual !== undefined && line.colourId !== null && line.colourId === over.colourId,
  );
  return stage === 'dry' && othersInCup
    ? [...offer('own'), ...offer('shared').filter((way) => way.kind === 'weighAgain')]
    : offer('own');
}

/** Depth of a dye line that its target stands for, on the goods that hold now:  d · target / planned · W planned / W now. */
function depthNowPct(input: { line: LineAtScale; weighUp: WeighUpAtScale }): number | undefined {
  const { line, weighUp } = input;
  if (line.plannedDepthPct === undefined) return undefined;
  const ofPlan = line.planned > 0 ? line.target / line.planned : 1;
  return line.plannedDepthPct * ofPlan * (weighUp.plannedGoodsDryMassMg / weighUp.goodsDryMassMg);
}

/** The weigh-up once a way out was taken: new targets and goods, nothing any more in what was discarded. What was kept as made is its own
 *  target from now on. Throws CalcError. A rule of our own. */
export function weighUpAfter(input: { weighUp: WeighUpAtScale; overLineId: string; way: WayOutOffer }): WeighUpAtScale {
  const { weighUp, overLineId, way } = input;
  const lines = weighUp.lines.map((line): LineAtScale => {
    const after = way.lines.find(({ lineId }) => lineId === line.lineId);
    const emptied = way.discarded.some(({ lineId }) => lineId === line.lineId);
    const keptAsMade = way.kind === 'keepAsMade' && line.lineId === overLineId;
    const target = (keptAsMade ? line.actual : undefined) ?? after?.targetRounded ?? line.target;
    return {
      ...line,
      target,
      exact: target === line.target ? line.exact : target,
      actual: emptied ? undefined : line.actual,
    };
  });
  return { ...weighUp, lines, goodsDryMassMg: nearestInteger({ value: way.goodsDryMassMg, field: 'goodsDryMassMg' }) };
}

/** The figures that a way out was chosen on, and what it was to make of them: it travels with the choice, as JSON. Amounts in mg or µL. */
export interface ConfirmedWay {
  readonly goodsDryMassMg: number;
  /** Every line as it was seen; `actual` is null where nothing was weighed. */
  readonly lines: readonly { readonly lineId: string; readonly target: number; readonly actual: number | null }[];
  readonly goodsFactor: number;
  readonly depthFactor: number;
  readonly after: {
    readonly goodsDryMassMg: number;
    readonly lines: readonly { readonly lineId: string; readonly target: number }[];
    /** Lines whose cups are thrown away. */
    readonly discarded: readonly string[];
  };
}

/** What somebody who takes this way out confirms. Throws CalcError. A rule of our own. */
export function confirmedWay(input: { weighUp: WeighUpAtScale; overLineId: string; way: WayOutOffer }): ConfirmedWay {
  const { weighUp, way } = input;
  const after = weighUpAfter(input);
  return {
    goodsDryMassMg: weighUp.goodsDryMassMg,
    lines: weighUp.lines.map(({ lineId, target, actual }) => ({ lineId, target, actual: actual ?? null })),
    goodsFactor: way.goodsFactor,
    depthFactor: way.depthFactor,
    after: {
      goodsDryMassMg: after.goodsDryMassMg,
      lines: after.lines.map(({ lineId, target }) => ({ lineId, target })),
      discarded: way.discarded.map(({ lineId }) => lineId),
    },
  };
}

/** Whether a way out may still be taken as it was confirmed. It holds when goods, targets and what is in the cup it speaks of (the
 *  over-weighed line and all that it discards) are what they were, and when it makes exactly the goods and targets that were
 *  confirmed. A line beside it that was weighed meanwhile, and of which it makes the same, changes nothing that was chosen.
 *  A rule of our own. */
export function confirmedWayHolds(input: {
  weighUp: WeighUpAtScale;
  overLineId: string;
  way: WayOutOffer;
  confirmed: ConfirmedWay;
}): boolean {
  const { overLineId, confirmed } = input;
  const now = confirmedWay(input);
  const spokenOf = new Set([overLineId, ...now.after.discarded, ...confirmed.after.discarded]);
  const seen = new Map(confirmed.lines.map((line) => [line.lineId, line]));
  const meant = new Map(confirmed.after.lines.map((line) => [line.lineId, line.target]));
  return (
    now.goodsDryMassMg === confirmed.goodsDryMassMg &&
    now.after.goodsDryMassMg === confirmed.after.goodsDryMassMg &&
    confirmed.lines.length === now.lines.length &&
    now.lines.every(({ lineId, target, actual }) => {
      const was = seen.get(lineId);
      return was?.target === target && (!spokenOf.has(lineId) || was.actual === actual);
    }) &&
    now.after.lines.every(({ lineId, target }) => meant.get(lineId) === target)
  );
}
