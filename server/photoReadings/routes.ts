import { apiRoutes, get, pageRoutes, post } from '../http/routes.ts';
import { readUploadedPhoto } from './api/photoReadings.ts';
import { keepReading } from './pages/keeping.ts';
import { showPhoto } from './pages/photo.ts';
import { showResult } from './pages/result.ts';
import { startReading, takePhoto } from './pages/start.ts';

export const pages = pageRoutes([
  get('/photo-readings/new', 'log', startReading),
  post('/photo-readings', 'log', takePhoto),
  get('/photo-readings/:id', 'log', showPhoto),
  get('/photo-readings/:id/result', 'log', showResult),
  post('/photo-readings/:id/keeping', 'log', keepReading),
]);

export const api = apiRoutes('Colour readings', [post('/photo-readings', 'log', readUploadedPhoto)]);
