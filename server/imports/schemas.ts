import { z } from 'zod';
import { ILLUMINANTS, OBSERVERS } from '../calc/colour/reading.ts';
import { fibreClass } from '../fibres/schemas.ts';
import { illuminant, observer, readingSource, SpectrumBody } from '../readings/schemas.ts';
import { cardWords, newCardBody } from '../swatches/schemas.ts';
import { jsonDay, jsonId, optionalMassMg, optionalPctPpm, optionalText, requiredText } from '../typedFields.ts';

export const IMPORT_KINDS = ['customers', 'fibres', 'dyes', 'auxiliaries', 'stock', 'swatches'] as const;
export type ImportKind = (typeof IMPORT_KINDS)[number];
export const importKind = z.enum(IMPORT_KINDS, { error: 'Choose what the file holds.' });

/** What the person says about a file: which column is what, and how to read what can be read two ways. */
export const Choices = z.object({
  /** Field → number of its column; a field that is not in the file is left out. */
  columns: z.record(z.string(), z.number().int().min(0)).default({}),
  decimal: z.enum(['auto', 'comma', 'point']).default('auto'),
  dates: z.enum(['', 'dmy', 'mdy']).default(''),
  duplicates: z.enum(['ask', 'skip', 'rename']).default('ask'),
  missing: z.enum(['ask', 'create']).default('ask'),
  newFibreClass: z.union([z.literal(''), fibreClass]).default(''),
  defaultDay: z.union([z.literal(''), jsonDay]).default(''),
  illuminant: illuminant.default('D65'),
  observer: observer.default('10'),
});
export type ChoicesInput = z.output<typeof Choices>;

/** The same from the form: `column.name` fields hold column numbers or nothing. */
export const ChoicesForm = Choices.omit({ columns: true });

export const draftParams = z.object({ draftId: z.uuid() });

