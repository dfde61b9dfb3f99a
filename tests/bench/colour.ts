import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { deltaE2000, deltaE2000Of, deltaE2000Steps, deltaECmc, type Lab } from '../../server/calc/colour/deltaE.ts';
import { D50_2, D65_10 } from '../../server/calc/colour/reading.ts';
import { srgbFromLab } from '../../server/calc/colour/spaces.ts';
import { abridgedWeights, labFromSpectrum, tristimulusWeights } from '../../server/calc/colour/spectra.ts';
import { greyScaleChange } from '../../server/calc/colour/tolerance.ts';
import { learnModel } from '../../server/calc/match/learn.ts';
import { colourIndex, nearestReadings } from '../../server/calc/match/nearest.ts';
import { type ColourModel, predictColour } from '../../server/calc/match/predict.ts';
import { proposeRecipes } from '../../server/calc/match/propose.ts';
import { CHART_24 } from '../reference/chart24.ts';
import { CIEDE2000_PAIRS, CIEDE2000_STEPS } from '../reference/ciede2000.ts';
import {
  CIE_WHITES,
  E308_A_10DEG_10NM,
  E308_A_10DEG_20NM,
  E308_D65_2DEG_20NM,
} from '../reference/cieWhitesAndWeights.ts';
import { CMC_PAIRS } from '../reference/cmc.ts';
import { GREY_SCALE_CHANGES } from '../reference/greyScale.ts';
import { seededRandom } from '../support/syntheticCloth.ts';
import {
  type Channels,
  type Learner,
  labChannels,
  nearestNeighbour,
  singleConstant,
  spectralChannels,
  twoConstant,
  weightedKs,
} from './baselines.ts';
import { LAWS } from './clothWorlds.ts';
import { judgeCloth } from './judgeCloth.ts';
import { judgeSampling } from './judgeSampling.ts';
import { asSwatches, type MeasuredSample, type MeasuredSet, readMixtures } from './measuredMixtures.ts';

/* npm run bench:colour -- --data FOLDER
   FOLDER holds the measured sets (mixtures/, textiles/, photos/), which are read in place. Everything that is "out of sample"
   was never in the fit: the model of each fold is learned without the fold, its intervals too. Nothing is tuned here.

   npm run bench:colour -- --worlds small [--seeds 1,2] [--laws single,shift] [--readers spectra,phone]
   Invented cloths of six laws (judgeCloth.ts), which need no folder. `--worlds full` asks every set of every reader.
   npm run bench:colour -- --sampling 20 [--seeds 1,2] [--laws single,shift]
   What to sample next, beside so many designs by lot and one that fills the space (judgeSampling.ts). */

const { values } = parseArgs({
  options: {
    data: { type: 'string' },
    quick: { type: 'boolean', default: false },
    worlds: { type: 'string' },
    seeds: { type: 'string', default: '1,2' },
    laws: { type: 'string', default: LAWS.join(',') },
    readers: { type: 'string' },
    sampling: { type: 'string' },
  },
});
if (values.sampling !== undefined) {
  judgeSampling({
    seeds: values.seeds.split(',').map(Number),
    laws: LAWS.filter((law) => values.laws.split(',').includes(law)),
    lots: Number(values.sampling),
  });
  if (values.data === undefined && values.worlds === undefined) process.exit(0);
}
if (values.worlds !== undefined) {
  judgeCloth({
    size: values.worlds === 'full' ? 'full' : 'small',
    seeds: values.seeds.split(',').map(Number),
    laws: LAWS.filter((law) => values.laws.split(',').includes(law)),
    readers: values.readers?.split(','),
  });
  if (values.data === undefined) process.exit(0);
}
const dataDir = values.data;
if (dataDir === undefined || !existsSync(join(dataDir, 'mixtures', 'watercolour-singles.csv'))) {
  console.error(
    dataDir === undefined
      ? 'Say where the measured sets lie: npm run bench:colour -- --data FOLDER'
      : `There are no measured sets in ${dataDir}: mixtures/watercolour-singles.csv is missing. Nothing was measured.`,
  );
  process.exit(2);
}

