import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CalcError } from '../../server/calc/calcError.ts';
import {
  arealMassGPerM2Of,
  concGPerLOf,
  durationSOf,
  durationText,
  lengthMmOf,
  lengthText,
  liquorRatioLPerKgOf,
  massMgOf,
  massText,
  moneyMinorOf,
  moneyText,
  numberOfText,
  pctPpmOf,
  pctText,
  sharePartsOf,
  tempCOf,
  tempText,
  volumeText,
  volumeUlOf,
} from '../../server/calc/quantity.ts';

const field = 'typed';

/** The message of a refusal, or what was read in spite of it. */
function messageOf(read: () => unknown): string {
  try {
    return `read as ${read()}`;
  } catch (error) {
    if (!(error instanceof CalcError)) throw error;
    expect(error.field).toBe(field);
    return error.message;
  }
}

/* Expected values by the exact pound, yard and gallon (NIST Handbook 44, Appendix C), worked out by hand. */
describe('mass as typed', () => {
  const mg = (text: string) => massMgOf({ text, defaultUnit: 'g', field });
  test.each([
    ['250', 250_000],
    ['250 g', 250_000],
    ['250g', 250_000],
    ['1.2 kg', 1_200_000],
    ['1,5 kg', 1_500_000],
    ['0,500 kg', 500_000],
    ['2.410 g', 2410],
    ['.5 g', 500],
    ['1 kg 200 g', 1_200_000],
    ['1 lb 4 oz', 566_990],
    ['1lb4oz', 566_990],
    ['1 lb, 4 oz', 566_990],
    ['1 LB. 4 OZ.', 566_990],
    ['1 1/2 lb', 680_389],
    ['1½ lb', 680_389],
    ['½ oz', 14_175],
    ['5 pounds 3 1/2 ounces', 2_367_185],
    ['1,234,567 mg', 1_234_567],
    ['1.234.567 mg', 1_234_567],
    ['1,500.5 g', 1_500_500],
    ['1.500,5 g', 1_500_500],
    ['2\u202f500 g', 2_500_000],
    ['1 t', 1_000_000_000],
    ['0', 0],
  ])('%s is %d mg', (text, expected) => {
    expect(mg(text)).toBe(expected);
  });

  test('says in words what it cannot read', () => {
    expect(messageOf(() => mg('12 stone'))).toBe('"12 stone" is not a mass I can read: try 250 g, 1.2 kg or 1 lb 4 oz');
    expect(messageOf(() => mg('1,500 g'))).toBe('"1,500 g" can be read two ways: write 1500 or 1.500');
    expect(messageOf(() => mg('2,410'))).toContain('two ways');
    expect(messageOf(() => mg('-5 g'))).toContain('less than nothing');
    expect(messageOf(() => mg(' '))).toBe('a mass is needed');
    expect(messageOf(() => mg('0.0001 g'))).toContain('less than 1 mg');
    expect(messageOf(() => massMgOf({ text: '250', field }))).toContain('is not a mass');
  });

  test.each([
    'g',
    '1 lb 4',
    '200 g 1 kg',
    '1 g 2 g',
    '2 500 g',
    '1e3 g',
    '1..2 g',
    '1/0 g',
    '1 ton',
    'NaN',
    'Infinity g',
    '12 g 3 cm',
    '0x10 g',
  ])('refuses %s rather than guess', (text) => {
    expect(messageOf(() => mg(text))).toMatch(/not a mass/);
  });

  test('never anything but a whole number or a refusal, whatever is typed', () => {
    fc.assert(
      fc.property(fc.oneof(fc.string(), fc.stringMatching(/^[0-9.,/ ½a-z-]{0,20}$/)), (text) => {
        try {
          expect(Number.isSafeInteger(mg(text))).toBe(true);
          expect(mg(text)).toBeGreaterThanOrEqual(0);
        } catch (error) {
          expect(error).toBeInstanceOf(CalcError);
        }
      }),
      { numRuns: 2000 },
    );
  });
});

