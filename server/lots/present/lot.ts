import { depthsDyed } from '../../closings/asDyed.ts';
import { namesOfLot } from '../../closings/names.ts';
import { closingOf } from '../../closings/queries.ts';
import type { CostLineRow } from '../../db/tables/lots.ts';
import type { Deps } from '../../deps.ts';
import { benchQuestions } from '../benchQuestions.ts';
import { type Bench, type BenchLine, benchOf } from '../benchState.ts';
import { entryValueOf } from '../entryValue.ts';
import {
  coloursOf,
  costLinesOf,
  type LogLine,
  type LotOverview,
  linesServed,
  outcomeOf,
  swatchesOfLot,
} from '../queries.ts';
import type { CostLine, Lot, LotListed } from '../schemas.ts';
import { entryText } from './log.ts';

const lineTold = (l: BenchLine): Lot['lines'][number] => ({
  componentId: l.component.id,
  code: l.component.code,
  name: l.component.name,
  kind: l.component.kind,
  lotColourId: l.component.lotColourId,
  unit: l.unit,
  planned: l.planned,
  target: l.target,
  step: l.step,
  tolerance: l.tolerance,
  actual: l.actual ?? null,
  corrected: l.corrected ?? null,
  state: l.state,
  difference: l.verdict?.difference ?? null,
  stockLotId: l.component.stockLotId,
  weighings: l.weighings.map((w) => ({
    entryId: w.logEntryId,
    at: w.at,
    stockLotId: w.stockLotId,
    stockLotCode: w.stockLotCode,
    massMg: w.massMg,
    volumeUl: w.volumeUl,
    strengthPpm: w.stockLotStrengthPpm,
    concPpm: w.stockLotConcPpm,
    strengthKept: w.strengthKept,
    voided: w.voided,
    discarded: w.discarded,
  })),
});

const entryTold = (e: LogLine, colourNames: readonly string[]): Lot['log'][number] => ({
  entryId: e.id,
  kind: e.kind,
  at: e.at,
  recordedAt: e.recordedAt,
  person: e.personName,
  stepId: e.stepId,
  text: entryText(e, colourNames),
  photoId: e.photoId,
  voiceId: e.kind === 'voice' ? (entryValueOf(e).voiceId ?? null) : null,
  refersToId: e.refersToId,
  voidedReason: e.voidedReason,
  late: e.late === 1,
  clockSaidAt: e.clockSaidAt,
});

function lotResource({ db }: Deps, bench: Bench): Lot {
  const { lot } = bench;
  const costs = costLinesOf(db, lot.id);
  const outcome = outcomeOf(db, lot.id);
  const colours = coloursOf(db, lot.id);
  const closing = closingOf(db, lot.id);
  const names = namesOfLot(db, lot.id);
  const depths = depthsDyed(db, [lot.id]);
  const colourNames = colours.map((c) => c.recipeName);
  return {
    lotId: lot.id,
    number: lot.number,
    status: lot.status,
    methodId: lot.methodId,
    fibreId: lot.fibreId,
    goodsText: lot.goodsText,
    pieces: lot.pieces,
    dryMassMg: bench.dryMassMg,
    plannedDryMassMg: lot.dryMassMg,
    plannedAt: lot.plannedAt,
    plannedBy: lot.plannedBy,
    startedAt: lot.startedAt,
    finishedAt: lot.finishedAt,
    estimateMinor: lot.estimateMinor,
    colours: colours.map((c) => ({
      lotColourId: c.id,
      ordinal: c.ordinal,
      revisionId: c.revisionId,
      recipeName: c.recipeName,
      swatchId: c.swatchId,
      depthPpm: c.depthPpm,
      dyedDepthPpm: depths.find((d) => d.lotColourId === c.id)?.weighedPpm ?? c.depthPpm,
      correctedDepthPpm: depths.find((d) => d.lotColourId === c.id)?.correctedPpm ?? null,
      sharePpm: c.sharePpm,
      placement: c.placement,
    })),
    closing: closing ? { closedOn: closing.closedOn, zone: closing.zone, kept: closing.kept } : null,
    fibreName: names.called('fibre', lot.fibreId)?.name ?? bench.plan.fibreName,
    methodName: names.called('method', lot.methodId)?.name ?? bench.plan.methodName,
    renamed: names.renamed.map((n) => ({ ...n, nowCalled: n.nowCalled ?? n.name })),
    lines: bench.lines.map(lineTold),
    steps: bench.steps.map((s) => ({
      stepId: s.stepId,
      ordinal: s.ordinal,
      name: s.name,
      plannedDurationS: s.plannedDurationS,
      plannedTempC: s.plannedTempC,
      state: s.state,
      startedAt: s.startedAt,
      endedAt: s.endedAt,
      remainingS: s.remainingS,
    })),
    log: bench.log.map((e) => entryTold(e, colourNames)),
    questions: benchQuestions(db, lot.id).map((q) => ({
      questionId: q.id,
      kind: q.kind,
      words: q.words,
      entryId: q.logEntryId,
    })),
    readyAt: bench.readyAt,
    outcome: outcome
      ? {
          firstQuality: outcome.firstQuality,
          seconds: outcome.seconds,
          rework: outcome.rework,
          scrap: outcome.scrap,
          secondsValueMinor: outcome.secondsValueMinor,
          note: outcome.note,
          doDifferently: outcome.doDifferently,
        }
      : null,
    costLines: costs.map(costLineTold),
    costMinor: costs.length > 0 ? costs.reduce((sum, c) => sum + c.costMinor, 0) : null,
    orderLines: linesServed(db, lot.id).map((l) => ({
      orderLineId: l.orderLineId,
      orderNumber: l.orderNumber,
      customerName: l.customerName,
      description: l.description,
    })),
    swatches: swatchesOfLot(db, lot.id).map((s) => ({ swatchId: s.id, code: s.code, name: s.name })),
  };
}

/** What a cost line does to the first account of a lot; null of a line of that account. */
const correctionOf = ({
  added,
  correction,
}: Pick<CostLineRow, 'added' | 'correction'>): 'reversal' | 'replacement' | 'addition' | null =>
  added === 1 ? 'addition' : correction;

/** A lot as it stands now, for an answer. */
export const lotSeen = (deps: Deps, lotId: number): Lot => lotResource(deps, benchOf(deps.db, lotId, deps.now()));

export const costLineTold = (c: CostLineRow): CostLine => ({
  costLineId: c.id,
  kind: c.kind,
  description: c.description,
  stockLotId: c.stockLotId,
  personId: c.personId,
  quantity: c.quantity,
  quantityUnit: c.quantityUnit,
  priceMinor: c.priceMinor,
  perQuantity: c.perQuantity,
  wasted: c.wasted === 1,
  costMinor: c.costMinor,
  correction: correctionOf(c),
  correctsId: c.correctsId,
  reason: c.reason,
  writtenAt: c.writtenAt,
});

/** A lot in a list. */
export const lotListed = (row: LotOverview): LotListed => ({
  lotId: row.id,
  number: row.number,
  status: row.status,
  goodsText: row.goodsText,
  fibreName: row.fibreName,
  methodName: row.methodName,
  dryMassMg: row.dryMassMg,
  pieces: row.pieces,
  colours: row.colours ?? '',
  customers: row.customers,
  plannedAt: row.plannedAt,
  startedAt: row.startedAt,
  finishedAt: row.finishedAt,
  costMinor: row.costMinor,
});
