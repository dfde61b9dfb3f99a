import { z } from 'zod';
import { CalcError } from '../calc/calcError.ts';
import { typedColour } from '../calc/colour/typedColour.ts';
import {
  fromQuery,
  jsonId,
  optionalMassMg,
  optionalPctPpm,
  optionalText,
  queryId,
  requiredText,
} from '../typedFields.ts';

export const illuminant = z.enum(['D65', 'D50', 'A'], { error: 'Choose the illuminant: D65, D50 or A.' });
export const observer = z.enum(['2', '10'], { error: 'Choose the observer: 2° or 10°.' });
/** Sources that a person may name; the others are named by the part that makes the reading. */
export const typedSource = z.enum(['instrument', 'typed'], {
  error: 'Measured by an instrument, or typed from elsewhere?',
});

const hexCode = z
  .string()
  .regex(/^#[0-9a-fA-F]{6}$/, 'A colour code is # and six digits 0–9, a–f.')
  .transform((v) => v.toLowerCase());

/** One colour as the API takes it: CIELAB with its conditions, or an sRGB code (taken as D65/2°). */
export const ReadingBody = z
  .object({
    l: z.number().min(0).max(110).optional(),
    a: z.number().min(-200).max(200).optional(),
    b: z.number().min(-200).max(200).optional(),
    illuminant: illuminant.optional(),
    observer: observer.optional(),
    hex: hexCode.optional(),
    source: typedSource,
    areaSharePpm: z.number().int().min(1).max(1_000_000).nullable().default(null),
    uncertaintyMilli: z
      .number()
      .int()
      .min(0)
      .max(1_000_000)
      .nullable()
      .default(null)
      .meta({ description: 'thousandths of a unit of CIEDE2000' }),
    note: z.string().max(500).default(''),
  })
  .superRefine((v, ctx) => {
    const lab = [v.l, v.a, v.b, v.illuminant, v.observer];
    if (v.hex !== undefined) {
      if (lab.some((x) => x !== undefined)) {
        ctx.addIssue({
          code: 'custom',
          path: ['hex'],
          message: 'Either a colour code, or L*, a*, b* with their conditions.',
        });
      }
      if (v.source === 'instrument') {
        ctx.addIssue({
          code: 'custom',
          path: ['source'],
          message: 'An instrument reads L*, a*, b*; a colour code is typed.',
        });
      }
      return;
    }
    for (const name of ['l', 'a', 'b', 'illuminant', 'observer'] as const) {
      if (v[name] === undefined)
        ctx.addIssue({ code: 'custom', path: [name], message: 'Needed, unless a colour code is given.' });
    }
  })
  .meta({ id: 'NewColourReading' });

/** A curve as the API and our own export have it. */
export const SpectrumBody = z.object({
  startNm: z.number().int().min(300).max(500),
  stepNm: z.union([z.literal(5), z.literal(10), z.literal(20)]),
  reflectance: z.array(z.number().min(0).max(2)).min(8).max(100).meta({ description: 'factors: 1 = all light' }),
});
export type SpectrumInput = z.output<typeof SpectrumBody>;

/** A colour as it is recorded. */
export interface ReadingInput {
  colour: { l: number; a: number; b: number; illuminant: 'D65' | 'D50' | 'A'; observer: '2' | '10' } | { hex: string };
  source: 'instrument' | 'photoWithCard' | 'typed' | 'predicted' | 'invented';
  /** What was typed, word for word; '' makes it from the colour code or leaves it empty. */
  asTyped: string;
  areaSharePpm: number | null;
  uncertaintyMilli: number | null;
  note: string;
  /** The photo that it was read from. */
  photoId?: number | null;
}

export const readingInputOf = (body: z.output<typeof ReadingBody>): ReadingInput => ({
  colour:
    body.hex !== undefined
      ? { hex: body.hex }
      : {
          l: body.l ?? 0,
          a: body.a ?? 0,
          b: body.b ?? 0,
          illuminant: body.illuminant ?? 'D65',
          observer: body.observer ?? '2',
        },
  source: body.source,
  asTyped: body.hex ?? '',
  areaSharePpm: body.areaSharePpm,
  uncertaintyMilli: body.uncertaintyMilli,
  note: body.note,
});

export const ColourReadingResource = z
  .object({
    readingId: jsonId,
    swatchId: jsonId.nullable(),
    lotId: jsonId.nullable(),
    orderLineId: jsonId.nullable(),
    l: z.number(),
    a: z.number(),
    b: z.number(),
    illuminant,
    observer,
    source: z.enum(['instrument', 'photoWithCard', 'typed', 'predicted', 'invented']),
    asTyped: z.string(),
    areaSharePpm: z.number().int().nullable(),
    uncertaintyMilli: z.number().int().nullable(),
    note: z.string(),
    readAt: z.number().int(),
    withdrawnAt: z.number().int().nullable(),
    photoId: jsonId.nullable().meta({ description: 'the photo that it was read from' }),
    hex: z.string(),
    inGamut: z.boolean().meta({ description: 'false: outside the screen’s range, hex is clipped' }),
    adapted: z
      .boolean()
      .meta({ description: 'true: hex was adapted from another illuminant or observer, an estimate' }),
    name: z.string(),
  })
  .meta({ id: 'ColourReading' });

/** Colours typed into a form: one line of fields a colour, and how all of them were got. */
export const readingFields = {
  readings: z
    .array(z.object({ colour: z.string(), share: optionalPctPpm({ minPpm: 1, maxPpm: 1_000_000 }), row: z.number() }))
    .max(12, 'At most twelve colours.'),
  readingSource: typedSource.default('typed'),
  illuminant: illuminant.default('D65'),
  observer: observer.default('10'),
  readingNote: optionalText(500),
};
const ReadingFields = z.object(readingFields);

/** The form's colours as they are recorded. Messages go beside `colour.N`. */
export function typedReadings(
  form: Pick<z.output<typeof ReadingFields>, 'readings' | 'readingSource' | 'illuminant' | 'observer' | 'readingNote'>,
): { inputs: ReadingInput[]; errors: Record<string, string> } {
  const inputs: ReadingInput[] = [];
  const errors: Record<string, string> = {};
  for (const { colour, share, row } of form.readings) {
    try {
      const typed = typedColour({
        text: colour,
        conditions: { illuminant: form.illuminant, observerDeg: form.observer === '2' ? 2 : 10 },
        field: `colour.${row}`,
      });
      inputs.push({
        colour: typed.hex
          ? { hex: typed.hex }
          : { l: typed.lab.L, a: typed.lab.a, b: typed.lab.b, illuminant: form.illuminant, observer: form.observer },
        // A colour code is no instrument's reading, whatever the rest of the form says.
        source: typed.hex ? 'typed' : form.readingSource,
        asTyped: colour,
        areaSharePpm: share,
        uncertaintyMilli: null,
        note: form.readingNote,
      });
    } catch (error) {
      if (!(error instanceof CalcError)) throw error;
      errors[error.field] = `${error.message.charAt(0).toUpperCase()}${error.message.slice(1)}.`;
    }
  }
  return { inputs, errors };
}

const queryNumber = (min: number, max: number) =>
  fromQuery(
    z.coerce.number({ error: 'A number.' }).min(min, `At least ${min}.`).max(max, `At most ${max}.`).optional(),
  );

export const COMPARED_UNDER = ['D65/2', 'D65/10', 'D50/2', 'D50/10', 'A/2', 'A/10'] as const;
export const NEAR_FORMULAS = ['deltaE2000', 'deltaECmc21', 'deltaECmc11'] as const;
const DYE_CLASSES = ['reactive', 'acid', 'metalComplex', 'direct', 'basic', 'disperse', 'vat', 'natural'] as const;

/** The colour that is looked for: typed, picked by lightness, chroma and hue, or of a swatch or a lot. */
const standardFields = {
  colour: fromQuery(z.string().max(80, 'At most 80 characters.').optional()).meta({
    description: 'typed: a colour code, L* a* b*, or LCh',
  }),
  illuminant: fromQuery(illuminant.default('D65')).meta({ description: 'of a typed L* a* b* or LCh' }),
  observer: fromQuery(observer.default('2')),
  lightness: queryNumber(0, 100).meta({ description: 'picked, with chroma and hue: CIELAB LCh, D65/2°' }),
  chroma: queryNumber(0, 200),
  hue: queryNumber(0, 360),
  swatchId: queryId,
  lotId: queryId,
  band: fromQuery(z.coerce.number().int().min(0).max(11).default(0)).meta({
    description: 'which colour of variegated goods, largest first',
  }),
  plusMinus: queryNumber(0, 100).meta({ description: 'how sure the colour is, CIEDE2000; only told again' }),
};
const nearFields = {
  ...standardFields,
  fibreId: queryId,
  methodId: queryId,
  dyeClass: fromQuery(z.enum(DYE_CLASSES, { error: 'Choose a class from the list.' }).optional()),
  depth: fromQuery(z.enum(['pale', 'medium', 'deep'], { error: 'pale, medium or deep' }).optional()),
  under: fromQuery(z.enum(COMPARED_UNDER, { error: 'Illuminant/observer, such as D65/10.' }).optional()).meta({
    description:
      'illuminant/observer of the comparison, those of the colour looked for unless said; what was read under others is adapted to it (Bradford)',
  }),
};

/** A search as the API takes it. */
export const NearQuery = z
  .object({
    ...nearFields,
    formula: fromQuery(
      z
        .enum([...NEAR_FORMULAS, 'deltaECmc'], { error: 'deltaE2000, deltaECmc21, deltaECmc11 or deltaECmc' })
        .default('deltaE2000'),
    ),
    l: queryNumber(0.1, 10).meta({ description: 'l of CMC(l:c), with formula=deltaECmc' }),
    c: queryNumber(0.1, 10).meta({ description: 'c of CMC(l:c), with formula=deltaECmc' }),
    stockForMassMg: queryNumber(1, 1e12).meta({
      description: 'only those whose dyes are in stock for so much of their goods',
    }),
    count: fromQuery(z.coerce.number().int().min(1).max(100).default(12)),
  })
  .superRefine((v, ctx) => {
    for (const name of ['l', 'c'] as const) {
      if (v.formula === 'deltaECmc' && v[name] === undefined) {
        ctx.addIssue({ code: 'custom', path: [name], message: 'CMC needs l and c, such as 2 and 1.' });
      }
    }
  });

/** The same as the page's form says it. */
export const NearForm = z.object({
  ...nearFields,
  formula: fromQuery(z.enum(NEAR_FORMULAS, { error: 'Choose a formula from the list.' }).default('deltaE2000')),
  stockFor: optionalMassMg('g'),
});
export type StandardInput = z.output<z.ZodObject<typeof standardFields>>;

const labResource = z.object({ l: z.number(), a: z.number(), b: z.number() });
export const NearSwatchResource = z
  .object({
    swatchId: jsonId,
    code: z.string(),
    name: z.string(),
    recipeName: z.string(),
    revisionId: jsonId,
    depthPpm: z.number().int(),
    fibreId: jsonId,
    fibreName: z.string(),
    methodId: jsonId,
    methodName: z.string(),
    dyes: z.string(),
    photoId: jsonId.nullable(),
    readingId: jsonId,
    hex: z.string(),
    inGamut: z.boolean(),
    lab: labResource.meta({ description: 'of its nearest colour, under the conditions of the comparison' }),
    adaptedFrom: z.string().nullable().meta({ description: 'conditions of the reading, where they are others' }),
    source: z.enum(['instrument', 'photoWithCard', 'typed', 'predicted', 'invented']),
    areaSharePpm: z.number().int().nullable(),
    deltaE: z.number().meta({ description: 'by the formula asked for' }),
    deltaE2000: z.number(),
    words: z.string(),
    shift: z
      .object({ lightness: z.string(), chroma: z.string(), redGreen: z.string(), yellowBlue: z.string() })
      .meta({ description: 'which way the swatch lies from the colour looked for' }),
  })
  .meta({ id: 'NearSwatch' });

export const NearResource = z
  .object({
    standard: z.object({
      of: z.string(),
      lab: labResource,
      illuminant,
      observer,
      labCompared: labResource,
      hex: z.string(),
      inGamut: z.boolean(),
      name: z.string(),
      plusMinus: z.number().nullable(),
    }),
    formula: z.string(),
    under: z.enum(COMPARED_UNDER),
    adaptation: z.string().meta({ description: 'what was adapted, in a sentence; empty when nothing was' }),
    near: z.array(NearSwatchResource),
  })
  .meta({ id: 'NearSwatches' });

const labFields = { l: z.number().min(0).max(120), a: z.number().min(-200).max(200), b: z.number().min(-200).max(200) };

/** A reference card that the studio measured, as the API takes it. */
export const CardBody = z
  .object({
    name: z.string().trim().min(1).max(80),
    columns: z.number().int().min(1).max(40),
    rows: z.number().int().min(1).max(40),
    illuminant,
    observer,
    patches: z
      .array(z.object({ name: z.string().trim().max(60).default(''), ...labFields }))
      .min(1)
      .max(1600)
      .meta({ description: 'row by row from the upper left' }),
    note: z.string().trim().max(500).default(''),
  })
  .meta({ id: 'NewReferenceCard' });
export type NewCard = z.output<typeof CardBody>;

export const CardResource = z
  .object({
    cardId: jsonId,
    card: z.string().meta({ description: 'what to send as `card` with a photo' }),
    name: z.string(),
    columns: z.number().int(),
    rows: z.number().int(),
    illuminant,
    observer,
    patches: z.array(z.object({ name: z.string(), l: z.number(), a: z.number(), b: z.number() })),
    note: z.string(),
    archived: z.boolean(),
    adaptation: z.string(),
  })
  .meta({ id: 'ReferenceCard' });

const side = z
  .string()
  .regex(/^([1-9]|[1-3]\d|40)$/, 'A number from 1 to 40.')
  .transform(Number);
/** The same as typed: patches one a line. */
export const CardForm = z.object({
  name: requiredText('A name, such as “Studio card, May”.', 80),
  columns: side,
  rows: side,
  illuminant: illuminant.default('D50'),
  observer: observer.default('2'),
  patches: requiredText('One line for each patch.', 100_000),
  note: optionalText(500),
});

/** JSON inside a field of a form. */
const jsonField = <T extends z.ZodType>(schema: T, unreadable: string) =>
  z
    .string()
    .transform((text, ctx): unknown => {
      try {
        return JSON.parse(text);
      } catch {
        ctx.addIssue({ code: 'custom', message: unreadable });
        return z.NEVER;
      }
    })
    .pipe(schema);

const finite = z.number({ error: 'A number of pixels.' });
const point = z.union(
  [z.object({ x: finite, y: finite }), z.tuple([finite, finite]).transform(([x, y]) => ({ x, y }))],
  {
    error: 'A place is {"x": …, "y": …} or [x, y].',
  },
);
const clusters = z.union([z.enum(['none', 'auto']), z.literal([3, 4, 5, 6])], {
  error: 'none, auto, or 3 to 6',
});
const regionBody = z.discriminatedUnion(
  'kind',
  [
    z.object({
      kind: z.literal('spot'),
      x: finite,
      y: finite,
      radiusPx: z.number().positive().optional(),
      clusters: clusters.default('none'),
    }),
    z.object({ kind: z.literal('area'), outline: z.array(point).min(3).max(400), clusters: clusters.default('none') }),
  ],
  { error: 'A region is of kind "spot" or "area".' },
);

/** Fields beside the photo, as the API takes them: pixels of the upright photo as it came. */
export const PhotoReadingFields = z.object({
  card: fromQuery(z.string().max(40).default('chart24Since2014')),
  greyL: queryNumber(10, 100),
  corners: fromQuery(
    jsonField(z.tuple([point, point, point, point], { error: 'Four places.' }), 'corners is not JSON').optional(),
  ),
  regions: fromQuery(
    jsonField(z.array(regionBody).max(100, 'At most 100 regions.'), 'regions is not JSON').optional(),
  ).transform((v) => v ?? []),
  swatchId: queryId,
  lotId: queryId,
});

/** Numbers between commas, as a page's address holds places: shares of the photo's width and height. */
const places = (text: string): { x: number; y: number }[] =>
  text
    .split(';')
    .filter(Boolean)
    .map((pair) => {
      const [x = Number.NaN, y = Number.NaN] = pair.split(',').map(Number);
      return { x, y };
    });
const placesField = (least: number, most: number, words: string) =>
  fromQuery(z.string().max(20_000).optional()).transform((text, ctx) => {
    if (text === undefined) return undefined;
    const read = places(text);
    if (
      read.length >= least &&
      read.length <= most &&
      read.every((p) => p.x >= -0.5 && p.x <= 1.5 && p.y >= -0.5 && p.y <= 1.5)
    ) {
      return read;
    }
    ctx.addIssue({ code: 'custom', message: words });
    return z.NEVER;
  });

/** Which card lies in a photo, and what the reading is of: what every page of the flow hands on. */
export const PhotoFlow = z.object({
  card: fromQuery(z.string().max(40).default('chart24Since2014')),
  greyL: fromQuery(z.string().max(12).optional()).transform((text, ctx): number | undefined => {
    if (text === undefined) return undefined;
    const L = Number(text.replace(',', '.'));
    if (L >= 10 && L <= 100) return L;
    ctx.addIssue({ code: 'custom', message: 'The L* of a grey card lies between 10 and 100.' });
    return z.NEVER;
  }),
  swatchId: queryId,
  lotId: queryId,
});

/** Where corners and goods lie on the page's photo, in shares of its width and height. */
export const PhotoPlaces = PhotoFlow.extend({
  corners: placesField(4, 4, 'Four corners, please.'),
  spots: placesField(1, 12, 'One to twelve spots, please.'),
  area: placesField(3, 400, 'Draw round an area.'),
  bands: fromQuery(z.enum(['none', 'auto', '3', '4', '5', '6']).default('none')),
});

const photoPoint = z.object({ x: z.number(), y: z.number() });
const lab = z.object({ l: z.number(), a: z.number(), b: z.number() });
const shownFields = {
  lab: lab.meta({ description: 'under `conditions`' }),
  labD65: lab.meta({ description: 'adapted to D65/2° by the Bradford transform, an estimate' }),
  hex: z.string(),
  inGamut: z.boolean(),
  name: z.string(),
  plusMinus: z.number().meta({ description: '90 % half-width, CIEDE2000, as far as the card tells' }),
};
export const PhotoReadingResource = z
  .object({
    outcome: z.enum(['read', 'cornersNeeded']),
    reason: z.string().nullable().meta({ description: 'why the card was not found: a code' }),
    message: z.string().meta({ description: 'what was found or not, in words' }),
    widthPx: z.number().int().meta({ description: 'of the upright photo, in whose pixels places are told' }),
    heightPx: z.number().int(),
    card: z.object({ card: z.string(), name: z.string(), columns: z.number().int(), rows: z.number().int() }),
    conditions: z.object({ illuminant, observer }),
    corners: z.array(photoPoint).nullable().meta({
      description:
        'middles of the corner patches: upper left, upper right, lower right, lower left of the card as drawn',
    }),
    cornersFrom: z.enum(['found', 'given']).nullable(),
    confidence: z.number().nullable(),
    turnedDeg: z.number().int().nullable(),
    residuals: z
      .object({
        heldOutMedian: z.number().nullable(),
        heldOutP90: z.number().nullable(),
        uncorrectedMedian: z.number(),
      })
      .nullable()
      .meta({ description: 'CIEDE2000 over the patches; held out: read by a fit that did not see the patch' }),
    patches: z.array(
      z.object({
        name: z.string(),
        known: lab,
        uncorrected: lab,
        heldOutDeltaE: z.number().nullable(),
        sd8: z.number().meta({ description: 'spread of the pixels, 8-bit units' }),
        clippedHighPct: z.number(),
        middle: photoPoint,
      }),
    ),
    warnings: z.array(z.object({ code: z.string(), message: z.string() }).loose()),
    regions: z.array(
      z.object({
        ...shownFields,
        spread: z.number(),
        clippedPct: z.number(),
        pixels: z.number().int(),
        clusters: z.array(z.object({ ...shownFields, areaSharePct: z.number(), spread: z.number() })),
      }),
    ),
    goods: z
      .object({ ...shownFields, spread: z.number(), between: z.number().nullable() })
      .nullable()
      .meta({ description: 'all regions together; null without regions' }),
    photoId: jsonId.nullable().meta({ description: 'of the photo kept, when a reading was kept' }),
    readings: z.array(ColourReadingResource).meta({ description: 'what was kept on the swatch or lot' }),
  })
  .meta({ id: 'PhotoReading' });
