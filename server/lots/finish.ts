import { CLOCKS_DIFFER_MS, type PossibleTime, possibleTime } from '../calc/possibleTime.ts';
import type { Db } from '../db/open.ts';
import type { CostLineRow, LotRow } from '../db/tables/lots.ts';
import type { Actor, Deps } from '../deps.ts';
import { invalid, notFound, Refusal } from '../errors.ts';
import { personById } from '../people/queries.ts';
import { theStudio } from '../settings/queries.ts';
import { issue } from '../stock/ledger.ts';
import { movingAverageRate } from '../stock/movingAverage.ts';
import { stockLotById } from '../stock/queries.ts';
import { demandOpen, type SentOccurrence, sentBefore } from './bench.ts';
import { type Bench, benchOf } from './benchState.ts';
import { askAboutWeighing } from './late.ts';
import { costMinorOf, type Rate, rateOfContainer, rateOfTime } from './lotCost.ts';
import { settle } from './parkedWay.ts';
import { planOf } from './planLot.ts';
import {
  closeLot,
  entryById,
  insertCostLine,
  insertEntry,
  insertLabour,
  insertOutcome,
  labourOf,
  lotById,
  stepsOf,
} from './queries.ts';

export interface OutcomeInput extends SentOccurrence {
  lotId: number;
  firstQuality: number;
  seconds: number;
  rework: number;
  scrap: number;
  /** What the seconds will bring, in money. */
  secondsValueMinor: number;
  note: string;
  doDifferently: string;
  labour: { stepId: number | null; personId: number; durationS: number }[];
  /** Said by the person when lines of the weigh-up have no reading. */
  unweighedConfirmed: boolean;
}

/** Finishes a lot: outcome, labour, goods and cost lines in one transaction, after which the lot never changes. */
export function finishLot(deps: Deps, sent: OutcomeInput, by: Actor): LotRow {
  return deps.db.transaction((tx) => {
    const { known, digest } = sentBefore(tx, sent.lotId, sent, 'finish');
    const done = known && lotById(tx, sent.lotId);
    if (done) return done;
    const bench = benchOf(tx, sent.lotId, deps.now());
    demandOpen(bench.lot);
    const input = { ...sent, ...closingTime(bench.lot, sent.at, deps.now()) };
    if (bench.lot.status === 'planned')
      throw new Refusal('conflict', 'Nothing has happened on this lot yet. Weigh, start a step or write a note first.');
    judge(input, bench);
    const missing = bench.lines.filter((l) => l.actual === undefined).map((l) => l.component.name);
    if (missing.length > 0 && !input.unweighedConfirmed) {
      throw invalid({
        unweighedConfirmed: `No reading of ${missing.join(', ')}. Weigh it, or tick that the lot was dyed without a record of it.`,
      });
    }
    writeLabour(deps, tx, bench.lot, input, by);
    insertOutcome(tx, {
      lotId: bench.lot.id,
      firstQuality: input.firstQuality,
      seconds: input.seconds,
      rework: input.rework,
      scrap: input.scrap,
      secondsValueMinor: input.secondsValueMinor,
      note: input.note.trim(),
      doDifferently: input.doDifferently.trim(),
      judgedAt: input.at,
      judgedBy: by.personId,
    });
    return close(
      deps,
      tx,
      bench,
      'finished',
      { ...input, digest },
      by,
      `${input.firstQuality} first quality, ${input.seconds} seconds, ${input.rework} rework, ${input.scrap} scrap`,
    );
  });
}

/** Gives a lot up, with a reason. What was weighed stays spent and costs what it cost. */
export function abandonLot(deps: Deps, sent: { lotId: number; reason: string } & SentOccurrence, by: Actor): LotRow {
  if (sent.reason.trim() === '') throw invalid({ reason: 'Say why, for the log.' });
  return deps.db.transaction((tx) => {
    const { known, digest } = sentBefore(tx, sent.lotId, sent, 'abandon');
    const done = known && lotById(tx, sent.lotId);
    if (done) return done;
    const bench = benchOf(tx, sent.lotId, deps.now());
    demandOpen(bench.lot);
    const input = { ...sent, ...closingTime(bench.lot, sent.at, deps.now()) };
    return close(deps, tx, bench, 'abandoned', { ...input, digest }, by, sent.reason.trim());
  });
}

