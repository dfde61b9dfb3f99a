import { CalcError } from './calcError.ts';
import { minorUnitDecimals, nearestInteger } from './rounding.ts';
import { converted, type UnitName, units } from './units.ts';

/** What people type, read into whole units of what is stored, and written back.
 *  A dot is the decimal point. A comma is a decimal comma ("1,5 kg"), except where only thousands can be meant ("1,234,567", "1,500.5").
 *  One comma before exactly three digits ("1,500", "2,410 g") may mean either and is refused, unless a 0 stands before it ("0,500").
 *  A plain space never groups digits ("2 500 g" could be two pieces); a no-break or thin space, which only formatted text holds, does. */

const vulgarFractions: Readonly<Record<string, string>> = {
  '½': '1/2',
  '⅓': '1/3',
  '⅔': '2/3',
  '¼': '1/4',
  '¾': '3/4',
  '⅕': '1/5',
  '⅖': '2/5',
  '⅗': '3/5',
  '⅘': '4/5',
  '⅙': '1/6',
  '⅚': '5/6',
  '⅛': '1/8',
  '⅜': '3/8',
  '⅝': '5/8',
  '⅞': '7/8',
};
const fractionCharacters = Object.keys(vulgarFractions).join('');

/** A number as typed: digits with points and commas, a fraction, or a whole number and a fraction. */
const numberPattern = String.raw`(?:\d+\s+\d+\s*/\s*\d+|\d+\s*/\s*\d+|[\d.,]*\d\.?)`;
const numberOnly = new RegExp(`^${numberPattern}$`);

