import fc from 'fast-check';
import { unit as refereeUnit } from 'mathjs';
import { describe, expect, test } from 'vitest';
import { CalcError } from '../../server/calc/calcError.ts';
import { converted, dimensionOf, isUnitName, type UnitName, units, unitsOf } from '../../server/calc/units.ts';

const unitNames = Object.keys(units).filter(isUnitName);

describe('conversions against a general-purpose units library', () => {
  /* [from, to, the library's spelling of the same]. Its spoons are metric, so US spoons are put to it as parts of its cup. */
  test.each<[UnitName, UnitName, number, string, string]>([
    ['lb', 'g', 1, 'lb', 'g'],
    ['oz', 'g', 1, 'oz', 'g'],
    ['grain', 'mg', 1, 'grain', 'mg'],
    ['dram', 'g', 1, 'dram', 'g'],
    ['kg', 'lb', 1, 'kg', 'lb'],
    ['yd', 'm', 1, 'yard', 'm'],
    ['ft', 'm', 1, 'ft', 'm'],
    ['in', 'cm', 1, 'in', 'cm'],
    ['yd2', 'm2', 1, 'sqyd', 'm^2'],
    ['ft2', 'm2', 1, 'sqft', 'm^2'],
    ['in2', 'cm2', 1, 'sqin', 'cm^2'],
    ['gallonUS', 'L', 1, 'gallon', 'L'],
    ['gallonUS', 'mL', 1 / 231, 'in^3', 'mL'],
    ['quartUS', 'mL', 1, 'quart', 'mL'],
    ['pintUS', 'mL', 1, 'pint', 'mL'],
    ['cupUS', 'mL', 1, 'cup', 'mL'],
    ['fluidOunceUS', 'mL', 1, 'fluidounce', 'mL'],
    ['tablespoonUS', 'mL', 16, 'cup', 'mL'],
    ['teaspoonUS', 'mL', 48, 'cup', 'mL'],
    ['tablespoonMetric', 'mL', 1, 'tablespoon', 'mL'],
    ['teaspoonMetric', 'mL', 1, 'teaspoon', 'mL'],
    ['ozPerYd2', 'gPerM2', 1, 'oz/yard^2', 'g/m^2'],
    ['lbPerYd2', 'gPerM2', 1, 'lb/yard^2', 'g/m^2'],
    ['ozPerFt2', 'gPerM2', 1, 'oz/ft^2', 'g/m^2'],
    ['ozPerGallonUS', 'gPerL', 1, 'oz/gallon', 'g/L'],
    ['lbPerGallonUS', 'gPerL', 1, 'lb/gallon', 'g/L'],
    ['ozPerQuartUS', 'gPerL', 1, 'oz/quart', 'g/L'],
    ['gallonUSPerLb', 'LPerKg', 1, 'gallon/lb', 'L/kg'],
    ['degF', 'degC', 105, '105 degF', 'degC'],
    ['degC', 'degF', 40, '40 degC', 'degF'],
    ['kelvin', 'degC', 300, '300 K', 'degC'],
  ])('%s → %s', (from, to, value, theirs, theirTarget) => {
    const expected = /^\d/.test(theirs)
      ? refereeUnit(theirs).toNumber(theirTarget)
      : refereeUnit(1, theirs).toNumber(theirTarget);
    const ours = converted({ value, from, to });
    expect(Math.abs(ours - expected)).toBeLessThanOrEqual(1e-12 * Math.max(1, Math.abs(expected)));
  });
});

test('every unit is one of its dimension alone, and an ounce to the running yard is 28.3495 g to 0.9144 m', () => {
  expect(unitsOf('arealMass')).toEqual(['gPerM2', 'kgPerM2', 'ozPerYd2', 'ozPerFt2', 'lbPerYd2', 'momme']);
  const dimensions = [...new Set(unitNames.map(dimensionOf))];
  expect(dimensions.flatMap((dimension) => unitsOf(dimension)).sort()).toEqual([...unitNames].sort());
  expect(converted({ value: 1, from: 'ozPerYd', to: 'gPerM' })).toBeCloseTo(28.349523125 / 0.9144, 12);
});

describe('conversions', () => {
  const pairs = unitNames.flatMap((from) =>
    unitNames.filter((to) => dimensionOf(to) === dimensionOf(from)).map((to) => ({ from, to })),
  );

  test('there and back is where one began, from tiny to huge', () => {
    fc.assert(
      fc.property(fc.constantFrom(...pairs), fc.double({ min: 1e-3, max: 1e9, noNaN: true }), ({ from, to }, value) => {
        const back = converted({ value: converted({ value, from, to }), from: to, to: from });
        expect(Math.abs(back - value)).toBeLessThanOrEqual(1e-9 * value + 1e-9);
      }),
    );
  });

  test('unlike kinds are refused: an areal mass is not a mass', () => {
    expect(() => converted({ value: 1, from: 'ozPerYd2', to: 'oz' })).toThrow(CalcError);
    fc.assert(
      fc.property(fc.constantFrom(...unitNames), fc.constantFrom(...unitNames), (from, to) => {
        fc.pre(dimensionOf(from) !== dimensionOf(to));
        expect(() => converted({ value: 1, from, to })).toThrow(
          expect.objectContaining({ code: 'mismatch', field: 'to' }),
        );
      }),
    );
  });

  test('a finer yarn has a higher cotton count and fewer tex', () => {
    const tex = (NeCotton: number) => converted({ value: NeCotton, from: 'NeCotton', to: 'tex' });
    expect(tex(60)).toBeLessThan(tex(30));
    expect(converted({ value: 10, from: 'tex', to: 'denier' })).toBeLessThan(
      converted({ value: 20, from: 'tex', to: 'denier' }),
    );
  });

  test.each([
    ['g', -1],
    ['g', Number.NaN],
    ['Nm', 0],
    ['degC', -300],
  ] as const)('refuses %s %d', (from, value) => {
    expect(() => converted({ value, from, to: from })).toThrow(CalcError);
  });
});
