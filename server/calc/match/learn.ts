import { deltaE2000Of } from '../colour/deltaE.ts';
import type { Conditions, Lab } from '../colour/reading.ts';
import { labFromSpectrum } from '../colour/spectra.ts';
import {
  fitMember,
  fitWithNoise,
  GEOMETRIES,
  type Geometry,
  lnEvidence,
  type Member,
  memberWithout,
  type NormalSystem,
  normalSystemOf,
  type Prior,
  parameterCovariance,
  type SampleTable,
  typicalDepths,
} from './kubelkaMunk.ts';
import { type ColourModel, type DyeKnowledge, deltaEScale } from './predict.ts';
import { BlockHoldOut, learnResidual, type RecipePoint, type Residual, residualWith } from './residual.ts';
import { type Calibration, type Familiarity, ScoreBook, type Stratum, widened } from './scores.ts';
import { depthsOf, dyesOf, type KnownSwatch, prepare, setKey, substrateOf, tableOf } from './swatchTable.ts';
import { type DepthRange, Theories } from './theories.ts';

/* Learning a model of the studio's dyeing from its swatches: theory under three geometries, weighed by what each explains
   (kubelkaMunk.ts); what the swatches near by show that theory misses (residual.ts); and how wide nine of ten errors are, by
   swatches held out in turn: single ones, whole sets of dyes, and the ends of all ladders (scores.ts). */

const MAX_RESIDUAL_POINTS = 1000;
/** So many more may be taken in before the whole is learned anew. */
const ROOM_FOR_NEW = 200;
const FOLDS = 5;
/** A held-out swatch is doubtful beyond this many 90 % radii, and beyond this CIEDE2000. */
const DOUBTFUL_TIMES = 2.5;
const DOUBTFUL_LEAST = 6;
/** Leftovers beyond eight times the middle one are cut to that, within these CIELAB units, so that one wrong card does not colour
 *  its neighbours. */
const MOST_LEFTOVER = { times: 8, least: 2, most: 10 };
/** Swatches that geometry, noise and what the dyes have in common are learned from: beyond it they hardly change. */
const MOST_WEIGHED = 300;
const LEAST_WEIGHED = 120;
const MOST_DYES_WEIGHED = 14;
const DYES_WEIGHED = 10;
/** Believed of the evidence: neither theory is true, and what it misses in one swatch it misses in the next. */
const TRUST_IN_EVIDENCE = 0.04;
const LEAST_WEIGHT = 0.03;
/** With many mixtures only theories that come near the best are worth their time. */
const LEAST_OF_BEST = 0.3;
/** Under a light that no swatch was measured for by its curve, the interval is as many times as wide: measured on invented cloth. */
const WITHOUT_CURVES = 1.3;

/* Middles of the priors, per typical depth of a dye; for `dye` and `body`, scattering is in units of the goods' own. Of a layer
   several are learned side by side where the swatches are few: dyes seen alone over one substrate leave them open. */
const PRIOR_MIDDLES: Record<Geometry, { scatter: readonly number[]; lnStrength: readonly number[] }> = {
  dye: { scatter: [0.003], lnStrength: [1] },
  body: { scatter: [0.0632], lnStrength: [1] },
  layer: { scatter: [0.5, 2], lnStrength: [1.5, 3.5] },
};

function priorsOf(geometry: Geometry, many: boolean): Prior[] {
  const { scatter, lnStrength } = PRIOR_MIDDLES[geometry];
  if (many) {
    const middle = (list: readonly number[]) => list.reduce((sum, v) => sum + v, 0) / list.length;
    return [{ geometry, scatter: Math.exp(middle(scatter.map(Math.log))), lnStrength: middle(lnStrength) }];
  }
  return scatter.flatMap((s) => lnStrength.map((strength) => ({ geometry, scatter: s, lnStrength: strength })));
}

const evenly = (count: number, most: number): number[] => {
  const step = Math.max(1, count / most);
  return Array.from({ length: Math.min(count, most) }, (_, i) => Math.floor(i * step));
};

/** Learns a model from the swatches of one fibre and one method. Takes seconds at a thousand swatches: not for the thread that
 *  answers requests. Throws CalcError when there is nothing to learn from. A rule of our own over the model. */
