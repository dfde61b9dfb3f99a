import { finiteIn } from './calcError.ts';

/* Baths that are used again: what goods carry in and out, what is left, what to add, what each lot owes. Volumes mL, masses g,
   strengths g/L, pick-up % of the dry goods, density kg/L (1 where the bath is dilute). */

const positive = { min: 0, exclusiveMin: true };
const share = { min: 0, max: 1 };
const percent = { min: 0, max: 100 };

/** Pick-up:  P = 100 · (wet − dry) / dry. wetMassG at least dryMassG > 0. Throws CalcError.
 *  Source: N. Mehra, scribd.com/document/680053143. */
export function pickUpPct(input: { wetMassG: number; dryMassG: number }): number {
  const dryMassG = finiteIn('dryMassG', input.dryMassG, positive);
  return (100 * (finiteIn('wetMassG', input.wetMassG, { min: dryMassG }) - dryMassG)) / dryMassG;
}

/** Liquor that goods carry:  o (mL) = W · P / (100 · ρ). All > 0 but pickUpPct ≥ 0. Throws CalcError.
 *  Source: Exam solutions 2009–2021, textiletriangle.com/gate-textile. */
export function carriedVolumeMl(input: { goodsDryMassG: number; pickUpPct: number; densityKgPerL: number }): number {
  const goodsDryMassG = finiteIn('goodsDryMassG', input.goodsDryMassG, positive);
  const volumeMl = (goodsDryMassG * finiteIn('pickUpPct', input.pickUpPct, { min: 0 })) / 100;
  return volumeMl / finiteIn('densityKgPerL', input.densityKgPerL, positive);
}

/** Grams that each lot takes of a bath without affinity:  g = W · P · c / (100 000 · ρ). Ranges as carriedVolumeMl; concGPerL ≥ 0.
 *  Throws CalcError. Source: Exam solutions 2009–2021, textiletriangle.com/gate-textile. */
export function carriedMassG(input: {
  goodsDryMassG: number;
  pickUpPct: number;
  concGPerL: number;
  densityKgPerL: number;
}): number {
  return (carriedVolumeMl(input) / 1000) * finiteIn('concGPerL', input.concGPerL, { min: 0 });
}

/** Add-on by pick-up:  % owg = P · (c / 10) / 100. pickUpPct and concGPerL ≥ 0. Throws CalcError.
 *  Source: cdquestions.com, add-on question, 2025. */
export function addOnPct(input: { pickUpPct: number; concGPerL: number }): number {
  const pickedUp = finiteIn('pickUpPct', input.pickUpPct, { min: 0 });
  return (pickedUp * finiteIn('concGPerL', input.concGPerL, { min: 0 })) / 1000;
}

/** Strength that brings an add-on:  c (g/L) = 1000 · (% owg) / P. owgPct ≥ 0, pickUpPct > 0. Throws CalcError.
 *  Source: Exam solutions 2009–2021, textiletriangle.com/gate-textile. */
export function concForAddOn(input: { owgPct: number; pickUpPct: number }): number {
  return (1000 * finiteIn('owgPct', input.owgPct, { min: 0 })) / finiteIn('pickUpPct', input.pickUpPct, positive);
}

/** A bath after one lot of goods: wet goods bring water, what they carry out leaves with its share of the strength, what they take
 *  up by affinity leaves without water:
 *  V = V₀ + W · (P₀ − P) / 100 − evaporated
 *  c = (c₀ · V₀ − U) / (V₀ + W · P₀ / 100), and more once water has gone into the air
 *  Throws CalcError where more would leave than there is. Follows from the definitions. */
export function bathAfterLot(input: {
  volumeMl: number;
  concGPerL: number;
  goodsDryMassG: number;
  pickUpInPct: number;
  pickUpOutPct: number;
  takenUpG: number;
  evaporatedMl: number;
}): { volumeMl: number; concGPerL: number; carriedMl: number; carriedG: number } {
  const volumeMl = finiteIn('volumeMl', input.volumeMl, positive);
  const goodsDryMassG = finiteIn('goodsDryMassG', input.goodsDryMassG, { min: 0 });
  const inG = finiteIn('concGPerL', input.concGPerL, { min: 0 }) * (volumeMl / 1000);
  const leftG = inG - finiteIn('takenUpG', input.takenUpG, { min: 0, max: inG });
  const fullMl = volumeMl + (goodsDryMassG * finiteIn('pickUpInPct', input.pickUpInPct, { min: 0 })) / 100;
  const mostOutPct = goodsDryMassG === 0 ? Number.MAX_VALUE : (100 * fullMl) / goodsDryMassG;
  const carriedMl = (goodsDryMassG * finiteIn('pickUpOutPct', input.pickUpOutPct, { min: 0, max: mostOutPct })) / 100;
  const carriedG = leftG * (carriedMl / fullMl);
  const afterMl = fullMl - carriedMl;
  const nowMl = afterMl - finiteIn('evaporatedMl', input.evaporatedMl, { min: 0, max: afterMl });
  // An emptied bath has no strength.
  return { volumeMl: nowMl, concGPerL: nowMl > 0 ? (1000 * (leftG - carriedG)) / nowMl : 0, carriedMl, carriedG };
}