describe('volume, length, cloth weight and concentration as typed', () => {
  test.each([
    ['2½ cups', 591_471],
    ['1/2 cup', 118_294],
    ['1 gal 2 qt', 5_678_118],
    ['1 US gal', 3_785_412],
    ['2 imp pints', 1_136_523],
    ['1 UK gallon', 4_546_090],
    ['3 tbsp', 44_360],
    ['1 fl. oz.', 29_574],
    ['1 metric cup', 250_000],
    ['1.5 L', 1_500_000],
    ['250ml', 250_000],
  ])('%s is %d µL', (text, expected) => {
    expect(volumeUlOf({ text, volumeSystem: 'US', field })).toBe(expected);
  });

  test('a bare gallon is the studio’s own', () => {
    expect(volumeUlOf({ text: '1 gal', volumeSystem: 'imperial', field })).toBe(4_546_090);
    expect(messageOf(() => volumeUlOf({ text: '1 cup', volumeSystem: 'imperial', field }))).toContain(
      'is not a volume',
    );
  });

  test.each([
    ['1.5 yd', 1372],
    ['112 cm', 1120],
    ['2 m 40 cm', 2400],
    ['5 ft 3 in', 1600],
    ['5\'3"', 1600],
    ['44"', 1118],
  ])('%s is %d mm', (text, expected) => {
    expect(lengthMmOf({ text, field })).toBe(expected);
  });

  test.each([
    ['150 g/m²', 150],
    ['150 gsm', 150],
    ['5 oz/yd²', 169.5287],
    ['5 oz per sq. yd.', 169.5287],
    ['16 momme', 69.44],
  ])('%s is %d g/m²', (text, expected) => {
    expect(arealMassGPerM2Of({ text, field })).toBeCloseTo(expected, 4);
  });

  test.each(['7 oz', '7 oz/yd', '14 oz per linear yard'])('%s may be a running yard, and is refused', (text) => {
    expect(messageOf(() => arealMassGPerM2Of({ text, field }))).toContain('per square yard or per running yard');
  });

  test('concentrations', () => {
    const read = (text: string) => concGPerLOf({ text, defaultUnit: 'gPerL', volumeSystem: 'US', field });
    expect(read('50 g/L')).toBe(50);
    expect(read('50')).toBe(50);
    expect(read('20 %')).toBe(200);
    expect(read('1 oz/gal')).toBeCloseTo(7.489152, 6);
    expect(messageOf(() => read('1 cup/gal'))).toContain('is not a concentration');
  });

  test('a liquor ratio reads alike in both orders', () => {
    const read = (text: string) => liquorRatioLPerKgOf({ text, field });
    expect([read('20:1'), read('1:20'), read('20'), read('20 L/kg')]).toEqual([20, 20, 20, 20]);
    expect(messageOf(() => read('3:4'))).toContain('is not a liquor ratio');
  });

  test('plain numbers', () => {
    expect(numberOfText({ text: '1 1/2', field })).toBe(1.5);
    expect(messageOf(() => numberOfText({ text: 'some', field }))).toContain('is not a number');
  });
});

describe('percentages, shares, durations, temperatures and money as typed', () => {
  test.each([
    ['2', 20_000],
    ['2 %', 20_000],
    ['2,5%', 25_000],
    ['½ %', 5000],
    ['0.85 % owg', 8500],
  ])('%s is %d ppm', (text, expected) => {
    expect(pctPpmOf({ text, field })).toBe(expected);
  });

  test.each([
    ['70/30', [70, 30]],
    ['50, 30, 20', [50, 30, 20]],
    ['50,30,20', [50, 30, 20]],
    ['50 30 20', [50, 30, 20]],
    ['70 % + 30 %', [70, 30]],
    ['33.3 33.3 33.3', [33.3, 33.3, 33.3]],
    ['7:3', [7, 3]],
    ['2:1:1', [2, 1, 1]],
  ])('%s are parts %j', (text, expected) => {
    expect(sharePartsOf({ text, field })).toEqual(expected);
  });
  test('percentages that do not add up are no parts', () => {
    expect(messageOf(() => sharePartsOf({ text: '70/20', field }))).toBe(
      '"70/20" adds to 90 %, not to 100 %: for parts write 70:20',
    );
  });

  test.each([
    ['90 min', 5400],
    ['90', 5400],
    ['2 h 30', 9000],
    ['2h30m', 9000],
    ['1:30', 5400],
    ['0:01:30', 90],
    ['1.5 h', 5400],
    ['½ h', 1800],
    ['1 day 6 hours', 108_000],
    ['45s', 45],
  ])('%s is %d s', (text, expected) => {
    expect(durationSOf({ text, defaultUnit: 'min', field })).toBe(expected);
  });
  test.each(['2 h 70', '30 min 2 h', 'soon', '1:75'])('%s is no time span', (text) => {
    expect(messageOf(() => durationSOf({ text, defaultUnit: 'min', field }))).toContain('is not a time span');
  });

  test.each([
    ['40', 40],
    ['40 C', 40],
    ['40 °C', 40],
    ['105 F', 40.56],
    ['200 °F', 93.33],
    ['-18 °C', -18],
  ])('%s is %d °C', (text, expected) => {
    expect(tempCOf({ text, scale: 'C', field })).toBeCloseTo(expected, 2);
  });

  test.each([
    ['12.50', 'EUR', 1250],
    ['12,50', 'EUR', 1250],
    ['€12.50', 'EUR', 1250],
    ['12.50 EUR', 'EUR', 1250],
    ['1,250.00', 'USD', 125_000],
    ['$1,250', 'USD', 125_000],
    ['1.250,00 €', 'EUR', 125_000],
    ['1,500', 'JPY', 1500],
    ['1.234', 'KWD', 1234],
  ])('%s in %s is %d', (text, currency, expected) => {
    expect(moneyMinorOf({ text, currency, field })).toBe(expected);
  });
  test.each([
    ['12.505', 'EUR', 'more decimals'],
    ['12.5', 'JPY', 'more decimals'],
    ['£3', 'EUR', 'is not an amount'],
    ['1,500', 'KWD', 'two ways'],
    ['-3', 'EUR', 'less than nothing'],
  ])('%s in %s is refused', (text, currency, words) => {
    expect(messageOf(() => moneyMinorOf({ text, currency, field }))).toContain(words);
  });
});

