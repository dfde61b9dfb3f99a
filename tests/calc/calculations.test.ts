import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { ZodError } from 'zod';
import { CalcError } from '../../server/calc/calcError.ts';
import { type AnyCalculation, fieldsOf } from '../../server/calculators/calculation.ts';
import { CALCULATIONS, type CalculationName, FAMILIES } from '../../server/calculators/table.ts';
import { AUXILIARIES_BY_DEPTH, BATH_AND_GOODS_ARITHMETIC } from '../reference/bathAndGoodsArithmetic.ts';
import { CIEDE2000_PAIRS } from '../reference/ciede2000.ts';
import { TRADE_ARITHMETIC } from '../reference/tradeArithmetic.ts';
import { askFunction, printedAnswer } from '../support/workedInputs.ts';

const PUBLISHED = [...TRADE_ARITHMETIC, ...BATH_AND_GOODS_ARITHMETIC];
const TABLE: readonly (readonly [string, AnyCalculation])[] = Object.entries(CALCULATIONS);

describe('published figures of the trade, by calculation', () => {
  test.each(PUBLISHED)('$id $calculation $inputs → $expected', async (row) => {
    const values = await printedAnswer(row, askFunction);
    const expected = [row.expected].flat();
    expect(values).toHaveLength(expected.length);
    expected.forEach((one, index) => {
      expect(Math.abs((values[index] ?? Number.NaN) - one), `${values[index]} against ${one}`).toBeLessThanOrEqual(
        row.tolerance * (1 + 1e-9),
      );
    });
  });

  test.each(AUXILIARIES_BY_DEPTH)('$id $auxiliary for $inputs → $low–$high', ({ inputs, auxiliary, low, high }) => {
    const { lines } = CALCULATIONS['auxiliaries-at-depth'].answer(inputs);
    expect(lines.find((line) => line.auxiliary === auxiliary)).toEqual({ auxiliary, low, high });
  });

  const lab = ([l, a, b]: readonly [number, number, number]) => ({ l, a, b });
  test.each(CIEDE2000_PAIRS)('CIEDE2000 pair %# of the published table', ({ standard, sample, deltaE2000 }) => {
    const answer = CALCULATIONS['delta-e-2000'].answer({ standard: lab(standard), sample: lab(sample) });
    expect(answer.deltaE2000).toBeCloseTo(deltaE2000, 4);
  });
  test('CMC(2:1) of white to black, B. Lindbloom', () => {
    const colours = { standard: lab([100, 0, 0]), sample: lab([0, 0, 0]) };
    const answer = CALCULATIONS['delta-e-cmc'].answer({ ...colours, lightnessFactor: 2, chromaFactor: 1 });
    expect(answer.deltaECmc).toBeCloseTo(33.740085, 4);
  });
  test('grey scale grades 4 and 3, EN 20105-A02:1994', () => {
    expect(CALCULATIONS['grey-scale-step'].answer({ grade: '4' }).deltaE76).toBe(1.7);
    expect(CALCULATIONS['grey-scale-step'].answer({ grade: '3' }).deltaE76).toBe(3.4);
  });
});

