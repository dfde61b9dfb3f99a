import type { LogEntryRow } from '../db/tables/lots.ts';
import type { Actor, Deps } from '../deps.ts';
import { invalid } from '../errors.ts';
import { demandOpen, recordOnce, type SentOccurrence } from '../lots/occurrence.ts';
import { insertEntry } from '../lots/queries.ts';

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
