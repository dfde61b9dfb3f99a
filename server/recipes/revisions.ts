import { dyeClassNames } from '../calc/classFit.ts';
import { ownDepthsPpm, splitOfOwnDepths } from '../calc/dyeMass.ts';
import type { Db } from '../db/open.ts';
import type { DyeRow } from '../db/tables/materials.ts';
import type { RecipeComponentRow, RecipeRevisionRow, RecipeRow } from '../db/tables/recipes.ts';
import type { Actor } from '../deps.ts';
import { demandNone, type FieldErrors, found, invalid, Refusal, stale } from '../errors.ts';
import { type DyeInShade, demandBelievableDepths } from './deepShade.ts';
import { dyesByIds, insertRecipe, insertRevision, latestRevision, recipeById, updateRecipe } from './queries.ts';
import type { RecipeInput, RevisionInput } from './schemas.ts';

/** Adds a recipe with its first revision, which has another number than 1 only where a record from elsewhere says so. */
export function createRecipe(
  db: Db,
  input: RecipeInput,
  by: Actor,
  at: number,
  number = 1,
): { recipe: RecipeRow; revision: RecipeRevisionRow } {
  return db.transaction((tx) => {
    refuseUnsuitable(tx, input.dyeClass, input.components);
    demandBelievableDepths(dyesInShade(tx, input), input.depthConfirmed);
    const recipe = insertRecipe(tx, { name: input.name, dyeClass: input.dyeClass, note: input.note });
    return { recipe, revision: write(tx, recipe.id, number, input, by, at) };
  });
}

/** A change of a formula is a new revision; what was dyed by the old ones still stands on them. */
export function addRevision(
  db: Db,
  recipeId: number,
  input: RevisionInput,
  by: Actor,
  at: number,
  number?: number,
  /** Number of the revision that it was made from; left out where it was made from none, as one that came with an import. */
  fromRevision?: number,
): RecipeRevisionRow {
  return db.transaction((tx) => {
    const recipe = found(recipeById(tx, recipeId), 'recipe');
    const latest = latestRevision(tx, recipeId);
    if (fromRevision !== undefined && latest && latest.number !== fromRevision)
      throw new Refusal(
        'staleEdit',
        `Revision ${latest.number} is the newest, and yours was made from ${fromRevision === 0 ? 'one that it does not name' : `revision ${fromRevision}`}. Nothing of yours was saved; what you typed stands below, beside theirs.`,
        {},
        { latestRevision: latest.number },
      );
    if (recipe.archivedAt !== null) {
      throw new Refusal('conflict', 'This recipe is archived. Take it out of the archive first.');
    }
    refuseUnsuitable(tx, recipe.dyeClass, input.components);
    demandBelievableDepths(dyesInShade(tx, input), input.depthConfirmed);
    return write(tx, recipeId, number ?? (latestRevision(tx, recipeId)?.number ?? 0) + 1, input, by, at);
  });
}

/** Both statements of one formula: the total depth, and each dye's share of it and depth of its own. */
export function bothStyles(formula: RevisionInput): {
  totalDepthPpm: number;
  components: Pick<RecipeComponentRow, 'dyeId' | 'sharePpm' | 'depthPpm'>[];
} {
  if (formula.entryStyle === 'split') {
    const total = formula.components.reduce((sum, c) => sum + c.sharePpm, 0);
    if (total !== 1_000_000) {
      throw invalid({ components: `The shares add to ${Number((total / 10_000).toFixed(4))} %, not to 100 %.` });
    }
    const depths = ownDepthsPpm({
      depthPpm: formula.totalDepthPpm,
      sharesPpm: formula.components.map((c) => c.sharePpm),
    });
    return {
      totalDepthPpm: formula.totalDepthPpm,
      components: formula.components.map((c, i) => ({
        dyeId: c.dyeId,
        sharePpm: c.sharePpm,
        depthPpm: depths[i] ?? 0,
      })),
    };
  }
  const split = splitOfOwnDepths({ ownDepthsPpm: formula.components.map((c) => c.depthPpm) });
  if (split.depthPpm > 2_000_000) {
    throw invalid({ components: `The depths add to ${split.depthPpm / 10_000} %: at most 200 % of the goods.` });
  }
  return {
    totalDepthPpm: split.depthPpm,
    components: formula.components.map((c, i) => ({
      dyeId: c.dyeId,
      sharePpm: split.sharesPpm[i] ?? 0,
      depthPpm: c.depthPpm,
    })),
  };
}

function write(
  db: Db,
  recipeId: number,
  number: number,
  input: RevisionInput,
  by: Actor,
  at: number,
): RecipeRevisionRow {
  const { totalDepthPpm, components } = bothStyles(input);
  return insertRevision(
    db,
    {
      recipeId,
      number,
      entryStyle: input.entryStyle,
      totalDepthPpm,
      why: input.why,
      madeAt: at,
      madeBy: by.personId,
    },
    components,
  );
}

/** Dyes of a formula with the depth that each has in it. */
export function dyesInShade(db: Db, input: RevisionInput): DyeInShade[] {
  const depths = new Map(bothStyles(input).components.map((c) => [c.dyeId, c.depthPpm]));
  return dyesByIds(db, [...depths.keys()]).map((dye) => ({ ...dye, depthPpm: depths.get(dye.id) ?? 0 }));
}

/** Every dye is there, is named once, and is of the recipe's class: classes do not share a bath. */
function refuseUnsuitable(db: Db, dyeClass: RecipeRow['dyeClass'], components: readonly { dyeId: number }[]): void {
  const byId = new Map<number, DyeRow>(
    dyesByIds(
      db,
      components.map((c) => c.dyeId),
    ).map((d) => [d.id, d]),
  );
  const errors: FieldErrors = {};
  const seen = new Set<number>();
  components.forEach(({ dyeId }, i) => {
    const dye = byId.get(dyeId);
    const field = `components.${i}.dyeId`;
    if (!dye) errors[field] = 'There is no such dye.';
    else if (seen.has(dyeId)) errors[field] = `${dye.name} is in the recipe already: put its parts together.`;
    else if (dye.class !== dyeClass) {
      errors[field] =
        `${dye.name} is ${article(dyeClassNames[dye.class])} dye; this recipe is ${dyeClassNames[dyeClass]}.`;
    }
    seen.add(dyeId);
  });
  demandNone(errors);
}

const article = (word: string): string => `${/^[aeiou]/.test(word) ? 'an' : 'a'} ${word}`;

/** Saves name and note against the version that was read. */
export function saveRecipeHead(
  db: Db,
  recipeId: number,
  changes: Pick<RecipeRow, 'name' | 'note'>,
  version: number,
): RecipeRow {
  found(recipeById(db, recipeId), 'recipe');
  const saved = updateRecipe(db, recipeId, changes, version);
  if (!saved) throw stale('recipe', 'beside');
  return saved;
}

/** Puts a recipe in the archive, or takes it out; its revisions stand either way. */
export function setArchived(db: Db, recipeId: number, archivedAt: number | null): RecipeRow {
  return db.transaction((tx) => {
    const recipe = found(recipeById(tx, recipeId), 'recipe');
    return updateRecipe(tx, recipeId, { archivedAt }, recipe.version) ?? recipe;
  });
}
