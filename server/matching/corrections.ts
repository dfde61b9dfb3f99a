import { deltaE2000 } from '../calc/colour/deltaE.ts';
import { type Conditions, conditionsInWords, conditionsOf, type Lab } from '../calc/colour/reading.ts';
import { srgbFromLab } from '../calc/colour/spaces.ts';
import { dyeMassG } from '../calc/dyeMass.ts';
import { depthsDyed } from '../closings/asDyed.ts';
import type { Db } from '../db/open.ts';
import { notFound, Refusal } from '../errors.ts';
import { benchOf } from '../lots/benchState.ts';
import { coloursOf, linesServed } from '../lots/queries.ts';
import { readingText } from '../readings/display.ts';
import { standingReadings, swatchNamed } from '../readings/queries.ts';
import { usableReadings } from '../readings/usableReadings.ts';
import { revisionWithComponents } from '../recipes/queries.ts';
import { askModel, type Knowledge, modelOf } from './models.ts';
import { type NotPredicted, nothingLearned, tellAll } from './predictions.ts';
import { demandedGoods, fittingDyes, targetUnder } from './proposals.ts';
import { type DyeChoiceRow, standardSwatchOf } from './queries.ts';

/** What a lot of a studio counts as matched where no order says otherwise: the 'craft' band of CIEDE2000. */
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

export type CorrectionAnswer = LotOffShade &
  (
    | { advice: NotPredicted }
    | {
        advice: {
          known: true;
          deltaE2000Now: number;
          verdict: 'leave' | 'add' | 'nearer' | 'cannot';
          targetLighter: boolean;
          seeming: { code: string; depthPpm: number; recipeDepthPpm: number }[];
          offers: CorrectionOffer[];
        };
        knowledge: Knowledge;
      }
  );

/** Why a lot cannot be corrected by reckoning yet, in words; or the lot with its reading, its standard and what may be added.
 *  `standardSwatchId` names another standard than the swatch that the lot was planned like. */
