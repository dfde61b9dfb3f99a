import { CalcError, finiteIn } from '../calcError.ts';
import { deltaE2000Of } from '../colour/deltaE.ts';
import { type Conditions, demandLab, type Lab } from '../colour/reading.ts';
import { labFromSpectrum, type Spectrum } from '../colour/spectra.ts';
import {
  BAND_COUNT,
  bandsFromLab,
  bandsFromSpectrum,
  fitMember,
  type Geometry,
  type Member,
  MemberOptics,
  type Prior,
  type SampleTable,
  typicalDepths,
} from './kubelkaMunk.ts';
import {
  learnResidual,
  levelOf,
  likeness,
  type RecipePoint,
  type Residual,
  residualMean,
  residualVariance,
} from './residual.ts';

/* Colour of a recipe that nobody has dyed yet, learned from the studio's own swatches of one fibre and one method:
   theory (kubelkaMunk.ts, several priors averaged where the swatches leave them open), then what the real swatches near by
   show that theory misses (residual.ts), then an interval whose width is scaled on swatches that were held out while
   learning: in turn single swatches, and whole sets of dyes, since a pair never dyed together is less sure than one that
   was. Outside its swatches it says so and gives no number. */

export type DyeId = number | string;

export interface RecipeComponent {
  dyeId: DyeId;
  /** % on weight of goods; any unit does, as long as all the swatches of a model use it. */
  depthPct: number;
}

export interface SubstrateReading {
  lab: Lab;
  spectrum?: Spectrum;
}

export interface KnownSwatch {
  swatchId: number | string;
  components: readonly RecipeComponent[];
  /** Under the model's conditions; left out only where there is a spectrum. */
  lab?: Lab;
  spectrum?: Spectrum;
  /** The undyed goods, under the same conditions. Without it, the mean of the undyed swatches (no components) stands in, or
   *  where there is none an ordinary scoured white. */
  substrate?: SubstrateReading;
}

/** Scoured undyed goods, from memory; only for swatches whose goods nobody read. */
export const ORDINARY_WHITE: Lab = { L: 93, a: 0, b: 3 };

export interface DyeKnowledge {
  dyeId: DyeId;
  alone: number;
  mixed: number;
  minDepthPct: number;
  maxDepthPct: number;
}

/** Whether the recipe's dyes were dyed together before: `alone` one dye; `together` this very set; `apart` never this set. */
export type Familiarity = 'alone' | 'together' | 'apart';

interface Scores {
  /** |error|/scale of held-out swatches, rising: L*, a*, b*, and CIEDE2000. */
  L: number[];
  a: number[];
  b: number[];
  deltaE: number[];
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
  geometry: Geometry;
  dyes: DyeKnowledge[];
  swatchCount: number;
  mixtureCount: number;
  spectrumCount: number;
  maxTotalDepthPct: number;
  members: Member[];
  /** Undyed goods of most of the swatches, in bands. */
  substrate: Float64Array;
  /** How many swatches stand on goods that were read, and how many on an ordinary white. */
  substratesRead: number;
  substratesAssumed: number;
  /** Swatches that the others contradict far beyond the interval: a slip of weighing, typing or reading, worth a look. */
  doubtful: DoubtfulSwatch[];
  residual: Residual;
  residualSwatchIds: (number | string)[];
  /** Sets of dyes that were dyed together, as `setKey`. */
  sets: string[];
  calibration: Record<Familiarity, Scores>;
}

