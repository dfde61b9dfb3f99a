import type { Deps } from '../deps.ts';
import type { App } from '../http/app.ts';
import { apiRoutes, get, pageRoutes, post } from '../http/routes.ts';
import { readUploadedPhoto } from './api/photoReadings.ts';
import { keepReading } from './pages/keeping.ts';
import { showPhoto } from './pages/photo.ts';
import { showResult } from './pages/result.ts';
import { startReading, takePhoto } from './pages/start.ts';
import { holdPhotoReader } from './photoReader.ts';

const ownPages = pageRoutes([
  get('/photo-readings/new', 'log', startReading),
  post('/photo-readings', 'log', takePhoto),
  get('/photo-readings/:id', 'log', showPhoto),
  get('/photo-readings/:id/result', 'log', showResult),
  post('/photo-readings/:id/keeping', 'log', keepReading),
]);

export function pages(app: App, deps: Deps): void {
  ownPages(app, deps);
  // The thread that reads photos ends with the service.
  app.addHook('onClose', holdPhotoReader());
}

export const api = apiRoutes('Colour readings', [post('/photo-readings', 'log', readUploadedPhoto)]);