const labOf = ([L, a, b]: readonly [number, number, number]): Lab => ({ L, a, b });
const quantile = (list: readonly number[], p: number): number => {
  const sorted = [...list].sort((a, b) => a - b);
  const at = (sorted.length - 1) * p;
  const low = Math.floor(at);
  const high = Math.ceil(at);
  return (sorted[low] as number) + (at - low) * ((sorted[high] as number) - (sorted[low] as number));
};
const say = (text: string) => console.log(text);
const title = (text: string) => say(`\n${text}\n${'-'.repeat(text.length)}`);

function publishedTables(): void {
  title('Worst error against each published table');
  const worst = (name: string, errors: readonly number[], note: string) =>
    say(`${name.padEnd(44)} ${Math.max(...errors.map(Math.abs)).toExponential(2)}   ${note}`);
  const pairs = CIEDE2000_PAIRS.map((row) => ({ ...row, one: labOf(row.standard), other: labOf(row.sample) }));
  worst(
    'CIEDE2000, 34 pairs, both ways',
    pairs.flatMap(({ one, other, deltaE2000: printed }) => [
      deltaE2000({ standard: one, sample: other }) - printed,
      deltaE2000({ standard: other, sample: one }) - printed,
    ]),
    '4 decimals printed: up to 5e-5',
  );
  worst(
    'CIEDE2000, intermediate quantities',
    pairs.flatMap(({ id, one, other }, i) => {
      const s = deltaE2000Steps({ standard: one, sample: other });
      const ours = [s.a1p, s.C1p, s.h1pDeg, s.a2p, s.C2p, s.h2pDeg, s.hBarpDeg, s.G, s.T, s.SL, s.SC, s.SH, s.RT];
      return id >= 21 && id <= 24 ? [] : ours.map((v, c) => v - (CIEDE2000_STEPS[i]?.[c] as number));
    }),
    '4 decimals; pairs 21–24 were printed from longer inputs',
  );
  worst(
    'CMC(l:c), 45 pairs of real colours',
    CMC_PAIRS.filter(({ id, decimals }) => (id < 45 || id > 47) && decimals >= 8).map(
      (row) =>
        deltaECmc({ standard: labOf(row.standard), sample: labOf(row.sample), l: row.l, c: row.c }) - row.deltaECmc,
    ),
    '8 decimals',
  );
  worst(
    'ISO 105-A05 ΔE_F, 18 pairs',
    GREY_SCALE_CHANGES.map(
      (row) => greyScaleChange({ reference: labOf(row.reference), test: labOf(row.test) }).deltaEF - row.deltaEF,
    ),
    '4 decimals, independent script',
  );
  worst(
    '24-patch chart, Lab to sRGB (8-bit units)',
    CHART_24.flatMap((row) => {
      const { srgbExact } = srgbFromLab({ lab: labOf(row.labAfter2014), conditions: D50_2 });
      return [srgbExact.r, srgbExact.g, srgbExact.b].map((v, c) => 255 * v - (row.srgb8AfterLab[c] as number));
    }),
    'at most 0.05',
  );
  const chart = CHART_24.map((row) =>
    deltaE2000({
      standard: labOf(row.labBefore2014),
      sample: labFromSpectrum({
        spectrum: { startNm: 380, stepNm: 10, reflectance: row.reflectance },
        conditions: D50_2,
      }),
    }),
  );
  say(
    `${'24-patch chart, spectra against its Lab'.padEnd(44)} median ${quantile(chart, 0.5).toFixed(2)}, worst ${quantile(chart, 1).toFixed(2)}   chart to chart, not arithmetic`,
  );
  worst(
    'White points, 5 nm, X and Z',
    CIE_WHITES.flatMap((row) => {
      const { white } = tristimulusWeights({ conditions: row, startNm: 360, stepNm: 5, count: 85 });
      return [white.X - row.X, white.Z - row.Z];
    }),
    'at most 0.02',
  );
  for (const [name, conditions, stepNm, table] of [
    ['ASTM E308 weights A/10°, 10 nm', { illuminant: 'A', observerDeg: 10 }, 10, E308_A_10DEG_10NM],
    ['ASTM E308 weights A/10°, 20 nm', { illuminant: 'A', observerDeg: 10 }, 20, E308_A_10DEG_20NM],
    ['ASTM E308 weights D65/2°, 20 nm', { illuminant: 'D65', observerDeg: 2 }, 20, E308_D65_2DEG_20NM],
  ] as const) {
    const weights = abridgedWeights({ conditions, stepNm });
    worst(
      name,
      table.flatMap(([nm, X, Y, Z]) => {
        const i = (nm - 360) / stepNm;
        if (i >= weights.X.length) return [];
        return [(weights.X[i] as number) - X, (weights.Y[i] as number) - Y, (weights.Z[i] as number) - Z];
      }),
      'from 5 nm tables, where the standard has 1 nm',
    );
  }
}