/** A lot is closed after it began: after its earliest happening, or of one on which nothing happened, after it was planned. */
function closingTime(lot: LotRow, at: number, now: number): PossibleTime {
  return possibleTime({
    atMs: at,
    nowMs: now,
    beganAtMs: lot.startedAt ?? lot.plannedAt,
    beforeMs: CLOCKS_DIFFER_MS,
    aheadMs: CLOCKS_DIFFER_MS,
    field: 'at',
    tooEarly: 'That is before work on the lot began: look at the day, or at the device’s clock.',
  });
}

function judge(input: OutcomeInput, bench: Bench): void {
  const total = input.firstQuality + input.seconds + input.rework + input.scrap;
  if (input.seconds === 0 && input.secondsValueMinor > 0)
    throw invalid({ secondsValue: 'There are no seconds that could bring it. How many are seconds?' });
  if (total === 0) throw invalid({ firstQuality: 'How many pieces came out, and how good?' });
  if (bench.lot.pieces !== null && total !== bench.lot.pieces && input.note.trim() === '') {
    throw invalid({
      note: `${bench.lot.pieces} pieces were planned and these add to ${total}. Correct the counts, or say here what happened to the rest.`,
    });
  }
  const running = bench.steps.find((s) => s.state === 'running' || s.state === 'overdue');
  if (running)
    throw invalid(
      { '': `“${running.name}” is still running. End it first.` },
      `“${running.name}” is still running. End it first.`,
    );
}

function writeLabour(deps: Deps, tx: Db, lot: LotRow, input: OutcomeInput, by: Actor): void {
  const studio = theStudio(tx);
  const steps = new Map(stepsOf(tx, lot.id).map((s) => [s.id, s.name]));
  for (const { stepId, personId, durationS } of input.labour) {
    if (durationS <= 0) continue;
    const person = personById(tx, personId);
    if (!person) throw notFound('person');
    if (stepId !== null && !steps.has(stepId)) throw notFound('step of this lot');
    const entry = insertEntry(tx, {
      lotId: lot.id,
      clientId: `labour:${deps.newId()}`,
      kind: 'labour',
      stepId,
      text: `${person.name}: ${stepId === null ? 'the whole lot' : steps.get(stepId)}`,
      valueJson: JSON.stringify({ durationS }),
      at: input.at,
      recordedAt: deps.now(),
      byPersonId: by.personId,
    });
    insertLabour(tx, {
      lotId: lot.id,
      logEntryId: entry.id,
      stepId,
      personId,
      durationS,
      rateMinorPerHour: person.labourRateMinorPerHour ?? studio.labourRateMinorPerHour,
    });
  }
}

function close(
  deps: Deps,
  tx: Db,
  bench: Bench,
  status: 'finished' | 'abandoned',
  h: SentOccurrence & PossibleTime & { digest: string },
  by: Actor,
  words: string,
): LotRow {
  const { lot } = bench;
  if (status === 'finished' && lot.goodsStockLotId !== null) {
    const stockLotId = lot.goodsStockLotId;
    // The last of a roll goes into a lot, the roll is closed as empty, the lot is finished: the goods had left it before.
    const closedAt = stockLotById(tx, stockLotId)?.closedAt ?? null;
    const at = closedAt === null ? h.at : Math.min(h.at, closedAt - 1);
    const reason = 'goods of the lot';
    issue(tx, { stockLotId, quantity: bench.dryMassMg, lotId: lot.id, weighingId: null, reason }, by, {
      at,
      recordedAt: deps.now(),
    });
  }
  writeCostLines(deps, tx, bench, status, h.at);
  insertEntry(tx, {
    lotId: lot.id,
    clientId: h.clientId,
    kind: status === 'finished' ? 'finish' : 'abandon',
    text: words,
    valueJson: '{}',
    at: h.at,
    clockSaidAt: h.clockSaidAt,
    recordedAt: deps.now(),
    byPersonId: by.personId,
    contentDigest: h.digest,
  });
  // Nothing is left to choose at the bench of a lot that is closed.
  settle(tx, lot.id, 'all', { answer: 'lapsed', words: 'The lot was closed as it was.', at: deps.now() }, by);
  closeLot(tx, lot.id, status, h.at);
  const closed = lotById(tx, lot.id);
  if (!closed) throw notFound('lot');
  askAboutLaterWeighings(tx, closed, bench, by, deps.now());
  return closed;
}

