import type { Conditions, Lab } from '../../server/calc/colour/reading.ts';
import { type ColourModel, predictColour, type RecipeComponent } from '../../server/calc/match/predict.ts';

/** What the model says of a recipe under this light, as the service tells it. */
export function told(input: {
  model: ColourModel;
  components: readonly RecipeComponent[];
  under: Conditions;
}): { known: true; lab: Lab; deltaE90: number } | { known: false } {
  const answer = predictColour(input);
  return answer.known ? answer : { known: false };
}
