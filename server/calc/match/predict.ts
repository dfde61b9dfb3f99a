import { finiteIn } from '../calcError.ts';
import { type Conditions, type Lab, sameConditions } from '../colour/reading.ts';
import type { Spectrum } from '../colour/spectra.ts';
import type { Geometry, Member, MemberOptics } from './kubelkaMunk.ts';
import { likeness, type RecipePoint, type Residual, residualMean, residualVariance } from './residual.ts';
import type { Calibration, Familiarity, Radius, Stratum } from './scores.ts';
import { type DyeId, type RecipeComponent, type SubstrateReading, setKey, substrateBands } from './swatchTable.ts';
import { Theories } from './theories.ts';

export type { Familiarity } from './scores.ts';
export type { DyeId, KnownSwatch, RecipeComponent, SubstrateReading } from './swatchTable.ts';

/* Colour of a recipe that nobody has dyed yet, from a model learned of the studio's own swatches of one fibre and one method
   (learn.ts): theory averaged over the geometries that the swatches speak for, then what the real swatches near by show that
   theory misses, then an interval. Its scale adds up what the leftovers, the theories' disagreement, the parameters and the
   depths leave open; how many scales hold nine of ten was learned from swatches held out. Outside its swatches it says so and
   gives no number. */

export interface DyeKnowledge {
  dyeId: DyeId;
  alone: number;
  mixed: number;
  minDepthPct: number;
  maxDepthPct: number;
}

export interface DoubtfulSwatch {
  swatchId: number | string;
  /** What the other swatches led to expect. */
  expected: Lab;
  deltaE2000: number;
}

/** Plain data: it can be sent between threads and kept. */
export interface ColourModel {
  conditions: Conditions;
  /** Of the theory that explains the swatches best. */
  geometry: Geometry;
  dyes: DyeKnowledge[];
  swatchCount: number;
  mixtureCount: number;
  spectrumCount: number;
  /** Swatches that were taken in since the whole was learned. */
  newSwatches: number;
  maxTotalDepthPct: number;
  /** The likeliest first. */
  members: Member[];
  /** Covariance of each member's parameters, where its noise was learned. */
  covariances: (Float32Array | undefined)[];
  /** Undyed goods of most of the swatches, in bands. */
  substrate: Float64Array;
  /** How many swatches stand on goods that were read, and how many on an ordinary white. */
  substratesRead: number;
  substratesAssumed: number;
  /** Swatches that the others contradict far beyond the interval: a slip of weighing, typing or reading, worth a look. */
  doubtful: DoubtfulSwatch[];
  residual: Residual;
  /** Seen less theory, three a point, for each light of `lightsFrom`. */
  leftovers: Float64Array[];
  /** The most that one swatch may say beyond theory, CIELAB units. */
  mostLeftover: number;
  residualSwatchIds: (number | string)[];
  /** Sets of dyes that were dyed together, as `setKey`. */
  sets: string[];
  /** For each light of `lightsFrom`. */
  calibration: Calibration[];
  /** Dyes in the largest set that was held out while learning. */
  largestHeld: number;
}

export interface KnownPrediction {
  known: true;
  lab: Lab;
  /** Nine of ten times each coordinate lies within. */
  interval90: { L: [number, number]; a: [number, number]; b: [number, number] };
  /** Nine of ten times the goods come out within this CIEDE2000 of `lab`. */
  deltaE90: number;
  /** What `deltaE90` would be once this very recipe was dyed and read. */
  deltaE90AfterTrial: number;
  familiarity: Familiarity;
  /** Dyes paler than their palest swatch, or deeper than their deepest: the interval is the wider for it. */
  beyond: { pale: DyeId[]; deep: DyeId[] };
  /** How many held-out swatches the interval stands on; under 20 it leans on a wide guess. */
  calibratedOn: number;
  /** Estimated reflectance, 400–700 nm by 20 nm. */
  reflectance: Spectrum;
  /** The swatches that are most like this recipe, most alike first; shares of their sum. */
  restsOn: { swatchId: number | string; share: number }[];
}

