import { type Conditions, conditionsOf } from '../../calc/colour/reading.ts';
import type { Db } from '../../db/open.ts';
import { invalid } from '../../errors.ts';
import { operation } from '../../http/routes.ts';
import { inGroups } from '../inGroups.ts';
import { type PredictionAsked, predictions } from '../predictions.ts';
import { predictionResource } from '../present.ts';
import { dyeIdsByCode } from '../queries.ts';
import { PredictBody, PredictionsResource, type RecipeToPredictInput } from '../schemas.ts';

/** A recipe to predict, and the light to tell its colour under where one is named. */
interface Wanted {
  recipe: PredictionAsked;
  under: Conditions | undefined;
}

/** Dyes by their codes, all in one statement; refuses codes that no dye has. */
function withIds(db: Db, recipes: readonly RecipeToPredictInput[]): Wanted[] {
  const codes = [...new Set(recipes.flatMap((r) => r.components.flatMap((c) => c.dyeCode ?? [])))];
  const ids = new Map(dyeIdsByCode(db, codes).map((d) => [d.code.toLowerCase(), d.dyeId]));
  const missing = codes.filter((code) => !ids.has(code.toLowerCase()));
  if (missing.length > 0) throw invalid({ dyeCode: `There is no dye coded ${missing.join(', ')}.` });
  return recipes.map(({ fibreId, methodId, components, illuminant, observer }) => ({
    recipe: {
      fibreId,
      methodId,
      components: components.map(({ dyeId, dyeCode, depthPpm }) => ({
        dyeId: dyeId ?? ids.get((dyeCode ?? '').toLowerCase()) ?? 0,
        depthPpm,
      })),
    },
    under: illuminant && observer && conditionsOf({ illuminant, observer }),
  }));
}

const lightOf = ({ under }: Wanted): string => (under ? `${under.illuminant}/${under.observerDeg}` : '');

export const predictColours = operation({
  id: 'predictColours',
  summary: 'Predict the colour of a recipe, or of a list of recipes',
  description:
    'Learned from the studio’s own swatches of these goods and this method. Swatches added since are answered at once, as far as they are known (learnedFrom.learningFrom counts them); where one was changed or put away the whole is learned before the answer, which can take seconds. GET /matching waits until everything is learned. Outside its swatches it answers known: false with the reason. A list is answered by a list in the same order.',
  // 2000 recipes in one request.
  bodyLimit: 4_000_000,
  audit: 'never',
  body: PredictBody,
  answer: PredictionsResource,
  run: async ({ db }, { body }) => {
    const wanted = withIds(db, Array.isArray(body) ? body : [body]);
    const answers = await inGroups(wanted, lightOf, ({ under }, group) =>
      predictions(
        db,
        group.map(({ recipe }) => recipe),
        'newest',
        under,
      ),
    );
    const told = answers.map(predictionResource);
    const [one] = told;
    return Array.isArray(body) || one === undefined ? told : one;
  },
});