// ───────────── swatches by the API ─────────────
const ImportedSwatch = z
  .object({
    code: z.string().trim().min(1).max(24).nullable().default(null).meta({ description: 'null: the next free number' }),
    name: z.string().trim().min(1).max(80),
    recipe: z
      .string()
      .trim()
      .min(1)
      .max(80)
      .nullable()
      .default(null)
      .meta({ description: 'name of its recipe; null: named by its formula' }),
    depthPpm: z
      .number()
      .int()
      .min(0)
      .max(2_000_000)
      .nullable()
      .default(null)
      .meta({ description: 'total depth; needed with shares, otherwise the sum of the components' }),
    components: z
      .array(
        z.object({
          dyeCode: z.string().trim().min(1).max(12),
          sharePpm: z.number().int().min(1).max(1_000_000).optional(),
          depthPpm: z.number().int().min(1).max(2_000_000).optional(),
          quantity: z
            .number()
            .positive()
            .max(200)
            .optional()
            .meta({ description: 'a bare quantity counts as a depth, % of the goods' }),
        }),
      )
      .max(12)
      .meta({
        description:
          'none: a sample of the goods before dyeing. Its colour (and spectrum) is kept with the goods, where predictions begin; several of the same goods in one import give their mean. Of the rest only `fibre` counts.',
      }),
    fibre: z.string().trim().min(1).max(80).meta({ description: 'name of the goods' }),
    method: z
      .string()
      .trim()
      .min(1)
      .max(80)
      .nullable()
      .default(null)
      .meta({ description: 'name of the method; needed with dyes' }),
    dyedOn: jsonDay.nullable().default(null).meta({ description: 'null: today' }),
    dryMassMg: z.number().int().positive().nullable().default(null),
    ...newCardBody,
    lab: z
      .object({
        l: z.number().min(0).max(110),
        a: z.number().min(-200).max(200),
        b: z.number().min(-200).max(200),
        illuminant,
        observer,
      })
      .nullable()
      .default(null),
    hex: z
      .string()
      .regex(/^#[0-9a-fA-F]{6}$/)
      .transform((v) => v.toLowerCase())
      .nullable()
      .default(null),
    source: z
      .enum(['instrument', 'typed'])
      .default('instrument')
      .meta({ description: 'of lab; a colour code is typed' }),
    spectrum: SpectrumBody.nullable()
      .default(null)
      .meta({ description: 'kept; without lab it gives the reading as well, D65/10°' }),
  })
  .meta({ id: 'ImportedSwatch' });
export type ImportedSwatchInput = z.output<typeof ImportedSwatch>;

export const SwatchImportBody = z
  .object({
    name: z.string().trim().max(200).default('by the API').meta({ description: 'what the list of imports calls it' }),
    duplicates: z
      .enum(['refuse', 'skip', 'rename'])
      .default('refuse')
      .meta({ description: 'what to do with codes that are there already' }),
    createMissing: z.boolean().default(false).meta({ description: 'add goods and methods that are not there yet' }),
    newFibreClass: fibreClass.nullable().default(null).meta({ description: 'class of goods added so' }),
    swatches: z.array(ImportedSwatch).min(1).max(5000),
  })
  .meta({ id: 'NewSwatchImport' });

const importShape = {
  importId: jsonId,
  kind: importKind,
  fileName: z.string(),
  rowCount: z.number().int(),
  madeAt: z.number().int(),
  undoneAt: z.number().int().nullable(),
};
export const ImportResource = z.object(importShape).meta({ id: 'Import' });
export type ImportOf = z.output<typeof ImportResource>;
export const SwatchImportResource = z
  .object({
    ...importShape,
    swatches: z.array(z.object({ swatchId: jsonId, code: z.string() })),
    undyedFibreIds: z.array(jsonId).meta({ description: 'goods whose colour before dyeing came with it' }),
    skipped: z.number().int(),
  })
  .meta({ id: 'SwatchImport' });

// ───────────── swatches by a file ─────────────
/** What a row of swatches says apart from its formula and colours, which swatchLine.ts reads. */
export const SwatchWords = z.object({
  code: optionalText(24),
  name: requiredText('A name, as you say the shade.', 80),
  recipe: optionalText(80),
  recipeRevision: z
    .string()
    .regex(/^\d{1,4}$/, 'A revision is a whole number.')
    .transform(Number)
    .optional(),
  entryStyle: z.enum(['', 'split', 'ownDepths'], { error: 'split or ownDepths' }).optional(),
  depth: optionalPctPpm({ minPpm: 1, maxPpm: 2_000_000 }),
  recipeDepth: optionalPctPpm({ minPpm: 1, maxPpm: 2_000_000 }),
  fibre: requiredText('On which goods was it dyed?', 80),
  method: requiredText('By which method was it dyed?', 80),
  dryMass: optionalMassMg('g'),
  ...cardWords,
});
/** What of them a sample of undyed goods needs. */
export const UndyedWords = SwatchWords.pick({ fibre: true });
/** What of them a formula is read by. */
export const DepthWords = SwatchWords.pick({ depth: true, recipeDepth: true, entryStyle: true, dryMass: true });
export type DepthWordsRead = z.output<typeof DepthWords>;

/** Readings as our own export writes them. */
export const OwnReadings = z.array(
  z.object({
    l: z.number().min(0).max(110),
    a: z.number().min(-200).max(200),
    b: z.number().min(-200).max(200),
    illuminant: z.enum(ILLUMINANTS),
    observer: z.enum(OBSERVERS),
    source: readingSource,
    asTyped: z.string().max(200).default(''),
    areaSharePpm: z.number().int().min(1).max(1_000_000).nullable().default(null),
    uncertaintyMilli: z.number().int().min(0).nullable().default(null),
    note: z.string().max(500).default(''),
    readAt: z.number().int().positive().nullable().default(null),
  }),
);

/** What would come of a row, or came of it. */
export interface RowReport {
  line: number;
  label: string;
  outcome: 'new' | 'skipped' | 'wrong';
  problems: { field: string; words: string }[];
  notes: string[];
}