interface Split {
  known: MeasuredSample[];
  asked: MeasuredSample[];
}

const pairOf = (sample: MeasuredSample) =>
  sample.components
    .map((c) => c.dyeId)
    .sort()
    .join('+');

function shuffle<T>(items: readonly T[], random: () => number): T[] {
  const out = [...items];
  for (let i = out.length - 1; i > 0; i -= 1) {
    const j = Math.floor(random() * (i + 1));
    [out[i], out[j]] = [out[j] as T, out[i] as T];
  }
  return out;
}

function splitsOf(set: MeasuredSet): { name: string; splits: Split[] }[] {
  const random = seededRandom(2026);
  const mixed = shuffle(set.mixtures, random);
  const few = (count: number, times: number): Split[] =>
    Array.from({ length: times }, () => {
      const order = shuffle(set.mixtures, random);
      return { known: [...set.singles, ...order.slice(0, count)], asked: order.slice(count) };
    });
  const byMixture = Array.from({ length: 5 }, (_, fold) => ({
    known: [...set.singles, ...mixed.filter((_, i) => i % 5 !== fold)],
    asked: mixed.filter((_, i) => i % 5 === fold),
  }));
  const pairs = shuffle([...new Set(set.mixtures.map(pairOf))].sort(), random);
  const byPair = Array.from({ length: 5 }, (_, fold) => {
    const held = new Set(pairs.filter((_, i) => i % 5 === fold));
    return {
      known: [...set.singles, ...set.mixtures.filter((m) => !held.has(pairOf(m)))],
      asked: set.mixtures.filter((m) => held.has(pairOf(m))),
    };
  });
  return [
    { name: 'single dyes alone', splits: few(0, 1) },
    { name: 'and 20 mixtures', splits: few(20, 3) },
    { name: 'and 50 mixtures', splits: few(50, 3) },
    { name: 'and 100 mixtures', splits: few(100, 2) },
    { name: 'and 200 mixtures', splits: few(200, 2) },
    { name: 'all, leave mixtures out', splits: byMixture },
    { name: 'all, leave pairs out', splits: byPair },
  ];
}

