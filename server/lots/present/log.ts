import { day, type Show, when } from '../../../views/kit/show.ts';
import type { Db } from '../../db/open.ts';
import { showOf } from '../../settings/show.ts';
import { voiceById } from '../../voices/queries.ts';
import type { Bench } from '../benchState.ts';
import { entryValueOf } from '../entryValue.ts';
import { drawingWords, placementOfEntry } from '../placements.ts';
import { adjustmentsOf, type LogLine } from '../queries.ts';
import type { EntryShown } from '../schemas.ts';
import { isVoidable } from '../voidable.ts';
import { readingText } from './line.ts';
import { placementColours, placementViews, versionOf } from './placements.ts';

const KIND_WORDS: Partial<Record<LogLine['kind'], string>> = {
  stepStart: 'Began',
  stepEnd: 'Ended',
  deviation: 'Otherwise than planned:',
  temperature: 'Temperature',
  finish: 'Finished:',
  abandon: 'Given up:',
};

/** A log entry in words. A drawing names the lot's colours where they are handed in. */
export function entryText(e: LogLine, colourNames: readonly string[] = []): string {
  const value = entryValueOf(e);
  if (e.kind === 'weighing') {
    const amount = readingText(typeof value.massMg === 'number' ? value.massMg : null, Number(value.volumeUl ?? 0));
    return `${value.name}: ${amount} from ${value.stockLotCode}`;
  }
  if (e.kind === 'placement') {
    const { of, drawing } = placementOfEntry(e);
    const drawn = drawingWords(drawing, colourNames);
    return `${of === 'plan' ? 'Placement as meant' : 'Placement as it lies'}: ${drawn}${e.text ? `. ${e.text}` : ''}`;
  }
  if (e.kind === 'voice') return e.text ? `Voice note: ${e.text}` : 'Voice note';
  if (e.kind === 'labour') return `${e.text}, ${Math.round(Number(value.durationS ?? 0) / 60)} min`;
  if (e.kind === 'field') return `${value.label ?? ''}: ${e.text}`;
  const before = KIND_WORDS[e.kind];
  return before ? `${before} ${e.text}` : e.text;
}

/** Entered so much later than it happened: worth saying. */
const LATE_MS = 60 * 60_000;

/** What must be known of the time of an entry, in words; '' of most. */
export function doubtOf(e: LogLine, show: Show): string {
  const { clockWentBack, beforeReceiptOn } = entryValueOf(e);
  const told = [
    e.late === 1
      ? `reached the record on ${when(show, e.recordedAt)}, after the lot was closed`
      : e.recordedAt - e.at > LATE_MS
        ? `reached the record on ${when(show, e.recordedAt)}`
        : '',
    e.clockSaidAt === null
      ? ''
      : `the device’s clock said ${when(show, e.clockSaidAt)}, so the time is that of its arrival`,
    clockWentBack === true ? 'by the clock before the step began: one of the two times is wrong' : '',
    typeof beforeReceiptOn === 'string'
      ? `before the container came, which was on ${day(beforeReceiptOn)} by its receipt`
      : '',
  ];
  return told.filter(Boolean).join('; ');
}

/** The log of a lot for its views. What was drawn and said stands under its words. */
export function logShown(db: Db, bench: Bench): EntryShown[] {
  const colours = placementColours(db, bench.lot.id);
  const colourNames = colours.map((c) => c.name);
  const { plan } = placementViews(bench.log, colours);
  const newestChoice = adjustmentsOf(db, bench.lot.id).at(-1)?.logEntryId;
  const show = showOf(db);
  return bench.log
    .filter((e) => e.kind !== 'voiding')
    .map((e) => ({
      entryId: e.id,
      kind: e.kind,
      at: e.at,
      person: e.personName,
      words: entryText(e, colourNames),
      told: doubtOf(e, show),
      stepName: e.stepName,
      photo: e.photoId === null ? null : `/photos/${e.photoId}/640`,
      placement:
        e.kind === 'placement'
          ? { version: versionOf(placementOfEntry(e), e.personName, colours), plan, colours }
          : null,
      voice: e.kind === 'voice' ? voiceOf(db, e) : null,
      voidedReason: e.voidedReason,
      // A weighing is undone at its line. A choice is undone from the newest back: each was worked out from what the one before it
      // made.
      voidable:
        bench.lot.finishedAt === null &&
        e.voidedAt === null &&
        e.kind !== 'weighing' &&
        isVoidable(e.kind) &&
        (e.kind !== 'adjustment' || e.id === newestChoice),
      undo: e.kind === 'adjustment',
    }));
}

function voiceOf(db: Db, e: LogLine): EntryShown['voice'] {
  const { voiceId } = entryValueOf(e);
  const voice = typeof voiceId !== 'number' ? undefined : voiceById(db, voiceId);
  return voice ? { voiceId: voice.id, durationMs: voice.durationMs } : null;
}

/** The temperatures that were read on a lot and not voided. */
export const temperaturesOf = (log: readonly LogLine[]): { at: number; tempC: number }[] =>
  log.flatMap((e) => {
    const { tempC } = entryValueOf(e);
    return e.kind === 'temperature' && e.voidedAt === null && typeof tempC === 'number' ? [{ at: e.at, tempC }] : [];
  });
