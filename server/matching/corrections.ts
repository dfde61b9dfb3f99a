import { deltaE2000 } from '../calc/colour/deltaE.ts';
import {
  type Conditions,
  conditionsInWords,
  conditionsOf,
  type Lab,
  labOf,
  sameConditions,
} from '../calc/colour/reading.ts';
import { srgbFromLab } from '../calc/colour/spaces.ts';
import { dyeMassG } from '../calc/dyeMass.ts';
import type { Correction } from '../calc/match/correct.ts';
import { depthsDyed } from '../closings/asDyed.ts';
import type { Db } from '../db/open.ts';
import type { ColourReadingRow } from '../db/tables/swatches.ts';
import { found, notFound, Refusal } from '../errors.ts';
import { benchOf } from '../lots/benchState.ts';
import { coloursOf, linesServed } from '../lots/queries.ts';
import { readingText } from '../readings/display.ts';
import { standingReadings, swatchNamed } from '../readings/queries.ts';
import { usableReadings } from '../readings/usableReadings.ts';
import { revisionWithComponents } from '../recipes/queries.ts';
import { askModel, type LearnedKnowledge, type ModelWish, modelOf } from './models.ts';
import { type NotPredicted, nothingLearned, tellNoIdea } from './predictions.ts';
import { demandedGoods, fittingDyes, targetUnder } from './proposals.ts';
import { type DyeChoiceRow, standardSwatchOf } from './queries.ts';
import type { Verdict } from './schemas.ts';

/** How far off a lot may be and still count as matched, where no order says otherwise: the 'craft' band of CIEDE2000. */
const USUAL_TOLERANCE = 2;
/** Least depth of an addition that is worth weighing, %. */
const LEAST_ADDITION_PCT = 0.005;

export interface Addition {
  dyeId: number;
  code: string;
  name: string;
  shownHex: string | null;
  depthPpm: number;
  /** Powder of standard strength for the goods of the lot. */
  massMg: number;
  /** Whether the recipe holds it already. */
  ownDye: boolean;
  onHandMg: number;
}

export interface CorrectionOffer {
  additions: Addition[];
  lab: Lab;
  hex: string;
  deltaE2000: number;
  deltaE90: number;
}

export interface LotOffShade {
  lotId: number;
  lotNumber: string;
  finished: boolean;
  fibreId: number;
  methodId: number;
  dryMassMg: number;
  recipeName: string;
  standard: { swatchId: number; code: string; name: string; lab: Lab; hex: string; text: string };
  came: { lab: Lab; hex: string; text: string };
  conditions: Conditions;
  /** What was adapted, in a sentence; '' when nothing was. */
  adaptation: string;
  tolerance: number;
  toleranceOf: string;
}

/** What to do with the lot, where the model knows its dyes. */
interface Advice {
  known: true;
  deltaE2000Now: number;
  verdict: Verdict;
  targetLighter: boolean;
  /** What the goods seem to hold, from their colour, beside what the recipe put on them. */
  seeming: { code: string; depthPpm: number; recipeDepthPpm: number }[];
  offers: CorrectionOffer[];
}

export type CorrectionAnswer = LotOffShade &
  ({ advice: NotPredicted } | { advice: Advice; knowledge: LearnedKnowledge });

/** A lot off its shade with its standard and what may be added to it. Refuses, in words, a lot that cannot be corrected by
 *  calculation yet. `standardSwatchId` names another standard than the swatch that the lot was planned like. */
