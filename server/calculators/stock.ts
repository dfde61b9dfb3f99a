import * as calc from '../calc/stockSolution.ts';
import { calculation } from './calculation.ts';
import {
  anyNumber,
  depthPct,
  fromZero,
  goodsDryMassG,
  inputs,
  list,
  massG,
  outputs,
  positive,
  stockStrengthPct,
  upTo,
} from './fields.ts';

const dilutionNote = 'Dilution arithmetic note, orchidboard.com';
const labDip = 'Dyeing calculation in lab dip, textilecalculation.blogspot.com, 2015';
const fromStrengthPct = upTo('Strength of the stronger solution', '% w/v', 100);
const toStrengthPct = upTo('Strength of the weaker solution', '% w/v', 100);
const stockMl = positive('Stronger solution drawn', 'mL');
const toVolumeMl = positive('Weaker solution made', 'mL');
const waterMl = anyNumber('Water added', 'mL');
const stockVolume = outputs({ stockVolumeMl: anyNumber('Stock solution', 'mL') });

export const stock = {
  'stock-volume': calculation({
    summary: 'Stock solution that brings a depth, or another percentage on weight of goods',
    formula: 'V (mL) = W · d / c',
    source: labDip,
    input: inputs({ goodsDryMassG, depthPct, stockStrengthPct }),
    output: stockVolume,
    example: { goodsDryMassG: 454, depthPct: 1, stockStrengthPct: 1 },
    calculate: (input) => ({ stockVolumeMl: calc.stockVolumeMl(input) }),
  }),
  'stock-volume-of-mass': calculation({
    summary: 'Stock solution that holds a mass',
    formula: 'V (mL) = 100 · m / c',
    input: inputs({ massG: fromZero('Dye or auxiliary', 'g'), stockStrengthPct }),
    output: stockVolume,
    example: { massG: 0.1, stockStrengthPct: 1 },
    calculate: (input) => ({ stockVolumeMl: calc.stockVolumeMlOfMass(input) }),
  }),
  'stock-mass': calculation({
    summary: 'Powder to make a volume of stock solution, or held in it',
    formula: 'm = c · V / 100',
    source: 'J. Cowern, wool dye method, jennycowern.co.uk',
    input: inputs({ volumeMl: fromZero('Stock solution, made up to this volume', 'mL'), stockStrengthPct }),
    output: outputs({ massG }),
    example: { volumeMl: 500, stockStrengthPct: 1 },
    calculate: (input) => ({ massG: calc.stockMassG(input) }),
  }),
  'stock-left': calculation({
    summary: 'What is left of a stock solution, and the dye in it',
    formula: 'V = made − used, g = c · V / 100',
    input: inputs({
      madeVolumeMl: fromZero('Made', 'mL'),
      usedVolumeMl: fromZero('Used', 'mL'),
      stockStrengthPct,
    }),
    output: outputs({ volumeMl: anyNumber('Left', 'mL'), massG }),
    example: { madeVolumeMl: 250, usedVolumeMl: 180, stockStrengthPct: 2 },
    calculate: calc.stockLeft,
  }),
  dilution: calculation({
    summary: 'Stronger solution and water for a volume of a weaker one',
    formula: 'C₁V₁ = C₂V₂',
    source: dilutionNote,
    input: inputs({ fromStrengthPct, toStrengthPct, toVolumeMl }),
    output: outputs({ stockMl: anyNumber('Stronger solution to draw', 'mL'), waterMl }),
    example: { fromStrengthPct: 1, toStrengthPct: 0.1, toVolumeMl: 100 },
    calculate: calc.dilution,
  }),
  'diluted-volume': calculation({
    summary: 'What a measured volume of a stronger solution makes of a weaker one',
    formula: 'V₂ = C₁V₁ / C₂',
    source: dilutionNote,
    input: inputs({ fromStrengthPct, toStrengthPct, stockMl }),
    output: outputs({ toVolumeMl: anyNumber('Weaker solution made', 'mL'), waterMl }),
    example: { fromStrengthPct: 1, toStrengthPct: 0.1, stockMl: 10 },
    calculate: calc.dilutedVolume,
  }),
  'diluted-strength': calculation({
    summary: 'Strength of a solution once it has been made up to a larger volume',
    formula: 'C₂ = C₁V₁ / V₂',
    source: dilutionNote,
    input: inputs({ fromStrengthPct, stockMl, toVolumeMl }),
    output: outputs({ toStrengthPct: anyNumber('Strength of the weaker solution', '% w/v') }),
    example: { fromStrengthPct: 1, stockMl: 10, toVolumeMl: 100 },
    calculate: (input) => ({ toStrengthPct: calc.dilutedStrengthPct(input) }),
  }),
  'undiluted-strength': calculation({
    summary: 'Strength of the solution that a weaker one was made from',
    formula: 'C₁ = C₂V₂ / V₁',
    source: dilutionNote,
    input: inputs({ toStrengthPct, stockMl, toVolumeMl }),
    output: outputs({ fromStrengthPct: anyNumber('Strength of the stronger solution', '% w/v') }),
    example: { toStrengthPct: 0.1, stockMl: 10, toVolumeMl: 100 },
    calculate: (input) => ({ fromStrengthPct: calc.undilutedStrengthPct(input) }),
  }),
  'dilution-series': calculation({
    summary: 'A series of weaker and weaker solutions, each made from the one before',
    formula: 'C₁V₁ = C₂V₂',
    input: inputs({
      fromStrengthPct: upTo('Strength of the stock in hand', '% w/v', 100),
      steps: list(
        'Solutions, strongest first',
        null,
        inputs({ strengthPct: upTo('Strength', '% w/v', 100), wantedMl: fromZero('Wanted of it', 'mL') }),
      ),
    }),
    output: outputs({
      steps: list(
        'Solutions, strongest first',
        null,
        outputs({
          strengthPct: anyNumber('Strength', '% w/v'),
          drawnMl: anyNumber('Drawn from the one before', 'mL'),
          waterMl,
          madeMl: anyNumber('Made', 'mL'),
          wantedMl: anyNumber('Wanted of it', 'mL'),
        }),
      ),
    }),
    example: {
      fromStrengthPct: 1,
      steps: [
        { strengthPct: 0.1, wantedMl: 40 },
        { strengthPct: 0.01, wantedMl: 25 },
      ],
    },
    calculate: (input) => ({ steps: calc.dilutionSeries(input) }),
  }),
};