/** "2½" → "2 1/2", typographic spaces out of numbers, one kind of slash, minus and space. */
function normalised(text: string): string {
  return text
    .normalize('NFC')
    .replace(/(\d)[\u00a0\u2009\u202f'’](?=\d{3}(?:\D|$))/g, '$1')
    .replace(
      new RegExp(`(\\d)?\\s*([${fractionCharacters}])`, 'g'),
      (_, digit: string | undefined, fraction: string) =>
        digit === undefined ? (vulgarFractions[fraction] ?? '') : `${digit} ${vulgarFractions[fraction] ?? ''}`,
    )
    .replace(/\u2044/g, '/')
    .replace(/[\u2212\u2013\u2014]/g, '-')
    .replace(/\s+/g, ' ')
    .trim();
}

interface Reading {
  readonly text: string;
  readonly field: string;
  /** "is not a mass I can read: try 250 g, 1.2 kg or 1 lb 4 oz" */
  readonly advice: string;
}

function refusal({ text, field, advice }: Reading): CalcError {
  return new CalcError('unreadable', field, `"${text.trim()}" ${advice}`);
}

/** Value of one typed number. `grouped` tells which reading of a lone comma before three digits is meant where only one is possible. */
function numberOf(typed: string, reading: Reading, comma: 'ask' | 'groups' = 'ask'): number {
  const fraction = /^(?:(\d+) )?(\d+) ?\/ ?(\d+)$/.exec(typed);
  if (fraction !== null) {
    const [, whole = '0', numerator = '', denominator = ''] = fraction;
    if (Number(denominator) === 0) throw refusal(reading);
    return Number(whole) + Number(numerator) / Number(denominator);
  }
  if (/^(\d+\.?\d*|\.\d+)$/.test(typed)) return Number(typed);
  if (/^\d{1,3}(,\d{3}){2,}(\.\d+)?$/.test(typed) || /^\d{1,3}(,\d{3})+\.\d+$/.test(typed)) {
    return Number(typed.replaceAll(',', ''));
  }
  if (/^\d{1,3}(\.\d{3}){2,}(,\d+)?$/.test(typed) || /^\d{1,3}(\.\d{3})+,\d+$/.test(typed)) {
    return Number(typed.replaceAll('.', '').replace(',', '.'));
  }
  if (/^[1-9]\d{0,2},\d{3}$/.test(typed)) {
    if (comma === 'groups') return Number(typed.replace(',', ''));
    throw new CalcError(
      'unreadable',
      reading.field,
      `"${reading.text.trim()}" can be read two ways: write ${typed.replace(',', '')} or ${typed.replace(',', '.')}`,
    );
  }
  if (/^\d*,\d+$/.test(typed)) return Number(typed.replace(',', '.'));
  throw refusal(reading);
}

function refuseNegative(text: string, reading: Reading, what: string): void {
  if (/^-\s*[\d.,]/.test(text)) {
    throw new CalcError(
      'outOfRange',
      reading.field,
      `"${reading.text.trim()}" is less than nothing: ${what} cannot be negative`,
    );
  }
}

type UnitWords = Readonly<Record<string, UnitName>>;

/** Sum of number-and-unit pairs ("1 lb 4 oz"), in the base unit of units.ts. */
function baseAmount(input: {
  reading: Reading;
  what: string;
  words: UnitWords;
  defaultUnit: UnitName | undefined;
}): number {
  const { reading, words } = input;
  const text = normalised(reading.text);
  if (text === '') throw new CalcError('missing', reading.field, `${input.what} is needed`);
  refuseNegative(text, reading, input.what);
  if (numberOnly.test(text)) {
    if (input.defaultUnit === undefined) throw refusal(reading);
    return inBase(numberOf(text, reading), input.defaultUnit);
  }
  const pair = new RegExp(String.raw`^(${numberPattern})\s*([^\d,]+?)\s*(?:(?:,|and |\+)\s*)?(?=$|\d|\.\d)`, 'i');
  let rest = text;
  let sum = 0;
  let last = Number.POSITIVE_INFINITY;
  while (rest !== '') {
    const match = pair.exec(rest);
    const [all, typed = '', word = ''] = match ?? [];
    const unit = words[unitWord(word)];
    if (all === undefined || unit === undefined) throw refusal(reading);
    const size = units[unit].factor;
    if (size >= last) throw refusal(reading);
    last = size;
    sum += inBase(numberOf(typed, reading), unit);
    rest = rest.slice(all.length);
  }
  return sum;
}

/** "Fl. Oz." → "fl oz", "yd²" → "yd2", "sq. yd." → "sq yd"; a capital decides nothing here. */
function unitWord(word: string): string {
  return word
    .toLowerCase()
    .replaceAll('²', '2')
    .replace(/\./g, ' ')
    .replace(/\s*\/\s*/g, '/')
    .replace(/\bper\b/g, '/')
    .replace(/\s*\/\s*/g, '/')
    .replace(/\s+/g, ' ')
    .trim();
}

function inBase(value: number, unit: UnitName): number {
  const definition: { factor: number; indirect?: boolean } = units[unit];
  return definition.indirect ? definition.factor / value : value * definition.factor;
}

function wordsOf(spellings: Partial<Record<UnitName, string>>): UnitWords {
  const words: Record<string, UnitName> = {};
  for (const [unit, list] of Object.entries(spellings) as [UnitName, string][]) {
    for (const word of list.split('|')) words[word] = unit;
  }
  return words;
}

const massWords = wordsOf({
  ug: 'µg|μg|ug|mcg',
  mg: 'mg|milligram|milligrams|milligramme|milligrammes',
  g: 'g|gr|gm|gms|gram|grams|gramme|grammes',
  kg: 'kg|kgs|kilo|kilos|kilogram|kilograms|kilogramme|kilogrammes',
  t: 't|tonne|tonnes',
  oz: 'oz|ozs|ounce|ounces',
  lb: 'lb|lbs|pound|pounds|#',
});

const lengthWords = wordsOf({
  mm: 'mm|millimetre|millimetres|millimeter|millimeters',
  cm: 'cm|centimetre|centimetres|centimeter|centimeters',
  m: 'm|metre|metres|meter|meters',
  km: 'km|kilometre|kilometres|kilometer|kilometers',
  in: "in|ins|inch|inches|\"|″|”|''",
  ft: "ft|foot|feet|'|′|’",
  yd: 'yd|yds|yard|yards',
});

const metricVolumeWords = wordsOf({
  uL: 'µl|μl|ul|microlitre|microlitres|microliter|microliters',
  mL: 'ml|mls|cc|millilitre|millilitres|milliliter|milliliters',
  cL: 'cl|centilitre|centilitres|centiliter|centiliters',
  dL: 'dl|decilitre|decilitres|deciliter|deciliters',
  L: 'l|lt|ltr|litre|litres|liter|liters',
  cupMetric: 'metric cup|metric cups|cup metric|cups metric',
  tablespoonMetric: 'metric tbsp|metric tablespoon|metric tablespoons',
  teaspoonMetric: 'metric tsp|metric teaspoon|metric teaspoons',
});

/** Kitchen and gallon measures by system; "US" or "imp" may be typed before or after the word whatever the studio's system. */
const kitchenUS = {
  teaspoonUS: 'tsp|tsps|teaspoon|teaspoons',
  tablespoonUS: 'tbsp|tbsps|tbs|tablespoon|tablespoons',
  fluidOunceUS: 'fl oz|floz|fl ozs|fluid ounce|fluid ounces',
  cupUS: 'cup|cups|c',
  pintUS: 'pt|pts|pint|pints',
  quartUS: 'qt|qts|quart|quarts',
  gallonUS: 'gal|gals|gallon|gallons',
} as const;
const kitchenImp = {
  fluidOunceImp: kitchenUS.fluidOunceUS,
  pintImp: kitchenUS.pintUS,
  quartImp: kitchenUS.quartUS,
  gallonImp: kitchenUS.gallonUS,
} as const;

function marked(spellings: Partial<Record<UnitName, string>>, marks: readonly string[]): UnitWords {
  const words: Record<string, UnitName> = {};
  for (const [unit, list] of Object.entries(spellings) as [UnitName, string][]) {
    for (const word of list.split('|')) {
      for (const mark of marks) {
        words[`${mark} ${word}`] = unit;
        words[`${word} ${mark}`] = unit;
      }
    }
  }
  return words;
}

const markedVolumeWords: UnitWords = {
  ...metricVolumeWords,
  ...marked(kitchenUS, ['us', 'u s']),
  ...marked(kitchenImp, ['imp', 'imperial', 'uk']),
};

export type VolumeSystem = 'US' | 'imperial';

const volumeWords: Readonly<Record<VolumeSystem, UnitWords>> = {
  US: { ...markedVolumeWords, ...wordsOf(kitchenUS) },
  imperial: { ...markedVolumeWords, ...wordsOf(kitchenImp) },
};

/** Typed mass → whole mg. "250", "250 g", "1.2 kg", "1 lb 4 oz", "1lb4oz", "1 1/2 lb", "½ oz", "1,5 kg".
 *  defaultUnit is what a bare number means; without it a bare number is refused. Throws CalcError with `field`. A rule of our own. */
export function massMgOf(input: { text: string; defaultUnit?: UnitName | undefined; field: string }): number {
  const reading = {
    text: input.text,
    field: input.field,
    advice: 'is not a mass I can read: try 250 g, 1.2 kg or 1 lb 4 oz',
  };
  const massG = baseAmount({ reading, what: 'a mass', words: massWords, defaultUnit: input.defaultUnit });
  return wholeUnits({ value: massG * 1000, reading, smallest: '1 mg' });
}

/** Typed volume → whole µL. "2½ cups", "1/2 cup", "250 mL", "1 gal 2 qt", "2 imp pints".
 *  volumeSystem tells whose pints and gallons are meant when nothing is said; a cup or spoon is US, or "metric cup", and unknown to
 *  the imperial system. Throws CalcError with `field`. A rule of our own. */
export function volumeUlOf(input: {
  text: string;
  defaultUnit?: UnitName | undefined;
  volumeSystem: VolumeSystem;
  field: string;
}): number {
  const reading = {
    text: input.text,
    field: input.field,
    advice: 'is not a volume I can read: try 250 mL, 1.5 L, 2 cups or 1 gal 2 qt',
  };
  const words = volumeWords[input.volumeSystem];
  const volumeMl = baseAmount({ reading, what: 'a volume', words, defaultUnit: input.defaultUnit });
  return wholeUnits({ value: volumeMl * 1000, reading, smallest: '0.001 mL' });
}

/** Typed length → whole mm. "1.5 yd", "112 cm", "2 m 40 cm", `5 ft 3 in`, `44"`. Throws CalcError with `field`. A rule of our own. */
export function lengthMmOf(input: { text: string; defaultUnit?: UnitName | undefined; field: string }): number {
  const reading = {
    text: input.text,
    field: input.field,
    advice: 'is not a length I can read: try 2.5 m, 112 cm or 1.5 yd',
  };
  const lengthM = baseAmount({ reading, what: 'a length', words: lengthWords, defaultUnit: input.defaultUnit });
  return wholeUnits({ value: lengthM * 1000, reading, smallest: '1 mm' });
}

function wholeUnits(input: { value: number; reading: Reading; smallest: string }): number {
  const { value, reading } = input;
  if (!(value <= Number.MAX_SAFE_INTEGER)) {
    throw new CalcError('outOfRange', reading.field, `"${reading.text.trim()}" is more than can be kept`);
  }
  const whole = nearestInteger({ value, field: reading.field });
  if (whole === 0 && value > 0) {
    throw new CalcError(
      'outOfRange',
      reading.field,
      `"${reading.text.trim()}" is less than ${input.smallest}, the smallest that is kept`,
    );
  }
  return whole;
}

const arealMassWords = wordsOf({
  gPerM2: 'g/m2|gsm|g/sq m|g/sqm|gram/m2|grams/m2|g/square metre|g/square meter',
  ozPerYd2: 'oz/yd2|oz/sq yd|oz/sqyd|oz/square yard|osy|oz/yard2|ounces/square yard',
  momme: 'momme|mommes|mm|m m',
});

/** Typed areal mass → g/m². "150 g/m²", "150 gsm", "5 oz/yd²", "16 momme". Ounces alone, or per running yard, are refused: a running
 *  yard needs the width. Throws CalcError with `field`. A rule of our own. */
export function arealMassGPerM2Of(input: { text: string; defaultUnit?: UnitName | undefined; field: string }): number {
  const reading = {
    text: input.text,
    field: input.field,
    advice: 'is not a cloth weight I can read: try 150 g/m², 5 oz/yd² or 16 momme',
  };
  if (
    /(?:oz|ounces?)(?:\s*(?:\/|per)\s*(?:(?:linear|running)\s*)?(?:yd|yard)s?)?\s*$/i.test(
      normalised(input.text).replace(/\./g, ''),
    )
  ) {
    throw new CalcError(
      'unreadable',
      input.field,
      `"${input.text.trim()}" can be ounces per square yard or per running yard: write oz/yd², or give the width of the running yard`,
    );
  }
  return single({ reading, what: 'a cloth weight', words: arealMassWords, defaultUnit: input.defaultUnit });
}

const concWords: Readonly<Record<VolumeSystem, UnitWords>> = {
  US: wordsOf({
    gPerL: 'g/l|gpl|g/litre|g/liter|grams/litre|grams/liter|mg/ml',
    pctWv: '%|% w/v|percent|g/100ml|g/100 ml',
    ozPerGallonUS: 'oz/gal|oz/gallon|oz/us gal|oz/us gallon',
    lbPerGallonUS: 'lb/gal|lb/gallon|lbs/gal|lbs/gallon',
    ozPerGallonImp: 'oz/imp gal|oz/imp gallon',
    lbPerGallonImp: 'lb/imp gal|lb/imp gallon',
  }),
  imperial: wordsOf({
    gPerL: 'g/l|gpl|g/litre|g/liter|grams/litre|grams/liter|mg/ml',
    pctWv: '%|% w/v|percent|g/100ml|g/100 ml',
    ozPerGallonImp: 'oz/gal|oz/gallon|oz/imp gal|oz/imp gallon',
    lbPerGallonImp: 'lb/gal|lb/gallon|lbs/gal|lbs/gallon|lb/imp gal|lb/imp gallon',
    ozPerGallonUS: 'oz/us gal|oz/us gallon',
    lbPerGallonUS: 'lb/us gal|lb/us gallon',
  }),
};

/** Typed concentration → g/L. "50 g/L", "1 oz/gal", "20 %" (w/v, 1 % = 10 g/L). Throws CalcError with `field`. A rule of our own. */
export function concGPerLOf(input: {
  text: string;
  defaultUnit?: UnitName | undefined;
  volumeSystem: VolumeSystem;
  field: string;
}): number {
  const reading = {
    text: input.text,
    field: input.field,
    advice: 'is not a concentration I can read: try 50 g/L, 1 oz/gal or 20 %',
  };
  const words = concWords[input.volumeSystem];
  return single({ reading, what: 'a concentration', words, defaultUnit: input.defaultUnit });
}

/** One number with one unit, whose unit may hold digits and strokes. */
function single(input: {
  reading: Reading;
  what: string;
  words: UnitWords;
  defaultUnit: UnitName | undefined;
}): number {
  const { reading } = input;
  const text = normalised(reading.text);
  if (text === '') throw new CalcError('missing', reading.field, `${input.what} is needed`);
  refuseNegative(text, reading, input.what);
  const match = new RegExp(String.raw`^(${numberPattern})\s*(.*)$`).exec(text);
  const [, typed = '', word = ''] = match ?? [];
  if (match === null) throw refusal(reading);
  const unit = word === '' ? input.defaultUnit : input.words[unitWord(word)];
  if (unit === undefined) throw refusal(reading);
  const value = inBase(numberOf(typed, reading), unit);
  if (!Number.isFinite(value)) throw refusal(reading);
  return value;
}

/** Typed plain number, ≥ 0, with an optional unit word that is dropped (the field's own: "20" or "20:1" for a liquor ratio is not read
 *  here). Throws CalcError with `field`. A rule of our own. */
export function numberOfText(input: { text: string; field: string }): number {
  const reading = { text: input.text, field: input.field, advice: 'is not a number I can read: try 20, 0.5 or 1 1/2' };
  const text = normalised(input.text);
  if (text === '') throw new CalcError('missing', input.field, 'a number is needed');
  refuseNegative(text, reading, 'this number');
  if (!numberOnly.test(text)) throw refusal(reading);
  return numberOf(text, reading);
}

/** Typed liquor ratio → L/kg. "20", "20:1", "1:20", "20 L/kg": both orders occur in print, and the side that is 1 is the goods.
 *  Throws CalcError with `field`. A rule of our own. */
export function liquorRatioLPerKgOf(input: { text: string; field: string }): number {
  const reading = { text: input.text, field: input.field, advice: 'is not a liquor ratio I can read: try 20:1 or 20' };
  const text = normalised(input.text)
    .replace(/\s*l\s*\/\s*kg$/i, '')
    .replace(/\s*ml\s*\/\s*g$/i, '');
  if (text === '') throw new CalcError('missing', input.field, 'a liquor ratio is needed');
  refuseNegative(text, reading, 'a liquor ratio');
  const sides = text.split(/\s*:\s*/);
  if (sides.length > 2 || !sides.every((side) => numberOnly.test(side))) throw refusal(reading);
  const [first = 0, second = 1] = sides.map((side) => numberOf(side, reading));
  if (first !== 1 && second !== 1) throw refusal(reading);
  return first === 1 && sides.length === 2 ? second : first;
}

/** Typed percentage → whole ppm (1 % = 10 000 ppm). "2", "2 %", "2,5 %", "½ %", "0.85". Throws CalcError with `field`.
 *  A rule of our own. */
export function pctPpmOf(input: { text: string; field: string }): number {
  const reading = {
    text: input.text,
    field: input.field,
    advice: 'is not a percentage I can read: try 2, 0.85 % or 2,5 %',
  };
  const text = normalised(input.text)
    .replace(/\s*(?:%|percent|per cent)(?:\s*(?:owg|owf|w\/v))?$/i, '')
    .trim();
  if (text === '') throw new CalcError('missing', input.field, 'a percentage is needed');
  refuseNegative(text, reading, 'a percentage');
  if (!numberOnly.test(text)) throw refusal(reading);
  return wholeUnits({ value: numberOf(text, reading) * 10_000, reading, smallest: '0.0001 %' });
}

/** Typed shares → parts in their order, to be made into exact ppm by dyeMass.sharesPpm. "70/30", "50, 30, 20", "50 30 20", "70 % + 30 %"
 *  are percentages and must add to 100 (within 0.05 a part, so that 33.3 three times will do); "7:3" and "2:1:1" are parts of any sum.
 *  Throws CalcError('mismatch') when percentages do not add up. A rule of our own. */
export function sharePartsOf(input: { text: string; field: string }): number[] {
  const reading = {
    text: input.text,
    field: input.field,
    advice: 'is not a set of shares I can read: try 70/30, 50 30 20 or 2:1',
  };
  const text = normalised(input.text);
  if (text === '') throw new CalcError('missing', input.field, 'shares are needed');
  if (/-\s*\d/.test(text)) throw refusal(reading);
  const asParts = text.includes(':');
  if (/^\d+(?:,\d+)+$/.test(text)) {
    const parts = text.split(',').map(Number);
    if (parts.reduce((sum, part) => sum + part, 0) === 100) return parts;
  }
  const words = (asParts ? text.split(':') : text.split(/[/+;]|,\s|\s(?=[\d.,])/))
    .map((word) => word.replace(/%/g, '').trim())
    .filter((word) => word !== '');
  if (!words.every((word) => numberOnly.test(word))) throw refusal(reading);
  const parts = words.map((word) => numberOf(word, reading));
  const total = parts.reduce((sum, part) => sum + part, 0);
  if (!(total > 0)) throw refusal(reading);
  if (!asParts && Math.abs(total - 100) > 0.05 * parts.length) {
    throw new CalcError(
      'mismatch',
      input.field,
      `"${input.text.trim()}" adds to ${Number(total.toFixed(4))} %, not to 100 %: for parts write ${parts.join(':')}`,
    );
  }
  return parts;
}

const durationSeconds: Readonly<Record<string, number>> = Object.fromEntries(
  (
    [
      ['s sec secs second seconds', 1],
      ['m min mins minute minutes', 60],
      ['h hr hrs hour hours', 3600],
      ['d day days', 86_400],
      ['wk wks week weeks', 604_800],
    ] as const
  ).flatMap(([words, seconds]) => words.split(' ').map((word) => [word, seconds] as const)),
);

/** Typed duration → whole seconds. "90 min", "2 h 30" (the number after hours is minutes), "1:30" (h:min), "0:01:30", "1.5 h", "½ h",
 *  "2 days". defaultUnit is what a bare number means. Throws CalcError with `field`. A rule of our own. */
export function durationSOf(input: {
  text: string;
  defaultUnit?: 's' | 'min' | 'h' | undefined;
  field: string;
}): number {
  const reading = {
    text: input.text,
    field: input.field,
    advice: 'is not a time span I can read: try 90 min, 2 h 30 or 1:30',
  };
  const text = normalised(input.text).toLowerCase();
  if (text === '') throw new CalcError('missing', input.field, 'a time span is needed');
  refuseNegative(text, reading, 'a time span');
  const clock = /^(\d+):([0-5]\d)(?::([0-5]\d))?$/.exec(text);
  if (clock !== null) {
    const [, hours = '0', minutes = '0', seconds = '0'] = clock;
    const total = Number(hours) * 3600 + Number(minutes) * 60 + Number(seconds);
    return wholeUnits({ value: total, reading, smallest: '1 s' });
  }
  if (numberOnly.test(text)) {
    const size = durationSeconds[input.defaultUnit ?? ''];
    if (size === undefined) throw refusal(reading);
    return wholeUnits({ value: numberOf(text, reading) * size, reading, smallest: '1 s' });
  }
  const pair = new RegExp(String.raw`^(${numberPattern})\s*([a-z]*)\.?\s*(?:(?:,|and )\s*)?`);
  let rest = text;
  let sum = 0;
  let last = Number.POSITIVE_INFINITY;
  while (rest !== '') {
    const [all = '', typed = '', word = ''] = pair.exec(rest) ?? [];
    if (all === '') throw refusal(reading);
    const size = word === '' && last > 1 && Number.isFinite(last) ? nextSmaller(last) : durationSeconds[word];
    if (size === undefined || size >= last) throw refusal(reading);
    const value = numberOf(typed, reading);
    if (word === '' && value >= last / size) throw refusal(reading);
    sum += value * size;
    last = size;
    rest = rest.slice(all.length);
  }
  return wholeUnits({ value: sum, reading, smallest: '1 s' });
}

function nextSmaller(sizeS: number): number {
  return sizeS > 86_400 ? 86_400 : sizeS > 3600 ? 3600 : sizeS > 60 ? 60 : 1;
}

/** Typed temperature → °C. "40", "40 C", "40 °C", "105 F", "-18 °C". A bare number is in `scale`. Throws CalcError with `field`.
 *  A rule of our own. */
export function tempCOf(input: { text: string; scale: 'C' | 'F'; field: string }): number {
  const reading = {
    text: input.text,
    field: input.field,
    advice: 'is not a temperature I can read: try 40 °C or 105 °F',
  };
  const text = normalised(input.text).replace(/º/g, '°');
  if (text === '') throw new CalcError('missing', input.field, 'a temperature is needed');
  const match = /^(-?)\s*([\d.,]*\d\.?)\s*(?:°|deg(?:rees)?)?\s*(c|f|celsius|fahrenheit)?$/i.exec(text);
  if (match === null) throw refusal(reading);
  const [, sign, typed = '', scaleTyped = input.scale] = match;
  const value = numberOf(typed, reading) * (sign === '-' ? -1 : 1);
  const from = scaleTyped.toLowerCase().startsWith('f') ? 'degF' : 'degC';
  const tempC = converted({ value, from, to: 'degC' });
  if (tempC > 500) throw new CalcError('outOfRange', input.field, `"${input.text.trim()}" is hotter than any dye room`);
  return tempC;
}

/** Typed money → whole minor units. "12.50", "12,50", "€12.50", "12.50 EUR", "1,250.00". A lone comma before three digits is thousands,
 *  save in currencies with three decimals, where it is refused. More decimals than the currency has are refused.
 *  currency: ISO 4217 code. Throws CalcError with `field`. A rule of our own. */
export function moneyMinorOf(input: { text: string; currency: string; field: string }): number {
  const { currency, field } = input;
  const decimals = minorUnitDecimals({ currency });
  const reading = {
    text: input.text,
    field,
    advice: `is not an amount of money I can read: try 12.50 or 12.50 ${currency}`,
  };
  const symbols = new Set([currency, ...moneySymbols(currency)]);
  let text = normalised(input.text);
  for (const symbol of symbols) {
    if (text.startsWith(symbol)) text = text.slice(symbol.length).trim();
    else if (text.endsWith(symbol)) text = text.slice(0, -symbol.length).trim();
    else continue;
    break;
  }
  if (text === '') throw new CalcError('missing', field, 'an amount of money is needed');
  refuseNegative(text, reading, 'an amount');
  if (!/^[\d.,]+$/.test(text)) throw refusal(reading);
  const amount = numberOf(text, reading, decimals === 3 ? 'ask' : 'groups');
  const typedDecimals = /^\d*[.,](\d+)$/.exec(text)?.[1]?.length ?? 0;
  const isGrouped = /^[1-9]\d{0,2},\d{3}$/.test(text);
  if (!isGrouped && typedDecimals > decimals) {
    throw new CalcError('unreadable', field, `"${input.text.trim()}" has more decimals than ${currency} has`);
  }
  return nearestInteger({ value: amount * 10 ** decimals, field });
}

function moneySymbols(currency: string): string[] {
  return (['narrowSymbol', 'symbol'] as const).map(
    (currencyDisplay) =>
      new Intl.NumberFormat('en', { style: 'currency', currency, currencyDisplay })
        .formatToParts(0)
        .find((part) => part.type === 'currency')?.value ?? currency,
  );
}

export type UnitSystem = 'metric' | 'US';

/** A decimal number without exponent or trailing zeros: at most `decimals` places, or exactly so many when `fixed`. */
function decimalText(value: number, decimals: number, fixed = false): string {
  const text = value.toFixed(decimals);
  return fixed || !text.includes('.') ? text : text.replace(/\.?0+$/, '');
}

interface FormatOptions {
  readonly system: UnitSystem;
  /** Decimals to show, rounded; left out, as many as keep the value to its smallest unit, so that it reads back the same. */
  readonly decimals?: number | undefined;
}

/** Whole mg → text. metric: g under 1 kg, else kg; US: lb and oz. Without `decimals`, massMgOf reads the same number back.
 *  A rule of our own. */
export function massText(input: { massMg: number } & FormatOptions): string {
  const { massMg, decimals } = input;
  if (input.system === 'metric') {
    return Math.abs(massMg) < 1_000_000
      ? `${decimalText(massMg / 1000, decimals ?? 3, decimals !== undefined)} g`
      : `${decimalText(massMg / 1_000_000, decimals ?? 6, decimals !== undefined)} kg`;
  }
  return pairText({
    total: massMg / 1000 / units.oz.factor,
    perLarge: 16,
    large: 'lb',
    small: 'oz',
    decimals: decimals ?? 5,
    fixed: decimals !== undefined,
  });
}

/** Whole µL → text. metric: mL under 1 L, else L; US: gal and fl oz. Without `decimals`, volumeUlOf (US) reads the same number back.
 *  A rule of our own. */
export function volumeText(input: { volumeUl: number } & FormatOptions): string {
  const { volumeUl, decimals } = input;
  if (input.system === 'metric') {
    return Math.abs(volumeUl) < 1_000_000
      ? `${decimalText(volumeUl / 1000, decimals ?? 3, decimals !== undefined)} mL`
      : `${decimalText(volumeUl / 1_000_000, decimals ?? 6, decimals !== undefined)} L`;
  }
  return pairText({
    total: volumeUl / 1000 / units.fluidOunceUS.factor,
    perLarge: 128,
    large: 'gal',
    small: 'fl oz',
    decimals: decimals ?? 5,
    fixed: decimals !== undefined,
  });
}

/** Whole mm → text. metric: cm under 1 m, else m; US: yd and in. Without `decimals`, lengthMmOf reads the same number back.
 *  A rule of our own. */
export function lengthText(input: { lengthMm: number } & FormatOptions): string {
  const { lengthMm, decimals } = input;
  if (input.system === 'metric') {
    return Math.abs(lengthMm) < 1000
      ? `${decimalText(lengthMm / 10, decimals ?? 1, decimals !== undefined)} cm`
      : `${decimalText(lengthMm / 1000, decimals ?? 3, decimals !== undefined)} m`;
  }
  return pairText({
    total: lengthMm / 25.4,
    perLarge: 36,
    large: 'yd',
    small: 'in',
    decimals: decimals ?? 2,
    fixed: decimals !== undefined,
  });
}

/** "1 lb 4 oz": rounded in the small unit first, so that 15.999 oz never shows as "0 lb 16 oz". */
function pairText(input: {
  total: number;
  perLarge: number;
  large: string;
  small: string;
  decimals: number;
  fixed: boolean;
}): string {
  const { perLarge, decimals } = input;
  const sign = input.total < 0 ? '-' : '';
  const scale = 10 ** decimals;
  const rounded = nearestInteger({ value: Math.abs(input.total) * scale, field: 'amount' });
  const large = Math.floor(rounded / (perLarge * scale));
  const small = (rounded - large * perLarge * scale) / scale;
  const smallText = `${decimalText(small, decimals, input.fixed)} ${input.small}`;
  if (large === 0) return `${sign}${smallText}`;
  return small === 0 ? `${sign}${large} ${input.large}` : `${sign}${large} ${input.large} ${smallText}`;
}

/** Whole ppm → "2.5 %". Without `decimals`, pctPpmOf reads the same number back. A rule of our own. */
export function pctText(input: { ppm: number; decimals?: number | undefined }): string {
  return `${decimalText(input.ppm / 10_000, input.decimals ?? 4, input.decimals !== undefined)} %`;
}

/** Whole ppm → "2.5", as it stands in a field whose unit is printed beside it; '' where nothing is known. A rule of our own. */
export const pctTyped = (input: { ppm: number | null }): string =>
  input.ppm === null ? '' : decimalText(input.ppm / 10_000, 4, false);

/** Whole seconds → "2 h 30 min", "45 s", "1 d 6 h". durationSOf reads the same number back. A rule of our own. */
export function durationText(input: { durationS: number }): string {
  const sign = input.durationS < 0 ? '-' : '';
  let rest = nearestInteger({ value: Math.abs(input.durationS), field: 'durationS' });
  const parts: string[] = [];
  for (const [unit, size] of [
    ['d', 86_400],
    ['h', 3600],
    ['min', 60],
    ['s', 1],
  ] as const) {
    const count = Math.floor(rest / size);
    rest -= count * size;
    if (count > 0) parts.push(`${count} ${unit}`);
  }
  return sign + (parts.length === 0 ? '0 min' : parts.join(' '));
}

/** °C → "40 °C" or "104 °F", one decimal at most unless `decimals` says otherwise. A rule of our own. */
export function tempText(input: { tempC: number; scale: 'C' | 'F'; decimals?: number | undefined }): string {
  const value = input.scale === 'F' ? converted({ value: input.tempC, from: 'degC', to: 'degF' }) : input.tempC;
  return `${decimalText(value, input.decimals ?? 1, input.decimals !== undefined)} °${input.scale}`;
}

/** Whole minor units → "€12.50" in the locale's way. The number of decimals is the currency's, whatever the platform's data say.
 *  For 'en' moneyMinorOf reads the same number back. A rule of our own. */
export function moneyText(input: { costMinor: number; currency: string; locale: string }): string {
  const { locale, currency } = input;
  const decimals = minorUnitDecimals({ currency });
  const key = `${locale} ${currency}`;
  const format =
    moneyFormats.get(key) ??
    new Intl.NumberFormat(locale, {
      style: 'currency',
      currency,
      minimumFractionDigits: decimals,
      maximumFractionDigits: decimals,
    });
  moneyFormats.set(key, format);
  return format.format(input.costMinor / 10 ** decimals);
}

/** Kept by locale and currency, of which a studio has one: making a format takes a hundred times as long as using it. */
const moneyFormats = new Map<string, Intl.NumberFormat>();
