import { CalcError, finiteIn } from './calcError.ts';
import { largestRemainder } from './rounding.ts';

const positive = { min: 0, exclusiveMin: true };
/** A powder cut ten times stronger than the standard is a typing error, not a dye. */
const strengthRange = { min: 0, exclusiveMin: true, max: 1000 };
/** 1 % = 10 000 ppm. */
const ppmOfAll = 1_000_000;

export interface DyeMassInput {
  readonly goodsDryMassG: number;
  readonly depthPct: number;
  readonly sharePct: number;
  readonly coverageFactor: number;
  readonly lossFactor: number;
  readonly uptakeFactor: number;
  readonly strengthPct: number;
}

/** Dye powder to weigh for one component:  m = W · d/100 · s/100 · coverage · (1 + loss) · uptake / (strength/100)
 *  goodsDryMassG g, dry, > 0 · depthPct % owg, ≥ 0 · sharePct 0–100 of the depth · coverageFactor 0–1 of the goods ·
 *  lossFactor ≥ 0, dye that drips or rinses away before it meets the cloth (0.1 = a tenth more) · uptakeFactor > 0 against the
 *  library cloth · strengthPct of this stock lot, > 0 to 1000, 100 = standard.
 *  Throws CalcError('outOfRange', field). Not rounded: the scale decides (weighing.ts).
 *  Sources: wool-dye supplier's sheet, calculating dye quantities; P. Burch, dye Q&A, 26 April 2011, pburch.net (m = W·d);
 *  strength correction, coverage, loss and uptake: common practice. */
export function dyeMassG(input: DyeMassInput): number {
  const goodsDryMassG = finiteIn('goodsDryMassG', input.goodsDryMassG, positive);
  const depthPct = finiteIn('depthPct', input.depthPct, { min: 0 });
  const share = finiteIn('sharePct', input.sharePct, { min: 0, max: 100 }) / 100;
  const coverage = finiteIn('coverageFactor', input.coverageFactor, { min: 0, max: 1 });
  const loss = finiteIn('lossFactor', input.lossFactor, { min: 0 });
  const uptake = finiteIn('uptakeFactor', input.uptakeFactor, positive);
  const strength = finiteIn('strengthPct', input.strengthPct, strengthRange) / 100;
  return finiteIn(
    'goodsDryMassG',
    (((goodsDryMassG * depthPct) / 100) * share * coverage * (1 + loss) * uptake) / strength,
  );
}

/** Depth back from a mass of dye:  d = 100 · m / W. dyeMassG ≥ 0 · goodsDryMassG > 0. Throws CalcError.
 *  Source: B. Venkatesh, Fundamentals: basic terminologies used in dyeing, VFSTR University. */
export function depthPctOfMass(input: { dyeMassG: number; goodsDryMassG: number }): number {
  return (
    (100 * finiteIn('dyeMassG', input.dyeMassG, { min: 0 })) / finiteIn('goodsDryMassG', input.goodsDryMassG, positive)
  );
}

/** Shares in ppm that add to exactly 1 000 000, from parts in any proportion (70 and 30, 7 and 3, 33.3 three times).
 *  parts ≥ 0, not all 0. Throws CalcError. Largest remainder; ties go to the earlier part.
 *  Source of the method: Hamilton’s method of largest remainders. */
export function sharesPpm(input: { parts: readonly number[] }): number[] {
  return largestRemainder({ weights: input.parts, total: ppmOfAll, field: 'sharePct' });
}

/** Own depth of each component of a total depth:  dᵢ = d · sᵢ, in ppm of the goods, adding to exactly the total.
 *  depthPpm a whole number ≥ 0 · sharesPpm ≥ 0, adding to 1 000 000. Throws CalcError('mismatch', 'sharePct').
 *  Source: definition of a share of the depth. */
