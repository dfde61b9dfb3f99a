import { countsFor } from '../calc/countsFor.ts';
import { type ConfirmedWay, confirmedWayHolds, type WayOutOffer, weighUpAfter } from '../calc/overWeighing.ts';
import { nearestInteger } from '../calc/rounding.ts';
import type { WayOut, WayOutKind } from '../calc/weighing.ts';
import type { Db } from '../db/open.ts';
import type { LogEntryRow } from '../db/tables/lots.ts';
import type { Actor, Deps } from '../deps.ts';
import { notFound } from '../errors.ts';
import { settle } from '../lots/benchQuestions.ts';
import { type Bench, type BenchLine, benchOf } from '../lots/benchState.ts';
import { type baseEntry, demandOpen, recordOnce, type SentOccurrence } from '../lots/occurrence.ts';
import { insertEntry } from '../lots/queries.ts';
import { ask } from '../questions/asking.ts';
import { chosenWords, parkedWords } from './parkedWay.ts';
import { insertAdjustment, insertTarget } from './queries.ts';
import { waysOut, weighUpOf } from './waysOut.ts';

export interface WayOutInput extends SentOccurrence {
  lotId: number;
  componentId: number;
  way: WayOutKind;
  stage: 'dry' | 'inBath';
  vessel: 'own' | 'shared';
  /** The figures that it was chosen on; null of a choice that came without, from a page of an earlier version. */
  confirmed: ConfirmedWay | null;
}

/** Takes one of the ways out: logs the choice and writes the targets that hold from now on. The plan stays. A choice carries the
 *  figures it was made on, and is taken only when they still hold; otherwise it is recorded, nothing is changed, and the bench is
 *  asked. */
export function takeWayOut(deps: Deps, input: WayOutInput, by: Actor): LogEntryRow {
  return recordOnce(deps, input.lotId, input, by, 'adjustment', (tx, base, when, lot) => {
    demandOpen(lot, when);
    const bench = benchOf(tx, input.lotId, deps.now());
    const over = bench.lines.find((l) => l.component.id === input.componentId);
    if (!over) throw notFound('line of this weigh-up');
    const { confirmed } = input;
    const weighUp = weighUpOf(bench);
    const way = waysOut(bench, input.componentId, input.stage).find(
      (w) => w.kind === input.way && w.vessel === input.vessel,
    );
    const isClosed = lot.finishedAt !== null;
    const holds =
      way !== undefined &&
      confirmed !== null &&
      confirmedWayHolds({ weighUp, overLineId: String(input.componentId), way, confirmed });
    const own = (sent: SentOccurrence): ReturnType<typeof base> => base(deps, input.lotId, sent, by);
    return isClosed || !holds
      ? park({ deps, tx, own, input, bench, over, offered: way, isClosed, by })
      : apply({ deps, tx, own, input, bench, over, way, by });
  });
}

interface Chosen {
  deps: Deps;
  tx: Db;
  /** What every entry of the log says of itself. */
  own: (sent: SentOccurrence) => ReturnType<typeof baseEntry>;
  input: WayOutInput;
  bench: Bench;
  over: BenchLine;
  by: Actor;
}

/** Records a choice that is not done, and asks the bench; of a closed lot there is nothing left to choose. */
function park({
  deps,
  tx,
  own,
  input,
  bench,
  over,
  offered,
  isClosed,
  by,
}: Chosen & { offered: WayOutOffer | undefined; isClosed: boolean }): LogEntryRow {
  const { lotId, componentId, way, stage, vessel, confirmed } = input;
  const why = isClosed ? 'it reached the record after the lot was closed' : 'it was chosen on other figures';
  const entry = insertEntry(tx, {
    ...own(input),
    kind: 'adjustment',
    text: `${over.component.name}: ${chosenWords(way, confirmed)} was not done: ${why}`,
    valueJson: JSON.stringify({ componentId, way, stage, vessel, parked: true, confirmed }),
  });
  if (isClosed) return entry;
  ask(tx, {
    kind: 'wayOutParked',
    asks: 'bench',
    lotId,
    logEntryId: entry.id,
    words: parkedWords({ bench, over, way, offered, confirmed, by, countOf: (w) => countsFor(over.component, w) }),
    details: { componentId, entryId: entry.id },
    askedAt: deps.now(),
  });
  return entry;
}

/** Does what was chosen: the log says it, what is discarded is so from now on, and the lines have their new targets. */
function apply({ deps, tx, own, input, bench, over, way, by }: Chosen & { way: WayOutOffer }): LogEntryRow {
  const { lotId, componentId, stage } = input;
  const { vessel, goodsFactor, depthFactor } = way;
  const words = wayWords(way, over.component.name);
  const settled = { answer: 'chosenAgain', words, at: deps.now() };
  settle(tx, lotId, { kind: 'wayOutParked', field: 'componentId', value: componentId }, settled, by);
  const entry = insertEntry(tx, {
    ...own(input),
    kind: 'adjustment',
    text: words,
    valueJson: JSON.stringify({ componentId, way: way.kind, stage, vessel, goodsFactor, depthFactor }),
  });
  const adjustment = insertAdjustment(tx, {
    lotId,
    logEntryId: entry.id,
    way: way.kind,
    factorPpm: nearestInteger({ value: Math.max(goodsFactor, depthFactor) * 1e6, field: 'factor' }),
    dryMassMg: nearestInteger({ value: way.goodsDryMassMg, field: 'mass' }),
  });
  const lineOf = (lineId: string): BenchLine | undefined => bench.lines.find((l) => String(l.component.id) === lineId);
  for (const { lineId } of way.discarded) {
    for (const w of lineOf(lineId)?.weighings ?? []) {
      if (w.voided || w.discarded) continue;
      insertEntry(tx, {
        ...own({ clientId: `discard:${deps.newId()}`, at: input.at }),
        kind: 'discard',
        refersToId: w.logEntryId,
        text: 'Discarded, to be weighed again',
      });
    }
  }
  const after = weighUpAfter({ weighUp: weighUpOf(bench), overLineId: String(componentId), way });
  for (const { lineId, unit, target } of after.lines) {
    const line = lineOf(lineId);
    if (!line || target === line.target) continue;
    insertTarget(tx, {
      lotId,
      adjustmentId: adjustment.id,
      componentId: line.component.id,
      targetMassMg: unit === 'mg' ? target : null,
      targetVolumeUl: unit === 'ul' ? target : null,
    });
  }
  return entry;
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
