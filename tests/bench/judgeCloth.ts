import { deltaE2000 } from '../../server/calc/colour/deltaE.ts';
import { type Conditions, conditionsInWords, D65_2, D65_10, type Lab } from '../../server/calc/colour/reading.ts';
import { labFromSpectrum } from '../../server/calc/colour/spectra.ts';
import { learnModel } from '../../server/calc/match/learn.ts';
import type { ColourModel, RecipeComponent } from '../../server/calc/match/predict.ts';
import { proposeRecipes } from '../../server/calc/match/propose.ts';
import { seededRandom } from '../support/syntheticCloth.ts';
import { told } from './askedUnder.ts';
import { labChannels, type Predictor, singleConstant, spectralChannelsFrom } from './baselines.ts';
import {
  anyRecipe,
  type ClothWorld,
  clothWorld,
  dyed,
  dyedSwatch,
  LAW_IN_WORDS,
  type Law,
  type Reader,
} from './clothWorlds.ts';
import type { MeasuredSample } from './measuredMixtures.ts';
import { quantile } from './runningService.ts';

/* What a model of dyeing is worth on invented cloths (clothWorlds.ts): recipes that were never dyed, against the same cloth
   without errors; the share of one more dyeing of each, errors and all, that lies within the stated ±; beside the plainest
   textbook formula. Every figure is the mean over worlds of their medians and 90th percentiles. */

const SIX_DEPTHS = [0.06, 0.15, 0.4, 0.9, 1.8, 3];
const THREE_DEPTHS = [0.06, 0.5, 3];
const UNDER_A: Conditions = { illuminant: 'A', observerDeg: 10 };
const UNDER_2: Conditions = D65_2;

interface KnownSet {
  name: string;
  depths: readonly number[];
  blends: number;
  reader: Reader;
}
const KNOWN_SETS: Record<'small' | 'full', readonly KnownSet[]> = {
  small: [
    { name: 'six depths', depths: SIX_DEPTHS, blends: 0, reader: 'spectra' },
    { name: '+ 10 blends', depths: SIX_DEPTHS, blends: 10, reader: 'spectra' },
    { name: '+ 45 blends', depths: SIX_DEPTHS, blends: 45, reader: 'spectra' },
    { name: 'six depths', depths: SIX_DEPTHS, blends: 0, reader: 'phone' },
  ],
  full: (['spectra', 'Lab', 'phone'] as const).flatMap((reader) => [
    { name: 'three depths', depths: THREE_DEPTHS, blends: 0, reader },
    { name: 'six depths', depths: SIX_DEPTHS, blends: 0, reader },
    { name: '+ 10 blends', depths: SIX_DEPTHS, blends: 10, reader },
    { name: '+ 45 blends', depths: SIX_DEPTHS, blends: 45, reader },
  ]),
};

/** What is asked: columns of the table. */
const QUESTIONS = [
  { name: '2 dyes', dyes: 2, low: 1, high: 1, under: D65_10 },
  { name: '3 dyes', dyes: 3, low: 1, high: 1, under: D65_10 },
  { name: '4 dyes', dyes: 4, low: 1, high: 1, under: D65_10 },
  { name: 'pale pair', dyes: 2, low: 0.5, high: 0.5, under: D65_10 },
  { name: 'deep', dyes: 1, low: 1.3, high: 1.3, under: D65_10 },
  { name: '3 under A', dyes: 3, low: 1, high: 1, under: UNDER_A },
  { name: '3 under 2°', dyes: 3, low: 1, high: 1, under: UNDER_2 },
] as const;
type Question = (typeof QUESTIONS)[number];
const ASKED_EACH = 24;

interface Score {
  law: Law;
  seed: number;
  set: KnownSet;
  question: Question;
  errors: number[];
  textbook: number[];
  held: number;
  widths: number[];
  noIdea: number;
}

const mean = (list: readonly number[]) => list.reduce((sum, v) => sum + v, 0) / list.length;
const pairOf = (errors: readonly number[][]) =>
  errors.some((e) => e.length === 0)
    ? '–'
    : `${mean(errors.map((e) => quantile(e, 0.5))).toFixed(2)}/${mean(errors.map((e) => quantile(e, 0.9))).toFixed(2)}`;

/** What a studio with these habits has dyed so far in this world. */
export function swatchesOf(world: ClothWorld, set: KnownSet, random: () => number): MeasuredSample[] {
  const ladder = world.dyeIds.flatMap((dyeId) => set.depths.map((depthPct) => [{ dyeId, depthPct }]));
  const blends = Array.from({ length: set.blends }, (_, i) =>
    anyRecipe({ world, dyes: 2 + (i % 2), lowPct: world.palestPct, highPct: world.deepestPct, random }),
  );
  return [...ladder, ...blends].map((components, i) => {
    const swatch = dyedSwatch({ world, swatchId: `w${i}`, components, reader: set.reader, random });
    return { id: `w${i}`, ...swatch, components: [...components], spectrum: swatch.seen };
  });
}

