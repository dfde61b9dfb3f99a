import { z } from 'zod';
import { CalcError } from './calc/calcError.ts';
import { FIRST_YEAR, isSaneDay, LAST_YEAR } from './calc/possibleTime.ts';
import {
  arealMassGPerM2Of,
  durationSOf,
  lengthMmOf,
  liquorRatioLPerKgOf,
  massMgOf,
  moneyMinorOf,
  numberOfText,
  pctPpmOf,
  tempCOf,
  volumeUlOf,
} from './calc/quantity.ts';
import { nearestInteger } from './calc/rounding.ts';
import type { UnitName } from './calc/units.ts';

/** The words of a form turned into values, for the schemas of pages. Each reads what people type by calc/quantity.ts and
 *  answers the stored integer unit; the message is the calculation's own, in a dyer's words. */

function read<T>(parse: (text: string) => T) {
  return (text: string, ctx: z.RefinementCtx): T => {
    try {
      return parse(text);
    } catch (error) {
      if (!(error instanceof CalcError)) throw error;
      ctx.addIssue({ code: 'custom', message: error.sentence });
      return z.NEVER;
    }
  };
}

const text = (missing: string) => z.string({ error: missing }).trim().min(1, missing);
/** Text that may be left empty: null then. */
const optional = <T>(parse: (text: string) => T) =>
  z
    .string()
    .trim()
    .optional()
    .transform((value, ctx): T | null => (value === undefined || value === '' ? null : read(parse)(value, ctx)));

export const requiredText = (missing: string, max = 200) => text(missing).max(max, `At most ${max} characters.`);
export const optionalText = (max = 2000) =>
  z
    .string()
    .trim()
    .max(max, `At most ${max} characters.`)
    .optional()
    .transform((v) => v ?? '');

export const massMgField = (missing: string, defaultUnit: UnitName = 'g') =>
  text(missing).transform(
    read((t) => positiveInt(massMgOf({ text: t, defaultUnit, field: 'mass' }), 'A mass must be more than nothing.')),
  );
/** A count may find nothing: 0 is a mass here. */
export const massMgOrNothingField = (missing: string, defaultUnit: UnitName = 'g') =>
  text(missing).transform(read((t) => atMost(massMgOf({ text: t, defaultUnit, field: 'mass' }))));
export const volumeUlOrNothingField = (missing: string, defaultUnit: UnitName = 'mL') =>
  text(missing).transform(
    read((t) => atMost(volumeUlOf({ text: t, defaultUnit, volumeSystem: 'US', field: 'volume' }))),
  );
export const optionalMassMg = (defaultUnit: UnitName = 'g') =>
  optional((t) => positiveInt(massMgOf({ text: t, defaultUnit, field: 'mass' }), 'A mass must be more than nothing.'));
export const volumeUlField = (missing: string, defaultUnit: UnitName = 'mL') =>
  text(missing).transform(
    read((t) =>
      positiveInt(
        volumeUlOf({ text: t, defaultUnit, volumeSystem: 'US', field: 'volume' }),
        'A volume must be more than nothing.',
      ),
    ),
  );
export const optionalVolumeUl = (defaultUnit: UnitName = 'mL') =>
  optional((t) =>
    positiveInt(
      volumeUlOf({ text: t, defaultUnit, volumeSystem: 'US', field: 'volume' }),
      'A volume must be more than nothing.',
    ),
  );
export const lengthMmField = (missing: string, defaultUnit: UnitName = 'cm') =>
  text(missing).transform(
    read((t) =>
      positiveInt(lengthMmOf({ text: t, defaultUnit, field: 'length' }), 'A length must be more than nothing.'),
    ),
  );
export const optionalLengthMm = (defaultUnit: UnitName = 'cm') =>
  optional((t) =>
    positiveInt(lengthMmOf({ text: t, defaultUnit, field: 'length' }), 'A length must be more than nothing.'),
  );
/** g/m² as mg/m². */
export const optionalArealMassMgPerM2 = () =>
  optional((t) =>
    nearestInteger({
      value: arealMassGPerM2Of({ text: t, defaultUnit: 'gPerM2', field: 'arealMass' }) * 1000,
      field: 'arealMass',
    }),
  );

