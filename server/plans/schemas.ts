import { z } from 'zod';
import { COVERAGES, WAYS_TO_FIND_MASS } from '../calc/lotTerms.ts';
import { invalid } from '../errors.ts';
import { typedRows, zodFieldErrors } from '../http/forms.ts';
import { basis, vessel } from '../methods/schemas.ts';
import {
  countField,
  idField,
  jsonDay,
  jsonId,
  lengthMmField,
  massMgField,
  optionalCount,
  optionalDay,
  optionalId,
  optionalLengthMm,
  optionalPctPpm,
  optionalText,
  optionalVolumeUl,
  pctPpmField,
  requiredText,
} from '../typedFields.ts';
import type { Rate } from './rates.ts';

export const integer = z.number().int();

const massMg = z.number().int().positive().max(1_000_000_000);

/** A plan as the API takes it. */
export const PlanBody = z
  .object({
    fibreId: jsonId,
    methodId: jsonId,
    goodsText: z.string().trim().min(1).max(200),
    pieces: z.number().int().positive().max(1_000_000).nullable().default(null),
    goodsOwner: z.enum(['studio', 'customer']).default('studio'),
    goodsStockLotId: jsonId.nullable().default(null),
    mass: z.discriminatedUnion('found', [
      z.object({ found: z.literal('weighedDry'), massMg }),
      z.object({ found: z.literal('stated'), massMg }),
      z.object({
        found: z.literal('weighedDamp'),
        dampMassMg: massMg,
        moisture: z.discriminatedUnion('kind', [
          z.object({
            kind: z.literal('sample'),
            dampSampleMg: massMg,
            drySampleMg: massMg,
            driedTo: z.enum(['airDry', 'ovenDry']),
          }),
          z.object({
            kind: z.literal('known'),
            waterPpmOfDry: z.number().int().min(0).max(10_000_000).meta({ description: 'water on oven-dry mass, ppm' }),
          }),
        ]),
      }),
      z.object({
        found: z.literal('fromArea'),
        lengthMm: z.number().int().positive(),
        widthMm: z.number().int().positive().nullable().default(null),
        pieces: z.number().int().positive(),
      }),
      z.object({ found: z.literal('fromPutUps'), count: z.number().int().positive() }),
    ]),
    coverage: z
      .enum(COVERAGES)
      .default('eachOverAll')
      .meta({ description: 'each colour at full depth over all of the piece, or over its share' }),
    colours: z
      .array(
        z.object({
          revisionId: jsonId,
          swatchId: jsonId.nullable().default(null),
          depthPpm: z
            .number()
            .int()
            .min(1)
            .max(2_000_000)
            .meta({ description: 'depth of shade, ppm on weight of goods: 2 % is 20 000' }),
          sharePpm: z.number().int().min(1).max(1_000_000).default(1_000_000),
          placement: z.string().max(200).default(''),
        }),
      )
      .min(1)
      .max(24),
    bathUl: z.number().int().positive().nullable().default(null),
    soakUl: z.number().int().positive().nullable().default(null),
    lossPpm: z.number().int().min(0).max(1_000_000).nullable().default(null),
    solutions: z.enum(['auto', 'never']).default('auto'),
    stockLotChoices: z.record(z.string().regex(/^(dye|auxiliary):\d+$/), jsonId).default({}),
    orderLines: z
      .array(z.object({ orderLineId: jsonId, pieces: z.number().int().positive().nullable().default(null) }))
      .max(50)
      .default([]),
    morePiecesConfirmed: z
      .boolean()
      .default(false)
      .meta({ description: 'that more pieces than an order line wants are meant' }),
    depthConfirmed: z
      .boolean()
      .default(false)
      .meta({ description: 'that a depth which was asked about, deeper than a dye is known to take, is meant' }),
    plannedForOn: jsonDay.nullable().default(null),
    repeatsLotId: jsonId.nullable().default(null),
  })
  .meta({ id: 'NewLot' });