function predictions(set: MeasuredSet): void {
  title('Prediction out of sample (CIEDE2000, D65/10°): median / 90th percentile / worst');
  say(
    `${set.singles.length} single dyes and ${set.mixtures.length} mixtures of two; 5 folds, or random draws of mixtures.`,
  );
  say(
    'The few fixed weights of our model were settled by cross-validation on this same set: its figures are a little kind.',
  );
  say('Layers of watercolour on paper, never three together: no promise for cloth.');
  const columns: { name: string; learner?: (channels: Channels) => Learner }[] = [
    { name: 'nearest', learner: () => nearestNeighbour },
    { name: 'weighted K/S', learner: weightedKs },
    { name: '1-constant', learner: singleConstant },
    { name: '2-constant', learner: twoConstant },
    { name: 'ours' },
  ];
  const coverage: string[] = [];
  for (const { kind, channels } of [
    { kind: 'spectra', channels: spectralChannels },
    { kind: 'Lab alone', channels: labChannels },
  ]) {
    say(`\n${kind.padEnd(25)} ${columns.map(({ name }) => name.padEnd(19)).join(' ')}`);
    for (const { name, splits } of splitsOf(set)) {
      const cells = columns.map(({ learner }) => {
        const errors: number[] = [];
        if (learner !== undefined) {
          for (const { known, asked } of splits) {
            const predict = learner(channels)(set, known);
            for (const sample of asked) errors.push(deltaE2000({ standard: sample.lab, sample: predict(sample) }));
          }
        } else {
          const { errors: own, line } = ours(set, splits, kind === 'spectra');
          errors.push(...own);
          coverage.push(`${kind.padEnd(10)} ${name.padEnd(25)} ${line}`);
        }
        return `${quantile(errors, 0.5).toFixed(2)} / ${quantile(errors, 0.9).toFixed(2)} / ${quantile(errors, 1).toFixed(1)}`.padEnd(
          19,
        );
      });
      say(`${name.padEnd(25)} ${cells.join(' ')}`);
    }
  }
  title('Stated 90 % intervals: share that held what was measured, and their width');
  for (const line of coverage) say(line);
}

function ours(set: MeasuredSet, splits: readonly Split[], withSpectra: boolean): { errors: number[]; line: string } {
  const errors: number[] = [];
  const widths: number[] = [];
  let held = 0;
  let heldAxes = [0, 0, 0];
  let noIdea = 0;
  let learnMs = 0;
  for (const { known, asked } of splits) {
    const start = performance.now();
    const model = learnModel({ swatches: asSwatches(set, known, withSpectra), conditions: D65_10 });
    learnMs += performance.now() - start;
    for (const { components, lab } of asked) {
      const prediction = predictColour({ model, components });
      if (!prediction.known) {
        noIdea += 1;
        continue;
      }
      const off = deltaE2000({ standard: lab, sample: prediction.lab });
      errors.push(off);
      widths.push(prediction.deltaE90);
      if (off <= prediction.deltaE90) held += 1;
      const axes = [prediction.interval90.L, prediction.interval90.a, prediction.interval90.b];
      heldAxes = heldAxes.map((count, i) => {
        const [low, high] = axes[i] as [number, number];
        const seen = [lab.L, lab.a, lab.b][i] as number;
        return count + (seen >= low && seen <= high ? 1 : 0);
      });
    }
  }
  const percent = (count: number) => `${((100 * count) / errors.length).toFixed(0)} %`;
  const [L, a, b] = heldAxes as [number, number, number];
  const line = `ΔE radius ${percent(held)} (median ±${quantile(widths, 0.5).toFixed(1)})   L* ${percent(L)}  a* ${percent(a)}  b* ${percent(b)}   "no idea" ${noIdea}   learned in ${(learnMs / splits.length / 1000).toFixed(1)} s`;
  return { errors, line };
}