describe('what is written reads back as the same', () => {
  const system = fc.constantFrom('metric' as const, 'US' as const);
  const upToATonne = fc.oneof(fc.integer({ min: 0, max: 1_000_000_000 }), fc.integer({ min: 0, max: 5000 }));

  test('mass', () => {
    fc.assert(
      fc.property(upToATonne, system, (massMg, unitSystem) => {
        expect(massMgOf({ text: massText({ massMg, system: unitSystem }), field })).toBe(massMg);
      }),
      { numRuns: 1000 },
    );
  });
  test('volume', () => {
    fc.assert(
      fc.property(upToATonne, system, (volumeUl, unitSystem) => {
        expect(volumeUlOf({ text: volumeText({ volumeUl, system: unitSystem }), volumeSystem: 'US', field })).toBe(
          volumeUl,
        );
      }),
      { numRuns: 1000 },
    );
  });
  test('length', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 10_000_000 }), system, (lengthMm, unitSystem) => {
        expect(lengthMmOf({ text: lengthText({ lengthMm, system: unitSystem }), field })).toBe(lengthMm);
      }),
      { numRuns: 1000 },
    );
  });
  test('percentage', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 10_000_000 }), (ppm) => {
        expect(pctPpmOf({ text: pctText({ ppm }), field })).toBe(ppm);
      }),
    );
  });
  test('duration', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 10_000_000 }), (durationS) => {
        expect(durationSOf({ text: durationText({ durationS }), field })).toBe(durationS);
      }),
    );
  });
  test('money', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 0, max: 1_000_000_000 }),
        fc.constantFrom('EUR', 'USD', 'GBP', 'JPY', 'CHF'),
        (costMinor, currency) => {
          expect(moneyMinorOf({ text: moneyText({ costMinor, currency, locale: 'en' }), currency, field })).toBe(
            costMinor,
          );
        },
      ),
    );
  });
  test('temperature in tenths', () => {
    fc.assert(
      fc.property(fc.integer({ min: -200, max: 1300 }), (tenths) => {
        expect(tempCOf({ text: tempText({ tempC: tenths / 10, scale: 'C' }), scale: 'F', field })).toBeCloseTo(
          tenths / 10,
          9,
        );
      }),
    );
  });
});

describe('shown to fixed decimals', () => {
  test('a scale of 0.01 g', () => {
    expect(massText({ massMg: 2400, system: 'metric', decimals: 2 })).toBe('2.40 g');
    expect(massText({ massMg: 1_250_000, system: 'metric' })).toBe('1.25 kg');
  });
  test('15.99 oz never shows as 16 oz', () => {
    expect(massText({ massMg: 453_590, system: 'US', decimals: 1 })).toBe('1 lb');
    expect(massText({ massMg: 566_990, system: 'US', decimals: 1 })).toBe('1 lb 4.0 oz');
  });
});
