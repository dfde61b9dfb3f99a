import {
  auxiliaryStockVolumeMl,
  concGPerLOfOwg,
  exhaustionPct,
  hydrateFactor,
  hydrateForms,
  liquorRatioLPerKg,
  liquorRatioLPerKgOfConc,
  liquorVolumeMl,
  makeUpWaterMl,
  owgPctOfConc,
  owgPctOfRatePerPound,
  scoopMassG,
  soakConcGPerL,
  sodaAshBulkDensitiesKgPerM3,
} from './bath.ts';
import { CalcError } from './calcError.ts';
import { deltaE2000, deltaECmc, type Lab } from './colour/deltaE.ts';
import { greyScaleBand } from './colour/tolerance.ts';
import { fifoIssue, movingAverageUnitCost, overheadRate } from './cost.ts';
import { componentMassesG, depthPctOfMass, dyeMassG } from './dyeMass.ts';
import {
  arealMassGPerM2AfterWash,
  arealMassGPerM2OfLinearYard,
  blendRegainPct,
  blendRegainPctOfConditioned,
  clothMassG,
  conditionedMassG,
  contentPctOfRegain,
  cutLengthM,
  finishedLengthM,
  goodsDryMassGOfDamp,
  goodsDryMassGOfDriedSample,
  ovenDryMassGOfContent,
  ovenDryMassGOfRegain,
  regainPctOfContent,
  resultantTex,
  shrinkagePct,
  yarnLengthM,
  yarnMassG,
} from './goods.ts';
import { dilution, stockMassG, stockVolumeMl, stockVolumeMlOfMass } from './stockSolution.ts';
import { convertedField, type FoundQuantity, type TopicInputs, topicInputs, unitSpelled } from './topicInputs.ts';
import { converted, type Dimension, gramsPerOunce, type UnitName, units } from './units.ts';
import { minimumMassMg, overWeighFactor } from './weighing.ts';

/** The single calculations by name, for scripts: each takes named numbers whose names end in their unit (goodsG, goodsLb, liquorL)
 *  and picks its direction by which of them are given. Formulas and sources stand with the functions that are called. */
export interface CalcTopic {
  readonly summary: string;
  /** Unit of the value, or the units it can have. */
  readonly unit: string;
  readonly inputs: string;
  readonly run: (inputs: Readonly<Record<string, unknown>>) => TopicAnswer;
}

export interface TopicAnswer {
  readonly value: number | number[];
  readonly unit: string;
}

/** How units are written in answers. */
const unitSigns: Partial<Record<UnitName, string>> = {
  gPerM2: 'g/m2',
  kgPerM2: 'kg/m2',
  ozPerYd2: 'oz/yd2',
  ozPerFt2: 'oz/ft2',
  lbPerYd2: 'lb/yd2',
  NeCotton: 'Ne',
  worsted: 'NeW',
  linenLea: 'NeL',
  yorkshireWoollenSkein: 'Yorkshire skein',
  woollenRunUS: 'run',
  woollenCutUS: 'cut',
  metresPerKg: 'm/kg',
  metresPer100G: 'm/100 g',
  yardsPerLb: 'yd/lb',
  yardsPerOz: 'yd/oz',
  gPerM: 'g/m',
  gPerKm: 'g/km',
  gPerL: 'g/L',
  mgPerL: 'mg/L',
  gPerMl: 'g/mL',
  kgPerM3: 'kg/m3',
  pctWv: '% w/v',
  ozPerGallonUS: 'oz/gal (US)',
  lbPerGallonUS: 'lb/gal (US)',
  ozPerQuartUS: 'oz/qt (US)',
  ozPerGallonImp: 'oz/gal (imp)',
  lbPerGallonImp: 'lb/gal (imp)',
  fluidOunceUS: 'fl oz (US)',
  fluidOunceImp: 'fl oz (imp)',
  cupUS: 'cup (US)',
  gallonUS: 'gal (US)',
  gallonImp: 'gal (imp)',
  LPerKg: 'L/kg',
};
const signOf = (unit: UnitName): string => unitSigns[unit] ?? unit;

const goodsNames = [
  'goods',
  'goodsMass',
  'goodsDryMass',
  'goodsDry',
  'dryGoods',
  'wog',
  'fibre',
  'fiber',
  'fabric',
  'cloth',
  'yarn',
];
const goodsG = (inputs: TopicInputs): number => inputs.quantityIn('g', ...goodsNames);
const liquorRatio = (inputs: TopicInputs): number | undefined =>
  inputs.optionalNumber('liquorRatio', 'liquorRatioLPerKg', 'LR', 'MLR', 'lPerKg', 'mlPerG') ??
  inputs.optionalQuantityIn('LPerKg', 'liquorRatio', '');
const owgNames = ['pctOwg', 'owgPct', 'depthPct', 'pctOwf', 'owfPct', 'pct'];
const stockPct = (inputs: TopicInputs): number | undefined =>
  inputs.optionalQuantityIn('pctWv', 'stock', 'stockStrength', 'stockConc', 'solution');

function demanded<T>(value: T | undefined, field: string): T {
  if (value === undefined) throw new CalcError('missing', field, `${field} is needed`);
  return value;
}

/** Liquor stated, or of goods and liquor ratio. */
function liquorMl(inputs: TopicInputs): number {
  const stated = inputs.optionalQuantityIn('mL', 'liquor', 'liquorVolume', 'bath', 'bathVolume', 'volume', 'water');
  if (stated !== undefined) return stated;
  return liquorVolumeMl({
    goodsDryMassG: goodsG(inputs),
    liquorRatioLPerKg: demanded(liquorRatio(inputs), 'liquorRatio'),
  });
}

/** `to` of the inputs as a unit of the dimension. */
function toUnit(inputs: TopicInputs, dimension: Dimension): UnitName | undefined {
  const word = inputs.optionalWord('to', 'toUnit');
  if (word === undefined) return undefined;
  const unit = unitSpelled(dimension, word);
  if (unit === undefined) throw new CalcError('unreadable', 'to', `"${word}" is not a unit that this can be given in`);
  return unit;
}

/** Mass in g, given back in `to` or in the unit chosen for it. */
function massAnswer(inputs: TopicInputs, massG: number, unit: UnitName = 'g'): TopicAnswer {
  const to = toUnit(inputs, 'mass') ?? unit;
  return { value: converted({ value: massG, from: 'g', to }), unit: signOf(to) };
}

/** One unit into another: `to` where it is said, else the usual partner. */
function unitTopic(input: {
  dimension: Dimension;
  summary: string;
  unit: string;
  inputs: string;
  partner: (from: UnitName) => UnitName;
}): CalcTopic {
  return topic(input.summary, input.unit, input.inputs, (inputs) => {
    const found = inputs.quantity(input.dimension, '');
    const to = toUnit(inputs, input.dimension) ?? input.partner(found.unit);
    return { value: convertedField(found, to), unit: signOf(to) };
  });
}

