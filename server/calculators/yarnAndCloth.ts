import * as calc from '../calc/goods.ts';
import { unitsOf } from '../calc/units.ts';
import { calculation } from './calculation.ts';
import { anyNumber, choice, inputs, massG, outputs, positive, under100, wholeCount } from './fields.ts';

const yarnCharts = 'yarn count conversion charts, miniknittingstuff.com/yarnchart.htm';
const tex = positive('Fineness of the yarn as it is, plied', 'tex');
const arealMassGPerM2 = positive('Areal mass', 'g/m²');
const linearMassGPerM = positive('Mass of a running metre', 'g/m');
const lengthM = positive('Length', 'm');
const widthM = positive('Width', 'm');

export const yarnAndCloth = {
  'plied-yarn-tex': calculation({
    summary: 'Fineness of a plied yarn from the count of its single',
    formula: 'tex = plies · tex of the single',
    source: yarnCharts,
    input: inputs({
      system: choice('Count system', unitsOf('linearDensity')),
      singleCount: positive('Count of the single, in that system', null),
      plies: wholeCount('Plies'),
    }),
    output: outputs({ tex: anyNumber('Fineness', 'tex') }),
    example: { system: 'Nm', singleCount: 30, plies: 2 },
    calculate: (input) => ({ tex: calc.resultantTex(input) }),
  }),
  'yarn-length': calculation({
    summary: 'Length of a skein from its mass',
    formula: 'm = 1000 · g / tex',
    source: yarnCharts,
    input: inputs({ massG: positive('Mass of the skein', 'g'), tex }),
    output: outputs({ lengthM: anyNumber('Length', 'm') }),
    example: { massG: 100, tex: 250 },
    calculate: (input) => ({ lengthM: calc.yarnLengthM(input) }),
  }),
  'yarn-mass': calculation({
    summary: 'Mass of a length of yarn',
    formula: 'g = tex · m / 1000',
    input: inputs({ lengthM, tex }),
    output: outputs({ massG }),
    example: { lengthM: 400, tex: 250 },
    calculate: (input) => ({ massG: calc.yarnMassG(input) }),
  }),
  'put-ups-mass': calculation({
    summary: 'Mass of counted pieces, skeins or cones',
    formula: 'm = count · mass of one',
    input: inputs({ count: wholeCount('Count'), putUpMassG: positive('Mass of one', 'g') }),
    output: outputs({ massG }),
    example: { count: 12, putUpMassG: 50 },
    calculate: (input) => ({ massG: calc.putUpsMassG(input) }),
  }),
  'cloth-mass': calculation({
    summary: 'Mass of a piece of cloth from its length and width',
    formula: 'm = (g/m²) · length · width',
    input: inputs({ arealMassGPerM2, lengthM, widthM }),
    output: outputs({ massG }),
    example: { arealMassGPerM2: 150, lengthM: 2.5, widthM: 1.12 },
    calculate: (input) => ({ massG: calc.clothMassG(input) }),
  }),
  'cloth-mass-of-linear': calculation({
    summary: 'Mass of a length of cloth sold by the running metre or yard',
    formula: 'm = (g/m running) · length',
    source: 'Linear-yard weight conversion, undershirtguy.com',
    input: inputs({ linearMassGPerM, lengthM }),
    output: outputs({ massG }),
    example: { linearMassGPerM: 217, lengthM: 3 },
    calculate: (input) => ({ massG: calc.clothMassGOfLinear(input) }),
  }),
  'areal-mass-of-linear': calculation({
    summary: 'Areal mass of cloth sold by the running metre or yard',
    formula: 'g/m² = (g/m running) / width',
    source: 'J. Ennis, Fabric weight and conversions, 2008',
    input: inputs({ linearMassGPerM, widthM }),
    output: outputs({ arealMassGPerM2: anyNumber('Areal mass', 'g/m²') }),
    example: { linearMassGPerM: 217, widthM: 1.73 },
    calculate: (input) => ({ arealMassGPerM2: calc.arealMassGPerM2OfLinear(input) }),
  }),
  'linear-mass-of-areal': calculation({
    summary: 'Mass of a running metre from the areal mass',
    formula: 'g/m running = (g/m²) · width',
    source: 'J. Ennis, Fabric weight and conversions, 2008',
    input: inputs({ arealMassGPerM2, widthM }),
    output: outputs({ linearMassGPerM: anyNumber('Mass of a running metre', 'g/m') }),
    example: { arealMassGPerM2: 125.6, widthM: 1.73 },
    calculate: (input) => ({ linearMassGPerM: calc.linearMassGPerMOfAreal(input) }),
  }),
  'areal-mass-after-wash': calculation({
    summary: 'Areal mass after the wash, from what the cloth loses in length and width',
    formula: '(g/m²) / [(1 − Swarp/100)(1 − Sweft/100)]',
    input: inputs({
      arealMassGPerM2: positive('Areal mass before the wash', 'g/m²'),
      lengthShrinkagePct: under100('Shrinkage in length', -100),
      widthShrinkagePct: under100('Shrinkage in width', -100),
    }),
    output: outputs({ arealMassGPerM2: anyNumber('Areal mass after the wash', 'g/m²') }),
    example: { arealMassGPerM2: 150, lengthShrinkagePct: 6, widthShrinkagePct: 2.5 },
    calculate: (input) => ({ arealMassGPerM2: calc.arealMassGPerM2AfterWash(input) }),
  }),
  shrinkage: calculation({
    summary: 'Shrinkage from a length before and after; negative when the piece grew',
    formula: 'S = 100 · (before − after) / before',
    source: 'Shrinkage notes, kembrel.com',
    input: inputs({ beforeM: positive('Length before', 'm'), afterM: positive('Length after', 'm') }),
    output: outputs({ shrinkagePct: anyNumber('Shrinkage', '%') }),
    example: { beforeM: 0.5, afterM: 0.47 },
    calculate: ({ beforeM, afterM }) => ({ shrinkagePct: calc.shrinkagePct({ before: beforeM, after: afterM }) }),
  }),
  'cut-length': calculation({
    summary: 'Length to cut for a finished length',
    formula: 'cut = finished / (1 − S/100)',
    input: inputs({ finishedLengthM: positive('Finished length', 'm'), shrinkagePct: under100('Shrinkage', -100) }),
    output: outputs({ cutLengthM: anyNumber('Length to cut', 'm') }),
    example: { finishedLengthM: 1, shrinkagePct: 6 },
    calculate: (input) => ({ cutLengthM: calc.cutLengthM(input) }),
  }),
  'finished-length': calculation({
    summary: 'Length left of a cut length',
    formula: 'finished = cut · (1 − S/100)',
    input: inputs({ cutLengthM: positive('Length cut', 'm'), shrinkagePct: under100('Shrinkage', -100) }),
    output: outputs({ finishedLengthM: anyNumber('Finished length', 'm') }),
    example: { cutLengthM: 1.07, shrinkagePct: 6 },
    calculate: (input) => ({ finishedLengthM: calc.finishedLengthM(input) }),
  }),
};
