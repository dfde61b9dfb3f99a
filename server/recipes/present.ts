import type { Db } from '../db/open.ts';
import type { RecipeRevisionRow, RecipeRow } from '../db/tables/recipes.ts';
import { found } from '../errors.ts';
import {
  type ComponentWithDye,
  type RecipeOverview,
  type RevisionOfRecipe,
  type RevisionWithComponents,
  recipeById,
  revisionsOf,
  revisionWithComponents,
} from './queries.ts';
import type { FormulaLine, Recipe, RecipeInList, Revision, RevisionShown } from './schemas.ts';

export const theRecipe = (db: Db, recipeId: number): RecipeRow => found(recipeById(db, recipeId), 'recipe');
export const theRevision = (db: Db, revisionId: number): RevisionWithComponents =>
  found(revisionWithComponents(db, revisionId), 'revision');

const componentOf = ({ ordinal, dye, sharePpm, depthPpm }: ComponentWithDye): Revision['components'][number] => ({
  ordinal,
  dyeId: dye.id,
  dyeCode: dye.code,
  dyeName: dye.name,
  sharePpm,
  depthPpm,
});

export const revisionResource = (
  { id, ...revision }: RecipeRevisionRow,
  components: readonly ComponentWithDye[],
): Revision => ({ ...revision, revisionId: id, components: components.map(componentOf) });

const lineOf = (component: ComponentWithDye): FormulaLine => ({
  ...componentOf(component),
  hex: component.dye.shownHex,
});

/** A revision as its page shows it: with who made it, and the colours of its dyes. */
export const revisionShown = ({ revision, madeByName, components }: RevisionOfRecipe): RevisionShown => ({
  ...revisionResource(revision, components),
  madeByName,
  components: components.map(lineOf),
});

export const recipeHead = ({ id, archivedAt, ...row }: RecipeRow): Omit<Recipe, 'revisions'> => ({
  ...row,
  recipeId: id,
  archived: archivedAt !== null,
});

export const recipeResource = (db: Db, recipeId: number): Recipe => ({
  ...recipeHead(theRecipe(db, recipeId)),
  revisions: revisionsOf(db, recipeId).map((r) => revisionResource(r.revision, r.components)),
});

export const recipeInList = ({ recipe, swatchCount, hex, revision, components }: RecipeOverview): RecipeInList => ({
  ...recipeHead(recipe),
  swatchCount,
  latest: revisionResource(revision, components),
  hex,
});
