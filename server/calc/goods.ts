import { CalcError, finiteIn } from './calcError.ts';
import { converted, type UnitOf } from './units.ts';

const positive = { min: 0, exclusiveMin: true };

/** Mass of cloth from its area:  m = (g/m²) · length · width
 *  All > 0. Throws CalcError('outOfRange', field). Definition. */
export function clothMassG(input: { arealMassGPerM2: number; lengthM: number; widthM: number }): number {
  const arealMass = finiteIn('arealMassGPerM2', input.arealMassGPerM2, positive);
  return arealMass * finiteIn('lengthM', input.lengthM, positive) * finiteIn('widthM', input.widthM, positive);
}

/** Mass of a length of cloth sold by the running metre or yard:  m = (g/m running) · length
 *  Both > 0. Throws CalcError. Source: Linear-yard weight conversion, undershirtguy.com. */
export function clothMassGOfLinear(input: { linearMassGPerM: number; lengthM: number }): number {
  return finiteIn('linearMassGPerM', input.linearMassGPerM, positive) * finiteIn('lengthM', input.lengthM, positive);
}

/** Areal mass of cloth sold by the running metre or yard:  g/m² = (g/m running) / width
 *  An ounce per linear yard says nothing about a square yard until the width is known: "14 oz" has been 12 oz/yd² at one mill.
 *  Both > 0. Throws CalcError. Source: J. Ennis, Fabric weight and conversions, 2008. */
export function arealMassGPerM2OfLinear(input: { linearMassGPerM: number; widthM: number }): number {
  return finiteIn('linearMassGPerM', input.linearMassGPerM, positive) / finiteIn('widthM', input.widthM, positive);
}

/** Mass of one running metre of cloth:  g/m running = (g/m²) · width. Both > 0. Throws CalcError.
 *  Source: J. Ennis, Fabric weight and conversions, 2008. */
export function linearMassGPerMOfAreal(input: { arealMassGPerM2: number; widthM: number }): number {
  return finiteIn('arealMassGPerM2', input.arealMassGPerM2, positive) * finiteIn('widthM', input.widthM, positive);
}

/** Mass of counted pieces, skeins or cones:  m = count · mass of one. count a whole number ≥ 1. Throws CalcError. Definition. */
export function putUpsMassG(input: { count: number; putUpMassG: number }): number {
  if (!Number.isInteger(finiteIn('count', input.count, { min: 1 }))) {
    throw new CalcError('outOfRange', 'count', 'count must be a whole number of pieces');
  }
  return input.count * finiteIn('putUpMassG', input.putUpMassG, positive);
}

/** Fineness of a plied yarn from the count of its single:  tex = plies · tex of the single
 *  (so an indirect count is divided by the plies). Only the single's count and the plies are taken, never a written "30/2":
 *  print puts the ply before or behind the stroke according to the system, and sometimes against it.
 *  singleCount > 0 in `system` · plies a whole number ≥ 1. Throws CalcError.
 *  Source: yarn count conversion charts, miniknittingstuff.com/yarnchart.htm. */
export function resultantTex(input: { system: UnitOf<'linearDensity'>; singleCount: number; plies: number }): number {
  finiteIn('singleCount', input.singleCount, positive);
  if (!Number.isInteger(finiteIn('plies', input.plies, { min: 1 }))) {
    throw new CalcError('outOfRange', 'plies', 'plies must be a whole number');
  }
  return input.plies * converted({ value: input.singleCount, from: input.system, to: 'tex' });
}

/** Length of a skein:  m = 1000 · g / tex  (= g · Nm). Both > 0. Throws CalcError.
 *  Source: yarn count conversion charts, miniknittingstuff.com/yarnchart.htm. */
export function yarnLengthM(input: { massG: number; tex: number }): number {
  return (1000 * finiteIn('massG', input.massG, positive)) / finiteIn('tex', input.tex, positive);
}

/** Mass of a length of yarn:  g = tex · m / 1000. Both > 0. Throws CalcError. Definition of tex. */
export function yarnMassG(input: { lengthM: number; tex: number }): number {
  return (finiteIn('tex', input.tex, positive) * finiteIn('lengthM', input.lengthM, positive)) / 1000;
}

/** Moisture content (water ÷ total mass) from regain (water ÷ oven-dry mass):  C = R / (1 + R/100)
 *  regainPct ≥ 0. Throws CalcError. Source: Standard moisture regain and content, textilecalculation.blogspot.com, 2015,
 *  whose table prints 7.34 for cotton where the formula gives 7.83. */