export function ownDepthsPpm(input: { depthPpm: number; sharesPpm: readonly number[] }): number[] {
  finiteIn('depthPpm', input.depthPpm, { min: 0 });
  const total = input.sharesPpm.reduce((sum, share) => sum + finiteIn('sharePct', share, { min: 0 }), 0);
  if (total !== ppmOfAll) {
    throw new CalcError('mismatch', 'sharePct', `the shares add to ${total / 10_000} %, not to 100 %`);
  }
  return largestRemainder({ weights: input.sharesPpm, total: input.depthPpm, field: 'depthPpm' });
}

/** Total depth and shares of components that were stated by their own depths:  d = Σ dᵢ,  sᵢ = dᵢ / d
 *  ownDepthsPpm whole numbers ≥ 0, not all 0. Throws CalcError. Source: P. Burch, dye Q&A, 26 April 2011, pburch.net. */
export function splitOfOwnDepths(input: { ownDepthsPpm: readonly number[] }): {
  depthPpm: number;
  sharesPpm: number[];
} {
  const depthPpm = input.ownDepthsPpm.reduce((sum, depth) => sum + finiteIn('depthPpm', depth, { min: 0 }), 0);
  return { depthPpm, sharesPpm: sharesPpm({ parts: input.ownDepthsPpm }) };
}

/** Masses of the components of one shade over the whole of the goods:  mᵢ = W · d/100 · sᵢ/100, unrounded.
 *  sharesPct ≥ 0, adding to 100 within 0.05 a component. Throws CalcError('mismatch', 'sharesPct'). Definition. */
export function componentMassesG(input: {
  goodsDryMassG: number;
  depthPct: number;
  sharesPct: readonly number[];
}): number[] {
  const total = input.sharesPct.reduce((sum, share) => sum + finiteIn('sharesPct', share, { min: 0 }), 0);
  if (input.sharesPct.length === 0 || Math.abs(total - 100) > 0.05 * input.sharesPct.length) {
    throw new CalcError('mismatch', 'sharesPct', `the shares add to ${Number(total.toFixed(3))} %, not to 100 %`);
  }
  const dyeG =
    (finiteIn('goodsDryMassG', input.goodsDryMassG, positive) * finiteIn('depthPct', input.depthPct, { min: 0 })) / 100;
  return input.sharesPct.map((share) => (dyeG * share) / total);
}

/** Masses of the components of one shade that were each stated by their own depth:  mᵢ = W · dᵢ/100, unrounded.
 *  goodsDryMassG > 0 · depthsPct % owg ≥ 0. Throws CalcError. Source: P. Burch, dye Q&A, 26 April 2011, pburch.net. */
export function massesGOfOwnDepths(input: { goodsDryMassG: number; depthsPct: readonly number[] }): number[] {
  const goodsDryMassG = finiteIn('goodsDryMassG', input.goodsDryMassG, positive);
  return input.depthsPct.map((depth) => (goodsDryMassG * finiteIn('depthsPct', depth, { min: 0 })) / 100);
}

/** Standard-strength dye to weigh from a lot of another strength:  m' = m · 100 / strength. Common practice. */
export function strengthCorrectedMassG(input: { dyeMassG: number; strengthPct: number }): number {
  return (
    (finiteIn('dyeMassG', input.dyeMassG, { min: 0 }) * 100) / finiteIn('strengthPct', input.strengthPct, strengthRange)
  );
}

/** A swatch's dye masses carried to other goods:  mᵢ' = mᵢ · W'/W, at the same liquor ratio.
 *  Only dye, mordant and auxiliaries on weight of goods scale so; salt and soda in a bath go with the water (bath.ts).
 *  Masses ≥ 0, goods > 0. Throws CalcError. Definition of depth. */
export function scaledMassesG(input: {
  massesG: readonly number[];
  fromGoodsDryMassG: number;
  toGoodsDryMassG: number;
}): number[] {
  const factor =
    finiteIn('toGoodsDryMassG', input.toGoodsDryMassG, positive) /
    finiteIn('fromGoodsDryMassG', input.fromGoodsDryMassG, positive);
  return input.massesG.map((massG) => finiteIn('massG', massG, { min: 0 }) * factor);
}

