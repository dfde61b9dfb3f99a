import { describe, expect, test } from 'vitest';
import { CalcError } from '../../server/calc/calcError.ts';
import * as q from '../../server/calc/quantity.ts';

/* What people type, and what must become of it: a slip that is read as something else is powder weighed wrongly, so what can mean
 * two things, or nothing, comes back in the person's own words. Amounts worked out by hand from the exact pound (453.59237 g),
 * yard (0.9144 m) and US gallon (3.785411784 L) of NIST Handbook 44, Appendix C. */

const field = 'typed';

/** What was read, or how it was refused: `code: message`. */
function readAs(read: () => unknown): unknown {
  try {
    return read();
  } catch (error) {
    if (!(error instanceof CalcError)) throw error;
    expect(error.field).toBe(field);
    return `${error.code}: ${error.message}`;
  }
}

const mass = (text: string) => readAs(() => q.massMgOf({ text, defaultUnit: 'g', field }));
const volume = (text: string) => readAs(() => q.volumeUlOf({ text, defaultUnit: 'mL', volumeSystem: 'US', field }));
const length = (text: string) => readAs(() => q.lengthMmOf({ text, defaultUnit: 'cm', field }));
const areal = (text: string) => readAs(() => q.arealMassGPerM2Of({ text, defaultUnit: 'gPerM2', field }));
const conc = (text: string) => readAs(() => q.concGPerLOf({ text, volumeSystem: 'US', field }));
const plain = (text: string) => readAs(() => q.numberOfText({ text, field }));
const liquor = (text: string) => readAs(() => q.liquorRatioLPerKgOf({ text, field }));
const pct = (text: string) => readAs(() => q.pctPpmOf({ text, field }));
const shares = (text: string) => readAs(() => q.sharePartsOf({ text, field }));
const duration = (text: string) => readAs(() => q.durationSOf({ text, defaultUnit: 'min', field }));
const temp = (text: string) => readAs(() => q.tempCOf({ text, scale: 'C', field }));
const money = (text: string, currency = 'EUR') => readAs(() => q.moneyMinorOf({ text, currency, field }));

const noMass = (text: string): string =>
  `unreadable: "${text}" is not a mass I can read: try 250 g, 1.2 kg or 1 lb 4 oz`;

describe('numbers', () => {
  test.each([
    ['1234.5', 1234.5],
    ['.25', 0.25],
    ['5.', 5],
    ['0,5', 0.5],
    [',25', 0.25],
    ['0,500', 0.5],
    ['12,34', 12.34],
    ['12,3456', 12.3456],
    ['1,234,567', 1_234_567],
    ['12,345,678.25', 12_345_678.25],
    ['1,500.5', 1500.5],
    ['1,234,567.89', 1_234_567.89],
    ['1.234.567', 1_234_567],
    ['12.345.678,25', 12_345_678.25],
    ['12.500,25', 12_500.25],
    ['1.234.567,5', 1_234_567.5],
    ['2\u00a0500', 2500],
    ['2\u202f500,5', 2500.5],
    ['1’234’567', 1_234_567],
    ['3/4', 0.75],
    ['11 / 16', 0.6875],
    ['12 1/2', 12.5],
    ['1 11/16', 1.6875],
    ['2½', 2.5],
    ['½', 0.5],
    ['3⁄4', 0.75],
    [' 7 ', 7],
  ])('%s is %d', (text, value) => {
    expect(plain(text)).toBe(value);
  });

  test.each(['12,500', '1,500', '999,999'])('%s can be thousands or thousandths, and is asked about', (text) => {
    const [whole, part] = text.split(',');
    expect(plain(` ${text} `)).toBe(
      `unreadable: "${text}" can be read two ways: write ${whole}${part} or ${whole}.${part}`,
    );
  });

  test.each([
    '1,23,456',
    '1234,567,890',
    '1,234,5678',
    '12.34.56',
    '1234.567.890',
    '1.234.5678',
    '1.234,56,7',
    '1,2,3',
    '1..5',
    '1.2.3,4',
    '1/0',
    '12,345.6,7',
    '5 apples',
    '12 500',
    'x5',
    '5x',
  ])('%s is no number', (text) => {
    expect(plain(text)).toBe(`unreadable: "${text}" is not a number I can read: try 20, 0.5 or 1 1/2`);
  });

  test('nothing is missing, and less than nothing is no number of anything', () => {
    expect(plain('  ')).toBe('missing: a number is needed');
    expect(plain('-5')).toBe('outOfRange: "-5" is less than nothing: this number cannot be negative');
    expect(plain('− 5')).toBe('outOfRange: "− 5" is less than nothing: this number cannot be negative');
    expect(plain('–.5')).toBe('outOfRange: "–.5" is less than nothing: this number cannot be negative');
  });
});