export interface KnownPrediction {
  known: true;
  lab: Lab;
  /** Nine of ten times each coordinate lies within. */
  interval90: { L: [number, number]; a: [number, number]; b: [number, number] };
  /** Nine of ten times the goods come out within this CIEDE2000 of `lab`. */
  deltaE90: number;
  familiarity: Familiarity;
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
export const MAX_DYES = 6;
const MAX_RESIDUAL_POINTS = 1000;
const FOLDS = 5;
/** A held-out swatch is doubtful beyond this many 90 % radii, and beyond this CIEDE2000. */
const DOUBTFUL_TIMES = 2.5;
const DOUBTFUL_LEAST = 6;
/** Leftovers beyond this many CIELAB units are cut to it, so that one wrong card does not colour its neighbours. */
const MOST_LEFTOVER = 10;
/** Held-out swatches under which the interval leans on guessed scores. */
const ENOUGH_SCORES = 20;
/* Nine of ten errors (CIEDE2000) where nothing was held out yet: a dye alone between its swatches, a set of dyes that was
   sampled, and one that never was. Guessed wide, after what theory alone reaches on watercolour layers. */
const GUESSED_DELTA_E90: Record<Familiarity, number> = { alone: 5, together: 6, apart: 10 };

/* Middles of the priors, per typical depth of a dye; for `body`, scattering is in units of the goods' own. Learned side by
   side where the swatches are few, from their centre where there are many. */
const PRIOR_MIDDLES: Record<Geometry, { scatter: readonly [number, number]; lnStrength: readonly [number, number] }> = {
  layer: { scatter: [0.5, 2], lnStrength: [1.5, 3.5] },
  body: { scatter: [0.02, 0.2], lnStrength: [0, 2] },
};

function priorsOf(geometry: Geometry, many: boolean): Prior[] {
  const { scatter, lnStrength } = PRIOR_MIDDLES[geometry];
  if (many) {
    return [{ geometry, scatter: Math.sqrt(scatter[0] * scatter[1]), lnStrength: (lnStrength[0] + lnStrength[1]) / 2 }];
  }
  return scatter.flatMap((s) => lnStrength.map((strength) => ({ geometry, scatter: s, lnStrength: strength })));
}

const setKey = (dyes: ArrayLike<number>): string => Array.from(dyes).join('+');

interface Prepared {
  swatches: readonly KnownSwatch[];
  dyeIds: DyeId[];
  table: SampleTable;
  substrate: Float64Array;
  substratesRead: number;
  substratesAssumed: number;
}

/** Mean of the undyed swatches, for those of unread goods. */
function usualSubstrate(swatches: readonly KnownSwatch[], conditions: Conditions): SubstrateReading | undefined {
  const undyed = swatches.flatMap(({ components, lab, spectrum }) => {
    if (components.some(({ depthPct }) => depthPct > 0)) return [];
    const seen = lab ?? (spectrum && labFromSpectrum({ spectrum, conditions }));
    return seen === undefined ? [] : [seen];
  });
  if (undyed.length === 0) return undefined;
  const mean = (of: (lab: Lab) => number) => undyed.reduce((sum, lab) => sum + of(lab), 0) / undyed.length;
  return { lab: { L: mean((lab) => lab.L), a: mean((lab) => lab.a), b: mean((lab) => lab.b) } };
}

function prepare(swatches: readonly KnownSwatch[], conditions: Conditions): Prepared {
  const used = swatches.filter((swatch) => swatch.components.some((component) => component.depthPct > 0));
  if (used.length === 0) throw new CalcError('missing', 'swatches', 'there are no dyed swatches to learn from');
  const dyeIds = [...new Set(used.flatMap((s) => s.components.filter((c) => c.depthPct > 0).map((c) => c.dyeId)))].sort(
    (a, b) => (typeof a === 'number' && typeof b === 'number' ? a - b : String(a) < String(b) ? -1 : 1),
  );
  const dyeAt = new Map(dyeIds.map((id, i) => [id, i]));
  const count = used.length;
  const start = new Uint32Array(count + 1);
  const dye: number[] = [];
  const depth: number[] = [];
  const lab = new Float64Array(3 * count);
  const bands = new Float64Array(BAND_COUNT * count);
  const substrate = new Float64Array(BAND_COUNT * count);
  const hasBands = new Uint8Array(count);
  const stand = usualSubstrate(swatches, conditions);
  let substratesAssumed = 0;
  const substrates = new Map<string, { bands: Float64Array; seen: number }>();
  for (const [n, swatch] of used.entries()) {
    const amounts = new Map<number, number>();
    for (const { dyeId, depthPct } of swatch.components) {
      finiteIn('depthPct', depthPct, { min: 0 });
      const at = dyeAt.get(dyeId);
      if (depthPct > 0 && at !== undefined) amounts.set(at, (amounts.get(at) ?? 0) + depthPct);
    }
    for (const [at, depthPct] of [...amounts].sort((a, b) => a[0] - b[0])) {
      dye.push(at);
      depth.push(depthPct);
    }
    start[n + 1] = dye.length;
    const seen = swatch.lab ?? (swatch.spectrum && labFromSpectrum({ spectrum: swatch.spectrum, conditions }));
    if (seen === undefined) throw new CalcError('missing', 'lab', 'a swatch needs a colour or a spectrum');
    demandLab('lab', seen);
    lab.set([seen.L, seen.a, seen.b], 3 * n);
    if (swatch.spectrum !== undefined) {
      hasBands[n] = 1;
      bands.set(bandsFromSpectrum(swatch.spectrum), n * BAND_COUNT);
    }
    if (swatch.substrate === undefined && stand === undefined) substratesAssumed += 1;
    const goods = swatch.substrate ?? stand ?? { lab: ORDINARY_WHITE };
    const key = substrateKey(goods);
    const known = substrates.get(key) ?? { bands: substrateBands(goods, conditions), seen: 0 };
    known.seen += 1;
    substrates.set(key, known);
    substrate.set(known.bands, n * BAND_COUNT);
  }
  const usual = [...substrates.values()].reduce((a, b) => (b.seen > a.seen ? b : a)).bands;
  return {
    swatches: used,
    dyeIds,
    substrate: usual,
    substratesRead: used.filter((swatch) => swatch.substrate !== undefined).length,
    substratesAssumed,
    table: {
      count,
      dyeCount: dyeIds.length,
      start,
      dye: Uint32Array.from(dye),
      depthPct: Float64Array.from(depth),
      lab,
      bands,
      hasBands,
      substrate,
    },
  };
}

const substrateKey = ({ lab, spectrum }: SubstrateReading): string =>
  spectrum === undefined
    ? `${lab.L} ${lab.a} ${lab.b}`
    : `${spectrum.startNm}/${spectrum.stepNm} ${Array.from(spectrum.reflectance).join(' ')}`;

function substrateBands(substrate: SubstrateReading, conditions: Conditions): Float64Array {
  if (substrate.spectrum !== undefined) {
    return bandsFromSpectrum(substrate.spectrum).map((r) => Math.min(0.995, Math.max(0.005, r)));
  }
  demandLab('substrate', substrate.lab);
  return bandsFromLab({ lab: substrate.lab, conditions });
}

function tableOf(table: SampleTable, rows: readonly number[]): SampleTable {
  const start = new Uint32Array(rows.length + 1);
  const dye: number[] = [];
  const depth: number[] = [];
  const lab = new Float64Array(3 * rows.length);
  const bands = new Float64Array(BAND_COUNT * rows.length);
  const substrate = new Float64Array(BAND_COUNT * rows.length);
  const hasBands = new Uint8Array(rows.length);
  for (const [to, n] of rows.entries()) {
    for (let i = table.start[n] as number; i < (table.start[n + 1] as number); i += 1) {
      dye.push(table.dye[i] as number);
      depth.push(table.depthPct[i] as number);
    }
    start[to + 1] = dye.length;
    lab.set(table.lab.subarray(3 * n, 3 * n + 3), 3 * to);
    bands.set(table.bands.subarray(BAND_COUNT * n, BAND_COUNT * (n + 1)), BAND_COUNT * to);
    substrate.set(table.substrate.subarray(BAND_COUNT * n, BAND_COUNT * (n + 1)), BAND_COUNT * to);
    hasBands[to] = table.hasBands[n] as number;
  }
  return {
    count: rows.length,
    dyeCount: table.dyeCount,
    start,
    dye: Uint32Array.from(dye),
    depthPct: Float64Array.from(depth),
    lab,
    bands,
    hasBands,
    substrate,
  };
}

/** Theory of one recipe: mean over the members and their spread. */
interface Theory {
  lab: Float64Array;
  /** Variance over the members, one for each channel. */
  spread: Float64Array;
}

class Theories {
  readonly optics: MemberOptics[];
  readonly typical: Float64Array;
  readonly #one = new Float64Array(3);

