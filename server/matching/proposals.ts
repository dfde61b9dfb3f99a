import { fitOf } from '../calc/classFit.ts';
import { colourName } from '../calc/colour/colourName.ts';
import { deltaE2000 } from '../calc/colour/deltaE.ts';
import { type Conditions, conditionsInWords, type Lab, sameConditions } from '../calc/colour/reading.ts';
import { adaptLab, srgbFromLab } from '../calc/colour/spaces.ts';
import { labFromSpectrum, type Spectrum } from '../calc/colour/spectra.ts';
import { dyeMassG } from '../calc/dyeMass.ts';
import type { Proposal } from '../calc/match/propose.ts';
import type { Db } from '../db/open.ts';
import type { FibreRow } from '../db/tables/materials.ts';
import type { MethodRow } from '../db/tables/recipes.ts';
import { invalid } from '../errors.ts';
import { fibreById } from '../fibres/queries.ts';
import { methodById } from '../methods/queries.ts';
import { costMinorOf, type Rate, rateOfContainer } from '../plans/rates.ts';
import { theStudio } from '../settings/queries.ts';
import { movingAverageRate } from '../stock/movingAverage.ts';
import { usableStockLots } from '../stock/queries.ts';
import { askModel, type HeldModel, type LearnedKnowledge, type ModelWish, modelOf, spectrumOf } from './models.ts';
import { type Goods, type NotPredicted, nothingLearned, type PredictedColour, tellKnown } from './predictions.ts';
import { curveOfSwatch, type DyeChoiceRow, dyeChoices } from './queries.ts';

export interface ProposalsAsked extends Goods {
  target: { lab: Lab; conditions: Conditions; swatchId: number | null };
  /** 'fitting' all whose class the goods take · 'inStock' of these, with powder there · 'favourites' the most used of these. */
  dyes: 'fitting' | 'inStock' | 'favourites';
  /** Only these, where any are named. */
  dyeIds: readonly number[];
  withoutDyeIds: readonly number[];
  maxDyes: 1 | 2 | 3 | 4;
  /** Least depth of a dye that is worth weighing, and the deepest of one dye; null: as deep as the swatches reach. */
  minDepthPpm: number;
  maxDepthPpm: number | null;
  count: number;
}

export interface ProposedRecipe {
  dyeClass: DyeChoiceRow['class'];
  components: {
    dyeId: number;
    code: string;
    name: string;
    shownHex: string | null;
    depthPpm: number;
    onHandMg: number;
  }[];
  totalDepthPpm: number;
  predicted: PredictedColour;
  deltaE2000: number;
  /** Under illuminant A: the estimated colour, and how far from the target where its curve is known, else from the first proposal. */
  underLamp: { hex: string; fromTarget: number | null; fromFirst: number | null; deltaE90: number; byCurves: boolean };
  /** Dye for 100 g of these goods from the containers at hand; null where one has none. */
  dyeCostMinorPer100g: number | null;
}

export interface ProposalsAnswer {
  known: true;
  knowledge: LearnedKnowledge;
  /** The target under the conditions of the swatches. */
  target: { lab: Lab; conditions: Conditions; hex: string; inGamut: boolean; name: string };
  /** What was adapted, '' when nothing was. */
  adaptation: string;
  proposals: ProposedRecipe[];
  /** Dyes that were allowed, and of these the ones that no model knows. */
  allowed: DyeChoiceRow[];
  notKnown: DyeChoiceRow[];
}

const FAVOURITES = 8;

/** Dyes that may go on these goods by this method: the class fits, and is the method's where it has one. */
export function fittingDyes(db: Db, fibre: FibreRow, method: MethodRow): DyeChoiceRow[] {
  return dyeChoices(db).filter(
    (d) =>
      fitOf({ dyeClass: d.class, fibreClass: fibre.class }) !== 'doesNotSuit' &&
      (method.dyeClass === null || method.dyeClass === d.class),
  );
}

export function demandedGoods(db: Db, { fibreId, methodId }: Goods): { fibre: FibreRow; method: MethodRow } {
  const fibre = fibreById(db, fibreId);
  if (!fibre) throw invalid({ fibreId: 'Choose the goods.' });
  const method = methodById(db, methodId);
  if (!method) throw invalid({ methodId: 'Choose a method.' });
  return { fibre, method };
}

