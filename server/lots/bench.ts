import { countsFor } from '../calc/countsFor.ts';
import {
  type ConfirmedWay,
  confirmedWay,
  confirmedWayHolds,
  type WayOutOffer,
  type WeighUpAtScale,
  waysOutAtScale,
  weighUpAfter,
} from '../calc/overWeighing.ts';
import { doubtWords, type ReadingInQuestion, readingDoubts } from '../calc/plausibleReading.ts';
import { BEFORE_PLAN_MS, BEFORE_RECEIPT_DAYS, FAR_AHEAD_MS, possibleTime, unaware } from '../calc/possibleTime.ts';
import { nearestInteger } from '../calc/rounding.ts';
import type { WayOut, WayOutKind } from '../calc/weighing.ts';
import type { Db } from '../db/open.ts';
import type { LogEntryRow, LotRow } from '../db/tables/lots.ts';
import type { StockLotRow } from '../db/tables/stock.ts';
import type { Actor, Deps } from '../deps.ts';
import { invalid, notFound, Refusal } from '../errors.ts';
import { answer, ask } from '../questions/asking.ts';
import { questionById } from '../questions/queries.ts';
import { instantsOfDay } from '../settings/days.ts';
import { theStudio } from '../settings/queries.ts';
import { issue, reverseWeighing } from '../stock/ledger.ts';
import { expectedAt, onHand, stockLotById, strengthAt } from '../stock/queries.ts';
import { contentDigest, demandSameContent } from '../stock/sentOnce.ts';
import { type Bench, type BenchLine, benchOf } from './benchState.ts';
import { askAboutVoiding, askAboutWeighing, bookLateVoiding, bookLateWeighing } from './late.ts';
import { benchQuestions, chosenWords, parkedWords, settle } from './parkedWay.ts';
import {
  adjustmentsOf,
  beganEarlier,
  type ComponentOfLot,
  componentOf,
  countingOf,
  discardsOf,
  entryById,
  entryOfClient,
  insertAdjustment,
  insertEntry,
  insertTarget,
  insertWeighing,
  type LotHead,
  lotHeadById,
  startLot,
  startsAndEndsOf,
  stepsOf,
  voidingOf,
  weighingOfEntry,
} from './queries.ts';

/** A thing that happened, from a device that may retry: its own id and its own time. */
export interface SentOccurrence {
  clientId: string;
  at: number;
  /** Fields that the sender did not say and the server found out, such as the step under way or a time left out. */
  derived?: readonly string[];
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

/** What an id names already: the same happening, sent again. Throws Refusal idReused when it is another. */
export function sentBefore(
  tx: Db,
  lotId: number,
  sent: SentOccurrence,
  kind: LogEntryRow['kind'],
): { known: LogEntryRow | undefined; digest: string } {
  const digest = contentDigest(kind, { ...sent, lotId });
  const known = entryOfClient(tx, sent.clientId);
  if (known) demandSameContent(known, digest, known.lotId === lotId && known.kind === kind && looksSame(known, sent));
  return { known, digest };
}

/** What can be compared of an entry that has no digest: what of it was written into the log as it was sent. */
function looksSame(known: LogEntryRow, sent: object): boolean {
  const value = JSON.parse(known.valueJson) as Record<string, unknown>;
  const had: Record<string, unknown> = {
    ...value,
    amount: value['massMg'] ?? value['volumeUl'],
    text: known.text,
    reason: known.text,
    entryId: known.refersToId,
    photoId: known.photoId,
  };
  const compared: Partial<Record<LogEntryRow['kind'], readonly string[]>> = {
    weighing: ['componentId', 'amount'],
    adjustment: ['componentId', 'way', 'stage', 'vessel'],
    note: ['text'],
    temperature: ['text'],
    field: ['text'],
    photo: ['text', 'photoId'],
    voice: ['text', 'voiceId'],
    placement: ['text', 'of', 'drawing'],
    deviation: ['instead', 'did'],
    voiding: ['reason', 'entryId'],
    abandon: ['reason'],
  };
  const plain = (v: unknown): string => JSON.stringify(typeof v === 'string' ? v.trim() : v);
  return (compared[known.kind] ?? []).every((name) => {
    const said = (sent as Record<string, unknown>)[name];
    return said === undefined || plain(said) === plain(had[name]);
  });
}

/** Runs a bench action once: the same client id again answers the first entry. Opens the lot on its first happening. The lot is
 *  handed on as it stood when the happening reached it, so that nobody reads it again. */
export function recordOnce(
  deps: Deps,
  lotId: number,
  h: SentOccurrence,
  by: Actor,
  kind: LogEntryRow['kind'],
  write: (tx: Db, base: typeof baseEntry, when: When, lot: LotHead) => LogEntryRow,
): LogEntryRow {
  return deps.db.transaction((tx) => {
    const { known, digest } = sentBefore(tx, lotId, h, kind);
    if (known) return known;
    const lot = lotHeadById(tx, lotId);
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
      contentDigest: own.clientId === h.clientId ? digest : null,
    });
    return write(tx, base, when, lot);
  });
}

