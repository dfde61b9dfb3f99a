import { CalcError, finiteIn } from './calcError.ts';
import type { DyeClass } from './classFit.ts';

/** Instants are ms since 1970 UTC and are handed in; durations are s. */
export interface ScheduleStep {
  readonly stepId: string;
  /** null for a step that ends when it is done ("until the ice has melted"): nothing after it has a planned time. */
  readonly plannedDurationS: number | null;
  readonly actualStartAtMs?: number | undefined;
  readonly actualEndAtMs?: number | undefined;
  readonly skipped?: boolean | undefined;
}

export interface StepTimes {
  readonly stepId: string;
  /** By the plan alone, as if everything had gone by it. */
  readonly plannedStartAtMs: number | null;
  readonly plannedEndAtMs: number | null;
  /** By what has happened so far: actual times where there are any, else what follows from them. */
  readonly expectedStartAtMs: number | null;
  readonly expectedEndAtMs: number | null;
  readonly state: 'waiting' | 'running' | 'overdue' | 'done' | 'skipped';
  /** Seconds left of a running step; negative when it is overdue, null when it has no planned duration or is not running. */
  readonly remainingS: number | null;
}

export interface Schedule {
  readonly steps: readonly StepTimes[];
  readonly plannedReadyAtMs: number | null;
  readonly expectedReadyAtMs: number | null;
}

/** Planned steps to clock times: each starts when the one before it ends, an actual start or end overrides what was expected, and a
 *  step that waits or runs over its time pushes those after it.
 *  startAtMs start of the first step · nowMs the present · steps in order, plannedDurationS ≥ 0 or null. A running step is overdue
 *  when its planned duration has passed since its actual start; an actual end without a start takes the planned duration back from it.
 *  Throws CalcError('mismatch', 'actualEndAtMs') when a step ends before it starts. Common practice. */
export function schedule(input: { startAtMs: number; nowMs: number; steps: readonly ScheduleStep[] }): Schedule {
  const nowMs = finiteIn('nowMs', input.nowMs);
  let plannedMs: number | null = finiteIn('startAtMs', input.startAtMs);
  let expectedMs: number | null = plannedMs;
  const steps = input.steps.map((step): StepTimes => {
    const durationMs =
      step.plannedDurationS === null ? null : 1000 * finiteIn('plannedDurationS', step.plannedDurationS, { min: 0 });
    const plannedStartAtMs = plannedMs;
    const plannedEndAtMs = plannedMs === null || durationMs === null ? null : plannedMs + durationMs;
    plannedMs = plannedEndAtMs;
    const planned = { stepId: step.stepId, plannedStartAtMs, plannedEndAtMs };
    if (step.skipped === true) {
      return { ...planned, expectedStartAtMs: null, expectedEndAtMs: null, state: 'skipped', remainingS: null };
    }
    const { actualStartAtMs, actualEndAtMs } = step;
    if (actualEndAtMs !== undefined) {
      const startAtMs = actualStartAtMs ?? actualEndAtMs - (durationMs ?? 0);
      if (finiteIn('actualEndAtMs', actualEndAtMs) < finiteIn('actualStartAtMs', startAtMs)) {
        throw new CalcError('mismatch', 'actualEndAtMs', 'a step cannot end before it starts');
      }
      expectedMs = actualEndAtMs;
      return {
        ...planned,
        expectedStartAtMs: startAtMs,
        expectedEndAtMs: actualEndAtMs,
        state: 'done',
        remainingS: null,
      };
    }
    if (actualStartAtMs !== undefined) {
      const endAtMs: number | null =
        durationMs === null ? null : finiteIn('actualStartAtMs', actualStartAtMs) + durationMs;
      const remainingS = endAtMs === null ? null : (endAtMs - nowMs) / 1000;
      expectedMs = endAtMs === null ? null : Math.max(endAtMs, nowMs);
      return {
        ...planned,
        expectedStartAtMs: actualStartAtMs,
        expectedEndAtMs: expectedMs,
        state: remainingS !== null && remainingS < 0 ? 'overdue' : 'running',
        remainingS,
      };
    }
    const expectedStartAtMs: number | null = expectedMs === null ? null : Math.max(expectedMs, nowMs);
    expectedMs = expectedStartAtMs === null || durationMs === null ? null : expectedStartAtMs + durationMs;
    return { ...planned, expectedStartAtMs, expectedEndAtMs: expectedMs, state: 'waiting', remainingS: null };
  });
  return { steps, plannedReadyAtMs: plannedMs, expectedReadyAtMs: expectedMs };
}

