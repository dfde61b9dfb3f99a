import { DateTime } from 'luxon';

export interface DayRange {
  label: string;
  from: string;
  to: string;
}

const iso = (day: DateTime): string => day.toISODate() ?? '';

/** The ranges that books are kept by, seen from a studio day. Everything is said by empty ends. */
export function usualRanges(todayOn: string): DayRange[] {
  const today = DateTime.fromISO(todayOn, { zone: 'utc' });
  const lastMonth = today.minus({ months: 1 });
  const lastYear = today.minus({ years: 1 });
  return [
    { label: 'this month', from: iso(today.startOf('month')), to: iso(today.endOf('month')) },
    { label: 'last month', from: iso(lastMonth.startOf('month')), to: iso(lastMonth.endOf('month')) },
    { label: 'this year', from: iso(today.startOf('year')), to: iso(today.endOf('year')) },
    { label: 'last year', from: iso(lastYear.startOf('year')), to: iso(lastYear.endOf('year')) },
    { label: 'everything', from: '', to: '' },
  ];
}

/** The month of a studio day and the eleven before it. */
export function lastTwelveMonths(todayOn: string): DayRange {
  const today = DateTime.fromISO(todayOn, { zone: 'utc' });
  return {
    label: 'twelve months',
    from: iso(today.startOf('month').minus({ months: 11 })),
    to: iso(today.endOf('month')),
  };
}
