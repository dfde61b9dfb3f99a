import { countsFor } from '../calc/countsFor.ts';
import { judgedLine } from '../calc/overWeighing.ts';
import { nearestInteger } from '../calc/rounding.ts';
import { schedule } from '../calc/schedule.ts';
import type { ReadingVerdict } from '../calc/weighing.ts';
import { linesDyed } from '../closings/asDyed.ts';
import { closingOf } from '../closings/queries.ts';
import type { Db } from '../db/open.ts';
import type { LogEntryRow, LotRow } from '../db/tables/lots.ts';
import { notFound } from '../errors.ts';
import { planOf } from '../plans/planOf.ts';
import type { Plan } from '../plans/schemas.ts';
import { theStudio } from '../settings/queries.ts';
import {
  adjustmentsOf,
  type ComponentOfLot,
  componentsOf,
  type LogLine,
  logOf,
  lotById,
  stepsOf,
  type WeighingOfLot,
  weighingsOf,
} from './queries.ts';

/** What one line of the weigh-up has come to: plan, target that holds now, what is in the cup. Amounts in mg or µL. */
export interface BenchLine {
  component: ComponentOfLot;
  unit: 'mg' | 'ul';
  planned: number;
  target: number;
  step: number;
  tolerance: number;
  /** What counts towards the target, in the line's own strength and unit; undefined when nothing was weighed. */
  actual: number | undefined;
  /** By the books, where a correction or an addition after the closing says otherwise than the scale. */
  corrected: number | undefined;
  verdict: ReadingVerdict | null;
  weighings: WeighingOfLot[];
  /** 'next' is the first line that still wants something. */
  state: 'waiting' | 'under' | 'within' | 'over';
}

export interface BenchStep {
  stepId: number;
  ordinal: number;
  name: string;
  plannedDurationS: number;
  plannedTempC: number | null;
  note: string;
  state: 'waiting' | 'running' | 'overdue' | 'done' | 'skipped';
  startedAt: number | null;
  endedAt: number | null;
  remainingS: number | null;
  expectedEndAt: number | null;
}

export interface Bench {
  lot: LotRow;
  plan: Plan;
  /** Dry mass that holds now: the plan's, or that of the last adjustment. */
  dryMassMg: number;
  tolerancePct: number;
  lines: BenchLine[];
  steps: BenchStep[];
  readyAt: number | null;
  log: LogLine[];
}

/** The state of a lot at the bench, read in a fixed number of statements. */
export function benchOf(db: Db, lotId: number, now: number): Bench {
  const row = lotById(db, lotId);
  if (!row) throw notFound('lot');
  // A closed lot is judged as it was: its clock stands, and the tolerance is that of its day.
  const closing = row.finishedAt === null ? undefined : closingOf(db, lotId);
  const clockAt = row.finishedAt ?? now;
  const tolerancePct = (closing?.weighingTolerancePpm ?? theStudio(db).weighingTolerancePpm) / 10_000;
  const corrected = closing && new Map(linesDyed(db, [lotId]).map((l) => [l.component.componentId, l.corrected]));
  const weighings = weighingsOf(db, lotId);
  const adjustments = adjustmentsOf(db, lotId);
  const log = logOf(db, lotId);
  const lot = { ...row, startedAt: beganAt(row, log) };
  const lines = componentsOf(db, lotId).map((component): BenchLine => {
    const unit = component.plannedMassMg !== null ? 'mg' : 'ul';
    const planned = component.plannedMassMg ?? component.plannedVolumeUl ?? 0;
    const target = component.adjustedMassMg ?? component.adjustedVolumeUl ?? planned;
    const own = weighings.filter((w) => w.componentId === component.id);
    const counting = own.filter((w) => !w.voided && !w.discarded);
    const actual =
      counting.length === 0
        ? undefined
        : nearestInteger({ value: counting.reduce((sum, w) => sum + countsFor(component, w), 0), field: 'actual' });
    const { tolerance, verdict } = judgedLine({ line: { target, step: component.step, actual }, tolerancePct });
    return {
      component,
      unit,
      planned,
      target,
      step: component.step,
      tolerance,
      actual,
      corrected: corrected?.get(component.id),
      verdict,
      weighings: own,
      state: verdict?.verdict ?? 'waiting',
    };
  });
  const steps = stepsOf(db, lotId);
  // Two hands may have said it of one step, neither knowing of the other: it counts from the first, whichever arrived first.
  const saidAt = (stepId: number, kind: 'stepStart' | 'stepEnd'): number | undefined => {
    const said = log.filter((e) => e.stepId === stepId && e.kind === kind && e.voidedAt === null).map((e) => e.at);
    return said.length === 0 ? undefined : Math.min(...said);
  };
  const happened = (stepId: number, kind: 'stepStart' | 'stepEnd'): number | undefined => {
    const at = saidAt(stepId, kind);
    return kind === 'stepEnd' && at !== undefined ? Math.max(at, saidAt(stepId, 'stepStart') ?? at) : at;
  };
  const times = schedule({
    startAtMs: lot.startedAt ?? clockAt,
    nowMs: clockAt,
    steps: steps.map((s) => ({
      stepId: String(s.id),
      plannedDurationS: s.plannedDurationS,
      actualStartAtMs: happened(s.id, 'stepStart'),
      actualEndAtMs: happened(s.id, 'stepEnd'),
    })),
  });
  return {
    lot,
    plan: planOf(lot),
    dryMassMg: closing?.dryMassMg ?? adjustments.at(-1)?.dryMassMg ?? lot.dryMassMg,
    tolerancePct,
    lines,
    steps: steps.map((s, i): BenchStep => {
      const t = times.steps[i];
      return {
        stepId: s.id,
        ordinal: s.ordinal,
        name: s.name,
        plannedDurationS: s.plannedDurationS,
        plannedTempC: s.plannedTempC,
        note: s.note,
        state: t?.state ?? 'waiting',
        startedAt: happened(s.id, 'stepStart') ?? null,
        endedAt: happened(s.id, 'stepEnd') ?? null,
        remainingS: t?.remainingS ?? null,
        expectedEndAt: t?.expectedEndAtMs ?? null,
      };
    }),
    readyAt: times.expectedReadyAtMs,
    log,
  };
}

/** When work on a lot began: its earliest happening that stands, in whatever order they came. */
function beganAt(lot: LotRow, log: readonly LogLine[]): number | null {
  const work = log.filter((e) => e.voidedAt === null && !ABOUT_THE_LOT.has(e.kind));
  return work.length === 0 ? lot.startedAt : Math.min(...work.map((e) => e.at));
}

const ABOUT_THE_LOT = new Set<LogEntryRow['kind']>(['start', 'labour', 'finish', 'abandon', 'voiding', 'placement']);
