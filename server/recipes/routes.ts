import { apiRoutes, get, pageRoutes, post, put } from '../http/routes.ts';
import * as recipes from './api/recipes.ts';
import * as revisions from './api/revisions.ts';
import { addRecipe, addRevision, newRecipe, newRevision } from './pages/form.ts';
import { showFormula } from './pages/formula.ts';
import { editHead, saveHead } from './pages/head.ts';
import { showRecipes } from './pages/list.ts';
import { archiveRecipe, restoreRecipe, showRecipe } from './pages/recipe.ts';

export const pages = pageRoutes([
  get('/recipes', 'look', showRecipes),
  get('/recipes/new', 'work', newRecipe),
  get('/recipes/formula', 'look', showFormula),
  post('/recipes', 'work', addRecipe),
  get('/recipes/:id', 'look', showRecipe),
  get('/recipes/:id/revisions/new', 'work', newRevision),
  post('/recipes/:id/revisions', 'work', addRevision),
  get('/recipes/:id/edit', 'work', editHead),
  post('/recipes/:id', 'work', saveHead),
  post('/recipes/:id/archiving', 'work', archiveRecipe),
  post('/recipes/:id/restoring', 'work', restoreRecipe),
]);

export const api = apiRoutes('Recipes', [
  get('/recipes', 'look', recipes.listSomeRecipes),
  get('/recipes/:id', 'look', recipes.getRecipe),
  post('/recipes', 'work', recipes.addRecipe),
  put('/recipes/:id', 'work', recipes.saveRecipe),
  post('/recipes/:id/revisions', 'work', revisions.reviseRecipe),
  post('/recipes/:id/archiving', 'work', recipes.archiveRecipe),
  post('/recipes/:id/restoring', 'work', recipes.restoreRecipe),
  get('/recipe-revisions/:id', 'look', revisions.getRevision),
  get('/recipe-revisions/:id/masses', 'look', revisions.scaleRevision),
]);
