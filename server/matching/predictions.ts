import { colourName } from '../calc/colour/colourName.ts';
import { type Conditions, conditionsInWords, type Lab, sameConditions } from '../calc/colour/reading.ts';
import { srgbFromLab } from '../calc/colour/spaces.ts';
import type { Familiarity, KnownPrediction, NoIdea, Prediction } from '../calc/match/predict.ts';
import type { Db } from '../db/open.ts';
import { invalid } from '../errors.ts';
import { fibreById } from '../fibres/queries.ts';
import { methodById } from '../methods/queries.ts';
import { inGroups } from './inGroups.ts';
import { askModel, type LearnedKnowledge, type ModelWish, modelOf } from './models.ts';
import { type CardOfSwatch, cardsOf, dyeNames } from './queries.ts';
import type { NotKnown, PredictedShown } from './schemas.ts';

export interface Goods {
  fibreId: number;
  methodId: number;
}

export interface PredictionAsked extends Goods {
  components: readonly { dyeId: number; depthPpm: number }[];
}

/** A predicted colour with its card names, as pages draw it; the API tells the same without them. */
export interface PredictedColour extends Omit<PredictedShown, 'lab' | 'illuminant' | 'observer' | 'restsOn'> {
  lab: Lab;
  conditions: Conditions;
  restsOn: (CardOfSwatch & { share: number })[];
  /** Codes of the dyes of `beyond`. */
  paler: string[];
  deeper: string[];
}
export type NotPredicted = NotKnown;
export type PredictionAnswer = PredictedColour | NotPredicted;

/** Colours of recipes, dyed before or not, in the order asked; each with how sure it is, or why there is no idea. Told under
 *  `under`, or under the conditions that the swatches were read under. */
export const predictions = (
  db: Db,
  asked: readonly PredictionAsked[],
  wish: ModelWish,
  under?: Conditions,
): Promise<PredictionAnswer[]> =>
  inGroups(
    asked,
    ({ fibreId, methodId }) => `${fibreId} ${methodId}`,
    async (goods, group): Promise<PredictionAnswer[]> => {
      demandGoods(db, goods);
      const held = await modelOf(db, goods, wish);
      if (held === null) return group.map(() => nothingLearned(db, goods));
      const recipes = group.map(({ components }) =>
        components.map(({ dyeId, depthPpm }) => ({ dyeId, depthPct: depthPpm / 10_000 })),
      );
      const found = await askModel({
        kind: 'predict',
        modelId: held.modelId,
        recipes,
        ...(under === undefined ? {} : { under }),
      });
      return tellAll(db, found, held.knowledge, under);
    },
  );

export function demandGoods(db: Db, { fibreId, methodId }: Goods): void {
  if (!fibreById(db, fibreId)) throw invalid({ fibreId: 'There are no such goods.' });
  if (!methodById(db, methodId)) throw invalid({ methodId: 'There is no such method.' });
}

export function nothingLearned(db: Db, { fibreId, methodId }: Goods): NotPredicted {
  const goods = fibreById(db, fibreId)?.name ?? '';
  const method = methodById(db, methodId)?.name ?? '';
  return {
    known: false,
    reason: 'nothingLearned',
    dyeIds: [],
    message: `No swatch on ${goods} by “${method}” has been read yet, so there is nothing to learn from.`,
  };
}

/** What the calculation found, as pages and API tell it; card numbers and names of dyes come in one statement each. */
export function tellAll(
  db: Db,
  found: readonly Prediction[],
  knowledge: LearnedKnowledge,
  under?: Conditions,
): PredictionAnswer[] {
  const known = found.filter((p) => p.known);
  const cards = cardsById(db, known);
  const strangers = [...new Set(found.flatMap((p) => (p.known ? [] : p.dyeIds.map(Number))))];
  const names = namesOf(db, strangers);
  const codes = codesBeyond(db, known);
  return found.map((p) => (p.known ? told(p, { cards, codes }, knowledge, under) : notTold(p, names)));
}

/** The same of predictions that all say a colour. */
export function tellKnown(db: Db, found: readonly KnownPrediction[], knowledge: LearnedKnowledge): PredictedColour[] {
  const names = { cards: cardsById(db, found), codes: codesBeyond(db, found) };
  return found.map((p) => told(p, names, knowledge));
}

type Cards = ReadonlyMap<number, CardOfSwatch>;

