import { lengthText, massText, moneyText, pctText, tempText, volumeText } from '../../server/calc/quantity.ts';
import { minorUnitDecimals } from '../../server/calc/rounding.ts';

/** How this studio wants quantities and times shown. */
export interface Show {
  units: 'metric' | 'us';
  currency: string;
  zone: string;
}

const system = (show: Show): 'metric' | 'US' => (show.units === 'us' ? 'US' : 'metric');

/** A mass; `stepMg` fixes the decimals to what the scale shows. Weigh-up lines are always in grams, since the scale
 *  is. */
export const mass = (show: Show, massMg: number | null): string =>
  massMg === null ? '—' : massText({ massMg, system: system(show) });
/** Goods as they were dyed, which a way out may have scaled: to four figures, as a scale for goods tells them. */
export const goodsMass = (show: Show, massMg: number): string => {
  const step = 10 ** Math.max(0, Math.floor(Math.log10(Math.max(1, massMg))) - 3);
  return mass(show, Math.round(massMg / step) * step);
};
export const grams = (massMg: number | null, stepMg = 10): string => {
  if (massMg === null) return '—';
  const decimals = Math.max(0, 3 - Math.floor(Math.log10(Math.max(1, stepMg))));
  return `${(massMg / 1000).toFixed(decimals)} g`;
};
export const volume = (show: Show, volumeUl: number | null): string =>
  volumeUl === null ? '—' : volumeText({ volumeUl, system: system(show) });
/** Water as a jug or a meter shows it: to 0.1 mL under a litre, to 10 mL above. */
export const water = (show: Show, volumeUl: number | null): string => {
  if (volumeUl === null) return '—';
  const stepUl = volumeUl < 1_000_000 ? 100 : 10_000;
  return show.units === 'us'
    ? volumeText({ volumeUl, system: 'US', decimals: 1 })
    : volumeText({ volumeUl: Math.round(volumeUl / stepUl) * stepUl, system: 'metric' });
};
export const millilitres = (volumeUl: number | null, stepUl = 100): string => {
  if (volumeUl === null) return '—';
  const decimals = Math.max(0, 3 - Math.floor(Math.log10(Math.max(1, stepUl))));
  return `${(volumeUl / 1000).toFixed(decimals)} mL`;
};
/** By mass or by volume, as a line of a weigh-up is planned. */
export const amount = (unit: 'mg' | 'ul', value: number | null, step: number): string =>
  unit === 'mg' ? grams(value, step) : millilitres(value, step);
export const length = (show: Show, lengthMm: number | null): string =>
  lengthMm === null ? '—' : lengthText({ lengthMm, system: system(show) });
/** A depth that was worked out from weighings, to three figures: a scale tells no more of it. */
export const depthDyed = (ppm: number): string => percent(Number(ppm.toPrecision(3)));
export const percent = (ppm: number | null, decimals?: number): string =>
  ppm === null ? '—' : pctText({ ppm, decimals });
export const money = (show: Show, costMinor: number | null): string =>
  costMinor === null ? '—' : moneyText({ costMinor, currency: show.currency, locale: 'en' });
export const temperature = (show: Show, tempC: number | null): string =>
  tempC === null ? '—' : tempText({ tempC, scale: show.units === 'us' ? 'F' : 'C' });

/** Formats by zone, of which a studio has one: making a format takes a hundred times as long as using it. */
const keptByZone = (options: Intl.DateTimeFormatOptions): ((zone: string) => Intl.DateTimeFormat) => {
  const kept = new Map<string, Intl.DateTimeFormat>();
  return (timeZone) => {
    const format = kept.get(timeZone) ?? new Intl.DateTimeFormat('en-GB', { ...options, timeZone });
    kept.set(timeZone, format);
    return format;
  };
};
const DAY = { day: 'numeric', month: 'short', year: 'numeric' } as const;
const TIME = { hour: '2-digit', minute: '2-digit' } as const;
const dayFormat = keptByZone(DAY);
const timeFormat = keptByZone(TIME);
const nearInstantFormat = keptByZone({ day: 'numeric', month: 'short', ...TIME });
const instantFormat = keptByZone({ ...DAY, ...TIME });

/** An instant in the studio's zone: '25 Nov 2026, 14:05'. */
export const when = (show: Show, at: number | null): string =>
  at === null ? '—' : instantFormat(show.zone).format(at);
export const clock = (show: Show, at: number): string => timeFormat(show.zone).format(at);
/** The same beside the present: the day stands with it when that is another one. */
export const clockBeside = (show: Show, at: number, nowAt: number): string =>
  dayFormat(show.zone).format(at) === dayFormat(show.zone).format(nowAt)
    ? clock(show, at)
    : nearInstantFormat(show.zone).format(at);
/** A calendar day 'YYYY-MM-DD' → '25 Nov 2026'. */
export const day = (on: string | null): string =>
  on === null ? '—' : dayFormat('UTC').format(Date.parse(`${on}T00:00:00Z`));
/** Money as digits for a form field, without the currency's sign. */
export const plainMoney = (show: Show, costMinor: number): string => {
  const decimals = minorUnitDecimals({ currency: show.currency });
  return (costMinor / 10 ** decimals).toFixed(decimals);
};
