import { z } from 'zod';
import {
  jsonId,
  jsonMoneyMinor,
  jsonQuantity,
  optionalArealMassMgPerM2,
  optionalLengthMm,
  optionalMassMg,
  optionalMoneyMinor,
  optionalPctPpm,
  optionalText,
  requiredText,
} from '../typedFields.ts';

export const fibreClass = z.enum(['cellulose', 'protein', 'polyamide', 'polyester', 'acetate', 'acrylic', 'blend'], {
  error: 'Choose the fibre class.',
});
export const fibreKind = z.enum(['cloth', 'yarn'], { error: 'Cloth or yarn?' });

/** What the fibre form says, in the studio's currency. */
export const FibreForm = (currency: string) =>
  z.object({
    name: requiredText('A name, as you say it: “linen, 190 g, natural”.', 80),
    class: fibreClass,
    kind: fibreKind,
    construction: optionalText(80),
    arealMass: optionalArealMassMgPerM2(),
    width: optionalLengthMm('cm'),
    countText: optionalText(40),
    putUpMass: optionalMassMg('g'),
    putUpLength: optionalLengthMm('m'),
    regain: optionalPctPpm({ minPpm: 0, maxPpm: 500_000 }),
    shrinkLength: optionalPctPpm({ minPpm: 0, maxPpm: 900_000 }),
    shrinkWidth: optionalPctPpm({ minPpm: 0, maxPpm: 900_000 }),
    uptake: optionalPctPpm({ minPpm: 100_000, maxPpm: 10_000_000 }),
    costPerKg: optionalMoneyMinor(currency),
    note: optionalText(),
    version: z.string().regex(/^\d*$/).optional(),
  });

/** A fibre as the API takes it. */
export const FibreBody = z
  .object({
    name: z.string().trim().min(1).max(80),
    class: fibreClass,
    kind: fibreKind,
    construction: z.string().max(80).default(''),
    arealMassMgPerM2: jsonQuantity.nullable().default(null),
    widthMm: jsonQuantity.nullable().default(null),
    countText: z.string().max(40).default(''),
    putUpMassMg: jsonQuantity.nullable().default(null),
    putUpLengthMm: jsonQuantity.nullable().default(null),
    regainPpm: z.number().int().min(0).max(500_000).nullable().default(null),
    shrinkLengthPpm: z.number().int().min(0).max(900_000).default(0),
    shrinkWidthPpm: z.number().int().min(0).max(900_000).default(0),
    uptakePpm: z.number().int().min(100_000).max(10_000_000).default(1_000_000),
    costMinorPerKg: jsonMoneyMinor.nullable().default(null),
    note: z.string().max(2000).default(''),
  })
  .meta({ id: 'NewFibre' });
export type FibreInput = z.output<typeof FibreBody>;

export const FibreResource = FibreBody.extend({
  fibreId: jsonId,
  version: z.number().int(),
  archived: z.boolean(),
}).meta({ id: 'Fibre' });

/** The form's words as the API's input: one type behind both doors. */
export const fibreInputOf = (form: z.output<ReturnType<typeof FibreForm>>): FibreInput => ({
  name: form.name,
  class: form.class,
  kind: form.kind,
  construction: form.construction,
  arealMassMgPerM2: form.arealMass,
  widthMm: form.width,
  countText: form.countText,
  putUpMassMg: form.putUpMass,
  putUpLengthMm: form.putUpLength,
  regainPpm: form.regain,
  shrinkLengthPpm: form.shrinkLength ?? 0,
  shrinkWidthPpm: form.shrinkWidth ?? 0,
  uptakePpm: form.uptake ?? 1_000_000,
  costMinorPerKg: form.costPerKg,
  note: form.note,
});
