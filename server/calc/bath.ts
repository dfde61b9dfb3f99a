import { CalcError, finiteIn } from './calcError.ts';
import { stockVolumeMlOfMass } from './stockSolution.ts';

const positive = { min: 0, exclusiveMin: true };

/** Liquor for goods:  V (mL) = W · LR. liquorRatioLPerKg L/kg (= mL/g), written 20:1 as well as 1:20, > 0. Throws CalcError.
 *  Sources: Dyeing calculation in lab dip, textilecalculation.blogspot.com, 2015; J. Cowern, wool dye method. */
export function liquorVolumeMl(input: { goodsDryMassG: number; liquorRatioLPerKg: number }): number {
  const goodsDryMassG = finiteIn('goodsDryMassG', input.goodsDryMassG, positive);
  return finiteIn('goodsDryMassG', goodsDryMassG * finiteIn('liquorRatioLPerKg', input.liquorRatioLPerKg, positive));
}

/** Liquor ratio:  LR = V (mL) / W (g), L per kg. Both > 0. Throws CalcError.
 *  Source: B. Venkatesh, Fundamentals: basic terminologies used in dyeing, VFSTR University. */
export function liquorRatioLPerKg(input: { liquorVolumeMl: number; goodsDryMassG: number }): number {
  const volumeMl = finiteIn('liquorVolumeMl', input.liquorVolumeMl, positive);
  return volumeMl / finiteIn('goodsDryMassG', input.goodsDryMassG, positive);
}

/** Liquor ratio from a depth and the concentration it makes:  LR = 10 · d / (g/L). Both > 0. Throws CalcError.
 *  Source: examination answer on liquor ratio, cdquestions.com, 2025. */
export function liquorRatioLPerKgOfConc(input: { depthPct: number; concGPerL: number }): number {
  return (10 * finiteIn('depthPct', input.depthPct, positive)) / finiteIn('concGPerL', input.concGPerL, positive);
}

/** % on weight of goods → g/L of bath:  g/L = 10 · % / LR. owgPct ≥ 0. Throws CalcError.
 *  Source: Physico-chemical calculations, thesmarttime.com. */
export function concGPerLOfOwg(input: { owgPct: number; liquorRatioLPerKg: number }): number {
  return (
    (10 * finiteIn('owgPct', input.owgPct, { min: 0 })) /
    finiteIn('liquorRatioLPerKg', input.liquorRatioLPerKg, positive)
  );
}

/** g/L of bath → % on weight of goods:  % = (g/L) · LR / 10. concGPerL ≥ 0. Throws CalcError.
 *  Source: Physico-chemical calculations, thesmarttime.com. */
export function owgPctOfConc(input: { concGPerL: number; liquorRatioLPerKg: number }): number {
  return (
    (finiteIn('concGPerL', input.concGPerL, { min: 0 }) *
      finiteIn('liquorRatioLPerKg', input.liquorRatioLPerKg, positive)) /
    10
  );
}

/** A rate for a mass of goods → % on weight of goods:  % = 100 · m / W (4 oz to the pound is 25 %)
 *  massG ≥ 0 of auxiliary or mordant · goodsDryMassG > 0. Throws CalcError.
 *  Sources: P. Burch, FAQ ammonium sulfate, pburch.net; E. Mairet, A Book on Vegetable Dyes, 1916. */
export function owgPctOfRate(input: { massG: number; goodsDryMassG: number }): number {
  return (100 * finiteIn('massG', input.massG, { min: 0 })) / finiteIn('goodsDryMassG', input.goodsDryMassG, positive);
}

/** Dry auxiliary or mordant that goes by the goods:  m = W · %/100. goodsDryMassG > 0 · owgPct ≥ 0. Throws CalcError.
 *  Sources: J. Cowern, wool dye method, jennycowern.co.uk; Alum mordant for animal fibers, leighsfiberjournal.blogspot.com, 2024. */
