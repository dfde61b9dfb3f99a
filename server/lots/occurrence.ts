import { BEFORE_PLAN_MS, FAR_AHEAD_MS, possibleTime, unaware } from '../calc/possibleTime.ts';
import type { Db } from '../db/open.ts';
import type { LogEntryRow, LotRow } from '../db/tables/lots.ts';
import type { Actor, Deps } from '../deps.ts';
import { notFound, Refusal } from '../errors.ts';
import { contentDigest, demandSameContent } from '../stock/sentOnce.ts';
import { entryValueOf } from './entryValue.ts';
import { beganEarlier, entryOfClient, insertEntry, type LotHead, lotHeadById, startLot } from './queries.ts';

/** A thing that happened, from a device that may retry: its own id and its own time. */
export interface SentOccurrence {
  clientId: string;
  at: number;
  /** Fields that the sender did not say and the server found out, such as the step under way or a time left out. */
  derived?: readonly string[];
}

/** What the API sends of it: a time that was left out is now. */
export const occurrenceOf = ({ now }: Deps, body: { clientId: string; at?: number | undefined }): SentOccurrence => ({
  clientId: body.clientId,
  at: body.at ?? now(),
  ...(body.at === undefined ? { derived: ['at'] } : {}),
});

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
  const value = entryValueOf(known);
  const had = new Map<string, unknown>([
    ...Object.entries(value),
    ['amount', value.massMg ?? value.volumeUl],
    ['text', known.text],
    ['reason', known.text],
    ['entryId', known.refersToId],
    ['photoId', known.photoId],
  ]);
  const says = new Map<string, unknown>(Object.entries(sent));
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
    const said = says.get(name);
    return said === undefined || plain(said) === plain(had.get(name));
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

type BaseEntry = Pick<LogEntryRow, 'lotId' | 'clientId' | 'at' | 'recordedAt' | 'byPersonId' | 'text' | 'valueJson'> &
  Pick<LogEntryRow, 'contentDigest' | 'late' | 'clockSaidAt'>;

/** What every entry of the log says of itself. */
export const baseEntry = (deps: Deps, lotId: number, h: SentOccurrence, by: Actor): BaseEntry => ({
  lotId,
  clientId: h.clientId,
  at: h.at,
  recordedAt: deps.now(),
  byPersonId: by.personId,
  text: '',
  valueJson: '{}',
  contentDigest: null,
  late: 0,
  clockSaidAt: null,
});

/** The lot, unless it is closed. What happened before the closing, or on a device that could not know of it, is `late` and taken. */
export const demandOpen = (lot: LotHead, when?: Pick<When, 'late'>): void => {
  if (lot.finishedAt !== null && !when?.late)
    throw new Refusal('lotFinished', `Lot ${lot.number} is ${lot.status}; its record stands as it is.`);
};
