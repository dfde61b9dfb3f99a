import { unaware } from '../calc/possibleTime.ts';
import type { LogEntryRow } from '../db/tables/lots.ts';
import type { Actor, Deps } from '../deps.ts';
import { invalid, notFound, Refusal } from '../errors.ts';
import { demandOpen, recordOnce, type SentOccurrence } from '../lots/occurrence.ts';
import { insertEntry, startsAndEndsOf, stepsOf } from '../lots/queries.ts';

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
