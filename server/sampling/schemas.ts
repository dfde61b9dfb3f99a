import { z } from 'zod';
import type { CardCorners } from '../calc/colour/cardFinding.ts';
import { HUE_FAMILIES } from '../calc/colour/colourName.ts';
import { formulaField } from '../matching/schemas.ts';
import { GoodsQuery } from '../near/schemas.ts';
import { illuminant, LabResource, labConditions, observer, readingSource, typedSource } from '../readings/schemas.ts';
import {
  fromQuery,
  idField,
  jsonDay,
  jsonId,
  massMgField,
  optionalCount,
  optionalDay,
  optionalMlPerKg,
  optionalPctPpm,
  optionalText,
  pctPpmField,
  requiredText,
} from '../typedFields.ts';

const KINDS = ['depthLadder', 'blendLadder', 'triangle', 'recipes'] as const;
const depthPpm = z.number().int().min(1).max(2_000_000);
const columns = z.number().int().min(1).max(40);

// ───────────── JSON in ─────────────
export const SamplingPlanBody = z
  .object({
    name: z.string().trim().min(1).max(80),
    kind: z.enum(KINDS),
    fibreId: jsonId,
    methodId: jsonId,
    stocks: z
      .array(
        z.object({
          dyeId: jsonId,
          concPpm: z.number().int().min(1).max(1_000_000).meta({ description: '% w/v in ppm: 1 % = 10 000' }),
        }),
      )
      .min(1)
      .max(12),
    ladder: z
      .object({
        fromPpm: depthPpm,
        toPpm: depthPpm,
        count: z.number().int().min(2).max(500),
        spacing: z.enum(['even', 'ratio']),
      })
      .nullable()
      .default(null),
    blend: z
      .object({ depthsPpm: z.array(depthPpm).min(1).max(12), stepPct: z.number().min(0.5).max(50) })
      .nullable()
      .default(null),
    recipes: z
      .array(
        z
          .array(z.number().int().min(0).max(2_000_000))
          .min(1)
          .max(12)
          .refine((r) => r.some((d) => d > 0), 'A recipe needs at least one dye.'),
      )
      .min(1)
      .max(500)
      .nullable()
      .default(null)
      .meta({ description: 'own depths of each dye, in the order of the stocks' }),
    pieceMassMg: z.number().int().min(1).max(1_000_000),
    liquorMlPerKg: z.number().int().min(1).max(1_000_000).nullable().default(null),
    reservePpm: z.number().int().min(0).max(1_000_000).default(100_000),
    gridColumns: columns.nullable().default(null),
    note: z.string().trim().max(2000).default(''),
  })
  .refine((v) => v.recipes === null || v.recipes.every((r) => r.length === v.stocks.length), {
    path: ['recipes'],
    message: 'One depth for each stock.',
  })
  .meta({ id: 'NewSamplingPlan' });

export const ResultsBody = z
  .object({
    results: z
      .array(
        z.object({
          ordinal: z.number().int().min(1),
          ...labConditions,
          source: typedSource,
        }),
      )
      .min(1)
      .max(500),
  })
  .meta({ id: 'SamplingResults' });
export type ResultInput = z.output<typeof ResultsBody>['results'][number];

const point = z.object({ x: z.number().min(-20_000).max(40_000), y: z.number().min(-20_000).max(40_000) });
const four = z.tuple([point, point, point, point]);
export const SheetPhotoBody = z
  .object({
    photoId: jsonId.meta({ description: 'of a photo kept by POST /photos' }),
    card: z.string().min(1).max(60),
    greyL: z.number().min(10).max(100).optional(),
    cardCorners: four
      .nullable()
      .default(null)
      .meta({ description: 'middles of its corner patches; null: it is looked for' }),
    gridCorners: four.meta({
      description: 'middles of the four corner pieces, from the first, clockwise, in pixels of the upright photo',
    }),
  })
  .meta({ id: 'SampleSheetPhoto' });

export const SwatchesBody = z
  .object({ dyedOn: jsonDay.nullable().default(null), cardPlace: z.string().trim().max(80).default('') })
  .meta({ id: 'SamplesToSwatches' });

// ───────────── JSON out ─────────────
export const SamplingPlanResource = z
  .object({
    planId: jsonId,
    name: z.string(),
    kind: z.enum(KINDS),
    fibreId: jsonId,
    methodId: jsonId,
    pieceMassMg: z.number().int(),
    liquorMlPerKg: z.number().int().nullable(),
    reservePpm: z.number().int(),
    gridColumns: z.number().int(),
    note: z.string(),
    stocks: z.array(
      z.object({
        dyeId: jsonId,
        code: z.string(),
        concPpm: z.number().int(),
        usedUl: z.number().int(),
        makeUl: z.number().int(),
        powderMg: z.number().int(),
      }),
    ),
    pieces: z.array(
      z.object({
        ordinal: z.number().int(),
        depthPpm: z.number().int(),
        sharesPpm: z.array(z.number().int()),
        stockUl: z.array(z.number()).meta({ description: 'of each stock, unrounded' }),
        waterUl: z.number().nullable(),
        lab: LabResource.extend({ illuminant, observer }).nullable(),
        source: readingSource.extract(['instrument', 'photoWithCard', 'typed']).nullable(),
        uncertaintyMilli: z.number().int().nullable(),
        swatchId: jsonId.nullable(),
      }),
    ),
  })
  .meta({ id: 'SamplingPlan' });
