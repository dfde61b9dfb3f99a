import { z } from 'zod';
import { HUE_FAMILIES } from '../calc/colour/colourName.ts';
import { ColourReadingResource, ReadingBody, readingFields } from '../readings/schemas.ts';
import {
  dayField,
  fromQuery,
  idField,
  jsonDay,
  jsonId,
  jsonQuantity,
  massMgField,
  NUMBER_IN_AN_ADDRESS,
  optionalId,
  optionalMassMg,
  optionalText,
  pctPpmField,
  queryId,
  requiredText,
  versionField,
} from '../typedFields.ts';

const DEPTH_BANDS = ['pale', 'medium', 'deep'] as const;
const SWATCH_ORDERS = ['hue', 'lightness', 'depth', 'newest', 'rating'] as const;

/** Which swatches, and in what order: the same words on the page and in the API. */
export const SwatchFilter = z.object({
  words: fromQuery(z.string().max(200, 'At most 200 characters.').default('')),
  fibreId: queryId,
  methodId: queryId,
  dyeId: queryId,
  depth: fromQuery(z.enum(DEPTH_BANDS, { error: 'pale, medium or deep' }).optional()),
  hue: fromQuery(z.enum(HUE_FAMILIES, { error: 'Choose a hue from the list.' }).optional()),
  inStock: fromQuery(z.enum(['yes', 'no']).default('no')).transform((v) => v === 'yes'),
  archived: fromQuery(z.enum(['yes', 'no']).default('no')).transform((v) => v === 'yes'),
  sort: fromQuery(z.enum(SWATCH_ORDERS, { error: 'hue, lightness, depth, newest or rating' }).default('hue')),
});
export type SwatchFilterInput = z.output<typeof SwatchFilter>;

/** What the page adds: how the wall is looked at. */
export const WallQuery = SwatchFilter.extend({
  from: fromQuery(z.coerce.number().int().min(0).max(1_000_000).default(0)),
  show: fromQuery(z.enum(['colour', 'photo']).default('colour')),
  size: fromQuery(z.enum(['large', 'dense']).default('large')),
});
export type WallQueryInput = z.output<typeof WallQuery>;

// ── what a card says besides what was dyed ──
/** One thing that a card says. Everything that takes a card or gives one has it from here: forms, files and the API. */
interface CardField<Body extends z.ZodType, Words extends z.ZodType<z.output<Body>>, Told extends z.ZodType> {
  /** In JSON as it is taken, and as it is told. */
  body: Body;
  told: Told;
  /** In the words of a form or of a file. */
  words: Words;
  /** Where nothing is said. */
  empty: z.output<Body>;
  /** As the form has it. */
  typed: (value: z.output<Body>) => string;
}
const cardField = <Body extends z.ZodType, Words extends z.ZodType<z.output<Body>>, Told extends z.ZodType>(
  field: CardField<Body, Words, Told>,
) => field;

const CARD = {
  cardPlace: cardField({
    body: z.string().trim().max(80),
    told: z.string(),
    words: optionalText(80),
    empty: '',
    typed: (place) => place,
  }),
  rating: cardField({
    body: z.number().int().min(1).max(5).nullable(),
    told: z.number().int().nullable(),
    words: z
      .enum(['', '1', '2', '3', '4', '5'], { error: 'A rating is 1 to 5.' })
      .optional()
      .transform((v) => (v ? Number(v) : null)),
    empty: null,
    typed: (stars) => String(stars ?? ''),
  }),
  note: cardField({
    body: z.string().trim().max(2000),
    told: z.string(),
    words: optionalText(),
    empty: '',
    typed: (note) => note,
  }),
};
type CardName = keyof typeof CARD;
export type Card = { [Name in CardName]: z.output<(typeof CARD)[Name]['body']> };

/** A card's fields, each made from what CARD says of it. */
const ofCard = <Made>(make: (name: CardName) => unknown): Made =>
  Object.fromEntries(Object.keys(CARD).map((name) => [name, make(name as CardName)])) as Made;
type Side<Key extends 'body' | 'told' | 'words'> = { [Name in CardName]: (typeof CARD)[Name][Key] };

const cardBody = ofCard<Side<'body'>>((name) => CARD[name].body);
const cardTold = ofCard<Side<'told'>>((name) => CARD[name].told);
/** In the words of a form or a file. */
export const cardWords = ofCard<Side<'words'>>((name) => CARD[name].words);
/** In JSON, where it may be left out. */
export const newCardBody = ofCard<{ [Name in CardName]: z.ZodDefault<(typeof CARD)[Name]['body']> }>((name) =>
  (CARD[name].body as z.ZodType).default(CARD[name].empty),
);
export const EMPTY_CARD = ofCard<Card>((name) => CARD[name].empty);
/** Of more than that what the card says. */
export const cardOf = (said: Card): Card => ofCard<Card>((name) => said[name]);
/** A card in the words of its form. */
export const cardTyped = (card: Card): Record<CardName, string> =>
  ofCard((name) => (CARD[name].typed as (value: Card[CardName]) => string)(card[name]));

