import type { Db } from '../db/open.ts';
import type { Actor, Deps } from '../deps.ts';
import { invalid, notFound } from '../errors.ts';
import { planLot } from '../lots/planLot.ts';
import { dyesByIds, latestRevision, recipeById } from '../recipes/queries.ts';
import { addRevision, createRecipe } from '../recipes/revisions.ts';
import type { RevisionInput } from '../recipes/schemas.ts';
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

/** Turns a proposed formula into a recipe or a revision, and plans the piece to dye where one is wanted: all or nothing. */
export function takeProposal(deps: Deps, input: TrialInput, by: Actor): Trial {
  const { db } = deps;
  const at = deps.now();
  return db.transaction((tx) => {
    const { recipeId, revisionId } = keptFormula(tx, input, by, at);
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

/** The formula as a new revision of its recipe, or as a recipe of its own. */
function keptFormula(db: Db, input: TrialInput, by: Actor, at: number): Pick<Trial, 'recipeId' | 'revisionId'> {
  const dyeIds = input.components.map((c) => c.dyeId);
  const [first] = dyesByIds(db, dyeIds);
  if (!first) throw invalid({ components: 'A recipe needs at least one dye.' });
  const formula: RevisionInput = {
    entryStyle: 'ownDepths',
    components: [...input.components],
    why: input.why.slice(0, 500),
    depthConfirmed: true,
  };
  if (input.as === 'revision') {
    const { recipeId } = input;
    if (recipeId === null || !recipeById(db, recipeId)) throw notFound('recipe');
    return { recipeId, revisionId: addRevision(db, recipeId, formula, by, at).id };
  }
  const name = freeRecipeName(db, input.name.slice(0, 70));
  const made = createRecipe(db, { name, dyeClass: first.class, note: '', ...formula }, by, at);
  return { recipeId: made.recipe.id, revisionId: made.revision.id };
}
