import { z } from 'zod';
import type { RecipeRevisionRow, RecipeRow } from '../db/tables/recipes.ts';
import type { Deps } from '../deps.ts';
import { invalid, notFound } from '../errors.ts';
import type { App } from '../http/app.ts';
import { NextPage, pageOf } from '../http/paging.ts';
import { actorOf } from '../people/guards.ts';
import { defaultScale, theStudio } from '../settings/queries.ts';
import { idParams } from '../typedFields.ts';
import { type ComponentWithDye, listRecipes, recipeById, revisionsOf, revisionWithComponents } from './queries.ts';
import { addRevision, createRecipe, saveRecipeHead, setArchived } from './revisions.ts';
import { scaledRevision } from './scaled.ts';
import {
  ChangedFormulaBody,
  RecipeApiFilter,
  RecipeBody,
  RecipeListed,
  RecipeResource,
  RevisionResource,
  ScaledResource,
} from './schemas.ts';

const revisionResource = (revision: RecipeRevisionRow, components: readonly ComponentWithDye[]) => ({
  ...revision,
  revisionId: revision.id,
  components: components.map(({ ordinal, dye, sharePpm, depthPpm }) => ({
    ordinal,
    dyeId: dye.id,
    dyeCode: dye.code,
    dyeName: dye.name,
    sharePpm,
    depthPpm,
  })),
});

const headOf = ({ id, archivedAt, ...row }: RecipeRow) => ({ ...row, recipeId: id, archived: archivedAt !== null });

export function api(app: App, deps: Deps): void {
  const { db } = deps;
  const tags = ['Recipes'];

  const resource = (recipeId: number) => {
    const row = recipeById(db, recipeId);
    if (!row) throw notFound('recipe');
    return {
      ...headOf(row),
      revisions: revisionsOf(db, recipeId).map((r) => revisionResource(r.revision, r.components)),
    };
  };
  const revision = (revisionId: number) => {
    const row = revisionWithComponents(db, revisionId);
    if (!row) throw notFound('revision');
    return row;
  };

  app.get(
    '/recipes',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'listRecipes',
        tags,
        summary: 'Recipes by name, each with its newest revision',
        querystring: RecipeApiFilter,
        response: { 200: z.object({ recipes: z.array(RecipeListed), next: NextPage }) },
      },
    },
    async (request) => {
      const { words, dyeId = null, dyeClass = null, archived, after = null, limit } = request.query;
      const wanted = { words, dyeId, dyeClass, archived: archived === 'yes' };
      const { shown, next } = pageOf(listRecipes(db, wanted, after, limit + 1), limit, (row) => row.recipe.name);
      return {
        recipes: shown.map((r) => ({
          ...headOf(r.recipe),
          swatchCount: r.swatchCount,
          latest: revisionResource(r.revision, r.components),
        })),
        next,
      };
    },
  );

  app.get(
    '/recipes/:id',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getRecipe',
        tags,
        summary: 'One recipe with all its revisions, newest first',
        params: idParams,
        response: { 200: RecipeResource },
      },
    },
    async (request) => resource(request.params.id),
  );

  app.post(
    '/recipes',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'addRecipe',
        tags,
        summary: 'Write a recipe: shares of a total depth, or each dye by its own depth',
        body: RecipeBody,
        response: { 201: RecipeResource },
      },
    },
    async (request, reply) => {
      const { recipe } = createRecipe(db, request.body, actorOf(request), deps.now());
      reply.code(201);
      return resource(recipe.id);
    },
  );

  app.put(
    '/recipes/:id',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'saveRecipe',
        tags,
        summary: 'Save name and note against the version that was read',
        params: idParams,
        body: z
          .object({
            name: z.string().trim().min(1).max(80),
            note: z.string().max(2000).default(''),
            version: z.number().int(),
          })
          .meta({ id: 'ChangedRecipe' }),
        response: { 200: RecipeResource },
      },
    },
    async (request) => {
      const { version, ...changes } = request.body;
      return resource(saveRecipeHead(db, request.params.id, changes, version).id);
    },
  );

  app.post(
    '/recipes/:id/revisions',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'reviseRecipe',
        tags,
        summary: 'Change a formula: a new revision; the old ones stand',
        params: idParams,
        body: ChangedFormulaBody,
        response: { 201: RevisionResource },
      },
    },
    async (request, reply) => {
      const { fromRevision, ...formula } = request.body;
      const made = addRevision(db, request.params.id, formula, actorOf(request), deps.now(), undefined, fromRevision);
      reply.code(201);
      return revisionResource(made, revision(made.id).components);
    },
  );

  for (const [noun, archived] of [
    ['archiving', true],
    ['restoring', false],
  ] as const) {
    app.post(
      `/recipes/:id/${noun}`,
      {
        config: { may: 'work' },
        schema: {
          operationId: archived ? 'archiveRecipe' : 'restoreRecipe',
          tags,
          summary: archived ? 'Put a recipe in the archive' : 'Take a recipe out of the archive',
          params: idParams,
          response: { 200: RecipeResource },
        },
      },
      async (request) => resource(setArchived(db, request.params.id, archived ? deps.now() : null).id),
    );
  }

  app.get(
    '/recipe-revisions/:id',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getRecipeRevision',
        tags,
        summary: 'One revision',
        params: idParams,
        response: { 200: RevisionResource },
      },
    },
    async (request) => {
      const row = revision(request.params.id);
      return revisionResource(row.revision, row.components);
    },
  );

  app.get(
    '/recipe-revisions/:id/masses',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'scaleRecipeRevision',
        tags,
        summary: 'Dye for so much goods, rounded to the default scale; standard strength, no loss',
        params: idParams,
        querystring: z.object({ goodsDryMassMg: z.coerce.number().int().positive() }),
        response: { 200: ScaledResource },
      },
    },
    async (request) => {
      const { goodsDryMassMg } = request.query;
      const readabilityMg = defaultScale(db)?.readabilityMg;
      if (readabilityMg === undefined) throw invalid({ readabilityMg: 'Add a scale in Settings first.' });
      const floorPpm = theStudio(db).weighingFloorPpm;
      const formula = revision(request.params.id);
      return {
        goodsDryMassMg,
        readabilityMg,
        ...scaledRevision({ formula, goodsDryMassMg, readabilityMg, floorPpm }),
      };
    },
  );
}