/** A closing that is sent late may lie before weighings that reached us in the meantime: asked as if they had come after it. */
function askAboutLaterWeighings(tx: Db, lot: LotRow, bench: Bench, by: Actor, now: number): void {
  for (const w of bench.lines.flatMap((l) => l.weighings)) {
    // A time ahead of our own clock is the clock's doing.
    if (w.voided || lot.finishedAt === null || w.at <= lot.finishedAt || w.at > now) continue;
    const stockLot = stockLotById(tx, w.stockLotId);
    const entry = entryById(tx, w.logEntryId);
    if (!stockLot || !entry) throw notFound('weighing');
    const amount = w.massMg ?? w.volumeUl ?? 0;
    askAboutWeighing(
      tx,
      { lot, stockLot, entry: { ...entry, recordedAt: now }, amount },
      { ...by, name: w.personName },
    );
  }
}

/** The lot's cost, once and for all: dyes and auxiliaries by the containers really used, at what those cost (specific
 *  identification) or at the moving average of the item when the lot is closed, as the studio chose; discarded powder apart as
 *  waste, goods, labour at the rate of the day, overhead by labour hours. */
function writeCostLines(deps: Deps, tx: Db, bench: Bench, status: 'finished' | 'abandoned', closedAt: number): void {
  const { lot } = bench;
  const studio = theStudio(tx);
  let ordinal = 0;
  const write = (
    line: Pick<CostLineRow, 'kind' | 'description' | 'quantity' | 'quantityUnit'> & {
      rate: Rate;
    } & Partial<CostLineRow>,
  ): void => {
    const { rate, ...rest } = line;
    ordinal += 1;
    insertCostLine(tx, {
      ...rest,
      lotId: lot.id,
      ordinal,
      ...rate,
      costMinor: costMinorOf(line.quantity, rate),
      writtenAt: deps.now(),
    });
  };

  const drawn = new Map<
    string,
    { line: Bench['lines'][number]; stockLotId: number; wasted: 0 | 1; quantity: number; unit: 'mg' | 'ul' }
  >();
  for (const line of bench.lines) {
    for (const w of line.weighings) {
      if (w.voided) continue;
      const wasted = w.discarded ? 1 : 0;
      const key = `${line.component.dyeId}:${line.component.auxiliaryId}:${w.stockLotId}:${wasted}`;
      const sum = drawn.get(key) ?? {
        line,
        stockLotId: w.stockLotId,
        wasted,
        quantity: 0,
        unit: w.massMg === null ? 'ul' : 'mg',
      };
      sum.quantity += w.massMg ?? w.volumeUl ?? 0;
      drawn.set(key, sum);
    }
  }
  for (const { line, stockLotId, wasted, quantity, unit } of drawn.values()) {
    const stockLot = stockLotById(tx, stockLotId);
    if (!stockLot) throw notFound('container');
    const { component } = line;
    write({
      kind: component.kind,
      description: `${component.code} ${component.name}, container ${stockLot.code}${wasted ? ', discarded' : ''}`,
      dyeId: component.dyeId,
      auxiliaryId: component.auxiliaryId,
      stockLotId,
      quantity,
      quantityUnit: unit,
      rate:
        studio.costing === 'movingAverage'
          ? movingAverageRate(tx, stockLot, closedAt)
          : rateOfContainer(tx, stockLot, closedAt),
      valuation: studio.costing,
      wasted,
    });
  }
  if (status === 'finished' && lot.goodsOwner === 'studio') {
    const goods = lot.goodsStockLotId === null ? undefined : stockLotById(tx, lot.goodsStockLotId);
    const rate = goods
      ? rateOfContainer(tx, goods, closedAt)
      : planOf(lot).estimate.find((e) => e.kind === 'goods')?.rate;
    if (rate)
      write({
        kind: 'goods',
        description: `${bench.plan.fibreName}: ${lot.goodsText}`,
        stockLotId: goods?.id ?? null,
        quantity: bench.dryMassMg,
        quantityUnit: 'mg',
        rate,
        valuation: goods ? 'specific' : null,
      });
  }
  let labourS = 0;
  for (const l of labourOf(tx, lot.id)) {
    if (l.voided) continue;
    labourS += l.durationS;
    write({
      kind: 'labour',
      description: `${l.personName}, ${l.stepName ?? 'the whole lot'}`,
      personId: l.personId,
      stepId: l.stepId,
      quantity: l.durationS,
      quantityUnit: 's',
      rate: rateOfTime(l.rateMinorPerHour),
    });
  }
  if (labourS > 0 && studio.overheadRateMinorPerHour > 0) {
    write({
      kind: 'overhead',
      description: 'Overhead by labour hours',
      quantity: labourS,
      quantityUnit: 's',
      rate: rateOfTime(studio.overheadRateMinorPerHour),
    });
  }
}
