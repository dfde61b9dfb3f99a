import { CalcError, finiteIn } from './calcError.ts';

/** Exact definitions of the international yard and pound (1959), of the US gallon (231 in³) and of the imperial gallon:
 *  NIST Handbook 44, Appendix C, 2012; NIST SP 811, Guide for the Use of the SI, Appendix B, 2008. */
export const gramsPerPound = 453.59237;
export const gramsPerOunce = gramsPerPound / 16;
export const metresPerYard = 0.9144;
export const metresPerInch = 0.0254;
export const millilitresPerGallonUS = 3785.411784;
export const millilitresPerCupUS = millilitresPerGallonUS / 16;
export const millilitresPerGallonImp = 4546.09;
/** Silk weight: 1 momme = 4.340 g/m² (silk merchant's momme guide, 2017). */
export const gramsPerM2PerMomme = 4.34;

export type Dimension =
  | 'mass'
  | 'length'
  | 'area'
  | 'volume'
  | 'arealMass'
  | 'linearDensity'
  | 'conc'
  | 'temperature'
  | 'liquorRatio';

interface UnitDefinition<D extends Dimension = Dimension> {
  readonly dimension: D;
  /** Size of the unit in the base unit; for an indirect yarn count, base = factor / count. */
  readonly factor: number;
  readonly offset?: number;
  readonly indirect?: boolean;
}

function of<D extends Dimension, Name extends string>(dimension: D, factors: Readonly<Record<Name, number>>) {
  const entries = Object.entries<number>(factors).map(([name, factor]) => [name, { dimension, factor }] as const);
  return Object.fromEntries(entries) as Readonly<Record<Name, UnitDefinition<D>>>;
}

/** tex of a yarn of which one pound of the count's hanks makes count 1:  tex = 1000 · g per lb / (yd per hank · m per yd). */
function texOfHank(yardsPerHank: number): number {
  return (1000 * gramsPerPound) / (yardsPerHank * metresPerYard);
}

function indirect<Name extends string>(factors: Readonly<Record<Name, number>>) {
  const entries = Object.entries<number>(factors).map(
    ([name, factor]) => [name, { dimension: 'linearDensity', factor, indirect: true }] as const,
  );
  return Object.fromEntries(entries) as Readonly<Record<Name, UnitDefinition<'linearDensity'>>>;
}

/** Base units: g, m, m², mL, g/m², tex, g/L, °C, L/kg. Hank lengths of the indirect yarn counts: cotton 840 yd, worsted 560,
 *  linen lea 300, Yorkshire skein 256, American run 1600, American cut 300 (definitions; yarn count conversion charts,
 *  miniknittingstuff.com, print the rounded tex constants 590.5, 885.8, 1938). */
