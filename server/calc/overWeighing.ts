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
 *  Throws CalcError. */
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
 *  when the line is not of this weigh-up. The rule is waysOutOfOverWeighing's. */
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
 *  target from now on. Throws CalcError. */
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
