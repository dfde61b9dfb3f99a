import { CalcError } from './calcError.ts';
import { converted, type Dimension, dimensionOf, isUnitName, type UnitName, units } from './units.ts';

/** Ways in which a unit is written at the end of a field's name (goodsG, liquorMl, widthIn), beside its own name. Lower case. */
const unitSpellings: Partial<Record<UnitName, string>> = {
  g: 'gram grams',
  kg: 'kilogram kilograms kgs',
  mg: 'milligram milligrams',
  t: 'tonne tonnes',
  oz: 'ounce ounces ozavdp ounceavdp ouncesavdp',
  lb: 'lbs pound pounds lbavdp poundavdp poundsavdp',
  grain: 'grains',
  dram: 'dramavdp drams',
  ozTroy: 'ouncetroy troyounce',
  mm: 'millimetre millimetres',
  cm: 'centimetre centimetres',
  m: 'metre metres meter meters',
  in: 'inch inches',
  ft: 'foot feet',
  yd: 'yard yards yds',
  m2: 'squaremetre squaremetres squaremeter sqm',
  cm2: 'squarecentimetre sqcm',
  yd2: 'squareyard squareyards sqyd',
  ft2: 'squarefoot squarefeet sqft',
  in2: 'squareinch squareinches sqin',
  mL: 'millilitre millilitres milliliter',
  uL: 'microlitre microlitres',
  L: 'litre litres liter liters',
  teaspoonUS: 'tsp tspus teaspoon teaspoons teaspoonsus',
  tablespoonUS: 'tbsp tbspus tablespoon tablespoons tablespoonsus',
  fluidOunceUS: 'floz flozus fluidounce fluidounces',
  cupUS: 'cup cups cupsus uscup uscups',
  pintUS: 'pint pints pintsus uspint pt',
  quartUS: 'quart quarts quartsus usquart qt',
  gallonUS: 'gallon gallons gallonsus usgallon gal galus usgal',
  fluidOunceImp: 'flozimp',
  gallonImp: 'gallonsimp impgallon galimp impgal gallonuk',
  pintImp: 'pintsimp imppint pintuk',
  quartImp: 'quartsimp impquart',
  gPerM2: 'gsm gpersqm gramsperm2',
  kgPerM2: '',
  ozPerYd2: 'ozpersqyd ozpersquareyard ozavdpperyd2',
  ozPerFt2: 'ozpersqft',
  momme: 'mommes',
  NeCotton: 'ne nec cotton cottoncount',
  Nm: 'metric metriccount metresperg mperg',
  worsted: 'new worstedcount neworsted',
  linenLea: 'lea nel',
  yorkshireWoollenSkein: 'yorkshireskein yorkshire',
  woollenRunUS: 'run woollenrun',
  woollenCutUS: 'cut woollencut',
  metresPerKg: 'mperkg metersperkg metreperkg',
  metresPer100G: 'mper100g metersper100g',
  yardsPerLb: 'ydperlb',
  yardsPerOz: 'ydperoz',
  denier: 'den td',
  gPerL: 'gramsperlitre gramsperl gperlitre',
  gPerMl: '',
  pctWv: 'pct percent',
  ozPerGallonUS: 'ozavdppergallonus ozpergal ozpergallon ozpergalus',
  lbPerGallonUS: 'lbavdppergallonus lbpergal lbpergallon lbpergalus',
  ozPerQuartUS: 'ozavdpperquartus ozperquart',
  ozPerGallonImp: 'ozavdppergallonimp ozpergalimp',
  lbPerGallonImp: 'lbavdppergallonimp lbpergalimp',
  LPerKg: '',
  degC: 'c tempc celsius',
  degF: 'f tempf fahrenheit',
  kelvin: 'k tempk',
};