/** A swatch as the API takes it. Without a code the next free number is taken. */
export const SwatchBody = z
  .object({
    code: z.string().trim().min(1).max(24).nullable().default(null),
    name: z.string().trim().min(1).max(80),
    revisionId: jsonId,
    depthPpm: z
      .number()
      .int()
      .min(1)
      .max(2_000_000)
      .meta({ description: 'total depth, ppm of the goods: 1 % = 10 000' }),
    fibreId: jsonId,
    methodId: jsonId,
    lotId: jsonId.nullable().default(null),
    dryMassMg: jsonQuantity.nullable().default(null),
    dyedOn: jsonDay,
    ...newCardBody,
    photoId: jsonId.nullable().default(null),
    stockLotIds: z.array(jsonId).max(24).default([]).meta({ description: 'containers of dye that were used' }),
    readings: z
      .array(ReadingBody)
      .max(12)
      .default([])
      .meta({ description: 'its colours; several for variegated goods' }),
  })
  .meta({ id: 'NewSwatch' });

export type SwatchInBody = z.output<typeof SwatchBody>;

export const SwatchEditBody = z
  .object({
    name: z.string().trim().min(1).max(80),
    ...cardBody,
    photoId: jsonId.nullable(),
    archived: z.boolean().default(false),
    version: z.number().int(),
  })
  .meta({ id: 'SwatchEdit' });
export type SwatchEdit = z.output<typeof SwatchEditBody>;

/** What the new-swatch form says. */
export const SwatchForm = z.object({
  code: requiredText('A card number.', 24),
  name: requiredText('A name, as you say the shade.', 80),
  revisionId: idField('Choose the recipe it was dyed by.'),
  depth: pctPpmField('The depth it was dyed to, in % of the goods.', { minPpm: 1, maxPpm: 2_000_000 }),
  fibreId: idField('Choose the goods.'),
  methodId: idField('Choose the method.'),
  dryMass: optionalMassMg('g'),
  dyedOn: dayField('The day it was dyed.'),
  ...cardWords,
  stockLots: z.array(optionalId()).max(24),
  ...readingFields,
});

/** The form's words as the API's input; a photo and readings come beside them, and a lot never does. */
export const swatchInputOf = (form: z.output<typeof SwatchForm>): Omit<SwatchInBody, 'photoId' | 'readings'> => ({
  code: form.code,
  name: form.name,
  revisionId: form.revisionId,
  depthPpm: form.depth,
  fibreId: form.fibreId,
  methodId: form.methodId,
  lotId: null,
  dryMassMg: form.dryMass,
  dyedOn: form.dyedOn,
  ...cardOf(form),
  stockLotIds: form.stockLots.filter((id) => id !== null),
});

export const SwatchEditForm = z.object({
  name: requiredText('A name, as you say the shade.', 80),
  ...cardWords,
  dropPhoto: z.literal('yes').optional(),
  archived: z.literal('yes').optional(),
  version: versionField(),
});

export const ReadingForm = z.object(readingFields);

/** "Repeat on n g of …": depth and goods may differ from the swatch's own. */
export const RepeatForm = z.object({
  mass: massMgField('The dry mass of the goods, such as 500 g or 1 lb 2 oz.'),
  fibreId: idField('Choose the goods.'),
  depth: pctPpmField('The depth, in % of the goods.', { minPpm: 1, maxPpm: 2_000_000 }),
});

const wholeQuery = (max: number) =>
  fromQuery(
    z
      .string({ error: 'Needed: a whole number.' })
      .regex(/^[1-9]\d{0,14}$/, 'A whole number above 0.')
      .transform(Number)
      .pipe(z.number().max(max)),
  ).meta({ ...NUMBER_IN_AN_ADDRESS, maximum: max });
/** The same in the API's units; goods and depth are the swatch's own where nothing is said. */
export const RepeatQuery = z.object({
  massMg: wholeQuery(1_000_000_000_000),
  fibreId: queryId,
  depthPpm: wholeQuery(2_000_000).optional(),
});

