import { CalcError, finiteIn } from './calcError.ts';

/** How hardness is stated, in mg/L of calcium carbonate for one of each. Sources: ukaps.org, discussion of dKH (mmol/L, German degree);
 *  FAO entry in the aquaponics.ai glossary (meq/L, CaO); wiktel.com/standards/hardnes.htm (grain, French, Clark, from the definitions:
 *  a grain in a US gallon, 64.79891 mg in 3.785411784 L; in an imperial one, 4.54609 L). */
export const HARDNESS_UNITS = {
  mgPerL: 1,
  mmolPerL: 100.09,
  meqPerL: 50.045,
  germanDegrees: 17.848,
  englishDegrees: 64.79891 / 4.54609,
  frenchDegrees: 10,
  grainPerGalUS: 64.79891 / 3.785411784,
  mgCaOPerL: 100.09 / 56.077,
} as const;
export type HardnessUnit = keyof typeof HARDNESS_UNITS;
export const HARDNESS_UNIT_NAMES = Object.keys(HARDNESS_UNITS) as [HardnessUnit, ...HardnessUnit[]];

/** Hardness carried from one unit to another. value ≥ 0. Throws CalcError. Sources: as HARDNESS_UNITS. */
export const hardnessConverted = (input: { value: number; from: HardnessUnit; to: HardnessUnit }): number =>
  (finiteIn('value', input.value, { min: 0 }) * HARDNESS_UNITS[input.from]) / HARDNESS_UNITS[input.to];

/** Molar masses, g/mol: calcium carbonate, calcium, magnesium. Source: conductscience.com on hardness. */
const CACO3 = 100.09;
const CALCIUM = 40.08;
const MAGNESIUM = 24.305;

/** Hardness of the ions in the water:  mg/L CaCO₃ = 2.497 · Ca + 4.118 · Mg. mg/L ≥ 0. Throws CalcError.
 *  Sources: tidywater, rdrr.io/cran/tidywater calculate_hardness; conductscience.com. */
export const hardnessOfIons = (input: { calciumMgPerL: number; magnesiumMgPerL: number }): number =>
  finiteIn('calciumMgPerL', input.calciumMgPerL, { min: 0 }) * (CACO3 / CALCIUM) +
  finiteIn('magnesiumMgPerL', input.magnesiumMgPerL, { min: 0 }) * (CACO3 / MAGNESIUM);

/** Calcium that would make the hardness alone, by the round molar masses that tables use:  Ca = 0.4 · hardness. mg/L ≥ 0.
 *  Throws CalcError. Sources: ukaps.org, discussion of dKH; two water-treatment sellers' tables. */
export const calciumOfHardness = (input: { hardnessMgPerL: number }): number =>
  0.4 * finiteIn('hardnessMgPerL', input.hardnessMgPerL, { min: 0 });

/** Words for hardness, with the upper end of each in mg/L: a word says nothing without its scheme. Sources: usgs.gov/faqs, water
 *  hardness; godfire.net, laboratory results (US trade); two water-treatment sellers (UK table). */
export const HARDNESS_SCHEMES = {
  usgs: [
    ['soft', 60],
    ['moderately hard', 120],
    ['hard', 180],
    ['very hard', null],
  ],
  usTrade: [
    ['soft', 17],
    ['slightly hard', 60],
    ['moderately hard', 120],
    ['hard', 180],
    ['very hard', null],
  ],
  ukTable: [
    ['soft', 50],
    ['moderately soft', 100],
    ['slightly hard', 150],
    ['moderately hard', 200],
    ['hard', 300],
    ['very hard', null],
  ],
} as const satisfies Record<string, readonly (readonly [string, number | null])[]>;
export type HardnessScheme = keyof typeof HARDNESS_SCHEMES;
export const HARDNESS_SCHEME_NAMES = Object.keys(HARDNESS_SCHEMES) as [HardnessScheme, ...HardnessScheme[]];

/** The word of a scheme for a hardness, and the upper end of that word. hardnessMgPerL ≥ 0. Throws CalcError.
 *  Sources: as HARDNESS_SCHEMES. */
export function hardnessWord(input: { hardnessMgPerL: number; scheme: HardnessScheme }): {
  word: string;
  topMgPerL?: number;
} {
  const hardness = finiteIn('hardnessMgPerL', input.hardnessMgPerL, { min: 0 });
  const row = HARDNESS_SCHEMES[input.scheme].find(([, top]) => top === null || hardness <= top);
  if (!row) throw new CalcError('notKnown', 'scheme', 'that scheme has no word for it');
  const [word, topMgPerL] = row;
  return topMgPerL === null ? { word } : { word, topMgPerL };
}
