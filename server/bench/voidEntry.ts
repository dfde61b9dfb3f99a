import { unaware } from '../calc/possibleTime.ts';
import type { Db } from '../db/open.ts';
import type { LogEntryRow } from '../db/tables/lots.ts';
import type { Actor, Deps } from '../deps.ts';
import { invalid, notFound, Refusal } from '../errors.ts';
import { settle } from '../lots/benchQuestions.ts';
import { entryValueOf } from '../lots/entryValue.ts';
import { askAboutVoiding, bookLateVoiding } from '../lots/late.ts';
import { baseEntry, demandOpen, recordOnce, type SentOccurrence } from '../lots/occurrence.ts';
import { adjustmentsOf, entryById, insertEntry, startsAndEndsOf, voidingOf, weighingOfEntry } from '../lots/queries.ts';
import { isVoidable } from '../lots/voidable.ts';
import { ask } from '../questions/asking.ts';
import { reverseWeighing } from '../stock/ledger.ts';
import { discardsOf } from './queries.ts';

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
    if (!isVoidable(entry.kind)) throw new Refusal('conflict', 'An entry of this kind cannot be voided.');
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
  if (entryValueOf(entry).parked !== true) {
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
    return a.logEntryId > voided.id && chosen && entryValueOf(chosen).componentId === weighing.componentId;
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