export function auxiliaryMassGOfOwg(input: { goodsDryMassG: number; owgPct: number }): number {
  return (
    (finiteIn('goodsDryMassG', input.goodsDryMassG, positive) * finiteIn('owgPct', input.owgPct, { min: 0 })) / 100
  );
}

/** Dry auxiliary that goes by the water:  m = (g/L) · V / 1000. liquorVolumeMl > 0 · concGPerL ≥ 0. Throws CalcError.
 *  Source: Dyeing with fibre reactive dyes, townhillstudio.co.uk. */
export function auxiliaryMassGOfConc(input: { liquorVolumeMl: number; concGPerL: number }): number {
  return (
    (finiteIn('liquorVolumeMl', input.liquorVolumeMl, positive) * finiteIn('concGPerL', input.concGPerL, { min: 0 })) /
    1000
  );
}

/** What an amount in a recipe line is measured against. Dye and mordant go with the goods; salt and soda in a bath go with the water;
 *  doubling the goods in one bath doubles the first and leaves the second.
 *  owg: % on weight of goods · gPerL, mlPerL: of the vessel's volume · fixedMass: g · fixedVolume: mL. */
export type AuxiliaryBasis = 'owg' | 'gPerL' | 'mlPerL' | 'fixedMass' | 'fixedVolume';

export interface AuxiliaryLine {
  readonly basis: AuxiliaryBasis;
  readonly amount: number;
  /** Which volume a per-litre line goes by; the soak is a vessel of its own, 5 to 9 times as strong as a bath in soda. */
  readonly vessel: 'bath' | 'soak';
}

/** One auxiliary's amount:  owg g = W · %/100 · gPerL g = (g/L) · L · mlPerL mL = (mL/L) · L · fixed: as stated
 *  amount ≥ 0 · goodsDryMassG > 0 for owg · the vessel's volume > 0 for a per-litre line; others may be left out.
 *  Throws CalcError('missing', 'bathVolumeMl' | 'soakVolumeMl' | 'goodsDryMassG').
 *  Sources: Dyeing with fibre reactive dyes, townhillstudio.co.uk; J. Cowern, wool dye method. */
export function auxiliaryAmount(
  input: AuxiliaryLine & {
    readonly goodsDryMassG?: number | undefined;
    readonly bathVolumeMl?: number | undefined;
    readonly soakVolumeMl?: number | undefined;
  },
): { massG: number } | { volumeMl: number } {
  const amount = finiteIn('amount', input.amount, { min: 0 });
  switch (input.basis) {
    case 'owg':
      return {
        massG: auxiliaryMassGOfOwg({
          goodsDryMassG: demanded('goodsDryMassG', input.goodsDryMassG),
          owgPct: amount,
        }),
      };
    case 'gPerL':
      return { massG: auxiliaryMassGOfConc({ liquorVolumeMl: vesselVolumeMl(input), concGPerL: amount }) };
    case 'mlPerL':
      return { volumeMl: (vesselVolumeMl(input) * amount) / 1000 };
    case 'fixedMass':
      return { massG: amount };
    case 'fixedVolume':
      return { volumeMl: amount };
  }
}

function vesselVolumeMl(input: {
  readonly vessel: 'bath' | 'soak';
  readonly bathVolumeMl?: number | undefined;
  readonly soakVolumeMl?: number | undefined;
}): number {
  return input.vessel === 'bath'
    ? demanded('bathVolumeMl', input.bathVolumeMl)
    : demanded('soakVolumeMl', input.soakVolumeMl);
}

function demanded(field: string, value: number | undefined): number {
  if (value === undefined) throw new CalcError('missing', field, `${field} is needed for this line`);
  return finiteIn(field, value, positive);
}

/** Auxiliary added from a stock solution:  mL = L · 1000 · (g/L) / (10 · c)
 *  volumeMl of the bath > 0 · concGPerL wanted ≥ 0 · stockStrengthPct % w/v > 0. Throws CalcError.
 *  Source: Dyeing calculation in lab dip, textilecalculation.blogspot.com, 2015. */
