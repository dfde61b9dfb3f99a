import { z } from 'zod';
import { jsonId } from '../typedFields.ts';

export const dyeClass = z.enum(['reactive', 'acid', 'metalComplex', 'direct', 'basic', 'disperse', 'vat', 'natural'], {
  error: 'Choose the dye class.',
});

const depthPpm = z
  .number()
  .int()
  .min(1)
  .max(2_000_000)
  .meta({ description: 'depth on weight of goods, ppm: 1 % = 10 000' });
const why = z.string().trim().max(500).default('').meta({ description: 'why this revision was made' });

const splitShape = {
  entryStyle: z.literal('split'),
  totalDepthPpm: depthPpm,
  components: z
    .array(z.object({ dyeId: jsonId, sharePpm: z.number().int().min(1).max(1_000_000) }))
    .min(1, 'A recipe needs at least one dye.')
    .max(12, 'At most twelve dyes.'),
  why,
};
const ownDepthsShape = {
  entryStyle: z.literal('ownDepths'),
  components: z
    .array(z.object({ dyeId: jsonId, depthPpm }))
    .min(1, 'A recipe needs at least one dye.')
    .max(12, 'At most twelve dyes.'),
  why,
};
const recipeShape = {
  name: z.string().trim().min(1, 'A name, as you say the shade.').max(80),
  dyeClass,
  note: z.string().trim().max(2000).default(''),
};

/** One revision as the API takes it: shares of a total depth, or each dye by its own depth. */
export const RevisionBody = z
  .discriminatedUnion('entryStyle', [z.object(splitShape), z.object(ownDepthsShape)])
  .meta({ id: 'NewRecipeRevision' });
export type RevisionInput = z.output<typeof RevisionBody>;

/** A recipe with its first revision. */
export const RecipeBody = z
  .discriminatedUnion('entryStyle', [
    z.object({ ...recipeShape, ...splitShape }),
    z.object({ ...recipeShape, ...ownDepthsShape }),
  ])
  .meta({ id: 'NewRecipe' });
export type RecipeInput = z.output<typeof RecipeBody>;
