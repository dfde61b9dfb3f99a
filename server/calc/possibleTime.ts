import { CalcError } from './calcError.ts';

/* What a possible time is: the one rule behind every door (forms, API, imports). A time is held against the present and against the
   beginning of what it belongs to. The figures are judgements of this house, each with its reason. */

const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;

/** By how much the clocks of two devices may differ without anybody having made a mistake. */
export const CLOCKS_DIFFER_MS = 10 * MINUTE_MS;
/** A phone at the bench keeps what it could not send, with its own clock; the powder is in the cup however fast that was. Further
 *  ahead than this it is another day that was meant. */
export const FAR_AHEAD_MS = 24 * HOUR_MS;
/** Work is sometimes typed in before the plan that it belongs to, from paper, on the same day. */
export const BEFORE_PLAN_MS = 24 * HOUR_MS;
/** A jar is opened and used first and typed in with the next invoice; a quarter later the books are closed. */
export const BEFORE_RECEIPT_DAYS = 92;
/** Sent so long after it happened, its sender had no line to us; within it, a person is waiting for the answer. */
export const SENT_LATE_MS = MINUTE_MS;
/** The first synthetic dye in trade is of 1856 and goods may be older than their studio, but no invoice is. */
export const FIRST_YEAR = 1900;
export const LAST_YEAR = 2199;

/** A time as it stands in the record, and what the sender's clock said where that cannot have been. */
export interface PossibleTime {
  readonly at: number;
  /** null when the time is taken as it was sent. */
  readonly clockSaidAt: number | null;
}

/** When something happened that a device sent: `atMs` by its clock, `nowMs` by ours, `beganAtMs` the beginning of what it belongs to
 *  (−∞ for none), before which it may lie by `beforeMs`; `aheadMs`: by how much its clock may be fast.
 *  Nothing happens after it has reached us: of a clock that is fast the time of arrival is taken instead, and what it said is told.
 *  Nothing is too early that happens now: when our own clock was set back, what stands in the record lies ahead of it, and work
 *  must go on. Throws CalcError(outOfRange) with `field` for what is further ahead or further back, in `words` for the latter.
 *  A rule of our own. */
export function possibleTime(input: {
  atMs: number;
  nowMs: number;
  beganAtMs: number;
  beforeMs: number;
  aheadMs: number;
  field: string;
  tooEarly: string;
}): PossibleTime {
  const { atMs, nowMs, field } = input;
  if (!Number.isSafeInteger(atMs)) throw new CalcError('notFinite', field, 'That is not a time.');
  if (atMs > nowMs + input.aheadMs)
    throw new CalcError('outOfRange', field, 'That lies in the future: look at the day, or at the device’s clock.');
  if (atMs > nowMs) return { at: nowMs, clockSaidAt: atMs - nowMs > CLOCKS_DIFFER_MS ? atMs : null };
  if (atMs < Math.min(input.beganAtMs, nowMs) - input.beforeMs)
    throw new CalcError('outOfRange', field, input.tooEarly);
  return { at: atMs, clockSaidAt: null };
}

/** Whether what happened at `atMs` and reached us at `nowMs` happened without knowledge of a change of `changedAtMs`: before it,
 *  or on a device that had no line to us. Otherwise its sender knows of the change, or is told by the refusal at once.
 *  A rule of our own. */
export const unaware = ({ atMs, nowMs, changedAtMs }: { atMs: number; nowMs: number; changedAtMs: number }): boolean =>
  atMs < changedAtMs || nowMs - atMs >= SENT_LATE_MS;

/** Whether a calendar day 'YYYY-MM-DD' lies in years in which a studio has days. A rule of our own. */
export function isSaneDay(on: string): boolean {
  const year = Number(on.slice(0, 4));
  return year >= FIRST_YEAR && year <= LAST_YEAR;
}