  constructor(members: readonly Member[], conditions: Conditions) {
    this.optics = members.map((member) => new MemberOptics(member, conditions));
    this.typical = (members[0] as Member).typicalDepthPct;
  }

  of(dyes: ArrayLike<number>, depthsPct: ArrayLike<number>, substrate: ArrayLike<number>): Theory {
    const lab = new Float64Array(3);
    const squares = new Float64Array(3);
    const amounts = new Float64Array(dyes.length);
    for (const optics of this.optics) {
      optics.amounts(dyes, depthsPct, amounts);
      optics.colour(dyes, amounts, substrate, this.#one);
      for (let c = 0; c < 3; c += 1) {
        const v = this.#one[c] as number;
        lab[c] = (lab[c] as number) + v;
        squares[c] = (squares[c] as number) + v * v;
      }
    }
    const count = this.optics.length;
    const spread = new Float64Array(3);
    for (let c = 0; c < 3; c += 1) {
      const mean = (lab[c] as number) / count;
      lab[c] = mean;
      spread[c] = Math.max(0, (squares[c] as number) / count - mean * mean);
    }
    return { lab, spread };
  }

  point(dyes: ArrayLike<number>, depthsPct: ArrayLike<number>, theory: Theory): RecipePoint {
    const levels = Float64Array.from(dyes, (dye, j) =>
      levelOf((depthsPct[j] as number) / (this.typical[dye] as number)),
    );
    return { dyes: Uint32Array.from(dyes), levels, theory: theory.lab };
  }
}

const dyesOf = (table: SampleTable, n: number) =>
  table.dye.subarray(table.start[n] as number, table.start[n + 1] as number);
const depthsOf = (table: SampleTable, n: number) =>
  table.depthPct.subarray(table.start[n] as number, table.start[n + 1] as number);
const substrateOf = (table: SampleTable, n: number) => table.substrate.subarray(n * BAND_COUNT, (n + 1) * BAND_COUNT);

interface Learned {
  theories: Theories;
  residual: Residual;
  residualRows: number[];
}

function learnLeftovers(table: SampleTable, members: readonly Member[], conditions: Conditions): Learned {
  const theories = new Theories(members, conditions);
  // Evenly thinned where there are more than the solver should bear.
  const step = Math.max(1, table.count / MAX_RESIDUAL_POINTS);
  const residualRows = Array.from({ length: Math.min(table.count, MAX_RESIDUAL_POINTS) }, (_, i) =>
    Math.floor(i * step),
  );
  const leftovers = new Float64Array(3 * residualRows.length);
  const points = residualRows.map((n, i) => {
    const theory = theories.of(dyesOf(table, n), depthsOf(table, n), substrateOf(table, n));
    for (let c = 0; c < 3; c += 1) {
      const left = (table.lab[3 * n + c] as number) - (theory.lab[c] as number);
      leftovers[3 * i + c] = Math.max(-MOST_LEFTOVER, Math.min(MOST_LEFTOVER, left));
    }
    return theories.point(dyesOf(table, n), depthsOf(table, n), theory);
  });
  return { theories, residual: learnResidual({ points, leftovers }), residualRows };
}

interface Guess {
  lab: Float64Array;
  /** Standard deviations of the three channels before calibration. */
  scale: Float64Array;
  point: RecipePoint;
}

function guess(
  learned: Pick<Learned, 'theories' | 'residual'>,
  dyes: ArrayLike<number>,
  depthsPct: ArrayLike<number>,
  substrate: ArrayLike<number>,
): Guess {
  const theory = learned.theories.of(dyes, depthsPct, substrate);
  const point = learned.theories.point(dyes, depthsPct, theory);
  const lab = new Float64Array(3);
  residualMean(learned.residual, point, lab);
  const variance = residualVariance(learned.residual, point);
  const scale = new Float64Array(3);
  for (let c = 0; c < 3; c += 1) {
    lab[c] = (lab[c] as number) + (theory.lab[c] as number);
    scale[c] = Math.sqrt(variance + (theory.spread[c] as number));
  }
  lab[0] = Math.max(0, Math.min(110, lab[0] as number));
  return { lab, scale, point };
}

/** One number for the three scales, in units of CIEDE2000 near this colour. */
function deltaEScale(lab: ArrayLike<number>, scale: ArrayLike<number>): number {
  const chroma = 1 + 0.03 * Math.hypot(lab[1] as number, lab[2] as number);
  return Math.sqrt((scale[0] as number) ** 2 + ((scale[1] as number) ** 2 + (scale[2] as number) ** 2) / chroma ** 2);
}

/** Same numbers on every machine: the folds must not change from run to run. */
function shuffled(count: number): number[] {
  const order = Array.from({ length: count }, (_, i) => i);
  let state = 0x9e3779b9;
  for (let i = count - 1; i > 0; i -= 1) {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    const j = state % (i + 1);
    [order[i], order[j]] = [order[j] as number, order[i] as number];
  }
  return order;
}

interface HeldOut {
  n: number;
  familiarity: Familiarity;
  expected: Lab;
  deltaE2000: number;
  scale: number;
}

function calibrate(
  table: SampleTable,
  members: readonly Member[],
  conditions: Conditions,
): { scores: Record<Familiarity, Scores>; held: (HeldOut & { expected90: number })[] } {
  const empty = (): Scores => ({ L: [], a: [], b: [], deltaE: [] });
  const scores: Record<Familiarity, Scores> = { alone: empty(), together: empty(), apart: empty() };
  const keys = Array.from({ length: table.count }, (_, n) => setKey(dyesOf(table, n)));
  const heldOut: HeldOut[] = [];
  const score = (held: readonly number[], classes: readonly Familiarity[]) => {
    const out = new Set(held);
    const kept = Array.from({ length: table.count }, (_, n) => n).filter((n) => !out.has(n));
    if (kept.length < 3) return;
    const part = tableOf(table, kept);
    const sets = new Set(kept.map((n) => keys[n]));
    const dyes = new Set(part.dye);
    // Warm from the whole: a few steps bring it to the optimum of the part.
    const learnedMembers = members.map(({ prior, parameters, typicalDepthPct }) =>
      fitMember({ samples: part, prior, conditions, typicalDepthPct, from: parameters, maxSteps: 3 }),
    );
    const learned = learnLeftovers(part, learnedMembers, conditions);
    for (const n of held) {
      const own = dyesOf(table, n);
      if (!own.every((dye) => dyes.has(dye))) continue;
      const familiarity: Familiarity = own.length === 1 ? 'alone' : sets.has(keys[n]) ? 'together' : 'apart';
      if (!classes.includes(familiarity)) continue;
      const { lab, scale } = guess(learned, own, depthsOf(table, n), substrateOf(table, n));
      const [L, a, b] = table.lab.subarray(3 * n, 3 * n + 3) as unknown as [number, number, number];
      const into = scores[familiarity];
      into.L.push(Math.abs(L - (lab[0] as number)) / (scale[0] as number));
      into.a.push(Math.abs(a - (lab[1] as number)) / (scale[1] as number));
      into.b.push(Math.abs(b - (lab[2] as number)) / (scale[2] as number));
      const deltaE2000 = deltaE2000Of(lab[0] as number, lab[1] as number, lab[2] as number, L, a, b);
      const whole = deltaEScale(lab, scale);
      into.deltaE.push(deltaE2000 / whole);
      const expected = { L: lab[0] as number, a: lab[1] as number, b: lab[2] as number };
      heldOut.push({ n, familiarity, expected, deltaE2000, scale: whole });
    }
  };
  const order = shuffled(table.count);
  for (let fold = 0; fold < FOLDS; fold += 1) {
    score(
      order.filter((_, i) => i % FOLDS === fold),
      ['alone', 'together'],
    );
  }
  const sets = [...new Set(keys.filter((_, n) => dyesOf(table, n).length > 1))].sort();
  const setOrder = shuffled(sets.length);
  for (let fold = 0; fold < Math.min(FOLDS, sets.length); fold += 1) {
    const heldSets = new Set(setOrder.filter((_, i) => i % FOLDS === fold).map((i) => sets[i]));
    score(
      keys.flatMap((key, n) => (heldSets.has(key) ? [n] : [])),
      ['apart'],
    );
  }
  for (const s of Object.values(scores)) for (const list of [s.L, s.a, s.b, s.deltaE]) list.sort((x, y) => x - y);
  const held = heldOut
    .filter(({ familiarity }) => familiarity !== 'apart')
    .map((one) => ({
      ...one,
      expected90: one.scale * quantile90(scores[one.familiarity].deltaE, GUESSED_DELTA_E90[one.familiarity], one.scale),
    }));
  return { scores, held };
}

/** Nine of ten scores lie under this, with the small-sample correction of conformal prediction; under ENOUGH_SCORES the
 *  missing ones are filled by a half-normal of the guessed width. `scaleNow` turns the guess into a score. */
function quantile90(scores: readonly number[], guessed90: number, scaleNow: number): number {
  const missing = Math.max(0, ENOUGH_SCORES - scores.length);
  if (missing === 0) {
    const at = Math.ceil((scores.length + 1) * 0.9) - 1;
    return scores[Math.min(at, scores.length - 1)] as number;
  }
  const filled = [...scores];
  for (let i = 0; i < missing; i += 1) {
    filled.push(((guessed90 / scaleNow) * halfNormalQuantile((i + 0.5) / missing)) / halfNormalQuantile(0.9));
  }
  filled.sort((x, y) => x - y);
  return filled[Math.min(filled.length - 1, Math.ceil((filled.length + 1) * 0.9) - 1)] as number;
}

/** Quantile of |N(0, 1)|, by bisection of erf's rational form (Abramowitz & Stegun 7.1.26, error under 2e-7). */
function halfNormalQuantile(p: number): number {
  const erf = (x: number) => {
    const t = 1 / (1 + 0.3275911 * x);
    const poly = t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))));
    return 1 - poly * Math.exp(-x * x);
  };
  let low = 0;
  let high = 6;
  for (let i = 0; i < 50; i += 1) {
    const mid = (low + high) / 2;
    if (erf(mid / Math.SQRT2) < p) low = mid;
    else high = mid;
  }
  return (low + high) / 2;
}

