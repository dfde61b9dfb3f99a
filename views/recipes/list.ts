import { type DyeClass, dyeClassNames } from '../../server/calc/classFit.ts';
import type { RecipeInList } from '../../server/recipes/schemas.ts';
import { type Html, html } from '../html.ts';
import { colourChip } from '../kit/colourChip.ts';
import { dyeClassOptions } from '../kit/dyeClass.ts';
import { checkbox, field, selectField } from '../kit/field.ts';
import { emptyState, pageHead, pager } from '../kit/pageHead.ts';
import { percent } from '../kit/show.ts';
import { formulaLine } from './formula.ts';

interface RecipesProps {
  recipes: readonly RecipeInList[];
  nextHref: string | null;
  firstHref: string | null;
  filter: Readonly<Record<string, string>>;
  filtered: boolean;
  dyes: readonly { id: number; name: string; class: DyeClass }[];
  mayWork: boolean;
}

const dyeCount = (n: number): string => (n === 1 ? 'one dye' : `${n} dyes`);

const swatchCount = (n: number): string => (n === 0 ? 'no swatch yet' : n === 1 ? 'one swatch' : `${n} swatches`);

const row = ({ latest, ...r }: RecipeInList): Html =>
  html`<li><a class="recipe-row" href="/recipes/${r.recipeId}">
      <span class="recipe-colour">${colourChip({ hex: r.hex, label: r.name, size: 'tile' })}</span>
      <span class="grow"><b>${r.name}</b><span class="fine">${dyeClassNames[r.dyeClass]} · ${dyeCount(
        latest.components.length,
      )} · ${swatchCount(r.swatchCount)}${latest.number > 1 && ` · revision ${latest.number}`}</span><span
      class="recipe-formula">${formulaLine(latest.components)}</span></span>
      <span class="recipe-depth">${percent(latest.totalDepthPpm)}</span></a></li>`;

/** The list by itself: what a change of the filter swaps. */
export const recipeList = (props: RecipesProps): Html =>
  html`<div id="recipe-list">${
    props.recipes.length === 0
      ? props.filtered
        ? emptyState({ title: 'No recipe is like that', words: 'Take a word out, or choose another dye.' })
        : emptyState({
            title: 'No recipes yet',
            words:
              'A recipe is the formula of one shade: which dyes, in which shares, how deep. Start from a paper card.',
            ...(props.mayWork ? { action: { href: '/recipes/new', label: 'Write a recipe' } } : {}),
          })
      : html`<ul class="recipe-rows">${props.recipes.map(row)}</ul>${pager({
          nextHref: props.nextHref,
          firstHref: props.firstHref,
        })}`
  }</div>`;

export const recipesPage = (props: RecipesProps): Html => {
  const form = { typed: props.filter, errors: {} };
  return html`${pageHead({
    title: 'Recipes',
    lead: 'The formula of each shade. A change makes a new revision; what was dyed by the old one still stands on it.',
    actions: props.mayWork && html`<a class="button primary" href="/recipes/new">Write a recipe</a>`,
  })}
<form class="filter" method="get" action="/recipes" role="search" hx-get="/recipes" hx-target="#recipe-list"
  hx-swap="outerHTML" hx-trigger="input delay:300ms, submit" hx-push-url="true">
  ${field({ name: 'words', label: 'Words', form, type: 'search', placeholder: 'slate, or a dye' })}
  ${selectField({
    name: 'dyeId',
    label: 'With the dye',
    form,
    none: 'any dye',
    options: props.dyes.map((d) => ({ value: String(d.id), label: d.name, group: dyeClassNames[d.class] })),
  })}
  ${selectField({ name: 'dyeClass', label: 'Dye class', form, none: 'any class', options: dyeClassOptions })}
  ${checkbox({ name: 'archived', label: 'From the archive', form })}
  <p class="filter-go"><button>Show</button></p>
</form>
${recipeList(props)}`;
};