export type SamplingPlanShown = z.output<typeof SamplingPlanResource>;
export type SamplingKind = SamplingPlanShown['kind'];
export const SheetReadResource = z
  .object({
    read: z.boolean(),
    message: z.string().meta({ description: 'why not, or what to mind' }),
    kept: z.number().int(),
    plan: SamplingPlanResource,
  })
  .meta({ id: 'SampleSheetRead' });
export const MadeSwatchesResource = z.object({ swatchIds: z.array(jsonId) }).meta({ id: 'SamplesMadeSwatches' });

// ───────────── forms ─────────────
export const SamplingForm = z.object({
  name: requiredText('A name for the set.', 80),
  kind: z.enum(KINDS, { error: 'Ladder, blends or triangle?' }).exclude(['recipes'], {
    error: 'Ladder, blends or triangle?',
  }),
  fibreId: idField('Choose the goods.'),
  methodId: idField('Choose a method.'),
  dyes: z
    .array(
      z.object({
        dyeId: idField('Choose the dye.'),
        conc: pctPpmField('The strength of its stock solution.', { minPpm: 1, maxPpm: 1_000_000 }),
        row: z.number(),
      }),
    )
    .min(1, 'Choose the dyes.')
    .max(3),
  from: optionalPctPpm({ minPpm: 1, maxPpm: 2_000_000 }),
  to: optionalPctPpm({ minPpm: 1, maxPpm: 2_000_000 }),
  count: optionalCount(),
  spacing: z.enum(['even', 'ratio']).default('ratio'),
  depth: optionalPctPpm({ minPpm: 1, maxPpm: 2_000_000 }),
  step: z
    .string()
    .regex(/^\d{1,2}(\.\d{1,4})?$/, 'Choose a step.')
    .transform(Number),
  pieceMass: massMgField('How heavy is one piece?', 'g'),
  ratio: optionalMlPerKg(),
  reserve: pctPpmField('How much more to make?', { minPpm: 0, maxPpm: 1_000_000 }),
  gridColumns: optionalCount(),
  note: optionalText(),
});
export type SamplingWords = z.output<typeof SamplingForm>;

const corner = z
  .string()
  .trim()
  .regex(
    /^-?\d{1,5}(\.\d{1,2})?[ ,;]+-?\d{1,5}(\.\d{1,2})?$/,
    'Two numbers, such as 120 340: pixels from the left and from the top.',
  )
  .transform((text) => {
    const [x = 0, y = 0] = text.split(/[ ,;]+/).map(Number);
    return { x, y };
  });
const handCorner = corner.optional().catch(undefined);
/** Where the pieces lie in the photo, and the card where somebody shows it. */
export const SheetPhotoForm = z
  .object({
    card: requiredText('Which card lies in the photo?', 60),
    cardBy: z.enum(['find', 'hand']).default('find'),
    grid0: corner,
    grid1: corner,
    grid2: corner,
    grid3: corner,
    card0: handCorner,
    card1: handCorner,
    card2: handCorner,
    card3: handCorner,
  })
  .transform(({ card, cardBy, ...places }, ctx): SheetPlaces => {
    const { grid0, grid1, grid2, grid3, card0, card1, card2, card3 } = places;
    const gridCorners = [grid0, grid1, grid2, grid3] as const;
    if (cardBy === 'find') return { card, cardCorners: 'find', gridCorners };
    if (card0 && card1 && card2 && card3) return { card, cardCorners: [card0, card1, card2, card3], gridCorners };
    ctx.addIssue({ code: 'custom', path: ['corners'], message: 'Show all four corners of the card.' });
    return z.NEVER;
  });
interface SheetPlaces {
  card: string;
  cardCorners: CardCorners | 'find';
  gridCorners: CardCorners;
}

export const KeepForm = z.object({ dyedOn: optionalDay(), cardPlace: optionalText(80) });
export const TypedResultsForm = z.object({
  rows: z.array(z.object({ colour: z.string(), row: z.number() })).max(500),
  illuminant: illuminant.default('D65'),
  observer: observer.default('10'),
  source: typedSource.default('instrument'),
});
export type TypedResultsInput = z.output<typeof TypedResultsForm>;
export const NextForm = z.object({
  fibreId: idField('Choose the goods.'),
  methodId: idField('Choose a method.'),
  formulas: z
    .array(z.object({ formula: formulaField('Open the page again.'), row: z.number() }))
    .min(1, 'Nothing was chosen.')
    .max(12),
});
/** What to sample next: on which goods, among which hues, and of how many dyes. */
export const NextQuery = GoodsQuery.extend({
  hue: fromQuery(z.enum(['sold', 'any', ...HUE_FAMILIES]).default('sold')).catch('sold' as const),
  maxDyes: fromQuery(z.enum(['1', '2', '3']).default('2')).catch('2' as const),
});