export function auxiliaryStockVolumeMl(input: {
  volumeMl: number;
  concGPerL: number;
  stockStrengthPct: number;
}): number {
  const massG =
    (finiteIn('volumeMl', input.volumeMl, positive) * finiteIn('concGPerL', input.concGPerL, { min: 0 })) / 1000;
  return stockVolumeMlOfMass({ massG, stockStrengthPct: input.stockStrengthPct });
}

/** Water that makes up the bath once every solution is in:  water = liquor − Σ solutions
 *  liquorVolumeMl > 0 · additionsMl ≥ 0. When the solutions alone are more than the liquor, waterMl is 0 and overMl says by how much.
 *  Source: Dyeing calculation in lab dip, textilecalculation.blogspot.com, 2015. */
export function makeUpWater(input: { liquorVolumeMl: number; additionsMl: readonly number[] }): {
  waterMl: number;
  overMl: number;
} {
  const liquor = finiteIn('liquorVolumeMl', input.liquorVolumeMl, positive);
  const additions = input.additionsMl.reduce((sum, volume) => sum + finiteIn('additionsMl', volume, { min: 0 }), 0);
  return { waterMl: Math.max(0, liquor - additions), overMl: Math.max(0, additions - liquor) };
}

/** As makeUpWater, for a caller that cannot carry on without water: throws CalcError('outOfRange', 'additionsMl') when the solutions
 *  are more than the liquor. Definition of the liquor ratio. */
export function makeUpWaterMl(input: { liquorVolumeMl: number; additionsMl: readonly number[] }): number {
  const { waterMl, overMl } = makeUpWater(input);
  if (overMl > 1e-9 * input.liquorVolumeMl) {
    throw new CalcError(
      'outOfRange',
      'additionsMl',
      `the solutions are ${Number(overMl.toPrecision(6))} mL more than the liquor: use stronger stock solutions or a larger bath`,
    );
  }
  return waterMl;
}

export interface BathLine extends AuxiliaryLine {
  /** Strength of the stock solution that a mass is added from; left out when it goes in dry. */
  readonly stockStrengthPct?: number | undefined;
}

export interface BathPlan {
  readonly lines: readonly {
    /** Dry substance; left out for a line that is itself a liquid. */
    readonly massG?: number;
    /** Volume poured in; left out for a dry addition. */
    readonly volumeMl?: number;
  }[];
  readonly bathVolumeMl: number;
  /** Water beside the solutions, in the bath. */
  readonly waterMl: number;
  /** By how much the bath's solutions exceed the liquor; 0 when all is well. */
  readonly overMl: number;
}

/** A whole bath: every auxiliary by its own basis, and the water that is left to add after all solutions of dye and auxiliaries.
 *  bathVolumeMl > 0 · dyeStockVolumesMl ≥ 0, those that go into the bath. Lines of the soak do not touch the bath's water; dry
 *  additions take no volume (common practice). Throws CalcError as auxiliaryAmount. */
export function bathPlan(input: {
  goodsDryMassG: number;
  bathVolumeMl: number;
  soakVolumeMl?: number | undefined;
  lines: readonly BathLine[];
  dyeStockVolumesMl: readonly number[];
}): BathPlan {
  const { goodsDryMassG, bathVolumeMl, soakVolumeMl } = input;
  const additionsMl = [...input.dyeStockVolumesMl];
  const lines = input.lines.map((line) => {
    const amount = auxiliaryAmount({ ...line, goodsDryMassG, bathVolumeMl, soakVolumeMl });
    if (!('massG' in amount)) {
      if (line.vessel === 'bath') additionsMl.push(amount.volumeMl);
      return amount;
    }
    if (line.stockStrengthPct === undefined) return amount;
    const volumeMl = stockVolumeMlOfMass({ massG: amount.massG, stockStrengthPct: line.stockStrengthPct });
    if (line.vessel === 'bath') additionsMl.push(volumeMl);
    return { massG: amount.massG, volumeMl };
  });
  return { lines, bathVolumeMl, ...makeUpWater({ liquorVolumeMl: bathVolumeMl, additionsMl }) };
}

