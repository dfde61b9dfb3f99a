import { z } from 'zod';
import { GoodsQuery, standardFields } from '../near/schemas.ts';
import { illuminant, LabResource, labConditions, observer, SpectrumBody } from '../readings/schemas.ts';
import {
  fromQuery,
  idField,
  jsonId,
  massMgField,
  optionalId,
  optionalText,
  pctPpmField,
  queryId,
  requiredText,
} from '../typedFields.ts';

// ───────────── JSON in ─────────────
const depth = z.number().min(0).max(2_000_000).meta({ description: 'depth on weight of goods, ppm: 1 % = 10 000' });
const RecipeToPredict = z
  .object({
    fibreId: jsonId,
    methodId: jsonId,
    components: z
      .array(
        z
          .object({ dyeId: jsonId.optional(), dyeCode: z.string().trim().min(1).max(40).optional(), depthPpm: depth })
          .refine((c) => (c.dyeId === undefined) !== (c.dyeCode === undefined), 'Either dyeId or dyeCode.'),
      )
      .max(12, 'At most twelve dyes.'),
    illuminant: illuminant.optional().meta({ description: 'with observer: the light to tell the colour under' }),
    observer: observer.optional(),
  })
  .refine((v) => (v.illuminant === undefined) === (v.observer === undefined), {
    path: ['observer'],
    message: 'Illuminant and observer go together.',
  })
  .meta({ id: 'RecipeToPredict' });
export type RecipeToPredictInput = z.output<typeof RecipeToPredict>;
/** One recipe, or a list of them. */
export const PredictBody = z.union([RecipeToPredict, z.array(RecipeToPredict).min(1).max(2000)]);