describe('masses', () => {
  test.each([
    ['250', 250_000],
    ['1.2 kg', 1_200_000],
    ['1 lb 4 oz', 566_990], // 453.59237 · 1.25
    ['1lb4oz', 566_990],
    ['1 lb, 4 oz', 566_990],
    ['1 lb and 4 oz', 566_990],
    ['1 lb + 4 oz', 566_990],
    ['1 LB. 4 Oz.', 566_990],
    ['1½ lb', 680_389],
    ['2 kg 300 g 5 mg', 2_300_005],
    ['1 mg', 1],
    ['500 µg', 1],
  ])('%s is %d mg', (text, mg) => {
    expect(mass(text)).toBe(mg);
  });

  test.each(['4 oz 1 lb', '1 lb 4', '1 g 2 g', '12 stone', 'heavy', 'g', '5 g of blue', '1 lb 4 oz x', 'x 1 lb'])(
    '%s is no mass',
    (text) => {
      expect(mass(text)).toBe(noMass(text));
    },
  );

  test('a bare number needs a unit of its own where none is usual', () => {
    expect(readAs(() => q.massMgOf({ text: '5', field }))).toBe(noMass('5'));
    expect(readAs(() => q.massMgOf({ text: '5 g', field }))).toBe(5000);
  });

  test('nothing, less than nothing, less and more than can be kept', () => {
    expect(mass('')).toBe('missing: a mass is needed');
    expect(mass(' -5 g ')).toBe('outOfRange: "-5 g" is less than nothing: a mass cannot be negative');
    expect(mass('0')).toBe(0);
    expect(mass(' 0.4 mg ')).toBe('outOfRange: "0.4 mg" is less than 1 mg, the smallest that is kept');
    expect(mass('9007199254 kg')).toBe(9_007_199_254_000_000);
    expect(mass(' 9007199254.75 kg ')).toBe('outOfRange: "9007199254.75 kg" is more than can be kept');
  });
});

describe('volumes and lengths', () => {
  test.each([
    ['250', 250_000],
    ['1 gal 2 qt', 5_678_118], // 3.785411784 · 1.5 L
    ['2 fl. oz.', 59_147],
    ['1 cup', 236_588],
    ['1 metric cup', 250_000],
    ['3 imp pt', 1_704_784], // 0.56826125 · 3
  ])('%s is %d µL', (text, ul) => {
    expect(volume(text)).toBe(ul);
  });
  test.each([
    ['112', 1120],
    ['2 m 40 cm', 2400],
    ['1.5 yd', 1372],
    [`5' 3"`, 1600],
    ['44″', 1118],
  ])('%s is %d mm', (text, mm) => {
    expect(length(text)).toBe(mm);
  });
  test('what they cannot be is said in their own words', () => {
    expect(volume('')).toBe('missing: a volume is needed');
    expect(volume('-1 L')).toBe('outOfRange: "-1 L" is less than nothing: a volume cannot be negative');
    expect(volume('0.0004 mL')).toBe('outOfRange: "0.0004 mL" is less than 0.001 mL, the smallest that is kept');
    expect(volume('a bucket')).toBe(
      'unreadable: "a bucket" is not a volume I can read: try 250 mL, 1.5 L, 2 cups or 1 gal 2 qt',
    );
    expect(readAs(() => q.volumeUlOf({ text: '1 cup', volumeSystem: 'imperial', field }))).toMatch(/^unreadable/);
    expect(length('')).toBe('missing: a length is needed');
    expect(length('-1 m')).toBe('outOfRange: "-1 m" is less than nothing: a length cannot be negative');
    expect(length('0.4 mm')).toBe('outOfRange: "0.4 mm" is less than 1 mm, the smallest that is kept');
    expect(length('long')).toBe('unreadable: "long" is not a length I can read: try 2.5 m, 112 cm or 1.5 yd');
  });
});

