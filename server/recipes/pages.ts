import { z } from 'zod';
import type { FormState, Typed } from '../../views/kit/field.ts';
import { recipeForm, recipeHeadForm, type SoFarProps, soFar } from '../../views/recipes/form.ts';
import type { ComponentItem } from '../../views/recipes/formula.ts';
import { type RecipesProps, recipeList, recipesPage } from '../../views/recipes/list.ts';
import { recipePage, type ScaledProps, scaledMasses } from '../../views/recipes/show.ts';
import { pctText } from '../calc/quantity.ts';
import { atDepthDyed } from '../closings/asDyed.ts';
import type { RecipeRow } from '../db/tables/recipes.ts';
import type { Deps } from '../deps.ts';
import { asRefusal, notFound } from '../errors.ts';
import type { App } from '../http/app.ts';
import { besideRows, readInput, submitForm, typedBody, typedRows } from '../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../http/page.ts';
import { actorOf, allows } from '../people/guards.ts';
import { defaultScale, theStudio } from '../settings/queries.ts';
import { showOf } from '../settings/show.ts';
import { idParams, massMgField } from '../typedFields.ts';
import {
  type ComponentWithDye,
  dyesByIds,
  dyesInUse,
  latestRevision,
  listRecipes,
  lotsOfRecipe,
  recipeById,
  revisionsOf,
  revisionWithComponents,
  swatchesOfRecipe,
} from './queries.ts';
import { addRevision, createRecipe, saveRecipeHead, setArchived } from './revisions.ts';
import { scaledRevision } from './scaled.ts';
import { FormulaForm, RecipeFilterQuery, RecipeForm, RecipeHeadForm } from './schemas.ts';
import { formulaSoFar, revisionInputOf } from './typedFormula.ts';

const PAGE = 60;
const found = (row: RecipeRow | undefined): RecipeRow => {
  if (!row) throw notFound('recipe');
  return row;
};

const rowsOf = (typed: Typed) => ({ components: typedRows(typed, ['dyeId', 'amount']) });
const shapeOf = (typed: Typed): unknown => ({ ...typed, ...rowsOf(typed) });
const bare = (ppm: number): string => pctText({ ppm }).replace(' %', '');

const itemOf = ({ dye, sharePpm, depthPpm }: ComponentWithDye): ComponentItem => ({
  dyeId: dye.id,
  dyeName: dye.name,
  dyeCode: dye.code,
  hex: dye.shownHex,
  sharePpm,
  depthPpm,
});

const goods = z.object({ goods: massMgField('How much goods?', 'g') });
const masses = z.object({
  goods: z.string().trim().max(60).catch('').default(''),
  revisionId: z.coerce.number().int().positive().nullable().catch(null).default(null),
});

