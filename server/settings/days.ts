import { DateTime } from 'luxon';

/** The studio's calendar day at an instant. */
export const dayOf = (at: number, zone: string): string => DateTime.fromMillis(at, { zone }).toISODate() ?? '';

/** First instant of a studio day and of the day after: [start, end), across changes of the clock. */
export function instantsOfDay(on: string, zone: string): { startAt: number; endAt: number } {
  const start = DateTime.fromISO(on, { zone }).startOf('day');
  return { startAt: start.toMillis(), endAt: start.plus({ days: 1 }).startOf('day').toMillis() };
}

/** An instant in words, in the studio's zone, for what is kept as it was said: '25 Nov 2026, 14:05'. */
export const instantText = (at: number, zone: string): string =>
  DateTime.fromMillis(at, { zone }).setLocale('en-GB').toFormat('d LLL yyyy, HH:mm');