/** How several colours lie on one piece: each at its depth over the whole of it, or each at its depth over its own area.
 *  Both are said in studios, and they differ by the number of colours: there is no default. */
export type CoverageMode = 'eachOverAll' | 'eachOverItsShare';

export interface PieceColour {
  /** Share of the piece's area, 0–100; for 'eachOverAll' it is kept for the record and changes no mass. */
  readonly areaSharePct: number;
  readonly components: readonly { readonly depthPct: number; readonly strengthPct: number }[];
}

export interface PieceDye {
  readonly colours: readonly {
    readonly coverageFactor: number;
    /** Depth of the colour where it lies. */
    readonly depthPct: number;
    /** What it brings to the whole piece: depth × coverage. */
    readonly depthOverAllPct: number;
    readonly massesG: readonly number[];
    readonly massG: number;
  }[];
  /** Standard-strength dye meant for the cloth, % of the whole piece, before the loss allowance and the cloth's uptake factor. */
  readonly depthOverAllPct: number;
  /** Everything weighed, % of the whole piece, with loss, uptake and strength in it. */
  readonly weighedPct: number;
  readonly massG: number;
  /** How much of massG is there only because some will be lost. */
  readonly lossMassG: number;
}

/** Dye for a piece that carries several colours, with the depth that results over the whole of it.
 *  Each component:  m = W · dᵢ/100 · coverage · (1 + loss) · uptake / (strength/100);
 *  coverage = 1 in 'eachOverAll', the colour's area share in 'eachOverItsShare'.
 *  Area shares 0–100; over their shares they may leave cloth undyed but not add to more than 100 (within 0.05 a colour).
 *  Other ranges as dyeMassG. Throws CalcError. Common practice. */
export function pieceDye(input: {
  goodsDryMassG: number;
  coverageMode: CoverageMode;
  lossFactor: number;
  uptakeFactor: number;
  colours: readonly PieceColour[];
}): PieceDye {
  const { goodsDryMassG, coverageMode, lossFactor, uptakeFactor } = input;
  if (input.colours.length === 0) throw new CalcError('missing', 'colours', 'a piece needs at least one colour');
  const areaPct = input.colours.reduce(
    (sum, colour) => sum + finiteIn('areaSharePct', colour.areaSharePct, { min: 0, max: 100 }),
    0,
  );
  if (coverageMode === 'eachOverItsShare' && areaPct > 100 + 0.05 * input.colours.length) {
    throw new CalcError('mismatch', 'areaSharePct', `the colours cover ${Number(areaPct.toFixed(2))} % of the piece`);
  }
  const colours = input.colours.map((colour) => {
    const coverageFactor = coverageMode === 'eachOverAll' ? 1 : colour.areaSharePct / 100;
    const depthPct = colour.components.reduce((sum, component) => sum + component.depthPct, 0);
    const massesG = colour.components.map((component) =>
      dyeMassG({
        goodsDryMassG,
        depthPct: component.depthPct,
        sharePct: 100,
        coverageFactor,
        lossFactor,
        uptakeFactor,
        strengthPct: component.strengthPct,
      }),
    );
    const massG = massesG.reduce((sum, mass) => sum + mass, 0);
    return { coverageFactor, depthPct, depthOverAllPct: depthPct * coverageFactor, massesG, massG };
  });
  const massG = colours.reduce((sum, colour) => sum + colour.massG, 0);
  return {
    colours,
    depthOverAllPct: colours.reduce((sum, colour) => sum + colour.depthOverAllPct, 0),
    weighedPct: depthPctOfMass({ dyeMassG: massG, goodsDryMassG }),
    massG,
    lossMassG: massG - massG / (1 + lossFactor),
  };
}