export const baseEntry = (deps: Deps, lotId: number, h: SentOccurrence, by: Actor) => ({
  lotId,
  clientId: h.clientId,
  at: h.at,
  recordedAt: deps.now(),
  byPersonId: by.personId,
  text: '',
  valueJson: '{}',
  contentDigest: null as string | null,
  late: 0,
  clockSaidAt: null as number | null,
});

/** The lot, unless it is closed. What happened before the closing, or on a device that could not know of it, is `late` and taken. */
export const demandOpen = (lot: LotHead, when?: Pick<When, 'late'>): void => {
  if (lot.finishedAt !== null && !when?.late)
    throw new Refusal('lotFinished', `Lot ${lot.number} is ${lot.status}; its record stands as it is.`);
};

/** Records a reading of the scale or measure: log entry, weighing and stock issue in one. `amount` is in the container's
 *  unit (mg of powder, µL of solution or liquid), and is what was added, not the total. */
export function recordWeighing(
  deps: Deps,
  input: {
    lotId: number;
    componentId: number;
    stockLotId: number;
    amount: number;
    /** Said by the person about a reading that is hard to believe. */
    confirmed?: boolean | undefined;
    /** Unit of the amount, where the sender says it. */
    unit?: 'mg' | 'ul' | undefined;
  } & SentOccurrence,
  by: Actor,
): LogEntryRow {
  if (!Number.isSafeInteger(input.amount) || input.amount <= 0)
    throw invalid({ amount: 'The reading must be more than nothing.' });
  // A reading that was asked about is the same reading once it is confirmed.
  const sent = { ...input, derived: [...(input.derived ?? []), 'confirmed', 'unit'] };
  return recordOnce(deps, input.lotId, sent, by, 'weighing', (tx, base, when, lot) => {
    demandOpen(lot, when);
    const component = componentOf(tx, lot.id, input.componentId);
    if (!component) throw notFound('line of this weigh-up');
    const stockLot = stockLotById(tx, input.stockLotId);
    if (!stockLot || stockLot.dyeId !== component.dyeId || stockLot.auxiliaryId !== component.auxiliaryId)
      throw invalid({ stockLotId: `Choose a container of ${component.name}.` });
    const recalled = stockLot.recalledAt;
    if (recalled !== null && !unaware({ atMs: when.at, nowMs: when.recordedAt, changedAtMs: recalled }))
      throw invalid({ stockLotId: `Container ${stockLot.code} is recalled: ${stockLot.recallReason}` });
    const unit = stockLot.unit;
    if (input.unit !== undefined && input.unit !== unit)
      throw invalid({
        amount: `Container ${stockLot.code} is ${unit === 'mg' ? 'weighed, in mg' : 'measured by volume, in µL'}: the amount is in the other unit.`,
      });
    if (unit === 'mg' && component.plannedMassMg === null && component.concPpm === null)
      throw invalid({ stockLotId: `${component.name} is measured by volume here.` });
    if (unit === 'ul' && component.plannedMassMg !== null && stockLot.concPpm === null)
      throw invalid({ stockLotId: `${component.name} is weighed here.` });
    if (input.confirmed !== true) demandBelievable(tx, component, stockLot, input.amount, when);
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
      strengthPpm: strengthAt(tx, stockLot, when.at),
      concPpm: stockLot.concPpm,
    });
    if (when.late) bookLateWeighing(tx, { lot, entry, weighing }, by);
    else
      issue(
        tx,
        { stockLotId: stockLot.id, stockLot, quantity: input.amount, lotId: lot.id, weighingId: weighing.id },
        by,
        when,
      );
    if (when.late || recalled !== null) askAboutWeighing(tx, { lot, stockLot, entry, amount: input.amount }, by);
    return entry;
  });
}