export const TargetBody = z
  .union([
    z.object(labConditions),
    z.object({
      hex: z
        .string()
        .regex(/^#[0-9a-fA-F]{6}$/, 'A colour code is # and six digits 0–9, a–f.')
        .meta({ description: 'sRGB, D65/2°' }),
    }),
    z.object({ swatchId: jsonId, band: z.number().int().min(0).max(11).default(0) }),
    z.object({ lotId: jsonId, band: z.number().int().min(0).max(11).default(0) }),
  ])
  .meta({ id: 'WantedColour' });
export type TargetInput = z.output<typeof TargetBody>;

/** As many dyes as a proposal may be made of. */
const DYE_COUNTS = [1, 2, 3, 4] as const;
const upToFour = (count: number): (typeof DYE_COUNTS)[number] => DYE_COUNTS.find((n) => n === count) ?? 4;

const DYES_FROM = ['fitting', 'inStock', 'favourites'] as const;
export const ProposalsBody = z
  .object({
    target: TargetBody,
    fibreId: jsonId,
    methodId: jsonId,
    dyes: z.enum(DYES_FROM).default('fitting').meta({
      description:
        'fitting: all whose class the goods take · inStock: of these, with powder there · favourites: the most used of these',
    }),
    dyeIds: z.array(jsonId).max(100).default([]).meta({ description: 'only these, where any are named' }),
    withoutDyeIds: z.array(jsonId).max(100).default([]),
    maxDyes: z.number().int().min(1).max(4).default(3).transform(upToFour),
    minDepthPpm: z
      .number()
      .int()
      .min(1)
      .max(2_000_000)
      .default(200)
      .meta({ description: 'least depth of a dye worth weighing' }),
    maxDepthPpm: z
      .number()
      .int()
      .min(1)
      .max(2_000_000)
      .nullable()
      .default(null)
      .meta({ description: 'deepest of one dye' }),
    count: z.number().int().min(1).max(12).default(5),
  })
  .meta({ id: 'ProposalsWanted' });

const undyedSpectrum = SpectrumBody.nullable()
  .default(null)
  .meta({ description: 'its reflectance curve, where it was measured' });
export const UndyedBody = z.object({ ...labConditions, spectrum: undyedSpectrum }).meta({ id: 'NewUndyedColour' });
export const UndyedResource = z
  .object({ fibreId: jsonId, ...labConditions, spectrum: SpectrumBody.nullable(), readAt: z.number().int() })
  .meta({ id: 'UndyedColour' });
export type UndyedColour = z.output<typeof UndyedResource>;

export const CorrectionBody = z
  .object({ standardSwatchId: jsonId.nullable().default(null) })
  .meta({ id: 'CorrectionWanted' });

// ───────────── JSON out ─────────────
const pair = z.array(z.number()).length(2);
const KnownResource = z.object({
  known: z.literal(true),
  lab: LabResource,
  illuminant,
  observer,
  hex: z.string().meta({ description: 'sRGB; clipped where inGamut is false' }),
  inGamut: z.boolean(),
  name: z.string(),
  interval90: z
    .object({ l: pair, a: pair, b: pair })
    .meta({ description: 'nine of ten times each coordinate lies within' }),
  deltaE90: z.number().meta({ description: 'nine of ten times the goods come out within this CIEDE2000 of lab' }),
  deltaE90AfterTrial: z.number().meta({ description: 'what deltaE90 would be once this recipe was dyed and read' }),
  beyond: z
    .object({ paleDyeIds: z.array(jsonId), deepDyeIds: z.array(jsonId) })
    .meta({ description: 'dyes paler than any swatch with them, or deeper: deltaE90 is the wider for it' }),
  sureInWords: z.string(),
  familiarity: z.enum(['alone', 'together', 'apart']).meta({
    description: 'alone: one dye · together: this set of dyes was dyed before · apart: never',
  }),
  calibratedOn: z
    .number()
    .int()
    .meta({ description: 'held-out swatches that the interval stands on; under 20 it leans on a wide guess' }),
  restsOn: z.array(z.object({ swatchId: jsonId, code: z.string(), name: z.string(), share: z.number() })),
  learnedFrom: z.object({
    swatchCount: z.number().int(),
    mixtureCount: z.number().int(),
    spectrumCount: z.number().int(),
    undyedGoods: z.enum(['read', 'assumed']),
    learningFrom: z.number().int().meta({
      description:
        'swatches added, changed or put away a moment ago: the answer is from before them, or takes the new ones in as they stand, while the whole is learned anew',
    }),
  }),
  adaptedFrom: z.string().nullable().meta({
    description:
      'the light of the swatches where none of them has a curve: under another light the colour is then an estimate',
  }),
});
export type PredictedShown = z.output<typeof KnownResource>;
const NotKnownResource = z.object({
  known: z.literal(false),
  reason: z.enum(['nothingLearned', 'dyeNotKnown', 'tooFewSwatches', 'tooDeep', 'tooManyDyes']),
  dyeIds: z.array(jsonId),
  message: z.string(),
});
export type NotKnown = z.output<typeof NotKnownResource>;
export const PredictionResource = z
  .discriminatedUnion('known', [KnownResource, NotKnownResource])
  .meta({ id: 'PredictedColour' });
export type PredictionShown = z.output<typeof PredictionResource>;
export const PredictionsResource = z.union([PredictionResource, z.array(PredictionResource)]);

const DyeKnown = z.object({
  dyeId: jsonId,
  code: z.string(),
  name: z.string(),
  alone: z.number().int().meta({ description: 'swatches of it alone' }),
  mixed: z.number().int().meta({ description: 'swatches of it with others' }),
  minDepthPpm: z.number(),
  maxDepthPpm: z.number(),
});
export type DyeKnown = z.output<typeof DyeKnown>;
export const KnowledgeResource = z
  .object({
    fibreId: jsonId,
    methodId: jsonId,
    known: z.boolean(),
    message: z.string().meta({ description: 'why nothing is known; empty otherwise' }),
    swatchCount: z.number().int(),
    mixtureCount: z.number().int(),
    spectrumCount: z.number().int(),
    undyedGoods: z.enum(['read', 'assumed']),
    variegatedLeftOut: z.number().int(),
    thinnedOut: z.number().int(),
    adapted: z.number().int(),
    learningFrom: z.number().int(),
    dyes: z.array(DyeKnown),
    doubtful: z.array(z.object({ swatchId: jsonId, code: z.string(), deltaE2000: z.number() })).meta({
      description: 'swatches that the others contradict: a slip of weighing, typing or reading, worth a look',
    }),
  })
  .meta({ id: 'MatchingKnowledge' });
export type Knowledge = z.output<typeof KnowledgeResource>;

const ProposedResource = z.object({
  dyeClass: z.string(),
  components: z.array(z.object({ dyeId: jsonId, code: z.string(), name: z.string(), depthPpm: z.number().int() })),
  totalDepthPpm: z.number().int(),
  predicted: KnownResource,
  deltaE2000: z.number().meta({ description: 'predicted colour from the target' }),
  underLamp: z
    .object({
      hex: z.string(),
      deltaE2000FromTarget: z.number().nullable(),
      deltaE2000FromFirst: z.number().nullable(),
      deltaE90: z.number(),
    })
    .meta({
      description:
        'illuminant A, with the ± there; from the target only where its curve is known, else from the first proposal',
    }),
  dyeCostMinorPer100g: z.number().int().nullable(),
});
export const ProposalsResource = z
  .discriminatedUnion('known', [
    z.object({
      known: z.literal(true),
      target: z.object({
        lab: LabResource,
        illuminant,
        observer,
        hex: z.string(),
        inGamut: z.boolean(),
        name: z.string(),
      }),
      adaptation: z.string(),
      proposals: z.array(ProposedResource),
      notKnownDyeIds: z.array(jsonId).meta({ description: 'allowed, and not known on these goods by this method' }),
    }),
    NotKnownResource,
  ])
  .meta({ id: 'Proposals' });

const verdict = z.enum(['leave', 'add', 'nearer', 'cannot']);
export type Verdict = z.output<typeof verdict>;
export const CorrectionResource = z
  .object({
    lotId: jsonId,
    standardSwatchId: jsonId,
    tolerance: z.number(),
    adaptation: z.string(),
    illuminant,
    observer,
    advice: z.discriminatedUnion('known', [
      z.object({
        known: z.literal(true),
        deltaE2000Now: z.number(),
        verdict,
        targetLighter: z.boolean(),
        offers: z.array(
          z.object({
            additions: z.array(
              z.object({
                dyeId: jsonId,
                code: z.string(),
                depthPpm: z.number().int(),
                massMg: z.number().int().meta({ description: 'powder of standard strength' }),
              }),
            ),
            lab: LabResource,
            hex: z.string(),
            deltaE2000: z.number(),
            deltaE90: z.number(),
          }),
        ),
      }),
      NotKnownResource,
    ]),
  })
  .meta({ id: 'LotCorrection' });

// ───────────── pages ─────────────
/** The colour that is wanted, as a search for near swatches says it, and what the recipes may be made of. */
export const ProposalsForm = z.object({
  ...standardFields,
  fibreId: queryId,
  methodId: queryId,
  dyes: fromQuery(z.enum(DYES_FROM, { error: 'Choose from the list.' }).default('fitting')),
  maxDyes: fromQuery(
    z
      .enum(['1', '2', '3', '4'], { error: 'One to four dyes.' })
      .default('3')
      .transform((count) => upToFour(Number(count))),
  ),
  least: fromQuery(pctPpmField('The least depth worth weighing.', { minPpm: 1, maxPpm: 100_000 }).default(200)),
  most: fromQuery(pctPpmField('The deepest of one dye.', { minPpm: 1, maxPpm: 2_000_000 }).optional()),
  recipeId: queryId,
});
export type ProposalsInput = z.output<typeof ProposalsForm>;

/** '12:3500,15:820': dye ids with their depths in ppm, as the buttons beside a recipe send them. */
export const formulaText = (components: readonly { dyeId: number; depthPpm: number }[]): string =>
  components.map(({ dyeId, depthPpm }) => `${dyeId}:${depthPpm}`).join(',');
export const formulaField = (unreadable: string) =>
  z
    .string({ error: unreadable })
    .regex(/^\d{1,15}:\d{1,7}(?:,\d{1,15}:\d{1,7}){0,11}$/, unreadable)
    .transform((text) =>
      text.split(',').map((part) => {
        const [dyeId = 0, depthPpm = 0] = part.split(':').map(Number);
        return { dyeId, depthPpm };
      }),
    )
    .refine((list) => list.every((c) => c.depthPpm >= 1 && c.depthPpm <= 2_000_000), unreadable);

export const TakeForm = z.object({
  formula: formulaField('Choose one of the proposals.'),
  as: z.enum(['recipe', 'revision', 'trial'], { error: 'As a recipe, a revision or a trial?' }),
  fibreId: idField('Choose the goods.'),
  methodId: idField('Choose a method.'),
  name: requiredText('A name for it.', 70),
  why: optionalText(500),
  mass: massMgField('How heavy is the piece?', 'g'),
  recipeId: optionalId(),
  likeSwatchId: optionalId(),
});

export const PredictedQuery = GoodsQuery.extend({
  revisionId: fromQuery(z.coerce.number().int().positive()),
  depth: fromQuery(pctPpmField('At which depth?', { minPpm: 1, maxPpm: 2_000_000 }).optional()),
});

export const KnowledgeQuery = z.object({
  fibreId: fromQuery(z.coerce.number().int().positive()),
  methodId: fromQuery(z.coerce.number().int().positive()),
});
export const UndyedForm = z.object({
  fibreId: idField('Choose the goods.'),
  colour: requiredText('L* a* b* of the undyed goods, or a colour code.', 80),
  illuminant: illuminant.default('D65'),
  observer: observer.default('10'),
});
export const CorrectionQuery = z.object({
  standard: fromQuery(z.coerce.number().int().positive().optional()).catch(undefined),
});
export const AdditionForm = z.object({
  offer: z
    .string({ error: 'Choose one of the offers.' })
    .regex(/^[0-9]$/, 'Choose one of the offers.')
    .transform(Number),
  /** What the page showed: the calculation must still say that. */
  words: requiredText('Open the page again.', 1000),
  standard: optionalId(),
});