/** Learns a model from the swatches of one fibre and one method. Takes seconds at a thousand swatches: not for the thread that
 *  answers requests. Throws CalcError when there is nothing to learn from. */
export function learnModel({
  swatches,
  conditions,
}: {
  swatches: readonly KnownSwatch[];
  conditions: Conditions;
}): ColourModel {
  const prepared = prepare(swatches, conditions);
  const { table, dyeIds } = prepared;
  const typicalDepthPct = typicalDepths(table);
  const rows = Array.from({ length: table.count }, (_, n) => n);
  const mixtures = rows.filter((n) => dyesOf(table, n).length > 1);

  const geometry = chooseGeometry(table, typicalDepthPct, conditions);
  const many = mixtures.length >= 8 * dyeIds.length;
  const members = priorsOf(geometry, many).map((prior) =>
    fitMember({ samples: table, prior, conditions, typicalDepthPct, maxSteps: 50 }),
  );
  const learned = learnLeftovers(table, members, conditions);
  const { scores, held } = calibrate(table, members, conditions);
  const totals = rows.map((n) => depthsOf(table, n).reduce((sum, d) => sum + d, 0));
  return {
    conditions,
    geometry,
    dyes: dyeIds.map((dyeId, dye) => knowledgeOf(table, dyeId, dye)),
    swatchCount: table.count,
    mixtureCount: mixtures.length,
    spectrumCount: table.hasBands.reduce((sum, has) => sum + has, 0),
    maxTotalDepthPct: totals.reduce((a, b) => Math.max(a, b), 0),
    members,
    substrate: prepared.substrate,
    substratesRead: prepared.substratesRead,
    substratesAssumed: prepared.substratesAssumed,
    doubtful: held
      .filter(({ deltaE2000, expected90 }) => deltaE2000 > Math.max(DOUBTFUL_LEAST, DOUBTFUL_TIMES * expected90))
      .map(({ n, expected, deltaE2000 }) => ({
        swatchId: (prepared.swatches[n] as KnownSwatch).swatchId,
        expected,
        deltaE2000,
      }))
      .sort((one, other) => other.deltaE2000 - one.deltaE2000),
    residual: learned.residual,
    residualSwatchIds: learned.residualRows.map((n) => (prepared.swatches[n] as KnownSwatch).swatchId),
    sets: [...new Set(mixtures.map((n) => setKey(dyesOf(table, n))))],
    calibration: scores,
  };
}

