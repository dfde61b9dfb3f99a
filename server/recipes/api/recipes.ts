import { z } from 'zod';
import { archivingOperations } from '../../http/archiving.ts';
import { NextPage, pageOf } from '../../http/paging.ts';
import { operation } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { recipeInList, recipeResource } from '../present.ts';
import { listRecipes } from '../queries.ts';
import { createRecipe, saveRecipeHead, setArchived } from '../revisions.ts';
import { ChangedRecipeBody, RecipeApiFilter, RecipeBody, RecipeListed, RecipeResource } from '../schemas.ts';

export const listSomeRecipes = operation({
  id: 'listRecipes',
  summary: 'Recipes by name, each with its newest revision',
  query: RecipeApiFilter,
  answer: z.object({ recipes: z.array(RecipeListed), next: NextPage }),
  run: ({ db }, { query: { words, dyeId = null, dyeClass = null, archived, after = null, limit } }) => {
    const wanted = { words, dyeId, dyeClass, archived: archived === 'yes' };
    const { shown, next } = pageOf(listRecipes(db, wanted, after, limit + 1), limit, (row) => row.recipe.name);
    return { recipes: shown.map(recipeInList), next };
  },
});

export const getRecipe = operation({
  id: 'getRecipe',
  summary: 'One recipe with all its revisions, newest first',
  params: idParams,
  answer: RecipeResource,
  run: ({ db }, { params }) => recipeResource(db, params.id),
});

export const addRecipe = operation({
  id: 'addRecipe',
  summary: 'Write a recipe: shares of a total depth, or each dye by its own depth',
  body: RecipeBody,
  answer: RecipeResource,
  status: 201,
  run: ({ db, now }, { body, request }) =>
    recipeResource(db, createRecipe(db, body, actorOf(request), now()).recipe.id),
});

export const saveRecipe = operation({
  id: 'saveRecipe',
  summary: 'Save name and note against the version that was read',
  params: idParams,
  body: ChangedRecipeBody,
  answer: RecipeResource,
  run: ({ db }, { params, body: { version, ...changes } }) =>
    recipeResource(db, saveRecipeHead(db, params.id, changes, version).id),
});

export const { archive: archiveRecipe, restore: restoreRecipe } = archivingOperations({
  noun: 'recipe',
  answer: RecipeResource,
  setArchived,
  resource: recipeResource,
});