export function learnModel({
  swatches,
  conditions,
}: {
  swatches: readonly KnownSwatch[];
  conditions: Conditions;
}): ColourModel {
  const prepared = prepare(swatches, conditions);
  const { table, dyeIds } = prepared;
  const rows = Array.from({ length: table.count }, (_, n) => n);
  const mixtures = rows.filter((n) => dyesOf(table, n).length > 1);
  const many = mixtures.length >= 8 * dyeIds.length;
  const members = weighedMembers(table, conditions, many);
  const covariances = members.map((member) =>
    member.prior.geometry === 'layer' ? undefined : parameterCovariance(table, member, conditions),
  );
  const dyes = dyeIds.map((dyeId, dye): DyeKnowledge => ({ dyeId, ...knowledgeOf(table, dye, rows) }));
  const theories = new Theories(members, conditions, covariances);
  const targets = labsUnder(prepared.swatches, table, theories.lights);
  const residualRows = evenly(table.count, MAX_RESIDUAL_POINTS);
  const all = leftoversOf(table, residualRows, theories, targets);
  const mostLeftover = mostOf(all[0] as Float64Array);
  const leftovers = all.map((left) => cut(left, mostLeftover));
  const points = residualRows.map((n) => pointOf(table, n, theories));
  const residual = learnResidual({ points, leftovers, isLayer: (members[0] as Member).prior.geometry === 'layer' });
  const { calibration, doubtful, largestHeld } = calibrate({
    table,
    conditions,
    theories,
    targets,
    residual,
    residualRows,
    mostLeftover,
  });
  return {
    conditions,
    geometry: (members[0] as Member).prior.geometry,
    dyes,
    swatchCount: table.count,
    mixtureCount: mixtures.length,
    spectrumCount: table.hasBands.reduce((sum, has) => sum + has, 0),
    newSwatches: 0,
    maxTotalDepthPct: rows.map((n) => totalOf(table, n)).reduce((a, b) => Math.max(a, b), 0),
    members,
    covariances,
    substrate: prepared.substrate,
    substratesRead: prepared.substratesRead,
    substratesAssumed: prepared.substratesAssumed,
    doubtful: doubtful
      .map(({ n, ...rest }) => ({ swatchId: (prepared.swatches[n] as KnownSwatch).swatchId, ...rest }))
      .sort((one, other) => other.deltaE2000 - one.deltaE2000),
    residual,
    leftovers,
    mostLeftover,
    residualSwatchIds: residualRows.map((n) => (prepared.swatches[n] as KnownSwatch).swatchId),
    sets: [...new Set(mixtures.map((n) => setKey(dyesOf(table, n))))],
    calibration,
    largestHeld,
  };
}

const totalOf = (table: SampleTable, n: number): number => depthsOf(table, n).reduce((sum, d) => sum + d, 0);

/** The model with a few swatches more, at O(n²) a swatch: theory, noise and intervals stay as they are, what the new swatches
 *  show beyond theory is taken in. Null where that will not do and the whole must be learned first: a dye that it does not
 *  know, or more than a tenth as many as it has. A rule of our own over the model. */
