import { minorUnitDecimals } from '../server/calc/rounding.ts';
import type { Actor, Deps } from '../server/deps.ts';
import { dayOf, instantsOfDay } from '../server/settings/days.ts';
import type { Ground } from './colourWorld.ts';

/** What every part of the seed is handed: the studio's rules with a clock of their own, and who works there. */
export interface Sowing {
  deps: Deps;
  clock: { at: number };
  /** The real instant at which it is sown; the invented year ends here. */
  nowAt: number;
  zone: string;
  owner: Actor;
  dyer: Actor;
  /** An amount in the studio's currency, in its minor unit; prices are thought of in a currency of the euro's size. */
  money: (amount: number) => number;
}

/** Ids of what the shelves and books hold, by the names that the seed's own lists use. */
export interface Named {
  fibres: Map<string, number>;
  grounds: Map<string, Ground>;
  dyes: Map<string, number>;
  auxiliaries: Map<string, number>;
  methods: Map<string, number>;
}

export const MINUTE_MS = 60_000;
export const HOUR_MS = 3_600_000;
export const DAY_MS = 86_400_000;

/** Currencies without a small coin count in units of about a hundredth of a euro. */
export function moneyIn(currency: string): (amount: number) => number {
  const decimals = minorUnitDecimals({ currency });
  return (amount) => Math.round(amount * (decimals === 0 ? 100 : 10 ** decimals));
}

export function named(map: ReadonlyMap<string, number>, name: string): number {
  const id = map.get(name);
  if (id === undefined) throw new Error(`the seed knows no ${name}`);
  return id;
}

/** An instant on the day that lies so many days before the sowing, at an hour of the studio's clock; a weekend gives way to
 *  the Friday before. */
export function workingHour(s: Pick<Sowing, 'nowAt' | 'zone'>, daysBefore: number, hour: number): number {
  let at = s.nowAt - daysBefore * DAY_MS;
  for (let tries = 0; tries < 3 && isWeekend(dayOf(at, s.zone)); tries += 1) at -= DAY_MS;
  return instantsOfDay(dayOf(at, s.zone), s.zone).startAt + hour * HOUR_MS;
}

/** The next morning on which somebody works, at an hour, not before an instant. */
export function nextMorning(s: Pick<Sowing, 'zone'>, after: number, hour: number): number {
  for (let at = after; ; at += DAY_MS) {
    const on = dayOf(at, s.zone);
    const morning = instantsOfDay(on, s.zone).startAt + hour * HOUR_MS;
    if (!isWeekend(on) && morning >= after) return morning;
  }
}

/** The hour of the studio's clock at an instant. */
export const hourOf = (s: Pick<Sowing, 'zone'>, at: number): number =>
  (at - instantsOfDay(dayOf(at, s.zone), s.zone).startAt) / HOUR_MS;

function isWeekend(on: string): boolean {
  const [year = 1970, month = 1, day = 1] = on.split('-').map(Number);
  return [0, 6].includes(new Date(Date.UTC(year, month - 1, day)).getUTCDay());
}
