import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { confirmedWay } from '../calc/overWeighing.ts';
import { depthsDyed } from '../closings/asDyed.ts';
import { namesOfLot } from '../closings/names.ts';
import { closingOf } from '../closings/queries.ts';
import type { LogEntryRow } from '../db/tables/lots.ts';
import type { Deps } from '../deps.ts';
import { besideField, notFound } from '../errors.ts';
import type { App } from '../http/app.ts';
import { NextPage, pagedByNumber, pageOf } from '../http/paging.ts';
import { readUpload } from '../http/upload.ts';
import { actorOf } from '../people/guards.ts';
import { withPhoto } from '../photos/store.ts';
import { idParams } from '../typedFields.ts';
import {
  answerAtBench,
  recordEntry,
  recordStep,
  recordStepChange,
  recordWeighing,
  type SentOccurrence,
  takeWayOut,
  voidEntry,
  waysOut,
  weighUpOf,
} from './bench.ts';
import { type Bench, benchOf } from './benchState.ts';
import { recordDeviation } from './deviations.ts';
import { abandonLot, finishLot } from './finish.ts';
import { correctionOf } from './lotCost.ts';
import { benchQuestions } from './parkedWay.ts';
import { Drawing, PlacementBody, placementsIn, recordPlacement } from './placement.ts';
import { planLot, previewPlan } from './planLot.ts';
import { entryText } from './present.ts';
import { coloursOf, costLinesOf, linesServed, listLots, lotById, outcomeOf, swatchesOfLot } from './queries.ts';
import {
  AbandonBody,
  ConfirmedWayShape,
  DeviationBody,
  EntryBody,
  happened,
  OutcomeBody,
  PlanBody,
  StepBody,
  UploadedOccurrence,
  VoidingBody,
  WeighingBody,
  wayOutBody,
} from './schemas.ts';
import { recordVoice, storeVoice, voiceIdOfEntry } from './voices.ts';

const status = z.enum(['planned', 'onBench', 'finished', 'abandoned']);
const integer = z.number().int();

const PlanLine = z.object({
  ordinal: integer,
  kind: z.enum(['dye', 'auxiliary']),
  dyeId: integer.nullable(),
  auxiliaryId: integer.nullable(),
  code: z.string(),
  name: z.string(),
  colourOrdinal: integer.nullable(),
  vessel: z.enum(['bath', 'soak']).nullable(),
  basis: z.enum(['owg', 'gPerL', 'mlPerL', 'fixedMass', 'fixedVolume']),
  basisText: z.string(),
  depthPpm: integer.nullable(),
  exactUg: integer.nullable(),
  plannedMassMg: integer.nullable(),
  plannedVolumeUl: integer.nullable(),
  concPpm: integer.nullable(),
  step: integer,
  roundingErrorPct: z.number().nullable(),
  halfDigitErrorPct: z.number().nullable(),
  strengthPpm: integer,
  stockLotId: integer.nullable(),
  stockLotCode: z.string().nullable(),
  onHand: integer.nullable(),
  short: integer,
  estimateMinor: integer,
  advice: z.string().nullable(),
});
const PlanResource = z
  .object({
    fibreName: z.string(),
    methodName: z.string(),
    goodsText: z.string(),
    pieces: integer.nullable(),
    dryMassMg: integer,
    coverage: z.enum(['eachOverAll', 'eachOverItsShare']),
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
        depthOverAllPct: z.number(),
      }),
    ),
    depthOverAllPct: z.number(),
    weighedPct: z.number(),
    lossPpm: integer,
    lossMassUg: integer,
    uptakePpm: integer,
    readabilityMg: integer,
    lines: z.array(PlanLine),
    bathUl: integer.nullable(),
    soakUl: integer.nullable(),
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
const LotResource = z
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