export function pages(app: App, deps: Deps): void {
  const { db } = deps;

  const soFarOf = (typed: Typed): SoFarProps => {
    const read = FormulaForm.safeParse(shapeOf(typed));
    if (!read.success) {
      return rowsOf(typed).components.length === 0
        ? { kind: 'empty' }
        : { kind: 'notYet', why: read.error.issues[0]?.message ?? '' };
    }
    const said = formulaSoFar(read.data);
    if (said.kind === 'notYet') return said;
    const named = dyesByIds(
      db,
      said.components.map((c) => c.dyeId),
    );
    const byId = new Map(named.map((d) => [d.id, d]));
    return {
      ...said,
      components: said.components.map((c) => {
        const dye = byId.get(c.dyeId);
        return { ...c, dyeName: dye?.name ?? '?', dyeCode: dye?.code ?? '', hex: dye?.shownHex ?? null };
      }),
    };
  };

  /** The newest formula of a recipe as its form would hold it, with the number that a change of it is made from. */
  const typedFormula = (recipeId: number): Typed => {
    const latest = latestRevision(db, recipeId);
    const from = latest && revisionWithComponents(db, latest.id);
    const typed: Record<string, string> = {
      fromRevision: String(latest?.number ?? 0),
      entryStyle: from?.revision.entryStyle ?? 'split',
      why: from?.revision.why ?? '',
    };
    if (from?.revision.entryStyle === 'split') typed['totalDepth'] = bare(from.revision.totalDepthPpm);
    from?.components.forEach((c, i) => {
      typed[`dyeId.${i}`] = String(c.dye.id);
      typed[`amount.${i}`] = bare(from.revision.entryStyle === 'split' ? c.sharePpm : c.depthPpm);
    });
    return typed;
  };

  const formPage = (form: FormState, row: RecipeRow | null): Rendering => {
    const inUse = dyesInUse(db);
    const named = rowsOf(form.typed).components.map((r) => Number(r.dyeId));
    // A dye that was archived meanwhile stays choosable in a formula that names it already.
    const archived = dyesByIds(db, named.filter(Number.isSafeInteger)).filter((d) => d.archivedAt !== null);
    const dyes = [...inUse, ...archived];
    return {
      title: row ? `${row.name}: new revision` : 'Write a recipe',
      section: 'recipes',
      scripts: ['rows.js'],
      body: recipeForm({
        form: { typed: form.typed, errors: besideRows(form.errors, rowsOf(form.typed)) },
        recipe: row && {
          recipeId: row.id,
          name: row.name,
          dyeClass: row.dyeClass,
          nextNumber: (latestRevision(db, row.id)?.number ?? 0) + 1,
          current: typedFormula(row.id),
        },
        dyes: row ? dyes.filter((d) => d.class === row.dyeClass) : dyes,
        soFar: soFarOf(form.typed),
      }),
    };
  };

  app.get(
    '/recipes',
    { config: { may: 'look' }, schema: { querystring: RecipeFilterQuery } },
    async (request, reply) => {
      const { words, dyeId, dyeClass, archived, after } = request.query;
      const rows = listRecipes(db, { words, dyeId, dyeClass, archived: archived === 'yes' }, after, PAGE + 1);
      const shown = rows.slice(0, PAGE);
      const filter = {
        words,
        dyeId: dyeId === null ? '' : String(dyeId),
        dyeClass: dyeClass ?? '',
        archived: archived ?? '',
      };
      const here = (last: string | null): string =>
        `/recipes?${new URLSearchParams({ ...filter, ...(last === null ? {} : { after: last }) })}`;
      const props: RecipesProps = {
        recipes: shown.map((r) => ({
          recipeId: r.recipe.id,
          name: r.recipe.name,
          dyeClass: r.recipe.dyeClass,
          revisionCount: r.revision.number,
          swatchCount: r.swatchCount,
          totalDepthPpm: r.revision.totalDepthPpm,
          hex: r.hex,
          components: r.components.map(itemOf),
        })),
        nextHref: rows.length > PAGE ? here(shown.at(-1)?.recipe.name ?? null) : null,
        firstHref: after === null ? null : here(null),
        filter,
        filtered: Object.values(filter).some((v) => v !== ''),
        dyes: dyesInUse(db),
        mayWork: allows(request.actor, 'work'),
      };
      return sendPage(request, reply, {
        title: 'Recipes',
        section: 'recipes',
        body: recipesPage(props),
        part: recipeList(props),
      });
    },
  );

  app.get('/recipes/new', { config: { may: 'work' } }, async (request, reply) =>
    sendPage(request, reply, formPage({ typed: { entryStyle: 'split', dyeClass: 'reactive' }, errors: {} }, null)),
  );

  app.get('/recipes/formula', { config: { may: 'look' } }, async (request, reply) =>
    sendPage(request, reply, {
      title: 'Both ways of stating a formula',
      section: 'recipes',
      body: soFar(soFarOf(typedBody(request.query))),
    }),
  );

  app.post('/recipes', { config: { may: 'work' } }, async (request, reply) =>
    submitForm(request, reply, {
      schema: RecipeForm,
      shape: shapeOf,
      save: (form) => {
        const { name, dyeClass, note } = form;
        const input = { name, dyeClass, note, ...revisionInputOf(form) };
        return `/recipes/${createRecipe(db, input, actorOf(request), deps.now()).recipe.id}`;
      },
      again: (form) => formPage(form, null),
    }),
  );

  app.get(
    '/recipes/:id',
    { config: { may: 'look' }, schema: { params: idParams, querystring: masses } },
    async (request, reply) => {
      const recipe = found(recipeById(db, request.params.id));
      const revisions = revisionsOf(db, recipe.id);
      const asked = request.query.revisionId;
      const chosen = revisions.find((r) => r.revision.id === asked) ?? revisions[0];
      if (!chosen) throw notFound('revision');
      const show = showOf(db);
      const scaled = scaledOf(recipe.id, chosen, request.query.goods);
      return sendPage(request, reply, {
        title: recipe.name,
        section: 'recipes',
        part: scaledMasses(scaled),
        body: recipePage({
          recipe: {
            recipeId: recipe.id,
            name: recipe.name,
            dyeClass: recipe.dyeClass,
            note: recipe.note,
            archived: recipe.archivedAt !== null,
          },
          revisions: revisions.map(({ revision, madeByName, components }) => ({
            ...revision,
            revisionId: revision.id,
            madeByName,
            components: components.map(itemOf),
          })),
          scaled,
          swatches: swatchesOfRecipe(db, recipe.id),
          lots: atDepthDyed(db, lotsOfRecipe(db, recipe.id)),
          show,
          mayWork: allows(request.actor, 'work'),
        }),
      });
    },
  );

  function scaledOf(
    recipeId: number,
    chosen: Parameters<typeof scaledRevision>[0]['formula'],
    typed: string,
  ): ScaledProps {
    const common = { recipeId, revisionId: chosen.revision.id, goodsTyped: typed };
    if (typed === '') return { ...common, kind: 'none' };
    try {
      const goodsDryMassMg = readInput(goods, { goods: typed }).goods;
      const readabilityMg = defaultScale(db)?.readabilityMg;
      if (readabilityMg === undefined) return { ...common, kind: 'unreadable', why: 'Add a scale in Settings first.' };
      const floorPpm = theStudio(db).weighingFloorPpm;
      const result = scaledRevision({ formula: chosen, goodsDryMassMg, readabilityMg, floorPpm });
      return { ...common, kind: 'scaled', goodsDryMassMg, readabilityMg, show: showOf(db), ...result };
    } catch (error) {
      const refusal = asRefusal(error);
      if (!refusal) throw error;
      return { ...common, kind: 'unreadable', why: refusal.fields['goods'] ?? refusal.message };
    }
  }

  app.get(
    '/recipes/:id/revisions/new',
    { config: { may: 'work' }, schema: { params: idParams } },
    async (request, reply) => {
      const recipe = found(recipeById(db, request.params.id));
      const { why: _why, ...typed } = typedFormula(recipe.id);
      return sendPage(request, reply, formPage({ typed, errors: {} }, recipe));
    },
  );

  app.post(
    '/recipes/:id/revisions',
    { config: { may: 'work' }, schema: { params: idParams } },
    async (request, reply) => {
      const recipe = found(recipeById(db, request.params.id));
      return submitForm(request, reply, {
        schema: FormulaForm,
        shape: shapeOf,
        save: (form, typed) => {
          const from = typed['fromRevision'] ? Number(typed['fromRevision']) : 0;
          addRevision(db, recipe.id, revisionInputOf(form), actorOf(request), deps.now(), undefined, from);
          return `/recipes/${recipe.id}`;
        },
        again: (form) => formPage(form, recipe),
      });
    },
  );

  const typedHead = (row: RecipeRow): Typed => ({ name: row.name, note: row.note, version: String(row.version) });
  const headPage = (form: FormState, row: RecipeRow): Rendering => ({
    title: row.name,
    section: 'recipes',
    body: recipeHeadForm({ form, recipeId: row.id, name: row.name, current: typedHead(row) }),
  });

  app.get('/recipes/:id/edit', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const recipe = found(recipeById(db, request.params.id));
    return sendPage(request, reply, headPage({ typed: typedHead(recipe), errors: {} }, recipe));
  });

  app.post('/recipes/:id', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const { id } = request.params;
    found(recipeById(db, id));
    return submitForm(request, reply, {
      schema: RecipeHeadForm,
      save: ({ version, ...changes }) => {
        saveRecipeHead(db, id, changes, version);
        return `/recipes/${id}`;
      },
      again: (form) => headPage(form, found(recipeById(db, id))),
    });
  });

  for (const [noun, archived] of [
    ['archiving', true],
    ['restoring', false],
  ] as const) {
    app.post(
      `/recipes/:id/${noun}`,
      { config: { may: 'work' }, schema: { params: idParams } },
      async (request, reply) => {
        setArchived(db, request.params.id, archived ? deps.now() : null);
        return seeOther(reply, `/recipes/${request.params.id}`);
      },
    );
  }
}
