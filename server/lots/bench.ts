import {
  judgedLine,
  type WayOutOffer,
  type WeighUpAtScale,
  waysOutAtScale,
  weighUpAfter,
} from '../calc/overWeighing.ts';
import { BEFORE_PLAN_MS, BEFORE_RECEIPT_DAYS, FAR_AHEAD_MS, possibleTime, unaware } from '../calc/possibleTime.ts';
import { nearestInteger } from '../calc/rounding.ts';
import { schedule } from '../calc/schedule.ts';
import type { ReadingVerdict, WayOut, WayOutKind } from '../calc/weighing.ts';
import type { Db } from '../db/open.ts';
import type { LogEntryRow, LotRow } from '../db/tables/lots.ts';
import type { StockLotRow } from '../db/tables/stock.ts';
import type { Actor, Deps } from '../deps.ts';
import { invalid, notFound, Refusal } from '../errors.ts';
import { instantsOfDay } from '../settings/days.ts';
import { theStudio } from '../settings/queries.ts';
import { issue, reverseWeighing } from '../stock/ledger.ts';
import { stockLotById } from '../stock/queries.ts';
import { askAboutVoiding, askAboutWeighing, bookLateVoiding, bookLateWeighing } from './late.ts';
import type { Plan } from './plan.ts';
import { planOf } from './planLot.ts';
import {
  adjustmentsOf,
  beganEarlier,
  type ComponentOfLot,
  componentOf,
  componentsOf,
  entryById,
  entryOfClient,
  insertAdjustment,
  insertEntry,
  insertTarget,
  insertWeighing,
  isVoided,
  type LogLine,
  logOf,
  lotById,
  startLot,
  stepsOf,
  type WeighingOfLot,
  weighingOfEntry,
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

/** What a weighing counts for in its line: the container's strength and concentration turned into the line's. */
export function countsFor(
  component: Pick<ComponentOfLot, 'plannedMassMg' | 'concPpm' | 'strengthPpm'>,
  w: Pick<WeighingOfLot, 'massMg' | 'volumeUl' | 'stockLotStrengthPpm' | 'stockLotConcPpm'>,
): number {
  const strength = w.stockLotStrengthPpm / component.strengthPpm;
  const lineInMass = component.plannedMassMg !== null;
  if (w.massMg !== null) {
    const mg = w.massMg * strength;
    return lineInMass ? mg : component.concPpm === null ? mg : (mg * 1e6) / component.concPpm;
  }
  const ul = w.volumeUl ?? 0;
  if (w.stockLotConcPpm === null) return ul * strength;
  const mg = ((ul * w.stockLotConcPpm) / 1e6) * strength;
  return lineInMass ? mg : component.concPpm === null ? ul * strength : (mg * 1e6) / component.concPpm;
}

/** The state of a lot at the bench, read in a fixed number of statements. */
export function benchOf(db: Db, lotId: number, now: number): Bench {
  const row = lotById(db, lotId);
  if (!row) throw notFound('lot');
  const tolerancePct = theStudio(db).weighingTolerancePpm / 10_000;
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
      verdict,
      weighings: own,
      state: verdict?.verdict ?? 'waiting',
    };
  });
  const steps = stepsOf(db, lotId);
  const saidAt = (stepId: number, kind: 'stepStart' | 'stepEnd'): number | undefined =>
    log.find((e) => e.stepId === stepId && e.kind === kind && e.voidedAt === null)?.at;
  const happened = (stepId: number, kind: 'stepStart' | 'stepEnd'): number | undefined => {
    const at = saidAt(stepId, kind);
    return kind === 'stepEnd' && at !== undefined ? Math.max(at, saidAt(stepId, 'stepStart') ?? at) : at;
  };
  const times = schedule({
    startAtMs: lot.startedAt ?? now,
    nowMs: now,
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
    dryMassMg: adjustments.at(-1)?.dryMassMg ?? lot.dryMassMg,
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

/** A thing that happened, from a device that may retry: its own id and its own time. */
export interface Happened {
  clientId: string;
  at: number;
}

/** When a happening took place and when it reached us. `late`: after its lot was closed, by somebody who did not know. */
export interface When {
  at: number;
  recordedAt: number;
  clockSaidAt: number | null;
  late: boolean;
}

/** Holds the time of a happening against its lot: not before it was planned, but for what is typed in from paper. */
export function whenOf(lot: Pick<LotRow, 'plannedAt' | 'finishedAt'>, at: number, recordedAt: number): When {
  const time = possibleTime({
    atMs: at,
    nowMs: recordedAt,
    beganAtMs: lot.plannedAt,
    beforeMs: BEFORE_PLAN_MS,
    aheadMs: FAR_AHEAD_MS,
    field: 'at',
    tooEarly: 'That is before the lot was planned: look at the day, or at the device’s clock.',
  });
  const { finishedAt } = lot;
  const late = finishedAt !== null && unaware({ atMs: time.at, nowMs: recordedAt, changedAtMs: finishedAt });
  return { ...time, recordedAt, late };
}

/** Runs a bench action once: the same client id again answers the first entry. Opens the lot on its first happening. */
export function happen(
  deps: Deps,
  lotId: number,
  h: Happened,
  by: Actor,
  write: (tx: Db, base: typeof baseEntry, when: When) => LogEntryRow,
): LogEntryRow {
  return deps.db.transaction((tx) => {
    const known = entryOfClient(tx, h.clientId);
    if (known) {
      if (known.lotId !== lotId) throw new Refusal('conflict', 'That entry id belongs to another lot.');
      return known;
    }
    const lot = lotById(tx, lotId);
    if (!lot) throw notFound('lot');
    const when = whenOf(lot, h.at, deps.now());
    if (lot.status === 'planned') {
      startLot(tx, lotId, when.at);
      insertEntry(tx, {
        ...baseEntry(deps, lotId, { clientId: `start:${deps.newId()}`, at: when.at }, by),
        kind: 'start',
        text: 'Work on the lot began',
      });
    } else if (lot.finishedAt === null && lot.startedAt !== null && when.at < lot.startedAt) {
      beganEarlier(tx, lotId, when.at);
    }
    const base: typeof baseEntry = (d, id, own, who) => ({
      ...baseEntry(d, id, { ...own, at: when.at }, who),
      recordedAt: when.recordedAt,
      late: when.late ? 1 : 0,
      clockSaidAt: when.clockSaidAt,
    });
    return write(tx, base, when);
  });
}

export const baseEntry = (deps: Deps, lotId: number, h: Happened, by: Actor) => ({
  lotId,
  clientId: h.clientId,
  at: h.at,
  recordedAt: deps.now(),
  byPersonId: by.personId,
  text: '',
  valueJson: '{}',
  late: 0,
  clockSaidAt: null as number | null,
});

/** The lot, unless it is closed. What happened before the closing, or on a device that could not know of it, is `late` and taken. */
export const demandOpen = (lot: LotRow | undefined, when?: Pick<When, 'late'>): LotRow => {
  if (!lot) throw notFound('lot');
  if (lot.finishedAt !== null && !when?.late)
    throw new Refusal('lotFinished', `Lot ${lot.number} is ${lot.status}; its record stands as it is.`);
  return lot;
};

/** Records a reading of the scale or measure: log entry, weighing and stock issue in one. `amount` is in the container's
 *  unit (mg of powder, µL of solution or liquid), and is what was added, not the total. */
export function recordWeighing(
  deps: Deps,
  input: { lotId: number; componentId: number; stockLotId: number; amount: number } & Happened,
  by: Actor,
): LogEntryRow {
  if (!Number.isSafeInteger(input.amount) || input.amount <= 0)
    throw invalid({ amount: 'The reading must be more than nothing.' });
  return happen(deps, input.lotId, input, by, (tx, base, when) => {
    const lot = demandOpen(lotById(tx, input.lotId), when);
    const component = componentOf(tx, lot.id, input.componentId);
    if (!component) throw notFound('line of this weigh-up');
    const stockLot = stockLotById(tx, input.stockLotId);
    if (!stockLot || stockLot.dyeId !== component.dyeId || stockLot.auxiliaryId !== component.auxiliaryId)
      throw invalid({ stockLotId: `Choose a container of ${component.name}.` });
    const recalled = stockLot.recalledAt;
    if (recalled !== null && !unaware({ atMs: when.at, nowMs: when.recordedAt, changedAtMs: recalled }))
      throw invalid({ stockLotId: `Container ${stockLot.code} is recalled: ${stockLot.recallReason}` });
    const unit = stockLot.unit;
    if (unit === 'mg' && component.plannedMassMg === null && component.concPpm === null)
      throw invalid({ stockLotId: `${component.name} is measured by volume here.` });
    if (unit === 'ul' && component.plannedMassMg !== null && stockLot.concPpm === null)
      throw invalid({ stockLotId: `${component.name} is weighed here.` });
    const entry = insertEntry(tx, {
      ...base(deps, lot.id, input, by),
      kind: 'weighing',
      valueJson: JSON.stringify({
        componentId: component.id,
        name: component.name,
        stockLotCode: stockLot.code,
        ...(unit === 'mg' ? { massMg: input.amount } : { volumeUl: input.amount }),
        target:
          component.adjustedMassMg ??
          component.adjustedVolumeUl ??
          component.plannedMassMg ??
          component.plannedVolumeUl,
        ...beforeReceipt(tx, stockLot, when.at),
      }),
    });
    const weighing = insertWeighing(tx, {
      lotId: lot.id,
      componentId: component.id,
      stockLotId: stockLot.id,
      logEntryId: entry.id,
      massMg: unit === 'mg' ? input.amount : null,
      volumeUl: unit === 'ul' ? input.amount : null,
    });
    if (when.late) bookLateWeighing(tx, { lot, entry, weighing }, by);
    else
      issue(tx, { stockLotId: stockLot.id, quantity: input.amount, lotId: lot.id, weighingId: weighing.id }, by, when);
    if (when.late || recalled !== null) askAboutWeighing(tx, { lot, stockLot, entry, amount: input.amount }, by);
    return entry;
  });
}

/** A jar is sometimes used first and typed in afterwards: told in the entry, and taken within reason. */
function beforeReceipt(tx: Db, stockLot: StockLotRow, at: number): { beforeReceiptOn?: string } {
  const { receivedOn, code } = stockLot;
  // The day begins somewhere on earth within fourteen hours of UTC's: later than that the zone need not be asked.
  if (at >= Date.parse(`${receivedOn}T14:00:00Z`)) return {};
  const cameAt = instantsOfDay(receivedOn, theStudio(tx).zone).startAt;
  if (at >= cameAt) return {};
  if (at < cameAt - BEFORE_RECEIPT_DAYS * 86_400_000)
    throw invalid({
      stockLotId: `${code} came on ${receivedOn} by its receipt: look at the day, or at the container.`,
    });
  return { beforeReceiptOn: receivedOn };
}

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

/** Takes one of the ways out: logs the choice and writes the targets that hold from now on. The plan stays. */
export function takeWayOut(
  deps: Deps,
  input: {
    lotId: number;
    componentId: number;
    way: WayOutKind;
    stage: 'dry' | 'inBath';
    vessel: 'own' | 'shared';
  } & Happened,
  by: Actor,
): LogEntryRow {
  return happen(deps, input.lotId, input, by, (tx, base) => {
    demandOpen(lotById(tx, input.lotId));
    const bench = benchOf(tx, input.lotId, deps.now());
    const way = waysOut(bench, input.componentId, input.stage).find(
      (w) => w.kind === input.way && w.vessel === input.vessel,
    );
    const over = bench.lines.find((l) => l.component.id === input.componentId);
    if (!way || !over) throw new Refusal('conflict', 'That line is not over its target any more; look again.');
    const entry = insertEntry(tx, {
      ...base(deps, input.lotId, input, by),
      kind: 'adjustment',
      text: wayWords(way, over.component.name),
      valueJson: JSON.stringify({
        componentId: input.componentId,
        way: way.kind,
        stage: input.stage,
        vessel: way.vessel,
        goodsFactor: way.goodsFactor,
        depthFactor: way.depthFactor,
      }),
    });
    const adjustment = insertAdjustment(tx, {
      lotId: input.lotId,
      logEntryId: entry.id,
      way: way.kind,
      factorPpm: nearestInteger({ value: Math.max(way.goodsFactor, way.depthFactor) * 1e6, field: 'factor' }),
      dryMassMg: nearestInteger({ value: way.goodsDryMassMg, field: 'mass' }),
    });
    for (const { lineId } of way.discarded) {
      const line = bench.lines.find((l) => String(l.component.id) === lineId);
      for (const w of line?.weighings ?? []) {
        if (w.voided || w.discarded) continue;
        insertEntry(tx, {
          ...base(deps, input.lotId, { clientId: `discard:${deps.newId()}`, at: input.at }, by),
          kind: 'discard',
          refersToId: w.logEntryId,
          text: 'Discarded, to be weighed again',
        });
      }
    }
    const after = weighUpAfter({ weighUp: weighUpOf(bench), overLineId: String(input.componentId), way });
    for (const { lineId, unit, target } of after.lines) {
      const line = bench.lines.find((l) => String(l.component.id) === lineId);
      if (!line || target === line.target) continue;
      insertTarget(tx, {
        lotId: input.lotId,
        adjustmentId: adjustment.id,
        componentId: line.component.id,
        targetMassMg: unit === 'mg' ? target : null,
        targetVolumeUl: unit === 'ul' ? target : null,
      });
    }
    return entry;
  });
}

const factor = (f: number): string => `× ${f.toFixed(3)}`;

/** A way out in words, for the log. */
export function wayWords(way: WayOut, name: string): string {
  switch (way.kind) {
    case 'moreGoods':
      return `${name} over-weighed: more goods, ${factor(way.goodsFactor)}, to ${(way.goodsDryMassMg / 1000).toFixed(0)} g at the same depth`;
    case 'deeper':
      return `${name} over-weighed: the other dyes of the colour ${factor(way.depthFactor)}, a deeper shade of the same hue`;
    case 'weighAgain':
      return `${name} over-weighed: discarded${way.discarded.length > 1 ? ' with all in its cup' : ''}, to be weighed again`;
    case 'addOthersToBath':
      return `${name} over-weighed and already in the bath: the other dyes added ${factor(way.depthFactor)}`;
    case 'keepAsMade':
      return `${name} over-weighed and kept as made: the hue moves`;
  }
}

/** A note, deviation, temperature, field value or photo. */
export function recordEntry(
  deps: Deps,
  input: {
    lotId: number;
    kind: 'note' | 'deviation' | 'temperature' | 'field' | 'photo';
    text: string;
    stepId: number | null;
    photoId: number | null;
    value?: Record<string, unknown>;
  } & Happened,
  by: Actor,
): LogEntryRow {
  const text = input.text.trim();
  if (text === '' && input.photoId === null && input.value === undefined)
    throw invalid({ text: 'Nothing was written.' });
  if (text.length > 4000) throw invalid({ text: 'At most 4000 characters.' });
  return happen(deps, input.lotId, input, by, (tx, base, when) => {
    if (input.kind !== 'note' && input.kind !== 'photo') demandOpen(lotById(tx, input.lotId), when);
    return insertEntry(tx, {
      ...base(deps, input.lotId, input, by),
      kind: input.kind,
      text,
      stepId: input.stepId,
      photoId: input.photoId,
      valueJson: JSON.stringify(input.value ?? {}),
    });
  });
}

/** Starts or ends a step. The clock is the entry's own time, so a timer is right after a reload, a crash or a delay. Which came
 *  first is told by the order in which they reached us: an end before its start by the clock is an end, and one of the two times
 *  is wrong, which the log says. */
export function recordStep(
  deps: Deps,
  input: { lotId: number; stepId: number; kind: 'stepStart' | 'stepEnd' } & Happened,
  by: Actor,
): LogEntryRow {
  return happen(deps, input.lotId, input, by, (tx, base, when) => {
    demandOpen(lotById(tx, input.lotId), when);
    const step = stepsOf(tx, input.lotId).find((s) => s.id === input.stepId);
    if (!step) throw notFound('step of this lot');
    const own = logOf(tx, input.lotId).filter((e) => e.stepId === step.id && e.voidedAt === null);
    const started = own.find((e) => e.kind === 'stepStart');
    const ended = own.find((e) => e.kind === 'stepEnd');
    if (input.kind === 'stepStart' && started) throw new Refusal('conflict', `“${step.name}” is under way already.`);
    if (input.kind === 'stepEnd' && !started) throw new Refusal('conflict', `“${step.name}” has not been started.`);
    if (input.kind === 'stepEnd' && ended) throw new Refusal('conflict', `“${step.name}” has ended already.`);
    return insertEntry(tx, {
      ...base(deps, input.lotId, input, by),
      kind: input.kind,
      stepId: step.id,
      text: step.name,
      ...(started && when.at < started.at ? { valueJson: JSON.stringify({ clockWentBack: true }) } : {}),
    });
  });
}

/** Ends a step and starts the next with one tap, both or neither. */
export function recordStepChange(
  deps: Deps,
  input: { lotId: number; stepId: number; thenStepId: number } & Happened,
  by: Actor,
): LogEntryRow {
  const thenId = `${input.clientId}:then`;
  if (thenId.length > 64) throw invalid({ clientId: 'An id for two entries has at most 59 characters.' });
  return deps.db.transaction(() => {
    const ended = recordStep(deps, { ...input, kind: 'stepEnd' }, by);
    recordStep(deps, { ...input, stepId: input.thenStepId, kind: 'stepStart', clientId: thenId }, by);
    return ended;
  });
}

const VOIDABLE = new Set<LogEntryRow['kind']>([
  'note',
  'deviation',
  'photo',
  'temperature',
  'field',
  'placement',
  'voice',
  'weighing',
  'stepStart',
  'stepEnd',
]);

/** Voids an entry with a reason: it stays in the log, struck out, and what it moved in stock is reversed. */
export function voidEntry(deps: Deps, input: { entryId: number; reason: string } & Happened, by: Actor): LogEntryRow {
  const reason = input.reason.trim();
  if (reason === '') throw invalid({ reason: 'Say why, for the log.' });
  const entry = entryById(deps.db, input.entryId);
  if (!entry) throw notFound('log entry');
  return happen(deps, entry.lotId, input, by, (tx, base, when) => {
    const lot = demandOpen(lotById(tx, entry.lotId), when);
    if (!VOIDABLE.has(entry.kind)) throw new Refusal('conflict', 'An entry of this kind cannot be voided.');
    if (isVoided(tx, entry.id)) throw new Refusal('conflict', 'That entry is voided already.');
    if (
      entry.kind === 'stepStart' &&
      logOf(tx, entry.lotId).some((e) => e.kind === 'stepEnd' && e.stepId === entry.stepId && e.voidedAt === null)
    ) {
      throw new Refusal('conflict', 'Void the end of the step first.');
    }
    const weighing = weighingOfEntry(tx, entry.id);
    const voiding = insertEntry(tx, {
      ...base(deps, entry.lotId, input, by),
      kind: 'voiding',
      refersToId: entry.id,
      text: reason,
    });
    if (weighing && when.late) {
      const costMinor = bookLateVoiding(tx, { lot, voiding, weighing }, by);
      askAboutVoiding(tx, { lot, voiding, weighing, costMinor }, by);
    } else if (weighing) reverseWeighing(tx, weighing.id, by, when.recordedAt, reason);
    return voiding;
  });
}
