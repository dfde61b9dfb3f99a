import { conditionsInWords } from '../calc/colour/reading.ts';
import { learningInWords, trialInWords, whyWideInWords } from '../calc/match/sureness.ts';
import { labText } from '../readings/display.ts';
import { FAMILIAR, type PredictedColour } from './predictions.ts';

/** A prediction as pages show it. */
export const knownView = (p: PredictedColour) => ({
  known: true as const,
  hex: p.hex,
  inGamut: p.inGamut,
  name: p.name,
  text: `${labText(p.lab)}, ${conditionsInWords(p.conditions)}`,
  deltaE90: p.deltaE90,
  sureInWords: p.sureInWords,
  familiarInWords: FAMILIAR[p.familiarity],
  calibratedOn: p.calibratedOn,
  whyWide: whyWideInWords(p),
  afterTrial: trialInWords(p),
  learning: learningInWords(p.learnedFrom.learningFrom),
  restsOn: p.restsOn,
});