describe('cloth weights and strengths', () => {
  test.each([
    ['150', 150],
    ['150 g/m²', 150],
    ['150 g / m²', 150],
    ['150 g per m2', 150],
    ['150 gsm', 150],
  ])('%s is %d g/m²', (text, value) => {
    expect(areal(text)).toBeCloseTo(value, 9);
  });
  test.each([
    ['50 g/L', 50],
    ['50 g per litre', 50],
    ['20 %', 200],
    ['1 oz/gal', 7.489152], // 28.349523125 / 3.785411784
  ])('%s is %d g/L', (text, value) => {
    expect(conc(text)).toBeCloseTo(value, 5);
  });
  test.each([
    '7 oz',
    '7 ounces',
    '7 ounce',
    '7 oz.',
    '7 oz/yd',
    '7 oz per yard',
    '7 oz / linear yd',
    '7 oz per running  yards',
  ])('%s may be of a running yard', (text) => {
    expect(areal(` ${text} `)).toBe(
      `unreadable: "${text}" can be ounces per square yard or per running yard: write oz/yd², or give the width of the running yard`,
    );
  });
  test('what they cannot be is said in their own words', () => {
    expect(areal('')).toBe('missing: a cloth weight is needed');
    expect(areal('-150')).toBe('outOfRange: "-150" is less than nothing: a cloth weight cannot be negative');
    expect(areal('thick')).toBe(
      'unreadable: "thick" is not a cloth weight I can read: try 150 g/m², 5 oz/yd² or 16 momme',
    );
    expect(conc('')).toBe('missing: a concentration is needed');
    expect(conc('-5 g/L')).toBe('outOfRange: "-5 g/L" is less than nothing: a concentration cannot be negative');
    expect(conc('50')).toBe('unreadable: "50" is not a concentration I can read: try 50 g/L, 1 oz/gal or 20 %');
    expect(conc('50 g')).toMatch(/^unreadable/);
  });
});

describe('liquor ratios', () => {
  test.each([
    ['20', 20],
    ['20:1', 20],
    ['1:20', 20],
    ['1 : 20', 20],
    ['1', 1],
    ['1:1', 1],
    ['20 L/kg', 20],
    ['20L / kg', 20],
    ['20 mL/g', 20],
    ['20 mL / g', 20],
    ['20ml/g', 20],
    ['12.5:1', 12.5],
  ])('%s is %d L on a kilogram', (text, value) => {
    expect(liquor(text)).toBe(value);
  });
  test.each(['2:3', '1:2:3', '1:x', 'x:1', '20:', '20 L/kg of goods', 'wet'])('%s is none', (text) => {
    expect(liquor(text)).toBe(`unreadable: "${text}" is not a liquor ratio I can read: try 20:1 or 20`);
  });
  test('nothing is missing', () => {
    expect(liquor(' ')).toBe('missing: a liquor ratio is needed');
    expect(liquor('-20')).toBe('outOfRange: "-20" is less than nothing: a liquor ratio cannot be negative');
  });
});

describe('percentages and shares', () => {
  test.each([
    ['2', 20_000],
    ['2 percent', 20_000],
    ['2 per cent', 20_000],
    ['2% owf', 20_000],
    ['2 %  owg', 20_000],
    ['1 % w/v', 10_000],
    ['0.0001', 1],
  ])('%s is %d ppm', (text, ppm) => {
    expect(pct(text)).toBe(ppm);
  });
  test('what a percentage cannot be', () => {
    expect(pct('%')).toBe('missing: a percentage is needed');
    expect(pct('-2 %')).toBe('outOfRange: "-2 %" is less than nothing: a percentage cannot be negative');
    expect(pct('2 % of it')).toBe('unreadable: "2 % of it" is not a percentage I can read: try 2, 0.85 % or 2,5 %');
    expect(pct('two')).toMatch(/^unreadable/);
    expect(pct('0.00004')).toBe('outOfRange: "0.00004" is less than 0.0001 %, the smallest that is kept');
  });
  test.each([
    ['70/30', [70, 30]],
    ['70;30', [70, 30]],
    ['70,30', [70, 30]],
    ['60,5 39,5', [60.5, 39.5]],
    ['33.3/33.3/33.3', [33.3, 33.3, 33.3]],
    ['100', [100]],
    ['0/100', [0, 100]],
    ['1:2', [1, 2]],
    ['70 %: 30 %', [70, 30]],
  ])('%s are %j', (text, parts) => {
    expect(shares(text)).toEqual(parts);
  });
  test('what shares cannot be', () => {
    const none = (text: string): string =>
      `unreadable: "${text}" is not a set of shares I can read: try 70/30, 50 30 20 or 2:1`;
    expect(shares('')).toBe('missing: shares are needed');
    for (const text of ['70/-30', '- 70/30', '70/x', 'x/y', '0:0', ':']) expect(shares(text)).toBe(none(text));
    expect(shares(' 70/29.8 ')).toBe('mismatch: "70/29.8" adds to 99.8 %, not to 100 %: for parts write 70:29.8');
    // A tenth of a per cent, half of it a share: what two shares of one decimal may lose.
    expect(shares('70/29.9')).toEqual([70, 29.9]);
    expect(shares('50,30')).toMatch(/^mismatch|^unreadable/);
  });
});