/** Standard atomic weights, abridged (IUPAC 2021, from memory), of the elements met in a dye room's jars. */
const atomicMasses: Readonly<Record<string, number>> = {
  H: 1.008,
  Li: 6.94,
  B: 10.81,
  C: 12.011,
  N: 14.007,
  O: 15.999,
  F: 18.998,
  Na: 22.99,
  Mg: 24.305,
  Al: 26.982,
  Si: 28.085,
  P: 30.974,
  S: 32.06,
  Cl: 35.45,
  K: 39.098,
  Ca: 40.078,
  Ti: 47.867,
  Cr: 51.996,
  Mn: 54.938,
  Fe: 55.845,
  Co: 58.933,
  Ni: 58.693,
  Cu: 63.546,
  Zn: 65.38,
  Br: 79.904,
  Sr: 87.62,
  Zr: 91.224,
  Ag: 107.87,
  Sn: 118.71,
  I: 126.9,
  Ba: 137.33,
  Pb: 207.2,
};

const subscripts = '₀₁₂₃₄₅₆₇₈₉';

/** Elements and counts of one part of a formula, brackets multiplied out. */
function elementsOf(part: string, formula: string, field: string): Map<string, number> {
  const stack: Map<string, number>[] = [new Map()];
  const add = (elements: Map<string, number>, element: string, count: number) =>
    elements.set(element, (elements.get(element) ?? 0) + count);
  const tokens = part.match(/[A-Z][a-z]?|\d+|[()[\]]/g) ?? [];
  if (tokens.join('') !== part || tokens.length === 0) throw unreadableFormula(formula, field);
  for (let index = 0; index < tokens.length; index += 1) {
    const token = tokens[index] ?? '';
    const following = tokens[index + 1] ?? '';
    const count = /^\d+$/.test(following) ? Number(following) : 1;
    if (token === '(' || token === '[') {
      stack.push(new Map());
    } else if (token === ')' || token === ']') {
      const inner = stack.pop();
      const outer = stack.at(-1);
      if (inner === undefined || outer === undefined) throw unreadableFormula(formula, field);
      for (const [element, each] of inner) add(outer, element, each * count);
      if (count !== 1 || following === '1') index += 1;
    } else if (/^\d+$/.test(token)) {
      throw unreadableFormula(formula, field);
    } else {
      if (atomicMasses[token] === undefined) throw unreadableFormula(formula, field);
      add(stack.at(-1) ?? new Map(), token, count);
      if (/^\d+$/.test(following)) index += 1;
    }
  }
  const [elements] = stack;
  if (stack.length !== 1 || elements === undefined) throw unreadableFormula(formula, field);
  return elements;
}

function unreadableFormula(formula: string, field: string): CalcError {
  return new CalcError('unreadable', field, `"${formula}" is not a formula I can read: try Na2CO3 or Na2CO3.10H2O`);
}

/** A salt without its water, and the waters of crystallisation to each formula unit. */
function saltOf(
  formula: string,
  field: string,
): { elements: Map<string, number>; waters: number; molarMassGPerMol: number } {
  const plain = [...formula.replace(/\s+/g, '')]
    .map((character) => (subscripts.includes(character) ? String(subscripts.indexOf(character)) : character))
    .join('');
  const elements = new Map<string, number>();
  let waters = 0;
  for (const part of plain.split(/[.·•⋅*]/)) {
    const multiple = /^\d+(?:\/\d+)?/.exec(part)?.[0] ?? '';
    const [numerator = 1, denominator = 1] = multiple === '' ? [] : multiple.split('/').map(Number);
    const count = numerator / denominator;
    const body = part.slice(multiple.length);
    if (!Number.isFinite(count) || count <= 0) throw unreadableFormula(formula, field);
    if (/^(H2O|OH2)$/.test(body)) {
      waters += count;
      continue;
    }
    for (const [element, each] of elementsOf(body, formula, field)) {
      elements.set(element, (elements.get(element) ?? 0) + each * count);
    }
  }
  let molarMass =
    waters *
    molarMassOf(
      new Map([
        ['H', 2],
        ['O', 1],
      ]),
    );
  molarMass += molarMassOf(elements);
  return { elements, waters, molarMassGPerMol: molarMass };
}