export function modelWith(model: ColourModel, more: readonly KnownSwatch[]): ColourModel | null {
  const dyed = more.filter((swatch) => swatch.components.some((c) => c.depthPct > 0));
  const room = Math.min(MAX_RESIDUAL_POINTS + ROOM_FOR_NEW - model.residual.points.length, model.swatchCount / 10);
  if (dyed.length === 0 || dyed.length > Math.max(1, room)) return null;
  const placeOf = new Map(model.dyes.map(({ dyeId }, i) => [dyeId, i]));
  const prepared = prepare(dyed, model.conditions);
  if (prepared.dyeIds.some((dyeId) => !placeOf.has(dyeId))) return null;
  // The dyes of the few stand at other places than in the model.
  const places = prepared.dyeIds.map((dyeId) => placeOf.get(dyeId) as number);
  const table: SampleTable = {
    ...prepared.table,
    dye: prepared.table.dye.map((dye) => places[dye] as number),
    dyeCount: model.dyes.length,
  };
  const rows = Array.from({ length: table.count }, (_, n) => n);
  const theories = new Theories(model.members, model.conditions);
  const targets = labsUnder(prepared.swatches, table, theories.lights);
  const added = leftoversOf(table, rows, theories, targets);
  const leftovers = model.leftovers.map((before, light) => {
    const out = new Float64Array(before.length + (added[light] as Float64Array).length);
    out.set(before);
    out.set(cut(added[light] as Float64Array, model.mostLeftover), before.length);
    return out;
  });
  const points = rows.map((n) => pointOf(table, n, theories));
  const mixtures = rows.filter((n) => dyesOf(table, n).length > 1);
  return {
    ...model,
    dyes: model.dyes.map((known, dye) => {
      const now = knowledgeOf(table, dye, rows);
      return {
        dyeId: known.dyeId,
        alone: known.alone + now.alone,
        mixed: known.mixed + now.mixed,
        minDepthPct: Math.min(known.minDepthPct, now.minDepthPct),
        maxDepthPct: Math.max(known.maxDepthPct, now.maxDepthPct),
      };
    }),
    swatchCount: model.swatchCount + table.count,
    mixtureCount: model.mixtureCount + mixtures.length,
    spectrumCount: model.spectrumCount + table.hasBands.reduce((sum, has) => sum + has, 0),
    newSwatches: model.newSwatches + table.count,
    maxTotalDepthPct: rows.map((n) => totalOf(table, n)).reduce((a, b) => Math.max(a, b), model.maxTotalDepthPct),
    residual: residualWith(model.residual, points, leftovers),
    leftovers,
    residualSwatchIds: [...model.residualSwatchIds, ...prepared.swatches.map((s) => s.swatchId)],
    sets: [...new Set([...model.sets, ...mixtures.map((n) => setKey(dyesOf(table, n)))])],
  };
}

