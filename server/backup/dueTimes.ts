import { DateTime } from 'luxon';

const RETRY_AFTER_MS = 3_600_000;

/** Whether something is due again. A last time that lies in the future was noted under a clock that ran ahead, and tells nothing. */
export const isDueAgain = (input: { now: number; last: number | null; everyMs: number }): boolean =>
  input.last === null || input.last > input.now || input.now - input.last >= input.everyMs;

/** The last instant at which the daily backup was to be made, in the studio's zone. */
export function lastOccurrence(now: number, dailyAt: string, zone: string): number {
  const [hour = 0, minute = 0] = dailyAt.split(':').map(Number);
  const today = DateTime.fromMillis(now, { zone }).set({ hour, minute, second: 0, millisecond: 0 });
  return (today.toMillis() <= now ? today : today.minus({ days: 1 })).toMillis();
}

/** Whether the daily backup is to be made now: its time has come and no archive was made since. A computer that slept at that
 *  time makes it when it wakes; one that left no archive is tried again after an hour. */
export function isDailyDue(input: {
  now: number;
  dailyAt: string;
  zone: string;
  triedAt: number | null;
  madeAt: number | null;
}): boolean {
  const { now, triedAt, madeAt } = input;
  const dueAt = lastOccurrence(now, input.dailyAt, input.zone);
  if (madeAt !== null && madeAt >= dueAt && madeAt <= now) return false;
  return (triedAt !== null && triedAt < dueAt) || isDueAgain({ now, last: triedAt, everyMs: RETRY_AFTER_MS });
}

const DAY_MS = 24 * 3_600_000;
/** Half a day less than a week, since the hour of the daily backup comes a little late or early. */
const ARCHIVE_EVERY_MS = 6.5 * DAY_MS;

/** Whether the newest archive is to be tried: a week after the last time, at the hour of the backup; one that failed each day, or
 *  as soon as there is another. */
export function isArchiveTrialDue(input: {
  now: number;
  dailyAt: string;
  zone: string;
  newestFile: string;
  last: { startedAt: number; file: string; failure: string } | null;
}): boolean {
  const { now, last } = input;
  if (last === null || last.startedAt > now) return true;
  if (last.failure !== '') return last.file !== input.newestFile || now - last.startedAt >= DAY_MS;
  return lastOccurrence(now, input.dailyAt, input.zone) - last.startedAt >= ARCHIVE_EVERY_MS;
}

/** Whether the running database is to be checked: every day, and an hour after a check that could not be made. */
export const isDatabaseTrialDue = (now: number, last: { startedAt: number; failure: string } | null): boolean =>
  isDueAgain({ now, last: last?.startedAt ?? null, everyMs: last?.failure ? RETRY_AFTER_MS : DAY_MS });