/** Several distinct recipes for a colour, from the dyes that are allowed, best first. */
export async function proposals(
  db: Db,
  asked: ProposalsAsked,
  wish: ModelWish,
): Promise<ProposalsAnswer | NotPredicted> {
  const { fibre, method } = demandedGoods(db, asked);
  const allowed = narrowed(fittingDyes(db, fibre, method), asked);
  const held = await modelOf(db, asked, wish);
  if (held === null) return nothingLearned(db, asked);
  const { knowledge } = held;
  const { conditions } = knowledge;
  const curve = asked.target.swatchId === null ? undefined : curveOfSwatch(db, asked.target.swatchId);
  const targetSpectrum = curve && spectrumOf(curve);
  const target = targetUnder(asked.target, conditions, targetSpectrum);
  const found = await searched(held, allowed, asked, { target, targetSpectrum });
  const predicted = tellKnown(
    db,
    found.map((f) => f.proposal.prediction),
    knowledge,
  );
  const recipeOf = proposedRecipe({
    dyes: new Map(allowed.map((d) => [d.dyeId, d])),
    costs: rateBook(db, fibre, method),
    underA: { illuminant: 'A', observerDeg: conditions.observerDeg },
    first: found[0]?.proposal,
    byCurves: knowledge.spectrumCount > 0,
  });
  const known = new Set(knowledge.dyes.map((d) => d.dyeId));
  const { hex, inGamut } = srgbFromLab({ lab: target, conditions });
  return {
    known: true,
    knowledge,
    target: { lab: target, conditions, hex, inGamut, name: colourName({ lab: target, conditions }).name },
    adaptation: adaptationWords(asked.target.conditions, conditions, targetSpectrum !== undefined),
    proposals: predicted.flatMap((colour, i) => (found[i] ? [recipeOf(found[i], colour)] : [])),
    allowed,
    notKnown: allowed.filter((d) => !known.has(d.dyeId)),
  };
}

interface Found {
  proposal: Proposal;
  dyeClass: DyeChoiceRow['class'];
}

/** The best proposals. Dyes of two classes do not share a bath, so each class is searched by itself. */
async function searched(
  { modelId, knowledge }: HeldModel,
  allowed: readonly DyeChoiceRow[],
  asked: ProposalsAsked,
  { target, targetSpectrum }: { target: Lab; targetSpectrum: Spectrum | undefined },
): Promise<Found[]> {
  const known = new Set(knowledge.dyes.map((d) => d.dyeId));
  const classes = [...new Set(allowed.filter((d) => known.has(d.dyeId)).map((d) => d.class))];
  const found: Found[] = [];
  for (const dyeClass of classes) {
    const ofClass = await askModel({
      kind: 'propose',
      modelId,
      input: {
        target,
        ...(targetSpectrum === undefined ? {} : { targetSpectrum }),
        allowed: allowed
          .filter((d) => d.class === dyeClass)
          .map((d) => ({
            dyeId: d.dyeId,
            minDepthPct: asked.minDepthPpm / 10_000,
            maxDepthPct: (asked.maxDepthPpm ?? 1_000_000) / 10_000,
          })),
        maxDyes: asked.maxDyes,
        count: asked.count,
      },
    });
    found.push(...ofClass.map((proposal) => ({ proposal, dyeClass })));
  }
  if (classes.length > 1) found.sort((x, y) => worth(x.proposal) - worth(y.proposal));
  return found.slice(0, asked.count);
}

/** Tells a found recipe in the studio's terms: its dyes by name, what it costs, and what lamp light does to it. */
const proposedRecipe =
  ({ dyes, costs, underA, first, byCurves }: Telling) =>
  ({ proposal, dyeClass }: Found, predicted: PredictedColour): ProposedRecipe => {
    const components = proposal.components.flatMap((c) => {
      const dye = dyes.get(Number(c.dyeId));
      if (!dye) return [];
      const { dyeId, code, name, shownHex, onHandMg } = dye;
      return [{ dyeId, code, name, shownHex, onHandMg, depthPpm: weighable(c.depthPct) }];
    });
    const { labUnderA, deltaE2000UnderA, deltaE90UnderA } = proposal;
    return {
      dyeClass,
      components,
      totalDepthPpm: components.reduce((sum, c) => sum + c.depthPpm, 0),
      predicted,
      deltaE2000: proposal.deltaE2000,
      underLamp: {
        hex: srgbFromLab({ lab: labUnderA, conditions: underA }).hex,
        fromTarget: deltaE2000UnderA ?? null,
        fromFirst:
          first === undefined || first === proposal
            ? null
            : deltaE2000({ standard: first.labUnderA, sample: labUnderA }),
        deltaE90: deltaE90UnderA,
        byCurves,
      },
      dyeCostMinorPer100g: costs(components),
    };
  };