/** What a plan is made of, typed or sent. */
type Confirmed = 'morePiecesConfirmed' | 'depthConfirmed';
export type PlanInput = Omit<z.output<typeof PlanBody>, Confirmed> & { [Name in Confirmed]?: boolean };
/** How the mass of the goods was found, as typed; the counted (conditioned) mass follows in goodsMass.ts. */
export type MassFound = PlanInput['mass'];
export type PlanColour = PlanInput['colours'][number];

const DEPTH = { minPpm: 1, maxPpm: 2_000_000 };

const PlanHead = z.object({
  fibreId: idField('Choose the goods.'),
  methodId: idField('Choose a method.'),
  goodsText: requiredText('Say what it is: “24 napkins”, “6 m gauze”.', 200),
  pieces: optionalCount(),
  goodsOwner: z.enum(['studio', 'customer'], { error: 'Whose goods are they?' }),
  goodsStockLotId: optionalId(),
  coverage: z.enum(COVERAGES).optional(),
  bath: optionalVolumeUl('L'),
  soak: optionalVolumeUl('L'),
  loss: optionalPctPpm({ minPpm: 0, maxPpm: 1_000_000 }),
  solutions: z.enum(['auto', 'never']).default('auto'),
  plannedForOn: optionalDay(),
  orderLineId: optionalId(),
  morePiecesConfirmed: z.string().optional(),
  depthConfirmed: z.string().optional(),
  repeatsLotId: optionalId(),
  massFound: z.enum(WAYS_TO_FIND_MASS, {
    error: 'How was the mass found?',
  }),
});

const PlanColourRow = z.object({
  revisionId: idField('Choose a recipe.'),
  swatchId: optionalId(),
  depth: pctPpmField('At which depth?', DEPTH),
  share: optionalPctPpm({ minPpm: 1, maxPpm: 1_000_000 }),
  placement: optionalText(200),
});

const MASS = {
  weighedDry: z
    .object({ mass: massMgField('The dry mass of the goods.') })
    .transform(({ mass }): MassFound => ({ found: 'weighedDry', massMg: mass })),
  stated: z
    .object({ mass: massMgField('The mass that was stated.') })
    .transform(({ mass }): MassFound => ({ found: 'stated', massMg: mass })),
  fromArea: z
    .object({
      length: lengthMmField('The length of a piece.', 'm'),
      width: optionalLengthMm('cm'),
      areaPieces: countField('How many pieces of that length?'),
    })
    .transform(
      ({ length, width, areaPieces }): MassFound => ({
        found: 'fromArea',
        lengthMm: length,
        widthMm: width,
        pieces: areaPieces,
      }),
    ),
  fromPutUps: z
    .object({ putUps: countField('How many put-ups?') })
    .transform(({ putUps }): MassFound => ({ found: 'fromPutUps', count: putUps })),
};

const DampSample = z
  .object({
    dampMass: massMgField('What the damp goods weigh.'),
    sampleDamp: massMgField('What the piece weighed damp.'),
    sampleDry: massMgField('What it weighed dry.'),
    driedTo: z.enum(['airDry', 'ovenDry'], { error: 'How dry was it?' }),
  })
  .transform(
    ({ dampMass, sampleDamp, sampleDry, driedTo }): MassFound => ({
      found: 'weighedDamp',
      dampMassMg: dampMass,
      moisture: { kind: 'sample', dampSampleMg: sampleDamp, drySampleMg: sampleDry, driedTo },
    }),
  );

const DampKnown = z
  .object({
    dampMass: massMgField('What the damp goods weigh.'),
    water: pctPpmField('Water, % of the oven-dry mass.', { minPpm: 0, maxPpm: 10_000_000 }),
  })
  .transform(
    ({ dampMass, water }): MassFound => ({
      found: 'weighedDamp',
      dampMassMg: dampMass,
      moisture: { kind: 'known', waterPpmOfDry: water },
    }),
  );

function massSchemaOf(found: string, moistureKind: string | undefined): z.ZodType<MassFound> {
  if (found === 'weighedDamp') return moistureKind === 'known' ? DampKnown : DampSample;
  return found in MASS ? MASS[found as keyof typeof MASS] : MASS.weighedDry;
}