describe('time spans', () => {
  test.each([
    ['90', 5400],
    ['90 min', 5400],
    ['1 h 30', 5400],
    ['1 h 30 min 15', 5415],
    ['2 days 3', 183_600],
    ['1 week 2', 777_600],
    ['1 h, 30 min', 5400],
    ['1 hour and 30 minutes', 5400],
    ['12:30', 45_000],
    ['10:00:05', 36_005],
    ['0:45', 2700],
    ['45 sec.', 45],
    ['1.5 h', 5400],
    ['½ day', 43_200],
  ])('%s is %d s', (text, seconds) => {
    expect(duration(text)).toBe(seconds);
  });
  test.each([
    '1 h 60',
    '1 day 24',
    '1 week 7',
    '30 min 2 h',
    '5 min 5 min',
    '45 s 30',
    '1:60',
    '1:30:60',
    '1:30 h',
    'x 1:30',
    '12 moons',
    'later',
  ])('%s is none', (text) => {
    expect(duration(text)).toBe(`unreadable: "${text}" is not a time span I can read: try 90 min, 2 h 30 or 1:30`);
  });
  test('12 is twelve of what is usual, and of nothing where nothing is', () => {
    expect(duration('12')).toBe(720);
    expect(readAs(() => q.durationSOf({ text: '12', defaultUnit: 'h', field }))).toBe(43_200);
    expect(readAs(() => q.durationSOf({ text: '12', field }))).toMatch(/^unreadable/);
    expect(duration('')).toBe('missing: a time span is needed');
    expect(duration('-5')).toBe('outOfRange: "-5" is less than nothing: a time span cannot be negative');
    for (const text of ['0.4 s', '0.005'])
      expect(duration(text)).toBe(`outOfRange: "${text}" is less than 1 s, the smallest that is kept`);
  });
});

describe('temperatures', () => {
  test.each([
    ['40', 40],
    ['40 °C', 40],
    ['40º', 40],
    ['40 deg', 40],
    ['40 degrees celsius', 40],
    ['-18', -18],
    ['- 18 C', -18],
    ['105 F', 40.5556],
    ['105 Fahrenheit', 40.5556],
    ['500', 500],
  ])('%s is %d °C', (text, c) => {
    expect(temp(text)).toBeCloseTo(c, 3);
  });
  test('what they cannot be', () => {
    const none = (text: string): string => `unreadable: "${text}" is not a temperature I can read: try 40 °C or 105 °F`;
    for (const text of ['warm', 'x 40', '40 K', '40 C now', '4 0']) expect(temp(text)).toBe(none(text));
    expect(temp(' ')).toBe('missing: a temperature is needed');
    expect(temp(' 501 ')).toBe('outOfRange: "501" is hotter than any dye room');
    expect(readAs(() => q.tempCOf({ text: '105', scale: 'F', field }))).toBeCloseTo(40.5556, 3);
  });
});

describe('money', () => {
  test.each([
    ['12.50', 'EUR', 1250],
    ['EUR 12.50', 'EUR', 1250],
    ['€ 1,250', 'EUR', 125_000],
    ['999,999', 'EUR', 99_999_900],
    ['1.5', 'EUR', 150],
    ['3', 'JPY', 3],
  ])('%s in %s is %d', (text, currency, minor) => {
    expect(money(text, currency)).toBe(minor);
  });
  test('what it cannot be', () => {
    const none = (text: string): string =>
      `unreadable: "${text}" is not an amount of money I can read: try 12.50 or 12.50 EUR`;
    for (const text of ['x5', '5x', '5 each', '12:50', '1/2']) expect(money(text)).toBe(none(text));
    expect(money('€')).toBe('missing: an amount of money is needed');
    expect(money('-3')).toBe('outOfRange: "-3" is less than nothing: an amount cannot be negative');
    expect(money(' 12.505 ')).toBe('unreadable: "12.505" has more decimals than EUR has');
    expect(money('0,500')).toBe('unreadable: "0,500" has more decimals than EUR has');
    expect(money('1,500', 'KWD')).toBe('unreadable: "1,500" can be read two ways: write 1500 or 1.500');
  });
});