function topic(summary: string, unit: string, inputs: string, run: (inputs: TopicInputs) => TopicAnswer): CalcTopic {
  return {
    summary,
    unit,
    inputs,
    run: (given) => {
      const read = topicInputs(given);
      const answer = run(read);
      read.refuseUnknown();
      const values = Array.isArray(answer.value) ? answer.value : [answer.value];
      if (!values.every(Number.isFinite))
        throw new CalcError('outOfRange', '', 'the numbers are too large or too small');
      return answer;
    },
  };
}

/** Resultant tex of a count, single or plied: Nm, NeCotton, tex…; with `ply`, the count is that of the single. */
function yarnTex(inputs: TopicInputs): number {
  const single = inputs.optionalQuantity('linearDensity', '') ?? singleCount(inputs);
  const { value, unit } = demanded(single, 'tex');
  return resultantTex({ system: unit, singleCount: value, plies: inputs.optionalNumber('ply', 'plies') ?? 1 });
}

function singleCount(inputs: TopicInputs): { value: number; unit: UnitName } | undefined {
  const [found] = inputs.matching(/^(.+?)Single$/i);
  const unit = unitSpelled('linearDensity', found?.match[1] ?? '');
  return found === undefined || unit === undefined ? undefined : { value: found.value, unit };
}

/** Bulk density of a powder, or the two ends of a soda-ash grade's range. */
function bulkDensities(inputs: TopicInputs): (number | undefined)[] {
  const perM3 = inputs.optionalNumber('bulkDensityKgPerM3', 'bulkDensityGPerL', 'bulkDensity', 'densityKgPerM3');
  if (perM3 !== undefined) return [perM3];
  const perMl = inputs.optionalNumber('bulkDensityGPerMl', 'bulkDensityGPerCm3', 'densityGPerMl');
  if (perMl !== undefined) return [perMl * 1000];
  const grade = inputs.optionalWord('grade')?.toLowerCase();
  if (grade === undefined) return [undefined];
  if (grade !== 'light' && grade !== 'dense') {
    throw new CalcError(
      'notKnown',
      'grade',
      'grades of soda ash are light and dense; for another powder give its bulk density',
    );
  }
  const { low, high } = sodaAshBulkDensitiesKgPerM3[grade];
  return [low, high];
}

const oneOrMore = (values: number[]): number | number[] => (values.length === 1 ? (values[0] ?? Number.NaN) : values);

function labIn(inputs: TopicInputs, ...names: string[]): Lab {
  const [L, a, b, ...more] = inputs.numbers(...names);
  if (L === undefined || a === undefined || b === undefined || more.length > 0) {
    throw new CalcError('unreadable', names[0] ?? 'lab', `${names[0]} must be three numbers: L*, a*, b*`);
  }
  return { L, a, b };
}

/** Mass per running length, in g per metre: ozPerLinearYard, gPerLinearMetre… */
function linearMassGPerM(inputs: TopicInputs): number | undefined {
  const oz = inputs.optionalNumber('ozPerLinearYard', 'ozPerLinearYd', 'ozPerRunningYard', 'ozPerYard', 'ozPerYd');
  if (oz !== undefined) return arealMassGPerM2OfLinearYard({ ozPerLinearYd: oz, widthM: 1 });
  return inputs.optionalNumber('gPerLinearMetre', 'gPerLinearMeter', 'gPerLinearM', 'gPerRunningMetre', 'gPerM');
}

const ozPerLinearYdOf = (gPerM: number): number => (gPerM * units.yd.factor) / gramsPerOunce;
const widthNames = ['width', 'clothWidth', 'fabricWidth'];