/** What to add to bring a bath to a volume and a strength:  m = c · V − c₁ · V₁, as solid or as stock of s g/L: m / s, and water.
 *  Both are 0 at least: a bath that is too strong is told by a negative massG. stockGPerL left out for the solid.
 *  Throws CalcError('outOfRange', 'stockGPerL') when the stock is too weak: it would make the bath too full.
 *  Follows from the definitions. */
export function topUp(input: {
  volumeMl: number;
  concGPerL: number;
  toVolumeMl: number;
  toConcGPerL: number;
  stockGPerL?: number | undefined;
}): { massG: number; stockMl?: number; waterMl: number } {
  const volumeMl = finiteIn('volumeMl', input.volumeMl, { min: 0 });
  const toVolumeMl = finiteIn('toVolumeMl', input.toVolumeMl, { min: volumeMl });
  const wantedG = (finiteIn('toConcGPerL', input.toConcGPerL, { min: 0 }) * toVolumeMl) / 1000;
  const massG = wantedG - (finiteIn('concGPerL', input.concGPerL, { min: 0 }) * volumeMl) / 1000;
  const room = toVolumeMl - volumeMl;
  if (input.stockGPerL === undefined) return { massG, waterMl: room };
  const least = room > 0 && massG > 0 ? (1000 * massG) / room : 0;
  const stockMl =
    (1000 * Math.max(0, massG)) / finiteIn('stockGPerL', input.stockGPerL, { min: least, exclusiveMin: least === 0 });
  return { massG, stockMl, waterMl: room - stockMl };
}

/** Strength after n lots that are each made up with plain water:  cₙ = c₀ · (1 − o/V)ⁿ. carriedMl at most volumeMl > 0, lots whole.
 *  Throws CalcError. Follows from the definitions. */
export function concAfterWaterOnly(input: {
  concGPerL: number;
  carriedMl: number;
  volumeMl: number;
  lots: number;
}): number {
  const volumeMl = finiteIn('volumeMl', input.volumeMl, positive);
  const left = 1 - finiteIn('carriedMl', input.carriedMl, { min: 0, max: volumeMl }) / volumeMl;
  return finiteIn('concGPerL', input.concGPerL, { min: 0 }) * left ** finiteIn('lots', input.lots, { min: 0 });
}

/** What is left of something loose after n rinses:  (held / total)ⁿ, and 1 in how many. heldMl at most totalMl > 0.
 *  Throws CalcError. Source: M. Fay, mikefay.info/wiki, The Power of Dilution. */
export function rinsing(input: { heldMl: number; totalMl: number; rinses: number }): {
  leftPct: number;
  rinseFactor: number;
} {
  const totalMl = finiteIn('totalMl', input.totalMl, positive);
  const held = finiteIn('heldMl', input.heldMl, { min: 0, max: totalMl, exclusiveMin: true }) / totalMl;
  const left = held ** finiteIn('rinses', input.rinses, { min: 0 });
  return { leftPct: 100 * left, rinseFactor: 1 / left };
}

/** What is left in a bath that is fed:  Σ doses − Σ taken by the goods − Σ carried out, not below 0. `taken` as a low and a high
 *  estimate, since print and measurement differ: the residue is a range. Masses g ≥ 0. Throws CalcError.
 *  Follows from the definitions. */
export function residueG(input: {
  dosesG: readonly number[];
  carriedG: number;
  takenLowG: number;
  takenHighG: number;
}): { lowG: number; highG: number } {
  const inG = input.dosesG.reduce((sum, dose) => sum + finiteIn('dosesG', dose, { min: 0 }), 0);
  const lowTaken = finiteIn('takenLowG', input.takenLowG, { min: 0 });
  const highTaken = finiteIn('takenHighG', input.takenHighG, { min: lowTaken });
  const kept = inG - finiteIn('carriedG', input.carriedG, { min: 0 });
  return { lowG: Math.max(0, kept - highTaken), highG: Math.max(0, kept - lowTaken) };
}

/** Dose for goods in a bath that holds some already:  full: W · p / 100; net of the residue, not below 0. goodsDryMassG > 0, owgPct
 *  and the residue ≥ 0. Throws CalcError. Follows from the definition of % owg. */
export function doseG(input: { goodsDryMassG: number; owgPct: number; residueG: number }): {
  fullG: number;
  netG: number;
} {
  const fullG =
    (finiteIn('goodsDryMassG', input.goodsDryMassG, positive) * finiteIn('owgPct', input.owgPct, { min: 0 })) / 100;
  return { fullG, netG: Math.max(0, fullG - finiteIn('residueG', input.residueG, { min: 0 })) };
}