export async function correctionOf(
  db: Db,
  asked: { lotId: number; standardSwatchId: number | null; now: number },
  wish: ModelWish,
): Promise<CorrectionAnswer> {
  const lot = oneColouredLot(db, asked.lotId, asked.now);
  const came = cameOut(db, asked.lotId);
  const standard = standardOfLot(db, lot, asked.standardSwatchId);
  const goods = demandedGoods(db, lot);
  const revision = found(revisionWithComponents(db, lot.colour.revisionId), 'recipe');
  const held = await modelOf(db, lot, wish);
  const off = offShade(db, lot, came, standard, held?.knowledge.conditions ?? conditionsOf(standard.reading));
  if (held === null) return { ...off, advice: nothingLearned(db, lot) };

  const dyed = depthsDyed(db, [lot.lotId]).find((d) => d.lotColourId === lot.colour.id);
  const depthPct = (dyed?.dyedPpm ?? lot.colour.depthPpm) / 10_000;
  const applied = revision.components
    .filter((c) => c.sharePpm > 0)
    .map((c) => ({ dyeId: c.dye.id, code: c.dye.code, depthPct: (depthPct * c.sharePpm) / 1e6 }));
  const own = new Set(applied.map((c) => c.dyeId));
  const choices = fittingDyes(db, goods.fibre, goods.method).filter((d) => d.class === revision.recipe.dyeClass);
  const advice = await askModel({
    kind: 'correct',
    modelId: held.modelId,
    input: {
      applied: applied.map(({ dyeId, depthPct }) => ({ dyeId, depthPct })),
      actual: off.came.lab,
      target: off.standard.lab,
      toleranceDeltaE2000: off.tolerance,
      allowed: choices
        .filter((d) => own.has(d.dyeId) || d.onHandMg > 0)
        .map((d) => ({ dyeId: d.dyeId, minDepthPct: LEAST_ADDITION_PCT, maxDepthPct: 100 })),
      maxDyes: 3,
      count: 4,
    },
  });
  if (!advice.known) return { ...off, advice: tellNoIdea(db, advice) };
  const offerOf = correctionOffer(off, { own, choices, massMgOf: additionMassMg(lot, goods.fibre.uptakePpm) });
  return {
    ...off,
    knowledge: held.knowledge,
    advice: {
      known: true,
      deltaE2000Now: advice.deltaE2000Now,
      verdict: advice.verdict,
      targetLighter: advice.targetLighter,
      seeming: advice.seeming.map((c) => {
        const inRecipe = applied.find((d) => d.dyeId === Number(c.dyeId));
        return {
          code: inRecipe?.code ?? '',
          depthPpm: ppmOf(c.depthPct),
          recipeDepthPpm: ppmOf(inRecipe?.depthPct ?? 0),
        };
      }),
      offers: advice.corrections.map(offerOf),
    },
  };
}

const ppmOf = (pct: number): number => Math.round(pct * 10_000);

/** The lot with its only colour; goods of several colours are not corrected by calculation. */
function oneColouredLot(db: Db, lotId: number, now: number) {
  const { lot, dryMassMg } = benchOf(db, lotId, now);
  const [colour, ...others] = coloursOf(db, lot.id);
  if (!colour) throw notFound('colour of this lot');
  if (others.length > 0)
    throw new Refusal('conflict', 'This lot carries several colours: correcting is reckoned for goods of one.');
  return { ...lot, lotId: lot.id, dryMassMg, colour };
}
type OneColouredLot = ReturnType<typeof oneColouredLot>;

function cameOut(db: Db, lotId: number): ColourReadingRow {
  const [came] = usableReadings(standingReadings(db, { lotId }));
  if (!came) throw new Refusal('conflict', 'Read the colour that came out first, dry and cooled.');
  return came;
}

interface StandardSwatch {
  swatchId: number;
  code: string;
  name: string;
  reading: ColourReadingRow;
}

/** The swatch that the lot should look like: the one asked for, the one it was planned like, or the newest of its formula. */
function standardOfLot(db: Db, { lotId, fibreId, colour }: OneColouredLot, asked: number | null): StandardSwatch {
  const swatchId =
    asked ??
    colour.swatchId ??
    standardSwatchOf(db, { revisionId: colour.revisionId, fibreId, exceptLotId: lotId })?.swatchId;
  const named = swatchId === undefined ? undefined : swatchNamed(db, swatchId);
  if (swatchId === undefined || !named)
    throw new Refusal('conflict', 'There is no swatch that this lot should look like: choose one.');
  const [reading] = usableReadings(standingReadings(db, { swatchId }));
  if (!reading) throw new Refusal('conflict', `The colour of ${named.code} has not been read yet.`);
  return { swatchId, ...named, reading };
}

