import { z } from 'zod';
import { recipePage, type ScaledProps, scaledMasses } from '../../../views/recipes/recipe.ts';
import { atDepthDyed } from '../../closings/asDyed.ts';
import type { Db } from '../../db/open.ts';
import { asRefusal, found } from '../../errors.ts';
import { archivingPages } from '../../http/archiving.ts';
import { readInput } from '../../http/forms.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { allows } from '../../people/guards.ts';
import { showOf } from '../../settings/show.ts';
import { idParams, massMgField } from '../../typedFields.ts';
import { recipeHead, revisionShown, theRecipe } from '../present.ts';
import { lotsOfRecipe, type RevisionOfRecipe, revisionsOf, swatchesOfRecipe } from '../queries.ts';
import { setArchived } from '../revisions.ts';
import { scaledFor } from '../scaled.ts';

const GoodsTyped = z.object({ goods: massMgField('How much goods?', 'g') });

/** What the page says of the masses for the goods that were typed into its address. */
function scaledOf(db: Db, chosen: RevisionOfRecipe, goodsTyped: string): ScaledProps {
  const typed = { revisionId: chosen.revision.id, goodsTyped };
  if (goodsTyped === '') return { ...typed, kind: 'none' };
  try {
    const { goods } = readInput(GoodsTyped, { goods: goodsTyped });
    return { ...typed, kind: 'scaled', show: showOf(db), ...scaledFor(db, chosen, goods) };
  } catch (error) {
    const refusal = asRefusal(error);
    if (!refusal) throw error;
    return { ...typed, kind: 'unreadable', why: Object.values(refusal.fields)[0] ?? refusal.message };
  }
}

export const showRecipe = page({
  params: idParams,
  query: z.object({
    goods: z.string().trim().max(60).catch('').default(''),
    revisionId: z.coerce.number().int().positive().nullable().catch(null).default(null),
  }),
  show: ({ db }, { params, query, request, reply }) => {
    const recipe = theRecipe(db, params.id);
    const revisions = revisionsOf(db, recipe.id);
    const chosen = found(revisions.find((r) => r.revision.id === query.revisionId) ?? revisions[0], 'revision');
    const scaled = scaledOf(db, chosen, query.goods);
    return sendPage(request, reply, {
      title: recipe.name,
      section: 'recipes',
      part: scaledMasses(scaled),
      body: recipePage({
        recipe: recipeHead(recipe),
        revisions: revisions.map(revisionShown),
        scaled,
        swatches: swatchesOfRecipe(db, recipe.id),
        lots: atDepthDyed(db, lotsOfRecipe(db, recipe.id)),
        show: showOf(db),
        mayWork: allows(request.actor, 'work'),
      }),
    });
  },
});

export const { archive: archiveRecipe, restore: restoreRecipe } = archivingPages({ at: '/recipes', setArchived });