/** Reads the plan form; every message is beside its own field, all at once. */
export function planInputOfForm(typed: Readonly<Record<string, string>>): PlanInput {
  const errors: Record<string, string> = {};
  const collect = <T>(parsed: z.ZodSafeParseResult<T>, rename: (name: string) => string = (n) => n): T | null => {
    if (parsed.success) return parsed.data;
    for (const [name, words] of Object.entries(zodFieldErrors(parsed.error))) errors[rename(name)] ??= words;
    return null;
  };
  const head = collect(PlanHead.safeParse(typed));
  const rows = typedRows(typed, ['revisionId', 'swatchId', 'depth', 'share', 'placement']).filter(
    (r, i) => i === 0 || r.revisionId !== '' || r.depth !== '',
  );
  if (rows.length === 0) errors['revisionId.0'] = 'Choose a recipe.';
  const colours = rows.map((row) => collect(PlanColourRow.safeParse(row), (name) => `${name}.${row.row}`));
  const found = typed['massFound'] ?? '';
  const mass = collect(massSchemaOf(found, typed['moistureKind']).safeParse(typed));
  if (colours.length > 1) {
    if (!typed['coverage']) errors['coverage'] = 'Several colours: say how they lie on the piece.';
    colours.forEach((c, i) => {
      // All left empty: equal parts. Some of them: nobody can know what is meant by the rest.
      if (
        c &&
        c.share === null &&
        typed['coverage'] === 'eachOverItsShare' &&
        colours.some((x) => x && x.share !== null)
      )
        errors[`share.${rows[i]?.row ?? i}`] = 'What part of the piece does it cover?';
    });
  }
  if (!head || !mass || colours.some((c) => c === null) || Object.keys(errors).length > 0) throw invalid(errors);
  const stockLotChoices: Record<string, number> = {};
  for (const [name, value] of Object.entries(typed)) {
    const m = /^container\.((?:dye|auxiliary):\d+)$/.exec(name);
    if (m?.[1] && /^[1-9]\d{0,14}$/.test(value)) stockLotChoices[m[1]] = Number(value);
  }
  return {
    fibreId: head.fibreId,
    methodId: head.methodId,
    goodsText: head.goodsText,
    pieces: head.pieces,
    goodsOwner: head.goodsOwner,
    goodsStockLotId: head.goodsStockLotId,
    mass,
    coverage: head.coverage ?? 'eachOverAll',
    colours: colours.flatMap((c) =>
      c
        ? [
            {
              revisionId: c.revisionId,
              swatchId: c.swatchId,
              depthPpm: c.depth,
              sharePpm: c.share ?? (colours.length === 1 ? 1_000_000 : Math.floor(1_000_000 / colours.length)),
              placement: c.placement,
            },
          ]
        : [],
    ),
    bathUl: head.bath,
    soakUl: head.soak,
    lossPpm: head.loss,
    solutions: head.solutions,
    stockLotChoices,
    orderLines: head.orderLineId === null ? [] : [{ orderLineId: head.orderLineId, pieces: head.pieces }],
    morePiecesConfirmed: head.morePiecesConfirmed === 'yes',
    depthConfirmed: head.depthConfirmed === 'yes',
    plannedForOn: head.plannedForOn,
    repeatsLotId: head.repeatsLotId,
  };
}

const PlanLineResource = z.object({
  ordinal: integer,
  kind: z.enum(['dye', 'auxiliary']),
  dyeId: integer.nullable(),
  auxiliaryId: integer.nullable(),
  code: z.string(),
  name: z.string(),
  colourOrdinal: integer.nullable(),
  vessel: vessel.nullable(),
  basis,
  /** What the amount was measured against, in words: "1.5 % owg", "50 g/L of bath". */
  basisText: z.string(),
  depthPpm: integer.nullable(),
  /** Mass before rounding; null for a liquid by volume. */
  exactUg: integer.nullable(),
  plannedMassMg: integer.nullable(),
  plannedVolumeUl: integer.nullable(),
  /** Strength of the solution that serves this line, ppm w/v; null when it is weighed or is a liquid as bought. */
  concPpm: integer.nullable(),
  /** Readability of the scale (mg) or division of the measure (µL). */
  step: integer,
  /** 100 · (rounded − exact) / exact. */
  roundingErrorPct: z.number().nullable(),
  /** Half a digit of this mass on this scale, %. */
  halfDigitErrorPct: z.number().nullable(),
  strengthPpm: integer,
  stockLotId: integer.nullable(),
  stockLotCode: z.string().nullable(),
  onHand: integer.nullable(),
  /** What is missing in the container, in the line's unit; 0 when there is enough. */
  short: integer,
  estimateMinor: integer,
  advice: z.string().nullable(),
});