/** Lot and standard under the conditions of the comparison, with the tolerance of the order where it states one. */
function offShade(
  db: Db,
  lot: OneColouredLot,
  came: ColourReadingRow,
  { reading: standard, ...swatch }: StandardSwatch,
  conditions: Conditions,
): LotOffShade {
  const wanted = linesServed(db, lot.lotId).find(
    (l) => l.toleranceFormula === 'CIEDE2000' && l.toleranceMilli !== null,
  );
  const shown = (row: ColourReadingRow) => {
    const lab = targetUnder({ lab: labOf(row), conditions: conditionsOf(row) }, conditions, undefined);
    return { lab, hex: srgbFromLab({ lab, conditions }).hex, text: readingText(row) };
  };
  const adapted = [
    sameConditions(conditionsOf(came), conditions) ? '' : 'the lot',
    sameConditions(conditionsOf(standard), conditions) ? '' : 'the standard',
  ].filter(Boolean);
  return {
    lotId: lot.lotId,
    lotNumber: lot.number,
    finished: lot.finishedAt !== null,
    fibreId: lot.fibreId,
    methodId: lot.methodId,
    dryMassMg: lot.dryMassMg,
    recipeName: lot.colour.recipeName,
    standard: { ...swatch, ...shown(standard) },
    came: shown(came),
    conditions,
    adaptation:
      adapted.length === 0
        ? ''
        : `Adapted to ${conditionsInWords(conditions)} by the Bradford transform: ${adapted.join(' and ')}. An estimate.`,
    tolerance: wanted?.toleranceMilli ? wanted.toleranceMilli / 1000 : USUAL_TOLERANCE,
    toleranceOf: wanted ? `order ${wanted.orderNumber}` : 'the usual craft band',
  };
}

/** Powder of standard strength for a depth on the goods of the lot, mg. */
const additionMassMg =
  ({ dryMassMg, lossPpm }: OneColouredLot, uptakePpm: number) =>
  (depthPct: number): number =>
    Math.round(
      1000 *
        dyeMassG({
          goodsDryMassG: dryMassMg / 1000,
          depthPct,
          sharePct: 100,
          coverageFactor: 1,
          lossFactor: lossPpm / 1e6,
          uptakeFactor: uptakePpm / 1e6,
          strengthPct: 100,
        }),
    );

/** Tells a found correction in the studio's terms: dyes by name, and how much of each to weigh. */
function correctionOffer(
  { conditions, standard }: LotOffShade,
  dyes: { own: ReadonlySet<number>; choices: readonly DyeChoiceRow[]; massMgOf: (depthPct: number) => number },
): (found: Correction) => CorrectionOffer {
  const byId = new Map(dyes.choices.map((d) => [d.dyeId, d]));
  return ({ additions, lab, deltaE90 }) => ({
    additions: additions.flatMap((a) => {
      const dye = byId.get(Number(a.dyeId));
      if (!dye) return [];
      const { dyeId, code, name, shownHex, onHandMg } = dye;
      const depthPpm = ppmOf(a.depthPct);
      const massMg = dyes.massMgOf(a.depthPct);
      return [{ dyeId, code, name, shownHex, onHandMg, depthPpm, massMg, ownDye: dyes.own.has(dyeId) }];
    }),
    lab,
    hex: srgbFromLab({ lab, conditions }).hex,
    deltaE2000: deltaE2000({ standard: standard.lab, sample: lab }),
    deltaE90,
  });
}

/** An offer in words, for the log. */
export function additionWords(off: LotOffShade, offer: CorrectionOffer): string {
  const dyes = offer.additions.map((a) => `${a.code} ${(a.massMg / 1000).toFixed(3)} g (${a.depthPpm / 10_000} % owg)`);
  return `Shading addition planned: ${dyes.join(', ')}, dye of standard strength, to come nearer to ${off.standard.code}. Predicted ΔE ${offer.deltaE2000.toFixed(1)} ± ${offer.deltaE90.toFixed(1)} (CIEDE2000); a predicted figure, not a reading.`;
}