function knowledgeOf(table: SampleTable, dyeId: DyeId, dye: number): DyeKnowledge {
  const known: DyeKnowledge = { dyeId, alone: 0, mixed: 0, minDepthPct: Number.POSITIVE_INFINITY, maxDepthPct: 0 };
  for (let n = 0; n < table.count; n += 1) {
    const at = dyesOf(table, n).indexOf(dye);
    if (at < 0) continue;
    if (dyesOf(table, n).length === 1) known.alone += 1;
    else known.mixed += 1;
    const depth = depthsOf(table, n)[at] as number;
    known.minDepthPct = Math.min(known.minDepthPct, depth);
    known.maxDepthPct = Math.max(known.maxDepthPct, depth);
  }
  return known;
}

/** Asks the swatches (up to 300 of them) which geometry explains them with the smaller penalised misfit. */
function chooseGeometry(table: SampleTable, typicalDepthPct: Float64Array, conditions: Conditions): Geometry {
  const step = Math.max(1, table.count / 300);
  const part = tableOf(
    table,
    Array.from({ length: Math.min(300, table.count) }, (_, i) => Math.floor(i * step)),
  );
  const costOf = (geometry: Geometry) =>
    fitMember({
      samples: part,
      prior: priorsOf(geometry, true)[0] as Prior,
      conditions,
      typicalDepthPct,
      maxSteps: 25,
    }).cost;
  return costOf('body') < costOf('layer') ? 'body' : 'layer';
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
    theories: new Theories(model.members, model.conditions),
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
}

