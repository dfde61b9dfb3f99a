import type { Actor, Deps } from '../deps.ts';
import { invalid, notFound } from '../errors.ts';
import { planLot } from '../lots/planLot.ts';
import { dyesByIds, latestRevision, recipeById } from '../recipes/queries.ts';
import { addRevision, createRecipe } from '../recipes/revisions.ts';
import type { Goods } from './predictions.ts';
import { freeRecipeName } from './queries.ts';

export interface TrialInput extends Goods {
  components: readonly { dyeId: number; depthPpm: number }[];
  /** What to do with the formula: keep it as a recipe, as a new revision of `recipeId`, or as a recipe with a piece to dye. */
  as: 'recipe' | 'revision' | 'trial';
  recipeId: number | null;
  name: string;
  why: string;
  /** Dry mass of the piece. */
  massMg: number;
  /** The swatch whose colour is wanted, if it is of one. */
  likeSwatchId: number | null;
}

export interface Trial {
  recipeId: number;
  revisionId: number;
  lotId: number | null;
}

/** Turns a proposed formula into a recipe or a revision, and plans the piece to dye where it is wanted: all or nothing. */
export function takeProposal(deps: Deps, input: TrialInput, by: Actor): Trial {
  const { db } = deps;
  const at = deps.now();
  return db.transaction((tx) => {
    const [first] = dyesByIds(
      tx,
      input.components.map((c) => c.dyeId),
    );
    if (!first) throw invalid({ components: 'A recipe needs at least one dye.' });
    const formula = {
      entryStyle: 'ownDepths' as const,
      components: [...input.components],
      why: input.why.slice(0, 500),
    };
    let recipeId: number;
    let revisionId: number;
    if (input.as === 'revision') {
      if (input.recipeId === null || !recipeById(tx, input.recipeId)) throw notFound('recipe');
      recipeId = input.recipeId;
      revisionId = addRevision(tx, recipeId, formula, by, at).id;
    } else {
      const name = freeRecipeName(tx, input.name.slice(0, 70));
      const made = createRecipe(tx, { name, dyeClass: first.class, note: '', ...formula }, by, at);
      recipeId = made.recipe.id;
      revisionId = made.revision.id;
    }
    if (input.as !== 'trial') return { recipeId, revisionId, lotId: null };
    const depthPpm = latestRevision(tx, recipeId)?.totalDepthPpm ?? 0;
    const lot = planLot(
      deps,
      {
        fibreId: input.fibreId,
        methodId: input.methodId,
        goodsText: `Trial piece: ${input.name}`.slice(0, 200),
        pieces: 1,
        goodsOwner: 'studio',
        goodsStockLotId: null,
        mass: { found: 'stated', massMg: input.massMg },
        coverage: 'eachOverAll',
        colours: [{ revisionId, swatchId: input.likeSwatchId, depthPpm, sharePpm: 1_000_000, placement: '' }],
        bathUl: null,
        soakUl: null,
        lossPpm: null,
        solutions: 'auto',
        stockLotChoices: {},
        orderLines: [],
        plannedForOn: null,
        repeatsLotId: null,
      },
      by,
    );
    return { recipeId, revisionId, lotId: lot.id };
  });
}
