import { keptConditions, keptLab } from '../calc/colour/reading.ts';
import type { PredictedColour, PredictionAnswer } from './predictions.ts';
import type { PredictedShown, PredictionShown } from './schemas.ts';

/** A predicted colour as the API tells it. */
export const knownResource = ({
  conditions,
  lab,
  paler: _paler,
  deeper: _deeper,
  ...predicted
}: PredictedColour): PredictedShown => ({
  ...predicted,
  lab: keptLab(lab),
  ...keptConditions(conditions),
});

/** The same, or why there is no idea. */
export const predictionResource = (answer: PredictionAnswer): PredictionShown =>
  answer.known ? knownResource(answer) : answer;