export const WeighUpResource = z
  .object({
    massMg: z.number().int(),
    depthPpm: z.number().int(),
    fibreId: jsonId,
    fibreName: z.string(),
    uptakePpm: z.number().int(),
    lossPpm: z.number().int(),
    readabilityMg: z.number().int(),
    floorMg: z.number().meta({ description: 'below this, stock solution is proposed' }),
    lines: z.array(
      z.object({
        dyeId: jsonId,
        code: z.string(),
        name: z.string(),
        ownDepthPpm: z.number().int(),
        exactMg: z.number(),
        roundedMg: z.number().int(),
        roundingErrorPct: z.number(),
        halfDigitErrorPct: z.number(),
        stock: z
          .object({
            strengthPpm: z.number().int(),
            volumeUl: z.number().int(),
            stepUl: z.number(),
            fills: z.number().int(),
            roundingErrorPct: z.number(),
          })
          .nullable(),
        noStockFits: z.enum(['tooLittleToMeasure', 'tooMuchLiquor']).nullable(),
        container: z
          .object({
            stockLotId: jsonId,
            code: z.string(),
            strengthPpm: z.number().int(),
            onHandMg: z.number().int(),
          })
          .nullable(),
        shortMg: z.number().int(),
      }),
    ),
    exactTotalMg: z.number(),
    roundedTotalMg: z.number().int(),
    bathUl: z.number().int().nullable(),
    warnings: z.array(z.string()),
  })
  .meta({ id: 'WeighUp' });
type WeighUp = z.output<typeof WeighUpResource>;
/** One dye of it as a page shows it: with the colour of its chip. */
export type WeighUpLine = WeighUp['lines'][number] & { shownHex: string | null };
export type WeighUpShown = Omit<WeighUp, 'lines'> & { lines: WeighUpLine[] };

/** One tile of the wall. */
export const SwatchListItem = z
  .object({
    swatchId: jsonId,
    code: z.string(),
    name: z.string(),
    revisionId: jsonId,
    recipeName: z.string(),
    depthPpm: z.number().int(),
    fibreId: jsonId,
    fibreName: z.string(),
    methodId: jsonId,
    methodName: z.string(),
    dyes: z.string().meta({ description: 'codes of its dyes with their shares' }),
    dyedOn: z.string(),
    rating: z.number().int().nullable(),
    photoId: jsonId.nullable(),
    hex: z.string().nullable(),
    bands: z.array(z.object({ hex: z.string(), sharePpm: z.number() })),
    lab: z
      .object({ l: z.number(), a: z.number(), b: z.number() })
      .nullable()
      .meta({ description: 'CIELAB D65/2° of the leading colour' }),
  })
  .meta({ id: 'SwatchListItem' });
export type SwatchTile = z.output<typeof SwatchListItem>;

export const SwatchResource = SwatchListItem.extend({
  recipeId: jsonId,
  revisionNumber: z.number().int(),
  namesNow: z.object({ recipeName: z.string(), fibreName: z.string(), methodName: z.string() }).meta({
    description: 'a swatch of a lot has the names of the lot’s closing; this is what the same are called now',
  }),
  correctedDepthPpm: z.number().int().nullable().meta({
    description: 'by the books of the lot, where the quantity of a dye was corrected after the swatch was made',
  }),
  components: z.array(
    z.object({
      dyeId: jsonId,
      code: z.string(),
      name: z.string(),
      sharePpm: z.number().int(),
      ownDepthPpm: z.number().int(),
    }),
  ),
  lotId: jsonId.nullable(),
  dryMassMg: z.number().int().nullable(),
  madeBy: z.object({ personId: jsonId, name: z.string() }),
  ...cardTold,
  archived: z.boolean(),
  version: z.number().int(),
  stockLots: z.array(z.object({ stockLotId: jsonId, code: z.string() })),
  readings: z.array(ColourReadingResource),
}).meta({ id: 'Swatch' });
export type Swatch = z.output<typeof SwatchResource>;

/** One dye of a swatch's formula as its page and its card show it. A swatch of a lot has the names that the dyes had when the lot was
 *  closed; `nowCalled` is what another name has become. */
export type SwatchComponent = Swatch['components'][number] & { shownHex: string | null; nowCalled: string | null };

/** A container of dye that was used for a swatch. */
export interface ContainerUsed {
  stockLotId: number;
  code: string;
  dyeId: number | null;
  makerLot: string;
  supplier: string;
  recalled: boolean;
}

/** A swatch as its page and its card show it. */
export type SwatchShown = Omit<Swatch, 'components' | 'stockLots' | 'readings'> & {
  dyeClass: string;
  lotNumber: string | null;
  components: SwatchComponent[];
  containers: ContainerUsed[];
};

/** A lot that was planned from a swatch. */
export interface LotFromSwatch {
  lotId: number;
  revisionId: number;
  number: string;
  status: 'planned' | 'onBench' | 'finished' | 'abandoned';
  goodsText: string;
  /** As dyed, of a closed lot. */
  dryMassMg: number;
  depthPpm: number;
  plannedAt: number;
}
