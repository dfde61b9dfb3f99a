import * as cuts from '../calc/cutPieces.ts';
import * as calc from '../calc/salesTax.ts';
import { calculation } from './calculation.ts';
import { anyNumber, choice, fromZero, inputs, list, outputs, positive, under100, upTo, words } from './fields.ts';

const ratePct = fromZero('Rate of tax', '%').max(1000, 'This must be at most 1000.');
const netAmount = fromZero('Net', 'currency');
const cutSides = list('Shorter side, longer side', 'in', anyNumber('Side', 'in'));

export const selling = {
  'tax-on-net': calculation({
    summary: 'Tax on a net price, and the price with it',
    formula: 'incl = net · (1 + r)',
    source: 'tax guides for retailers and examination answers on value added tax, by kind',
    input: inputs({ netAmount, ratePct }),
    output: outputs({ taxAmount: anyNumber('Tax', 'currency'), grossAmount: anyNumber('With tax', 'currency') }),
    example: { netAmount: 200, ratePct: 20 },
    calculate: calc.taxOnNet,
  }),
  'tax-in-gross': calculation({
    summary: 'Tax and net price within a price that includes the tax',
    formula: 'tax = incl · r / (1 + r)',
    input: inputs({ grossAmount: fromZero('With tax', 'currency'), ratePct }),
    output: outputs({
      netAmount: anyNumber('Net', 'currency'),
      taxAmount: anyNumber('Tax', 'currency'),
      fraction: anyNumber('Tax of the whole', null),
    }),
    example: { grossAmount: 60, ratePct: 20 },
    calculate: calc.taxInGross,
  }),
  'invoice-tax': calculation({
    summary: 'Tax of an invoice, rounded line by line or once',
    input: inputs({
      netAmounts: list('Net, line by line', 'currency', netAmount),
      ratePct,
      rounding: choice('Rounded', calc.TAX_ROUNDINGS),
      currency: words('Currency, three letters'),
    }),
    output: outputs({ taxMinor: anyNumber('Tax', 'minor units') }),
    example: { netAmounts: [0.03, 0.03, 0.03], ratePct: 20, rounding: 'perLine', currency: 'GBP' },
    calculate: (input) => ({ taxMinor: calc.invoiceTaxMinor(input) }),
  }),
  'consignment-price': calculation({
    summary: 'Price at which a shop that keeps a share leaves what is wanted',
    formula: 'price = net / (1 − share)',
    source: 'consignment notes for craft sellers, by kind',
    input: inputs({ makerNetAmount: fromZero('Wanted', 'currency'), shopSharePct: under100('Share of the shop', 0) }),
    output: outputs({ priceAmount: anyNumber('Price', 'currency') }),
    example: { makerNetAmount: 65, shopSharePct: 40 },
    calculate: (input) => ({ priceAmount: calc.consignmentPrice(input) }),
  }),
  'ladder-price': calculation({
    summary: 'Wholesale or retail price as a multiple of what it cost',
    formula: 'wholesale = factor · (materials + labour + overhead)',
    source: 'pricing guides for makers, by kind (factor 2 for wholesale, 2.5 to 3 for retail)',
    input: inputs({
      materialsAmount: fromZero('Materials', 'currency'),
      labourAmount: fromZero('Labour', 'currency'),
      overheadAmount: fromZero('Overhead', 'currency'),
      factor: positive('Factor', null),
    }),
    output: outputs({ priceAmount: anyNumber('Price', 'currency') }),
    example: { materialsAmount: 2, labourAmount: 3, overheadAmount: 1, factor: 2 },
    calculate: (input) => ({ priceAmount: calc.ladderPrice(input) }),
  }),
  'fat-cut': calculation({
    summary: 'Sides of a fat quarter or a fat eighth',
    source: "quilters' cutting charts, by kind",
    input: inputs({ widthIn: positive('Width of the cloth', 'in'), cut: choice('Cut', ['quarter', 'eighth']) }),
    output: outputs({ sidesIn: cutSides }),
    example: { widthIn: 44, cut: 'quarter' },
    calculate: (input) => ({ sidesIn: cuts.fatCutIn(input) }),
  }),
  'fat-quarter-metric': calculation({
    summary: 'Sides of a fat quarter by the metric cut',
    input: inputs({ widthCm: positive('Width of the cloth', 'cm'), cutCm: positive('Length that is cut', 'cm') }),
    output: outputs({ sidesCm: list('Shorter side, longer side', 'cm', anyNumber('Side', 'cm')) }),
    example: { widthCm: 120, cutCm: 50 },
    calculate: (input) => ({ sidesCm: cuts.fatQuarterCm(input) }),
  }),
  'label-order': calculation({
    summary: 'Fibres in the order of a label',
    source:
      'Regulation (EU) 1007/2011; US rules under the Textile Fiber Products Identification Act. An outline: follow local law.',
    input: inputs({
      fibres: list('Fibres', null, inputs({ name: words('Fibre'), pct: upTo('Share', '%', 100) }, 'Fibre')),
    }),
    output: outputs({
      fibres: list('Fibres', null, outputs({ name: words('Fibre'), pct: anyNumber('Share', '%') })),
    }),
    example: {
      fibres: [
        { name: 'cotton', pct: 80 },
        { name: 'nylon', pct: 5 },
        { name: 'polyester', pct: 15 },
      ],
    },
    calculate: (input) => ({ fibres: cuts.labelOrder(input) }),
  }),
};
