import { z } from 'zod';
import { LOT_STATUSES } from '../calc/lotTerms.ts';
import { integer } from '../plans/schemas.ts';
import { jsonId, jsonMoneyMinor } from '../typedFields.ts';

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

const MAX_COLUMNS = 24;
const MAX_ROWS = 36;
const half = z.number().int().min(0);

/** How a piece lies: a grid over the flat goods, seen from above, the width from left to right. Cells are counted row by
 *  row from the top left; lines run between points half a cell apart, so that a fold may lie on an edge or a middle. */
export const Drawing = z
  .object({
    columns: z.number().int().min(2).max(MAX_COLUMNS),
    rows: z.number().int().min(2).max(MAX_ROWS),
    cells: z
      .array(z.number().int().min(0).max(24))
      .meta({ description: 'a cell’s colour by its number in the lot; 0 is bare' }),
    ice: z.array(z.number().int().min(0)).default([]).meta({ description: 'cells with ice' }),
    clamps: z.array(z.number().int().min(0)).default([]).meta({ description: 'cells under a clamp or block' }),
    lines: z
      .array(
        z.object({
          kind: z.enum(['fold', 'binding']),
          x1: half,
          y1: half,
          x2: half,
          y2: half,
        }),
      )
      .max(60)
      .default([])
      .meta({ description: 'folds and bindings, in half cells from the top left' }),
  })
  .superRefine((d, context) => {
    const say = (path: string, message: string): void => context.addIssue({ code: 'custom', path: [path], message });
    const cells = d.columns * d.rows;
    if (d.cells.length !== cells) say('cells', `A grid of ${d.columns} by ${d.rows} has ${cells} cells.`);
    for (const name of ['ice', 'clamps'] as const) {
      if (d[name].some((cell) => cell >= cells)) say(name, 'That cell is outside the grid.');
      if (new Set(d[name]).size !== d[name].length) say(name, 'A cell is named twice.');
    }
    for (const line of d.lines) {
      if (Math.max(line.x1, line.x2) > 2 * d.columns || Math.max(line.y1, line.y2) > 2 * d.rows)
        say('lines', 'That line leaves the grid.');
      if (line.x1 === line.x2 && line.y1 === line.y2) say('lines', 'A line joins two points.');
    }
  })
  .meta({ id: 'PlacementDrawing' });

export type Drawing = z.output<typeof Drawing>;

/** 'plan' is how it is meant to lie, 'cloth' how it lies. */
export const placementOf = z.enum(['plan', 'cloth']);
export type PlacementOf = z.output<typeof placementOf>;
export const PlacementResource = z.object({
  entryId: integer,
  at: integer,
  of: placementOf,
  drawing: Drawing,
  text: z.string(),
});
export type Placement = z.output<typeof PlacementResource>;
/** The same as a view shows it. */
export interface PlacementVersion extends Placement {
  person: string;
  /** What is drawn, in words. */
  words: string;
}
export interface PlacementColour {
  ordinal: number;
  name: string;
  /** From the swatch that the colour follows; null where its colour was never read. */
  hex: string | null;
}

export const status = z.enum(LOT_STATUSES);
export type LotStatus = z.output<typeof status>;

const BenchLineResource = z.object({
  componentId: integer,
  code: z.string(),
  name: z.string(),
  kind: z.enum(['dye', 'auxiliary']),
  lotColourId: integer.nullable(),
  unit: z.enum(['mg', 'ul']),
  planned: integer,
  target: integer,
  step: integer,
  tolerance: z.number(),
  actual: integer.nullable().meta({ description: 'by the scale, at the strength that each container had then' }),
  corrected: integer.nullable().meta({
    description: 'by the books, where the quantity was corrected or added to after the closing; null elsewhere',
  }),
  state: z.enum(['waiting', 'under', 'within', 'over']),
  difference: z.number().nullable(),
  stockLotId: integer.nullable(),
  weighings: z.array(
    z.object({
      entryId: integer,
      at: integer,
      stockLotId: integer,
      stockLotCode: z.string(),
      massMg: integer.nullable(),
      volumeUl: integer.nullable(),
      strengthPpm: integer.meta({ description: 'of the container when it was weighed from' }),
      concPpm: integer.nullable(),
      strengthKept: z.enum(['whenWeighed', 'atUpgrade']).meta({
        description:
          'atUpgrade: an earlier version kept none, and this is what the container had when this version came',
      }),
      voided: z.boolean(),
      discarded: z.boolean(),
    }),
  ),
});

