import { recipeList, recipesPage } from '../../../views/recipes/list.ts';
import { sendPage } from '../../http/page.ts';
import { pageOf } from '../../http/paging.ts';
import { page } from '../../http/routes.ts';
import { allows } from '../../people/guards.ts';
import { recipeInList } from '../present.ts';
import { dyesInUse, listRecipes } from '../queries.ts';
import { RecipeFilterQuery } from '../schemas.ts';

const PAGE = 60;

export const showRecipes = page({
  query: RecipeFilterQuery,
  show: ({ db }, { query, request, reply }) => {
    const { words, dyeId, dyeClass, archived, after } = query;
    const rows = listRecipes(db, { words, dyeId, dyeClass, archived: archived === 'yes' }, after, PAGE + 1);
    const { shown, next } = pageOf(rows, PAGE, (row) => row.recipe.name);
    const filter = {
      words,
      dyeId: dyeId === null ? '' : String(dyeId),
      dyeClass: dyeClass ?? '',
      archived: archived ?? '',
    };
    const here = (last: string | null): string =>
      `/recipes?${new URLSearchParams({ ...filter, ...(last === null ? {} : { after: last }) })}`;
    const props = {
      recipes: shown.map(recipeInList),
      nextHref: next === null ? null : here(next),
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
});