export const calcTopics = {
  'unit-areal': unitTopic({
    dimension: 'arealMass',
    summary: 'Areal mass from one unit to another',
    unit: 'g/m2, or oz/yd2 from g/m2',
    inputs: 'one of ozPerYd2, gPerM2, momme, ozPerFt2, lbPerYd2, kgPerM2; to (optional)',
    partner: (from) => (from === 'gPerM2' ? 'ozPerYd2' : 'gPerM2'),
  }),
  'unit-volume': unitTopic({
    dimension: 'volume',
    summary: 'Volume from one unit to another',
    unit: 'mL; L from gallons; fl oz (US) from mL; gal (US) from L',
    inputs:
      'one of gallonUS, quartUS, pintUS, cupUS, fluidOunceUS, tablespoonUS, teaspoonUS, gallonImp, quartImp, pintImp, fluidOunceImp, mL, L…; to (optional)',
    partner: (from) =>
      from === 'gallonUS' || from === 'gallonImp'
        ? 'L'
        : from === 'mL'
          ? 'fluidOunceUS'
          : from === 'L'
            ? 'gallonUS'
            : 'mL',
  }),
  'unit-mass': unitTopic({
    dimension: 'mass',
    summary: 'Mass from one unit to another (avoirdupois)',
    unit: 'g; oz from g; lb from kg',
    inputs: 'one of ounceAvdp, poundAvdp, grain, g, kg, mg…; to (optional)',
    partner: (from) => (from === 'g' ? 'oz' : from === 'kg' ? 'lb' : 'g'),
  }),
  'unit-length': unitTopic({
    dimension: 'length',
    summary: 'Length from one unit to another',
    unit: 'm; cm from inches; yd from m; in from cm',
    inputs: 'one of yard, foot, inch, m, cm, mm; to (optional)',
    partner: (from) => (from === 'in' ? 'cm' : from === 'm' ? 'yd' : from === 'cm' || from === 'mm' ? 'in' : 'm'),
  }),
  'unit-area': unitTopic({
    dimension: 'area',
    summary: 'Area from one unit to another',
    unit: 'm2; cm2 from square inches; yd2 from m2',
    inputs: 'one of squareYard, squareFoot, squareInch, m2, cm2; to (optional)',
    partner: (from) => (from === 'in2' ? 'cm2' : from === 'm2' ? 'yd2' : 'm2'),
  }),
  'unit-conc': unitTopic({
    dimension: 'conc',
    summary: 'Concentration from one unit to another',
    unit: 'g/L, or oz/gal (US) from g/L',
    inputs: 'one of ozAvdpPerGallonUS, lbPerGallonUS, ozPerGallonImp, lbPerGallonImp, pct (w/v), gPerL; to (optional)',
    partner: (from) => (from === 'gPerL' ? 'ozPerGallonUS' : 'gPerL'),
  }),
  'unit-temp': unitTopic({
    dimension: 'temperature',
    summary: 'Temperature from one scale to the other',
    unit: 'degC, or degF from degC',
    inputs: 'one of degF, degC, kelvin; to (optional)',
    partner: (from) => (from === 'degC' ? 'degF' : 'degC'),
  }),
  'unit-lineardensity': unitTopic({
    dimension: 'linearDensity',
    summary: 'Linear density from one unit to another',
    unit: 'tex, or denier from tex',
    inputs: 'one of denier, tex, dtex, ktex, or a yarn count; to (optional)',
    partner: (from) => (from === 'tex' ? 'denier' : 'tex'),
  }),
  'silk-weight': unitTopic({
    dimension: 'arealMass',
    summary: 'Silk weight: momme to g/m² and back',
    unit: 'g/m2, or momme from an areal mass',
    inputs: 'one of momme, gPerM2, ozPerYd2; to (optional)',
    partner: (from) => (from === 'momme' ? 'gPerM2' : 'momme'),
  }),
  'yarn-count': topic(
    'Yarn count from one system to another, single or plied',
    'as `to` says: tex, denier, Ne, Nm, NeW, NeL, m/kg…',
    'one of NeCotton, Nm, worsted, linenLea, yorkshireWoollenSkein, woollenRunUS, woollenCutUS, denier, tex, dtex, metresPerKg, yardsPerLb (or the same + Single, with ply); to (tex when left out)',
    (inputs) => {
      const to = toUnit(inputs, 'linearDensity') ?? 'tex';
      return { value: converted({ value: yarnTex(inputs), from: 'tex', to }), unit: signOf(to) };
    },
  ),
  'yarn-length': topic(
    'Length of a skein from its mass and count, or mass from length',
    'm; g from a length',
    'massG (or Kg, Oz, Lb) or lengthM (or Yd…), and a yarn count as in yarn-count; to (optional)',
    (inputs) => {
      const tex = yarnTex(inputs);
      const lengthM = inputs.optionalQuantityIn('m', 'length', 'skeinLength', 'yarnLength');
      if (lengthM !== undefined) return massAnswer(inputs, yarnMassG({ lengthM, tex }));
      const massG = inputs.quantityIn('g', 'mass', 'skein', 'skeinMass', 'yarnMass', ...goodsNames);
      const to = toUnit(inputs, 'length') ?? 'm';
      return { value: converted({ value: yarnLengthM({ massG, tex }), from: 'm', to }), unit: signOf(to) };
    },
  ),
  'regain-blend': topic(
    'Regain of a blend, mixed on oven-dry mass',
    '%',
    '<fibre>Pct and <fibre>Regain for each fibre; basis "conditioned" when the percentages are of conditioned mass',
    (inputs) => {
      const basis = inputs.optionalWord('basis');
      const regains = new Map(
        inputs.matching(/^(.+?)Regain(?:Pct)?$/i).map(({ match, value }) => [match[1]?.toLowerCase() ?? '', value]),
      );
      const parts = inputs.matching(/^(?!.*Regain)(.+?)Pct$/i).map(({ field, match, value }) => {
        const regainPct = regains.get(match[1]?.toLowerCase() ?? '');
        return { pct: value, regainPct: demanded(regainPct, `${field.slice(0, -3)}Regain`) };
      });
      if (regains.size > parts.length)
        throw new CalcError('missing', 'pct', 'each fibre needs its Pct beside its Regain');
      if (basis !== undefined && basis !== 'dry' && basis !== 'conditioned') {
        throw new CalcError('unreadable', 'basis', 'basis is dry or conditioned');
      }
      const value =
        basis === 'conditioned'
          ? blendRegainPctOfConditioned({
              parts: parts.map(({ pct, regainPct }) => ({ conditionedPct: pct, regainPct })),
            })
          : blendRegainPct({ parts: parts.map(({ pct, regainPct }) => ({ dryPct: pct, regainPct })) });
      return { value, unit: '%' };
    },
  ),
  'moisture-content-to-dry': topic(
    'Oven-dry mass of goods from their moisture content, or from their regain',
    'as given: kg, g, lb…',
    'massKg (or G, Lb…) and moistureContentPct or regainPct',
    (inputs) => {
      const mass = inputs.quantity('mass', 'mass', 'wetMass', 'dampMass', 'grossMass', ...goodsNames, '');
      const massG = convertedField(mass, 'g');
      const contentPct = inputs.optionalNumber('moistureContentPct', 'contentPct', 'moisturePct');
      const dryG =
        contentPct === undefined
          ? ovenDryMassGOfRegain({ massG, regainPct: inputs.number('regainPct') })
          : ovenDryMassGOfContent({ massG, contentPct });
      return massAnswer(inputs, dryG, mass.unit);
    },
  ),
  'regain-to-content': topic(
    'Moisture content from regain, or regain from content',
    '%',
    'regainPct, or contentPct (moistureContentPct)',
    (inputs) => {
      const contentPct = inputs.optionalNumber('contentPct', 'moistureContentPct');
      if (contentPct !== undefined) return { value: regainPctOfContent({ contentPct }), unit: '%' };
      return { value: contentPctOfRegain({ regainPct: inputs.number('regainPct', 'regain') }), unit: '%' };
    },
  ),
  'conditioned-mass': topic(
    'Conditioned (commercial) mass from oven-dry mass, or oven-dry from conditioned',
    'as given: g, kg, lb…',
    'ovenDryG (or Kg, Lb…) or conditionedG, and regainPct (or moistureContentPct)',
    (inputs) => {
      const regainGiven = inputs.optionalNumber('regainPct', 'commercialRegainPct', 'targetRegainPct');
      const contentPct = inputs.optionalNumber('moistureContentPct', 'contentPct');
      const regainPct = regainGiven ?? regainPctOfContent({ contentPct: demanded(contentPct, 'regainPct') });
      const conditioned = inputs.optionalQuantity('mass', 'conditioned', 'conditionedMass', 'commercialMass');
      if (conditioned !== undefined) {
        const massG = convertedField(conditioned, 'g');
        return massAnswer(inputs, ovenDryMassGOfRegain({ massG, regainPct }), conditioned.unit);
      }
      const dry = inputs.quantity('mass', 'ovenDry', 'ovenDryMass', 'dryMass', 'dry');
      const ovenDryMassG = convertedField(dry, 'g');
      return massAnswer(inputs, conditionedMassG({ ovenDryMassG, regainPct }), dry.unit);
    },
  ),
  'damp-goods': topic(
    'What damp goods count as at a chosen regain',
    'as the damp mass: g, kg, lb…',
    'dampMassG (or Kg, Lb…), targetRegainPct, and one of: ovenDryG held by the whole; actualRegainPct; moistureContentPct; sampleDampG with sampleDryG (oven-dry, or sampleDriedTo "airDry")',
    (inputs) => {
      const damp = inputs.optionalQuantity('mass', 'dampMass', 'damp', 'wetMass', 'wet');
      const whole = inputs.optionalQuantity('mass', 'ovenDry', 'ovenDryMass', 'dryMass');
      const unit = damp?.unit ?? whole?.unit ?? 'g';
      const toG = (found: FoundQuantity | undefined, field: string) => convertedField(demanded(found, field), 'g');
      const sampleDampMassG = inputs.optionalQuantityIn('g', 'sampleDamp', 'sampleDampMass', 'sampleWet');
      const driedTo = inputs.optionalWord('sampleDriedTo');
      const targetPct = inputs.optionalNumber('targetRegainPct', 'regainPct', 'commercialRegainPct');
      if (sampleDampMassG !== undefined) {
        if (driedTo !== undefined && driedTo !== 'airDry' && driedTo !== 'ovenDry') {
          throw new CalcError('unreadable', 'sampleDriedTo', 'sampleDriedTo is ovenDry or airDry');
        }
        const massG = goodsDryMassGOfDriedSample({
          dampMassG: toG(damp, 'dampMassG'),
          sampleDampMassG,
          sampleDryMassG: inputs.quantityIn('g', 'sampleDry', 'sampleDryMass', 'sampleOvenDry'),
          sampleDriedTo: driedTo ?? 'ovenDry',
          regainPct: driedTo === 'airDry' ? (targetPct ?? 0) : demanded(targetPct, 'targetRegainPct'),
        });
        return massAnswer(inputs, massG, unit);
      }
      const regainPct = demanded(targetPct, 'targetRegainPct');
      if (whole !== undefined) {
        const ovenDryMassG = toG(whole, 'ovenDryG');
        if (damp !== undefined && toG(damp, 'dampMassG') < ovenDryMassG) {
          throw new CalcError('mismatch', whole.field, 'goods cannot weigh more dry than damp');
        }
        return massAnswer(inputs, conditionedMassG({ ovenDryMassG, regainPct }), unit);
      }
      const contentPct = inputs.optionalNumber(
        'moistureContentPct',
        'actualMoistureContentPct',
        'actualContentPct',
        'contentPct',
      );
      const actualRegainPct =
        contentPct === undefined
          ? inputs.number('actualRegainPct', 'measuredRegainPct', 'dampRegainPct')
          : regainPctOfContent({ contentPct });
      return massAnswer(
        inputs,
        goodsDryMassGOfDamp({ dampMassG: toG(damp, 'dampMassG'), actualRegainPct, regainPct }),
        unit,
      );
    },
  ),
  'dye-mass': topic(
    'Dye powder to weigh for one component',
    'g',
    'goodsG (or Kg, Lb, Oz…), depthPct; optional sharePct, coverageFactor or coveragePct, lossFactor or lossPct, uptakeFactor, strengthPct of the lot (standardStrengthPct 100 when left out); to (optional)',
    (inputs) => {
      const lossPct = inputs.optionalNumber('lossPct');
      const coveragePct = inputs.optionalNumber('coveragePct', 'areaSharePct');
      const lotStrengthPct = inputs.optionalNumber('strengthPct', 'lotStrengthPct', 'dyeStrengthPct') ?? 100;
      const standardStrengthPct = inputs.optionalNumber('standardStrengthPct', 'stdStrengthPct') ?? 100;
      const massG = dyeMassG({
        goodsDryMassG: goodsG(inputs),
        depthPct: inputs.number('depthPct', 'depth', 'pctOwg', 'owgPct', 'depthPctOwg'),
        sharePct: inputs.optionalNumber('sharePct') ?? 100,
        coverageFactor:
          inputs.optionalNumber('coverageFactor', 'coverage') ?? (coveragePct === undefined ? 1 : coveragePct / 100),
        lossFactor: inputs.optionalNumber('lossFactor', 'loss') ?? (lossPct === undefined ? 0 : lossPct / 100),
        uptakeFactor: inputs.optionalNumber('uptakeFactor', 'uptake') ?? 1,
        strengthPct: (100 * lotStrengthPct) / standardStrengthPct,
      });
      return massAnswer(inputs, massG);
    },
  ),
  'depth-from-mass': topic(
    'Depth from a mass of dye',
    '%',
    'dyeG (or Kg, Mg, Oz…) and goodsG (or Kg, Lb…)',
    (inputs) => ({
      value: depthPctOfMass({
        dyeMassG: inputs.quantityIn('g', 'dye', 'dyeMass', 'dyePowder'),
        goodsDryMassG: goodsG(inputs),
      }),
      unit: '%',
    }),
  ),
  'component-split': topic(
    'Masses of the components of a shade',
    'g',
    'goodsG (or Kg, Lb…) and either totalDepthPct with a list sharePct, or a list depthPct of own depths',
    (inputs) => {
      const goodsDryMassG = goodsG(inputs);
      const shares = inputs.optionalNumbers('sharePct', 'sharesPct', 'shares');
      const masses =
        shares === undefined
          ? inputs
              .numbers('depthPct', 'depthsPct', 'ownDepthPct', 'ownDepthsPct')
              .map((depthPct) => dyeMassOfDepth(goodsDryMassG, depthPct))
          : componentMassesG({
              goodsDryMassG,
              depthPct: inputs.number('totalDepthPct', 'depthPct'),
              sharesPct: shares,
            });
      const to = toUnit(inputs, 'mass') ?? 'g';
      return { value: masses.map((massG) => converted({ value: massG, from: 'g', to })), unit: signOf(to) };
    },
  ),
  'stock-volume': topic(
    'Stock solution that brings a depth, or that holds a mass of dye',
    'mL',
    'goodsG (or Kg, Lb…) with depthPct, or dyeG; and stockPct (% w/v) or stockGPerL; or volumeMl to make of a stock, which gives the powder in g; to (optional)',
    stockVolume,
  ),
  'stock-volume-gPerL': topic(
    'Stock solution stated in g/L that brings a percentage on weight of goods',
    'mL',
    'goodsG (or Kg, Lb…) with depthPct or pctOwg, or dyeG; and stockGPerL (or stockPct); to (optional)',
    stockVolume,
  ),
  dilution: topic(
    'C₁V₁ = C₂V₂: the one of the four that is left out',
    'the volume unit given, or %',
    'three of C1pct, V1mL, C2pct, V2mL (or C1GPerL, V2L…)',
    (inputs) => {
      const c1 = inputs.optionalQuantity('conc', 'C1');
      const c2 = inputs.optionalQuantity('conc', 'C2');
      const v1 = inputs.optionalQuantity('volume', 'V1');
      const v2 = inputs.optionalQuantity('volume', 'V2');
      const conc = (found: FoundQuantity | undefined) => convertedField(demanded(found, 'C1pct'), 'pctWv');
      const volume = (found: FoundQuantity | undefined) => convertedField(demanded(found, 'V2mL'), 'mL');
      const missing = [c1, v1, c2, v2].filter((found) => found === undefined).length;
      if (missing !== 1) throw new CalcError('missing', 'C1pct', 'give three of C1, V1, C2, V2');
      const [volumeUnit, concUnit] = [v1?.unit ?? v2?.unit ?? 'mL', c1?.unit ?? c2?.unit ?? 'pctWv'];
      const volumeAnswer = (volumeMl: number) => ({
        value: converted({ value: volumeMl, from: 'mL', to: volumeUnit }),
        unit: signOf(volumeUnit),
      });
      const concAnswer = (pct: number) => ({
        value: converted({ value: pct, from: 'pctWv', to: concUnit }),
        unit: concUnit === 'pctWv' ? '%' : signOf(concUnit),
      });
      if (v1 === undefined) {
        const { stockMl } = dilution({ fromStrengthPct: conc(c1), toStrengthPct: conc(c2), toVolumeMl: volume(v2) });
        return volumeAnswer(stockMl);
      }
      if (v2 === undefined) {
        const per = dilution({ fromStrengthPct: conc(c1), toStrengthPct: conc(c2), toVolumeMl: 1 });
        return volumeAnswer(volume(v1) / per.stockMl);
      }
      const volumeRatio = volume(v1) / volume(v2);
      if (!(volumeRatio > 0 && volumeRatio <= 1)) {
        throw new CalcError('mismatch', v1.field, 'the volume drawn must be more than 0 and at most the volume made');
      }
      return concAnswer(c2 === undefined ? conc(c1) * volumeRatio : conc(c2) / volumeRatio);
    },
  ),
  'liquor-volume': topic(
    'Liquor for goods at a liquor ratio',
    'mL from g or mg of goods, else L',
    'goodsG (or Kg, Lb…) and liquorRatio (L/kg); to (optional)',
    (inputs) => {
      const goods = inputs.quantity('mass', ...goodsNames);
      const volumeMl = liquorVolumeMl({
        goodsDryMassG: convertedField(goods, 'g'),
        liquorRatioLPerKg: demanded(liquorRatio(inputs), 'liquorRatio'),
      });
      const to = toUnit(inputs, 'volume') ?? (goods.unit === 'g' || goods.unit === 'mg' ? 'mL' : 'L');
      return { value: converted({ value: volumeMl, from: 'mL', to }), unit: signOf(to) };
    },
  ),
  'liquor-ratio': topic(
    'Liquor ratio from volume and goods, or from a depth and its concentration',
    'L/kg',
    'liquorL (or Ml, Gallon…) and goodsKg (or G, Lb…); or depthPct and dyeGPerL; or gallonUSPerLb, quartUSPerLb',
    (inputs) => {
      const stated = inputs.optionalQuantityIn('LPerKg', '', 'liquorRatio');
      if (stated !== undefined) return { value: stated, unit: 'L/kg' };
      const concGPerL = inputs.optionalQuantityIn('gPerL', 'dye', 'dyeConc', '');
      if (concGPerL !== undefined) {
        return { value: liquorRatioLPerKgOfConc({ depthPct: inputs.number(...owgNames), concGPerL }), unit: 'L/kg' };
      }
      const volumeMl = inputs.quantityIn('mL', 'liquor', 'liquorVolume', 'bath', 'volume', 'water');
      return { value: liquorRatioLPerKg({ liquorVolumeMl: volumeMl, goodsDryMassG: goodsG(inputs) }), unit: 'L/kg' };
    },
  ),
  'gPerL-to-owg': topic(
    'g/L of bath to % on weight of goods, or the other way',
    '% owg; g/L from pctOwg',
    'gPerL or pctOwg, and liquorRatio (L/kg) or liquor and goods',
    (inputs) => {
      const owgPct = inputs.optionalNumber(...owgNames);
      const concGPerL = owgPct === undefined ? inputs.quantityIn('gPerL', '', 'conc') : undefined;
      const ratio =
        liquorRatio(inputs) ??
        liquorRatioLPerKg({
          liquorVolumeMl: inputs.quantityIn('mL', 'liquor', 'liquorVolume', 'bath'),
          goodsDryMassG: goodsG(inputs),
        });
      return concGPerL === undefined
        ? { value: concGPerLOfOwg({ owgPct: demanded(owgPct, 'gPerL'), liquorRatioLPerKg: ratio }), unit: 'g/L' }
        : { value: owgPctOfConc({ concGPerL, liquorRatioLPerKg: ratio }), unit: '% owg' };
    },
  ),
  'aux-stock-volume': topic(
    'Auxiliary added from its stock solution',
    'mL',
    'gPerL of bath with liquorMl (or L) or goods and liquorRatio; or pctOwg with goods; and stockPct (% w/v) or stockGPerL',
    (inputs) => {
      const strengthPct = demanded(stockPct(inputs), 'stockPct');
      const owgPct = inputs.optionalNumber('pctOwg', 'owgPct', 'pctOwf', 'owfPct');
      const volumeMl =
        owgPct === undefined
          ? auxiliaryStockVolumeMl({
              volumeMl: liquorMl(inputs),
              concGPerL: inputs.quantityIn('gPerL', '', 'conc'),
              stockStrengthPct: strengthPct,
            })
          : stockVolumeMl({ goodsDryMassG: goodsG(inputs), depthPct: owgPct, stockStrengthPct: strengthPct });
      const to = toUnit(inputs, 'volume') ?? 'mL';
      return { value: converted({ value: volumeMl, from: 'mL', to }), unit: signOf(to) };
    },
  ),
  'make-up-water': topic(
    'Water that makes up the bath after every solution',
    'mL; L when the additions are in L',
    'liquorMl (or L), or goods and liquorRatio; additionsMl (or additionsL), a list',
    (inputs) => {
      const additions = demanded(
        inputs.optionalQuantitiesIn('mL', 'additions', 'solutions', 'addition'),
        'additionsMl',
      );
      const waterMl = makeUpWaterMl({ liquorVolumeMl: liquorMl(inputs), additionsMl: additions.values });
      const to = toUnit(inputs, 'volume') ?? (additions.unit === 'L' ? 'L' : 'mL');
      return { value: converted({ value: waterMl, from: 'mL', to }), unit: signOf(to) };
    },
  ),
  'aux-mass-gPerL': topic(
    'Dry auxiliary that goes by the water of the bath',
    'g',
    'gPerL (or ozPerGallonUS…) and liquorL (or Ml, GallonUS…), or goods and liquorRatio; to (optional)',
    (inputs) => {
      const concGPerL = inputs.quantityIn('gPerL', '', 'conc');
      return massAnswer(inputs, nonNegative('gPerL', concGPerL) * (liquorMl(inputs) / 1000));
    },
  ),
  'aux-mass-owg': topic(
    'Dry auxiliary or mordant that goes by the goods',
    'g, or oz when the goods are in lb or oz',
    'goodsG (or Kg, Lb, Oz…) and pctOwg; to (optional)',
    (inputs) => {
      const goods = inputs.quantity('mass', ...goodsNames);
      const massG = dyeMassOfDepth(convertedField(goods, 'g'), inputs.number(...owgNames));
      return massAnswer(inputs, massG, goods.unit === 'lb' || goods.unit === 'oz' ? 'oz' : 'g');
    },
  ),
  'aux-rate-to-owg': topic(
    'A rate per pound (or kilogram) of goods as % on weight of goods, or the other way',
    '% owg; oz/lb from pctOwg',
    'one of ozPerLb, gramsPerLb, lbPerLb, gPerKg, gPer100G, ozPerKg; or pctOwg',
    (inputs) => {
      const owgPct = inputs.optionalNumber(...owgNames);
      if (owgPct !== undefined) {
        const to = inputs.optionalWord('to')?.toLowerCase() ?? 'ozperlb';
        const massG = nonNegative('pctOwg', owgPct) / 100;
        if (to === 'ozperlb') return { value: massG * 16, unit: 'oz/lb' };
        if (to === 'gramsperlb' || to === 'gperlb') return { value: massG * units.lb.factor, unit: 'g/lb' };
        if (to === 'gperkg') return { value: massG * 1000, unit: 'g/kg' };
        throw new CalcError('unreadable', 'to', 'to is ozPerLb, gramsPerLb or gPerKg');
      }
      const [rate] = inputs.matching(/^(.+?)Per(.+)$/i);
      const { match, value, field } = demanded(rate, 'ozPerLb');
      const amount = unitSpelled('mass', match[1] ?? '');
      const goods = /^100g(?:rams)?$/i.test(match[2] ?? '') ? 100 : massOfUnit(match[2] ?? '');
      if (amount === undefined || goods === undefined) {
        throw new CalcError('unreadable', field, `${field} is not a rate of mass to mass of goods`);
      }
      const massG = (nonNegative(field, value) * units[amount].factor * units.lb.factor) / goods;
      return { value: owgPctOfRatePerPound({ massG }), unit: '% owg' };
    },
  ),
  'hydrate-factor': topic(
    'Grams of one hydrate that do the work of one gram of another',
    'g/g; g when massG is given',
    `from and to, formulas such as Na2CO3 and Na2CO3.10H2O, or one of: ${Object.keys(hydrateForms).join(', ')}; massG (optional)`,
    (inputs) => {
      const formulaOf = (word: string) => (hydrateForms as Readonly<Record<string, string>>)[word] ?? word;
      const factor = hydrateFactor({
        fromFormula: formulaOf(demanded(inputs.optionalWord('from'), 'from')),
        toFormula: formulaOf(demanded(inputs.optionalWord('to'), 'to')),
      });
      const mass = inputs.optionalQuantity('mass', 'mass', '');
      if (mass === undefined) return { value: factor, unit: 'g/g' };
      return { value: nonNegative(mass.field, mass.value) * factor, unit: signOf(mass.unit) };
    },
  ),
  'cup-to-g': topic(
    'Mass of a cup or spoon of powder, by its bulk density only',
    'g',
    'cupUS (or tablespoonUS, teaspoonUS, mL…) and bulkDensityKgPerM3 (or bulkDensityGPerMl), or grade "light" / "dense" of soda ash, which gives the range',
    (inputs) => {
      const volumeMl = inputs.quantityIn('mL', '', 'volume');
      const masses = bulkDensities(inputs).map((bulkDensityKgPerM3) => scoopMassG({ volumeMl, bulkDensityKgPerM3 }));
      return { value: oneOrMore(masses), unit: 'g' };
    },
  ),
  'soak-conc': topic(
    'Strength of a soak made by scoops of powder to a volume of water',
    'g/L',
    'cupUSPerGallonUS (or tablespoonUSPerGallonUS, cupUSPerQuartUS, cupUSPerL…), or cupUS (or tablespoonUS…) and gallonUS (or quartUS, L), with bulkDensityKgPerM3 or grade; or ozPerGallonUS',
    (inputs) => {
      const mass = inputs.optionalQuantityIn('gPerL', '');
      if (mass !== undefined) return { value: mass, unit: 'g/L' };
      const densities = bulkDensities(inputs);
      const [rate] = inputs.matching(/^(?!.*density)(.+?)Per(.+)$/i);
      const [scoops] =
        rate === undefined ? inputs.matching(/^(cups?|tablespoons?|teaspoons?|fluidOunces?)(US|Metric)?$/i) : [];
      const [vessel] =
        rate === undefined ? inputs.matching(/^(?:water)?(gallon(?:US|Imp)?|quart(?:US|Imp)?|L|mL)$/i) : [];
      const { field, value } = demanded(rate ?? scoops, 'cupUSPerGallonUS');
      const scoop = unitSpelled('volume', rate?.match[1] ?? field);
      const water = unitSpelled('volume', rate?.match[2] ?? vessel?.match[1] ?? '');
      if (scoop === undefined || water === undefined) {
        throw new CalcError('unreadable', field, `${field} is not a rate of scoops to water`);
      }
      const concs = densities.map((bulkDensityKgPerM3) =>
        soakConcGPerL({
          scoopVolumeMl: nonNegative(field, value) * units[scoop].factor,
          bulkDensityKgPerM3,
          waterVolumeMl: (vessel?.value ?? 1) * units[water].factor,
        }),
      );
      return { value: oneOrMore(concs), unit: 'g/L' };
    },
  ),
  'fabric-linear': topic(
    'Mass of a running yard, or of a length of it',
    'g, or as `to` says: g, oz, gPerM',
    'ozPerLinearYard (or gPerLinearMetre); lengthYd or lengthM (one yard when left out); to (optional)',
    (inputs) => {
      const gPerM = demanded(linearMassGPerM(inputs), 'ozPerLinearYard');
      const to = inputs.optionalWord('to')?.toLowerCase().replace('/', 'per');
      if (to === 'gperm' || to === 'gperlinearmetre') return { value: gPerM, unit: 'g/m' };
      if (to === 'ozperlinearyard') return { value: ozPerLinearYdOf(gPerM), unit: 'oz/yd' };
      const lengthM = inputs.optionalQuantityIn('m', 'length') ?? units.yd.factor;
      return massAnswer(inputs, gPerM * lengthM);
    },
  ),
  'fabric-linear-to-areal': topic(
    'Areal mass of cloth sold by the running yard, or the running yard of an areal mass',
    'g/m2, or as `to` says; oz/yd (linear) from an areal mass',
    'ozPerLinearYard (or gPerLinearMetre), or gPerM2 / ozPerYd2; and widthIn (or Cm, M); to (optional)',
    (inputs) => {
      const widthM = inputs.quantityIn('m', ...widthNames);
      const gPerM = linearMassGPerM(inputs);
      if (gPerM !== undefined) {
        const to = toUnit(inputs, 'arealMass') ?? 'gPerM2';
        const value = gPerM / clothMassG({ arealMassGPerM2: 1, lengthM: 1, widthM });
        return { value: converted({ value, from: 'gPerM2', to }), unit: signOf(to) };
      }
      const arealMassGPerM2 = inputs.quantityIn('gPerM2', '');
      const linear = clothMassG({ arealMassGPerM2, lengthM: 1, widthM });
      const to = inputs.optionalWord('to')?.toLowerCase() ?? 'ozperlinearyard';
      if (to === 'ozperlinearyard') return { value: ozPerLinearYdOf(linear), unit: 'oz/yd' };
      if (to === 'gperlinearmetre' || to === 'gperm') return { value: linear, unit: 'g/m' };
      throw new CalcError('unreadable', 'to', 'to is ozPerLinearYard or gPerLinearMetre');
    },
  ),
  'fabric-mass': topic(
    'Mass of a piece of cloth',
    'g',
    'gPerM2 (or ozPerYd2, momme) with lengthM and widthM (or Yd, In, Cm…) or areaM2 (or Yd2); or ozPerLinearYard with lengthYd; optional count, lengthShrinkPct and widthShrinkPct where gPerM2 was found before the wash; to (optional)',
    (inputs) => {
      const count = inputs.optionalNumber('count', 'pieces') ?? 1;
      const lengthM = inputs.optionalQuantityIn('m', 'length');
      const gPerM = linearMassGPerM(inputs);
      if (gPerM !== undefined) return massAnswer(inputs, count * gPerM * demanded(lengthM, 'lengthM'));
      const stated = inputs.quantityIn('gPerM2', '', 'arealMass');
      const lengthShrink = inputs.optionalNumber('lengthShrinkPct', 'warpShrinkPct');
      const widthShrink = inputs.optionalNumber('widthShrinkPct', 'weftShrinkPct');
      const arealMassGPerM2 = arealMassGPerM2AfterWash({
        arealMassGPerM2: stated,
        lengthShrinkagePct: lengthShrink ?? 0,
        widthShrinkagePct: widthShrink ?? 0,
      });
      const areaM2 = inputs.optionalQuantityIn('m2', 'area', '');
      const widthM = areaM2 === undefined ? inputs.quantityIn('m', ...widthNames) : 1;
      const massG = clothMassG({ arealMassGPerM2, lengthM: areaM2 ?? demanded(lengthM, 'lengthM'), widthM });
      return massAnswer(inputs, count * massG);
    },
  ),
  'shrinkage-pct': topic(
    'Shrinkage from a length before and after',
    '%',
    'before and after, in one unit (or beforeCm, afterIn…)',
    (inputs) => ({
      value: shrinkagePct({
        before: inputs.optionalNumber('before') ?? inputs.quantityIn('m', 'before'),
        after: inputs.optionalNumber('after') ?? inputs.quantityIn('m', 'after'),
      }),
      unit: '%',
    }),
  ),
  'shrinkage-cut': topic(
    'Length to cut for a finished length, or the length left of a cut one',
    'cm, or the unit given',
    'finished (or finishedCm, finishedIn…) or cut (cutCm…), and shrinkPct',
    (inputs) => {
      const shrink = inputs.number('shrinkPct', 'shrinkagePct');
      const bareFinished = inputs.optionalNumber('finished', 'finishedLength');
      const bareCut = inputs.optionalNumber('cut', 'cutLength');
      const finished = inputs.optionalQuantity('length', 'finished', 'finishedLength');
      const cut = inputs.optionalQuantity('length', 'cut', 'cutLength');
      const unit = finished?.unit ?? cut?.unit ?? 'cm';
      const length = finished?.value ?? bareFinished;
      const value =
        length === undefined
          ? finishedLengthM({ cutLengthM: demanded(cut?.value ?? bareCut, 'finished'), shrinkagePct: shrink })
          : cutLengthM({ finishedLengthM: length, shrinkagePct: shrink });
      return { value, unit: signOf(unit) };
    },
  ),
  'over-weigh-scale': topic(
    'Every target × k = max(actual/plan), which keeps the hue once something was over-weighed',
    'as the plan: g, mg, mL',
    'planG (or Mg, Ml), a list; overIndex (from 0) with actualG, or actualG as a list with null where nothing is weighed yet',
    (inputs) => {
      const plan = inputs.raw('planG', 'plan', 'planMg', 'planMl');
      const actual = inputs.raw('actualG', 'actual', 'actualMg', 'actualMl');
      const overIndex = inputs.optionalNumber('overIndex', 'index');
      if (!Array.isArray(plan)) throw new CalcError('missing', 'planG', 'planG must be a list of numbers');
      const planned = plan.map((value) => Number(value));
      if (!Array.isArray(actual) && (overIndex === undefined || planned[overIndex] === undefined)) {
        throw new CalcError('missing', 'overIndex', 'overIndex must say which of the list was weighed, from 0');
      }
      const lines = planned.map((one, index) => {
        const reading: unknown = Array.isArray(actual) ? actual[index] : index === overIndex ? actual : undefined;
        return { planned: one, actual: reading === undefined || reading === null ? undefined : Number(reading) };
      });
      const factor = overWeighFactor({ lines });
      const unit = inputs.raw('planMg') !== undefined ? 'mg' : inputs.raw('planMl') !== undefined ? 'mL' : 'g';
      return { value: planned.map((one) => one * factor), unit };
    },
  ),
  exhaustion: topic(
    'Exhaustion of a bath',
    '%',
    'startGPerL and endGPerL (one volume), or startG and endG of dye in the bath',
    (inputs) => {
      const startGPerL = inputs.optionalNumber('startGPerL', 'startG', 'start', 'dyeInG');
      const endGPerL = inputs.optionalNumber('endGPerL', 'endG', 'end', 'dyeLeftG');
      return {
        value: exhaustionPct({
          startGPerL: demanded(startGPerL, 'startGPerL'),
          endGPerL: demanded(endGPerL, 'endGPerL'),
        }),
        unit: '%',
      };
    },
  ),
  ciede2000: topic(
    'CIEDE2000 difference of two colours read under one illuminant and observer',
    'dE00',
    'lab1 and lab2, lists of L*, a*, b*',
    (inputs) => ({
      value: deltaE2000({
        standard: labIn(inputs, 'lab1', 'standard', 'std'),
        sample: labIn(inputs, 'lab2', 'sample', 'trial'),
      }),
      unit: 'dE00',
    }),
  ),
  cmc21: topic(
    'CMC difference; the first colour is the standard',
    'dE CMC(2:1), or as l and c say',
    'std and trial, lists of L*, a*, b*; l and c (2 and 1 when left out, as the name says)',
    (inputs) => {
      const l = inputs.optionalNumber('l') ?? 2;
      const c = inputs.optionalNumber('c') ?? 1;
      const standard = labIn(inputs, 'std', 'standard', 'lab1');
      return {
        value: deltaECmc({ standard, sample: labIn(inputs, 'trial', 'sample', 'lab2'), l, c }),
        unit: `dE CMC(${l}:${c})`,
      };
    },
  ),
  'grey-scale': topic(
    'Colour difference of a grade of the grey scale for change',
    'dE*ab',
    'changeGrade: 5, 4-5, 4, 3-4, 3, 2-3, 2, 1-2 or 1',
    (inputs) => ({
      value: greyScaleBand(demanded(inputs.optionalWord('changeGrade', 'grade'), 'changeGrade')).deltaE76,
      unit: 'dE*ab',
    }),
  ),
  'min-weight': topic(
    "Smallest mass that a scale weighs to an error, from its repeatability's standard deviation",
    'mg, or the unit given',
    'sdMg (or G, Ug) and relPct; readabilityMg (optional) sets the 0.41 d floor',
    (inputs) => {
      const sd = inputs.quantity('mass', 'sd', 'repeatability');
      const readabilityMg = inputs.optionalQuantityIn('mg', 'readability', 'd') ?? 0;
      const massMg = minimumMassMg({
        readabilityMg,
        sdMg: convertedField(sd, 'mg'),
        errorPct: inputs.number('relPct', 'errorPct'),
        rule: 'repeatability',
      });
      const to = toUnit(inputs, 'mass') ?? sd.unit;
      return { value: converted({ value: massMg, from: 'mg', to }), unit: signOf(to) };
    },
  ),
  'min-weight-floor': topic(
    'Smallest mass that a scale can weigh to an error at best, from its readability',
    'g, or the unit given',
    'readabilityG (or Mg) and relPct; rule "repeatability" (0.41 d, when left out) or "halfDigit"',
    (inputs) => {
      const readability = inputs.quantity('mass', 'readability', 'd');
      const rule = inputs.optionalWord('rule') ?? 'repeatability';
      if (rule !== 'repeatability' && rule !== 'halfDigit') {
        throw new CalcError('unreadable', 'rule', 'rule is repeatability or halfDigit');
      }
      const massMg = minimumMassMg({
        readabilityMg: convertedField(readability, 'mg'),
        errorPct: inputs.number('relPct', 'errorPct'),
        rule,
      });
      const to = toUnit(inputs, 'mass') ?? readability.unit;
      return { value: converted({ value: massMg, from: 'mg', to }), unit: signOf(to) };
    },
  ),
  'overhead-rate': topic(
    'Overhead rate for a base of labour hours (or another)',
    'per hour; per unit of the base',
    'overhead, or a list overheadItems; and labourHours (or machineHours; labourCost, directLabourCost, units)',
    (inputs) => {
      const items = inputs.optionalNumbers('overheadItems', 'overheads', 'items');
      const hours = inputs.optionalNumber('labourHours', 'laborHours', 'machineHours', 'hours', 'directLabourHours');
      const base = hours ?? inputs.number('labourCost', 'directLabourCost', 'laborCost', 'base', 'baseCost', 'units');
      return {
        value: overheadRate({ overheads: items ?? [inputs.number('overhead', 'overheadTotal')], base }),
        unit: hours === undefined ? 'per unit of base' : 'per hour',
      };
    },
  ),
  'moving-average': topic(
    'Unit cost after a receipt, by moving average',
    'per g, or per unit of the quantities',
    'qty1, unit1, qty2, unit2, and so on',
    (inputs) => {
      const quantities = inputs.matching(/^(?:qty|quantity|q)(\d+)$/i);
      const costs = new Map(
        inputs.matching(/^(?:unitCost|unit|cost|c)(\d+)$/i).map(({ match, value }) => [match[1] ?? '', value]),
      );
      const holdings = quantities.map(({ match, value }) => ({
        quantity: value,
        unitCost: demanded(costs.get(match[1] ?? ''), `unit${match[1]}`),
      }));
      if (holdings.length === 0) throw new CalcError('missing', 'qty1', 'qty1 and unit1 are needed');
      if (costs.size !== holdings.length) throw new CalcError('missing', 'qty1', 'each unit cost needs its quantity');
      return { value: movingAverageUnitCost({ holdings }), unit: 'per g' };
    },
  ),
  'fifo-issue': topic(
    'Cost of an issue, first in, first out',
    'currency',
    'layers, a list of [quantity, unit cost] oldest first; issue, the quantity',
    (inputs) => {
      const layers = inputs.raw('layers');
      if (!Array.isArray(layers))
        throw new CalcError('missing', 'layers', 'layers must be a list of [quantity, unit cost]');
      const read = layers.map((layer: unknown) => {
        const [quantity, unitCost] = Array.isArray(layer) ? layer : [];
        if (typeof quantity !== 'number' || typeof unitCost !== 'number') {
          throw new CalcError('unreadable', 'layers', 'layers must be a list of [quantity, unit cost]');
        }
        return { quantity, unitCost };
      });
      return {
        value: fifoIssue({ layers: read, quantity: inputs.number('issue', 'issueQty', 'quantity', 'issued') }).cost,
        unit: 'currency',
      };
    },
  ),
} as const satisfies Record<string, CalcTopic>;

