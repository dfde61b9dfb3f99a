import { z } from 'zod';
import { CalcError } from '../calc/calcError.ts';
import {
  conditionsOf,
  ILLUMINANTS,
  type KeptConditions,
  type KeptLab,
  keptLab,
  OBSERVERS,
  READING_SOURCES,
  type ReadingSource,
} from '../calc/colour/reading.ts';
import { typedColour } from '../calc/colour/typedColour.ts';
import { jsonId, optionalPctPpm, optionalText } from '../typedFields.ts';

export const illuminant = z.enum(ILLUMINANTS, { error: 'Choose the illuminant: D65, D50 or A.' });
export const observer = z.enum(OBSERVERS, { error: 'Choose the observer: 2° or 10°.' });
export const readingSource = z.enum(READING_SOURCES);
/** Sources that a person may name; the others are named by the part of the service that makes the reading. */
export const typedSource = z.enum(['instrument', 'typed'], {
  error: 'Measured by an instrument, or typed from elsewhere?',
});

const hexCode = z
  .string()
  .regex(/^#[0-9a-fA-F]{6}$/, 'A colour code is # and six digits 0–9, a–f.')
  .transform((v) => v.toLowerCase());

/** CIELAB with its conditions, as the API takes it. */
export const labConditions = {
  l: z.number().min(0).max(110),
  a: z.number().min(-200).max(200),
  b: z.number().min(-200).max(200),
  illuminant,
  observer,
};
/** CIELAB as the API tells it; its conditions stand beside it. */
export const LabResource = z.object({ l: z.number(), a: z.number(), b: z.number() });

/** One colour as the API takes it: CIELAB with its conditions, or an sRGB code (taken as D65/2°). */
export const ReadingBody = z
  .object({
    l: labConditions.l.optional(),
    a: labConditions.a.optional(),
    b: labConditions.b.optional(),
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
  colour: (KeptLab & KeptConditions) | { hex: string };
  source: ReadingSource;
  /** What was typed, word for word; '' stands for the colour code, or for nothing. */
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
    ...LabResource.shape,
    illuminant,
    observer,
    source: readingSource,
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
export type ColourReading = z.output<typeof ColourReadingResource>;
export const ReadingList = z.object({ readings: z.array(ColourReadingResource) });

/** Colours typed into a form: one line of fields for each colour, and how all of them were obtained. */
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
type TypedReadings = Pick<
  z.output<typeof ReadingFields>,
  'readings' | 'readingSource' | 'illuminant' | 'observer' | 'readingNote'
>;

/** The form's colours as they are recorded. Messages stand beside `colour.N`. */
export function typedReadings(form: TypedReadings): { inputs: ReadingInput[]; errors: Record<string, string> } {
  const inputs: ReadingInput[] = [];
  const errors: Record<string, string> = {};
  for (const { colour, share, row } of form.readings) {
    try {
      const typed = typedColour({
        text: colour,
        conditions: conditionsOf(form),
        field: `colour.${row}`,
      });
      inputs.push({
        colour: typed.hex
          ? { hex: typed.hex }
          : { ...keptLab(typed.lab), illuminant: form.illuminant, observer: form.observer },
        // A colour code is no instrument's reading, whatever the rest of the form says.
        source: typed.hex ? 'typed' : form.readingSource,
        asTyped: colour,
        areaSharePpm: share,
        uncertaintyMilli: null,
        note: form.readingNote,
      });
    } catch (error) {
      if (!(error instanceof CalcError)) throw error;
      errors[error.field] = error.sentence;
    }
  }
  return { inputs, errors };
}
