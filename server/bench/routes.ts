import type { Deps } from '../deps.ts';
import type { App } from '../http/app.ts';
import { apiRoutes, get, pageRoutes, post } from '../http/routes.ts';
import { addDeviation, addLogEntry, voidLogEntry } from './api/log.ts';
import { addPhoto } from './api/photos.ts';
import { addPlacement, listAllPlacements } from './api/placements.ts';
import { answerQuestion } from './api/questions.ts';
import { changeStep } from './api/steps.ts';
import { addVoice } from './api/voices.ts';
import { listAllWaysOut, takeOneWayOut } from './api/waysOut.ts';
import { addWeighing } from './api/weighings.ts';
import { livePages } from './liveRoutes.ts';
import { showBench } from './pages/bench.ts';
import { logAtBench } from './pages/log.ts';
import { photographAtBench } from './pages/photos.ts';
import { keepPlacement, showPlacement } from './pages/placement.ts';
import { stepAtBench } from './pages/steps.ts';
import { answerQuestionAtBench, undoAtBench } from './pages/undo.ts';
import { speakAtBench } from './pages/voices.ts';
import { takeWayOutAtBench } from './pages/waysOut.ts';
import { weighAtBench } from './pages/weighings.ts';

const forms = pageRoutes([
  get('/lots/:id/bench', 'log', showBench),
  post('/lots/:id/weighings', 'log', weighAtBench),
  post('/lots/:id/adjustments', 'log', takeWayOutAtBench),
  post('/lots/:id/steps', 'log', stepAtBench),
  post('/lots/:id/log', 'log', logAtBench),
  post('/lots/:id/photos', 'log', photographAtBench),
  post('/lots/:id/voices', 'log', speakAtBench),
  post('/lots/:id/log/:entryId/voiding', 'log', undoAtBench),
  post('/lots/:id/questions/:questionId/answer', 'log', answerQuestionAtBench),
  get('/lots/:id/placement', 'log', showPlacement),
  post('/lots/:id/placements', 'log', keepPlacement),
]);

export function pages(app: App, deps: Deps): void {
  livePages(app, deps);
  forms(app, deps);
}

export const api = apiRoutes('Production log', [
  post('/lots/:id/weighings', 'log', addWeighing),
  get('/lots/:id/ways-out/:componentId', 'look', listAllWaysOut),
  post('/lots/:id/adjustments', 'log', takeOneWayOut),
  post('/lots/:id/steps', 'log', changeStep),
  post('/lots/:id/log', 'log', addLogEntry),
  post('/lots/:id/deviations', 'log', addDeviation),
  get('/lots/:id/placements', 'look', listAllPlacements),
  post('/lots/:id/placements', 'log', addPlacement),
  post('/lots/:id/voices', 'log', addVoice),
  post('/lots/:id/photos', 'log', addPhoto),
  post('/log/:id/voiding', 'log', voidLogEntry),
  post('/lots/:id/questions/:questionId/answer', 'log', answerQuestion),
]);
