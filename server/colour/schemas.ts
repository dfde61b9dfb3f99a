import { z } from 'zod';
import { CalcError } from '../calc/calcError.ts';
import { typedColour } from '../calc/colour/typedColour.ts';
import { jsonId, optionalMassMg, optionalPctPpm, optionalText } from '../typedFields.ts';

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

const fromQuery = <T extends z.ZodType>(schema: T) =>
  z.preprocess((v) => (v === '' || v === undefined ? undefined : v), schema);
const queryId = fromQuery(
  z
    .string()
    .regex(/^[1-9]\d{0,14}$/, 'Choose one from the list.')
    .transform(Number)
    .optional(),
);
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
