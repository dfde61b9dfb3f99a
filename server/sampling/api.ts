import type { Deps } from '../deps.ts';
import type { App } from '../http/app.ts';
import { actorOf } from '../people/guards.ts';
import { notFoundInWords, warningInWords } from '../photoReadings/photoWords.ts';
import { cardOf } from '../referenceCards/cards.ts';
import { idParams } from '../typedFields.ts';
import { piecesOfInput, planSamples, samplingSheet } from './planSamples.ts';
import { planResource, usualColumns } from './present.ts';
import { keepResults, keepSheetReading, makeSwatches, readSheetPhoto } from './results.ts';
import {
  MadeSwatchesResource,
  ResultsBody,
  SamplingPlanBody,
  SamplingPlanResource,
  SheetPhotoBody,
  SheetReadResource,
  SwatchesBody,
} from './schemas.ts';

export function api(app: App, deps: Deps): void {
  const { db } = deps;
  const tags = ['Sampling'];

  app.post(
    '/sampling-plans',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'addSamplingPlan',
        tags,
        summary: 'Plan a set of samples: depth ladder, blends, triangle or chosen recipes',
        body: SamplingPlanBody,
        response: { 201: SamplingPlanResource },
      },
    },
    async (request, reply) => {
      const { gridColumns, ...body } = request.body;
      const count = piecesOfInput({ ...body, gridColumns: 1 }).length;
      const plan = planSamples(
        db,
        { ...body, gridColumns: gridColumns ?? usualColumns(count) },
        actorOf(request),
        deps.now(),
      );
      reply.code(201);
      return planResource(samplingSheet(db, plan.id));
    },
  );

  app.get(
    '/sampling-plans/:id',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getSamplingPlan',
        tags,
        summary: 'A set: volumes for every cup, totals of each stock, what came out',
        params: idParams,
        response: { 200: SamplingPlanResource },
      },
    },
    async (request) => planResource(samplingSheet(db, request.params.id)),
  );

  app.post(
    '/sampling-plans/:id/results',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'recordSamplingResults',
        tags,
        summary: 'Keep what came out of pieces',
        params: idParams,
        body: ResultsBody,
        response: { 200: SamplingPlanResource },
      },
    },
    async (request) => {
      const planId = request.params.id;
      keepResults(
        db,
        planId,
        request.body.results.map((r) => ({ ...r, asTyped: '' })),
      );
      return planResource(samplingSheet(db, planId));
    },
  );

  app.post(
    '/sampling-plans/:id/photo-readings',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'readSampleSheet',
        tags,
        summary: 'Read all pieces from one photo of the sheet with a reference card',
        params: idParams,
        body: SheetPhotoBody,
        response: { 200: SheetReadResource },
      },
    },
    async (request) => {
      const planId = request.params.id;
      const { photoId, card, greyL, cardCorners, gridCorners } = request.body;
      const { sheet, reading } = await readSheetPhoto(deps, {
        planId,
        photoId,
        card: cardOf(db, { card, greyL }),
        cardCorners: cardCorners ?? 'find',
        gridCorners,
      });
      const isRead = reading.outcome === 'read';
      const kept = isRead ? keepSheetReading(db, sheet, reading, photoId) : 0;
      return {
        read: isRead,
        message: isRead ? reading.warnings.map(warningInWords).join(' ') : notFoundInWords(reading.reason),
        kept,
        plan: planResource(samplingSheet(db, planId)),
      };
    },
  );

  app.post(
    '/sampling-plans/:id/swatches',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'makeSamplesSwatches',
        tags,
        summary: 'Make swatches of all pieces that were read and are none yet',
        params: idParams,
        body: SwatchesBody,
        response: { 201: MadeSwatchesResource },
      },
    },
    async (request, reply) => {
      const swatchIds = makeSwatches(db, request.params.id, actorOf(request), deps.now(), request.body);
      reply.code(201);
      return { swatchIds };
    },
  );
}
