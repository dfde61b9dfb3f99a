import { z } from 'zod';
import { invalid } from '../errors.ts';
import { typedRows, zodFieldErrors } from '../http/forms.ts';
import {
  countField,
  idField,
  jsonDay,
  jsonId,
  jsonMoneyMinor,
  jsonQuantity,
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
import type { MassFound, PlanInput } from './planInput.ts';

const DEPTH = { minPpm: 1, maxPpm: 2_000_000 };

const PlanHead = z.object({
  fibreId: idField('Choose the goods.'),
  methodId: idField('Choose a method.'),
  goodsText: requiredText('Say what it is: “24 napkins”, “6 m gauze”.', 200),
  pieces: optionalCount(),
  goodsOwner: z.enum(['studio', 'customer'], { error: 'Whose goods are they?' }),
  goodsStockLotId: optionalId(),
  coverage: z.enum(['eachOverAll', 'eachOverItsShare']).optional(),
  bath: optionalVolumeUl('L'),
  soak: optionalVolumeUl('L'),
  loss: optionalPctPpm({ minPpm: 0, maxPpm: 1_000_000 }),
  solutions: z.enum(['auto', 'never']).default('auto'),
  plannedForOn: optionalDay(),
  orderLineId: optionalId(),
  morePiecesConfirmed: z.string().optional(),
  repeatsLotId: optionalId(),
  massFound: z.enum(['weighedDry', 'weighedDamp', 'fromArea', 'fromPutUps', 'stated'], {
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
    plannedForOn: head.plannedForOn,
    repeatsLotId: head.repeatsLotId,
  };
}

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
      .enum(['eachOverAll', 'eachOverItsShare'])
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
    plannedForOn: jsonDay.nullable().default(null),
    repeatsLotId: jsonId.nullable().default(null),
  })
  .meta({ id: 'NewLot' });

/** What every happening at the bench carries: an id made by the device (so that a retry records once) and its own time. */
export const happened = {
  clientId: z
    .string()
    .min(8)
    .max(64)
    .meta({ description: 'made by the sender; sending it again records nothing twice' }),
  at: z
    .number()
    .int()
    .min(0)
    .max(8_640_000_000_000_000)
    .optional()
    .meta({ description: 'when it happened, epoch ms; now when left out' }),
};
/** The same beside a file, where everything is text. */
export const UploadedOccurrence = z.object({
  text: z.string().max(4000).default(''),
  clientId: happened.clientId.optional(),
  at: z.coerce
    .number()
    .int()
    .min(0)
    .max(8_640_000_000_000_000)
    .optional()
    .meta(happened.at.meta() ?? {}),
});

export const WeighingBody = z
  .object({
    componentId: jsonId,
    stockLotId: jsonId,
    massMg: jsonQuantity.optional().meta({ description: 'what was added, from a container that is weighed' }),
    volumeUl: jsonQuantity.optional().meta({ description: 'what was added, from a container measured by volume' }),
    confirmed: z.boolean().optional().meta({
      description: 'true once a person has said that a reading which was asked about (needsConfirming) is right',
    }),
    ...happened,
  })
  .superRefine(({ massMg, volumeUl }, ctx) => {
    if ((massMg === undefined) === (volumeUl === undefined))
      ctx.addIssue({
        code: 'custom',
        path: ['massMg'],
        message: 'Either massMg or volumeUl, as the container is measured.',
      });
  })
  .meta({ id: 'NewWeighing' });
const figure = z.number().int().min(0).max(1_000_000_000_000);
const lineId = z.string().regex(/^[1-9]\d{0,14}$/);
export const ConfirmedWayShape = z
  .object({
    goodsDryMassMg: figure,
    lines: z
      .array(z.object({ lineId, target: figure, actual: figure.nullable() }))
      .max(500)
      .readonly(),
    goodsFactor: z.number(),
    depthFactor: z.number(),
    after: z.object({
      goodsDryMassMg: figure,
      lines: z
        .array(z.object({ lineId, target: figure }))
        .max(500)
        .readonly(),
      discarded: z.array(lineId).max(500).readonly(),
    }),
  })
  .meta({
    id: 'ConfirmedWay',
    description:
      'the figures that the way out was chosen on, as GET …/ways-out/{componentId} gave them; lineId is the componentId',
  });
export const wayOutBody = z.object({
  componentId: jsonId,
  way: z.enum(['moreGoods', 'deeper', 'weighAgain', 'addOthersToBath', 'keepAsMade']),
  stage: z.enum(['dry', 'inBath']).default('dry'),
  vessel: z.enum(['own', 'shared']).default('own'),
  confirmed: ConfirmedWayShape,
  ...happened,
});
export const EntryBody = z
  .object({
    kind: z.enum(['note', 'deviation', 'temperature', 'field']),
    text: z.string().max(4000),
    tempC: z
      .number()
      .min(-50)
      .max(300)
      .optional()
      .meta({ description: 'of a temperature, so that it is drawn over the steps' }),
    label: z.string().max(80).optional().meta({ description: 'of a field that the method asks for: which' }),
    stepId: jsonId.nullable().default(null),
    ...happened,
  })
  .meta({ id: 'NewLogEntry' });
export const StepBody = z.object({
  stepId: jsonId,
  kind: z.enum(['stepStart', 'stepEnd']),
  thenStepId: jsonId.optional().meta({ description: 'with stepEnd: the step that begins at the same moment' }),
  ...happened,
});
export const DeviationBody = z
  .object({
    instead: z
      .string()
      .regex(/^((time|temp|line):[1-9]\d{0,14}|placement)$/)
      .meta({ description: 'time:STEP, temp:STEP, line:COMPONENT or placement' }),
    did: z.enum(['longer', 'shorter', 'hotter', 'cooler', 'more', 'less', 'folded', 'placed', 'skipped', 'other']),
    text: z.string().max(1000).default(''),
    stepId: jsonId.nullable().default(null),
    ...happened,
  })
  .meta({ id: 'NewDeviation' });
export const VoidingBody = z.object({ reason: z.string().trim().min(1).max(500), ...happened });
export const OutcomeBody = z
  .object({
    firstQuality: z.number().int().min(0).max(1_000_000),
    seconds: z.number().int().min(0).max(1_000_000).default(0),
    rework: z.number().int().min(0).max(1_000_000).default(0),
    scrap: z.number().int().min(0).max(1_000_000).default(0),
    secondsValueMinor: jsonMoneyMinor.default(0),
    note: z.string().max(4000).default(''),
    doDifferently: z.string().max(4000).default(''),
    labour: z
      .array(
        z.object({
          stepId: jsonId.nullable().default(null),
          personId: jsonId,
          durationS: z.number().int().min(1).max(8_640_000),
        }),
      )
      .max(200)
      .default([]),
    unweighedConfirmed: z.boolean().default(false),
    ...happened,
  })
  .meta({ id: 'NewOutcome' });
export const AbandonBody = z.object({ reason: z.string().trim().min(1).max(500), ...happened });
