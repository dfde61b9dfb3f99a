import type { FormState, Typed } from '../../../views/kit/field.ts';
import { recipeForm } from '../../../views/recipes/form.ts';
import { pctTyped } from '../../calc/quantity.ts';
import type { Db } from '../../db/open.ts';
import type { RecipeRow } from '../../db/tables/recipes.ts';
import { besideRows, submitForm } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { theRecipe } from '../present.ts';
import { dyesByIds, dyesInUse, latestRevision, revisionWithComponents } from '../queries.ts';
import * as rule from '../revisions.ts';
import { FormulaForm, RecipeForm } from '../schemas.ts';
import { revisionInputOf } from '../typedFormula.ts';
import { dyeRows, soFarOf } from './formula.ts';

const shape = (typed: Typed): unknown => ({ ...typed, ...dyeRows(typed) });

/** The newest formula of a recipe as its form would hold it, with the number that a change of it is made from. */
function typedFormula(db: Db, recipeId: number): Typed {
  const latest = latestRevision(db, recipeId);
  const from = latest && revisionWithComponents(db, latest.id);
  const typed: Record<string, string> = {
    fromRevision: String(latest?.number ?? 0),
    entryStyle: from?.revision.entryStyle ?? 'split',
    why: from?.revision.why ?? '',
  };
  if (from?.revision.entryStyle === 'split') typed['totalDepth'] = pctTyped({ ppm: from.revision.totalDepthPpm });
  from?.components.forEach((c, i) => {
    typed[`dyeId.${i}`] = String(c.dye.id);
    typed[`amount.${i}`] = pctTyped({ ppm: from.revision.entryStyle === 'split' ? c.sharePpm : c.depthPpm });
  });
  return typed;
}

/** Dyes to choose from; one that has been archived meanwhile stays choosable in a formula that names it already. */
function dyeChoices(db: Db, typed: Typed) {
  const named = dyeRows(typed).components.map((r) => Number(r.dyeId));
  const archived = dyesByIds(db, named.filter(Number.isSafeInteger)).filter((d) => d.archivedAt !== null);
  return [...dyesInUse(db), ...archived];
}

function formPage(db: Db, form: FormState, row: RecipeRow | null): Rendering {
  const dyes = dyeChoices(db, form.typed);
  return {
    title: row ? `${row.name}: new revision` : 'Write a recipe',
    section: 'recipes',
    scripts: ['rows.js'],
    body: recipeForm({
      form: { typed: form.typed, errors: besideRows(form.errors, dyeRows(form.typed)) },
      recipe: row && {
        recipeId: row.id,
        name: row.name,
        nextNumber: (latestRevision(db, row.id)?.number ?? 0) + 1,
        current: typedFormula(db, row.id),
      },
      dyes: row ? dyes.filter((d) => d.class === row.dyeClass) : dyes,
      soFar: soFarOf(db, form.typed),
    }),
  };
}

const NEW: FormState = { typed: { entryStyle: 'split', dyeClass: 'reactive' }, errors: {} };

export const newRecipe = page({
  show: ({ db }, { request, reply }) => sendPage(request, reply, formPage(db, NEW, null)),
});

export const addRecipe = page({
  show: ({ db, now }, { request, reply }) =>
    submitForm(request, reply, {
      schema: RecipeForm,
      shape,
      save: (form) => {
        const { name, dyeClass, note } = form;
        const input = { name, dyeClass, note, ...revisionInputOf(form) };
        return `/recipes/${rule.createRecipe(db, input, actorOf(request), now()).recipe.id}`;
      },
      again: (form) => formPage(db, form, null),
    }),
});

export const newRevision = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const recipe = theRecipe(db, params.id);
    const { why: _why, ...typed } = typedFormula(db, recipe.id);
    return sendPage(request, reply, formPage(db, { typed, errors: {} }, recipe));
  },
});

export const addRevision = page({
  params: idParams,
  show: ({ db, now }, { params, request, reply }) => {
    const recipe = theRecipe(db, params.id);
    return submitForm(request, reply, {
      schema: FormulaForm,
      shape,
      save: (form, typed) => {
        const from = typed['fromRevision'] ? Number(typed['fromRevision']) : 0;
        rule.addRevision(db, recipe.id, revisionInputOf(form), actorOf(request), now(), undefined, from);
        return `/recipes/${recipe.id}`;
      },
      again: (form) => formPage(db, form, recipe),
    });
  },
});