function times(set: MeasuredSet): void {
  title('Times (median / 80th percentile)');
  const random = seededRandom(7);
  const between = (low: number, high: number) => low + (high - low) * random();
  for (const count of [1000, 10_000, 100_000]) {
    const column = (low: number, high: number) => Float64Array.from({ length: count }, () => between(low, high));
    const index = colourIndex({ L: column(15, 95), a: column(-50, 60), b: column(-55, 75) });
    for (const formula of [{ name: 'deltaE2000' }, { name: 'deltaECmc', l: 2, c: 1 }] as const) {
      const ms: number[] = [];
      for (let i = 0; i < 200; i += 1) {
        const target = { L: between(15, 95), a: between(-50, 60), b: between(-55, 75) };
        const start = performance.now();
        nearestReadings({ index, target, formula, count: 20 });
        ms.push(performance.now() - start);
      }
      say(
        `nearest 20 of ${String(count).padStart(6)} by ${formula.name.padEnd(10)} ${quantile(ms, 0.5).toFixed(3)} / ${quantile(ms, 0.8).toFixed(3)} ms`,
      );
    }
    if (count === 100_000) {
      const start = performance.now();
      let least = Number.POSITIVE_INFINITY;
      for (let i = 0; i < count; i += 1) {
        const d = deltaE2000Of(50, 10, 10, index.L[i] as number, index.a[i] as number, index.b[i] as number);
        if (d < least) least = d;
      }
      say(
        `trying all ${count} once, for comparison: ${(performance.now() - start).toFixed(1)} ms (least ${least.toFixed(3)})`,
      );
    }
  }
  for (const count of values.quick ? [200] : [200, 1000]) {
    const { model, seconds } = bigModel(count);
    const ms: number[] = [];
    for (let i = 0; i < 20; i += 1) {
      const target = { L: between(25, 80), a: between(-40, 50), b: between(-40, 60) };
      const start = performance.now();
      proposeRecipes({
        model,
        target,
        allowed: model.dyes.map(({ dyeId }) => ({ dyeId, minDepthPct: 0.01, maxDepthPct: 4 })),
        maxDyes: 4,
        count: 8,
      });
      ms.push(performance.now() - start);
    }
    say(
      `proposals of up to 4 of ${model.dyes.length} dyes from ${count} swatches ${quantile(ms, 0.5).toFixed(0)} / ${quantile(ms, 0.8).toFixed(0)} ms; learned in ${seconds.toFixed(1)} s`,
    );
  }
  const start = performance.now();
  const model = learnModel({ swatches: asSwatches(set, [...set.singles, ...set.mixtures], true), conditions: D65_10 });
  say(
    `the whole measured set (${model.swatchCount} samples, ${model.dyes.length} dyes) learned in ${((performance.now() - start) / 1000).toFixed(1)} s`,
  );
}

/** Twenty dyes of invented colours on `count` swatches: for the clock alone. */
function bigModel(count: number): { model: ColourModel; seconds: number } {
  const random = seededRandom(99);
  const dyes = Array.from({ length: 20 }, (_, i) => ({
    dyeId: i + 1,
    hue: (2 * Math.PI * i) / 20,
    C: 30 + 40 * random(),
  }));
  const swatches = Array.from({ length: count }, (_, n) => {
    const picked = shuffle(dyes, random).slice(0, n < 100 ? 1 : 2 + (n % 2));
    const components = picked.map(({ dyeId }) => ({ dyeId, depthPct: 0.1 + 2 * random() }));
    const total = components.reduce((sum, c) => sum + c.depthPct, 0);
    const strength = 1 - Math.exp(-total);
    const mean = (f: (dye: (typeof dyes)[number]) => number) =>
      picked.reduce((sum, dye, i) => sum + ((components[i]?.depthPct as number) / total) * f(dye), 0);
    return {
      swatchId: n,
      components,
      lab: {
        L: 93 - strength * 55,
        a: strength * mean(({ hue, C }) => C * Math.cos(hue)),
        b: strength * mean(({ hue, C }) => C * Math.sin(hue)),
      },
      substrate: { lab: { L: 93, a: 0, b: 3 } },
    };
  });
  const start = performance.now();
  const model = learnModel({ swatches, conditions: D65_10 });
  return { model, seconds: (performance.now() - start) / 1000 };
}

publishedTables();
const set = readMixtures(dataDir, (spectrum) => labFromSpectrum({ spectrum, conditions: D65_10 }));
predictions(set);
times(set);

// The photograph part stands in its own file; both are called here so that one command prints everything.
const photos = new URL('./photos.ts', import.meta.url);
if (existsSync(photos)) {
  const { benchPhotos } = (await import(photos.href)) as { benchPhotos: (dataDir: string) => Promise<void> };
  await benchPhotos(dataDir);
} else {
  say('\nPhotographs: not measured here yet.');
}
