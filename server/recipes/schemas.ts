import { z } from 'zod';
import { dyeClass } from '../dyes/schemas.ts';
import { pagedByText } from '../http/paging.ts';
import { idField, jsonId, optionalPctPpm, optionalText, requiredText, versionField } from '../typedFields.ts';

const depthPpm = z
  .number()
  .int()
  .min(1)
  .max(2_000_000)
  .meta({ description: 'depth on weight of goods, ppm: 1 % = 10 000' });
/** Left out: whatever is deeper than a dye is known to take is asked about. */
const depthConfirmed = z
  .boolean()
  .optional()
  .meta({ description: 'that a depth which was asked about, deeper than a dye is known to take, is meant' });
const why = z.string().trim().max(500).default('').meta({ description: 'why this revision was made' });

const splitShape = {
  entryStyle: z.literal('split'),
  totalDepthPpm: depthPpm,
  components: z
    .array(z.object({ dyeId: jsonId, sharePpm: z.number().int().min(1).max(1_000_000) }))
    .min(1, 'A recipe needs at least one dye.')
    .max(12, 'At most twelve dyes.'),
  why,
  depthConfirmed,
};
const ownDepthsShape = {
  entryStyle: z.literal('ownDepths'),
  components: z
    .array(z.object({ dyeId: jsonId, depthPpm }))
    .min(1, 'A recipe needs at least one dye.')
    .max(12, 'At most twelve dyes.'),
  why,
  depthConfirmed,
};
const recipeShape = {
  name: z.string().trim().min(1, 'A name, as you say the shade.').max(80),
  dyeClass,
  note: z.string().trim().max(2000).default(''),
};

/** One revision as the API takes it: shares of a total depth, or each dye by its own depth. */
const RevisionBody = z
  .discriminatedUnion('entryStyle', [z.object(splitShape), z.object(ownDepthsShape)])
  .meta({ id: 'NewRecipeRevision' });
export type RevisionInput = z.output<typeof RevisionBody>;
const fromRevision = z
  .number()
  .int()
  .positive()
  .meta({ description: 'number of the revision that this one was made from; refused when another was made meanwhile' });
/** A revision of a recipe that is there already. */
export const ChangedFormulaBody = z
  .discriminatedUnion('entryStyle', [
    z.object({ ...splitShape, fromRevision }),
    z.object({ ...ownDepthsShape, fromRevision }),
  ])
  .meta({ id: 'ChangedFormula' });

/** A recipe with its first revision. */
export const RecipeBody = z
  .discriminatedUnion('entryStyle', [
    z.object({ ...recipeShape, ...splitShape }),
    z.object({ ...recipeShape, ...ownDepthsShape }),
  ])
  .meta({ id: 'NewRecipe' });
export type RecipeInput = z.output<typeof RecipeBody>;

/** What may change on a recipe itself; the formula is not in it. */
export const ChangedRecipeBody = z
  .object({
    name: z.string().trim().min(1).max(80),
    note: z.string().max(2000).default(''),
    version: z.number().int(),
  })
  .meta({ id: 'ChangedRecipe' });

// ───────────── forms ─────────────
/** The formula as typed. The rows' amounts are shares or own depths, as the entry style says: read in typedFormula.ts. */
const formulaShape = {
  entryStyle: z.enum(['split', 'ownDepths'], { error: 'Shares of a total, or each dye by its own depth?' }),
  totalDepth: optionalPctPpm({ minPpm: 1, maxPpm: 2_000_000 }),
  shares: optionalText(80),
  components: z
    .array(z.object({ dyeId: idField('Choose the dye.'), amount: optionalText(40) }))
    .min(1, 'A recipe needs at least one dye.')
    .max(12, 'At most twelve dyes.'),
  why: optionalText(500),
  depthConfirmed: z.string().optional(),
};
export const FormulaForm = z.object(formulaShape);
export type FormulaWords = z.output<typeof FormulaForm>;
export const RecipeForm = z.object({
  name: requiredText('A name, as you say the shade: “slate, greenish”.', 80),
  dyeClass,
  note: optionalText(),
  ...formulaShape,
});
export const RecipeHeadForm = z.object({
  name: requiredText('A name, as you say the shade.', 80),
  note: optionalText(),
  version: versionField(),
});

