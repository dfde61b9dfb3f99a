import { type DyeClass, dyeClassNames } from '../../server/calc/classFit.ts';
import { type Html, html } from '../html.ts';
import { dyeClassOptions } from '../kit/dyeClass.ts';
import {
  checkbox,
  choice,
  type FormState,
  field,
  fieldError,
  formNotice,
  selectField,
  type Typed,
  textArea,
} from '../kit/field.ts';
import { otherVersion } from '../kit/otherVersion.ts';
import { pageHead } from '../kit/pageHead.ts';
import { rowsOf } from '../kit/rows.ts';
import { type SoFarProps, soFar } from './formula.ts';

interface RecipeFormProps {
  form: FormState;
  /** Null for a new recipe; a new revision names its recipe. */
  recipe: { recipeId: number; name: string; nextNumber: number; current: Typed } | null;
  dyes: readonly { id: number; name: string; code: string; class: DyeClass }[];
  soFar: SoFarProps;
}

/** New recipe and new revision: the same formula, with its two ways of stating it. */
export const recipeForm = (props: RecipeFormProps): Html => {
  const { form, recipe } = props;
  const dyeOptions = props.dyes.map((d) => ({
    value: String(d.id),
    label: `${d.name} (${d.code})`,
    group: dyeClassNames[d.class],
  }));
  const action = recipe ? `/recipes/${recipe.recipeId}/revisions` : '/recipes';
  return html`${pageHead({
    title: recipe ? `${recipe.name}: revision ${recipe.nextNumber}` : 'Write a recipe',
    crumb: recipe
      ? { href: `/recipes/${recipe.recipeId}`, label: recipe.name }
      : { href: '/recipes', label: 'Recipes' },
    ...(recipe ? { lead: 'The revision before stays as it is, with all that was dyed by it.' } : {}),
  })}
${recipe && theirFormula(form, recipe.current, props.dyes)}
<form method="post" action="${action}" class="stack" hx-get="/recipes/formula" hx-target="#so-far" hx-swap="outerHTML"
  hx-trigger="input delay:200ms" hx-validate="false">${formNotice(form)}
  ${recipe && html`<input type="hidden" name="fromRevision" value="${recipe.current['fromRevision'] ?? ''}">`}
  ${
    recipe === null &&
    html`<fieldset class="panel"><legend>The shade</legend><div class="grid">
    ${field({ name: 'name', label: 'Name', form, required: true, autofocus: true })}
    ${selectField({
      name: 'dyeClass',
      label: 'Dye class',
      form,
      options: dyeClassOptions,
      required: true,
      hint: 'One bath, one class: every dye below is of it.',
    })}
    ${textArea({ name: 'note', label: 'Note', form, rows: 2 })}</div></fieldset>`
  }
  <div class="cols lean">
  <fieldset class="panel"><legend>The formula</legend>
    ${choice({
      name: 'entryStyle',
      label: 'Stated as',
      form,
      options: [
        { value: 'split', label: 'Shares of a total depth' },
        { value: 'ownDepths', label: 'A depth for each dye' },
      ],
      hint: 'Shares: a total of 2 % split 50/30/20. Own depths: 1 %, 0.6 % and 0.4 %. Both are the same recipe.',
    })}
    <div class="grid formula-head">
    ${field({
      name: 'totalDepth',
      label: 'Total depth, for shares',
      form,
      unit: '% owg',
      inputmode: 'decimal',
      size: 'short',
    })}
    ${field({
      name: 'shares',
      label: 'Shares in one line',
      form,
      placeholder: '50/30/20',
      size: 'short',
      hint: 'Stands for the amounts in the rows. 2:1 are parts.',
    })}</div>
    ${fieldError('components', form)}
    <ol class="rows" id="dye-rows" data-rows>${rowsOf(form.typed, 'dyeId', 3).map(
      (row) => html`<li class="row-card dye-row">
      ${selectField({ name: `dyeId.${row}`, label: 'Dye', form, options: dyeOptions, none: '—' })}
      ${field({ name: `amount.${row}`, label: 'Amount', form, unit: '%', inputmode: 'decimal' })}</li>`,
    )}</ol><button type="button" data-add-row="dye-rows">Another dye</button>
    ${
      props.dyes.length === 0 &&
      html`<p class="notice">There are no dyes on the shelf yet. <a href="/dyes/new">Add a dye</a> first.</p>`
    }
  </fieldset>
  ${
    (form.errors['depthConfirmed'] || form.typed['depthConfirmed'] === 'yes') &&
    checkbox({ name: 'depthConfirmed', label: 'That depth is meant', form })
  }
  <section class="panel so-far-panel"><h2>Both ways</h2>
    ${soFar(props.soFar)}</section>
  </div>
  <fieldset class="panel"><legend>Why</legend>
    ${field({
      name: 'why',
      label: recipe ? 'What the change is for' : 'Where it comes from',
      form,
      size: 'wide',
      placeholder: recipe ? 'last lot came out too green' : 'paper card 14',
    })}</fieldset>
  <p class="actions"><button
    class="primary big">${recipe ? `Keep as revision ${recipe.nextNumber}` : 'Keep the recipe'}</button></p>
</form>`;
};

/** The formula that somebody else kept while this one was written, beside it. */
const theirFormula = (form: FormState, current: Typed, dyes: RecipeFormProps['dyes']): Html | '' => {
  const named = ({ fromRevision = '', ...typed }: Typed): Typed => ({
    version: fromRevision,
    ...Object.fromEntries(
      Object.entries(typed)
        .filter(([name]) => Object.hasOwn(FORMULA_LABELS, name.split('.')[0] ?? ''))
        .map(([name, value]) => [
          name,
          name.startsWith('dyeId.') ? (dyes.find((d) => String(d.id) === value)?.name ?? value) : value,
        ]),
    ),
  });
  return form.typed['fromRevision'] === undefined
    ? ''
    : otherVersion({ typed: named(form.typed), current: named(current), labels: FORMULA_LABELS });
};
const FORMULA_LABELS = {
  entryStyle: 'Stated as',
  totalDepth: 'Total depth',
  shares: 'Shares in one line',
  dyeId: 'Dye',
  amount: 'Amount',
  why: 'Why',
} as const;