export const asKnown = (samples: readonly MeasuredSample[], set: Pick<KnownSet, 'reader'>, bare: MeasuredSample) =>
  samples.map(({ id, components, lab, spectrum }) => ({
    swatchId: id,
    components,
    lab,
    ...(set.reader === 'spectra' ? { spectrum } : {}),
    substrate: set.reader === 'spectra' ? { lab: bare.lab, spectrum: bare.spectrum } : { lab: bare.lab },
  }));

const recipesFor = (world: ClothWorld, question: Question, random: () => number): RecipeComponent[][] =>
  Array.from({ length: ASKED_EACH }, () => {
    const lowPct = question.low === question.high && question.high < 1 ? 0.5 * world.palestPct : world.palestPct;
    const highPct =
      question.high < 1 ? 0.5 * world.palestPct : question.low > 1 ? 1.3 * world.deepestPct : world.deepestPct;
    if (question.low > 1 || question.high < 1) {
      const depthPct = question.high < 1 ? lowPct : highPct;
      return anyRecipe({ world, dyes: question.dyes, lowPct: 1, highPct: 3, random }).map((c) => ({ ...c, depthPct }));
    }
    return anyRecipe({ world, dyes: question.dyes, lowPct, highPct, random });
  });

function bareOf(world: ClothWorld): MeasuredSample {
  const spectrum = world.exact([]);
  return { id: 'bare', components: [], spectrum, lab: labFromSpectrum({ spectrum, conditions: D65_10 }) };
}

function scoresOf(world: ClothWorld, set: KnownSet): { scores: Score[]; seconds: number } {
  const random = seededRandom(104_729 * world.seed + set.blends + 1000 * set.depths.length + set.reader.length);
  const samples = swatchesOf(world, set, random);
  const bare = bareOf(world);
  const began = performance.now();
  const model = learnModel({ swatches: asKnown(samples, set, bare), conditions: D65_10 });
  const seconds = (performance.now() - began) / 1000;
  const channels = set.reader === 'spectra' ? spectralChannelsFrom(400) : labChannels;
  const textbook = singleConstant(channels)({ substrate: bare, singles: [], mixtures: [] }, samples);
  return { seconds, scores: QUESTIONS.map((question) => asked(world, set, question, { model, textbook, random })) };
}

function asked(
  world: ClothWorld,
  set: KnownSet,
  question: Question,
  { model, textbook, random }: { model: ColourModel; textbook: Predictor; random: () => number },
): Score {
  const { under } = question;
  const score: Score = {
    law: world.law,
    seed: world.seed,
    set,
    question,
    errors: [],
    textbook: [],
    held: 0,
    widths: [],
    noIdea: 0,
  };
  const seenUnder = (spectrum: MeasuredSample['spectrum']): Lab => labFromSpectrum({ spectrum, conditions: under });
  for (const components of recipesFor(world, question, random)) {
    const exact = world.exact(components);
    const again = dyed(world, components, random);
    const answer = told({ model, components, under });
    if (under === D65_10) {
      const plain = textbook({ id: '', components, lab: bareOf(world).lab, spectrum: exact });
      score.textbook.push(deltaE2000({ standard: seenUnder(exact), sample: plain }));
    }
    if (!answer.known) {
      score.noIdea += 1;
      continue;
    }
    score.errors.push(deltaE2000({ standard: seenUnder(exact), sample: answer.lab }));
    score.widths.push(answer.deltaE90);
    if (deltaE2000({ standard: seenUnder(again), sample: answer.lab }) <= answer.deltaE90) score.held += 1;
  }
  return score;
}

const coverageOf = (one: Score) => one.held / Math.max(1, one.errors.length);

function cell(scores: readonly Score[]): string {
  const answered = scores.filter((s) => s.errors.length > 0);
  if (answered.length === 0) return 'no idea'.padEnd(34);
  const covered = answered.map(coverageOf);
  const width = mean(answered.map((s) => mean(s.widths)));
  const percent = (share: number) => `${(100 * share).toFixed(0)} %`;
  return `${pairOf(answered.map((s) => s.errors))} ±${width.toFixed(1)} ${percent(mean(covered))} (${percent(Math.min(...covered))})`.padEnd(
    34,
  );
}

const PROPOSALS_EACH = 8;

/** Recipes of at most three dyes for colours that the cloth can have: how far off they really come out, by the cloth's own law, and
 *  how many within what was predicted of them. The first proposal counts. */