/* Figures for the calculations that nothing published is at hand for: definitions with round numbers, worked out by hand. */
const BY_HAND: readonly (readonly [CalculationName, object, object])[] = [
  ['yarn-mass', { lengthM: 400, tex: 250 }, { massG: 100 }],
  ['put-ups-mass', { count: 12, putUpMassG: 50 }, { massG: 600 }],
  ['linear-mass-of-areal', { arealMassGPerM2: 125, widthM: 1.6 }, { linearMassGPerM: 200 }],
  // 150 / (0.5 · 0.75)
  [
    'areal-mass-after-wash',
    { arealMassGPerM2: 150, lengthShrinkagePct: 50, widthShrinkagePct: 25 },
    { arealMassGPerM2: 400 },
  ],
  ['finished-length', { cutLengthM: 2, shrinkagePct: 6 }, { finishedLengthM: 1.88 }],
  // 50 g hold no water, 50 g hold 10: 10 g of water on 90 g
  [
    'blend-regain-of-conditioned',
    {
      parts: [
        { conditionedPct: 50, regainPct: 0 },
        { conditionedPct: 50, regainPct: 25 },
      ],
    },
    { regainPct: 100 / 9 },
  ],
  // 20 g of water on 80 g
  ['regain-of-moisture-content', { contentPct: 20 }, { regainPct: 25 }],
  ['oven-dry-mass-of-regain', { massG: 1170, regainPct: 17 }, { ovenDryMassG: 1000 }],
  // 260 / 1.3 = 200 g oven-dry, · 1.085
  ['damp-goods', { dampMassG: 260, actualRegainPct: 30, regainPct: 8.5 }, { goodsDryMassG: 217 }],
  [
    'damp-goods-by-sample',
    { dampMassG: 260, sampleDampMassG: 26, sampleDryMassG: 20, sampleDriedTo: 'airDry' },
    { goodsDryMassG: 200 },
  ],
  ['component-masses-of-own-depths', { goodsDryMassG: 200, depthsPct: [0.85, 0.1] }, { massesG: [1.7, 0.2] }],
  ['strength-corrected-mass', { dyeMassG: 2, strengthPct: 80 }, { massG: 2.5 }],
  ['scaled-masses', { massesG: [0.1, 0.06], fromGoodsDryMassG: 10, toGoodsDryMassG: 400 }, { massesG: [4, 2.4] }],
  ['stock-volume-of-mass', { massG: 0.1, stockStrengthPct: 2 }, { stockVolumeMl: 5 }],
  ['stock-mass', { volumeMl: 500, stockStrengthPct: 2 }, { massG: 10 }],
  ['stock-left', { madeVolumeMl: 250, usedVolumeMl: 180, stockStrengthPct: 2 }, { volumeMl: 70, massG: 1.4 }],
  ['diluted-volume', { fromStrengthPct: 2, toStrengthPct: 0.1, stockMl: 10 }, { toVolumeMl: 200, waterMl: 190 }],
  ['diluted-strength', { fromStrengthPct: 2, stockMl: 10, toVolumeMl: 200 }, { toStrengthPct: 0.1 }],
  ['undiluted-strength', { toStrengthPct: 0.1, stockMl: 10, toVolumeMl: 200 }, { fromStrengthPct: 2 }],
  // 25 mL of 0.01 % draw 2.5 of 0.1 %; 42.5 mL of 0.1 % draw 4.25 of 1 %
  [
    'dilution-series',
    {
      fromStrengthPct: 1,
      steps: [
        { strengthPct: 0.1, wantedMl: 40 },
        { strengthPct: 0.01, wantedMl: 25 },
      ],
    },
    {
      steps: [
        { strengthPct: 0.1, drawnMl: 4.25, waterMl: 38.25, madeMl: 42.5, wantedMl: 40 },
        { strengthPct: 0.01, drawnMl: 2.5, waterMl: 22.5, madeMl: 25, wantedMl: 25 },
      ],
    },
  ],
  ['conc-of-owg', { owgPct: 2.5, liquorRatioLPerKg: 5 }, { concGPerL: 5 }],
  ['acid-swap', { volumeMl: 10, fromStrengthPct: 56, toStrengthPct: 5 }, { volumeMl: 112, waterLessMl: 102 }],
  // 2 g left in 10 L
  ['dye-left', { dyeMassG: 10, exhaustionPct: 80, bathVolumeMl: 10_000 }, { concGPerL: 0.2 }],
  // atomic weights as in bath.ts: (105.988 + 10 · 18.015) / 105.988
  ['hydrate-swap-mass', { massG: 105.988, fromFormula: 'Na2CO3', toFormula: 'Na2CO3.10H2O' }, { massG: 286.138 }],
  ['soda-ash-bulk-density', { grade: 'dense' }, { lowKgPerM3: 1000, highKgPerM3: 1050 }],
  [
    'rounded-weighing',
    { massMg: 2504, readabilityMg: 10 },
    { exactMg: 2504, roundedMg: 2500, roundingErrorPct: -400 / 2504, halfDigitErrorPct: 500 / 2504 },
  ],
  ['fixation-time', { dyeClass: 'reactive', procedure: 'immersion', tempC: 15 }, { kind: 'notKnown' }],
  [
    'fixation-time',
    { dyeClass: 'acid', procedure: 'boil', tempC: 98 },
    { kind: 'published', minimumS: 1200, source: 'J. Cowern, wool dye method: 20 min held at the boil' },
  ],
  // 3, 4 and 12 make 13
  ['delta-e-76', { standard: { l: 50, a: 1, b: -2 }, sample: { l: 53, a: 5, b: 10 } }, { deltaE76: 13 }],
  ['overhead-rate-on-labour-cost', { overheadsMinor: [30, 20], labourCostMinor: 25 }, { overheadFactor: 2 }],
  ['margin-of-markup', { markupPct: 100 }, { marginPct: 50 }],
  ['markup-of-margin', { marginPct: 20 }, { markupPct: 25 }],
  ['pick-up', { wetMassG: 180, dryMassG: 100 }, { pickUpPct: 80 }],
  // 1 kg brings 0.6 L and carries 1 L of the 20.6 L: 1000 g in 20.6 L are 48.54 g/L, 951.5 g stay in 19.6 L
  [
    'bath-after-lot',
    {
      volumeMl: 20_000,
      concGPerL: 50,
      goodsDryMassG: 1000,
      pickUpInPct: 60,
      pickUpOutPct: 100,
      takenUpG: 0,
      evaporatedMl: 0,
    },
    { volumeMl: 19_600, concGPerL: 1000 / 20.6, carriedMl: 1000, carriedG: 1000 / 20.6 },
  ],
  // 1000 − 48.5437 · 19.6 = 48.543 g; as stock of 200 g/L 242.7 mL, the rest water
  [
    'bath-top-up',
    { volumeMl: 19_600, concGPerL: 1000 / 20.6, toVolumeMl: 20_000, toConcGPerL: 50, stockGPerL: 200 },
    { massG: 1000 - 19_600 / 20.6, stockMl: (1000 - 19_600 / 20.6) * 5, waterMl: 400 - (1000 - 19_600 / 20.6) * 5 },
  ],
  // 0.95 · 0.95
  ['conc-after-water', { concGPerL: 40, carriedMl: 1000, volumeMl: 20_000, lots: 2 }, { concGPerL: 36.1 }],
  // 150 in, 10 carried out, between 48 and 111 taken
  ['bath-residue', { dosesG: [100, 50], carriedG: 10, takenLowG: 48, takenHighG: 111 }, { lowG: 29, highG: 92 }],
  ['bath-dose', { goodsDryMassG: 1000, owgPct: 10, residueG: 40 }, { fullG: 100, netG: 60 }],
  // 150 g on 3 kg are 5 %; 30 g left are 1 % on the next 3 kg
  ['next-depth', { doseG: 150, onFibreG: 120, nextGoodsDryMassG: 3000 }, { depthPct: 1 }],
  ['depth-series', { firstDepthPct: 4, lastDepthPct: 0.5, pieces: 4, steps: 'factor' }, { depthsPct: [4, 2, 1, 0.5] }],
  ['depth-series', { firstDepthPct: 4, lastDepthPct: 1, pieces: 4, steps: 'amount' }, { depthsPct: [4, 3, 2, 1] }],
  // 2 · 2 % of 100 g, halved three times
  [
    'pour-and-refill',
    { firstDepthPct: 2, pieceDryMassG: 100, pourMl: 200, pieces: 3 },
    { jugMl: 400, startMassG: 4, depthsPct: [2, 1, 0.5], leftMassG: 0.5 },
  ],
  ['series-volumes', { pieceDryMassG: 20, depthsPct: [1, 0.5], stockStrengthPct: 1 }, { volumesMl: [20, 10] }],
  // 100 and 120 of 220 parts of 4.4 g
  [
    'shared-bath',
    {
      dyeMassG: 4.4,
      goods: [
        { dryMassG: 100, uptakeFactor: 1 },
        { dryMassG: 100, uptakeFactor: 1.2 },
      ],
    },
    { massesG: [2, 2.4], depthsPct: [2, 2.4] },
  ],
  // guidance on Regulation (EU) 1007/2011: cotton 80 %, polyester 15 %, nylon 5 %
  [
    'label-order',
    {
      fibres: [
        { name: 'cotton', pct: 80 },
        { name: 'nylon', pct: 5 },
        { name: 'polyester', pct: 15 },
      ],
    },
    {
      fibres: [
        { name: 'cotton', pct: 80 },
        { name: 'polyester', pct: 15 },
        { name: 'nylon', pct: 5 },
      ],
    },
  ],
];
/** Held against published tables of their own, above. */
const BY_TABLE: readonly CalculationName[] = ['delta-e-2000', 'delta-e-cmc', 'grey-scale-step', 'auxiliaries-at-depth'];

