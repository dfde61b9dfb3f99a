import { countsFor } from '../calc/countsFor.ts';
import { type ConfirmedWay, confirmedWayHolds, weighUpAfter } from '../calc/overWeighing.ts';
import { nearestInteger } from '../calc/rounding.ts';
import type { WayOut, WayOutKind } from '../calc/weighing.ts';
import type { LogEntryRow } from '../db/tables/lots.ts';
import type { Actor, Deps } from '../deps.ts';
import { notFound } from '../errors.ts';
import { settle } from '../lots/benchQuestions.ts';
import { benchOf } from '../lots/benchState.ts';
import { demandOpen, recordOnce, type SentOccurrence } from '../lots/occurrence.ts';
import { insertEntry } from '../lots/queries.ts';
import { ask } from '../questions/asking.ts';
import { chosenWords, parkedWords } from './parkedWay.ts';
import { insertAdjustment, insertTarget } from './queries.ts';
import { waysOut, weighUpOf } from './waysOut.ts';

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