/** Asks once about a reading that the line or the container can hardly mean. Throws Refusal needsConfirming. */
function demandBelievable(
  tx: Db,
  component: ComponentOfLot,
  stockLot: StockLotRow,
  amount: number,
  { at, recordedAt }: When,
): void {
  const counting = countingOf(tx, component.id);
  const inMass = component.plannedMassMg !== null;
  const target = inMass
    ? (component.adjustedMassMg ?? component.plannedMassMg)
    : (component.adjustedVolumeUl ?? component.plannedVolumeUl);
  const one = countsForOne(component, stockLot);
  const reading: ReadingInQuestion = {
    amount,
    target: (target ?? 0) / one,
    actual: counting.reduce((sum, w) => sum + countsFor(component, w), 0) / one,
    // Of a reading that reaches us later, what the container held when it was taken: it may be closed by now.
    onHand: at < recordedAt ? expectedAt(tx, stockLot.id, at) : onHand(tx, stockLot.id),
    step: stockLot.unit === (inMass ? 'mg' : 'ul') ? component.step : OTHER_STEP[stockLot.unit],
  };
  const doubts = readingDoubts(reading);
  if (doubts.length === 0) return;
  const words = doubtWords({ doubts, reading, unit: stockLot.unit, name: component.name, container: stockLot.code });
  throw new Refusal('needsConfirming', words, { amount: words }, { doubts });
}

/** What a scale or measure tells apart where the line was planned for the other: 0.01 g, 0.1 mL. */
export const OTHER_STEP = { mg: 10, ul: 100 } as const;

/** What one mg or µL of a container counts for in a line. */
export const countsForOne = (
  component: Pick<ComponentOfLot, 'plannedMassMg' | 'concPpm' | 'strengthPpm'>,
  stockLot: Pick<StockLotRow, 'unit' | 'strengthPpm' | 'concPpm'>,
): number =>
  countsFor(component, {
    massMg: stockLot.unit === 'mg' ? 1 : null,
    volumeUl: stockLot.unit === 'ul' ? 1 : null,
    stockLotStrengthPpm: stockLot.strengthPpm,
    stockLotConcPpm: stockLot.concPpm,
  });

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

/** Takes one of the ways out: logs the choice and writes the targets that hold from now on. The plan stays. A choice carries the
 *  figures it was made on, and is taken only when they still hold; otherwise it is recorded, nothing is changed, and the bench is
 *  asked. `confirmed` is null of a choice that came without figures, from a page of an earlier version. */