describe('figures worked out by hand', () => {
  const near = (value: unknown): unknown => {
    if (typeof value === 'number') return expect.closeTo(value, 9);
    if (Array.isArray(value)) return value.map(near);
    if (typeof value !== 'object' || value === null) return value;
    return Object.fromEntries(Object.entries(value).map(([key, one]) => [key, near(one)]));
  };
  test.each(BY_HAND)('%s %j → %j', (name, inputs, answer) => {
    expect(CALCULATIONS[name].answer(inputs)).toEqual(near(answer));
  });

  test('every calculation is held against a figure that is not its own', () => {
    const held = [...PUBLISHED.map((row) => row.calculation), ...BY_HAND.map(([name]) => name), ...BY_TABLE];
    expect(Object.keys(CALCULATIONS).filter((name) => !held.some((one) => one === name))).toEqual([]);
  });
});

/* Relations, not figures: what one calculation makes of an amount, its counterpart takes back. */
describe('opposite directions', () => {
  const amount = fc.double({ min: 1e-3, max: 1e5, noNaN: true });
  const pct = fc.double({ min: 0.01, max: 95, noNaN: true });
  const near = (value: number, wanted: number) => expect(Math.abs(value / wanted - 1)).toBeLessThan(1e-9);

  test('undo each other', () => {
    fc.assert(
      fc.property(amount, amount, pct, pct, (a, b, p, q) => {
        const c = CALCULATIONS;
        const there = c['unit-conversion'].calculate({ value: a, from: 'NeCotton', to: 'tex' });
        near(c['unit-conversion'].calculate({ ...there, from: 'tex', to: 'NeCotton' }).value, a);
        near(c['yarn-mass'].calculate({ ...c['yarn-length'].calculate({ massG: a, tex: b }), tex: b }).massG, a);
        const areal = c['areal-mass-of-linear'].calculate({ linearMassGPerM: a, widthM: b });
        near(c['linear-mass-of-areal'].calculate({ ...areal, widthM: b }).linearMassGPerM, a);
        const cut = c['cut-length'].calculate({ finishedLengthM: a, shrinkagePct: p });
        near(c['finished-length'].calculate({ ...cut, shrinkagePct: p }).finishedLengthM, a);
        near(c.shrinkage.calculate({ beforeM: cut.cutLengthM, afterM: a }).shrinkagePct, p);
        const content = c['moisture-content-of-regain'].calculate({ regainPct: p });
        near(c['regain-of-moisture-content'].calculate(content).regainPct, p);
        const conditioned = c['conditioned-mass'].calculate({ ovenDryMassG: a, regainPct: p }).conditionedMassG;
        near(c['oven-dry-mass-of-regain'].calculate({ massG: conditioned, regainPct: p }).ovenDryMassG, a);
        near(c['oven-dry-mass-of-content'].calculate({ massG: conditioned, ...content }).ovenDryMassG, a);
        const owg = c['owg-of-conc'].calculate({ concGPerL: a, liquorRatioLPerKg: b });
        near(c['conc-of-owg'].calculate({ ...owg, liquorRatioLPerKg: b }).concGPerL, a);
        const liquor = c['liquor-volume'].calculate({ goodsDryMassG: a, liquorRatioLPerKg: b });
        near(c['liquor-ratio'].calculate({ ...liquor, goodsDryMassG: a }).liquorRatioLPerKg, b);
        const auxiliary = c['auxiliary-mass-of-owg'].calculate({ goodsDryMassG: a, owgPct: p });
        near(c['owg-of-rate'].calculate({ ...auxiliary, goodsDryMassG: a }).owgPct, p);
        near(c['markup-of-margin'].calculate(c['margin-of-markup'].calculate({ markupPct: p })).markupPct, p);
        const [toStrengthPct, fromStrengthPct] = [Math.min(p, q), Math.max(p, q)];
        const { stockMl } = c.dilution.calculate({ fromStrengthPct, toStrengthPct, toVolumeMl: a });
        near(c['diluted-volume'].calculate({ fromStrengthPct, toStrengthPct, stockMl }).toVolumeMl, a);
      }),
    );
  });

  test('a correction that is left out of a mass of dye changes nothing, and each one given scales it', () => {
    const massOf = (more: object) =>
      CALCULATIONS['dye-mass'].answer({ goodsDryMassG: 100, depthPct: 2, ...more }).massG;
    expect(massOf({})).toBe(
      massOf({ sharePct: 100, coverageFactor: 1, lossFactor: 0, uptakeFactor: 1, strengthPct: 100 }),
    );
    expect(massOf({ lossFactor: 0.1 })).toBeCloseTo(2.2, 12);
    expect(massOf({ coverageFactor: 0.25, uptakeFactor: 1.2 })).toBeCloseTo(0.6, 12);
    expect(massOf({ sharePct: 30, strengthPct: 80 })).toBeCloseTo(0.75, 12);
  });

  test('a line that is not weighed yet takes the factor of the one that was over-weighed', () => {
    const lines = [
      { plannedMassG: 4, actualMassG: 3.9 },
      { plannedMassG: 2.4, actualMassG: 2.52 },
      { plannedMassG: 1 },
    ];
    const { factor, targetMassesG } = CALCULATIONS['over-weighed-targets'].answer({ lines });
    expect([factor, ...targetMassesG]).toEqual([1.05, 4.2, 2.52, 1.05].map((value) => expect.closeTo(value, 12)));
  });
});