const unitsBySpelling: ReadonlyMap<Dimension, ReadonlyMap<string, UnitName>> = (() => {
  const byDimension = new Map<Dimension, Map<string, UnitName>>();
  for (const name of Object.keys(units)) {
    if (!isUnitName(name)) continue;
    const dimension = dimensionOf(name);
    const spellings = byDimension.get(dimension) ?? new Map<string, UnitName>();
    byDimension.set(dimension, spellings);
    for (const spelling of [name.toLowerCase(), ...(unitSpellings[name] ?? '').split(' ')]) {
      if (spelling !== '') spellings.set(spelling, name);
    }
  }
  return byDimension;
})();

/** Unit of a dimension by any of its spellings ("ounceAvdp", "oz/yd2", "NeL"); undefined when it is none. */
export function unitSpelled(dimension: Dimension, spelling: string): UnitName | undefined {
  const plain = spelling
    .toLowerCase()
    .replace(/\//g, 'per')
    .replace(/[²\s_^]/g, (c) => (c === '²' ? '2' : ''));
  return unitsBySpelling.get(dimension)?.get(plain);
}

export interface FoundQuantity {
  readonly field: string;
  readonly unit: UnitName;
  /** As given, in `unit`. */
  readonly value: number;
}

/** Named inputs of one calculation, as they come from JSON. Every field that is looked at counts as known; `refuseUnknown` refuses the
 *  others, so that a factor that a calculation does not have is never dropped silently. */
export interface TopicInputs {
  number(...names: string[]): number;
  optionalNumber(...names: string[]): number | undefined;
  numbers(...names: string[]): number[];
  optionalNumbers(...names: string[]): number[] | undefined;
  optionalWord(...names: string[]): string | undefined;
  /** A field named prefix + unit; the empty prefix takes the bare unit. */
  quantity(dimension: Dimension, ...prefixes: string[]): FoundQuantity;
  optionalQuantity(dimension: Dimension, ...prefixes: string[]): FoundQuantity | undefined;
  quantityIn(unit: UnitName, ...prefixes: string[]): number;
  optionalQuantityIn(unit: UnitName, ...prefixes: string[]): number | undefined;
  optionalQuantitiesIn(unit: UnitName, ...prefixes: string[]): { values: number[]; unit: UnitName } | undefined;
  /** All fields whose name matches. */
  matching(pattern: RegExp): { field: string; match: RegExpExecArray; value: number }[];
  raw(...names: string[]): unknown;
  refuseUnknown(): void;
}

export function topicInputs(given: Readonly<Record<string, unknown>>): TopicInputs {
  const known = new Set<string>();
  const fieldOf = (names: readonly string[]): string | undefined => {
    const wanted = new Set(names.map((name) => name.toLowerCase()));
    const fields = Object.keys(given).filter((field) => wanted.has(field.toLowerCase()));
    for (const field of fields) known.add(field);
    if (fields.length > 1)
      throw new CalcError('mismatch', fields[1] ?? '', `${fields.join(' and ')} say the same thing: give one`);
    return fields[0];
  };
  const unitField = (
    dimension: Dimension,
    prefixes: readonly string[],
  ): { field: string; unit: UnitName } | undefined => {
    const spellings = unitsBySpelling.get(dimension) ?? new Map<string, UnitName>();
    const found: { field: string; unit: UnitName }[] = [];
    for (const field of Object.keys(given)) {
      for (const prefix of prefixes) {
        const lower = field.toLowerCase();
        if (!lower.startsWith(prefix.toLowerCase())) continue;
        const unit = spellings.get(lower.slice(prefix.length));
        if (unit === undefined) continue;
        known.add(field);
        found.push({ field, unit });
        break;
      }
    }
    const [first, second] = found;
    if (second !== undefined) {
      throw new CalcError(
        'mismatch',
        second.field,
        `${found.map(({ field }) => field).join(' and ')} say the same thing: give one`,
      );
    }
    return first;
  };
  const missing = (names: readonly string[]): CalcError =>
    new CalcError('missing', names[0] ?? '', `${names[0] ?? 'an input'} is needed`);

  const inputs: TopicInputs = {
    optionalNumber(...names) {
      const field = fieldOf(names);
      return field === undefined ? undefined : numberIn(field, given[field]);
    },
    number(...names) {
      const value = inputs.optionalNumber(...names);
      if (value === undefined) throw missing(names);
      return value;
    },
    optionalNumbers(...names) {
      const field = fieldOf(names);
      return field === undefined ? undefined : numbersIn(field, given[field]);
    },
    numbers(...names) {
      const values = inputs.optionalNumbers(...names);
      if (values === undefined) throw missing(names);
      return values;
    },
    optionalWord(...names) {
      const field = fieldOf(names);
      if (field === undefined) return undefined;
      const value = given[field];
      if (typeof value !== 'string' && typeof value !== 'number') {
        throw new CalcError('unreadable', field, `${field} must be a word`);
      }
      return String(value).trim();
    },
    optionalQuantity(dimension, ...prefixes) {
      const found = unitField(dimension, prefixes);
      return found === undefined ? undefined : { ...found, value: numberIn(found.field, given[found.field]) };
    },
    quantity(dimension, ...prefixes) {
      const found = inputs.optionalQuantity(dimension, ...prefixes);
      if (found !== undefined) return found;
      const [prefix = ''] = prefixes;
      const suffix = exampleSuffix[dimension];
      throw missing([prefix === '' ? suffix.charAt(0).toLowerCase() + suffix.slice(1) : prefix + suffix]);
    },
    optionalQuantityIn(unit, ...prefixes) {
      const found = inputs.optionalQuantity(dimensionOf(unit), ...prefixes);
      return found === undefined ? undefined : convertedField(found, unit);
    },
    quantityIn(unit, ...prefixes) {
      return convertedField(inputs.quantity(dimensionOf(unit), ...prefixes), unit);
    },
    optionalQuantitiesIn(unit, ...prefixes) {
      const found = unitField(dimensionOf(unit), prefixes);
      if (found === undefined) return undefined;
      const values = numbersIn(found.field, given[found.field]).map((value) =>
        convertedField({ ...found, value }, unit),
      );
      return { values, unit: found.unit };
    },
    matching(pattern) {
      return Object.keys(given).flatMap((field) => {
        const match = pattern.exec(field);
        if (match === null) return [];
        known.add(field);
        return [{ field, match, value: numberIn(field, given[field]) }];
      });
    },
    raw(...names) {
      const field = fieldOf(names);
      return field === undefined ? undefined : given[field];
    },
    refuseUnknown() {
      const unknown = Object.keys(given).find((field) => !known.has(field));
      if (unknown !== undefined) {
        throw new CalcError(
          'unreadable',
          unknown,
          `${unknown} is not an input of this calculation, or not beside the others given`,
        );
      }
    },
  };
  return inputs;
}

const exampleSuffix: Readonly<Record<Dimension, string>> = {
  mass: 'G',
  length: 'M',
  area: 'M2',
  volume: 'Ml',
  arealMass: 'GPerM2',
  linearDensity: 'Tex',
  conc: 'GPerL',
  temperature: 'C',
  liquorRatio: 'LPerKg',
};

/** A found quantity in another unit; an error names the field that it came from. */
export function convertedField(found: FoundQuantity, to: UnitName): number {
  if (found.unit === to) return found.value;
  try {
    return converted({ value: found.value, from: found.unit, to });
  } catch (error) {
    if (error instanceof CalcError) throw new CalcError(error.code, found.field, error.message);
    throw error;
  }
}

function numberIn(field: string, value: unknown): number {
  const read = typeof value === 'string' && value.trim() !== '' ? Number(value) : value;
  if (typeof read !== 'number' || !Number.isFinite(read))
    throw new CalcError('notFinite', field, `${field} must be a number`);
  return read;
}

function numbersIn(field: string, value: unknown): number[] {
  if (!Array.isArray(value) || value.length === 0) {
    throw new CalcError('unreadable', field, `${field} must be a list of numbers`);
  }
  return value.map((one) => numberIn(field, one));
}