const ppmWithin = (t: string, range: { minPpm: number; maxPpm: number }): number => {
  const ppm = pctPpmOf({ text: t, field: 'percent' });
  if (ppm < range.minPpm || ppm > range.maxPpm) {
    throw new CalcError(
      'outOfRange',
      'percent',
      `between ${range.minPpm / 10_000} % and ${range.maxPpm / 10_000} %, please`,
    );
  }
  return ppm;
};
export const pctPpmField = (missing: string, range: { minPpm: number; maxPpm: number }) =>
  text(missing).transform(read((t) => ppmWithin(t, range)));
export const optionalPctPpm = (range: { minPpm: number; maxPpm: number }) => optional((t) => ppmWithin(t, range));

export const moneyMinorField = (currency: string, missing: string) =>
  text(missing).transform(read((t) => atMost(moneyMinorOf({ text: t, currency, field: 'price' }))));
export const optionalMoneyMinor = (currency: string) =>
  optional((t) => atMost(moneyMinorOf({ text: t, currency, field: 'price' })));

export const durationSField = (missing: string, defaultUnit: 's' | 'min' | 'h' = 'min') =>
  text(missing).transform(read((t) => durationSOf({ text: t, defaultUnit, field: 'duration' })));
export const optionalDurationS = (defaultUnit: 's' | 'min' | 'h' = 'min') =>
  optional((t) => durationSOf({ text: t, defaultUnit, field: 'duration' }));
export const optionalTempC = () => optional((t) => tempCOf({ text: t, scale: 'C', field: 'temp' }));

/** Liquor ratio in L/kg, which is mL/g, as whole mL per kg. */
export const optionalMlPerKg = () =>
  optional((t) =>
    positiveInt(
      nearestInteger({ value: liquorRatioLPerKgOf({ text: t, field: 'ratio' }) * 1000, field: 'ratio' }),
      'A liquor ratio must be more than nothing.',
    ),
  );

/** A plain number as whole thousandths. */
export const milliField = (missing: string) =>
  text(missing).transform(
    read((t) =>
      positiveInt(
        nearestInteger({ value: numberOfText({ text: t, field: 'amount' }) * 1000, field: 'amount' }),
        'More than nothing, please.',
      ),
    ),
  );
export const optionalNumber = (range: { min: number; max: number }) =>
  optional((t) => {
    const value = signedNumber(t);
    if (value < range.min || value > range.max)
      throw new CalcError('outOfRange', 'number', `between ${range.min} and ${range.max}, please`);
    return value;
  });
/** A number that may be below nothing, such as a* or b*; decimal comma allowed. */
function signedNumber(t: string): number {
  const plain = t.replace('−', '-');
  return plain.startsWith('-')
    ? -numberOfText({ text: plain.slice(1), field: 'number' })
    : numberOfText({ text: plain.replace(/^\+/, ''), field: 'number' });
}

export const countField = (missing: string) => text(missing).transform(read((t) => wholeCount(t)));
export const optionalCount = () => optional(wholeCount);
function wholeCount(t: string): number {
  if (!/^\d{1,6}$/.test(t)) throw new CalcError('unreadable', 'count', `"${t}" is not a whole number`);
  return Number(t);
}

export const idField = (missing: string) =>
  text(missing)
    .refine((v) => /^[1-9]\d{0,14}$/.test(v), missing)
    .transform(Number);
export const optionalId = () =>
  z
    .string()
    .trim()
    .optional()
    .transform((v, ctx): number | null => {
      if (v === undefined || v === '') return null;
      if (/^[1-9]\d{0,14}$/.test(v)) return Number(v);
      ctx.addIssue({ code: 'custom', message: 'Choose one from the list.' });
      return z.NEVER;
    })
    .meta({ type: 'integer', minimum: 1 });

