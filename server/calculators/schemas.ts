import { z } from 'zod';

const named = z.object({
  name: z.string(),
  label: z.string(),
  unit: z.string().nullable(),
  isRequired: z.boolean(),
  isList: z.boolean(),
  whenLeftOut: z.number().nullable().describe('What is taken when it is left out; null when there is no such number'),
  choices: z.array(z.string()).nullable().describe('Words that it may be; null for a number or free text'),
});
const field = named.extend({
  fields: z.array(named).describe('Fields within it, for a group or each entry of a list'),
});

export type Field = z.output<typeof field>;

export const CalculationList = z.object({
  calculations: z.array(
    z.object({
      name: z.string().describe('The end of its address: POST /api/v1/calc/{name}'),
      family: z.string(),
      summary: z.string(),
      inputs: z.array(field),
      outputs: z.array(field),
    }),
  ),
});
