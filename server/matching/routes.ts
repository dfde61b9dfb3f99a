import { apiRoutes, get, pageRoutes, post, put } from '../http/routes.ts';
import { proposeCorrections } from './api/corrections.ts';
import { getKnowledge, getUndyed, saveUndyed } from './api/knowledge.ts';
import { predictColours } from './api/predictions.ts';
import { proposeRecipes } from './api/proposals.ts';
import { noteAddition, showCorrection } from './pages/correction.ts';
import { keepUndyedColour, showKnowledge } from './pages/knowledge.ts';
import { showPredicted } from './pages/predicted.ts';
import { showProposals, take } from './pages/proposals.ts';

export const pages = pageRoutes([
  get('/colour/predicted', 'look', showPredicted),
  get('/colour/proposals', 'look', showProposals),
  post('/colour/proposals', 'work', take),
  get('/lots/:id/correction', 'look', showCorrection),
  post('/lots/:id/correction', 'log', noteAddition),
  get('/colour/knowledge', 'look', showKnowledge),
  post('/colour/undyed', 'work', keepUndyedColour),
]);

export const api = apiRoutes('Matching', [
  post('/predict', 'look', predictColours),
  get('/matching', 'look', getKnowledge),
  get('/fibres/:id/undyed', 'look', getUndyed),
  put('/fibres/:id/undyed', 'work', saveUndyed),
  post('/proposals', 'look', proposeRecipes),
  post('/lots/:id/corrections', 'look', proposeCorrections),
]);