/** Colour of a recipe with its 90 % interval, or "no idea" with the reason. Depths ≥ 0; no dye at all gives the substrate. */
export function predictColour({ model, components, substrate }: PredictInput): Prediction {
  const resolved = resolveRecipe(model, components);
  if ('known' in resolved) return resolved;
  const bands = substrate === undefined ? model.substrate : substrateBands(substrate, model.conditions);
  return predictResolved(model, resolved.dyes, resolved.depthsPct, bands, true);
}

/** Components by rising dye of the model, equal dyes added up, nothing of zero; or why there is no idea. */
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

/** Deepest that a dye may be taken to; 0 where it is not known well enough. */
export function reachPct(model: ColourModel, dye: number): number {
  const { alone, mixed, maxDepthPct } = model.dyes[dye] as DyeKnowledge;
  return alone + mixed < MIN_SWATCHES_OF_DYE ? 0 : DEPTH_REACH * maxDepthPct;
}

/** Deepest total that a prediction is given for. */
export function reachTotalPct(model: ColourModel): number {
  return DEPTH_REACH * model.maxTotalDepthPct;
}

/** Lab alone of a resolved recipe: the search asks for it often. */
export function predictedLab(
  model: ColourModel,
  dyes: readonly number[],
  depthsPct: readonly number[],
  substrate: Float64Array,
): [number, number, number] {
  const { theories } = readyOf(model);
  const theory = theories.of(dyes, depthsPct, substrate);
  const lab = new Float64Array(3);
  residualMean(model.residual, theories.point(dyes, depthsPct, theory), lab);
  const at = (c: 0 | 1 | 2) => (lab[c] as number) + (theory.lab[c] as number);
  return [Math.max(0, Math.min(110, at(0))), at(1), at(2)];
}

