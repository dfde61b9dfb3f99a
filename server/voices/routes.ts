import { get, pageRoutes } from '../http/routes.ts';
import { sendRecording } from './pages/recording.ts';

export const pages = pageRoutes([get('/voices/:id', 'look', sendRecording)]);