interface Telling {
  dyes: ReadonlyMap<number, DyeChoiceRow>;
  costs: ReturnType<typeof rateBook>;
  underA: Conditions;
  /** With the best recipe the others are compared under lamp light. */
  first: Proposal | undefined;
  /** Whether any of the swatches has a curve. */
  byCurves: boolean;
}

/** Three figures: no bench weighs a share of a depth any finer, and the colour does not show the rest. */
const weighable = (depthPct: number): number => Math.max(1, Math.round(Number((depthPct * 10_000).toPrecision(3))));

const worth = (p: Proposal): number => p.deltaE2000 + 0.5 * p.components.length + 0.1 * p.prediction.deltaE90;

function narrowed(fitting: readonly DyeChoiceRow[], asked: ProposalsAsked): DyeChoiceRow[] {
  const chosen =
    asked.dyeIds.length > 0
      ? fitting.filter((d) => asked.dyeIds.includes(d.dyeId))
      : asked.dyes === 'inStock'
        ? fitting.filter((d) => d.onHandMg > 0)
        : asked.dyes === 'favourites'
          ? [...fitting].sort((x, y) => y.used - x.used || x.dyeId - y.dyeId).slice(0, FAVOURITES)
          : fitting;
  return chosen.filter((d) => !asked.withoutDyeIds.includes(d.dyeId));
}

export function targetUnder(
  target: { lab: Lab; conditions: Conditions },
  conditions: Conditions,
  spectrum: Spectrum | undefined,
): Lab {
  if (sameConditions(target.conditions, conditions)) return target.lab;
  if (spectrum !== undefined) return labFromSpectrum({ spectrum, conditions });
  return adaptLab({ lab: target.lab, from: target.conditions, to: conditions, method: 'bradford' });
}

export const adaptationWords = (from: Conditions, to: Conditions, byCurve: boolean): string =>
  sameConditions(from, to)
    ? ''
    : byCurve
      ? `The target was reckoned anew from its curve under ${conditionsInWords(to)}, the light of the swatches.`
      : `The target was adapted from ${conditionsInWords(from)} to ${conditionsInWords(to)}, the light of the swatches, by the Bradford transform: an estimate.`;

/** Cost of the dye for 100 g, by the container that a plan would take, valued as the plan would value it: at what was paid for
 *  it, or at the moving average of the dye as the ledger stands. */
export function rateBook(
  db: Db,
  fibre: FibreRow,
  method: MethodRow,
): (components: readonly { dyeId: number; depthPpm: number }[]) => number | null {
  const isAverage = theStudio(db).costing === 'movingAverage';
  const containers = new Map<number, { strengthPpm: number; rate: Rate } | null>();
  const containerOf = (dyeId: number) => {
    const there = containers.get(dyeId);
    if (there !== undefined) return there;
    const powders = usableStockLots(db, { dyeId, auxiliaryId: null }).filter((s) => s.concPpm === null);
    const powder = powders.find((s) => s.onHandQuantity > 0) ?? powders[0];
    const container = powder
      ? {
          strengthPpm: powder.strengthPpm,
          rate: isAverage
            ? movingAverageRate(db, powder, Number.MAX_SAFE_INTEGER)
            : rateOfContainer(db, powder, Number.MAX_SAFE_INTEGER),
        }
      : null;
    containers.set(dyeId, container);
    return container;
  };
  return (components) => {
    let sum = 0;
    for (const { dyeId, depthPpm } of components) {
      const container = containerOf(dyeId);
      if (container === null) return null;
      const massG = dyeMassG({
        goodsDryMassG: 100,
        depthPct: depthPpm / 10_000,
        sharePct: 100,
        coverageFactor: 1,
        lossFactor: method.lossPpm / 1e6,
        uptakeFactor: fibre.uptakePpm / 1e6,
        strengthPct: container.strengthPpm / 10_000,
      });
      sum += costMinorOf(Math.round(massG * 1000), container.rate);
    }
    return sum;
  };
}