export const RecipeFilterQuery = z.object({
  words: z.string().trim().max(100).default('').catch(''),
  dyeId: z.coerce.number().int().positive().nullable().catch(null).default(null),
  dyeClass: dyeClass.nullable().catch(null).default(null),
  archived: z.enum(['yes']).nullable().catch(null).default(null),
  after: z.string().max(80).nullable().catch(null).default(null),
});
/** The same for the API, where a filter that cannot be read is refused. */
export const RecipeApiFilter = z.object({
  words: z.string().trim().max(100).default(''),
  dyeId: z.coerce.number().int().positive().optional(),
  dyeClass: dyeClass.optional(),
  archived: z.enum(['yes', 'no']).default('no'),
  ...pagedByText(200),
});

// ───────────── resources ─────────────
const Component = z.object({
  ordinal: z.number().int(),
  dyeId: jsonId,
  dyeCode: z.string(),
  dyeName: z.string(),
  sharePpm: z.number().int(),
  depthPpm: z.number().int(),
});
export const RevisionResource = z
  .object({
    revisionId: jsonId,
    recipeId: jsonId,
    number: z.number().int(),
    entryStyle: z.enum(['split', 'ownDepths']),
    totalDepthPpm: z.number().int(),
    why: z.string(),
    madeAt: z.number().int().meta({ description: 'epoch milliseconds, UTC' }),
    components: z.array(Component),
  })
  .meta({ id: 'RecipeRevision' });
export type Revision = z.output<typeof RevisionResource>;
/** One dye of a formula as pages show it: with what the dye looks like on its own, where the studio has said so. */
export type FormulaLine = Revision['components'][number] & { hex: string | null };
export type RevisionShown = Omit<Revision, 'components'> & { components: FormulaLine[]; madeByName: string };

const recipeResourceShape = {
  recipeId: jsonId,
  name: z.string(),
  dyeClass,
  note: z.string(),
  archived: z.boolean(),
  version: z.number().int(),
};
export const RecipeListed = z
  .object({ ...recipeResourceShape, swatchCount: z.number().int(), latest: RevisionResource })
  .meta({ id: 'RecipeListed' });
/** On a page with the colour of its newest swatch that has been read. */
export type RecipeInList = z.output<typeof RecipeListed> & { hex: string | null };
export const RecipeResource = z
  .object({ ...recipeResourceShape, revisions: z.array(RevisionResource) })
  .meta({ id: 'Recipe' });
export type Recipe = z.output<typeof RecipeResource>;
export const ScaledResource = z
  .object({
    goodsDryMassMg: z.number().int(),
    readabilityMg: z.number().int(),
    lines: z.array(
      z.object({
        dyeId: jsonId,
        dyeName: z.string(),
        exactMg: z.number(),
        roundedMg: z.number().int(),
        roundingErrorPct: z.number(),
        weighsWell: z.boolean(),
      }),
    ),
    totalRoundedMg: z.number().int(),
  })
  .meta({ id: 'ScaledRecipe' });
export type Scaled = z.output<typeof ScaledResource>;

// ───────────── what stands on a recipe ─────────────
export interface SwatchOfRecipe {
  swatchId: number;
  revisionId: number;
  code: string;
  name: string;
  fibreName: string;
  depthPpm: number;
  /** What a screen shows for it; null while nobody has read its colour. */
  hex: string | null;
}

export interface LotOfRecipe {
  lotId: number;
  revisionId: number;
  number: string;
  status: 'planned' | 'onBench' | 'finished' | 'abandoned';
  goodsText: string;
  depthPpm: number;
  plannedAt: number;
}
