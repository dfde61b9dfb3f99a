import { z } from 'zod';
import { dyeClasses } from '../calc/classFit.ts';
import type { Illuminant, KeptConditions, ObserverDeg } from '../calc/colour/reading.ts';
import { illuminant, LabResource, observer, readingSource } from '../readings/schemas.ts';
import { fromQuery, jsonId, optionalMassMg, queryId } from '../typedFields.ts';

/** A number in an address. */
export const queryNumber = (min: number, max: number) =>
  fromQuery(
    z.coerce.number({ error: 'A number.' }).min(min, `At least ${min}.`).max(max, `At most ${max}.`).optional(),
  );

/** The conditions under which swatches may be compared, by the names that an address gives them. */
export const COMPARED_UNDER = {
  'D65/2': { illuminant: 'D65', observer: '2' },
  'D65/10': { illuminant: 'D65', observer: '10' },
  'D50/2': { illuminant: 'D50', observer: '2' },
  'D50/10': { illuminant: 'D50', observer: '10' },
  'A/2': { illuminant: 'A', observer: '2' },
  'A/10': { illuminant: 'A', observer: '10' },
} as const satisfies Record<`${Illuminant}/${ObserverDeg}`, KeptConditions>;
export type ComparedUnder = keyof typeof COMPARED_UNDER;
const comparedUnder = z.enum(Object.keys(COMPARED_UNDER) as ComparedUnder[], {
  error: 'Illuminant/observer, such as D65/10.',
});
export const NEAR_FORMULAS = ['deltaE2000', 'deltaECmc21', 'deltaECmc11'] as const;

/** The colour that is looked for: typed, picked by lightness, chroma and hue, or of a swatch or a lot. */
export const standardFields = {
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
  plusMinus: queryNumber(0, 100).meta({
    description: 'how sure the colour is, CIEDE2000; only repeated in the answer',
  }),
};
/** The names of these in an address; what else stands there narrows and orders. */
export const STANDARD_NAMES: readonly string[] = Object.keys(standardFields);

const nearFields = {
  ...standardFields,
  fibreId: queryId,
  methodId: queryId,
  dyeClass: fromQuery(z.enum(dyeClasses, { error: 'Choose a class from the list.' }).optional()),
  depth: fromQuery(z.enum(['pale', 'medium', 'deep'], { error: 'pale, medium or deep' }).optional()),
  under: fromQuery(comparedUnder.optional()).meta({
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
type StandardQuery = z.output<z.ZodObject<typeof standardFields>>;
export type StandardInput = Partial<StandardQuery> & Pick<StandardQuery, 'illuminant' | 'observer' | 'band'>;

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
    lab: LabResource.meta({ description: 'of its nearest colour, under the conditions of the comparison' }),
    adaptedFrom: z.string().nullable().meta({ description: 'conditions of the reading, where they are others' }),
    source: readingSource,
    areaSharePpm: z.number().int().nullable(),
    deltaE: z.number().meta({ description: 'by the formula asked for' }),
    deltaE2000: z.number(),
    words: z.string(),
    shift: z
      .object({ lightness: z.string(), chroma: z.string(), redGreen: z.string(), yellowBlue: z.string() })
      .meta({ description: 'which way the swatch lies from the colour looked for' }),
  })
  .meta({ id: 'NearSwatch' });
export type NearTile = z.output<typeof NearSwatchResource>;

export const NearResource = z
  .object({
    standard: z.object({
      of: z.string(),
      lab: LabResource,
      illuminant,
      observer,
      labCompared: LabResource,
      hex: z.string(),
      inGamut: z.boolean(),
      name: z.string(),
      plusMinus: z.number().nullable(),
    }),
    formula: z.string(),
    under: comparedUnder,
    adaptation: z.string().meta({ description: 'what was adapted, in a sentence; empty when nothing was' }),
    near: z.array(NearSwatchResource),
  })
  .meta({ id: 'NearSwatches' });

/** Which goods, and dyed by which method, a page is about; any where the address says nothing readable. */
export const GoodsQuery = z.object({
  fibreId: fromQuery(z.coerce.number().int().positive().optional()).catch(undefined),
  methodId: fromQuery(z.coerce.number().int().positive().optional()).catch(undefined),
});