export const units = {
  ...of('mass', {
    ug: 1e-6,
    mg: 1e-3,
    g: 1,
    kg: 1000,
    t: 1e6,
    grain: gramsPerPound / 7000,
    dram: gramsPerOunce / 16,
    ozTroy: (480 * gramsPerPound) / 7000,
    oz: gramsPerOunce,
    lb: gramsPerPound,
  }),
  ...of('length', { mm: 1e-3, cm: 0.01, m: 1, km: 1000, in: metresPerInch, ft: 0.3048, yd: metresPerYard }),
  ...of('area', {
    mm2: 1e-6,
    cm2: 1e-4,
    m2: 1,
    in2: metresPerInch ** 2,
    ft2: 0.3048 ** 2,
    yd2: metresPerYard ** 2,
  }),
  ...of('volume', {
    uL: 1e-3,
    mL: 1,
    cL: 10,
    dL: 100,
    L: 1000,
    m3: 1e6,
    teaspoonUS: millilitresPerGallonUS / 768,
    tablespoonUS: millilitresPerGallonUS / 256,
    fluidOunceUS: millilitresPerGallonUS / 128,
    cupUS: millilitresPerCupUS,
    pintUS: millilitresPerGallonUS / 8,
    quartUS: millilitresPerGallonUS / 4,
    gallonUS: millilitresPerGallonUS,
    fluidOunceImp: millilitresPerGallonImp / 160,
    pintImp: millilitresPerGallonImp / 8,
    quartImp: millilitresPerGallonImp / 4,
    gallonImp: millilitresPerGallonImp,
    teaspoonMetric: 5,
    tablespoonMetric: 15,
    cupMetric: 250,
  }),
  ...of('arealMass', {
    gPerM2: 1,
    kgPerM2: 1000,
    ozPerYd2: gramsPerOunce / metresPerYard ** 2,
    ozPerFt2: gramsPerOunce / 0.3048 ** 2,
    lbPerYd2: gramsPerPound / metresPerYard ** 2,
    momme: gramsPerM2PerMomme,
  }),
  ...of('linearDensity', {
    tex: 1,
    dtex: 0.1,
    ktex: 1000,
    mtex: 1e-3,
    denier: 1 / 9,
    gPerM: 1000,
    gPerKm: 1,
    ozPerYd: (1000 * gramsPerOunce) / metresPerYard,
  }),
  ...indirect({
    NeCotton: texOfHank(840),
    Nm: 1000,
    worsted: texOfHank(560),
    linenLea: texOfHank(300),
    yorkshireWoollenSkein: texOfHank(256),
    woollenRunUS: texOfHank(1600),
    woollenCutUS: texOfHank(300),
    metresPerKg: 1_000_000,
    metresPer100G: 100_000,
    yardsPerLb: texOfHank(1),
    yardsPerOz: texOfHank(16),
  }),
  ...of('conc', {
    gPerL: 1,
    mgPerL: 1e-3,
    mgPerMl: 1,
    gPerMl: 1000,
    kgPerM3: 1,
    pctWv: 10,
    ozPerGallonUS: (1000 * gramsPerOunce) / millilitresPerGallonUS,
    lbPerGallonUS: (1000 * gramsPerPound) / millilitresPerGallonUS,
    ozPerQuartUS: (4000 * gramsPerOunce) / millilitresPerGallonUS,
    ozPerGallonImp: (1000 * gramsPerOunce) / millilitresPerGallonImp,
    lbPerGallonImp: (1000 * gramsPerPound) / millilitresPerGallonImp,
  }),
  ...of('liquorRatio', {
    LPerKg: 1,
    mLPerG: 1,
    gallonUSPerLb: millilitresPerGallonUS / gramsPerPound,
    gallonImpPerLb: millilitresPerGallonImp / gramsPerPound,
    quartUSPerLb: millilitresPerGallonUS / 4 / gramsPerPound,
  }),
  degC: { dimension: 'temperature', factor: 1, offset: 0 },
  degF: { dimension: 'temperature', factor: 5 / 9, offset: -32 },
  kelvin: { dimension: 'temperature', factor: 1, offset: -273.15 },
} satisfies Record<string, UnitDefinition>;

export type UnitName = keyof typeof units;

/** Whether a word is the name of a unit here. A rule of our own. */
export function isUnitName(name: string): name is UnitName {
  return Object.hasOwn(units, name);
}

/** Names of the units of one dimension. */
export type UnitOf<D extends Dimension> = {
  [Name in UnitName]: (typeof units)[Name]['dimension'] extends D ? Name : never;
}[UnitName];

/** Every unit of a dimension, in the order of the list above. A rule of our own. */
export function unitsOf<D extends Dimension>(dimension: D): UnitOf<D>[] {
  const isOfIt = (name: UnitName): name is UnitOf<D> => units[name].dimension === dimension;
  return Object.keys(units).filter(isUnitName).filter(isOfIt);
}

/** What kind of quantity a unit measures. Definition. */
export function dimensionOf(unit: UnitName): Dimension {
  return units[unit].dimension;
}

/** A value carried from one unit to another of the same kind. Indirect yarn counts (the number rises as the yarn gets finer)
 *  invert on the way. value ≥ 0 except for temperatures (down to absolute zero); an indirect count is > 0.
 *  Throws CalcError('mismatch', 'to') between unlike kinds: oz per linear yard is no areal mass. Sources: as the factors above. */
export function converted(input: { value: number; from: UnitName; to: UnitName }): number {
  const from: UnitDefinition = units[input.from];
  const to: UnitDefinition = units[input.to];
  if (from.dimension !== to.dimension) {
    throw new CalcError(
      'mismatch',
      'to',
      `${input.from} cannot be turned into ${input.to}: they measure different things`,
    );
  }
  if (from.dimension === 'temperature') finiteIn('value', input.value);
  else finiteIn('value', input.value, from.indirect ? { min: 0, exclusiveMin: true } : { min: 0 });
  const base = from.indirect ? from.factor / input.value : (input.value + (from.offset ?? 0)) * from.factor;
  if (from.dimension === 'temperature') {
    if (base < -273.15 - 1e-9) throw new CalcError('outOfRange', 'value', 'nothing is colder than −273.15 °C');
    return base / to.factor - (to.offset ?? 0);
  }
  if (to.indirect && base === 0) throw new CalcError('outOfRange', 'value', 'a yarn of no mass has no count');
  return finiteIn('value', to.indirect ? to.factor / base : base / to.factor);
}
