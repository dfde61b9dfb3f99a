import { z } from 'zod';
import {
  jsonId,
  jsonWebAddress,
  optionalNumber,
  optionalPctPpm,
  optionalText,
  optionalWebAddress,
  requiredText,
  volumeUlField,
} from '../typedFields.ts';

export const auxiliaryForm = z.enum(['solid', 'liquid'], { error: 'Solid or liquid?' });

/** A bulk density belongs to a grade: light and dense soda ash differ by nearly twice. */
const gradeMissing = (a: { bulkDensity: number | null; grade: string }): boolean =>
  a.bulkDensity !== null && a.grade.trim() === '';
const NAME_THE_GRADE = 'Name the grade that this bulk density belongs to: “light”, “dense”, “fine”.';

/** What the auxiliary form says. */
export const AuxiliaryForm = z
  .object({
    code: requiredText('A short code for cards and jars: “SODA”.', 12),
    name: requiredText('A name: “soda ash, light”.', 80),
    form: auxiliaryForm,
    hydrate: optionalText(60),
    grade: optionalText(60),
    bulkDensity: optionalNumber({ min: 20, max: 5000 }).transform((v) => (v === null ? null : Math.round(v))),
    solutionConc: optionalPctPpm({ minPpm: 100, maxPpm: 1_000_000 }),
    hazardCodes: optionalText(200),
    sdsUrl: optionalWebAddress(),
    note: optionalText(),
    version: z.string().regex(/^\d*$/).optional(),
  })
  .superRefine((input, ctx) => {
    if (gradeMissing(input)) ctx.addIssue({ code: 'custom', path: ['grade'], message: NAME_THE_GRADE });
  });

const auxiliaryShape = {
  code: z.string().trim().min(1).max(12).meta({ description: 'short code on cards and jars' }),
  name: z.string().trim().min(1).max(80),
  form: auxiliaryForm,
  hydrate: z.string().max(60).default('').meta({ description: 'as on the label: anhydrous, decahydrate' }),
  grade: z.string().max(60).default(''),
  bulkDensityGPerL: z
    .number()
    .int()
    .min(20)
    .max(5000)
    .nullable()
    .default(null)
    .meta({ description: 'of this grade, g/L = kg/m³; without it a cup has no mass' }),
  solutionConcPpm: z
    .number()
    .int()
    .min(100)
    .max(1_000_000)
    .nullable()
    .default(null)
    .meta({ description: 'strength when kept in solution, % w/v × 10 000' }),
  hazardCodes: z.string().max(200).default('').meta({ description: 'as printed on the safety data sheet' }),
  sdsUrl: jsonWebAddress.meta({ description: 'address of the safety data sheet, http or https' }),
  note: z.string().max(2000).default(''),
};
const gradeNamed = (input: { bulkDensityGPerL: number | null; grade: string }, ctx: z.RefinementCtx): void => {
  if (gradeMissing({ bulkDensity: input.bulkDensityGPerL, grade: input.grade })) {
    ctx.addIssue({ code: 'custom', path: ['grade'], message: NAME_THE_GRADE });
  }
};

/** An auxiliary as the API takes it. */
export const AuxiliaryBody = z.object(auxiliaryShape).superRefine(gradeNamed).meta({ id: 'NewAuxiliary' });
export const AuxiliaryChange = z
  .object({ ...auxiliaryShape, version: z.number().int() })
  .superRefine(gradeNamed)
  .meta({ id: 'AuxiliaryChange' });
export type AuxiliaryInput = z.output<typeof AuxiliaryBody>;

export const AuxiliaryResource = z
  .object({
    ...auxiliaryShape,
    auxiliaryId: jsonId,
    version: z.number().int(),
    archived: z.boolean(),
    unit: z.enum(['mg', 'ul']).meta({ description: 'a solid is kept by mass, a liquid by volume' }),
    onHandQuantity: z.number().int().meta({ description: 'in open containers that are not recalled, in `unit`' }),
    solutionUl: z.number().int(),
    openContainers: z.number().int(),
    cupMassMg: z
      .number()
      .int()
      .nullable()
      .meta({ description: 'one US cup of this grade; null while its bulk density is not known' }),
  })
  .meta({ id: 'Auxiliary' });
export type Auxiliary = z.output<typeof AuxiliaryResource>;
/** An auxiliary with what a page tells of its shelf beside what the API does. */
export type AuxiliaryOnShelf = Auxiliary & {
  receivedQuantity: number;
  recalledContainers: number;
  /** The earliest among containers as bought that hold some. */
  bestBeforeOn: string | null;
};
/** A method that calls for it, with how much of it as that was typed. */
export interface MethodWithAuxiliary {
  methodId: number;
  name: string;
  vessel: 'bath' | 'soak';
  asTyped: string;
}

/** The form's words as the API's input: one type behind both doors. */
export const auxiliaryInputOf = (form: z.output<typeof AuxiliaryForm>): AuxiliaryInput => ({
  code: form.code,
  name: form.name,
  form: form.form,
  hydrate: form.hydrate,
  grade: form.grade,
  bulkDensityGPerL: form.bulkDensity,
  solutionConcPpm: form.solutionConc,
  hazardCodes: form.hazardCodes,
  sdsUrl: form.sdsUrl,
  note: form.note,
});

/** What is scooped, as typed: "1½ cups", "3 tbsp". */
export const ScoopForm = z.object({ scoop: volumeUlField('A volume: “1½ cups”, “3 tbsp”, “250 mL”.', 'mL') });
