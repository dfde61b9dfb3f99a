import { z } from 'zod';
import { AUXILIARY_TABLE_NAMES, auxiliariesAtDepth } from '../calc/auxiliaryByDepth.ts';
import * as calc from '../calc/bath.ts';
import { calculation } from './calculation.ts';
import {
  anyNumber,
  choice,
  concGPerL,
  fromZero,
  goodsDryMassG,
  inputs,
  liquorVolumeMl,
  list,
  massG,
  outputs,
  owgPct,
  positive,
  stockStrengthPct,
  upTo,
  words,
} from './fields.ts';

const hydrates = {
  fromFormula: words('Formula in the recipe, such as Na2CO3'),
  toFormula: words('Formula on the jar, such as Na2CO3.10H2O'),
};
const bulkDensityKgPerM3 = positive('Bulk density of the powder', 'kg/m³');

export const auxiliaries = {
  'auxiliary-mass-of-owg': calculation({
    summary: 'Dry auxiliary or mordant that goes by the goods',
    formula: 'm = W · %/100',
    source: 'J. Cowern, wool dye method, jennycowern.co.uk',
    input: inputs({ goodsDryMassG, owgPct }),
    output: outputs({ massG }),
    example: { goodsDryMassG: 10, owgPct: 50 },
    calculate: (input) => ({ massG: calc.auxiliaryMassGOfOwg(input) }),
  }),
  'auxiliary-mass-of-conc': calculation({
    summary: 'Dry auxiliary that goes by the water of the bath',
    formula: 'm = (g/L) · V / 1000',
    source: 'Dyeing with fibre reactive dyes, townhillstudio.co.uk',
    input: inputs({ liquorVolumeMl, concGPerL }),
    output: outputs({ massG }),
    example: { liquorVolumeMl: 6000, concGPerL: 50 },
    calculate: (input) => ({ massG: calc.auxiliaryMassGOfConc(input) }),
  }),
  'owg-of-rate': calculation({
    summary: 'A rate for a mass of goods (4 oz to the pound) as a percentage on their weight',
    formula: '% = 100 · m / W',
    source: 'P. Burch, FAQ ammonium sulfate, pburch.net',
    input: inputs({ massG: fromZero('Auxiliary or mordant', 'g'), goodsDryMassG }),
    output: outputs({ owgPct: anyNumber('On weight of goods', '%') }),
    example: { massG: 113.4, goodsDryMassG: 453.6 },
    calculate: (input) => ({ owgPct: calc.owgPctOfRate(input) }),
  }),
  'auxiliary-stock-volume': calculation({
    summary: 'Auxiliary that goes by the water of the bath, added from its stock solution',
    formula: 'mL = L · 1000 · (g/L) / (10 · c)',
    source: 'Dyeing calculation in lab dip, textilecalculation.blogspot.com, 2015',
    input: inputs({ liquorVolumeMl, concGPerL, stockStrengthPct }),
    output: outputs({ stockVolumeMl: anyNumber('Stock solution', 'mL') }),
    example: { liquorVolumeMl: 50, concGPerL: 25, stockStrengthPct: 20 },
    calculate: ({ liquorVolumeMl: volumeMl, ...rest }) => ({
      stockVolumeMl: calc.auxiliaryStockVolumeMl({ volumeMl, ...rest }),
    }),
  }),
  'acid-swap': calculation({
    summary: 'Another strength of the same acid, and the water that the bath needs the less of',
    formula: 'V₂ = V₁ · C₁/C₂',
    source: "craft supplier's 1:2 metal-complex dye sheet",
    input: inputs({
      volumeMl: fromZero('Acid in the recipe', 'mL'),
      fromStrengthPct: upTo('Strength of the acid in the recipe', '%', 100),
      toStrengthPct: upTo('Strength of the acid in the bottle', '%', 100),
    }),
    output: outputs({
      volumeMl: anyNumber('Acid to measure', 'mL'),
      waterLessMl: anyNumber('Water to leave out; negative: to add', 'mL'),
    }),
    example: { volumeMl: 10, fromStrengthPct: 56, toStrengthPct: 5 },
    calculate: calc.acidSwap,
  }),
  'hydrate-factor': calculation({
    summary: 'Grams of one hydrate that do the work of one gram of another',
    formula: 'g₂/g₁ = M₂/M₁',
    source: 'molar-mass note on washing soda, synth-diy.org archive, 2007, citing P. Burch',
    input: inputs(hydrates),
    output: outputs({ massFactor: anyNumber('Grams for one gram', null) }),
    example: { fromFormula: 'Na2CO3', toFormula: 'Na2CO3.10H2O' },
    calculate: (input) => ({ massFactor: calc.hydrateFactor(input) }),
  }),
  'hydrate-swap-mass': calculation({
    summary: 'Mass of the hydrate in the jar that replaces the one in the recipe',
    formula: 'g₂ = g₁ · M₂/M₁',
    input: inputs({ massG: fromZero('Mass in the recipe', 'g'), ...hydrates }),
    output: outputs({ massG }),
    example: { massG: 100, fromFormula: 'Na2CO3', toFormula: 'Na2CO3.10H2O' },
    calculate: (input) => ({ massG: calc.hydrateSwapMassG(input) }),
  }),
  'soda-ash-bulk-density': calculation({
    summary: 'Between what bulk densities a grade of soda ash lies',
    source: 'soda-ash research institute, general information',
    input: inputs({ grade: choice('Grade', ['light', 'dense']) }),
    output: outputs({
      lowKgPerM3: anyNumber('Bulk density, from', 'kg/m³'),
      highKgPerM3: anyNumber('Bulk density, to', 'kg/m³'),
    }),
    example: { grade: 'light' },
    calculate: ({ grade }) => {
      const { low, high } = calc.sodaAshBulkDensitiesKgPerM3[grade];
      return { lowKgPerM3: low, highKgPerM3: high };
    },
  }),
  'scoop-mass': calculation({
    summary: 'Mass of a cup or spoon of powder, by the bulk density of its grade',
    formula: 'g = mL · (kg/m³) / 1000',
    input: inputs({ volumeMl: fromZero('Powder', 'mL'), bulkDensityKgPerM3 }),
    output: outputs({ massG }),
    example: { volumeMl: 236.6, bulkDensityKgPerM3: 610 },
    calculate: (input) => ({ massG: calc.scoopMassG(input) }),
  }),
  'soak-conc': calculation({
    summary: 'Strength of a soak made by scoops of powder to a volume of water',
    formula: 'g/L = scoop mL · (kg/m³) / water mL',
    input: inputs({
      scoopVolumeMl: fromZero('Powder', 'mL'),
      bulkDensityKgPerM3,
      waterVolumeMl: positive('Water', 'mL'),
    }),
    output: outputs({ concGPerL: anyNumber('Strength of the soak', 'g/L') }),
    example: { scoopVolumeMl: 236.6, bulkDensityKgPerM3: 610, waterVolumeMl: 3785 },
    calculate: (input) => ({ concGPerL: calc.soakConcGPerL(input) }),
  }),
  'auxiliaries-at-depth': calculation({
    summary: 'Salt, alkali and acid that a sheet prints for a depth',
    input: inputs({
      table: choice('Sheet', AUXILIARY_TABLE_NAMES),
      depthPct: positive('Depth, on weight of goods', '%'),
      liquorRatioLPerKg: positive('Liquor ratio, where it is settled', 'L/kg').optional(),
    }),
    output: outputs({
      basis: choice('Amounts in', ['gPerL', 'owgPct']),
      lines: list(
        'Auxiliaries',
        null,
        outputs({
          auxiliary: words('Auxiliary'),
          low: anyNumber('At least', null),
          high: anyNumber('At most', null),
        }),
      ),
      notSaid: z.array(words('Auxiliary')).meta({ title: 'Wanted, but printed for other liquor ratios only' }),
    }),
    example: { table: 'reactive60C', depthPct: 3, liquorRatioLPerKg: 10 },
    calculate: auxiliariesAtDepth,
  }),
};
