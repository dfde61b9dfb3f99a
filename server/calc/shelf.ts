import { CalcError, finiteIn } from './calcError.ts';
import { costMinorOfQuantity, unitCostMinor } from './cost.ts';
import { nearestInteger } from './rounding.ts';

const DAY_MS = 86_400_000;

/** A calendar day 'YYYY-MM-DD' as a count of days; throws CalcError('unreadable') on a day that is not in the calendar. */
function dayNumber(on: string, field: string): number {
  const [, y, m, d] = /^(\d{4})-(\d{2})-(\d{2})$/.exec(on) ?? [];
  const ms = Date.UTC(Number(y), Number(m) - 1, Number(d));
  if (y === undefined || Number.isNaN(ms) || new Date(ms).toISOString().slice(0, 10) !== on) {
    throw new CalcError('unreadable', field, `"${on}" is not a calendar day`);
  }
  return ms / DAY_MS;
}

/** Calendar days from one day to another, below nothing when the second lies before the first. Throws CalcError.
 *  Definition of the Gregorian calendar. */
export const daysBetween = (input: { fromOn: string; toOn: string }): number =>
  dayNumber(input.toOn, 'toOn') - dayNumber(input.fromOn, 'fromOn');

/** The calendar day so many days later. days whole. Throws CalcError. Definition of the Gregorian calendar. */
export function dayLater(input: { on: string; days: number }): string {
  const ms = (dayNumber(input.on, 'on') + nearestInteger({ value: input.days, field: 'days' })) * DAY_MS;
  return new Date(ms).toISOString().slice(0, 10);
}

export type KeepingState = 'good' | 'useSoon' | 'past' | 'undated';

/** How a container stands against its best-before day, that day included in its life.
 *  useSoonWithinDays ≥ 0: so long before the end it is said to be used soon. Throws CalcError. A rule of our own. */
export function keeping(input: { bestBeforeOn: string | null; todayOn: string; useSoonWithinDays: number }): {
  state: KeepingState;
  leftDays: number | null;
} {
  const useSoonWithinDays = finiteIn('useSoonWithinDays', input.useSoonWithinDays, { min: 0 });
  if (input.bestBeforeOn === null) return { state: 'undated', leftDays: null };
  const leftDays = daysBetween({ fromOn: input.todayOn, toOn: input.bestBeforeOn });
  return { state: leftDays < 0 ? 'past' : leftDays <= useSoonWithinDays ? 'useSoon' : 'good', leftDays };
}

/** When "use soon" begins: a month before for powder, three days before for a solution. Common practice; a week-old
 *  solution of reactive dye is near its end, a year-old powder is not. */
export const useSoonWithinDays = { asBought: 30, solution: 3 } as const;

/** How long powder and stock solution of a dye class usually keep, in days; null where nothing is published.
 *  Reactive: solution, neutral and at room temperature, about a week or more (P. Burch, soda ash and dye working time, 2019,
 *  pburch.net; about three times that refrigerated); powder nominally a year, often longer kept dry and cool (P. Burch, Q&A on
 *  old powder, pburch.net). Acid: solution 3–6 months (a wool-dye supplier's sheet), about 6 months (a dye supplier's sheet);
 *  the shorter end is taken. */
export const usualLifeDays: Readonly<Record<string, { solution: number | null; powder: number | null }>> = {
  reactive: { solution: 7, powder: 365 },
  acid: { solution: 91, powder: null },
};

/** Whether a container of dye is past the usual life of its class, by how many days: null when it is not, when nothing is
 *  published, or when it has a best-before day of its own, which says more. fromOn is when it was made or opened, else came.
 *  Throws CalcError. A rule of our own. */
export function pastUsualLifeDays(input: {
  dyeClass: string | null;
  isSolution: boolean;
  fromOn: string;
  bestBeforeOn: string | null;
  todayOn: string;
}): { lifeDays: number; overDays: number } | null {
  if (input.bestBeforeOn !== null || input.dyeClass === null) return null;
  const life = usualLifeDays[input.dyeClass];
  const lifeDays = (input.isSolution ? life?.solution : life?.powder) ?? null;
  if (lifeDays === null) return null;
  const overDays = daysBetween({ fromOn: input.fromOn, toOn: input.todayOn }) - lifeDays;
  return overDays > 0 ? { lifeDays, overDays } : null;
}

export type SupplyState = 'enough' | 'nearlyOut' | 'out';

/** A tenth of what was received: time to order again. Common practice. */
export const nearlyOutPpm = 100_000;

/** What is left of what was received:  share = on hand / received
 *  Quantities in one unit; received ≥ 0, 0 when there is no container; on hand may be below nothing, since what was weighed
 *  was weighed; it counts as nothing left. nearlyOutPpm 0–1 000 000. Throws CalcError. Definition. */
export function supply(input: { onHandQuantity: number; receivedQuantity: number; nearlyOutPpm: number }): {
  state: SupplyState;
  leftPpm: number;
} {
  const received = finiteIn('receivedQuantity', input.receivedQuantity, { min: 0 });
  const onHand = finiteIn('onHandQuantity', input.onHandQuantity);
  const limit = finiteIn('nearlyOutPpm', input.nearlyOutPpm, { min: 0, max: 1_000_000 });
  if (onHand <= 0 || received === 0) return { state: 'out', leftPpm: 0 };
  const leftPpm = nearestInteger({ value: (1_000_000 * onHand) / received, field: 'onHandQuantity' });
  return { state: leftPpm <= limit ? 'nearlyOut' : 'enough', leftPpm };
}

/** Value of what is on hand at what was paid for it:  (price + freight + later bills − credits) / received × on hand, nothing when
 *  below nothing. Money in minor units; `lateMinor` (bills less credits) may be below nothing, by no more than was paid. Throws CalcError. Source: IAS 2 Inventories, IASB (specific identification, cost of purchase). */
export function stockValueMinor(input: {
  priceMinor: number;
  freightMinor: number;
  lateMinor: number;
  receivedQuantity: number;
  onHandQuantity: number;
}): number {
  const { receivedQuantity: quantity } = input;
  const receiptMinor =
    finiteIn('priceMinor', input.priceMinor, { min: 0 }) + finiteIn('freightMinor', input.freightMinor, { min: 0 });
  const priceMinor = receiptMinor + finiteIn('lateMinor', input.lateMinor, { min: -receiptMinor });
  return costMinorOfQuantity({
    quantity: Math.max(0, finiteIn('onHandQuantity', input.onHandQuantity)),
    unitCostMinor: unitCostMinor({ priceMinor, freightMinor: 0, discountMinor: 0, quantity }),
  });
}
