import * as calc from '../calc/waterHardness.ts';
import { calculation } from './calculation.ts';
import { anyNumber, choice, fromZero, inputs, outputs, words } from './fields.ts';

const hardnessMgPerL = fromZero('Hardness, as calcium carbonate', 'mg/L');

export const water = {
  'hardness-conversion': calculation({
    summary: 'Hardness of water from one unit to another',
    input: inputs({
      value: fromZero('Hardness', null),
      from: choice('Its unit', calc.HARDNESS_UNIT_NAMES),
      to: choice('Unit wanted', calc.HARDNESS_UNIT_NAMES),
    }),
    output: outputs({ value: anyNumber('Hardness', null) }),
    example: { value: 1, from: 'germanDegrees', to: 'mgPerL' },
    calculate: (input) => ({ value: calc.hardnessConverted(input) }),
  }),
  'hardness-of-ions': calculation({
    summary: 'Hardness from calcium and magnesium',
    formula: 'mg/L CaCO₃ = 2.497 · Ca + 4.118 · Mg',
    source: 'tidywater, rdrr.io/cran/tidywater calculate_hardness; conductscience.com',
    input: inputs({ calciumMgPerL: fromZero('Calcium', 'mg/L'), magnesiumMgPerL: fromZero('Magnesium', 'mg/L') }),
    output: outputs({ hardnessMgPerL: anyNumber('Hardness, as calcium carbonate', 'mg/L') }),
    example: { calciumMgPerL: 50, magnesiumMgPerL: 10 },
    calculate: (input) => ({ hardnessMgPerL: calc.hardnessOfIons(input) }),
  }),
  'calcium-of-hardness': calculation({
    summary: 'Calcium that would make the hardness alone',
    formula: 'Ca = 0.4 · hardness',
    input: inputs({ hardnessMgPerL }),
    output: outputs({ calciumMgPerL: anyNumber('Calcium', 'mg/L') }),
    example: { hardnessMgPerL: 329 },
    calculate: (input) => ({ calciumMgPerL: calc.calciumOfHardness(input) }),
  }),
  'hardness-word': calculation({
    summary: 'What a scheme calls water of a hardness',
    input: inputs({ hardnessMgPerL, scheme: choice('Scheme', calc.HARDNESS_SCHEME_NAMES) }),
    output: outputs({
      word: words('Word'),
      topMgPerL: anyNumber('Upper end of that word, where it has one', 'mg/L').optional(),
    }),
    example: { hardnessMgPerL: 120, scheme: 'usgs' },
    calculate: calc.hardnessWord,
  }),
};
