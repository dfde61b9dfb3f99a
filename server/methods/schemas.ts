import { z } from 'zod';
import { dyeClasses } from '../calc/classFit.ts';
import {
  durationSField,
  jsonId,
  optionalDurationS,
  optionalMlPerKg,
  optionalPctPpm,
  optionalTempC,
  optionalText,
  requiredText,
  versionField,
} from '../typedFields.ts';

export const vessel = z.enum(['bath', 'soak'], { error: 'In the bath or in a soak?' });
export const basis = z.enum(['owg', 'gPerL', 'mlPerL', 'fixedMass', 'fixedVolume'], {
  error: 'Choose what the amount goes by.',
});
const fieldKind = z.enum(['text', 'number', 'mass', 'temperature', 'duration', 'choice'], {
  error: 'Choose what kind of entry it is.',
});
const lossRange = { minPpm: 0, maxPpm: 1_000_000 };

/** What the method form says, its repeated rows gathered. Amounts of auxiliaries stay words here: what "1 cup" weighs depends
 *  on the auxiliary (amounts.ts). */
export const MethodForm = z.object({
  name: requiredText('A name, as you say it: “pot dyeing, cellulose, 1:20”.', 80),
  dyeClass: z
    .enum(['', ...dyeClasses], { error: 'Choose one from the list.' })
    .optional()
    .transform((v) => (v === undefined || v === '' ? null : v)),
  summary: optionalText(500),
  bathRatio: optionalMlPerKg(),
  soakRatio: optionalMlPerKg(),
  loss: optionalPctPpm(lossRange),
  cautions: optionalText(2000),
  version: versionField().optional(),
  steps: z
    .array(
      z.object({
        stepName: requiredText('What is done in this step?', 80),
        duration: durationSField('How long? Try 20 min or 1 h 30.'),
        temp: optionalTempC().refine((v) => v === null || (v >= -20 && v <= 200), 'Between −20 and 200 °C, please.'),
        handsOn: optionalDurationS(),
        stepNote: optionalText(500),
      }),
    )
    .max(40, 'At most forty steps.'),
  auxiliaries: z
    .array(
      z.object({
        auxiliaryId: z
          .string()
          .regex(/^[1-9]\d{0,14}$/, 'Choose the auxiliary.')
          .transform(Number),
        vessel,
        basis,
        amount: requiredText('How much of it?', 60),
      }),
    )
    .max(30, 'At most thirty lines.'),
  fields: z
    .array(
      z.object({
        label: requiredText('What is to be noted?', 60),
        kind: fieldKind,
        unit: optionalText(20),
        choices: optionalText(400),
      }),
    )
    .max(30, 'At most thirty entries.'),
});

const MethodStep = z.object({
  name: z.string().trim().min(1).max(80),
  durationS: z.number().int().min(0).max(31_536_000),
  tempC: z.number().min(-20).max(200).nullable().default(null),
  handsOnS: z.number().int().min(0).max(31_536_000).default(0),
  note: z.string().max(500).default(''),
});
const MethodAuxiliary = z.object({
  auxiliaryId: jsonId,
  vessel,
  basis,
  amountMilli: z
    .number()
    .int()
    .positive()
    .max(1_000_000_000)
    .meta({ description: 'thousandths of the unit of its basis: % owg, g/L, mL/L, g, mL' }),
  asTyped: z.string().max(60).default('').meta({ description: 'the words it was typed in, kept beside the figure' }),
});
const MethodField = z.object({
  label: z.string().trim().min(1).max(60),
  kind: fieldKind,
  unit: z.string().max(20).default(''),
  choices: z.array(z.string().trim().min(1).max(60)).max(20).default([]),
});

/** A method as the API takes it. */
export const MethodBody = z
  .object({
    name: z.string().trim().min(1).max(80),
    dyeClass: z.enum(dyeClasses).nullable().default(null),
    summary: z.string().max(500).default(''),
    bathMlPerKg: z.number().int().positive().nullable().default(null),
    soakMlPerKg: z.number().int().positive().nullable().default(null),
    lossPpm: z.number().int().min(0).max(1_000_000).default(0),
    cautions: z.string().max(2000).default(''),
    steps: z.array(MethodStep).max(40).default([]),
    auxiliaries: z.array(MethodAuxiliary).max(30).default([]),
    fields: z.array(MethodField).max(30).default([]),
  })
  .meta({ id: 'NewMethod' });
export type MethodInput = z.output<typeof MethodBody>;

export const MethodResource = MethodBody.extend({
  methodId: jsonId,
  archived: z.boolean(),
  version: z.number().int(),
}).meta({ id: 'Method' });

export type Method = z.output<typeof MethodResource>;

export const MethodListed = z
  .object({
    methodId: jsonId,
    name: z.string(),
    dyeClass: z.enum(dyeClasses).nullable(),
    summary: z.string(),
    bathMlPerKg: z.number().int().nullable(),
    soakMlPerKg: z.number().int().nullable(),
    lossPpm: z.number().int(),
    durationS: z.number().int(),
    handsOnS: z.number().int(),
    stepCount: z.number().int(),
    auxiliaryCount: z.number().int(),
    version: z.number().int(),
  })
  .meta({ id: 'MethodListed' });
export type MethodInList = z.output<typeof MethodListed>;