function knowledgeOf(table: SampleTable, dye: number, rows: readonly number[]): Omit<DyeKnowledge, 'dyeId'> {
  const known = { alone: 0, mixed: 0, minDepthPct: Number.POSITIVE_INFINITY, maxDepthPct: 0 };
  for (const n of rows) {
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

/** Every geometry that the swatches speak for, learned from all of them, the likeliest first. Weights come of the evidence for
 *  each on at most 300 swatches; those that hardly count are left out. */
function weighedMembers(table: SampleTable, conditions: Conditions, many: boolean): Member[] {
  const typicalDepthPct = typicalDepths(table);
  const part = partToWeigh(table);
  const fitted = GEOMETRIES.map((geometry) => {
    const prior = priorsOf(geometry, true)[0] as Prior;
    const typical = part.dyeCount === table.dyeCount ? typicalDepthPct : typicalDepths(part);
    const member = fitWithNoise({ samples: part, prior, conditions, typicalDepthPct: typical, maxSteps: 50 });
    return { geometry, member, ln: TRUST_IN_EVIDENCE * lnEvidence(part, member, conditions) };
  });
  const best = Math.max(...fitted.map(({ ln }) => ln));
  const sum = fitted.reduce((total, { ln }) => total + Math.exp(ln - best), 0);
  const worth = fitted
    .map((one) => ({ ...one, weight: Math.exp(one.ln - best) / sum }))
    .filter(
      ({ weight }, _, all) => weight >= (many ? LEAST_OF_BEST * Math.max(...all.map((w) => w.weight)) : LEAST_WEIGHT),
    )
    .sort((one, other) => other.weight - one.weight);
  const whole = worth.reduce((total, { weight }) => total + weight, 0);
  return worth.flatMap(({ geometry, member, weight }) => {
    const priors = priorsOf(geometry, many);
    // A layer of colourant keeps the noise that was set: learning it made no layer better that was measured.
    const isLayer = geometry === 'layer';
    return priors.map((prior): Member => {
      const fit = { samples: table, prior, conditions, typicalDepthPct };
      const begun = part.dyeCount === table.dyeCount ? member : undefined;
      const own = isLayer
        ? fitMember({ ...fit, maxSteps: 50 })
        : part === table
          ? member
          : fitMember({
              ...fit,
              noise: member.noise,
              from: (begun ?? fitMember({ ...fit, maxSteps: 12, leastGain: 0.01 })).parameters,
              maxSteps: 20,
            });
      return { ...own, weight: weight / whole / priors.length };
    });
  });
}

/** Swatches that geometry and noise are learned from: of many, an even part; of many dyes, those of the dyes used most, since the
 *  time grows with the cube of their number. */
function partToWeigh(table: SampleTable): SampleTable {
  const few = table.dyeCount > MOST_DYES_WEIGHED ? amongDyes(table, mostUsed(table)) : table;
  const chosen = few.count >= LEAST_WEIGHED ? few : table;
  return chosen.count > MOST_WEIGHED ? tableOf(chosen, evenly(chosen.count, MOST_WEIGHED)) : chosen;
}

function mostUsed(table: SampleTable): number[] {
  const uses = new Float64Array(table.dyeCount);
  for (const dye of table.dye) uses[dye] = (uses[dye] as number) + 1;
  return Array.from(uses.keys())
    .sort((one, other) => (uses[other] as number) - (uses[one] as number) || one - other)
    .slice(0, DYES_WEIGHED)
    .sort((one, other) => one - other);
}

/** The swatches of these dyes alone, which take the places of all dyes. */
function amongDyes(table: SampleTable, dyes: readonly number[]): SampleTable {
  const placeOf = new Map(dyes.map((dye, place) => [dye, place]));
  const rows = Array.from({ length: table.count }, (_, n) => n);
  const part = tableOf(
    table,
    rows.filter((n) => dyesOf(table, n).every((dye) => placeOf.has(dye))),
  );
  return { ...part, dye: part.dye.map((dye) => placeOf.get(dye) as number), dyeCount: dyes.length };
}

/** What the swatches look like under each light, three a swatch: as read under the model's own, by their curve under the others;
 *  NaN where a swatch has none. */
function labsUnder(
  swatches: readonly KnownSwatch[],
  table: SampleTable,
  lights: readonly Conditions[],
): Float64Array[] {
  return lights.map((conditions, light) => {
    if (light === 0) return table.lab;
    const out = new Float64Array(3 * table.count).fill(Number.NaN);
    for (const [n, { spectrum }] of swatches.entries()) {
      if (spectrum === undefined) continue;
      const { L, a, b } = labFromSpectrum({ spectrum, conditions });
      out.set([L, a, b], 3 * n);
    }
    return out;
  });
}

const pointOf = (table: SampleTable, n: number, theories: Theories): RecipePoint => {
  const [dyes, depths] = [dyesOf(table, n), depthsOf(table, n)];
  return theories.point(dyes, depths, theories.of(dyes, depths, substrateOf(table, n)).lab);
};

/** The most that one card may say. */
function mostOf(leftovers: Float64Array): number {
  const sizes = leftovers.map(Math.abs).sort();
  const { times, least, most } = MOST_LEFTOVER;
  return Math.max(least, Math.min(most, times * (sizes[sizes.length >> 1] as number)));
}

const cut = (leftovers: Float64Array, most: number): Float64Array =>
  leftovers.map((left) => Math.max(-most, Math.min(most, left)));

/** Seen less theory under each light. Where there is no curve, what is left over under the model's own light stands in: it is
 *  nearer than an adaptation. */
function leftoversOf(
  table: SampleTable,
  rows: readonly number[],
  theories: Theories,
  targets: readonly Float64Array[],
): Float64Array[] {
  const all = theories.lights.map((_, light) => light);
  const out = all.map(() => new Float64Array(3 * rows.length));
  for (const [i, n] of rows.entries()) {
    const { lab } = theories.of(dyesOf(table, n), depthsOf(table, n), substrateOf(table, n), all);
    for (const light of all) {
      for (let c = 0; c < 3; c += 1) {
        const seen = (targets[light] as Float64Array)[3 * n + c] as number;
        const left = seen - (lab[3 * light + c] as number);
        const own = (out[0] as Float64Array)[3 * i + c] as number;
        (out[light] as Float64Array)[3 * i + c] = Number.isNaN(left) ? own : left;
      }
    }
  }
  return out;
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

interface Fold {
  held: number[];
  /** The strata that it speaks of. */
  strata: readonly Stratum[];
}

/** Single swatches in turn, whole sets of dyes in turn, and the palest and the deepest swatches of all ladders at once. */
function foldsOf(table: SampleTable): Fold[] {
  const order = shuffled(table.count);
  const folds: Fold[] = Array.from({ length: FOLDS }, (_, fold) => ({
    held: order.filter((_, i) => i % FOLDS === fold),
    strata: ['alone', 'together'],
  }));
  const keys = order.map((_, n) => setKey(dyesOf(table, n)));
  const sets = [...new Set(keys.filter((_, n) => dyesOf(table, n).length > 1))].sort();
  const setOrder = shuffled(sets.length);
  for (let fold = 0; fold < Math.min(FOLDS, sets.length); fold += 1) {
    const heldSets = new Set(setOrder.filter((_, i) => i % FOLDS === fold).map((i) => sets[i]));
    folds.push({ held: keys.flatMap((key, n) => (heldSets.has(key) ? [n] : [])), strata: ['apart'] });
  }
  for (const end of ['pale', 'deep'] as const) {
    const held = endsOf(table, end);
    if (held.length > 0) folds.push({ held, strata: [end] });
  }
  return folds;
}

/** The swatches at one end of every ladder of at least four depths: those beyond the last depth but one of a dye alone. */
function endsOf(table: SampleTable, end: 'pale' | 'deep'): number[] {
  const limits = Array.from({ length: table.dyeCount }, (_, dye) => {
    const depths = new Set<number>();
    for (let n = 0; n < table.count; n += 1) {
      if (dyesOf(table, n).length === 1 && dyesOf(table, n)[0] === dye) depths.add(depthsOf(table, n)[0] as number);
    }
    const sorted = [...depths].sort((x, y) => (end === 'pale' ? x - y : y - x));
    return sorted.length < 4 ? undefined : (sorted[1] as number);
  });
  const isBeyond = (n: number) =>
    dyesOf(table, n).some((dye, j) => {
      const limit = limits[dye];
      const depth = depthsOf(table, n)[j] as number;
      return limit !== undefined && (end === 'pale' ? depth < limit : depth > limit);
    });
  const rows = Array.from({ length: table.count }, (_, n) => n);
  const held = rows.filter(isBeyond);
  return held.length <= 0.4 * table.count ? held : held.filter((n) => dyesOf(table, n).length === 1);
}

interface Calibrated {
  /** For each light. */
  calibration: Calibration[];
  doubtful: { n: number; expected: Lab; deltaE2000: number }[];
  /** Dyes in the largest recipe that was held out as a set. */
  largestHeld: number;
}

function calibrate(input: {
  table: SampleTable;
  conditions: Conditions;
  theories: Theories;
  targets: readonly Float64Array[];
  residual: Residual;
  residualRows: readonly number[];
  mostLeftover: number;
}): Calibrated {
  const { table, conditions, theories, targets, residual, residualRows, mostLeftover } = input;
  const lights = theories.lights.map((_, light) => light);
  const books = lights.map(() => new ScoreBook());
  const systems = theories.members.map((member) => normalSystemOf(table, member, conditions));
  const holdOut = new BlockHoldOut(residual);
  const open = openOf(table, residualRows, theories);
  const residualAt = new Map(residualRows.map((n, i) => [n, i]));
  const keys = Array.from({ length: table.count }, (_, n) => setKey(dyesOf(table, n)));
  const held: { n: number; stratum: Stratum; expected: Lab; deltaE2000: number; scale: number }[] = [];
  let largestHeld = 1;
  for (const fold of foldsOf(table)) {
    const out = new Set(fold.held);
    const kept = Array.from({ length: table.count }, (_, n) => n).filter((n) => !out.has(n));
    if (kept.length < 3) continue;
    const without = theoriesWithout(table, fold.held, { theories, systems, conditions });
    const ranges = Array.from(theories.typical, (_, dye) => knowledgeOf(table, dye, kept));
    const keptSets = new Set(kept.map((n) => keys[n]));
    const asked = fold.held.filter((n) => residualAt.has(n));
    if (asked.length === 0) continue;
    const leftovers = leftoversOf(table, residualRows, without, targets).map((left) => cut(left, mostLeftover));
    const { means, variance } = holdOut.without(
      asked.map((n) => residualAt.get(n) as number),
      leftovers,
    );
    // Fewer swatches leave the parameters the more open.
    const opener = table.count / kept.length;
    for (const [i, n] of asked.entries()) {
      const own = dyesOf(table, n);
      if (!own.every((dye) => (ranges[dye] as DepthRange).maxDepthPct > 0)) continue;
      const familiarity: Familiarity = own.length === 1 ? 'alone' : keptSets.has(keys[n]) ? 'together' : 'apart';
      const stratum =
        fold.strata.length === 1 && fold.strata[0] !== 'apart' ? (fold.strata[0] as Stratum) : familiarity;
      if (!fold.strata.includes(stratum)) continue;
      if (stratum === 'apart') largestHeld = Math.max(largestHeld, own.length);
      const theory = without.of(own, depthsOf(table, n), substrateOf(table, n), lights);
      const spot = open[residualAt.get(n) as number] as Float64Array;
      for (const light of lights) {
        const target = (targets[light] as Float64Array).subarray(3 * n, 3 * n + 3) as unknown as [
          number,
          number,
          number,
        ];
        if (Number.isNaN(target[0])) continue;
        const depth = without.depthVariance(own, depthsOf(table, n), substrateOf(table, n), ranges, light);
        const lab = new Float64Array(3);
        const scale = new Float64Array(3);
        for (let c = 0; c < 3; c += 1) {
          lab[c] = (theory.lab[3 * light + c] as number) + ((means[light] as Float64Array)[3 * i + c] as number);
          scale[c] = Math.sqrt(
            (variance[i] as number) +
              (theory.spread[3 * light + c] as number) +
              opener * (spot[3 * light + c] as number) +
              (depth[c] as number),
          );
        }
        const [L, a, b] = lab as unknown as [number, number, number];
        const deltaE2000 = deltaE2000Of(L, a, b, ...target);
        const whole = deltaEScale(lab, scale);
        (books[light] as ScoreBook).add(stratum, {
          L: Math.abs(target[0] - L) / (scale[0] as number),
          a: Math.abs(target[1] - a) / (scale[1] as number),
          b: Math.abs(target[2] - b) / (scale[2] as number),
          deltaE: deltaE2000 / whole,
        });
        if (light === 0) held.push({ n, stratum, expected: { L, a, b }, deltaE2000, scale: whole });
      }
    }
  }
  const [own, ...others] = books.map((book) => book.calibration()) as [Calibration, ...Calibration[]];
  const hasCurves = table.hasBands.some((has) => has === 1);
  const doubtful = held.filter(
    ({ stratum, deltaE2000, scale }) =>
      (stratum === 'alone' || stratum === 'together') &&
      deltaE2000 > Math.max(DOUBTFUL_LEAST, DOUBTFUL_TIMES * scale * own[stratum].deltaE),
  );
  return {
    calibration: [own, ...others.map((one) => (hasCurves ? one : widened(own, WITHOUT_CURVES)))],
    doubtful: doubtful.map(({ n, expected, deltaE2000 }) => ({ n, expected, deltaE2000 })),
    largestHeld,
  };
}

/** How far the parameters leave each swatch open: variances for each light, three channels each. */
function openOf(table: SampleTable, rows: readonly number[], theories: Theories): Float64Array[] {
  return rows.map((n) => {
    const out = new Float64Array(3 * theories.lights.length);
    for (const light of theories.lights.keys()) {
      out.set(
        theories.parameterVariance(dyesOf(table, n), depthsOf(table, n), substrateOf(table, n), light),
        3 * light,
      );
    }
    return out;
  });
}

function theoriesWithout(
  table: SampleTable,
  rows: readonly number[],
  of: { theories: Theories; systems: readonly NormalSystem[]; conditions: Conditions },
): Theories {
  const { theories, systems, conditions } = of;
  const members = theories.members.map((member, m) =>
    memberWithout({ samples: table, rows, member, whole: systems[m] as NormalSystem, conditions }),
  );
  return new Theories(members, conditions);
}
