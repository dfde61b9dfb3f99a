import {
  type ConfirmedWay,
  confirmedWay,
  type WayOutOffer,
  type WeighUpAtScale,
  waysOutAtScale,
} from '../calc/overWeighing.ts';
import type { WayOutKind } from '../calc/weighing.ts';
import { notFound } from '../errors.ts';
import type { Bench, BenchLine } from '../lots/benchState.ts';

/** The weigh-up as it stands, for the calculation of ways out: here, and on the page of the bench while it has no network. */
export const weighUpOf = (bench: Bench): WeighUpAtScale => ({
  plannedGoodsDryMassMg: bench.lot.dryMassMg,
  goodsDryMassMg: bench.dryMassMg,
  liquorFollowsGoods: bench.plan.liquorFollowsGoods,
  tolerancePct: bench.tolerancePct,
  lines: bench.lines.map((l) => ({
    lineId: String(l.component.id),
    colourId: l.component.lotColourId === null ? null : String(l.component.lotColourId),
    unit: l.unit,
    planned: l.planned,
    target: l.target,
    exact: exactTarget(l),
    step: l.step,
    actual: l.actual,
    plannedDepthPct:
      l.component.kind === 'dye'
        ? (bench.plan.lines.find((p) => p.ordinal === l.component.ordinal)?.depthPpm ?? 0) / 10_000
        : undefined,
    scalesWith: scalesWith(l),
  })),
});

/** The ways out of an over-weighed line, each with every other line recomputed. Empty when the line is not over. */
export function waysOut(bench: Bench, componentId: number, stage: 'dry' | 'inBath'): WayOutOffer[] {
  if (!bench.lines.some((l) => l.component.id === componentId)) throw notFound('line of this weigh-up');
  return waysOutAtScale({ weighUp: weighUpOf(bench), overLineId: String(componentId), stage });
}

/** What somebody confirms who takes this way out now; undefined when it is not offered. */
export function confirmedNow(
  bench: Bench,
  chosen: { componentId: number; way: WayOutKind; stage: 'dry' | 'inBath'; vessel: 'own' | 'shared' },
): ConfirmedWay | undefined {
  const way = waysOut(bench, chosen.componentId, chosen.stage).find(
    (w) => w.kind === chosen.way && w.vessel === chosen.vessel,
  );
  return way && confirmedWay({ weighUp: weighUpOf(bench), overLineId: String(chosen.componentId), way });
}

/** The exact figure behind a target: the plan's before rounding, as long as the plan's target holds. */
function exactTarget(l: BenchLine): number {
  const { exactUg, concPpm, adjustedMassMg, adjustedVolumeUl } = l.component;
  if (adjustedMassMg !== null || adjustedVolumeUl !== null || exactUg === null) return l.target;
  return l.unit === 'mg' ? exactUg / 1000 : concPpm === null ? l.target : (exactUg * 1000) / concPpm;
}

function scalesWith(l: BenchLine): 'depth' | 'goods' | 'liquor' | 'fixed' {
  if (l.component.kind === 'dye') return 'depth';
  if (l.component.basis === 'owg') return 'goods';
  return l.component.basis === 'gPerL' || l.component.basis === 'mlPerL' ? 'liquor' : 'fixed';
}
