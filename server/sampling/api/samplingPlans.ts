import { operation } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { notFoundInWords, warningInWords } from '../../photoReadings/photoWords.ts';
import { cardOf } from '../../referenceCards/cards.ts';
import { idParams } from '../../typedFields.ts';
import { piecesOfInput, planSamples, samplingSheet, usualColumns } from '../planSamples.ts';
import { planResource } from '../present.ts';
import { keepResults } from '../results.ts';
import {
  MadeSwatchesResource,
  ResultsBody,
  SamplingPlanBody,
  SamplingPlanResource,
  SheetPhotoBody,
  SheetReadResource,
  SwatchesBody,
} from '../schemas.ts';
import { keepSheetReading, readSheetPhoto } from '../sheetPhoto.ts';
import { makeSwatches } from '../swatchesOfPieces.ts';

export const addSamplingPlan = operation({
  id: 'addSamplingPlan',
  summary: 'Plan a set of samples: depth ladder, blends, triangle or chosen recipes',
  body: SamplingPlanBody,
  answer: SamplingPlanResource,
  status: 201,
  run: ({ db, now }, { body, request }) => {
    const gridColumns = body.gridColumns ?? usualColumns(piecesOfInput({ ...body, gridColumns: 1 }).length);
    const plan = planSamples(db, { ...body, gridColumns }, actorOf(request), now());
    return planResource(samplingSheet(db, plan.id));
  },
});

export const getSamplingPlan = operation({
  id: 'getSamplingPlan',
  summary: 'A set: volumes for every cup, totals of each stock, what came out',
  params: idParams,
  answer: SamplingPlanResource,
  run: ({ db }, { params }) => planResource(samplingSheet(db, params.id)),
});

export const recordSamplingResults = operation({
  id: 'recordSamplingResults',
  summary: 'Keep what came out of pieces',
  params: idParams,
  body: ResultsBody,
  answer: SamplingPlanResource,
  run: ({ db }, { params, body }) => {
    const results = body.results.map((r) => ({ ...r, asTyped: '' }));
    keepResults(db, params.id, results);
    return planResource(samplingSheet(db, params.id));
  },
});

export const readSampleSheet = operation({
  id: 'readSampleSheet',
  summary: 'Read all pieces from one photo of the sheet with a reference card',
  params: idParams,
  body: SheetPhotoBody,
  answer: SheetReadResource,
  run: async (deps, { params: { id: planId }, body: { photoId, card, greyL, cardCorners, gridCorners } }) => {
    const { db } = deps;
    const { sheet, reading } = await readSheetPhoto(deps, {
      planId,
      photoId,
      card: cardOf(db, { card, greyL }),
      cardCorners: cardCorners ?? 'find',
      gridCorners,
    });
    const told =
      reading.outcome === 'read'
        ? {
            read: true,
            message: reading.warnings.map(warningInWords).join(' '),
            kept: keepSheetReading(db, sheet, reading, photoId),
          }
        : { read: false, message: notFoundInWords(reading.reason), kept: 0 };
    return { ...told, plan: planResource(samplingSheet(db, planId)) };
  },
});

export const makeSamplesSwatches = operation({
  id: 'makeSamplesSwatches',
  summary: 'Make swatches of all pieces that were read and are none yet',
  params: idParams,
  body: SwatchesBody,
  answer: MadeSwatchesResource,
  status: 201,
  run: ({ db, now }, { params, body, request }) => ({
    swatchIds: makeSwatches(db, params.id, actorOf(request), now(), body),
  }),
});