function molarMassOf(elements: Map<string, number>): number {
  let sum = 0;
  for (const [element, count] of elements) sum += (atomicMasses[element] ?? Number.NaN) * count;
  return sum;
}

/** Molar mass from a formula with brackets and water of crystallisation: Na2CO3.10H2O, KAl(SO4)2·12H2O, Na₂SO₄, CaSO4.1/2H2O.
 *  g/mol. Throws CalcError('unreadable', 'formula'). Source of the atomic weights: IUPAC 2021, abridged, from memory. */
export function molarMassGPerMol(input: { formula: string }): number {
  return saltOf(input.formula, 'formula').molarMassGPerMol;
}

/** How many grams of one hydrate do the work of one gram of another:  g₂/g₁ = M₂/M₁
 *  Both formulas must be the same salt but for water: throws CalcError('mismatch', 'toFormula') otherwise, as soda ash and bicarbonate
 *  do not stand in for each other by mass. Source: molar-mass note on washing soda, synth-diy.org archive, 2007, citing P. Burch. */
export function hydrateFactor(input: { fromFormula: string; toFormula: string }): number {
  const from = saltOf(input.fromFormula, 'fromFormula');
  const to = saltOf(input.toFormula, 'toFormula');
  const sameSalt =
    from.elements.size > 0 &&
    from.elements.size === to.elements.size &&
    [...from.elements].every(([element, count]) => to.elements.get(element) === count);
  if (!sameSalt) {
    throw new CalcError(
      'mismatch',
      'toFormula',
      `${input.fromFormula} and ${input.toFormula} are not the same salt with more or less water`,
    );
  }
  return to.molarMassGPerMol / from.molarMassGPerMol;
}

/** Hydrates a dye room meets, by their trade names. "Washing soda" is sold as both hydrates, so it has no entry of its own.
 *  Formulas: general chemistry, from memory. */
export const hydrateForms = {
  'soda ash (anhydrous)': 'Na2CO3',
  'sodium carbonate monohydrate': 'Na2CO3.H2O',
  'sodium carbonate decahydrate': 'Na2CO3.10H2O',
  'sodium sulphate (anhydrous)': 'Na2SO4',
  'sodium sulphate decahydrate': 'Na2SO4.10H2O',
  'citric acid (anhydrous)': 'C6H8O7',
  'citric acid monohydrate': 'C6H8O7.H2O',
  'trisodium phosphate (anhydrous)': 'Na3PO4',
  'trisodium phosphate dodecahydrate': 'Na3PO4.12H2O',
  'potassium alum (anhydrous)': 'KAl(SO4)2',
  'potassium alum dodecahydrate': 'KAl(SO4)2.12H2O',
  'ferrous sulphate (anhydrous)': 'FeSO4',
  'ferrous sulphate heptahydrate': 'FeSO4.7H2O',
  'magnesium sulphate (anhydrous)': 'MgSO4',
  'magnesium sulphate heptahydrate': 'MgSO4.7H2O',
  'sodium acetate (anhydrous)': 'NaC2H3O2',
  'sodium acetate trihydrate': 'NaC2H3O2.3H2O',
} as const satisfies Record<string, string>;

/** Mass of the hydrate in the jar that replaces the one in the recipe:  g₂ = g₁ · M₂/M₁. Errors as hydrateFactor; massG ≥ 0.
 *  Definition of a molar mass. */
export function hydrateSwapMassG(input: { massG: number; fromFormula: string; toFormula: string }): number {
  return finiteIn('massG', input.massG, { min: 0 }) * hydrateFactor(input);
}

/** Another strength of the same acid:  V₂ = V₁ · C₁/C₂, and the bath's water is cut by what the weaker acid brings along.
 *  volumeMl ≥ 0 · strengths % > 0 to 100, in one convention. waterLessMl is negative when the new acid is stronger. Throws CalcError.
 *  Source: craft supplier's 1:2 metal-complex dye sheet (56 % acetic to 5 % vinegar, ×11.2, printed as 11). */