export function contentPctOfRegain(input: { regainPct: number }): number {
  const regainPct = finiteIn('regainPct', input.regainPct, { min: 0 });
  return regainPct / (1 + regainPct / 100);
}

/** Regain from moisture content:  R = C / (1 − C/100). contentPct 0 to under 100. Throws CalcError. Source: as contentPctOfRegain. */
export function regainPctOfContent(input: { contentPct: number }): number {
  const contentPct = finiteIn('contentPct', input.contentPct, { min: 0 });
  if (contentPct >= 100)
    throw new CalcError('outOfRange', 'contentPct', 'contentPct must be under 100: goods are not all water');
  return contentPct / (1 - contentPct / 100);
}

/** Oven-dry mass from moisture content:  D = G · (1 − C/100). massG > 0 · contentPct 0 to under 100. Throws CalcError.
 *  Source: M. Islam, Correct invoice weight, textilecalculation.blogspot.com, 2015. */
export function ovenDryMassGOfContent(input: { massG: number; contentPct: number }): number {
  const contentPct = finiteIn('contentPct', input.contentPct, { min: 0 });
  if (contentPct >= 100)
    throw new CalcError('outOfRange', 'contentPct', 'contentPct must be under 100: goods are not all water');
  return finiteIn('massG', input.massG, positive) * (1 - contentPct / 100);
}

/** Oven-dry mass from regain:  D = G / (1 + R/100). massG > 0 · regainPct ≥ 0. Throws CalcError. Definition of regain. */
export function ovenDryMassGOfRegain(input: { massG: number; regainPct: number }): number {
  return finiteIn('massG', input.massG, positive) / (1 + finiteIn('regainPct', input.regainPct, { min: 0 }) / 100);
}

/** Conditioned (commercial) mass:  G = D · (1 + R/100). ovenDryMassG > 0 · regainPct ≥ 0. Throws CalcError.
 *  Commercial regains differ by convention (wool 17 by Regulation (EU) 1007/2011 Annex IX, 13.6 by ASTM D1909): name the one used.
 *  Definition of regain. */
export function conditionedMassG(input: { ovenDryMassG: number; regainPct: number }): number {
  const ovenDryMassG = finiteIn('ovenDryMassG', input.ovenDryMassG, positive);
  return ovenDryMassG * (1 + finiteIn('regainPct', input.regainPct, { min: 0 }) / 100);
}

/** Regain of a blend:  R = Σ pᵢ · Rᵢ, with p on **oven-dry** mass
 *  dryPct of the parts ≥ 0, adding to 100 within 0.05 a part · regainPct ≥ 0. Throws CalcError('mismatch', 'dryPct').
 *  Source: M. Islam, Correct invoice weight, textilecalculation.blogspot.com, 2015. */
export function blendRegainPct(input: { parts: readonly { dryPct: number; regainPct: number }[] }): number {
  const total = partsTotal(
    'dryPct',
    input.parts.map((part) => part.dryPct),
  );
  return input.parts.reduce(
    (sum, part) => sum + (part.dryPct / total) * finiteIn('regainPct', part.regainPct, { min: 0 }),
    0,
  );
}

/** Regain of a blend whose shares were stated on **conditioned** mass, as some exporters do: the shares are taken back to dry mass first,
 *  R = 100 · (1 / Σ(pᵢ/(1 + Rᵢ/100)) − 1). Ranges and errors as blendRegainPct. Follows from the definition of regain. */
export function blendRegainPctOfConditioned(input: {
  parts: readonly { conditionedPct: number; regainPct: number }[];
}): number {
  const total = partsTotal(
    'conditionedPct',
    input.parts.map((part) => part.conditionedPct),
  );
  const dryShare = input.parts.reduce(
    (sum, part) => sum + part.conditionedPct / total / (1 + finiteIn('regainPct', part.regainPct, { min: 0 }) / 100),
    0,
  );
  return 100 * (1 / dryShare - 1);
}

function partsTotal(field: string, pcts: readonly number[]): number {
  if (pcts.length === 0) throw new CalcError('missing', field, 'a blend needs at least one fibre');
  const total = pcts.reduce((sum, pct) => sum + finiteIn(field, pct, { min: 0 }), 0);
  if (Math.abs(total - 100) > 0.05 * pcts.length) {
    throw new CalcError('mismatch', field, `the fibres add to ${Number(total.toFixed(3))} %, not to 100 %`);
  }
  return total;
}

