import { z } from 'zod';
import { WAYS_OUT } from '../calc/lotTerms.ts';
import { Drawing, happened, LotResource, placementOf } from '../lots/schemas.ts';
import { integer } from '../plans/schemas.ts';
import { jsonId, jsonQuantity } from '../typedFields.ts';

export const PlacementBody = z
  .object({
    of: placementOf
      .default('cloth')
      .meta({ description: 'how it is meant to lie (before work began), or how it lies' }),
    drawing: Drawing,
    text: z.string().max(1000).default(''),
    ...happened,
  })
  .meta({ id: 'NewPlacement' });

/** What the API answers to an entry at the bench. */
export const Recorded = z.object({
  entryId: integer,
  question: z
    .object({ questionId: integer, words: z.string() })
    .nullable()
    .meta({ description: 'what the bench is asked because of this entry; of a way out: it was not applied' }),
  lot: LotResource,
});

/** What every happening carries, beside a file, where everything is text. */
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

export const PHOTO = { file: 'photo', of: 'a picture', fields: UploadedOccurrence };

export const VOICE = {
  file: 'voice',
  of: 'WebM, Ogg, MP4 or WAV, known by its bytes; at most 8 MB and 5 minutes',
  fields: UploadedOccurrence.extend({ durationMs: z.coerce.number().int().min(1).max(999_999_999).optional() }),
};

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

const way = z.enum(WAYS_OUT);
/** Whether what was weighed is still in its cup. */
export const stage = z.enum(['dry', 'inBath']);
/** Whether it lies in its cup alone, or with others of its colour. */
const vessel = z.enum(['own', 'shared']);
/** A way out as a form says it. */
export const WayChosen = z.object({ way, stage, vessel });
export const WayOutBody = z.object({
  componentId: jsonId,
  way,
  stage: stage.default('dry'),
  vessel: vessel.default('own'),
  confirmed: ConfirmedWayShape,
  ...happened,
});
export const WayOutResource = z.object({
  way: z.string(),
  vessel,
  goodsFactor: z.number(),
  depthFactor: z.number(),
  dryMassMg: integer,
  hue: z.enum(['asPlanned', 'changed']),
  confirmed: ConfirmedWayShape,
  lines: z.array(
    z.object({
      componentId: integer,
      unit: z.enum(['mg', 'ul']),
      target: integer,
      kept: z.number(),
      toAdd: z.number(),
      act: z.enum(['weigh', 'addDifference', 'done']),
    }),
  ),
});

export const entryKind = z.enum(['note', 'deviation', 'temperature', 'field']);

export const EntryBody = z
  .object({
    kind: entryKind,
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

export const stepKind = z.enum(['stepStart', 'stepEnd']);
export const StepBody = z.object({
  stepId: jsonId,
  kind: stepKind,
  thenStepId: jsonId.optional().meta({ description: 'with stepEnd: the step that begins at the same moment' }),
  ...happened,
});

/** What may have been done instead of what was planned; in words in deviations.ts. */
export const DIDS = [
  'longer',
  'shorter',
  'hotter',
  'cooler',
  'more',
  'less',
  'folded',
  'placed',
  'skipped',
  'other',
] as const;
export type Did = (typeof DIDS)[number];
export const DeviationBody = z
  .object({
    instead: z
      .string()
      .regex(/^((time|temp|line):[1-9]\d{0,14}|placement)$/)
      .meta({ description: 'time:STEP, temp:STEP, line:COMPONENT or placement' }),
    did: z.enum(DIDS),
    text: z.string().max(1000).default(''),
    stepId: jsonId.nullable().default(null),
    ...happened,
  })
  .meta({ id: 'NewDeviation' });

export const VoidingBody = z.object({ reason: z.string().trim().min(1).max(500), ...happened });

export const benchAnswer = z.enum(['left', 'undone']);
export const AnswerBody = z.object({ answer: benchAnswer, reason: z.string().max(500).default(''), ...happened });