export type CalcTopicName = keyof typeof calcTopics;

export function isCalcTopic(name: string): name is CalcTopicName {
  return Object.hasOwn(calcTopics, name);
}

function stockVolume(inputs: TopicInputs): TopicAnswer {
  const stockStrengthPct = demanded(stockPct(inputs), 'stockPct');
  const madeMl = inputs.optionalQuantityIn('mL', 'volume', 'stockVolume', 'make');
  if (madeMl !== undefined) return massAnswer(inputs, stockMassG({ volumeMl: madeMl, stockStrengthPct }));
  const dyeG = inputs.optionalQuantityIn('g', 'dye', 'dyeMass', 'mass');
  const volumeMl =
    dyeG === undefined
      ? stockVolumeMl({ goodsDryMassG: goodsG(inputs), depthPct: inputs.number(...owgNames), stockStrengthPct })
      : stockVolumeMlOfMass({ massG: dyeG, stockStrengthPct });
  const to = toUnit(inputs, 'volume') ?? 'mL';
  return { value: converted({ value: volumeMl, from: 'mL', to }), unit: signOf(to) };
}

function dyeMassOfDepth(goodsDryMassG: number, depthPct: number): number {
  return dyeMassG({
    goodsDryMassG,
    depthPct,
    sharePct: 100,
    coverageFactor: 1,
    lossFactor: 0,
    uptakeFactor: 1,
    strengthPct: 100,
  });
}

function massOfUnit(spelling: string): number | undefined {
  const unit = unitSpelled('mass', spelling);
  return unit === undefined ? undefined : units[unit].factor;
}

function nonNegative(field: string, value: number): number {
  if (value < 0) throw new CalcError('outOfRange', field, `${field} must be at least 0`);
  return value;
}