function lotResource(deps: Deps, bench: Bench): z.output<typeof LotResource> {
  const { db } = deps;
  const { lot } = bench;
  const costs = costLinesOf(db, lot.id);
  const outcome = outcomeOf(db, lot.id);
  const colours = coloursOf(db, lot.id);
  const closing = closingOf(db, lot.id);
  const names = namesOfLot(db, lot.id);
  const depths = depthsDyed(db, [lot.id]);
  return {
    lotId: lot.id,
    number: lot.number,
    status: lot.status,
    methodId: lot.methodId,
    fibreId: lot.fibreId,
    goodsText: lot.goodsText,
    pieces: lot.pieces,
    dryMassMg: bench.dryMassMg,
    plannedDryMassMg: lot.dryMassMg,
    plannedAt: lot.plannedAt,
    plannedBy: lot.plannedBy,
    startedAt: lot.startedAt,
    finishedAt: lot.finishedAt,
    estimateMinor: lot.estimateMinor,
    colours: colours.map((c) => ({
      lotColourId: c.id,
      ordinal: c.ordinal,
      revisionId: c.revisionId,
      recipeName: c.recipeName,
      swatchId: c.swatchId,
      depthPpm: c.depthPpm,
      dyedDepthPpm: depths.find((d) => d.lotColourId === c.id)?.weighedPpm ?? c.depthPpm,
      correctedDepthPpm: depths.find((d) => d.lotColourId === c.id)?.correctedPpm ?? null,
      sharePpm: c.sharePpm,
      placement: c.placement,
    })),
    closing: closing ? { closedOn: closing.closedOn, zone: closing.zone, kept: closing.kept } : null,
    fibreName: names.called('fibre', lot.fibreId)?.name ?? bench.plan.fibreName,
    methodName: names.called('method', lot.methodId)?.name ?? bench.plan.methodName,
    renamed: names.renamed.map((n) => ({ ...n, nowCalled: n.nowCalled ?? n.name })),
    lines: bench.lines.map((l) => ({
      componentId: l.component.id,
      code: l.component.code,
      name: l.component.name,
      kind: l.component.kind,
      lotColourId: l.component.lotColourId,
      unit: l.unit,
      planned: l.planned,
      target: l.target,
      step: l.step,
      tolerance: l.tolerance,
      actual: l.actual ?? null,
      corrected: l.corrected ?? null,
      state: l.state,
      difference: l.verdict?.difference ?? null,
      stockLotId: l.component.stockLotId,
      weighings: l.weighings.map((w) => ({
        entryId: w.logEntryId,
        at: w.at,
        stockLotId: w.stockLotId,
        stockLotCode: w.stockLotCode,
        massMg: w.massMg,
        volumeUl: w.volumeUl,
        strengthPpm: w.stockLotStrengthPpm,
        concPpm: w.stockLotConcPpm,
        strengthKept: w.strengthKept,
        voided: w.voided,
        discarded: w.discarded,
      })),
    })),
    steps: bench.steps.map((s) => ({
      stepId: s.stepId,
      ordinal: s.ordinal,
      name: s.name,
      plannedDurationS: s.plannedDurationS,
      plannedTempC: s.plannedTempC,
      state: s.state,
      startedAt: s.startedAt,
      endedAt: s.endedAt,
      remainingS: s.remainingS,
    })),
    log: bench.log.map((e) => ({
      entryId: e.id,
      kind: e.kind,
      at: e.at,
      recordedAt: e.recordedAt,
      person: e.personName,
      stepId: e.stepId,
      text: entryText(
        e,
        colours.map((c) => c.recipeName),
      ),
      photoId: e.photoId,
      voiceId: e.kind === 'voice' ? voiceIdOfEntry(e.valueJson) : null,
      refersToId: e.refersToId,
      voidedReason: e.voidedReason,
      late: e.late === 1,
      clockSaidAt: e.clockSaidAt,
    })),
    questions: benchQuestions(db, lot.id).map((q) => ({
      questionId: q.id,
      kind: q.kind,
      words: q.words,
      entryId: q.logEntryId,
    })),
    readyAt: bench.readyAt,
    outcome: outcome
      ? {
          firstQuality: outcome.firstQuality,
          seconds: outcome.seconds,
          rework: outcome.rework,
          scrap: outcome.scrap,
          secondsValueMinor: outcome.secondsValueMinor,
          note: outcome.note,
          doDifferently: outcome.doDifferently,
        }
      : null,
    costLines: costs.map((c) => ({
      costLineId: c.id,
      kind: c.kind,
      description: c.description,
      stockLotId: c.stockLotId,
      personId: c.personId,
      quantity: c.quantity,
      quantityUnit: c.quantityUnit,
      priceMinor: c.priceMinor,
      perQuantity: c.perQuantity,
      wasted: c.wasted === 1,
      costMinor: c.costMinor,
      correction: correctionOf(c),
      correctsId: c.correctsId,
      reason: c.reason,
      writtenAt: c.writtenAt,
    })),
    costMinor: costs.length > 0 ? costs.reduce((sum, c) => sum + c.costMinor, 0) : null,
    orderLines: linesServed(db, lot.id).map((l) => ({
      orderLineId: l.orderLineId,
      orderNumber: l.orderNumber,
      customerName: l.customerName,
      description: l.description,
    })),
    swatches: swatchesOfLot(db, lot.id).map((s) => ({ swatchId: s.id, code: s.code, name: s.name })),
  };
}

