import * as calc from '../calc/dyeMass.ts';
import { calculation } from './calculation.ts';
import {
  anyNumber,
  between,
  depthPct,
  fromZero,
  goodsDryMassG,
  inputs,
  list,
  outputs,
  positive,
  upTo,
} from './fields.ts';

const strengthPct = upTo('Strength of this stock lot, 100 is standard', '%', 1000);
const massesG = list('Masses', 'g', anyNumber('Mass', 'g'));

export const dye = {
  'dye-mass': calculation({
    summary: 'Dye powder to weigh for one component; a correction that is left out changes nothing',
    formula: 'm = W · d/100 · s/100 · coverage · (1 + loss) · uptake / (strength/100)',
    source: "wool-dye supplier's sheet, calculating dye quantities",
    input: inputs({
      goodsDryMassG,
      depthPct,
      sharePct: between('Share of the depth', '%', 0, 100).default(100),
      coverageFactor: between('Part of the goods that takes the colour', null, 0, 1).default(1),
      lossFactor: fromZero('Loss before the dye meets the cloth, 0.1 is a tenth', null).default(0),
      uptakeFactor: positive('Uptake against the cloth of the library', null).default(1),
      strengthPct: strengthPct.default(100),
    }),
    output: outputs({ massG: anyNumber('Dye powder', 'g') }),
    example: { goodsDryMassG: 125, depthPct: 2 },
    calculate: (input) => ({ massG: calc.dyeMassG(input) }),
  }),
  'depth-of-mass': calculation({
    summary: 'Depth back from a mass of dye',
    formula: 'd = 100 · m / W',
    source: 'B. Venkatesh, Fundamentals: basic terminologies used in dyeing, VFSTR University',
    input: inputs({ dyeMassG: fromZero('Dye', 'g'), goodsDryMassG }),
    output: outputs({ depthPct: anyNumber('Depth, on weight of goods', '%') }),
    example: { dyeMassG: 4, goodsDryMassG: 100 },
    calculate: (input) => ({ depthPct: calc.depthPctOfMass(input) }),
  }),
  'component-masses': calculation({
    summary: 'Masses of the components of a shade, split by their shares of one depth',
    formula: 'mᵢ = W · d/100 · sᵢ/100',
    input: inputs({
      goodsDryMassG,
      depthPct,
      sharesPct: list('Shares of the depth', '%', between('Share', '%', 0, 100)),
    }),
    output: outputs({ massesG }),
    example: { goodsDryMassG: 400, depthPct: 2, sharesPct: [50, 30, 20] },
    calculate: (input) => ({ massesG: calc.componentMassesG(input) }),
  }),
  'component-masses-of-own-depths': calculation({
    summary: 'Masses of the components of a shade, each stated by its own depth',
    formula: 'mᵢ = W · dᵢ/100',
    source: 'P. Burch, dye Q&A, 26 April 2011, pburch.net',
    input: inputs({ goodsDryMassG, depthsPct: list('Own depths', '%', depthPct) }),
    output: outputs({ massesG }),
    example: { goodsDryMassG: 200, depthsPct: [0.85, 0.1] },
    calculate: (input) => ({ massesG: calc.massesGOfOwnDepths(input) }),
  }),
  'strength-corrected-mass': calculation({
    summary: 'Dye to weigh from a lot that is stronger or weaker than standard',
    formula: "m' = m · 100 / strength",
    input: inputs({ dyeMassG: fromZero('Dye of standard strength', 'g'), strengthPct }),
    output: outputs({ massG: anyNumber('Dye to weigh', 'g') }),
    example: { dyeMassG: 2.5, strengthPct: 95 },
    calculate: (input) => ({ massG: calc.strengthCorrectedMassG(input) }),
  }),
  'scaled-masses': calculation({
    summary: "A swatch's dye masses carried to other goods, at the same liquor ratio",
    formula: "mᵢ' = mᵢ · W'/W",
    input: inputs({
      massesG: list('Masses on the swatch', 'g', fromZero('Mass', 'g')),
      fromGoodsDryMassG: positive('Dry goods of the swatch', 'g'),
      toGoodsDryMassG: positive('Dry goods to be dyed', 'g'),
    }),
    output: outputs({ massesG }),
    example: { massesG: [0.1, 0.06, 0.04], fromGoodsDryMassG: 10, toGoodsDryMassG: 400 },
    calculate: (input) => ({ massesG: calc.scaledMassesG(input) }),
  }),
};
