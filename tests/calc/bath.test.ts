import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import * as bath from '../../server/calc/bath.ts';
import { CalcError } from '../../server/calc/calcError.ts';
import { ACID_SWAP, LAB_DIP_BATH } from '../reference/tradeArithmetic.ts';

const positive = fc.double({ min: 1e-3, max: 1e6, noNaN: true });

describe('a whole bath', () => {
  test('the published lab dip, to the digit', () => {
    const plan = bath.bathPlan({
      goodsDryMassG: LAB_DIP_BATH.goodsDryMassG,
      bathVolumeMl: LAB_DIP_BATH.bathVolumeMl,
      dyeStockVolumesMl: [LAB_DIP_BATH.dyeStockMl],
      lines: LAB_DIP_BATH.auxiliaries.map(({ concGPerL, stockStrengthPct }) => ({
        basis: 'gPerL',
        amount: concGPerL,
        vessel: 'bath',
        stockStrengthPct,
      })),
    });
    expect(plan.lines.map(({ volumeMl }) => volumeMl)).toEqual(
      LAB_DIP_BATH.auxiliaries.map(({ volumeMl }) => expect.closeTo(volumeMl, 9)),
    );
    expect(plan.waterMl).toBeCloseTo(LAB_DIP_BATH.waterMl, 9);
    expect(plan.overMl).toBe(0);
  });

  const lines: bath.BathLine[] = [
    { basis: 'owg', amount: 15, vessel: 'bath' },
    { basis: 'gPerL', amount: 50, vessel: 'bath' },
    { basis: 'gPerL', amount: 38, vessel: 'soak' },
    { basis: 'mlPerL', amount: 2, vessel: 'bath' },
    { basis: 'fixedMass', amount: 7, vessel: 'bath' },
    { basis: 'fixedVolume', amount: 30, vessel: 'soak' },
  ];
  const plan = (goodsDryMassG: number, bathVolumeMl: number) =>
    bath.bathPlan({ goodsDryMassG, bathVolumeMl, soakVolumeMl: 4000, lines, dyeStockVolumesMl: [] });

  test('doubling the goods in the same bath doubles the mordant and leaves the salt', () => {
    const one = plan(100, 2000);
    const two = plan(200, 2000);
    expect(one.lines).toEqual([
      { massG: 15 },
      { massG: 100 },
      { massG: 152 },
      { volumeMl: 4 },
      { massG: 7 },
      { volumeMl: 30 },
    ]);
    expect(two.lines).toEqual([{ massG: 30 }, ...one.lines.slice(1)]);
  });

  test('doubling the water doubles the salt and leaves mordant and soak', () => {
    const more = plan(100, 4000);
    expect(more.lines).toEqual([
      { massG: 15 },
      { massG: 200 },
      { massG: 152 },
      { volumeMl: 8 },
      { massG: 7 },
      { volumeMl: 30 },
    ]);
  });

  test('what is poured into the soak does not come out of the bath’s water', () => {
    expect(plan(100, 2000).waterMl).toBe(1996);
  });

  test('solutions that are more than the liquor are told, never a negative water', () => {
    const tight = bath.bathPlan({ goodsDryMassG: 5, bathVolumeMl: 50, lines: [], dyeStockVolumesMl: [40, 25] });
    expect(tight).toMatchObject({ waterMl: 0, overMl: 15 });
    expect(() => bath.makeUpWaterMl({ liquorVolumeMl: 50, additionsMl: [40, 25] })).toThrow(
      expect.objectContaining({ field: 'additionsMl' }),
    );
    expect(bath.makeUpWaterMl({ liquorVolumeMl: 50, additionsMl: [25, 25] })).toBe(0);
  });

  test('a line per litre asks for its own vessel', () => {
    expect(() => bath.auxiliaryAmount({ basis: 'gPerL', amount: 5, vessel: 'soak', bathVolumeMl: 1000 })).toThrow(
      expect.objectContaining({ code: 'missing', field: 'soakVolumeMl' }),
    );
    expect(() => bath.auxiliaryAmount({ basis: 'owg', amount: 5, vessel: 'bath' })).toThrow(
      expect.objectContaining({ field: 'goodsDryMassG' }),
    );
  });

  test('water and solutions always add to the liquor', () => {
    fc.assert(
      fc.property(
        positive,
        fc.array(fc.double({ min: 0, max: 1e6, noNaN: true }), { maxLength: 8 }),
        (liquor, additions) => {
          const { waterMl, overMl } = bath.makeUpWater({ liquorVolumeMl: liquor, additionsMl: additions });
          const sum = additions.reduce((all, volume) => all + volume, 0);
          expect(waterMl).toBeGreaterThanOrEqual(0);
          expect(Math.abs(waterMl + sum - overMl - liquor)).toBeLessThanOrEqual(1e-6 * (liquor + sum));
        },
      ),
    );
  });
});

