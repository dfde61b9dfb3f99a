import { apiRoutes, get, pageRoutes, post } from '../http/routes.ts';
import * as operations from './api/samplingPlans.ts';
import { readSheet, showCorners, takeSheetPhoto } from './pages/corners.ts';
import { addPlan, newPlan, previewPlan } from './pages/form.ts';
import { listAllPlans } from './pages/list.ts';
import { planNext, showNext } from './pages/next.ts';
import { showBenchPage, showLabels } from './pages/paper.ts';
import { keepSwatches, keepTypedResults, showPlan } from './pages/plan.ts';

export const pages = pageRoutes([
  get('/sampling', 'look', listAllPlans),
  get('/sampling/new', 'work', newPlan),
  get('/sampling/preview', 'look', previewPlan),
  post('/sampling', 'work', addPlan),
  get('/sampling/next', 'look', showNext),
  post('/sampling/next', 'work', planNext),
  get('/sampling/:id', 'look', showPlan),
  get('/sampling/:id/sheet', 'look', showBenchPage),
  get('/sampling/:id/labels', 'look', showLabels),
  post('/sampling/:id/results', 'work', keepTypedResults),
  post('/sampling/:id/swatches', 'work', keepSwatches),
  post('/sampling/:id/photo', 'work', takeSheetPhoto),
  get('/sampling/:id/photo/:photoId', 'work', showCorners),
  post('/sampling/:id/photo/:photoId', 'work', readSheet),
]);

export const api = apiRoutes('Sampling', [
  post('/sampling-plans', 'work', operations.addSamplingPlan),
  get('/sampling-plans/:id', 'look', operations.getSamplingPlan),
  post('/sampling-plans/:id/results', 'work', operations.recordSamplingResults),
  post('/sampling-plans/:id/photo-readings', 'work', operations.readSampleSheet),
  post('/sampling-plans/:id/swatches', 'work', operations.makeSamplesSwatches),
]);