export function takeWayOut(
  deps: Deps,
  input: {
    lotId: number;
    componentId: number;
    way: WayOutKind;
    stage: 'dry' | 'inBath';
    vessel: 'own' | 'shared';
    confirmed: ConfirmedWay | null;
  } & SentOccurrence,
  by: Actor,
): LogEntryRow {
  return recordOnce(deps, input.lotId, input, by, 'adjustment', (tx, base, when, lot) => {
    demandOpen(lot, when);
    const bench = benchOf(tx, input.lotId, deps.now());
    const over = bench.lines.find((l) => l.component.id === input.componentId);
    if (!over) throw notFound('line of this weigh-up');
    const { confirmed } = input;
    const overLineId = String(input.componentId);
    const weighUp = weighUpOf(bench);
    const way = waysOut(bench, input.componentId, input.stage).find(
      (w) => w.kind === input.way && w.vessel === input.vessel,
    );
    const isClosed = lot.finishedAt !== null;
    if (isClosed || !way || confirmed === null || !confirmedWayHolds({ weighUp, overLineId, way, confirmed })) {
      const why = isClosed ? 'it reached the record after the lot was closed' : 'it was chosen on other figures';
      const entry = insertEntry(tx, {
        ...base(deps, input.lotId, input, by),
        kind: 'adjustment',
        text: `${over.component.name}: ${chosenWords(input.way, confirmed)} was not done: ${why}`,
        valueJson: JSON.stringify({
          componentId: input.componentId,
          way: input.way,
          stage: input.stage,
          vessel: input.vessel,
          parked: true,
          confirmed,
        }),
      });
      // Of a closed lot there is nothing left to choose.
      if (isClosed) return entry;
      ask(tx, {
        kind: 'wayOutParked',
        asks: 'bench',
        lotId: input.lotId,
        logEntryId: entry.id,
        words: parkedWords({
          bench,
          over,
          way: input.way,
          offered: way,
          confirmed,
          by,
          countOf: (w) => countsFor(over.component, w),
        }),
        details: { componentId: input.componentId, entryId: entry.id },
        askedAt: deps.now(),
      });
      return entry;
    }
    const settled = { answer: 'chosenAgain', words: wayWords(way, over.component.name), at: deps.now() };
    settle(tx, input.lotId, { kind: 'wayOutParked', field: 'componentId', value: input.componentId }, settled, by);
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
    const after = weighUpAfter({ weighUp, overLineId, way });
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
  } & SentOccurrence,
  by: Actor,
): LogEntryRow {
  const text = input.text.trim();
  if (text === '' && input.photoId === null && input.value === undefined)
    throw invalid({ text: 'Nothing was written.' });
  if (text.length > 4000) throw invalid({ text: 'At most 4000 characters.' });
  return recordOnce(deps, input.lotId, input, by, input.kind, (tx, base, when, lot) => {
    if (input.kind !== 'note' && input.kind !== 'photo') demandOpen(lot, when);
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
  input: { lotId: number; stepId: number; kind: 'stepStart' | 'stepEnd' } & SentOccurrence,
  by: Actor,
): LogEntryRow {
  return recordOnce(deps, input.lotId, input, by, input.kind, (tx, base, when, lot) => {
    demandOpen(lot, when);
    const step = stepsOf(tx, input.lotId).find((s) => s.id === input.stepId);
    if (!step) throw notFound('step of this lot');
    const own = startsAndEndsOf(tx, step.id);
    const started = own.find((e) => e.kind === 'stepStart');
    const ended = own.find((e) => e.kind === 'stepEnd');
    // Whoever stands at the bench is told at once; what a phone sends afterwards did happen, and is written beside the other.
    const isTold = !unaware({ atMs: when.at, nowMs: when.recordedAt, changedAtMs: Number.NEGATIVE_INFINITY });
    if (isTold && input.kind === 'stepStart' && started)
      throw new Refusal('conflict', `“${step.name}” is under way already.`);
    if (isTold && input.kind === 'stepEnd' && !started)
      throw new Refusal('conflict', `“${step.name}” has not been started.`);
    if (isTold && input.kind === 'stepEnd' && ended) throw new Refusal('conflict', `“${step.name}” has ended already.`);
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
  input: { lotId: number; stepId: number; thenStepId: number } & SentOccurrence,
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
  'adjustment',
  'stepStart',
  'stepEnd',
]);

/** Voids an entry with a reason: it stays in the log, struck out, and what it moved in stock is reversed. Of a way out, the targets,
 *  the goods and what it discarded are again what they were before it. */
export function voidEntry(
  deps: Deps,
  input: { entryId: number; reason: string } & SentOccurrence,
  by: Actor,
): LogEntryRow {
  const reason = input.reason.trim();
  if (reason === '') throw invalid({ reason: 'Say why, for the log.' });
  const entry = entryById(deps.db, input.entryId);
  if (!entry) throw notFound('log entry');
  return recordOnce(deps, entry.lotId, input, by, 'voiding', (tx, base, when, lot) => {
    demandOpen(lot, when);
    if (!VOIDABLE.has(entry.kind)) throw new Refusal('conflict', 'An entry of this kind cannot be voided.');
    const voided = voidingOf(tx, entry.id);
    if (voided) {
      // Another hand has voided it meanwhile: that is done, and nothing more to do.
      if (unaware({ atMs: when.at, nowMs: when.recordedAt, changedAtMs: voided.recordedAt })) return voided;
      throw new Refusal('conflict', 'That entry is voided already.');
    }
    if (
      entry.kind === 'stepStart' &&
      entry.stepId !== null &&
      startsAndEndsOf(tx, entry.stepId).some((e) => e.kind === 'stepEnd')
    ) {
      throw new Refusal('conflict', 'Void the end of the step first.');
    }
    if (entry.kind === 'adjustment') undoWayOut(deps, tx, entry, input, by);
    const weighing = weighingOfEntry(tx, entry.id);
    // Of a closed lot there is nothing left to choose.
    if (weighing && lot.finishedAt === null) askOfWayOut(deps, tx, entry, weighing);
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

/** Undoes a way out. Only the newest one that stands: a later one was worked out from the targets that this one made. */
function undoWayOut(
  deps: Deps,
  tx: Db,
  entry: LogEntryRow,
  input: { reason: string } & SentOccurrence,
  by: Actor,
): void {
  const newest = adjustmentsOf(tx, entry.lotId).at(-1);
  const settled = { answer: 'undone', words: input.reason.trim(), at: deps.now() };
  if ((JSON.parse(entry.valueJson) as { parked?: boolean }).parked !== true) {
    if (newest && newest.logEntryId !== entry.id) {
      const later = entryById(tx, newest.logEntryId);
      throw new Refusal('conflict', `A later choice was built upon this one. Undo that first: ${later?.text ?? ''}.`);
    }
    for (const discard of discardsOf(tx, entry)) {
      insertEntry(tx, {
        ...baseEntry(deps, entry.lotId, { clientId: `undo:${deps.newId()}`, at: input.at }, by),
        kind: 'voiding',
        refersToId: discard.id,
        text: input.reason.trim(),
      });
    }
  }
  for (const kind of ['wayOutParked', 'wayOutCause'] as const)
    settle(tx, entry.lotId, { kind, field: 'entryId', value: entry.id }, settled, by);
}

/** A reading is voided for which a way out was taken: that one stands until somebody undoes it, so the bench is asked. */
function askOfWayOut(deps: Deps, tx: Db, voided: LogEntryRow, weighing: { componentId: number }): void {
  const cause = adjustmentsOf(tx, voided.lotId).findLast((a) => {
    const chosen = entryById(tx, a.logEntryId);
    const of = JSON.parse(chosen?.valueJson ?? '{}') as { componentId?: number };
    return a.logEntryId > voided.id && of.componentId === weighing.componentId;
  });
  const chosen = cause && entryById(tx, cause.logEntryId);
  if (!chosen) return;
  ask(tx, {
    kind: 'wayOutCause',
    asks: 'bench',
    lotId: voided.lotId,
    logEntryId: voided.id,
    words: `The reading behind this choice has been voided: “${chosen.text}”. Undo the choice too? Goods and targets then go back to what they were.`,
    details: { entryId: chosen.id },
    askedAt: deps.now(),
  });
}

/** Answers a question that the bench was asked: leaves things as they are, or undoes the choice that it is about. */
export function answerAtBench(
  deps: Deps,
  input: { lotId: number; questionId: number; answer: 'left' | 'undone'; reason: string } & SentOccurrence,
  by: Actor,
): void {
  deps.db.transaction((tx) => {
    const question = benchQuestions(tx, input.lotId).find((q) => q.id === input.questionId);
    // Answered meanwhile, by another hand or by a deed: there is nothing left to say.
    if (!question) {
      if (questionById(tx, input.questionId)?.lotId !== input.lotId) throw notFound('question');
      return;
    }
    const { entryId } = JSON.parse(question.detailsJson) as { entryId?: number };
    if (input.answer === 'undone' && question.kind === 'wayOutCause' && entryId !== undefined) {
      const { clientId, at, reason, derived = [] } = input;
      voidEntry(deps, { entryId, reason, clientId, at, derived }, by);
    } else answer(tx, question.id, { answer: 'left', words: 'Left as it is.', at: deps.now() }, by);
  });
}