function proposalsOn(world: ClothWorld, set: KnownSet): { off: number[]; held: number } {
  const random = seededRandom(4_001 * world.seed + set.blends);
  const bare = bareOf(world);
  const model = learnModel({ swatches: asKnown(swatchesOf(world, set, random), set, bare), conditions: D65_10 });
  const allowed = world.dyeIds.map((dyeId) => ({ dyeId, minDepthPct: 0.02, maxDepthPct: world.deepestPct }));
  const seen = (components: readonly RecipeComponent[]) =>
    labFromSpectrum({ spectrum: world.exact(components), conditions: D65_10 });
  const off: number[] = [];
  let held = 0;
  for (let i = 0; i < PROPOSALS_EACH; i += 1) {
    const target = seen(anyRecipe({ world, dyes: 3, lowPct: world.palestPct, highPct: world.deepestPct, random }));
    const [first] = proposeRecipes({ model, target, allowed, maxDyes: 3, count: 3 });
    if (first === undefined) continue;
    const came = seen(first.components);
    off.push(deltaE2000({ standard: target, sample: came }));
    if (deltaE2000({ standard: first.prediction.lab, sample: came }) <= first.prediction.deltaE90) held += 1;
  }
  return { off, held: held / off.length };
}

/** Prints the tables; `laws` and `seeds` say which worlds. */
export function judgeCloth(input: {
  size: 'small' | 'full';
  seeds: readonly number[];
  laws: readonly Law[];
  readers?: readonly string[] | undefined;
}): void {
  const worlds = input.laws.flatMap((law) => input.seeds.map((seed) => clothWorld({ law, seed })));
  const sets = KNOWN_SETS[input.size].filter((s) => input.readers === undefined || input.readers.includes(s.reader));
  const say = (text: string) => console.log(text);
  say(`\nInvented cloths: ${worlds.length} worlds, seeds ${input.seeds.join(', ')}`);
  for (const law of input.laws) say(`  ${law.padEnd(12)} ${LAW_IN_WORDS[law]}`);
  say(
    'Each cell: median/90th percentile of CIEDE2000, mean over worlds; ± as stated; re-dyeings within it (worst world).',
  );
  say(`${'known'.padEnd(24)} ${''.padEnd(10)} ${QUESTIONS.map((q) => q.name.padEnd(34)).join('')}`);
  const all: Score[] = [];
  let learnSeconds = 0;
  for (const set of sets) {
    const found = worlds.map((world) => scoresOf(world, set));
    learnSeconds += found.reduce((sum, f) => sum + f.seconds, 0);
    const scores = found.flatMap((f) => f.scores);
    all.push(...scores);
    const of = (question: Question) => scores.filter((s) => s.question === question);
    say(
      `${`${set.name}, ${set.reader}`.padEnd(24)} ${'model'.padEnd(10)} ${QUESTIONS.map((q) => cell(of(q))).join('')}`,
    );
    say(
      `${''.padEnd(24)} ${'textbook'.padEnd(10)} ${QUESTIONS.map((q) =>
        (q.under === D65_10 ? pairOf(of(q).map((s) => s.textbook)) : '').padEnd(34),
      ).join('')}`,
    );
  }
  say('\nBy law: 2 · 3 · 4 dyes of the model (textbook)');
  for (const set of sets) {
    for (const law of input.laws) {
      const of = (n: number) => all.filter((s) => s.set === set && s.law === law && s.question === QUESTIONS[n]);
      const both = [0, 1, 2].map((n) => {
        const covered = mean(of(n).map(coverageOf));
        return `${pairOf(of(n).map((s) => s.errors))} (${pairOf(of(n).map((s) => s.textbook))}) ${(100 * covered).toFixed(0)} %`;
      });
      say(`${`${set.name}, ${set.reader}`.padEnd(24)} ${law.padEnd(12)} ${both.join(' · ')}`);
    }
  }
  say('\nProposals of at most three dyes, the first of each: really off the target, and within the ± (worst world)');
  for (const set of sets) {
    const found = worlds.map((world) => proposalsOn(world, set));
    const held = found.map((f) => f.held);
    say(
      `${`${set.name}, ${set.reader}`.padEnd(24)} ${pairOf(found.map((f) => f.off))} ${(100 * mean(held)).toFixed(0)} % (${(100 * Math.min(...held)).toFixed(0)} %)`,
    );
  }
  const answered = all.filter((s) => s.errors.length > 0);
  const idle = all.reduce((sum, s) => sum + s.noIdea, 0);
  say(
    `\nCoverage over everything ${(100 * mean(answered.map(coverageOf))).toFixed(0)} %; "no idea" ${idle}; other light: ${conditionsInWords(UNDER_A)}, ${conditionsInWords(UNDER_2)}; learned in ${(learnSeconds / (sets.length * worlds.length)).toFixed(2)} s each`,
  );
}