const StepResource = z.object({
  stepId: integer,
  ordinal: integer,
  name: z.string(),
  plannedDurationS: integer,
  plannedTempC: z.number().nullable(),
  state: z.enum(['waiting', 'running', 'overdue', 'done', 'skipped']),
  startedAt: integer.nullable(),
  endedAt: integer.nullable(),
  remainingS: z.number().nullable(),
});

const EntryResource = z
  .object({
    entryId: integer,
    kind: z.string(),
    at: integer,
    recordedAt: integer,
    person: z.string(),
    stepId: integer.nullable(),
    text: z.string(),
    photoId: integer.nullable(),
    voiceId: integer.nullable(),
    refersToId: integer.nullable(),
    voidedReason: z.string().nullable(),
    late: z.boolean().meta({ description: 'reached the record after the lot had been closed' }),
    clockSaidAt: integer
      .nullable()
      .meta({ description: 'what the device’s clock said, where that lay ahead and the time of arrival was taken' }),
  })
  .meta({ id: 'LogEntry' });

const CostLineResource = z.object({
  costLineId: integer,
  kind: z.string(),
  description: z.string(),
  stockLotId: integer.nullable(),
  personId: integer.nullable(),
  quantity: integer,
  quantityUnit: z.string(),
  priceMinor: integer,
  perQuantity: integer,
  wasted: z.boolean(),
  costMinor: integer,
  correction: z
    .enum(['reversal', 'replacement', 'addition'])
    .nullable()
    .meta({ description: 'what it does to the first account of the lot; null of a line of that account' }),
  correctsId: integer.nullable(),
  reason: z.string(),
  writtenAt: integer,
});

export const LotResource = z
  .object({
    lotId: integer,
    number: z.string(),
    status,
    methodId: integer,
    fibreId: integer,
    goodsText: z.string(),
    pieces: integer.nullable(),
    dryMassMg: integer,
    plannedDryMassMg: integer,
    plannedAt: integer,
    plannedBy: integer.meta({ description: 'personId' }),
    startedAt: integer.nullable(),
    finishedAt: integer.nullable(),
    estimateMinor: integer,
    colours: z.array(
      z.object({
        lotColourId: integer,
        ordinal: integer,
        revisionId: integer,
        recipeName: z.string(),
        swatchId: integer.nullable(),
        depthPpm: integer.meta({ description: 'as planned' }),
        dyedDepthPpm: integer.meta({
          description: 'by what was weighed; the plan’s as long as a dye of it has no reading',
        }),
        correctedDepthPpm: integer
          .nullable()
          .meta({ description: 'by the books, where the quantity of a dye was corrected after the closing' }),
        sharePpm: integer,
        placement: z.string(),
      }),
    ),
    closing: z
      .object({
        closedOn: z.string(),
        zone: z.string(),
        kept: z.enum(['atClosing', 'atUpgrade']),
      })
      .nullable()
      .meta({ description: 'the day of the closing in the zone of then; null of a lot that is open' }),
    fibreName: z.string(),
    methodName: z.string(),
    renamed: z
      .array(z.object({ kind: z.string(), id: integer, code: z.string(), name: z.string(), nowCalled: z.string() }))
      .meta({ description: 'what is called otherwise now than when the lot was closed' }),
    lines: z.array(BenchLineResource),
    steps: z.array(StepResource),
    log: z.array(EntryResource),
    questions: z
      .array(z.object({ questionId: integer, kind: z.string(), words: z.string(), entryId: integer.nullable() }))
      .meta({ description: 'what the bench is asked and nobody has answered yet' }),
    readyAt: z.number().nullable(),
    outcome: z
      .object({
        firstQuality: integer,
        seconds: integer,
        rework: integer,
        scrap: integer,
        secondsValueMinor: integer,
        note: z.string(),
        doDifferently: z.string(),
      })
      .nullable(),
    costLines: z.array(CostLineResource),
    costMinor: integer.nullable(),
    orderLines: z.array(
      z.object({ orderLineId: integer, orderNumber: z.string(), customerName: z.string(), description: z.string() }),
    ),
    swatches: z.array(z.object({ swatchId: integer, code: z.string(), name: z.string() })),
  })
  .meta({ id: 'Lot' });
