import { type Conditions, D65_10, type Lab } from '../../server/calc/colour/reading.ts';
import { adaptLab } from '../../server/calc/colour/spaces.ts';
import { type ColourModel, predictColour, type RecipeComponent } from '../../server/calc/match/predict.ts';

/** What the model says of a recipe under this light, as the service tells it. */
export function told(input: {
  model: ColourModel;
  components: readonly RecipeComponent[];
  under: Conditions;
}): { known: true; lab: Lab; deltaE90: number } | { known: false } {
  const { model, components, under } = input;
  const answer = predictColour({ model, components });
  if (!answer.known) return { known: false };
  const lab = adaptLab({ lab: answer.lab, from: D65_10, to: under, method: 'bradford' });
  return { known: true, lab, deltaE90: answer.deltaE90 };
}