export interface NoIdea {
  known: false;
  reason: 'dyeNotKnown' | 'tooFewSwatches' | 'tooDeep' | 'tooManyDyes';
  dyeIds: DyeId[];
  message: string;
}

export type Prediction = KnownPrediction | NoIdea;

/** How far beyond the deepest swatch of a dye, and the deepest total, a prediction is still given. */
const DEPTH_REACH = 1.5;
const MIN_SWATCHES_OF_DYE = 2;
/** A rule of our own over the model. */
export const MAX_DYES = 6;
/** For each dye beyond the largest set that was ever held out. */
const DYE_MORE = 1;

/** One number for the three scales, in units of CIEDE2000 near this colour. A rule of our own over the model. */
export function deltaEScale(lab: ArrayLike<number>, scale: ArrayLike<number>): number {
  const chroma = 1 + 0.03 * Math.hypot(lab[1] as number, lab[2] as number);
  return Math.sqrt((scale[0] as number) ** 2 + ((scale[1] as number) ** 2 + (scale[2] as number) ** 2) / chroma ** 2);
}

/** What a model needs at hand to answer quickly; made once for each model. */
interface Ready {
  theories: Theories;
  dyeAt: Map<DyeId, number>;
  sets: Set<string>;
}
const readied = new WeakMap<ColourModel, Ready>();

function readyOf(model: ColourModel): Ready {
  const known = readied.get(model);
  if (known !== undefined) return known;
  const ready = {
    theories: new Theories(model.members, model.conditions, model.covariances),
    dyeAt: new Map(model.dyes.map(({ dyeId }, i) => [dyeId, i])),
    sets: new Set(model.sets),
  };
  readied.set(model, ready);
  return ready;
}

export interface PredictInput {
  model: ColourModel;
  components: readonly RecipeComponent[];
  /** The undyed goods; those of most of the swatches when left out. */
  substrate?: SubstrateReading;
  /** The light to tell the colour under; that of the swatches when left out. */
  under?: Conditions;
}

/** Colour of a recipe with its 90 % interval, or "no idea" with the reason. Depths ≥ 0; no dye at all gives the substrate.
 *  A rule of our own over the model. */
export function predictColour({ model, components, substrate, under }: PredictInput): Prediction {
  const resolved = resolveRecipe(model, components);
  if ('known' in resolved) return resolved;
  const bands = substrate === undefined ? model.substrate : substrateBands(substrate, model.conditions);
  return predictResolved(model, resolved.dyes, resolved.depthsPct, bands, true, lightOf(model, under));
}

/** Components by rising dye of the model, equal dyes added up, nothing of zero; or why there is no idea.
 *  A rule of our own over the model. */
export function resolveRecipe(
  model: ColourModel,
  components: readonly RecipeComponent[],
): { dyes: number[]; depthsPct: number[] } | NoIdea {
  const { dyeAt } = readyOf(model);
  const amounts = new Map<number, number>();
  const strangers: DyeId[] = [];
  for (const { dyeId, depthPct } of components) {
    finiteIn('depthPct', depthPct, { min: 0 });
    if (depthPct === 0) continue;
    const at = dyeAt.get(dyeId);
    if (at === undefined) strangers.push(dyeId);
    else amounts.set(at, (amounts.get(at) ?? 0) + depthPct);
  }
  const noIdea = (reason: NoIdea['reason'], dyeIds: DyeId[], message: string): NoIdea => ({
    known: false,
    reason,
    dyeIds,
    message,
  });
  if (strangers.length > 0) {
    return noIdea('dyeNotKnown', strangers, 'no swatch of this fibre and method holds this dye');
  }
  const sorted = [...amounts].sort((a, b) => a[0] - b[0]);
  const dyes = sorted.map(([dye]) => dye);
  const depthsPct = sorted.map(([, depth]) => depth);
  const dyeIdsOf = (which: number[]) => which.map((dye) => (model.dyes[dye] as DyeKnowledge).dyeId);
  const scarce = dyes.filter((dye) => {
    const { alone, mixed } = model.dyes[dye] as DyeKnowledge;
    return alone + mixed < MIN_SWATCHES_OF_DYE;
  });
  if (scarce.length > 0)
    return noIdea('tooFewSwatches', dyeIdsOf(scarce), 'one swatch of a dye does not show its depth curve');
  const deep = dyes.filter(
    (dye, j) => (depthsPct[j] as number) > DEPTH_REACH * (model.dyes[dye] as DyeKnowledge).maxDepthPct,
  );
  const total = depthsPct.reduce((sum, d) => sum + d, 0);
  if (deep.length > 0 || total > reachTotalPct(model)) {
    return noIdea('tooDeep', dyeIdsOf(deep.length > 0 ? deep : dyes), 'deeper than the swatches go by more than half');
  }
  if (dyes.length > MAX_DYES) return noIdea('tooManyDyes', dyeIdsOf(dyes), 'more than six dyes at once');
  return { dyes, depthsPct };
}

