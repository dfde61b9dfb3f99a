import type { Sqlite } from './open.ts';

/** When the newest entry of the log was written down; null before the first. */
export const newestRecordedAt = (sqlite: Sqlite): number | null =>
  (sqlite.prepare('select recorded_at from log_entries order by id desc limit 1').pluck().get() as
    | number
    | undefined) ?? null;

/** A clock may be set back a little by the network's time service while people work; so much is evened out. */
const EVENED_OUT_MS = 120_000;

/** The machine's clock, as the record takes it: while it is set back a little it stands still, so that what was written
 *  later never reads earlier. A larger step back is a correction of a wrong clock and is followed, after `warn` said so. */
export function steadyClock(read: () => number, warn: (words: string) => void): () => number {
  let last = Number.NEGATIVE_INFINITY;
  return () => {
    const at = read();
    const backMs = last - at;
    if (backMs > 0 && backMs <= EVENED_OUT_MS) return last;
    if (backMs > EVENED_OUT_MS) {
      warn(
        `The computer’s clock was set back by ${Math.round(backMs / 1000)} s. Entries made before it may carry a later time than those made now; the log keeps the order in which they reached it, and running steps can be ended.`,
      );
    }
    last = at;
    return at;
  };
}

/** Whether the clock is behind the record, in words; null when it is not. A single-board computer without a battery wakes up in the past. */
export function clockBehindRecord(now: number, newest: number | null): string | null {
  if (newest === null || now >= newest - EVENED_OUT_MS) return null;
  return `The computer’s clock says ${new Date(now).toISOString()}, but the newest entry was written at ${new Date(newest).toISOString()}. Set the clock before going on, or new entries will carry a time that was not.`;
}