describe('conversions of a basis', () => {
  test('a rate for a mass of goods is their percentage, and gives the mass back', () => {
    /* 4 oz to the 16 oz of a pound, by hand */
    expect(bath.owgPctOfRate({ massG: 4, goodsDryMassG: 16 })).toBe(25);
    expect(bath.auxiliaryMassGOfOwg({ goodsDryMassG: 16, owgPct: 25 })).toBe(4);
    expect(bath.auxiliaryMassGOfConc({ liquorVolumeMl: 6000, concGPerL: 50 })).toBe(300);
    for (const run of [
      () => bath.owgPctOfRate({ massG: 4, goodsDryMassG: 0 }),
      () => bath.auxiliaryMassGOfOwg({ goodsDryMassG: 16, owgPct: -1 }),
      () => bath.auxiliaryMassGOfConc({ liquorVolumeMl: 0, concGPerL: 50 }),
    ])
      expect(run).toThrow(CalcError);
  });

  test('% owg and g/L undo each other at one liquor ratio', () => {
    fc.assert(
      fc.property(positive, fc.double({ min: 1, max: 100, noNaN: true }), (owgPct, liquorRatioLPerKg) => {
        const concGPerL = bath.concGPerLOfOwg({ owgPct, liquorRatioLPerKg });
        expect(bath.owgPctOfConc({ concGPerL, liquorRatioLPerKg }) / owgPct).toBeCloseTo(1, 9);
        expect(bath.liquorRatioLPerKgOfConc({ depthPct: owgPct, concGPerL }) / liquorRatioLPerKg).toBeCloseTo(1, 9);
      }),
    );
  });

  test('liquor is linear in goods', () => {
    fc.assert(
      fc.property(positive, fc.double({ min: 1, max: 100, noNaN: true }), (goodsDryMassG, liquorRatioLPerKg) => {
        const one = bath.liquorVolumeMl({ goodsDryMassG, liquorRatioLPerKg });
        expect(bath.liquorVolumeMl({ goodsDryMassG: 2 * goodsDryMassG, liquorRatioLPerKg }) / one).toBeCloseTo(2, 9);
        expect(bath.liquorRatioLPerKg({ liquorVolumeMl: one, goodsDryMassG })).toBeCloseTo(liquorRatioLPerKg, 6);
      }),
    );
  });
});

describe('swaps', () => {
  /* Molar masses as printed in chemical handbooks (from memory). */
  test.each([
    ['H2O', 18.015],
    ['Na2CO3', 105.99],
    ['Na2CO3.10H2O', 286.14],
    ['Na₂SO₄·10H₂O', 322.19],
    ['C6H8O7', 192.12],
    ['KAl(SO4)2.12H2O', 474.39],
    ['CaSO4.1/2H2O', 145.15],
    ['FeSO4*7H2O', 278.01],
  ])('molar mass of %s is %d', (formula, expected) => {
    expect(Math.abs(bath.molarMassGPerMol({ formula }) - expected)).toBeLessThanOrEqual(0.02);
  });

  test('there and back is 1, and every named form is a salt that can be read', () => {
    for (const formula of Object.values(bath.hydrateForms))
      expect(bath.molarMassGPerMol({ formula })).toBeGreaterThan(40);
    const there = bath.hydrateFactor({ fromFormula: 'Na2CO3', toFormula: 'Na2CO3.H2O' });
    expect(there * bath.hydrateFactor({ fromFormula: 'Na2CO3.H2O', toFormula: 'Na2CO3' })).toBeCloseTo(1, 12);
    expect(bath.hydrateSwapMassG({ massG: 100, fromFormula: 'Na2CO3', toFormula: 'Na2CO3.10H2O' })).toBeCloseTo(
      269.97,
      2,
    );
  });

  test.each([
    ['Na2CO3', 'NaHCO3', 'mismatch'],
    ['Na2CO3', 'Na2SO4', 'mismatch'],
    ['H2O', 'H2O', 'mismatch'],
    ['washing soda', 'Na2CO3', 'unreadable'],
    ['Na2CO3', '', 'unreadable'],
    ['Xx2', 'Xx2', 'unreadable'],
    ['K(SO4', 'K(SO4', 'unreadable'],
    ['KSO4)', 'KSO4)', 'unreadable'],
  ])('%s to %s is refused', (fromFormula, toFormula, code) => {
    expect(() => bath.hydrateFactor({ fromFormula, toFormula })).toThrow(expect.objectContaining({ code }));
  });

  test('another strength of acid, and the water it brings', () => {
    const { volumeMl, waterLessMl } = bath.acidSwap({
      volumeMl: 10,
      fromStrengthPct: ACID_SWAP.fromPct,
      toStrengthPct: ACID_SWAP.toPct,
    });
    expect(volumeMl).toBeCloseTo(10 * ACID_SWAP.factor, 9);
    expect(waterLessMl).toBeCloseTo(102, 9);
  });
});

describe('scoops', () => {
  test('a cup has no mass until its grade is known', () => {
    expect(() => bath.scoopMassG({ volumeMl: 236.588 })).toThrow(
      expect.objectContaining({ code: 'missing', field: 'bulkDensity' }),
    );
    expect(() => bath.soakConcGPerL({ scoopVolumeMl: 236.588, waterVolumeMl: 3785 })).toThrow(CalcError);
  });
  /* Printed ranges of the soda-ash institute's densities, by the US cup: light 135–154 g, dense 237–248 g; 36–41 and 63–66 g/L (62.5 rounded up). */
  test.each([
    ['light', 'low', 135, 36],
    ['light', 'high', 154, 41],
    ['dense', 'low', 237, 63],
    ['dense', 'high', 248, 66],
  ] as const)('a US cup of %s soda ash, %s', (grade, end, massG, concGPerL) => {
    const bulkDensityKgPerM3 = bath.sodaAshBulkDensitiesKgPerM3[grade][end];
    expect(Math.abs(bath.scoopMassG({ volumeMl: 236.588, bulkDensityKgPerM3 }) - massG)).toBeLessThanOrEqual(0.5);
    expect(
      Math.abs(bath.soakConcGPerL({ scoopVolumeMl: 236.588, bulkDensityKgPerM3, waterVolumeMl: 3785.41 }) - concGPerL),
    ).toBeLessThanOrEqual(0.51);
  });
});

test('dye left in the bath is what did not exhaust', () => {
  expect(bath.dyeLeftGPerL({ dyeMassG: 10, exhaustionPct: 80, bathVolumeMl: 2000 })).toBeCloseTo(1, 9);
  expect(bath.exhaustionPct({ startGPerL: 5, endGPerL: 1 })).toBeCloseTo(80, 9);
});