/** Deepest that a dye may be taken to; 0 where it is not known well enough. A rule of our own over the model. */
export function reachPct(model: ColourModel, dye: number): number {
  const { alone, mixed, maxDepthPct } = model.dyes[dye] as DyeKnowledge;
  return alone + mixed < MIN_SWATCHES_OF_DYE ? 0 : DEPTH_REACH * maxDepthPct;
}

/** Deepest total that a prediction is given for. A rule of our own over the model. */
export function reachTotalPct(model: ColourModel): number {
  return DEPTH_REACH * model.maxTotalDepthPct;
}

/** Lab alone of a resolved recipe: the search asks for it often. A rule of our own over the model. */
export function predictedLab(
  model: ColourModel,
  dyes: readonly number[],
  depthsPct: readonly number[],
  substrate: Float64Array,
): [number, number, number] {
  const { theories } = readyOf(model);
  const theory = theories.of(dyes, depthsPct, substrate);
  const lab = new Float64Array(3);
  residualMean(model.residual, theories.point(dyes, depthsPct, theory.lab), lab);
  const at = (c: 0 | 1 | 2) => (lab[c] as number) + (theory.lab[c] as number);
  return [Math.max(0, Math.min(110, at(0))), at(1), at(2)];
}

/** Place of a light in what the model keeps for each; that of the swatches when none is named. A rule of our own over the model. */
export function lightOf(model: ColourModel, under: Conditions | undefined): number {
  if (under === undefined) return 0;
  return Math.max(
    0,
    readyOf(model).theories.lights.findIndex((light) => sameConditions(light, under)),
  );
}

/** The full prediction of a resolved recipe over a substrate in bands, under the light at this place. Without `detail` the costly
 *  list of swatches stays empty. A rule of our own over the model. */
