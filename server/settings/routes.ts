import { get, pageRoutes, post } from '../http/routes.ts';
import * as settings from './pages/settings.ts';
import { sendAuthority, showTrust } from './pages/trust.ts';

export const pages = pageRoutes([
  get('/trust', 'anyone', showTrust),
  get('/trust/studio-authority.crt', 'anyone', sendAuthority),
  get('/settings', 'look', settings.showSettings),
  post('/settings', 'own', settings.saveSettings),
  post('/settings/scales', 'own', settings.addScale),
  post('/settings/scales/:id/choice', 'own', settings.chooseScale),
]);