describe('written', () => {
  test('masses, volumes and lengths change their unit where a person would, and show the decimals that were asked for', () => {
    const g = (massMg: number, decimals?: number) => q.massText({ massMg, system: 'metric', decimals });
    expect([
      g(999_999),
      g(1_000_000),
      g(-999_999),
      g(-1_000_000),
      g(12_340),
      g(12_340, 1),
      g(1_250_000, 1),
      g(5000, 2),
    ]).toEqual(['999.999 g', '1 kg', '-999.999 g', '-1 kg', '12.34 g', '12.3 g', '1.3 kg', '5.00 g']);
    const ml = (volumeUl: number, decimals?: number) => q.volumeText({ volumeUl, system: 'metric', decimals });
    expect([
      ml(999_999),
      ml(1_000_000),
      ml(-1_000_000),
      ml(6100),
      ml(6100, 2),
      ml(1_500_000, 2),
      ml(100_000, 0),
    ]).toEqual(['999.999 mL', '1 L', '-1 L', '6.1 mL', '6.10 mL', '1.50 L', '100 mL']);
    const cm = (lengthMm: number, decimals?: number) => q.lengthText({ lengthMm, system: 'metric', decimals });
    expect([cm(999), cm(1000), cm(-999), cm(1125), cm(500, 1), cm(1120, 2)]).toEqual([
      '99.9 cm',
      '1 m',
      '-99.9 cm',
      '1.125 m',
      '50.0 cm',
      '1.12 m',
    ]);
  });
  test('in the other system as pairs, with a sign before and nothing for nothing', () => {
    const oz = (massMg: number, decimals?: number) => q.massText({ massMg, system: 'US', decimals });
    expect([oz(453_592, 1), oz(-453_592, 1), oz(566_990, 1), oz(28_350, 2), oz(-28_350, 2), oz(0, 1)]).toEqual([
      '1 lb',
      '-1 lb',
      '1 lb 4.0 oz',
      '1.00 oz',
      '-1.00 oz',
      '0.0 oz',
    ]);
    expect(q.volumeText({ volumeUl: 3_785_412, system: 'US', decimals: 1 })).toBe('1 gal');
    expect(q.volumeText({ volumeUl: 59_147, system: 'US', decimals: 1 })).toBe('2.0 fl oz');
    expect(q.lengthText({ lengthMm: 1372, system: 'US', decimals: 0 })).toBe('1 yd 18 in');
    expect(q.lengthText({ lengthMm: 1118, system: 'US', decimals: 1 })).toBe('1 yd 8.0 in');
  });
  test('percentages, time spans, temperatures and money', () => {
    expect([q.pctText({ ppm: 25_000 }), q.pctText({ ppm: 25_000, decimals: 2 }), q.pctText({ ppm: 1 })]).toEqual([
      '2.5 %',
      '2.50 %',
      '0.0001 %',
    ]);
    const span = (durationS: number) => q.durationText({ durationS });
    expect([span(0), span(45), span(60), span(5400), span(108_000), span(-90), span(86_461)]).toEqual([
      '0 min',
      '45 s',
      '1 min',
      '1 h 30 min',
      '1 d 6 h',
      '-1 min 30 s',
      '1 d 1 min 1 s',
    ]);
    expect([
      q.tempText({ tempC: 40, scale: 'C' }),
      q.tempText({ tempC: 40, scale: 'F' }),
      q.tempText({ tempC: 40.55, scale: 'C', decimals: 2 }),
      q.tempText({ tempC: 40, scale: 'C', decimals: 1 }),
    ]).toEqual(['40 °C', '104 °F', '40.55 °C', '40.0 °C']);
    for (let twice = 0; twice < 2; twice++) {
      expect(q.moneyText({ costMinor: 125_050, currency: 'EUR', locale: 'en' })).toBe('€1,250.50');
      expect(q.moneyText({ costMinor: 1250, currency: 'JPY', locale: 'en' })).toBe('¥1,250');
      expect(q.moneyText({ costMinor: 1250, currency: 'KWD', locale: 'en' })).toMatch(/1\.250$/);
    }
  });
});