export async function correctionOf(
  db: Db,
  asked: { lotId: number; standardSwatchId: number | null; now: number },
  wish: 'newest' | 'atHand',
): Promise<CorrectionAnswer> {
  const bench = benchOf(db, asked.lotId, asked.now);
  const { lot } = bench;
  const [colour, ...others] = coloursOf(db, lot.id);
  if (!colour) throw notFound('colour of this lot');
  if (others.length > 0)
    throw new Refusal('conflict', 'This lot carries several colours: correcting is reckoned for goods of one.');
  const [came] = usableReadings(standingReadings(db, { lotId: lot.id }));
  if (!came) throw new Refusal('conflict', 'Read the colour that came out first, dry and cooled.');
  const swatchId =
    asked.standardSwatchId ??
    colour.swatchId ??
    standardSwatchOf(db, { revisionId: colour.revisionId, fibreId: lot.fibreId, exceptLotId: lot.id })?.swatchId;
  const named = swatchId === undefined ? undefined : swatchNamed(db, swatchId);
  if (swatchId === undefined || !named) {
    throw new Refusal('conflict', 'There is no swatch that this lot should look like: choose one.');
  }
  const [standard] = usableReadings(standingReadings(db, { swatchId }));
  if (!standard) throw new Refusal('conflict', `The colour of ${named.code} has not been read yet.`);
  const { fibre, method } = demandedGoods(db, lot);
  const revision = revisionWithComponents(db, colour.revisionId);
  if (!revision) throw notFound('recipe');
  const wanted = linesServed(db, lot.id).find((l) => l.toleranceFormula === 'CIEDE2000' && l.toleranceMilli !== null);
  const tolerance = wanted?.toleranceMilli ? wanted.toleranceMilli / 1000 : USUAL_TOLERANCE;
  const held = await modelOf(db, lot, wish);
  const conditions = held?.knowledge.conditions ?? conditionsOf(standard);
  const moved = (row: typeof came): Lab =>
    targetUnder({ lab: { L: row.l, a: row.a, b: row.b }, conditions: conditionsOf(row) }, conditions, undefined);
  const actual = moved(came);
  const target = moved(standard);
  const adaptedOnes = [
    [came, 'the lot'],
    [standard, 'the standard'],
  ] as const;
  const adapted = adaptedOnes.filter(([row]) => conditionsInWords(conditionsOf(row)) !== conditionsInWords(conditions));
  const off: LotOffShade = {
    lotId: lot.id,
    lotNumber: lot.number,
    finished: lot.finishedAt !== null,
    fibreId: lot.fibreId,
    methodId: lot.methodId,
    dryMassMg: bench.dryMassMg,
    recipeName: colour.recipeName,
    standard: {
      swatchId,
      ...named,
      lab: target,
      hex: srgbFromLab({ lab: target, conditions }).hex,
      text: readingText(standard),
    },
    came: { lab: actual, hex: srgbFromLab({ lab: actual, conditions }).hex, text: readingText(came) },
    conditions,
    adaptation:
      adapted.length === 0
        ? ''
        : `Adapted to ${conditionsInWords(conditions)} by the Bradford transform: ${adapted.map(([, what]) => what).join(' and ')}. An estimate.`,
    tolerance,
    toleranceOf: wanted ? `order ${wanted.orderNumber}` : 'the usual craft band',
  };
  if (held === null) return { ...off, advice: nothingLearned(db, lot) };

  const depthPpm = depthsDyed(db, [lot.id]).find((d) => d.lotColourId === colour.id)?.dyedPpm ?? colour.depthPpm;
  const applied = revision.components
    .filter((c) => c.sharePpm > 0)
    .map((c) => ({ dyeId: c.dye.id, code: c.dye.code, depthPct: ((depthPpm / 10_000) * c.sharePpm) / 1e6 }));
  const choices = fittingDyes(db, fibre, method).filter((d) => d.class === revision.recipe.dyeClass);
  const byId = new Map(choices.map((d) => [d.dyeId, d]));
  const own = new Set(applied.map((c) => c.dyeId));
  const allowed = choices.filter((d) => own.has(d.dyeId) || d.onHandMg > 0);
  const found = await askModel({
    kind: 'correct',
    modelId: held.modelId,
    input: {
      applied: applied.map(({ dyeId, depthPct }) => ({ dyeId, depthPct })),
      actual,
      target,
      toleranceDeltaE2000: tolerance,
      allowed: allowed.map((d) => ({ dyeId: d.dyeId, minDepthPct: LEAST_ADDITION_PCT, maxDepthPct: 100 })),
      maxDyes: 3,
      count: 4,
    },
  });
  if (!found.known) return { ...off, advice: tellAll(db, [found], held.knowledge)[0] as NotPredicted };
  const massMgOf = (pct: number): number =>
    Math.round(
      1000 *
        dyeMassG({
          goodsDryMassG: bench.dryMassMg / 1000,
          depthPct: pct,
          sharePct: 100,
          coverageFactor: 1,
          lossFactor: lot.lossPpm / 1e6,
          uptakeFactor: fibre.uptakePpm / 1e6,
          strengthPct: 100,
        }),
    );
  return {
    ...off,
    knowledge: held.knowledge,
    advice: {
      known: true,
      deltaE2000Now: found.deltaE2000Now,
      verdict: found.verdict,
      targetLighter: found.targetLighter,
      seeming: found.seeming.map((c) => {
        const of = applied.find((d) => d.dyeId === Number(c.dyeId));
        return {
          code: of?.code ?? '',
          depthPpm: Math.round(c.depthPct * 10_000),
          recipeDepthPpm: Math.round((of?.depthPct ?? 0) * 10_000),
        };
      }),
      offers: found.corrections.map(
        (c): CorrectionOffer => ({
          additions: c.additions.map((a) => {
            const dye = byId.get(Number(a.dyeId)) as DyeChoiceRow;
            const { dyeId, code, name, shownHex, onHandMg } = dye;
            const massMg = massMgOf(a.depthPct);
            return {
              dyeId,
              code,
              name,
              shownHex,
              onHandMg,
              depthPpm: Math.round(a.depthPct * 10_000),
              massMg,
              ownDye: own.has(dyeId),
            };
          }),
          lab: c.lab,
          hex: srgbFromLab({ lab: c.lab, conditions }).hex,
          deltaE2000: deltaE2000({ standard: target, sample: c.lab }),
          deltaE90: c.deltaE90,
        }),
      ),
    },
  };
}

/** An offer in words, for the log. */
export function additionWords(off: LotOffShade, offer: CorrectionOffer): string {
  const dyes = offer.additions.map((a) => `${a.code} ${(a.massMg / 1000).toFixed(3)} g (${a.depthPpm / 10_000} % owg)`);
  return `Shading addition planned: ${dyes.join(', ')}, dye of standard strength, to come nearer to ${off.standard.code}. Predicted ΔE ${offer.deltaE2000.toFixed(1)} ± ${offer.deltaE90.toFixed(1)} (CIEDE2000); a predicted figure, not a reading.`;
}
