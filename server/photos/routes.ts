import { apiRoutes, get, pageRoutes, post } from '../http/routes.ts';
import { uploadPhoto } from './api/photos.ts';
import { sendPicture } from './pages/picture.ts';

export const pages = pageRoutes([get('/photos/:id/:size', 'look', sendPicture)]);

export const api = apiRoutes('Photos', [post('/photos', 'log', uploadPhoto)]);