/** An address on the web: http or https and nothing else, since it becomes a link. */
const isWebAddress = (v: string): boolean =>
  v.length <= 500 && URL.canParse(v) && /^https?:$/.test(new URL(v).protocol) && !/[\s"<>\\]/.test(v);
export const optionalWebAddress = () =>
  z
    .string()
    .trim()
    .optional()
    .transform((v, ctx): string => {
      if (v === undefined || v === '' || isWebAddress(v)) return v ?? '';
      ctx.addIssue({ code: 'custom', message: 'A web address begins with https:// or http://.' });
      return z.NEVER;
    });
export const jsonWebAddress = z
  .string()
  .refine((v) => v === '' || isWebAddress(v), 'not an http or https address')
  .default('');

const OTHER_AGE = 'That year is not of this studio’s time: look at it again.';
const isDay = (v: string): boolean => {
  const [y = 0, m = 0, d = 0] = v.split('-').map(Number);
  const date = new Date(Date.UTC(y, m - 1, d));
  return /^\d{4}-\d{2}-\d{2}$/.test(v) && date.getUTCMonth() === m - 1 && date.getUTCDate() === d;
};
/** A calendar day, 'YYYY-MM-DD'. */
export const dayField = (missing: string) =>
  text(missing).refine(isDay, 'That is not a day: try 2026-03-31.').refine(isSaneDay, OTHER_AGE);
export const optionalDay = () =>
  z
    .string()
    .trim()
    .optional()
    .transform((v, ctx): string | null => {
      if (v === undefined || v === '') return null;
      if (isDay(v) && isSaneDay(v)) return v;
      ctx.addIssue({ code: 'custom', message: isDay(v) ? OTHER_AGE : 'That is not a day: try 2026-03-31.' });
      return z.NEVER;
    });

/** The version of the row that the form was filled from; saving against another is a stale edit. */
export const versionField = () =>
  z
    .string()
    .regex(/^\d{1,9}$/, 'Open the page again.')
    .transform(Number);

/** A body with the version that was read: saving against another is refused as stale. */
export const versioned = <Shape extends z.core.$ZodLooseShape>(body: z.ZodObject<Shape>) =>
  body.extend({ version: z.number().int().meta({ description: 'as it was read' }) });

/** The same days and ids in JSON. */
export const jsonDay = z
  .string()
  .refine(isDay, 'not a day: YYYY-MM-DD')
  .refine(isSaneDay, `a day of the years ${FIRST_YEAR} to ${LAST_YEAR}`)
  .meta({ description: "calendar day, 'YYYY-MM-DD'" });
export const jsonId = z.number().int().positive();
/** What an address holds is text; a script that reads the API document is told that it is a number. */
export const NUMBER_IN_AN_ADDRESS = { type: 'integer', minimum: 1, pattern: undefined } as const;
export const fromQuery = <T extends z.ZodType>(schema: T) =>
  z.preprocess((v) => (v === '' || v === undefined ? undefined : v), schema);
export const queryId = fromQuery(
  z
    .string()
    .regex(/^[1-9]\d{0,14}$/, 'Choose one from the list.')
    .transform(Number)
    .optional(),
).meta(NUMBER_IN_AN_ADDRESS);
export const idParams = z.object({
  id: z
    .string()
    .regex(/^[1-9]\d{0,14}$/, 'A whole number above 0.')
    .transform(Number)
    .meta(NUMBER_IN_AN_ADDRESS),
});

/** The most that one entry may hold of anything, in its smallest unit: a thousand tonnes in mg, ten billion cents.
 *  Thousands of such entries still add up exactly (2^53 is about 9 · 10^15). */
export const MOST = 1e12;
/** Money in JSON, minor units. */
export const jsonMoneyMinor = z.number().int().min(0).max(MOST);
/** A quantity in JSON: mg, µL. */
export const jsonQuantity = z.number().int().positive().max(MOST);
export const jsonCount = z.number().int().positive().max(1_000_000);

function atMost(value: number): number {
  if (value > MOST)
    throw new CalcError('outOfRange', 'quantity', 'That is more than a studio will ever see: look at the unit.');
  return value;
}

function positiveInt(value: number, words: string): number {
  if (value <= 0) throw new CalcError('outOfRange', 'quantity', words);
  return atMost(value);
}
