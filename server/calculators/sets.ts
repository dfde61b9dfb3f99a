import * as calc from '../calc/depthSeries.ts';
import { calculation } from './calculation.ts';
import {
  anyNumber,
  choice,
  depthPct,
  fromZero,
  inputs,
  list,
  outputs,
  positive,
  stockStrengthPct,
  upTo,
  wholeCount,
} from './fields.ts';

const pieces = (most: number) => wholeCount('Pieces').max(most, `This must be at most ${most}.`);
const firstDepthPct = positive('Depth of the first piece', '%');
const pieceDryMassG = positive('Dry mass of a piece', 'g');
const depths = list('Depths', '%', anyNumber('Depth', '%'));

export const sets = {
  'depth-series': calculation({
    summary: 'Depths of a set from the first piece to the last',
    formula: 'dₖ = d₁ · q^(k−1), q = (dₙ/d₁)^(1/(n−1))\ndₖ = d₁ − (k−1)(d₁ − dₙ)/(n−1)',
    source: 'P. Burch, 2012, pburch.net/dyeing/dyeblog/C1224992486',
    input: inputs({
      firstDepthPct,
      lastDepthPct: positive('Depth of the last piece', '%'),
      pieces: pieces(200),
      steps: choice('Steps by the same', ['factor', 'amount']),
    }),
    output: outputs({ depthsPct: depths }),
    example: { firstDepthPct: 4, lastDepthPct: 0.5, pieces: 4, steps: 'factor' },
    calculate: (input) => ({ depthsPct: calc.depthSeriesPct(input) }),
  }),
  'pour-and-refill': calculation({
    summary: 'A gradient by pouring half and filling up with water',
    formula: 'start · ½ⁿ',
    source: 'Dye Another Day, CD text, discmaster.textfiles.com/view/8117',
    input: inputs({ firstDepthPct, pieceDryMassG, pourMl: positive('One pour', 'mL'), pieces: pieces(50) }),
    output: outputs({
      jugMl: anyNumber('Jug', 'mL'),
      startMassG: anyNumber('Dye in the jug at first', 'g'),
      depthsPct: depths,
      leftMassG: anyNumber('Dye left', 'g'),
    }),
    example: { firstDepthPct: 2, pieceDryMassG: 100, pourMl: 200, pieces: 5 },
    calculate: calc.pourAndRefill,
  }),
  'ombre-totals': calculation({
    summary: 'What one bath has had after each addition of an ombré',
    source: 'lhitbd.blogspot.com/2012/07',
    input: inputs({ additionsMl: list('Additions', 'mL', fromZero('Addition', 'mL')) }),
    output: outputs({ totalsMl: list('In the bath in all', 'mL', anyNumber('Total', 'mL')) }),
    example: { additionsMl: [59.15, 59.15, 118.29, 236.59] },
    calculate: (input) => ({ totalsMl: calc.ombreTotalsMl(input) }),
  }),
  'series-volumes': calculation({
    summary: 'Stock solution for each of several small pieces',
    formula: 'V (mL) = W · d / c',
    source: 'T. Chiu, travelingtiger.com/crafts/dyeing.htm',
    input: inputs({ pieceDryMassG, depthsPct: list('Depths', '%', fromZero('Depth', '%')), stockStrengthPct }),
    output: outputs({ volumesMl: list('Stock solution', 'mL', anyNumber('Stock solution', 'mL')) }),
    example: { pieceDryMassG: 20, depthsPct: [1, 0.5, 0.25], stockStrengthPct: 1 },
    calculate: (input) => ({ volumesMl: calc.seriesVolumesMl(input) }),
  }),
  'shared-bath': calculation({
    summary: 'Dye of one bath over several goods in it',
    formula: 'mᵢ = M · Wᵢuᵢ / Σ Wu',
    input: inputs({
      dyeMassG: fromZero('Dye in the bath', 'g'),
      goods: list(
        'Goods',
        null,
        inputs(
          { dryMassG: positive('Dry goods', 'g'), uptakeFactor: positive('Uptake beside the others', null) },
          'Goods',
        ),
      ),
    }),
    output: outputs({ massesG: list('Dye', 'g', anyNumber('Dye', 'g')), depthsPct: depths }),
    example: {
      dyeMassG: 4,
      goods: [
        { dryMassG: 100, uptakeFactor: 1 },
        { dryMassG: 100, uptakeFactor: 1.2 },
      ],
    },
    calculate: calc.sharedBath,
  }),
  'depth-on-part': calculation({
    summary: 'Depth on the part of a blend that dyes',
    input: inputs({ depthPct, partDryPct: upTo('Its share of the dry mass', '%', 100) }),
    output: outputs({ depthPct: anyNumber('Depth on that part', '%') }),
    example: { depthPct: 2, partDryPct: 50 },
    calculate: (input) => ({ depthPct: calc.depthOnPartPct(input) }),
  }),
};