/** Goods that an unfed bath serves, use by use, where each takes the share k of what is left:  Wᵢ = W₁ · (1 − k)ⁱ⁻¹, and their sum.
 *  firstMassG > 0, takenShare in 0–1, uses whole, 1–100. Throws CalcError.
 *  Source: wooltribulations.blogspot.com/2018/06, reusing an alum mordant bath. */
export function goodsServed(input: { firstMassG: number; takenShare: number; uses: number }): {
  massesG: number[];
  totalG: number;
} {
  const firstMassG = finiteIn('firstMassG', input.firstMassG, positive);
  const left = 1 - finiteIn('takenShare', input.takenShare, share);
  const uses = Math.trunc(finiteIn('uses', input.uses, { min: 1, max: 100 }));
  const massesG = Array.from({ length: uses }, (_, i) => firstMassG * left ** i);
  return { massesG, totalG: massesG.reduce((sum, one) => sum + one, 0) };
}

/** Depth of the next lot in what a bath still holds:  d₂ = 100 · (dose − on the fibre) / W₂. onFibreG at most doseG.
 *  Throws CalcError. Source: textiledigest.com, calculations part 2. */
export function nextDepthPct(input: { doseG: number; onFibreG: number; nextGoodsDryMassG: number }): number {
  const dose = finiteIn('doseG', input.doseG, { min: 0 });
  const left = dose - finiteIn('onFibreG', input.onFibreG, { min: 0, max: dose });
  return (100 * left) / finiteIn('nextGoodsDryMassG', input.nextGoodsDryMassG, positive);
}

/** Dye taken up, reacted and loose on the fibre:  up = d · E, reacted = up · r, loose = d · E · (1 − r), in % owg and g.
 *  goodsDryMassG > 0, depthPct ≥ 0, percentages 0–100. Throws CalcError.
 *  Source: Exam solutions 2009–2021, textiletriangle.com/gate-textile. */
export function fixation(input: {
  goodsDryMassG: number;
  depthPct: number;
  exhaustionPct: number;
  reactionPct: number;
}): {
  exhaustedMassG: number;
  reactedMassG: number;
  looseOwgPct: number;
} {
  const exhausted =
    finiteIn('depthPct', input.depthPct, { min: 0 }) * (finiteIn('exhaustionPct', input.exhaustionPct, percent) / 100);
  const reacted = exhausted * (finiteIn('reactionPct', input.reactionPct, percent) / 100);
  const perPct = finiteIn('goodsDryMassG', input.goodsDryMassG, positive) / 100;
  return { exhaustedMassG: exhausted * perPct, reactedMassG: reacted * perPct, looseOwgPct: exhausted - reacted };
}

/** Real indigo in a powder:  g · purity / 100, and what a vat of it holds a litre. Throws CalcError.
 *  Source: an indigo grower's sheet on the iron vat. */
export function indigoActive(input: { powderG: number; purityPct: number; vatMl: number }): {
  activeG: number;
  powderGPerL: number;
} {
  const powderG = finiteIn('powderG', input.powderG, { min: 0 });
  return {
    activeG: (powderG * finiteIn('purityPct', input.purityPct, percent)) / 100,
    powderGPerL: (1000 * powderG) / finiteIn('vatMl', input.vatMl, positive),
  };
}

/** Kinds of indigo vat by parts of alkali and reducer to one of indigo. Sources: J. Dean, jennydean.co.uk (fructose); a natural-dye
 *  supplier's sheets and issuu.com/inliquid (ferrous); F. Beech, The Dyeing of Cotton Fabrics, 1901 (zinc). */
export const VATS = {
  fructose: { alkali: 'lime', alkaliParts: 2, reducer: 'fructose', reducerParts: 3 },
  ferrous: { alkali: 'lime', alkaliParts: 3, reducer: 'ferrous sulphate', reducerParts: 2 },
  zincLime: { alkali: 'slaked lime', alkaliParts: 2.2, reducer: 'zinc', reducerParts: 0.55 },
} as const;
export type VatKind = keyof typeof VATS;
export const VAT_KINDS = Object.keys(VATS) as [VatKind, ...VatKind[]];

/** Alkali and reducer for a vat of so much indigo. indigoG > 0. Throws CalcError. Sources: as VATS. */
export function vatAmounts(input: { kind: VatKind; indigoG: number }): {
  alkali: string;
  alkaliG: number;
  reducer: string;
  reducerG: number;
} {
  const indigoG = finiteIn('indigoG', input.indigoG, positive);
  const { alkali, alkaliParts, reducer, reducerParts } = VATS[input.kind];
  return { alkali, alkaliG: indigoG * alkaliParts, reducer, reducerG: indigoG * reducerParts };
}
