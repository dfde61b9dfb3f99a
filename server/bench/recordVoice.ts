import type { LogEntryRow } from '../db/tables/lots.ts';
import type { Actor, Deps } from '../deps.ts';
import { invalid } from '../errors.ts';
import { recordOnce, type SentOccurrence } from '../lots/occurrence.ts';
import { insertEntry } from '../lots/queries.ts';
import { voiceById } from '../voices/queries.ts';

/** Puts a kept recording into the log of a lot; like a note, also after it was finished. */
export function recordVoice(
  deps: Deps,
  input: { lotId: number; voiceId: number; text: string; stepId: number | null } & SentOccurrence,
  by: Actor,
): LogEntryRow {
  const text = input.text.trim();
  if (text.length > 1000) throw invalid({ text: 'At most 1000 characters.' });
  return recordOnce(deps, input.lotId, input, by, 'voice', (tx, base) => {
    if (!voiceById(tx, input.voiceId)) throw invalid({ voice: 'That recording is not here.' });
    return insertEntry(tx, {
      ...base(deps, input.lotId, input, by),
      kind: 'voice',
      text,
      stepId: input.stepId,
      valueJson: JSON.stringify({ voiceId: input.voiceId }),
    });
  });
}