describe('the table', () => {
  test('has every calculation of its families once', () => {
    const names = FAMILIES.flatMap(({ calculations }) => Object.keys(calculations));
    expect([...new Set(names)].sort()).toEqual(names.sort());
    expect(names).toEqual(Object.keys(CALCULATIONS).sort());
  });

  test.each(TABLE)('%s answers its example, whose numbers stay what they are when they are read twice', (_, one) => {
    const read = one.input.parse(one.example);
    expect(one.input.parse(read)).toEqual(read);
    expect(one.output.parse(one.answer(one.example))).toBeDefined();
  });

  test.each(TABLE)('%s has a label for every field, and the unit that its name ends in', (_, { input, output }) => {
    const endings: readonly [RegExp, RegExp][] = [
      [/[a-z]PerHour$/, /\/h$/],
      [/GPerM2$/, /^g\/m²$/],
      [/KgPerM3$/, /^kg\/m³$/],
      [/LPerKg$/, /^L\/kg$/],
      [/GPerL$/, /^g\/L$/],
      [/GPerM$/, /^g\/m$/],
      [/Pct$/, /^%( w\/v)?$/],
      [/[a-z]Mg$/, /^mg$/],
      [/[a-z]G$/, /^g$/],
      [/[a-z]Ml$/, /^mL$/],
      [/[a-z]M$/, /^m$/],
      [/^tex$/, /^tex$/],
      [/TempC$|^tempC$/, /^°C$/],
      [/[a-z]S$/, /^s$/],
      [/Hours$/, /^h$/],
      [/Minor$/, /^minor units$/],
      [/KgPerL$/, /^kg\/L$/],
      [/MgPerL$/, /^mg\/L$/],
      [/[a-z]In$/, /^in$/],
      [/[a-z]Cm$/, /^cm$/],
      [/Amounts?$/, /^currency$/],
      [/^pct$/, /^%$/],
    ];
    /** Plain numbers and words: a ratio, a count, a name, or an amount whose unit another field says. */
    const bare =
      /^(value|from|to|system|singleCount|plies|count|parts|lines|layers|holdings|steps|quantity|grade|rule|kind|source|dyeClass|procedure|sampleDriedTo|fromFormula|toFormula|\w*[fF]actor|l|a|b|standard|sample|deltaE\w+|tolerance|table|basis|auxiliary|low|high|notSaid|lots|rinses|uses|takenShare|alkali|reducer|scheme|word|pieces|goods|fraction|currency|rounding|cut|fibres|name)$/;
    const check = ({
      name,
      label,
      unit,
      fields,
    }:
      | ReturnType<typeof fieldsOf>[number]
      | { name: string; label: string; unit: string | null; fields?: undefined }): void => {
      expect(label, name).not.toBe(name);
      const ending = endings.find(([pattern]) => pattern.test(name));
      if (ending) expect(unit, name).toMatch(ending[1]);
      else expect([name, unit]).toEqual([expect.stringMatching(bare), null]);
      fields?.forEach(check);
    };
    [...fieldsOf(input, 'input'), ...fieldsOf(output, 'output')].forEach(check);
  });

  test('says formula and source as the comments of the calculations do', () => {
    const folder = join(import.meta.dirname, '../../server/calc');
    const comments = readdirSync(folder, { recursive: true, encoding: 'utf8' })
      .filter((file) => file.endsWith('.ts'))
      .map((file) => readFileSync(join(folder, file), 'utf8').replace(/\s*\n \*\s+/g, ' '))
      .join('\n')
      .replace(/ {2,}/g, ' ');
    for (const [name, { formula, source }] of TABLE) {
      for (const line of formula?.split('\n') ?? []) expect(comments, name).toContain(line);
      if (source !== undefined) expect(comments, name).toContain(source);
    }
  });
});

