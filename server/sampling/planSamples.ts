import { fitOf } from '../calc/classFit.ts';
import { nearestInteger } from '../calc/rounding.ts';
import { blendLadderPpm, depthLadderPpm, type SampleSet, sampleSet, trianglePpm } from '../calc/sampling.ts';
import type { Db } from '../db/open.ts';
import type { SamplingPlanRow } from '../db/tables/sampling.ts';
import type { Actor } from '../deps.ts';
import { demandNone, type FieldErrors, found, invalid } from '../errors.ts';
import { fibreById } from '../fibres/queries.ts';
import { methodById } from '../methods/queries.ts';
import { dyesByIds } from '../recipes/queries.ts';
import { insertPieces, insertPlan, insertStocks, type PieceOfPlan, piecesOf, planById, stocksOf } from './queries.ts';

export interface SamplingInput {
  name: string;
  kind: SamplingPlanRow['kind'];
  fibreId: number;
  methodId: number;
  /** The dyes in their order, with the strength of their stock solution, % w/v in ppm. */
  stocks: readonly { dyeId: number; concPpm: number }[];
  /** depthLadder: from pale to deep. */
  ladder: { fromPpm: number; toPpm: number; count: number; spacing: 'even' | 'ratio' } | null;
  /** blendLadder and triangle: total depths, each with the whole set of blends, and the step between blends, %. */
  blend: { depthsPpm: readonly number[]; stepPct: number } | null;
  /** recipes: own depths of each, in the order of the stocks. */
  recipes: readonly (readonly number[])[] | null;
  pieceMassMg: number;
  liquorMlPerKg: number | null;
  reservePpm: number;
  gridColumns: number;
  note: string;
}

export interface SamplePiece {
  depthPpm: number;
  sharesPpm: number[];
}

const MOST_PIECES = 500;
const DYES_OF: Readonly<Record<SamplingPlanRow['kind'], readonly [number, number]>> = {
  depthLadder: [1, 1],
  blendLadder: [2, 2],
  triangle: [3, 3],
  recipes: [1, 12],
};

/** The pieces of a set, in the order in which they lie on the sheet. Throws CalcError or Refusal naming the field. */
export function piecesOfInput(input: SamplingInput): SamplePiece[] {
  const [least, most] = DYES_OF[input.kind];
  if (input.stocks.length < least || input.stocks.length > most) {
    const words = {
      depthLadder: 'one dye',
      blendLadder: 'two dyes',
      triangle: 'three dyes',
      recipes: 'one to twelve dyes',
    };
    throw invalid({ 'dyeId.0': `This kind of set is of ${words[input.kind]}.` });
  }
  const pieces = rawPieces(input);
  if (pieces.length > MOST_PIECES) {
    throw invalid({ step: `That makes ${pieces.length} pieces: at most ${MOST_PIECES} in one set.` });
  }
  return pieces;
}

function rawPieces(input: SamplingInput): SamplePiece[] {
  const { kind, ladder, blend, recipes } = input;
  if (kind === 'depthLadder') {
    if (ladder === null) throw invalid({ from: 'From which depth to which?' });
    const depths = depthLadderPpm({
      fromDepthPct: ladder.fromPpm / 10_000,
      toDepthPct: ladder.toPpm / 10_000,
      count: ladder.count,
      spacing: ladder.spacing,
    });
    return depths.map((depthPpm) => ({ depthPpm, sharesPpm: [1_000_000] }));
  }
  if (kind === 'recipes') {
    return (recipes ?? []).map((own) => {
      const depthPpm = own.reduce((sum, d) => sum + d, 0);
      const shares = own.map((d) => Math.floor((d * 1_000_000) / depthPpm));
      const largest = own.indexOf(Math.max(...own));
      shares[largest] = (shares[largest] ?? 0) + 1_000_000 - shares.reduce((sum, s) => sum + s, 0);
      return { depthPpm, sharesPpm: shares };
    });
  }
  if (blend === null || blend.depthsPpm.length === 0) throw invalid({ depth: 'At which depth?' });
  const sets = kind === 'triangle' ? trianglePpm(blend) : blendLadderPpm(blend);
  return blend.depthsPpm.flatMap((depthPpm) => sets.map((sharesPpm) => ({ depthPpm, sharesPpm })));
}