export const PlanResource = z
  .object({
    fibreName: z.string(),
    methodName: z.string(),
    goodsText: z.string(),
    pieces: integer.nullable(),
    dryMassMg: integer,
    coverage: z.enum(COVERAGES),
    colours: z.array(
      z.object({
        ordinal: integer,
        recipeName: z.string(),
        revisionNumber: integer,
        revisionId: integer,
        swatchId: integer.nullable(),
        depthPpm: integer,
        sharePpm: integer,
        placement: z.string(),
        /** Depth over the whole of the piece, % owg. */
        depthOverAllPct: z.number(),
      }),
    ),
    /** Dye on the whole of the piece as recipes state it, % owg, before loss, uptake and strength. */
    depthOverAllPct: z.number(),
    /** Dye that is weighed, % owg of the piece, with loss, uptake and strength in it. */
    weighedPct: z.number(),
    lossPpm: integer,
    lossMassUg: integer,
    uptakePpm: integer,
    readabilityMg: integer,
    lines: z.array(PlanLineResource),
    bathUl: integer.nullable(),
    soakUl: integer.nullable(),
    /** Water beside all solutions in the bath, and by how much the solutions exceed it. */
    makeUpWaterUl: integer.nullable(),
    bathOverUl: integer,
    steps: z.array(
      z.object({
        ordinal: integer,
        name: z.string(),
        durationS: integer,
        tempC: z.number().nullable(),
        handsOnS: integer,
        note: z.string(),
      }),
    ),
    estimate: z.array(
      z.object({
        kind: z.string(),
        description: z.string(),
        quantity: integer,
        quantityUnit: z.enum(['mg', 'ul', 's']),
        costMinor: integer,
      }),
    ),
    estimateMinor: integer,
    warnings: z.array(z.string()),
    cautions: z.array(z.string()),
  })
  .meta({ id: 'Plan' });

/** A plan as its views need it: the shape of the snapshot, without the rules that make it. */

/* What of a plan is kept with its lot, beyond what the API tells. */

export interface PlanLine extends z.output<typeof PlanLineResource> {
  rate: Rate | null;
}
/** What a line is, before it is known how it is weighed or measured. */
export type PlanLineHead = Pick<
  PlanLine,
  | 'ordinal'
  | 'kind'
  | 'dyeId'
  | 'auxiliaryId'
  | 'code'
  | 'name'
  | 'colourOrdinal'
  | 'vessel'
  | 'basis'
  | 'basisText'
  | 'depthPpm'
  | 'strengthPpm'
>;
type PlanTold = z.output<typeof PlanResource>;
export interface PlanEstimateLine extends Omit<PlanTold['estimate'][number], 'kind'> {
  kind: 'dye' | 'auxiliary' | 'goods' | 'labour' | 'overhead';
  rate: Rate;
}
export interface Plan extends Omit<PlanTold, 'lines' | 'estimate'> {
  fibreId: number;
  methodId: number;
  goodsOwner: PlanInput['goodsOwner'];
  massFound: MassFound;
  lines: PlanLine[];
  /** Whether bath and soak grow with the goods (by the method's ratio) or were typed. */
  liquorFollowsGoods: boolean;
  fields: { label: string; kind: string; unit: string; choices: string }[];
  estimate: PlanEstimateLine[];
  /** How its materials are valued. Not in the snapshots of plans made before it was kept: those went by the container. */
  valuation?: 'specific' | 'movingAverage';
}
