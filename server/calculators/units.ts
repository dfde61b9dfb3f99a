import { z } from 'zod';
import { converted, type Dimension, unitsOf } from '../calc/units.ts';
import { calculation } from './calculation.ts';
import { anyNumber, choice, inputs, oneOfSeveral, outputs } from './fields.ts';

const conversion = <D extends Dimension>(dimension: D) => {
  const names = unitsOf(dimension);
  return inputs({
    value: anyNumber('Value', null),
    from: choice('From', names),
    to: choice('To', names),
  });
};

export const units = {
  'unit-conversion': calculation({
    summary: 'One unit into another of the same kind',
    source: 'NIST SP 811, Guide for the Use of the SI, Appendix B, 2008',
    input: z.discriminatedUnion(
      'from',
      [
        conversion('mass'),
        conversion('length'),
        conversion('area'),
        conversion('volume'),
        conversion('arealMass'),
        conversion('linearDensity'),
        conversion('conc'),
        conversion('temperature'),
        conversion('liquorRatio'),
      ],
      oneOfSeveral('from'),
    ),
    output: outputs({ value: anyNumber('Value', null) }),
    example: { value: 8, from: 'oz', to: 'g' },
    calculate: (input) => ({ value: converted(input) }),
  }),
};