/** The full prediction of a resolved recipe over a substrate in bands. Without `detail` the costly list of swatches stays empty. */
export function predictResolved(
  model: ColourModel,
  dyes: readonly number[],
  depthsPct: readonly number[],
  substrate: Float64Array,
  detail: boolean,
): KnownPrediction {
  const { theories, sets } = readyOf(model);
  const { lab, scale, point } = guess({ theories, residual: model.residual }, dyes, depthsPct, substrate);
  const familiarity: Familiarity = dyes.length <= 1 ? 'alone' : sets.has(setKey(dyes)) ? 'together' : 'apart';
  const scores = model.calibration[familiarity];
  // Deeper than was ever dyed: the interval grows with the reach.
  const reach = dyes.reduce(
    (most, dye, j) => Math.max(most, (depthsPct[j] as number) / (model.dyes[dye] as DyeKnowledge).maxDepthPct),
    Math.max(1, depthsPct.reduce((sum, d) => sum + d, 0) / model.maxTotalDepthPct),
  );
  const guessed = GUESSED_DELTA_E90[familiarity];
  const half = (channel: 0 | 1 | 2, list: readonly number[]) =>
    reach * (scale[channel] as number) * quantile90(list, guessed * 0.8, scale[channel] as number);
  const whole = deltaEScale(lab, scale);
  const [L, a, b] = lab as unknown as [number, number, number];
  const around = (middle: number, width: number): [number, number] => [middle - width, middle + width];
  const optics = theories.optics[0] as MemberOptics;
  const amounts = new Float64Array(dyes.length);
  optics.amounts(dyes, depthsPct, amounts);
  return {
    known: true,
    lab: { L, a, b },
    interval90: {
      L: around(L, half(0, scores.L)),
      a: around(a, half(1, scores.a)),
      b: around(b, half(2, scores.b)),
    },
    deltaE90: reach * whole * quantile90(scores.deltaE, guessed, whole),
    familiarity,
    calibratedOn: scores.deltaE.length,
    reflectance: { startNm: 400, stepNm: 20, reflectance: optics.reflectance(dyes, amounts, substrate) },
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

/** Undyed goods in the model's bands. */
export function modelSubstrate(model: ColourModel, substrate: SubstrateReading | undefined): Float64Array {
  return substrate === undefined ? model.substrate : substrateBands(substrate, model.conditions);
}

/** Theories of a model, one for each prior: for the search of recipes. */
export function modelOptics(model: ColourModel): readonly MemberOptics[] {
  return readyOf(model).theories.optics;
}
