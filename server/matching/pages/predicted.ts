import { type PredictedProps, predictedPage, predictedPart } from '../../../views/matching/predicted.ts';
import { keptConditions } from '../../calc/colour/reading.ts';
import { pctTyped } from '../../calc/quantity.ts';
import type { Db } from '../../db/open.ts';
import { found } from '../../errors.ts';
import { fibreOptions } from '../../fibres/options.ts';
import { fibreById } from '../../fibres/queries.ts';
import { readInput, typedBody } from '../../http/forms.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { methodOptions } from '../../methods/options.ts';
import { methodById } from '../../methods/queries.ts';
import { revisionWithComponents } from '../../recipes/queries.ts';
import { knownView } from '../knownView.ts';
import { type PredictionAnswer, predictions } from '../predictions.ts';
import { sampledGoods } from '../queries.ts';
import { PredictedQuery } from '../schemas.ts';

const predictedView = (answer: PredictionAnswer) =>
  answer.known ? knownView(answer) : { known: false as const, message: answer.message };

/** The proposals of other recipes for a colour that was predicted. */
function proposalsHref(
  answer: PredictionAnswer | undefined,
  of: { recipeId: number; fibreId: number | null; methodId: number | null },
): string | null {
  if (!answer?.known) return null;
  const { lab, conditions, deltaE90 } = answer;
  const address = new URLSearchParams({
    colour: `${lab.L.toFixed(2)} ${lab.a.toFixed(2)} ${lab.b.toFixed(2)}`,
    ...keptConditions(conditions),
    plusMinus: deltaE90.toFixed(1),
    recipeId: String(of.recipeId),
    fibreId: String(of.fibreId),
    methodId: String(of.methodId),
  });
  return `/colour/proposals?${address}`;
}

async function predictedProps(db: Db, typed: Record<string, string>): Promise<PredictedProps> {
  const query = readInput(PredictedQuery, typed);
  const { revision, recipe, components } = found(revisionWithComponents(db, query.revisionId), 'recipe');
  const dyeIds = components.map((c) => c.dye.id);
  // Without a wish: the goods and method by which most swatches of these dyes were dyed.
  const [usual] = sampledGoods(db, dyeIds);
  const fibreId = query.fibreId ?? usual?.fibreId ?? null;
  const methodId = query.methodId ?? usual?.methodId ?? null;
  const depthPpm = query.depth ?? revision.totalDepthPpm;
  const parts = components.map((c) => ({ dyeId: c.dye.id, depthPpm: (depthPpm * c.sharePpm) / 1_000_000 }));
  const [answer] =
    fibreId === null || methodId === null
      ? []
      : await predictions(db, [{ fibreId, methodId, components: parts }], 'atHand');
  return {
    revisionId: query.revisionId,
    recipeName: recipe.name,
    depthPpm,
    fibreId,
    methodId,
    goodsName: fibreId === null ? '' : (fibreById(db, fibreId)?.name ?? ''),
    methodName: methodId === null ? '' : (methodById(db, methodId)?.name ?? ''),
    answer: answer ? predictedView(answer) : null,
    fibres: fibreOptions(db),
    methods: methodOptions(db),
    form: {
      typed: {
        fibreId: String(fibreId ?? ''),
        methodId: String(methodId ?? ''),
        depth: pctTyped({ ppm: depthPpm }),
      },
      errors: {},
    },
    proposalsHref: proposalsHref(answer, { recipeId: recipe.id, fibreId, methodId }),
  };
}

export const showPredicted = page({
  show: async ({ db }, { request, reply }) => {
    const props = await predictedProps(db, typedBody(request.query));
    return sendPage(request, reply, {
      title: `What would ${props.recipeName} look like?`,
      section: 'recipes',
      body: predictedPage(props),
      part: predictedPart(props),
    });
  },
});
