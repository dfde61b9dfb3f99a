import { z } from 'zod';
import { dyeClasses } from '../calc/classFit.ts';
import { fixationProcedures, fixationTime } from '../calc/schedule.ts';
import { calculation } from './calculation.ts';
import { anyNumber, between, choice, inputs, outputs, words } from './fields.ts';

const kind = { title: 'Whether a time is published' };

export const schedule = {
  'fixation-time': calculation({
    summary: 'Shortest published time for a class of dye to fix, where one is known at that temperature',
    input: inputs({
      dyeClass: choice('Class of dye', dyeClasses),
      procedure: choice('Procedure', fixationProcedures),
      tempC: between('Temperature', '°C', -10, 150),
    }),
    output: z.discriminatedUnion('kind', [
      outputs({
        kind: z.literal('published').meta(kind),
        minimumS: anyNumber('Shortest time', 's'),
        source: words('Source'),
      }),
      outputs({ kind: z.literal('notKnown').meta(kind) }),
    ]),
    example: { dyeClass: 'reactive', procedure: 'immersion', tempC: 40 },
    calculate: fixationTime,
  }),
};