/** Codes of the dyes that predictions take beyond their swatches. */
function codesBeyond(db: Db, found: readonly KnownPrediction[]): ReadonlyMap<number, string> {
  const ids = new Set(found.flatMap(({ beyond }) => [...beyond.pale, ...beyond.deep].map(Number)));
  return new Map(dyeNames(db, [...ids]).map((d) => [d.dyeId, d.code]));
}

const cardsById = (db: Db, found: readonly KnownPrediction[]): Cards => {
  const swatchIds = [...new Set(found.flatMap((p) => p.restsOn.map((r) => Number(r.swatchId))))];
  return new Map(cardsOf(db, swatchIds).map((c) => [c.swatchId, c]));
};

/** Why there is no idea, with the dyes by name. */
export const tellNoIdea = (db: Db, found: NoIdea): NotPredicted =>
  notTold(found, namesOf(db, [...new Set(found.dyeIds.map(Number))]));

const namesOf = (db: Db, dyeIds: readonly number[]): ReadonlyMap<number, string> =>
  new Map(dyeNames(db, dyeIds).map((d) => [d.dyeId, `${d.code} ${d.name}`]));

function notTold({ reason, dyeIds }: NoIdea, names: ReadonlyMap<number, string>): NotPredicted {
  const ids = dyeIds.map(Number);
  const dyes = ids.map((id) => names.get(id) ?? `dye ${id}`);
  return { known: false, reason, dyeIds: ids, message: noIdeaInWords(reason, dyes) };
}

function told(
  p: KnownPrediction,
  { cards, codes }: { cards: Cards; codes: ReadonlyMap<number, string> },
  knowledge: LearnedKnowledge,
  under?: Conditions,
): PredictedColour {
  const from = knowledge.conditions;
  const to = under ?? from;
  const { lab } = p;
  const { hex, inGamut } = srgbFromLab({ lab, conditions: to });
  const { swatchCount, mixtureCount, spectrumCount, undyedGoods, learningFrom } = knowledge;
  return {
    known: true,
    lab,
    conditions: to,
    hex,
    inGamut,
    name: colourName({ lab: { ...lab, L: Math.min(100, lab.L) }, conditions: to }).name,
    interval90: {
      l: p.interval90.L,
      a: p.interval90.a,
      b: p.interval90.b,
    },
    deltaE90: p.deltaE90,
    deltaE90AfterTrial: p.deltaE90AfterTrial,
    beyond: { paleDyeIds: p.beyond.pale.map(Number), deepDyeIds: p.beyond.deep.map(Number) },
    paler: p.beyond.pale.map((id) => codes.get(Number(id)) ?? ''),
    deeper: p.beyond.deep.map((id) => codes.get(Number(id)) ?? ''),
    sureInWords: sureInWords(p.deltaE90),
    familiarity: p.familiarity,
    calibratedOn: p.calibratedOn,
    restsOn: p.restsOn.flatMap(({ swatchId, share }) => {
      const card = cards.get(Number(swatchId));
      return card ? [{ ...card, share }] : [];
    }),
    learnedFrom: { swatchCount, mixtureCount, spectrumCount, undyedGoods, learningFrom },
    // With curves among the swatches the colour is reckoned under that light, not moved to it.
    adaptedFrom: sameConditions(from, to) || spectrumCount > 0 ? null : conditionsInWords(from),
  };
}

/** How far to trust a prediction, in words. The borders are our own; a hand-dyed repeat is seldom nearer than 1 to 2. */
export function sureInWords(deltaE90: number): string {
  if (deltaE90 < 2) return 'about as sure as dyeing it again';
  if (deltaE90 < 4) return 'fairly sure: the sort of colour and nearly the shade';
  if (deltaE90 < 8) return 'a rough idea: the sort of colour';
  return 'little more than a guess';
}

export const FAMILIAR: Readonly<Record<Familiarity, string>> = {
  alone: 'one dye, between its own swatches',
  together: 'these dyes were dyed together before',
  apart: 'these dyes were never dyed together',
};

function noIdeaInWords(reason: NoIdea['reason'], dyes: readonly string[]): string {
  const list = dyes.join(', ');
  switch (reason) {
    case 'dyeNotKnown':
      return `No idea: no swatch on these goods by this method holds ${list}.`;
    case 'tooFewSwatches':
      return `No idea: there is only one swatch with ${list}, and one does not show how its colour goes with depth.`;
    case 'tooDeep':
      return `No idea: ${list} would be deeper than the swatches go by more than half.`;
    case 'tooManyDyes':
      return 'No idea: more than six dyes at once.';
  }
}