describe('a calculation refuses', () => {
  const refusal = (name: CalculationName, given: unknown): string => {
    try {
      CALCULATIONS[name].answer(given);
    } catch (error) {
      if (error instanceof CalcError) return `${error.code} ${error.field}`;
      if (error instanceof ZodError) {
        return error.issues.map((issue) => `${issue.path.join('.')}: ${issue.message}`).join(' ');
      }
      throw error;
    }
    return 'nothing';
  };

  test.each<[CalculationName, unknown, string]>([
    ['scoop-mass', { volumeMl: 237 }, 'bulkDensityKgPerM3: This is needed.'],
    ['dye-mass', { goodsDryMassG: 100 }, 'depthPct: This is needed.'],
    ['dye-mass', { goodsDryMassG: 'a lot', depthPct: 2 }, 'goodsDryMassG: This must be a number.'],
    ['dye-mass', { goodsDryMassG: -1, depthPct: 2 }, 'goodsDryMassG: This must be more than 0.'],
    ['dye-mass', { goodsDryMassG: 1, depthPct: 2, strengthPct: 0 }, 'strengthPct: This must be more than 0.'],
    ['dye-mass', [1, 2], expect.stringContaining('This must be a JSON object with goodsDryMassG, depthPct')],
    [
      'dye-mass',
      { goodsDryMassG: 1, depthPct: 2, mood: 3 },
      expect.stringContaining('mood is not one of goodsDryMassG'),
    ],
    ['dye-mass', { goodsG: 1, depthPct: 2 }, expect.stringContaining('goodsG is not one of goodsDryMassG')],
    ['dye-mass', { goodsDryMassG: 1e300, depthPct: 1e300 }, 'outOfRange '],
    ['unit-conversion', { value: 1, from: 'g', to: 'm' }, expect.stringContaining('to: This must be one of ug, mg, g')],
    ['unit-conversion', { value: 1, from: 'ozPerLinearYard', to: 'gPerM2' }, expect.stringContaining('from must be')],
    ['unit-conversion', { value: 0, from: 'Nm', to: 'tex' }, 'outOfRange value'],
    ['unit-conversion', { value: -300, from: 'degC', to: 'degF' }, 'outOfRange value'],
    ['plied-yarn-tex', { system: 'Nm', singleCount: 30, plies: 1.5 }, 'plies: This must be a whole number.'],
    ['make-up-water', { liquorVolumeMl: 50, additionsMl: [40, 20] }, 'outOfRange additionsMl'],
    ['make-up-water', { liquorVolumeMl: 50, additionsMl: 'none' }, 'additionsMl: This must be a list.'],
    ['hydrate-factor', { fromFormula: 'Na2CO3', toFormula: 'NaHCO3' }, 'mismatch toFormula'],
    ['hydrate-factor', { fromFormula: 'Na2CO3', toFormula: 'washing soda' }, 'unreadable toFormula'],
    ['component-masses', { goodsDryMassG: 400, depthPct: 2, sharesPct: [50, 30] }, 'mismatch sharesPct'],
    ['dilution', { fromStrengthPct: 1, toStrengthPct: 2, toVolumeMl: 100 }, 'mismatch toStrengthPct'],
    ['diluted-strength', { fromStrengthPct: 1, stockMl: 100, toVolumeMl: 10 }, 'mismatch toVolumeMl'],
    ['exhaustion', { startGPerL: 0.1, endGPerL: 1 }, 'mismatch endGPerL'],
    ['grey-scale-step', { grade: '7' }, expect.stringContaining('grade: This must be one of 5, 4-5')],
    ['delta-e-2000', { standard: { l: 50, a: 1 }, sample: { l: 50, a: 0, b: 0 } }, 'standard.b: This is needed.'],
    ['fifo-issue', { layers: [{ quantity: 100, unitCostMinor: 4 }], quantity: 150 }, 'mismatch quantity'],
    ['damp-goods-by-sample', { dampMassG: 260 }, expect.stringContaining('sampleDriedTo must be given')],
  ])('%s %j: %s', (name, given, expected) => {
    expect(refusal(name, given)).toEqual(expected);
  });

  test('without a default for a judgement: the weights of CMC(l:c), the rule of a smallest mass, how a sample was dried', () => {
    const without = (name: CalculationName, field: string) => {
      const example: object = CALCULATIONS[name].example;
      return refusal(name, Object.fromEntries(Object.entries(example).filter(([key]) => key !== field)));
    };
    expect(without('delta-e-cmc', 'lightnessFactor')).toBe('lightnessFactor: This is needed.');
    expect(without('delta-e-cmc', 'chromaFactor')).toBe('chromaFactor: This is needed.');
    expect(without('minimum-mass-of-readability', 'rule')).toBe('rule: This is needed.');
    expect(without('damp-goods-by-sample', 'sampleDriedTo')).toContain('sampleDriedTo must be given');
  });

  /** The example with one of its numbers, however deep, put in another's place. */
  const withNumber = (value: unknown, at: { left: number }, number: number): unknown => {
    if (typeof value === 'number') {
      at.left -= 1;
      return at.left === -1 ? number : value;
    }
    if (Array.isArray(value)) return value.map((one) => withNumber(one, at, number));
    if (typeof value !== 'object' || value === null) return value;
    return Object.fromEntries(Object.entries(value).map(([key, one]) => [key, withNumber(one, at, number)]));
  };

  test.each(TABLE)('%s: whatever number stands in it, it answers numbers or names one of its fields', (_, one) => {
    const text = JSON.stringify(fieldsOf(one.input, 'input'));
    fc.assert(
      fc.property(
        fc.nat(6),
        fc.oneof(fc.double(), fc.constantFrom(0, -1, 1e308, 1e-308, 1e15, 100, 101)),
        (place, number) => {
          const given = withNumber(one.example, { left: place }, number);
          try {
            expect(JSON.stringify(one.answer(given))).not.toMatch(/null/);
          } catch (error) {
            if (error instanceof ZodError) return;
            if (!(error instanceof CalcError)) throw error;
            expect(error.field === '' || text.includes(`"name":"${error.field}"`), error.field).toBe(true);
          }
        },
      ),
    );
  });
});
