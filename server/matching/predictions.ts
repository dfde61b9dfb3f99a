import { colourName } from '../calc/colour/colourName.ts';
import { type Conditions, conditionsInWords, type Lab, sameConditions } from '../calc/colour/reading.ts';
import { adaptLab, srgbFromLab } from '../calc/colour/spaces.ts';
import type { Familiarity, NoIdea, Prediction } from '../calc/match/predict.ts';
import type { Db } from '../db/open.ts';
import { invalid } from '../errors.ts';
import { fibreById } from '../fibres/queries.ts';
import { methodById } from '../methods/queries.ts';
import { askModel, type Knowledge, modelOf } from './models.ts';
import { cardsOf, dyeNames } from './queries.ts';

export interface Goods {
  fibreId: number;
  methodId: number;
}

export interface PredictionAsked extends Goods {
  components: readonly { dyeId: number; depthPpm: number }[];
}

export interface RestsOn {
  swatchId: number;
  code: string;
  name: string;
  hex: string | null;
  share: number;
}

export interface PredictedColour {
  known: true;
  lab: Lab;
  conditions: Conditions;
  hex: string;
  inGamut: boolean;
  name: string;
  interval90: { l: [number, number]; a: [number, number]; b: [number, number] };
  deltaE90: number;
  sureInWords: string;
  familiarity: Familiarity;
  calibratedOn: number;
  restsOn: RestsOn[];
  learnedFrom: Pick<Knowledge, 'swatchCount' | 'mixtureCount' | 'spectrumCount' | 'undyedGoods'>;
  /** 'D65/10°' where the colour was adapted from the model's own conditions (Bradford), an estimate. */
  adaptedFrom: string | null;
}

export interface NotPredicted {
  known: false;
  reason: NoIdea['reason'] | 'nothingLearned';
  dyeIds: number[];
  message: string;
}

export type PredictionAnswer = PredictedColour | NotPredicted;

/** Colours of recipes that were perhaps never dyed, in the order asked; each with how sure it is, or why there is no idea.
 *  Told under `under`, or under what the swatches were read under. */
export async function predictions(
  db: Db,
  asked: readonly PredictionAsked[],
  wish: 'newest' | 'atHand',
  under?: Conditions,
): Promise<PredictionAnswer[]> {
  const answers: PredictionAnswer[] = [];
  const groups = new Map<string, number[]>();
  asked.forEach(({ fibreId, methodId }, i) => {
    const key = `${fibreId} ${methodId}`;
    groups.set(key, [...(groups.get(key) ?? []), i]);
  });
  for (const places of groups.values()) {
    const goods = asked[places[0] as number] as PredictionAsked;
    demandGoods(db, goods);
    const held = await modelOf(db, goods, wish);
    if (held === null) {
      for (const i of places) answers[i] = nothingLearned(db, goods);
      continue;
    }
    const found = await askModel({
      kind: 'predict',
      modelId: held.modelId,
      recipes: places.map((i) =>
        (asked[i] as PredictionAsked).components.map((c) => ({ dyeId: c.dyeId, depthPct: c.depthPpm / 10_000 })),
      ),
    });
    const told = tellAll(db, found, held.knowledge, under);
    places.forEach((i, j) => {
      answers[i] = told[j] as PredictionAnswer;
    });
  }
  return answers;
}

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

/** What the calculation found, as pages and API tell it; card numbers and names of dyes in one statement each. */
export function tellAll(
  db: Db,
  found: readonly Prediction[],
  knowledge: Knowledge,
  under?: Conditions,
): PredictionAnswer[] {
  const cards = new Map(
    cardsOf(db, [...new Set(found.flatMap((p) => (p.known ? p.restsOn.map((r) => Number(r.swatchId)) : [])))]).map(
      (c) => [c.swatchId, c],
    ),
  );
  const strangers = [...new Set(found.flatMap((p) => (p.known ? [] : p.dyeIds.map(Number))))];
  const names = new Map(dyeNames(db, strangers).map((d) => [d.dyeId, `${d.code} ${d.name}`]));
  return found.map((p): PredictionAnswer => {
    if (!p.known) {
      const dyeIds = p.dyeIds.map(Number);
      return {
        known: false,
        reason: p.reason,
        dyeIds,
        message: noIdeaInWords(
          p.reason,
          dyeIds.map((id) => names.get(id) ?? `dye ${id}`),
        ),
      };
    }
    const from = knowledge.conditions;
    const to = under ?? from;
    const move = (lab: Lab): Lab => adaptLab({ lab, from, to, method: 'bradford' });
    const lab = move(p.lab);
    const { hex, inGamut } = srgbFromLab({ lab: p.lab, conditions: from });
    const shifted = ([low, high]: readonly [number, number], was: number, is: number): [number, number] => [
      low + is - was,
      high + is - was,
    ];
    return {
      known: true,
      lab,
      conditions: to,
      hex,
      inGamut,
      name: colourName({ lab: { ...p.lab, L: Math.min(100, p.lab.L) }, conditions: from }).name,
      interval90: {
        l: shifted(p.interval90.L, p.lab.L, lab.L),
        a: shifted(p.interval90.a, p.lab.a, lab.a),
        b: shifted(p.interval90.b, p.lab.b, lab.b),
      },
      deltaE90: p.deltaE90,
      sureInWords: sureInWords(p.deltaE90),
      familiarity: p.familiarity,
      calibratedOn: p.calibratedOn,
      restsOn: p.restsOn.flatMap(({ swatchId, share }) => {
        const card = cards.get(Number(swatchId));
        return card ? [{ ...card, share }] : [];
      }),
      learnedFrom: {
        swatchCount: knowledge.swatchCount,
        mixtureCount: knowledge.mixtureCount,
        spectrumCount: knowledge.spectrumCount,
        undyedGoods: knowledge.undyedGoods,
      },
      adaptedFrom: sameConditions(from, to) ? null : conditionsInWords(from),
    };
  });
}

/** How far to trust it, in words. Our own borders; a hand-dyed repeat is seldom nearer than 1 to 2. */
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