/** Volumes for every cup and of every stock to make. */
export const volumesOf = (
  plan: Pick<SamplingInput, 'pieceMassMg' | 'liquorMlPerKg' | 'reservePpm'>,
  stocks: readonly { concPpm: number }[],
  pieces: readonly SamplePiece[],
): SampleSet =>
  sampleSet({
    pieceDryMassG: plan.pieceMassMg / 1000,
    samples: pieces.map((p) => ({ depthPct: p.depthPpm / 10_000, sharesPpm: p.sharesPpm })),
    stockStrengthsPct: stocks.map((s) => s.concPpm / 10_000),
    reservePct: plan.reservePpm / 10_000,
    liquorRatioLPerKg: plan.liquorMlPerKg === null ? undefined : plan.liquorMlPerKg / 1000,
  });

/** Below this a graduated 1 mL pipette no longer measures a cup's volume well. Common practice. */
export const LEAST_VOLUME_ML = 0.1;

/** Keeps a plan with its stocks and pieces. A plan that cannot be mixed is refused. */
export function planSamples(db: Db, input: SamplingInput, by: Pick<Actor, 'personId'>, at: number): SamplingPlanRow {
  refuseUnsuitable(db, input);
  const pieces = piecesOfInput(input);
  volumesOf(input, input.stocks, pieces);
  return db.transaction((tx) => {
    const { stocks, ladder: _ladder, blend: _blend, recipes: _recipes, ...head } = input;
    const plan = insertPlan(tx, { ...head, madeAt: at, madeBy: by.personId });
    insertStocks(
      tx,
      stocks.map((s, i) => ({ planId: plan.id, ordinal: i + 1, ...s })),
    );
    insertPieces(
      tx,
      pieces.map((p, i) => ({ planId: plan.id, ordinal: i + 1, ...p })),
    );
    return plan;
  });
}

function refuseUnsuitable(db: Db, input: SamplingInput): void {
  const errors: FieldErrors = {};
  const fibre = fibreById(db, input.fibreId);
  if (!fibre) errors['fibreId'] = 'Choose the goods.';
  const method = methodById(db, input.methodId);
  if (!method) errors['methodId'] = 'Choose a method.';
  const dyeIds = input.stocks.map((s) => s.dyeId);
  const dyes = new Map(dyesByIds(db, dyeIds).map((d) => [d.id, d]));
  const first = dyes.get(input.stocks[0]?.dyeId ?? 0);
  input.stocks.forEach(({ dyeId }, i) => {
    const dye = dyes.get(dyeId);
    const field = `dyeId.${i}`;
    if (!dye) errors[field] = 'Choose the dye.';
    else if (input.stocks.findIndex((s) => s.dyeId === dyeId) < i) errors[field] = `${dye.name} is in the set already.`;
    else if (first && dye.class !== first.class)
      errors[field] = `${dye.name} is of another class: it does not share a bath.`;
    else if (fibre && fitOf({ dyeClass: dye.class, fibreClass: fibre.class }) === 'doesNotSuit') {
      errors[field] = `${dye.name} does not bond with ${fibre.name}.`;
    }
  });
  demandNone(errors);
}

/** Pieces in a row where nobody has said: a full rectangle half as wide again as it is high, or nearly, if their number allows it. */
export function usualColumns(count: number): number {
  const wanted = Math.sqrt(1.5 * count);
  const whole = Array.from({ length: Math.min(40, count) }, (_, i) => i + 1).filter((n) => count % n === 0);
  const [best] = whole.sort((x, y) => Math.abs(Math.log(x / wanted)) - Math.abs(Math.log(y / wanted)));
  return best !== undefined && Math.abs(Math.log(best / wanted)) < 0.5 ? best : Math.min(40, Math.ceil(wanted));
}

export interface SamplingSheet extends NonNullable<ReturnType<typeof planById>> {
  stocks: ReturnType<typeof stocksOf>;
  pieces: PieceOfPlan[];
  volumes: SampleSet;
}

/** A plan with everything that belongs to it. */
export function samplingSheet(db: Db, planId: number): SamplingSheet {
  const planned = found(planById(db, planId), 'sampling plan');
  const stocks = stocksOf(db, planId);
  const pieces = piecesOf(db, planId);
  return { ...planned, stocks, pieces, volumes: volumesOf(planned.plan, stocks, pieces) };
}

/** Powder of each stock, mg, and what of it is to be made, µL. */
export const stockTotals = (sheet: Pick<SamplingSheet, 'volumes'>) =>
  sheet.volumes.stocks.map((s) => ({
    usedUl: nearestInteger({ value: s.usedMl * 1000, field: 'volume' }),
    makeUl: nearestInteger({ value: s.makeMl * 1000, field: 'volume' }),
    powderMg: nearestInteger({ value: s.powderG * 1000, field: 'mass' }),
  }));
