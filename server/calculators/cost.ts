import * as calc from '../calc/cost.ts';
import { calculation } from './calculation.ts';
import { anyNumber, fromZero, inputs, list, outputs, positive } from './fields.ts';

const held = inputs({
  quantity: fromZero('Quantity, all in one unit', null),
  unitCostMinor: fromZero('Cost of one unit', 'minor units'),
});
const overheadsMinor = list('Overheads', 'minor units', fromZero('Overhead', 'minor units'));

export const cost = {
  'overhead-rate': calculation({
    summary: 'Overhead rate for an hour of labour or of a machine',
    formula: 'estimated overhead / estimated base',
    source: 'Job-order costing, accounting4management.com',
    input: inputs({ overheadsMinor, baseHours: positive('Hours of a normal year', 'h') }),
    output: outputs({ rateMinorPerHour: anyNumber('Overhead rate', 'minor units/h') }),
    example: { overheadsMinor: [1_600_000, 700_000, 1_100_000, 1_400_000], baseHours: 24_000 },
    calculate: ({ overheadsMinor: overheads, baseHours: base }) => ({
      rateMinorPerHour: calc.overheadRate({ overheads, base }),
    }),
  }),
  'overhead-rate-on-labour-cost': calculation({
    summary: 'Overhead for each unit of money spent on labour',
    formula: 'estimated overhead / estimated base',
    source: 'Job-order costing, accounting4management.com',
    input: inputs({ overheadsMinor, labourCostMinor: positive('Labour of a normal year', 'minor units') }),
    output: outputs({ overheadFactor: anyNumber('Overhead to labour', null) }),
    example: { overheadsMinor: [4_800_000], labourCostMinor: 3_200_000 },
    calculate: ({ overheadsMinor: overheads, labourCostMinor: base }) => ({
      overheadFactor: calc.overheadRate({ overheads, base }),
    }),
  }),
  'moving-average': calculation({
    summary: 'Unit cost after a receipt, by moving average',
    formula: 'c = (Q₁·c₁ + Q₂·c₂) / (Q₁ + Q₂)',
    source: 'IAS 2 Inventories, IASB (weighted average)',
    input: inputs({ holdings: list('What is held, then each receipt', null, held) }),
    output: outputs({ unitCostMinor: anyNumber('Cost of one unit', 'minor units') }),
    example: {
      holdings: [
        { quantity: 500, unitCostMinor: 4 },
        { quantity: 250, unitCostMinor: 7 },
      ],
    },
    calculate: ({ holdings }) => ({
      unitCostMinor: calc.movingAverageUnitCost({
        holdings: holdings.map(({ quantity, unitCostMinor }) => ({ quantity, unitCost: unitCostMinor })),
      }),
    }),
  }),
  'fifo-issue': calculation({
    summary: 'Cost of an issue, first in, first out',
    source: 'IAS 2 Inventories, IASB (first in, first out)',
    input: inputs({
      layers: list('Receipts still in stock, oldest first', null, held),
      quantity: positive('Quantity issued, in the same unit', null),
    }),
    output: outputs({ costMinor: anyNumber('Cost of the issue, not rounded', 'minor units') }),
    example: {
      layers: [
        { quantity: 100, unitCostMinor: 4 },
        { quantity: 250, unitCostMinor: 7 },
      ],
      quantity: 150,
    },
    calculate: ({ layers, quantity }) => ({
      costMinor: calc.fifoIssue({
        layers: layers.map((layer) => ({ quantity: layer.quantity, unitCost: layer.unitCostMinor })),
        quantity,
      }).cost,
    }),
  }),
  'margin-of-markup': calculation({
    summary: 'Margin, on price, from a markup on cost',
    formula: 'margin = markup / (1 + markup/100)',
    input: inputs({ markupPct: anyNumber('Markup on cost', '%').gt(-100, 'This must be more than −100.') }),
    output: outputs({ marginPct: anyNumber('Margin on price', '%') }),
    example: { markupPct: 50 },
    calculate: (input) => ({ marginPct: calc.marginPctOfMarkup(input) }),
  }),
  'markup-of-margin': calculation({
    summary: 'Markup, on cost, from a margin on price',
    formula: 'markup = margin / (1 − margin/100)',
    input: inputs({ marginPct: anyNumber('Margin on price', '%').lt(100, 'This must be less than 100.') }),
    output: outputs({ markupPct: anyNumber('Markup on cost', '%') }),
    example: { marginPct: 33.3 },
    calculate: (input) => ({ markupPct: calc.markupPctOfMargin(input) }),
  }),
};
