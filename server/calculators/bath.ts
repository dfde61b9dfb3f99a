import * as calc from '../calc/bath.ts';
import { calculation } from './calculation.ts';
import {
  anyNumber,
  between,
  concGPerL,
  fromZero,
  goodsDryMassG,
  inputs,
  liquorRatioLPerKg,
  liquorVolumeMl,
  list,
  outputs,
  owgPct,
  positive,
} from './fields.ts';

const physicoChemical = 'Physico-chemical calculations, thesmarttime.com';
const labDip = 'Dyeing calculation in lab dip, textilecalculation.blogspot.com, 2015';
const liquorRatio = outputs({ liquorRatioLPerKg: anyNumber('Liquor ratio', 'L/kg') });

export const bath = {
  'liquor-volume': calculation({
    summary: 'Liquor for goods at a liquor ratio',
    formula: 'V (mL) = W · LR',
    source: labDip,
    input: inputs({ goodsDryMassG, liquorRatioLPerKg }),
    output: outputs({ liquorVolumeMl: anyNumber('Liquor', 'mL') }),
    example: { goodsDryMassG: 5, liquorRatioLPerKg: 10 },
    calculate: (input) => ({ liquorVolumeMl: calc.liquorVolumeMl(input) }),
  }),
  'liquor-ratio': calculation({
    summary: 'Liquor ratio from the liquor and the goods',
    formula: 'LR = V (mL) / W (g)',
    source: 'B. Venkatesh, Fundamentals: basic terminologies used in dyeing, VFSTR University',
    input: inputs({ liquorVolumeMl, goodsDryMassG }),
    output: liquorRatio,
    example: { liquorVolumeMl: 1000, goodsDryMassG: 100 },
    calculate: (input) => ({ liquorRatioLPerKg: calc.liquorRatioLPerKg(input) }),
  }),
  'liquor-ratio-of-conc': calculation({
    summary: 'Liquor ratio from a depth and the concentration that it makes',
    formula: 'LR = 10 · d / (g/L)',
    source: 'examination answer on liquor ratio, cdquestions.com, 2025',
    input: inputs({
      depthPct: positive('Depth, on weight of goods', '%'),
      concGPerL: positive('Dye in the bath', 'g/L'),
    }),
    output: liquorRatio,
    example: { depthPct: 2, concGPerL: 0.4 },
    calculate: (input) => ({ liquorRatioLPerKg: calc.liquorRatioLPerKgOfConc(input) }),
  }),
  'conc-of-owg': calculation({
    summary: 'A percentage on weight of goods as grams per litre of bath',
    formula: 'g/L = 10 · % / LR',
    source: physicoChemical,
    input: inputs({ owgPct, liquorRatioLPerKg }),
    output: outputs({ concGPerL: anyNumber('Concentration in the bath', 'g/L') }),
    example: { owgPct: 2.5, liquorRatioLPerKg: 5 },
    calculate: (input) => ({ concGPerL: calc.concGPerLOfOwg(input) }),
  }),
  'owg-of-conc': calculation({
    summary: 'Grams per litre of bath as a percentage on weight of goods',
    formula: '% = (g/L) · LR / 10',
    source: physicoChemical,
    input: inputs({ concGPerL, liquorRatioLPerKg }),
    output: outputs({ owgPct: anyNumber('On weight of goods', '%') }),
    example: { concGPerL: 5, liquorRatioLPerKg: 5 },
    calculate: (input) => ({ owgPct: calc.owgPctOfConc(input) }),
  }),
  'make-up-water': calculation({
    summary: 'Water that makes up the bath once every solution is in',
    formula: 'water = liquor − Σ solutions',
    source: labDip,
    input: inputs({ liquorVolumeMl, additionsMl: list('Solutions added', 'mL', fromZero('Solution', 'mL')) }),
    output: outputs({ waterMl: anyNumber('Water', 'mL') }),
    example: { liquorVolumeMl: 50, additionsMl: [2.5, 6.25, 2.5] },
    calculate: (input) => ({ waterMl: calc.makeUpWaterMl(input) }),
  }),
  exhaustion: calculation({
    summary: 'Exhaustion of a bath: the dye that has left it, fixed or not',
    formula: 'E = 100 · (start − end) / start',
    input: inputs({
      startGPerL: positive('Dye in the bath at the start', 'g/L'),
      endGPerL: fromZero('Dye in the bath at the end', 'g/L'),
    }),
    output: outputs({ exhaustionPct: anyNumber('Exhaustion', '%') }),
    example: { startGPerL: 1, endGPerL: 0.2 },
    calculate: (input) => ({ exhaustionPct: calc.exhaustionPct(input) }),
  }),
  'dye-left': calculation({
    summary: 'Dye left in the bath after an exhaustion that was measured',
    formula: 'g/L = (dye in − dye on the fibre) / L',
    input: inputs({
      dyeMassG: fromZero('Dye put in', 'g'),
      exhaustionPct: between('Exhaustion', '%', 0, 100),
      bathVolumeMl: positive('Bath', 'mL'),
    }),
    output: outputs({ concGPerL: anyNumber('Dye left in the bath', 'g/L') }),
    example: { dyeMassG: 10, exhaustionPct: 80, bathVolumeMl: 10_000 },
    calculate: (input) => ({ concGPerL: calc.dyeLeftGPerL(input) }),
  }),
};
