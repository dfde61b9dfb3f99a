import { z } from 'zod';
import { dyeClasses } from '../calc/classFit.ts';
import {
  jsonId,
  jsonWebAddress,
  optionalCount,
  optionalPctPpm,
  optionalText,
  optionalWebAddress,
  requiredText,
} from '../typedFields.ts';

export const dyeClass = z.enum(dyeClasses, { error: 'Choose the dye class.' });

const band = () => optionalPctPpm({ minPpm: 1, maxPpm: 1_000_000 });

/** Pale, medium and deep must rise; one that is not given is no hindrance. Names the field that breaks the order. */
function bandOutOfOrder(bands: { [name: string]: number | null }): string | undefined {
  let last = 0;
  for (const [name, ppm] of Object.entries(bands)) {
    if (ppm === null) continue;
    if (ppm <= last) return name;
    last = ppm;
  }
  return undefined;
}
const RISING = 'Pale, medium and deep rise in this order.';

/** What the dye form says. */
export const DyeForm = z
  .object({
    code: requiredText('A short code for cards and jars: “R1”.', 12),
    name: requiredText('A name: “fibre-reactive turquoise”.', 80),
    class: dyeClass,
    colourant: z.enum(['single', 'mixed'], { error: 'Single colourant or shop-mixed?' }),
    ciName: optionalText(80),
    shownHex: z
      .string()
      .trim()
      .toLowerCase()
      .optional()
      .transform((v, ctx): string | null => {
        if (v === undefined || v === '') return null;
        const digits = /^#?([0-9a-f]{6})$/.exec(v)?.[1];
        if (digits) return `#${digits}`;
        ctx.addIssue({ code: 'custom', message: 'A colour code has six digits 0–9, a–f: “#2f7f8c”.' });
        return z.NEVER;
      }),
    pale: band(),
    medium: band(),
    deep: band(),
    solutionLifeDays: optionalCount().refine((v) => v === null || v > 0, 'At least one day, or leave it empty.'),
    hazardCodes: optionalText(200),
    sdsUrl: optionalWebAddress(),
    note: optionalText(),
    version: z.string().regex(/^\d*$/).optional(),
  })
  .superRefine(({ pale, medium, deep }, ctx) => {
    const field = bandOutOfOrder({ pale, medium, deep });
    if (field) ctx.addIssue({ code: 'custom', path: [field], message: RISING });
  });

const bandPpm = z.number().int().min(1).max(1_000_000).nullable().default(null);

const dyeShape = {
  code: z.string().trim().min(1).max(12).meta({ description: 'short code on cards and jars' }),
  name: z.string().trim().min(1).max(80),
  class: dyeClass,
  ciName: z.string().max(80).default('').meta({ description: 'C.I. generic name, where known' }),
  singleColourant: z.boolean().default(true).meta({ description: 'false for a shop-mixed blend' }),
  palePpm: bandPpm.meta({ description: 'depth that gives a pale shade, ppm on weight of goods: 1 % = 10 000' }),
  mediumPpm: bandPpm,
  deepPpm: bandPpm,
  solutionLifeDays: z.number().int().positive().max(3650).nullable().default(null),
  shownHex: z
    .string()
    .regex(/^#[0-9a-f]{6}$/)
    .nullable()
    .default(null)
    .meta({ description: 'colour of its chip on screen, no measurement' }),
  hazardCodes: z.string().max(200).default('').meta({ description: 'as printed on the safety data sheet' }),
  sdsUrl: jsonWebAddress.meta({ description: 'address of the safety data sheet, http or https' }),
  note: z.string().max(2000).default(''),
};
const risingBands = (
  { palePpm, mediumPpm, deepPpm }: { palePpm: number | null; mediumPpm: number | null; deepPpm: number | null },
  ctx: z.RefinementCtx,
): void => {
  const field = bandOutOfOrder({ palePpm, mediumPpm, deepPpm });
  if (field) ctx.addIssue({ code: 'custom', path: [field], message: RISING });
};

/** A dye as the API takes it. */
export const DyeBody = z.object(dyeShape).superRefine(risingBands).meta({ id: 'NewDye' });
export const DyeChange = z
  .object({ ...dyeShape, version: z.number().int() })
  .superRefine(risingBands)
  .meta({ id: 'DyeChange' });
export type DyeInput = z.output<typeof DyeBody>;

export const DyeResource = z
  .object({
    ...dyeShape,
    dyeId: jsonId,
    version: z.number().int(),
    archived: z.boolean(),
    onHandMg: z.number().int().meta({ description: 'powder in open containers that are not recalled, by the ledger' }),
    solutionUl: z.number().int().meta({ description: 'stock solution at hand, all strengths together' }),
    openContainers: z.number().int(),
  })
  .meta({ id: 'Dye' });

export type Dye = z.output<typeof DyeResource>;
/** A dye with what a page tells of its shelf beside what the API does. */
export type DyeOnShelf = Dye & {
  receivedMg: number;
  recalledContainers: number;
  /** The earliest among containers of powder that hold some. */
  bestBeforeOn: string | null;
};

export const DyeUses = z
  .object({
    recipes: z.array(
      z.object({
        recipeId: jsonId,
        name: z.string(),
        // The newest revision that uses the dye, and the newest of all.
        usedInRevision: z.number().int(),
        latestRevision: z.number().int(),
      }),
    ),
    swatches: z.array(z.object({ swatchId: jsonId, code: z.string(), name: z.string(), depthPpm: z.number().int() })),
    swatchCount: z.number().int(),
  })
  .meta({ id: 'DyeUses' });
export type Uses = z.output<typeof DyeUses>;
export type RecipeWithDye = Uses['recipes'][number];
/** On a page with its colour, once that has been read. */
export type SwatchWithDye = Uses['swatches'][number] & { hex: string | null };

/** The form's words as the API's input: one type behind both doors. */
export const dyeInputOf = (form: z.output<typeof DyeForm>): DyeInput => ({
  code: form.code,
  name: form.name,
  class: form.class,
  ciName: form.ciName,
  singleColourant: form.colourant === 'single',
  palePpm: form.pale,
  mediumPpm: form.medium,
  deepPpm: form.deep,
  solutionLifeDays: form.solutionLifeDays,
  shownHex: form.shownHex,
  hazardCodes: form.hazardCodes,
  sdsUrl: form.sdsUrl,
  note: form.note,
});