export function acidSwap(input: { volumeMl: number; fromStrengthPct: number; toStrengthPct: number }): {
  volumeMl: number;
  waterLessMl: number;
} {
  const range = { min: 0, exclusiveMin: true, max: 100 };
  const from = finiteIn('fromStrengthPct', input.fromStrengthPct, range);
  const to = finiteIn('toStrengthPct', input.toStrengthPct, range);
  const before = finiteIn('volumeMl', input.volumeMl, { min: 0 });
  const volumeMl = (before * from) / to;
  return { volumeMl, waterLessMl: volumeMl - before };
}

/** Bulk density by grade, kg/m³ = g/L. One "cup" of soda ash differs by up to 1.8 times between grades.
 *  Source: soda-ash research institute, general information. */
export const sodaAshBulkDensitiesKgPerM3 = {
  light: { low: 570, high: 650 },
  dense: { low: 1000, high: 1050 },
} as const;

/** Mass of a heaped-out volume of powder:  g = mL · (kg/m³) / 1000
 *  volumeMl ≥ 0 · bulkDensityKgPerM3 > 0, of the grade in the jar. Throws CalcError('missing', 'bulkDensity') without it: a cup of
 *  powder has no mass until its grade is known. Definition of bulk density. */
export function scoopMassG(input: { volumeMl: number; bulkDensityKgPerM3?: number | undefined }): number {
  const volumeMl = finiteIn('volumeMl', input.volumeMl, { min: 0 });
  if (input.bulkDensityKgPerM3 === undefined) {
    throw new CalcError(
      'missing',
      'bulkDensity',
      'a cup has no mass until the grade is known: light and dense soda ash differ by nearly twice. Give the bulk density, or weigh it',
    );
  }
  return (volumeMl * finiteIn('bulkDensity', input.bulkDensityKgPerM3, positive)) / 1000;
}

/** Strength of a soak made by scoops of powder in a volume of water (volume of the powder neglected, common practice):
 *    g/L = scoop mL · (kg/m³) / water mL. Errors as scoopMassG. */
export function soakConcGPerL(input: {
  scoopVolumeMl: number;
  bulkDensityKgPerM3?: number | undefined;
  waterVolumeMl: number;
}): number {
  const massG = scoopMassG({ volumeMl: input.scoopVolumeMl, bulkDensityKgPerM3: input.bulkDensityKgPerM3 });
  return (1000 * massG) / finiteIn('waterVolumeMl', input.waterVolumeMl, positive);
}

/** Exhaustion:  E = 100 · (start − end) / start, the dye that has left the bath, fixed or not.
 *  startGPerL > 0 · endGPerL 0 to start, at the same volume. Throws CalcError. Definition (B. Venkatesh, VFSTR University). */
export function exhaustionPct(input: { startGPerL: number; endGPerL: number }): number {
  const start = finiteIn('startGPerL', input.startGPerL, positive);
  const end = finiteIn('endGPerL', input.endGPerL, { min: 0 });
  if (end > start) throw new CalcError('mismatch', 'endGPerL', 'the bath cannot end stronger than it began');
  return (100 * (start - end)) / start;
}

/** Dye left in the bath:  g/L = (dye in − dye on the fibre) / L, with dye on the fibre = dye in · E/100.
 *  dyeMassG ≥ 0 · exhaustionPct 0–100, measured or stated, never assumed · bathVolumeMl > 0. Throws CalcError.
 *  Follows from the definition of exhaustion. */
export function dyeLeftGPerL(input: { dyeMassG: number; exhaustionPct: number; bathVolumeMl: number }): number {
  const left =
    finiteIn('dyeMassG', input.dyeMassG, { min: 0 }) *
    (1 - finiteIn('exhaustionPct', input.exhaustionPct, { min: 0, max: 100 }) / 100);
  return (1000 * left) / finiteIn('bathVolumeMl', input.bathVolumeMl, positive);
}