export type Lot = z.output<typeof LotResource>;

/** One lot in a list. */
export const LotListItem = z.object({
  lotId: integer,
  number: z.string(),
  status,
  goodsText: z.string(),
  fibreName: z.string(),
  methodName: z.string(),
  dryMassMg: integer,
  pieces: integer.nullable(),
  colours: z.string(),
  customers: z.string().nullable(),
  plannedAt: integer,
  startedAt: integer.nullable(),
  finishedAt: integer.nullable(),
  costMinor: integer.nullable(),
});
export type LotListed = z.output<typeof LotListItem>;

export type CostLine = z.output<typeof CostLineResource>;
export interface CostLineShown extends CostLine {
  valuation: 'specific' | 'movingAverage' | null;
}

/* The same as pages show it. */

/** A container as a line can be weighed from it. */
export interface ContainerShown {
  id: number;
  code: string;
  label: string;
  unit: 'mg' | 'ul';
  /** What one mg or µL of it counts for in the line's own unit. */
  counts: number;
  /** What its scale or measure tells apart. */
  step: number;
  /** What is in it, where that is not what the line was planned in: “, 1 % solution”, “, powder, strength 128 %”; '' otherwise. */
  form: string;
  /** By its card, in its own unit. */
  onHand: number;
  /** Why the line does not propose it; '' of one that it may propose. */
  notProposed: string;
  chosen: boolean;
}
export interface WeighingShown {
  entryId: number;
  at: number;
  amount: string;
  containerId: number;
  container: string;
  /** Taken back by its maker or the studio since. */
  recalled: boolean;
  person: string;
  state: 'counts' | 'voided' | 'discarded';
  /** In the line's own unit. */
  counts: number;
}
type LineTold = Lot['lines'][number];
export interface LineShown extends Omit<LineTold, 'kind' | 'lotColourId' | 'stockLotId' | 'actual' | 'weighings'> {
  colourOrdinal: number | null;
  colourName: string | null;
  vessel: 'bath' | 'soak' | null;
  concPct: number | null;
  /** Undefined when nothing was weighed. */
  actual: number | undefined;
  differencePct: number | null;
  /** How the plan says it, beside the name: “, 1 % solution”; '' of powder. */
  form: string;
  containers: readonly ContainerShown[];
  weighings: readonly WeighingShown[];
}

export interface StepShown extends z.output<typeof StepResource> {
  note: string;
  expectedEndAt: number | null;
}

export interface EntryShown
  extends Pick<z.output<typeof EntryResource>, 'entryId' | 'kind' | 'at' | 'person' | 'voidedReason'> {
  words: string;
  /** What must be known of its time; '' of most. */
  told: string;
  stepName: string | null;
  photo: string | null;
  /** What was drawn or said stands under its words. */
  placement: { version: PlacementVersion; plan: PlacementVersion | null; colours: readonly PlacementColour[] } | null;
  voice: { voiceId: number; durationMs: number | null } | null;
  voidable: boolean;
  /** A choice at the scale, and no entry. */
  undo: boolean;
}
