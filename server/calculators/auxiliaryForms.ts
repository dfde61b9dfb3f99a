import {
  hydrateFactor,
  hydrateSwapMassG,
  scoopMassG,
  soakConcGPerL,
  sodaAshBulkDensitiesKgPerM3,
} from '../calc/bath.ts';
import { calculation } from './calculation.ts';
import { anyNumber, choice, fromZero, inputs, massG, outputs, positive, words } from './fields.ts';

const hydrates = {
  fromFormula: words('Formula in the recipe, such as Na2CO3'),
  toFormula: words('Formula on the jar, such as Na2CO3.10H2O'),
};
const bulkDensityKgPerM3 = positive('Bulk density of the powder', 'kg/m³');

export const auxiliaryForms = {
  'hydrate-factor': calculation({
    summary: 'Grams of one hydrate that do the work of one gram of another',
    formula: 'g₂/g₁ = M₂/M₁',
    source: 'molar-mass note on washing soda, synth-diy.org archive, 2007, citing P. Burch',
    input: inputs(hydrates),
    output: outputs({ massFactor: anyNumber('Grams for one gram', null) }),
    example: { fromFormula: 'Na2CO3', toFormula: 'Na2CO3.10H2O' },
    calculate: (input) => ({ massFactor: hydrateFactor(input) }),
  }),
  'hydrate-swap-mass': calculation({
    summary: 'Mass of the hydrate in the jar that replaces the one in the recipe',
    formula: 'g₂ = g₁ · M₂/M₁',
    input: inputs({ massG: fromZero('Mass in the recipe', 'g'), ...hydrates }),
    output: outputs({ massG }),
    example: { massG: 100, fromFormula: 'Na2CO3', toFormula: 'Na2CO3.10H2O' },
    calculate: (input) => ({ massG: hydrateSwapMassG(input) }),
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
      const { low, high } = sodaAshBulkDensitiesKgPerM3[grade];
      return { lowKgPerM3: low, highKgPerM3: high };
    },
  }),
  'scoop-mass': calculation({
    summary: 'Mass of a cup or spoon of powder, by the bulk density of its grade',
    formula: 'g = mL · (kg/m³) / 1000',
    input: inputs({ volumeMl: fromZero('Powder', 'mL'), bulkDensityKgPerM3 }),
    output: outputs({ massG }),
    example: { volumeMl: 236.6, bulkDensityKgPerM3: 610 },
    calculate: (input) => ({ massG: scoopMassG(input) }),
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
    calculate: (input) => ({ concGPerL: soakConcGPerL(input) }),
  }),
};
