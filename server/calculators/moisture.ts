import { z } from 'zod';
import * as calc from '../calc/goods.ts';
import { calculation } from './calculation.ts';
import { anyNumber, between, inputs, list, oneOfSeveral, outputs, positive, regainPct, under100 } from './fields.ts';

const invoiceWeight = 'M. Islam, Correct invoice weight, textilecalculation.blogspot.com, 2015';
const regainTable = 'Standard moisture regain and content, textilecalculation.blogspot.com, 2015';
const contentPct = under100('Moisture content, of the whole mass', 0);
const commercialRegainPct = regainPct.meta({ title: 'Regain that the goods are counted at', 'x-unit': '%' });
const dampMassG = positive('Damp goods', 'g');
const ovenDryMassG = anyNumber('Oven-dry mass', 'g');
const counted = outputs({ goodsDryMassG: anyNumber('The goods count as', 'g') });
const driedTo = { title: 'Sample dried in an oven to bone dry, or left to dry in the air of the room' };
const driedSample = {
  dampMassG,
  sampleDampMassG: positive('Sample, damp', 'g'),
  sampleDryMassG: positive('Sample, dried', 'g'),
};

export const moisture = {
  'blend-regain': calculation({
    summary: 'Regain of a blend, its shares stated on oven-dry mass',
    formula: 'R = Σ pᵢ · Rᵢ',
    source: invoiceWeight,
    input: inputs({
      parts: list('Fibres', null, inputs({ dryPct: between('Share of the oven-dry mass', '%', 0, 100), regainPct })),
    }),
    output: outputs({ regainPct: anyNumber('Regain of the blend', '%') }),
    example: {
      parts: [
        { dryPct: 60, regainPct: 8.5 },
        { dryPct: 40, regainPct: 13 },
      ],
    },
    calculate: (input) => ({ regainPct: calc.blendRegainPct(input) }),
  }),
  'blend-regain-of-conditioned': calculation({
    summary: 'Regain of a blend, its shares stated on conditioned mass',
    formula: 'R = 100 · (1 / Σ(pᵢ/(1 + Rᵢ/100)) − 1)',
    input: inputs({
      parts: list(
        'Fibres',
        null,
        inputs({ conditionedPct: between('Share of the conditioned mass', '%', 0, 100), regainPct }),
      ),
    }),
    output: outputs({ regainPct: anyNumber('Regain of the blend', '%') }),
    example: {
      parts: [
        { conditionedPct: 60, regainPct: 8.5 },
        { conditionedPct: 40, regainPct: 13 },
      ],
    },
    calculate: (input) => ({ regainPct: calc.blendRegainPctOfConditioned(input) }),
  }),
  'moisture-content-of-regain': calculation({
    summary: 'Moisture content from regain',
    formula: 'C = R / (1 + R/100)',
    source: regainTable,
    input: inputs({ regainPct }),
    output: outputs({ contentPct: anyNumber('Moisture content', '%') }),
    example: { regainPct: 11 },
    calculate: (input) => ({ contentPct: calc.contentPctOfRegain(input) }),
  }),
  'regain-of-moisture-content': calculation({
    summary: 'Regain from moisture content',
    formula: 'R = C / (1 − C/100)',
    source: regainTable,
    input: inputs({ contentPct }),
    output: outputs({ regainPct: anyNumber('Regain', '%') }),
    example: { contentPct: 9.91 },
    calculate: (input) => ({ regainPct: calc.regainPctOfContent(input) }),
  }),
  'oven-dry-mass-of-content': calculation({
    summary: 'Oven-dry mass of goods from their moisture content',
    formula: 'D = G · (1 − C/100)',
    source: invoiceWeight,
    input: inputs({ massG: positive('Goods as they are', 'g'), contentPct }),
    output: outputs({ ovenDryMassG }),
    example: { massG: 20_000, contentPct: 4 },
    calculate: (input) => ({ ovenDryMassG: calc.ovenDryMassGOfContent(input) }),
  }),
  'oven-dry-mass-of-regain': calculation({
    summary: 'Oven-dry mass of goods from their regain',
    formula: 'D = G / (1 + R/100)',
    input: inputs({ massG: positive('Goods as they are', 'g'), regainPct }),
    output: outputs({ ovenDryMassG }),
    example: { massG: 1170, regainPct: 17 },
    calculate: (input) => ({ ovenDryMassG: calc.ovenDryMassGOfRegain(input) }),
  }),
  'conditioned-mass': calculation({
    summary: 'Conditioned (commercial) mass from oven-dry mass',
    formula: 'G = D · (1 + R/100)',
    input: inputs({ ovenDryMassG: positive('Oven-dry mass', 'g'), regainPct: commercialRegainPct }),
    output: outputs({ conditionedMassG: anyNumber('Conditioned mass', 'g') }),
    example: { ovenDryMassG: 1000, regainPct: 17 },
    calculate: (input) => ({ conditionedMassG: calc.conditionedMassG(input) }),
  }),
  'damp-goods': calculation({
    summary: 'What damp goods count as, from the regain they hold',
    formula: 'W = Wdamp · (1 + R/100) / (1 + Ractual/100)',
    input: inputs({
      dampMassG,
      actualRegainPct: regainPct.meta({ title: 'Regain that the goods hold', 'x-unit': '%' }),
      regainPct: commercialRegainPct,
    }),
    output: counted,
    example: { dampMassG: 260, actualRegainPct: 30, regainPct: 8.5 },
    calculate: (input) => ({ goodsDryMassG: calc.goodsDryMassGOfDamp(input) }),
  }),
  'damp-goods-by-sample': calculation({
    summary: 'What damp goods count as, from a piece of them that was weighed damp and again dried',
    formula: 'W = Wdamp · (sample dry / sample damp) · (1 + R/100)',
    input: z.discriminatedUnion(
      'sampleDriedTo',
      [
        inputs({
          ...driedSample,
          sampleDriedTo: z.literal('ovenDry').meta(driedTo),
          regainPct: commercialRegainPct,
        }),
        inputs({
          ...driedSample,
          sampleDriedTo: z.literal('airDry').meta(driedTo),
        }),
      ],
      oneOfSeveral('sampleDriedTo'),
    ),
    output: counted,
    example: {
      dampMassG: 260,
      sampleDampMassG: 26,
      sampleDryMassG: 20,
      sampleDriedTo: 'ovenDry',
      regainPct: 8.5,
    },
    calculate: (input) => ({ goodsDryMassG: calc.goodsDryMassGOfDriedSample(input) }),
  }),
};
