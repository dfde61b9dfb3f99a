import { deltaE76, deltaE2000, deltaECmc } from '../calc/colour/deltaE.ts';
import { GREY_SCALE_GRADES, greyScaleBand } from '../calc/colour/tolerance.ts';
import { calculation } from './calculation.ts';
import { anyNumber, choice, inputs, outputs, positive } from './fields.ts';

const lab = (label: string) =>
  inputs({ l: anyNumber('L*', null), a: anyNumber('a*', null), b: anyNumber('b*', null) }, label);
/** Both under the same illuminant and observer. */
const pair = { standard: lab('Standard'), sample: lab('Sample') };
const labs = ({ standard, sample }: Record<'standard' | 'sample', { l: number; a: number; b: number }>) => ({
  standard: { L: standard.l, a: standard.a, b: standard.b },
  sample: { L: sample.l, a: sample.a, b: sample.b },
});
const example = { standard: { l: 50, a: 2.6772, b: -79.7751 }, sample: { l: 50, a: 0, b: -82.7485 } };

export const colour = {
  'delta-e-76': calculation({
    summary: 'Plain CIELAB difference of two colours read under one illuminant and observer',
    formula: 'the plain distance in CIELAB',
    source: 'CIE 015:2018, 8.2.1.3',
    input: inputs(pair),
    output: outputs({ deltaE76: anyNumber('ΔE*ab', null) }),
    example,
    calculate: (input) => ({ deltaE76: deltaE76(labs(input)) }),
  }),
  'delta-e-2000': calculation({
    summary: 'CIEDE2000 difference of two colours read under one illuminant and observer',
    source: 'Sharma, Wu & Dalal 2005',
    input: inputs(pair),
    output: outputs({ deltaE2000: anyNumber('ΔE00', null) }),
    example,
    calculate: (input) => ({ deltaE2000: deltaE2000(labs(input)) }),
  }),
  'delta-e-cmc': calculation({
    summary: 'CMC(l:c) difference; which of the two is the standard matters',
    source: 'Clarke, McDonald & Rigg, J. Soc. Dyers Colour. 100 (1984) 128–132; ISO 105-J03',
    input: inputs({
      ...pair,
      lightnessFactor: positive('l, 2 for acceptability and 1 for perceptibility', null),
      chromaFactor: positive('c, usually 1', null),
    }),
    output: outputs({ deltaECmc: anyNumber('ΔE CMC(l:c)', null) }),
    example: { ...example, lightnessFactor: 2, chromaFactor: 1 },
    calculate: ({ lightnessFactor: l, chromaFactor: c, ...colours }) => ({
      deltaECmc: deltaECmc({ ...labs(colours), l, c }),
    }),
  }),
  'grey-scale-step': calculation({
    summary: 'Colour difference of a grade of the grey scale for change, and how far a made scale may be off it',
    source: 'EN 20105-A02:1994 / ISO 105-A02, clause 2.4',
    input: inputs({ grade: choice('Grade', [...GREY_SCALE_GRADES]) }),
    output: outputs({ deltaE76: anyNumber('ΔE*ab', null), tolerance: anyNumber('Tolerance, ΔE*ab', null) }),
    example: { grade: '4' },
    calculate: ({ grade }) => greyScaleBand(grade),
  }),
};