const Done = z.object({
  entryId: integer,
  question: z
    .object({ questionId: integer, words: z.string() })
    .nullable()
    .meta({ description: 'what the bench is asked because of this entry; of a way out: it was not applied' }),
  lot: LotResource,
});

const PHOTO = { file: 'photo', of: 'a picture', fields: UploadedOccurrence };
const VOICE = {
  file: 'voice',
  of: 'WebM, Ogg, MP4 or WAV, known by its bytes; at most 8 MB and 5 minutes',
  fields: UploadedOccurrence.extend({ durationMs: z.coerce.number().int().min(1).max(999_999_999).optional() }),
};

export function api(app: App, deps: Deps): void {
  const { db, now, newId } = deps;
  const tags = ['Production log'];
  const seen = (lotId: number): z.output<typeof LotResource> => lotResource(deps, benchOf(db, lotId, now()));
  const recorded = (reply: FastifyReply, entry: LogEntryRow): z.output<typeof Done> => {
    reply.code(201);
    const asked = benchQuestions(db, entry.lotId).find(
      (q) => entry.id === q.logEntryId || entry.refersToId === q.logEntryId,
    );
    const question = asked ? { questionId: asked.id, words: asked.words } : null;
    return { entryId: entry.id, question, lot: seen(entry.lotId) };
  };
  const occurrence = (body: { clientId: string; at?: number | undefined }): SentOccurrence => ({
    clientId: body.clientId,
    at: body.at ?? now(),
    ...(body.at === undefined ? { derived: ['at'] } : {}),
  });

  app.post(
    '/lots/plan',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'previewPlan',
        tags,
        summary: 'Compute a plan without saving it',
        body: PlanBody,
        response: { 200: PlanResource },
      },
    },
    async (request) => previewPlan(deps, request.body),
  );

  app.post(
    '/lots',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'planLot',
        tags,
        summary: 'Plan a lot',
        body: PlanBody,
        response: { 201: LotResource },
      },
    },
    async (request, reply) => {
      reply.code(201);
      return seen(planLot(deps, request.body, actorOf(request)).id);
    },
  );

  app.get(
    '/lots',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'listLots',
        tags,
        summary: 'Lots, newest first',
        querystring: z.object({
          status: status.optional(),
          words: z.string().max(100).default(''),
          ...pagedByNumber(50, 200),
        }),
        response: {
          200: z.object({
            lots: z.array(
              z.object({
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
              }),
            ),
            next: NextPage,
          }),
        },
      },
    },
    async (request) => {
      const { status: wanted, words, after, limit } = request.query;
      const rows = listLots(db, { status: wanted ?? null, words, before: after ?? null, limit: limit + 1 });
      const { shown, next } = pageOf(rows, limit, (row) => row.id);
      return {
        lots: shown.map(({ id, ...r }) => ({ lotId: id, ...r, colours: r.colours ?? '' })),
        next,
      };
    },
  );

  app.get(
    '/lots/:id',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getLot',
        tags,
        summary: 'One lot: plan, bench, log, outcome, cost',
        params: idParams,
        response: { 200: LotResource },
      },
    },
    async (request) => seen(request.params.id),
  );

  app.get(
    '/lots/:id/snapshot',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getLotPlan',
        tags,
        summary: 'The plan as it was saved',
        params: idParams,
        response: { 200: PlanResource },
      },
    },
    async (request) => {
      const lot = lotById(db, request.params.id);
      if (!lot) throw notFound('lot');
      return benchOf(db, lot.id, now()).plan;
    },
  );

  app.post(
    '/lots/:id/weighings',
    {
      config: { may: 'log' },
      schema: {
        operationId: 'recordWeighing',
        tags,
        summary: 'Record a reading of the scale',
        params: idParams,
        body: WeighingBody,
        response: { 201: Done },
      },
    },
    async (request, reply) => {
      const { massMg, volumeUl, ...line } = request.body;
      const read =
        volumeUl === undefined
          ? { amount: massMg ?? 0, unit: 'mg' as const }
          : { amount: volumeUl, unit: 'ul' as const };
      try {
        const sent = { lotId: request.params.id, ...line, ...read, ...occurrence(line) };
        return recorded(reply, recordWeighing(deps, sent, actorOf(request)));
      } catch (error) {
        throw besideField(error, 'amount', volumeUl === undefined ? 'massMg' : 'volumeUl');
      }
    },
  );

  app.get(
    '/lots/:id/ways-out/:componentId',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'listWaysOut',
        tags,
        summary: 'The ways out of an over-weighed line, each with every line recomputed',
        params: z.object({ id: z.coerce.number().int().positive(), componentId: z.coerce.number().int().positive() }),
        querystring: z.object({ stage: z.enum(['dry', 'inBath']).default('dry') }),
        response: {
          200: z.object({
            waysOut: z.array(
              z.object({
                way: z.string(),
                vessel: z.enum(['own', 'shared']),
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
              }),
            ),
          }),
        },
      },
    },
    async (request) => {
      const bench = benchOf(db, request.params.id, now());
      const { componentId } = request.params;
      return {
        waysOut: waysOut(bench, componentId, request.query.stage).map((w) => ({
          way: w.kind,
          vessel: w.vessel,
          goodsFactor: w.goodsFactor,
          depthFactor: w.depthFactor,
          dryMassMg: Math.round(w.goodsDryMassMg),
          hue: w.hue,
          lines: w.lines.map((l) => ({
            componentId: Number(l.lineId),
            unit: l.unit,
            target: l.targetRounded,
            kept: l.kept,
            toAdd: l.toAdd,
            act: l.act,
          })),
          confirmed: confirmedWay({ weighUp: weighUpOf(bench), overLineId: String(componentId), way: w }),
        })),
      };
    },
  );

  app.post(
    '/lots/:id/adjustments',
    {
      config: { may: 'log' },
      schema: {
        operationId: 'takeWayOut',
        tags,
        summary: 'Take one of the ways out',
        params: idParams,
        body: wayOutBody,
        response: { 201: Done },
      },
    },
    async (request, reply) => {
      const entry = takeWayOut(
        deps,
        { lotId: request.params.id, ...request.body, ...occurrence(request.body) },
        actorOf(request),
      );
      return recorded(reply, entry);
    },
  );

  app.post(
    '/lots/:id/steps',
    {
      config: { may: 'log' },
      schema: {
        operationId: 'changeStep',
        tags,
        summary: 'Start or end a step',
        params: idParams,
        body: StepBody,
        response: { 201: Done },
      },
    },
    async (request, reply) => {
      const { thenStepId, ...body } = request.body;
      if (thenStepId !== undefined && body.kind === 'stepEnd') {
        const ended = recordStepChange(
          deps,
          { lotId: request.params.id, thenStepId, ...body, ...occurrence(body) },
          actorOf(request),
        );
        return recorded(reply, ended);
      }
      const entry = recordStep(deps, { lotId: request.params.id, ...body, ...occurrence(body) }, actorOf(request));
      return recorded(reply, entry);
    },
  );

  app.post(
    '/lots/:id/log',
    {
      config: { may: 'log' },
      schema: {
        operationId: 'recordLogEntry',
        tags,
        summary: 'Write a note, deviation, temperature or field into the log',
        params: idParams,
        body: EntryBody,
        response: { 201: Done },
      },
    },
    async (request, reply) => {
      const { tempC, label, ...body } = request.body;
      const value =
        body.kind === 'temperature' && tempC !== undefined
          ? { tempC }
          : body.kind === 'field' && label !== undefined
            ? { label }
            : undefined;
      const entry = recordEntry(
        deps,
        {
          lotId: request.params.id,
          ...body,
          photoId: null,
          ...(value ? { value } : {}),
          ...occurrence(body),
        },
        actorOf(request),
      );
      return recorded(reply, entry);
    },
  );

  app.post(
    '/lots/:id/deviations',
    {
      config: { may: 'log' },
      schema: {
        operationId: 'recordDeviation',
        tags,
        summary: 'Write “instead of … I did …” into the log',
        params: idParams,
        body: DeviationBody,
        response: { 201: Done },
      },
    },
    async (request, reply) => {
      const entry = recordDeviation(
        deps,
        { lotId: request.params.id, ...request.body, ...occurrence(request.body) },
        actorOf(request),
      );
      return recorded(reply, entry);
    },
  );

  app.get(
    '/lots/:id/placements',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'listPlacements',
        tags,
        summary: 'Every drawing of how the goods of a lot lie, oldest first; voided ones are left out',
        params: idParams,
        response: {
          200: z.object({
            placements: z.array(
              z.object({
                entryId: integer,
                at: integer,
                of: z.enum(['plan', 'cloth']),
                drawing: Drawing,
                text: z.string(),
              }),
            ),
          }),
        },
      },
    },
    async (request) => ({ placements: placementsIn(benchOf(db, request.params.id, now()).log) }),
  );

  app.post(
    '/lots/:id/placements',
    {
      config: { may: 'log' },
      schema: {
        operationId: 'recordPlacement',
        tags,
        summary: 'Keep a drawing of how the goods lie, or are meant to lie, as a version of its own',
        params: idParams,
        body: PlacementBody,
        response: { 201: Done },
      },
    },
    async (request, reply) => {
      const entry = recordPlacement(
        deps,
        { lotId: request.params.id, stepId: null, ...request.body, ...occurrence(request.body) },
        actorOf(request),
      );
      return recorded(reply, entry);
    },
  );

  app.post(
    '/lots/:id/voices',
    {
      config: { may: 'log', upload: VOICE },
      schema: {
        operationId: 'recordVoice',
        tags,
        summary: 'Put a voice note into the log',
        description: 'WebM, Ogg, MP4 or WAV, known by its bytes; at most 8 MB and 5 minutes. Played at /voices/{id}.',
        params: idParams,
        response: { 201: Done },
      },
    },
    async (request, reply) => {
      if (!lotById(db, request.params.id)) throw notFound('lot');
      const { content, fields } = await readUpload(request, VOICE);
      const voice = await storeVoice(deps, { content, durationMs: fields.durationMs ?? null }, actorOf(request));
      const entry = recordVoice(
        deps,
        {
          lotId: request.params.id,
          voiceId: voice.id,
          text: fields.text,
          stepId: null,
          ...occurrence({ clientId: fields.clientId ?? newId(), at: fields.at }),
        },
        actorOf(request),
      );
      return recorded(reply, entry);
    },
  );

  app.post(
    '/lots/:id/photos',
    {
      config: { may: 'log', upload: PHOTO },
      schema: {
        operationId: 'recordPhoto',
        tags,
        summary: 'Put a photo into the log',
        params: idParams,
        response: { 201: Done },
      },
    },
    async (request, reply) => {
      if (!lotById(db, request.params.id)) throw notFound('lot');
      const { content, fields } = await readUpload(request, PHOTO);
      const by = actorOf(request);
      const entry = await withPhoto(deps, content, by, (photoId) =>
        recordEntry(
          deps,
          {
            lotId: request.params.id,
            kind: 'photo',
            text: fields.text,
            stepId: null,
            photoId,
            ...occurrence({ clientId: fields.clientId ?? newId(), at: fields.at }),
          },
          by,
        ),
      );
      return recorded(reply, entry);
    },
  );

  app.post(
    '/log/:id/voiding',
    {
      config: { may: 'log' },
      schema: {
        operationId: 'voidLogEntry',
        tags,
        summary: 'Void a log entry with a reason; stock is reversed',
        params: idParams,
        body: VoidingBody,
        response: { 201: Done },
      },
    },
    async (request, reply) => {
      const entry = voidEntry(
        deps,
        { entryId: request.params.id, ...request.body, ...occurrence(request.body) },
        actorOf(request),
      );
      return recorded(reply, entry);
    },
  );

  app.post(
    '/lots/:id/questions/:questionId/answer',
    {
      config: { may: 'log' },
      schema: {
        operationId: 'answerBenchQuestion',
        tags,
        summary: 'Answer what the bench was asked: leave things as they are, or undo the choice that it is about',
        params: z.object({ id: z.coerce.number().int().positive(), questionId: z.coerce.number().int().positive() }),
        body: z.object({ answer: z.enum(['left', 'undone']), reason: z.string().max(500).default(''), ...happened }),
        response: { 200: LotResource },
      },
    },
    async (request) => {
      const { id: lotId, questionId } = request.params;
      answerAtBench(deps, { lotId, questionId, ...request.body, ...occurrence(request.body) }, actorOf(request));
      return seen(lotId);
    },
  );

  app.post(
    '/lots/:id/outcome',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'finishLot',
        tags,
        summary: 'Finish the lot: outcome, labour, cost lines',
        params: idParams,
        body: OutcomeBody,
        response: { 201: LotResource },
      },
    },
    async (request, reply) => {
      const lot = finishLot(
        deps,
        { lotId: request.params.id, ...request.body, ...occurrence(request.body) },
        actorOf(request),
      );
      reply.code(201);
      return seen(lot.id);
    },
  );

  app.post(
    '/lots/:id/abandonment',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'abandonLot',
        tags,
        summary: 'Give the lot up',
        params: idParams,
        body: AbandonBody,
        response: { 201: LotResource },
      },
    },
    async (request, reply) => {
      const lot = abandonLot(
        deps,
        { lotId: request.params.id, ...request.body, ...occurrence(request.body) },
        actorOf(request),
      );
      reply.code(201);
      return seen(lot.id);
    },
  );
}