/** What damp goods count as when they are as dry as the trade's regain says:  W = Wdamp · (1 + R/100) / (1 + Ractual/100)
 *  dampMassG > 0 · regains ≥ 0 (a dripping piece may hold several hundred per cent). Throws CalcError. Definition of regain. */
export function goodsDryMassGOfDamp(input: { dampMassG: number; actualRegainPct: number; regainPct: number }): number {
  const ovenDryMassG =
    finiteIn('dampMassG', input.dampMassG, positive) / withRegain('actualRegainPct', input.actualRegainPct);
  return ovenDryMassG * withRegain('regainPct', input.regainPct);
}

/** What damp goods count as, from a tared piece of them that was weighed damp and again dry:
 *    W = Wdamp · (sample dry / sample damp) · (1 + R/100)
 *  `sampleDriedTo` says what the second weighing was: 'ovenDry' (bone dry: regain is added back) or 'airDry' (left to the room's air:
 *  it already holds its regain, nothing is added). Masses > 0, sample dry ≤ sample damp. Throws CalcError. Definition of regain. */
export function goodsDryMassGOfDriedSample(
  input: { dampMassG: number; sampleDampMassG: number; sampleDryMassG: number } & (
    | { sampleDriedTo: 'ovenDry'; regainPct: number }
    | { sampleDriedTo: 'airDry' }
  ),
): number {
  const sampleDampMassG = finiteIn('sampleDampMassG', input.sampleDampMassG, positive);
  const sampleDryMassG = finiteIn('sampleDryMassG', input.sampleDryMassG, positive);
  if (sampleDryMassG > sampleDampMassG) {
    throw new CalcError('mismatch', 'sampleDryMassG', 'the sample cannot weigh more dry than damp');
  }
  const dryMassG = finiteIn('dampMassG', input.dampMassG, positive) * (sampleDryMassG / sampleDampMassG);
  return input.sampleDriedTo === 'ovenDry' ? dryMassG * withRegain('regainPct', input.regainPct) : dryMassG;
}

const withRegain = (field: string, regainPct: number): number => 1 + finiteIn(field, regainPct, { min: 0 }) / 100;

/** Shrinkage:  S = 100 · (before − after) / before. Negative when the piece grew. before > 0, after > 0. Throws CalcError.
 *  Source: Shrinkage notes, kembrel.com. */
export function shrinkagePct(input: { before: number; after: number }): number {
  const before = finiteIn('before', input.before, positive);
  return (100 * (before - finiteIn('after', input.after, positive))) / before;
}

/** Length to cut for a finished length:  cut = finished / (1 − S/100), which is more than finished · (1 + S/100).
 *  finishedLengthM > 0 (any unit of length) · shrinkagePct under 100. Throws CalcError. Follows from the definition of shrinkage. */
export function cutLengthM(input: { finishedLengthM: number; shrinkagePct: number }): number {
  return (
    finiteIn('finishedLengthM', input.finishedLengthM, positive) / keptFraction('shrinkagePct', input.shrinkagePct)
  );
}

/** Length left of a cut length:  finished = cut · (1 − S/100). Ranges and errors as cutLengthM. Definition. */
export function finishedLengthM(input: { cutLengthM: number; shrinkagePct: number }): number {
  return finiteIn('cutLengthM', input.cutLengthM, positive) * keptFraction('shrinkagePct', input.shrinkagePct);
}

/** Areal mass after the wash:  (g/m²) / [(1 − Swarp/100)(1 − Sweft/100)]; the mass of the piece stays what it was.
 *  arealMassGPerM2 > 0 · shrinkages under 100. Throws CalcError. Follows from the definitions. */
export function arealMassGPerM2AfterWash(input: {
  arealMassGPerM2: number;
  lengthShrinkagePct: number;
  widthShrinkagePct: number;
}): number {
  const arealMass = finiteIn('arealMassGPerM2', input.arealMassGPerM2, positive);
  const length = keptFraction('lengthShrinkagePct', input.lengthShrinkagePct);
  return arealMass / (length * keptFraction('widthShrinkagePct', input.widthShrinkagePct));
}

function keptFraction(field: string, pct: number): number {
  finiteIn(field, pct, { min: -100 });
  if (pct >= 100)
    throw new CalcError('outOfRange', field, `${field} must be under 100: something of the piece is left`);
  return 1 - pct / 100;
}
