import type { FormState, Typed } from '../../../views/kit/field.ts';
import { recipeHeadForm } from '../../../views/recipes/head.ts';
import type { RecipeRow } from '../../db/tables/recipes.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { idParams } from '../../typedFields.ts';
import { theRecipe } from '../present.ts';
import { saveRecipeHead } from '../revisions.ts';
import { RecipeHeadForm } from '../schemas.ts';

const typedOf = (row: RecipeRow): Typed => ({ name: row.name, note: row.note, version: String(row.version) });

const headPage = (form: FormState, row: RecipeRow): Rendering => ({
  title: row.name,
  section: 'recipes',
  body: recipeHeadForm({ form, recipeId: row.id, name: row.name, current: typedOf(row) }),
});

export const editHead = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const recipe = theRecipe(db, params.id);
    return sendPage(request, reply, headPage({ typed: typedOf(recipe), errors: {} }, recipe));
  },
});

export const saveHead = page({
  params: idParams,
  show: ({ db }, { params: { id }, request, reply }) => {
    theRecipe(db, id);
    return submitForm(request, reply, {
      schema: RecipeHeadForm,
      save: ({ version, ...changes }) => `/recipes/${saveRecipeHead(db, id, changes, version).id}`,
      again: (form) => headPage(form, theRecipe(db, id)),
    });
  },
});