export function predictResolved(
  model: ColourModel,
  dyes: readonly number[],
  depthsPct: readonly number[],
  substrate: Float64Array,
  detail: boolean,
  light = 0,
): KnownPrediction {
  const { theories, sets } = readyOf(model);
  const theory = theories.of(dyes, depthsPct, substrate, [0, light]);
  const point = theories.point(dyes, depthsPct, theory.lab);
  const lab = new Float64Array(3);
  residualMean(model.residual, point, lab, light);
  const variance = residualVariance(model.residual, point);
  const open = theories.parameterVariance(dyes, depthsPct, substrate, light);
  const depth = theories.depthVariance(dyes, depthsPct, substrate, model.dyes, light);
  const scale = new Float64Array(3);
  const afterTrial = new Float64Array(3);
  for (let c = 0; c < 3; c += 1) {
    lab[c] = (lab[c] as number) + (theory.lab[3 + c] as number);
    // A trial is as noisy as any dyeing; what it leaves of the doubt is doubt·noise/(doubt + noise).
    const noise = model.residual.noise + (depth[c] as number);
    const doubt = variance - model.residual.noise + (theory.spread[3 + c] as number) + (open[c] as number);
    afterTrial[c] = Math.sqrt((doubt * noise) / (doubt + noise) + noise);
    scale[c] = Math.sqrt(variance + (theory.spread[3 + c] as number) + (open[c] as number) + (depth[c] as number));
  }
  lab[0] = Math.max(0, Math.min(110, lab[0] as number));
  const familiarity: Familiarity = dyes.length <= 1 ? 'alone' : sets.has(setKey(dyes)) ? 'together' : 'apart';
  const isBeyond = (end: 'pale' | 'deep') => (dye: number) => {
    const { minDepthPct, maxDepthPct } = model.dyes[dye] as DyeKnowledge;
    const depthPct = depthsPct[dyes.indexOf(dye)] as number;
    return end === 'pale' ? depthPct < minDepthPct : depthPct > maxDepthPct;
  };
  const dyeIdOf = (dye: number) => (model.dyes[dye] as DyeKnowledge).dyeId;
  const beyond = {
    pale: dyes.filter(isBeyond('pale')).map(dyeIdOf),
    deep: dyes.filter(isBeyond('deep')).map(dyeIdOf),
  };
  const calibration = model.calibration[light] as Calibration;
  const strata: Stratum[] = [familiarity, ...(['pale', 'deep'] as const).filter((end) => beyond[end].length > 0)];
  const radius = (of: (radius: Radius) => number): number => Math.max(...strata.map((s) => of(calibration[s])));
  const more = familiarity === 'apart' ? DYE_MORE ** Math.max(0, dyes.length - model.largestHeld) : 1;
  const [L, a, b] = lab as unknown as [number, number, number];
  const around = (middle: number, channel: 0 | 1 | 2, radiusOf: (r: Radius) => number): [number, number] => {
    const half = more * (scale[channel] as number) * radius(radiusOf);
    return [middle - half, middle + half];
  };
  const deltaE90 = more * deltaEScale(lab, scale) * radius((r) => r.deltaE);
  return {
    known: true,
    lab: { L, a, b },
    interval90: { L: around(L, 0, (r) => r.L), a: around(a, 1, (r) => r.a), b: around(b, 2, (r) => r.b) },
    deltaE90,
    deltaE90AfterTrial: (deltaE90 * deltaEScale(lab, afterTrial)) / deltaEScale(lab, scale),
    familiarity,
    beyond,
    calibratedOn: calibration[familiarity].count,
    reflectance: { startNm: 400, stepNm: 20, reflectance: theories.curve(dyes, depthsPct, substrate) },
    restsOn: detail ? mostAlike(model, point) : [],
  };
}

function mostAlike(model: ColourModel, point: RecipePoint): { swatchId: number | string; share: number }[] {
  const all = model.residual.points
    .map((other, i) => ({ swatchId: model.residualSwatchIds[i] as number | string, share: likeness(point, other) }))
    .filter(({ share }, i) => share > 0 && sharesDye(point, model.residual.points[i] as RecipePoint))
    .sort((one, other) => other.share - one.share)
    .slice(0, 6);
  const sum = all.reduce((total, { share }) => total + share, 0);
  return all.map(({ swatchId, share }) => ({ swatchId, share: share / sum }));
}

function sharesDye(one: RecipePoint, other: RecipePoint): boolean {
  const mine = Array.from(one.dyes);
  return Array.from(other.dyes).some((dye) => mine.includes(dye));
}

/** Undyed goods in the model's bands. A rule of our own over the model. */
export function modelSubstrate(model: ColourModel, substrate: SubstrateReading | undefined): Float64Array {
  return substrate === undefined ? model.substrate : substrateBands(substrate, model.conditions);
}

/** Theories of a model side by side. A rule of our own over the model. */
export function modelTheories(model: ColourModel): Theories {
  return readyOf(model).theories;
}

/** Theories of a model one by one, the likeliest first: for the search of recipes. A rule of our own over the model. */
export function modelOptics(model: ColourModel): readonly MemberOptics[] {
  return readyOf(model).theories.optics;
}