export const fixationProcedures = ['immersion', 'dampBatching', 'iceBatching', 'steaming', 'boil'] as const;
export type FixationProcedure = (typeof fixationProcedures)[number];

export type FixationTime =
  | { readonly kind: 'published'; readonly minimumS: number; readonly source: string }
  | { readonly kind: 'notKnown' };

const hourS = 3600;

/** Shortest printed times, each only in the temperatures that its source speaks of. */
const publishedFixation: readonly {
  readonly dyeClass: DyeClass;
  readonly procedure: FixationProcedure;
  readonly fromTempC: number;
  readonly toTempC: number;
  readonly minimumS: number;
  readonly source: string;
}[] = [
  {
    dyeClass: 'reactive',
    procedure: 'immersion',
    fromTempC: 38,
    toTempC: 42,
    minimumS: 50 * 60,
    source: 'immersion sheet as posted by a dye maker: 40 °C, 50 min after the alkali (30 for pastels)',
  },
  {
    dyeClass: 'reactive',
    procedure: 'dampBatching',
    fromTempC: 20,
    toTempC: 40,
    minimumS: 6 * hourS,
    source: 'steaming thread, pburch.net: 6 to 24 h damp; 20 °C or more from memory',
  },
  {
    dyeClass: 'reactive',
    procedure: 'iceBatching',
    fromTempC: 20,
    toTempC: 40,
    minimumS: 24 * hourS,
    source: 'ice dyeing technique sheet of a quilt guild: 24 h or more, covered and warm',
  },
  {
    dyeClass: 'reactive',
    procedure: 'steaming',
    fromTempC: 98,
    toTempC: 102,
    minimumS: 20 * 60,
    source: 'steaming thread, pburch.net: dichlorotriazine on silk 20 to 25 min advised',
  },
  {
    dyeClass: 'acid',
    procedure: 'boil',
    fromTempC: 95,
    toTempC: 100,
    minimumS: 20 * 60,
    source: 'J. Cowern, wool dye method: 20 min held at the boil',
  },
  {
    dyeClass: 'acid',
    procedure: 'immersion',
    fromTempC: 83,
    toTempC: 90,
    minimumS: 30 * 60,
    source: 'acid dye process, phwoosh-crafts.blogspot.com, 2019: silk held 30 to 60 min at 85 °C',
  },
  {
    dyeClass: 'metalComplex',
    procedure: 'immersion',
    fromTempC: 91,
    toTempC: 95,
    minimumS: 30 * 60,
    source: "craft supplier's 1:2 metal-complex dye sheet: 30 to 45 min at 93 °C",
  },
  {
    dyeClass: 'direct',
    procedure: 'boil',
    fromTempC: 95,
    toTempC: 100,
    minimumS: 45 * 60,
    source: 'dyeing cotton with direct dyes, textilesphere.com, 2020: boil 45 to 60 min',
  },
  {
    dyeClass: 'basic',
    procedure: 'boil',
    fromTempC: 95,
    toTempC: 100,
    minimumS: hourS,
    source: 'dyeing of cotton with basic dye, definetextile.com, 2013: boil 1 h',
  },
];

/** Shortest published time for a class to fix at a temperature; 'notKnown' outside the printed temperatures, where no rule of thumb
 *  is made up: below about 20 °C reactive batching slows by an amount that the published trials do not agree on.
 *  tempC −10 to 150. Throws CalcError. Sources with each row. */
export function fixationTime(input: { dyeClass: DyeClass; procedure: FixationProcedure; tempC: number }): FixationTime {
  const tempC = finiteIn('tempC', input.tempC, { min: -10, max: 150 });
  const row = publishedFixation.find(
    (published) =>
      published.dyeClass === input.dyeClass &&
      published.procedure === input.procedure &&
      tempC >= published.fromTempC &&
      tempC <= published.toTempC,
  );
  return row === undefined ? { kind: 'notKnown' } : { kind: 'published', minimumS: row.minimumS, source: row.source };
}
