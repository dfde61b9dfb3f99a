import { createHash } from 'node:crypto';
import { type Conditions, conditionsInWords, conditionsOf, labOf, sameConditions } from '../calc/colour/reading.ts';
import { adaptLab } from '../calc/colour/spaces.ts';
import { labFromSpectrum, type Spectrum } from '../calc/colour/spectra.ts';
import type { ColourModel, DyeKnowledge, KnownSwatch, SubstrateReading } from '../calc/match/predict.ts';
import type { Db } from '../db/open.ts';
import { usableReadings } from '../readings/usableReadings.ts';
import { type MatchingAnswer, type MatchingQuestion, MatchingThread } from './matchingThread.ts';
import {
  type CurveRow,
  curvesOf,
  formulasOn,
  libraryStamp,
  type ReadSwatchRow,
  readSwatches,
  undyedOf,
} from './queries.ts';

/* One model for each kind of goods and method, learned from the studio's own swatches and kept in the answering thread. When its
   swatches have changed, the next question has it learned again, in a thread of its own and in the background: nobody waits for
   that. Until it is there the model from before answers. What has been added since it takes in at once where it can, which is quick
   but leaves theory and intervals as they were; and it says from how many swatches it is still learning. */

/** What a model knows, told without asking the thread that holds it. */
export interface LearnedKnowledge {
  conditions: Conditions;
  swatchCount: number;
  mixtureCount: number;
  spectrumCount: number;
  maxTotalDepthPct: number;
  dyes: DyeKnowledge[];
  undyedGoods: 'read' | 'assumed';
  /** Swatches of several colours, which say nothing about the colour of one recipe. */
  variegatedLeftOut: number;
  /** Swatches left out by even thinning, where there are more than a model can hold. */
  thinnedOut: number;
  /** Swatches whose readings were adapted from other conditions (Bradford), an estimate. */
  adapted: number;
  /** Swatches added, changed or put away since it was learned: it is still learning from them. */
  learningFrom: number;
  /** How many held-out swatches the intervals stand on. */
  calibratedOn: { alone: number; together: number; apart: number };
  doubtful: ColourModel['doubtful'];
}

export interface HeldModel {
  modelId: number;
  knowledge: LearnedKnowledge;
}

interface Material {
  swatches: KnownSwatch[];
  conditions: Conditions;
  told: Pick<LearnedKnowledge, 'variegatedLeftOut' | 'thinnedOut' | 'adapted' | 'undyedGoods'>;
}

/** What the library says now, against what the held model was learned from. */
interface Change {
  stamp: string;
  material: Material | null;
  fingerprint: string;
  marks: ReadonlyMap<number | string, string>;
  /** The new swatches where nothing else has changed; null otherwise. */
  added: KnownSwatch[] | null;
  /** Swatches added, changed or put away. */
  count: number;
}

interface Entry {
  stamp: string;
  fingerprint: string;
  held: HeldModel | null;
  /** A mark of every swatch that it was learned from. */
  marks: ReadonlyMap<number | string, string>;
  change: Change | null;
  takenIn: { fingerprint: string; done: Promise<HeldModel> } | null;
  learning: { fingerprint: string; done: Promise<HeldModel | null> } | null;
  usedAt: number;
}

/** Models held at once: a model of a thousand swatches takes some 12 MB. */
const MAX_MODELS = 6;
/** A model takes seconds at a thousand swatches, and the time grows with their number. */
const MAX_SWATCHES = 1500;

/** Answers kept of models; each is a few dozen recipes. */
const MAX_ANSWERS = 60;

const answers = new Map<string, Promise<MatchingAnswer<'lessons'>>>();
let shelves = new WeakMap<Db, Map<string, Entry>>();
let lastModelId = 0;
let uses = 0;
const learner = new MatchingThread({ restsAfterMs: 1_000, giveUpMs: 300_000 });
const backgroundLearner = new MatchingThread({ restsAfterMs: 1_000, giveUpMs: 900_000, inBackground: true });
const answerer = new MatchingThread({
  restsAfterMs: 900_000,
  giveUpMs: 60_000,
  // The models went with the thread: all are learned again.
  onLost: () => {
    shelves = new WeakMap();
  },
});

/** Whom the model is for. `atHand`: a person, who never waits where any model is held. `newest`: a program, which waits only where
 *  something that the model rests on was changed or put away; what was added it is told as far as it is known. `learned`: one who
 *  wants everything learned, whatever it takes. */
export type ModelWish = 'atHand' | 'newest' | 'learned';

/** The model of these goods and this method; null when there is no swatch to learn from. */
export async function modelOf(
  db: Db,
  goods: { fibreId: number; methodId: number },
  wish: ModelWish,
): Promise<HeldModel | null> {
  const shelf = shelves.get(db) ?? new Map<string, Entry>();
  shelves.set(db, shelf);
  const key = `${goods.fibreId} ${goods.methodId}`;
  const stamp = libraryStamp(db);
  const entry: Entry = shelf.get(key) ?? {
    stamp: '',
    fingerprint: '',
    held: null,
    marks: new Map(),
    change: null,
    takenIn: null,
    learning: null,
    usedAt: 0,
  };
  shelf.set(key, entry);
  entry.usedAt = ++uses;
  answerer.stayAwake();
  if (entry.stamp === stamp) return entry.held;
  const change = changeOf(db, entry, goods, stamp);
  if (change.fingerprint === entry.fingerprint) {
    entry.stamp = stamp;
    return entry.held;
  }
  const { held } = entry;
  // Where a library is thinned out, one swatch more changes which of the others are taken.
  const isThinned = (change.material?.told.thinnedOut ?? 0) > 0;
  const waits = held === null || wish === 'learned' || (wish === 'newest' && change.added === null && !isThinned);
  // One that is under way is let finish: the next question has the rest learned.
  const learning =
    entry.learning !== null && (!waits || entry.learning.fingerprint === change.fingerprint)
      ? entry.learning
      : learn(shelf, entry, change, waits ? learner : backgroundLearner);
  if (waits) return learning.done;
  return change.added === null ? stillLearning(held, change) : takenIn(entry, held, change, change.added);
}

function changeOf(db: Db, entry: Entry, goods: { fibreId: number; methodId: number }, stamp: string): Change {
  if (entry.change?.stamp === stamp) return entry.change;
  const material = materialOf(db, goods);
  const marks = new Map(material?.swatches.map((s) => [s.swatchId, digestOf(s)]));
  const fingerprint = material === null ? 'nothing' : digestOf([material.conditions, ...marks.values()]);
  const fresh = material?.swatches.filter((s) => !entry.marks.has(s.swatchId)) ?? [];
  const changed = [...entry.marks].filter(([swatchId, mark]) => marks.get(swatchId) !== mark).length;
  const isOnlyMore =
    material !== null &&
    changed === 0 &&
    entry.held !== null &&
    sameConditions(material.conditions, entry.held.knowledge.conditions);
  entry.change = {
    stamp,
    material,
    fingerprint,
    marks,
    added: isOnlyMore ? fresh : null,
    count: Math.max(1, fresh.length + changed),
  };
  return entry.change;
}

const stillLearning = ({ modelId, knowledge }: HeldModel, { count }: Change): HeldModel => ({
  modelId,
  knowledge: { ...knowledge, learningFrom: count },
});

/** The held model with the new swatches, as far as it can take them in without being learned anew. */
function takenIn(entry: Entry, held: HeldModel, change: Change, swatches: readonly KnownSwatch[]): Promise<HeldModel> {
  if (entry.takenIn?.fingerprint === change.fingerprint) return entry.takenIn.done;
  const before = entry.takenIn;
  const asModelId = ++lastModelId;
  const still = stillLearning(held, change);
  const done = answerer
    .ask<'takeIn'>({ kind: 'takeIn', modelId: held.modelId, asModelId, swatches })
    .then((known) => (known === null ? still : { modelId: asModelId, knowledge: { ...still.knowledge, ...known } }));
  entry.takenIn = { fingerprint: change.fingerprint, done };
  dropTakenIn(before, held);
  return done;
}

/** Forgets what was taken in; the model that took it stays. */
function dropTakenIn(before: Entry['takenIn'], held: HeldModel | null): void {
  before?.done.then(
    (model) => {
      if (model.modelId !== held?.modelId) dropLater(model);
    },
    () => undefined,
  );
}

function learn(
  shelf: Map<string, Entry>,
  entry: Entry,
  change: Change,
  by: MatchingThread,
): NonNullable<Entry['learning']> {
  const learning: NonNullable<Entry['learning']> = { fingerprint: change.fingerprint, done: Promise.resolve(null) };
  learning.done = learned(change.material, by).then(
    (held) => {
      // Overtaken by a later change: whoever waits is answered, but the model is not kept.
      if (entry.learning === learning) {
        const before = entry.held;
        const was = entry.takenIn;
        const { stamp, fingerprint, marks } = change;
        Object.assign(entry, { stamp, fingerprint, marks, held, change: null, takenIn: null, learning: null });
        dropTakenIn(was, before);
        dropLater(before);
        keepRoom(shelf);
      }
      return held;
    },
    (error: unknown) => {
      if (entry.learning === learning) entry.learning = null;
      throw error;
    },
  );
  // Whoever waits for it hears of a failure; where nobody waits, the next question tries again.
  learning.done.catch(() => undefined);
  entry.learning = learning;
  return learning;
}

async function learned(material: Material | null, by: MatchingThread): Promise<HeldModel | null> {
  if (material === null) return null;
  const { swatches, conditions } = material;
  const { model } = await by.ask({ kind: 'learn', swatches, conditions });
  const modelId = ++lastModelId;
  const [calibration] = model.calibration;
  const knowledge: LearnedKnowledge = {
    conditions,
    swatchCount: model.swatchCount,
    mixtureCount: model.mixtureCount,
    spectrumCount: model.spectrumCount,
    maxTotalDepthPct: model.maxTotalDepthPct,
    dyes: model.dyes,
    doubtful: model.doubtful,
    learningFrom: 0,
    calibratedOn: {
      alone: calibration?.alone.count ?? 0,
      together: calibration?.together.count ?? 0,
      apart: calibration?.apart.count ?? 0,
    },
    ...material.told,
  };
  await answerer.ask(
    { kind: 'hold', modelId, model },
    [model.residual.factor, ...model.residual.alpha, ...model.leftovers].map((one) => one.buffer as ArrayBuffer),
  );
  return { modelId, knowledge };
}

/** Somebody who was handed the old model a moment ago may still be about to ask it. */
const DROP_AFTER_MS = 30_000;

function dropLater(held: HeldModel | null): void {
  if (held === null) return;
  setTimeout(() => {
    answerer.ask({ kind: 'drop', modelId: held.modelId }).catch(() => undefined);
  }, DROP_AFTER_MS).unref();
}

/** Forgets the models that were asked for longest ago. */
function keepRoom(shelf: Map<string, Entry>): void {
  const held = [...shelf].filter(([, e]) => e.held !== null).sort(([, x], [, y]) => x.usedAt - y.usedAt);
  for (const [key, entry] of held.slice(0, Math.max(0, held.length - MAX_MODELS))) {
    shelf.delete(key);
    dropLater(entry.held);
  }
}

/** Asks the thread that holds the models. */
export const askModel = <K extends Exclude<MatchingQuestion['kind'], 'learn' | 'hold' | 'drop' | 'takeIn'>>(
  question: Extract<MatchingQuestion, { kind: K }>,
): Promise<MatchingAnswer<K>> => answerer.ask(question);

/** The same for a question that is asked again and again: a model never changes, so its answer stands as long as it is held. */
export function askModelOnce(
  question: Extract<MatchingQuestion, { kind: 'lessons' }>,
): Promise<MatchingAnswer<'lessons'>> {
  const key = JSON.stringify(question);
  const known = answers.get(key);
  if (known) return known;
  const answer = askModel<'lessons'>(question);
  answers.set(key, answer);
  answer.catch(() => answers.delete(key));
  const oldest = answers.keys().next().value;
  if (answers.size > MAX_ANSWERS && oldest !== undefined) answers.delete(oldest);
  return answer;
}

/** Ends the threads and forgets the models. For a clean stop of the service. */
export async function closeMatching(): Promise<void> {
  shelves = new WeakMap();
  await Promise.all([learner.close(), backgroundLearner.close(), answerer.close()]);
}

/** Everything that a model is learned from, under the conditions that most of it was read under; null when there is nothing. */
function materialOf(db: Db, { fibreId, methodId }: { fibreId: number; methodId: number }): Material | null {
  const formulas = new Map<number, { dyeId: number; sharePpm: number }[]>();
  for (const { revisionId, ...part } of formulasOn(db, fibreId, methodId)) {
    formulas.set(revisionId, [...(formulas.get(revisionId) ?? []), part]);
  }
  const curves = new Map(curvesOf(db, fibreId, methodId).map((c) => [c.swatchId, c]));
  const readings = bySwatch(readSwatches(db, fibreId, methodId)).map((rows) => usableReadings(rows));
  const even = readings.flatMap((usable) => (usable.length === 1 ? usable : []));
  const read = new Set(readings.flat().map((r) => r.swatchId));
  const curvesAlone = [...curves.values()].filter((c) => !read.has(c.swatchId));
  if (even.length + curvesAlone.length === 0) return null;
  const conditions = usualConditions(even);
  let adapted = 0;
  const swatches = even.map((r): KnownSwatch => {
    const curve = curves.get(r.swatchId);
    const spectrum = curve && spectrumOf(curve);
    const from = conditionsOf(r);
    const own = sameConditions(from, conditions);
    // With a curve, the colour under other conditions is calculated rather than adapted.
    if (!own && spectrum === undefined) adapted += 1;
    return {
      swatchId: r.swatchId,
      components: componentsOf(formulas, r.revisionId, r.depthPpm),
      lab:
        own || spectrum === undefined
          ? adaptLab({ lab: labOf(r), from, to: conditions, method: 'bradford' })
          : labFromSpectrum({ spectrum, conditions }),
      ...(spectrum === undefined ? {} : { spectrum }),
    };
  });
  for (const c of curvesAlone) {
    swatches.push({
      swatchId: c.swatchId,
      components: componentsOf(formulas, c.revisionId, c.depthPpm),
      spectrum: spectrumOf(c),
    });
  }
  const substrate = substrateOf(db, fibreId, conditions);
  const step = Math.max(1, swatches.length / MAX_SWATCHES);
  const places = Array.from({ length: Math.min(swatches.length, MAX_SWATCHES) }, (_, i) => Math.floor(i * step));
  const kept = places.flatMap((place) => swatches[place] ?? []);
  return {
    swatches: substrate === undefined ? kept : kept.map((s) => ({ ...s, substrate })),
    conditions,
    told: {
      variegatedLeftOut: readings.length - even.length,
      thinnedOut: swatches.length - kept.length,
      adapted,
      undyedGoods: substrate === undefined ? 'assumed' : 'read',
    },
  };
}

function substrateOf(db: Db, fibreId: number, conditions: Conditions): SubstrateReading | undefined {
  const row = undyedOf(db, fibreId);
  return (
    row && {
      lab: adaptLab({
        lab: labOf(row),
        from: conditionsOf(row),
        to: conditions,
        method: 'bradford',
      }),
      ...(row.spectrum === null ? {} : { spectrum: row.spectrum }),
    }
  );
}

const componentsOf = (
  formulas: Map<number, { dyeId: number; sharePpm: number }[]>,
  revisionId: number,
  depthPpm: number,
) =>
  (formulas.get(revisionId) ?? []).map(({ dyeId, sharePpm }) => ({
    dyeId,
    depthPct: (depthPpm / 10_000) * (sharePpm / 1_000_000),
  }));

export const spectrumOf = ({
  startNm,
  stepNm,
  reflectance,
}: Pick<CurveRow, 'startNm' | 'stepNm' | 'reflectance'>): Spectrum => ({
  startNm,
  stepNm,
  reflectance: JSON.parse(reflectance),
});

/** The conditions under which most readings were made. Curves have none: D65/10° where there are only curves. */
function usualConditions(rows: readonly ReadSwatchRow[]): Conditions {
  const counts = new Map<string, { conditions: Conditions; count: number }>();
  for (const row of rows) {
    const conditions = conditionsOf(row);
    const key = conditionsInWords(conditions);
    counts.set(key, { conditions, count: (counts.get(key)?.count ?? 0) + 1 });
  }
  const [usual] = [...counts.values()].sort((x, y) => y.count - x.count);
  return usual?.conditions ?? { illuminant: 'D65', observerDeg: 10 };
}

function bySwatch(rows: readonly ReadSwatchRow[]): ReadSwatchRow[][] {
  const groups: ReadSwatchRow[][] = [];
  for (const row of rows) {
    const last = groups.at(-1);
    if (last?.[0]?.swatchId === row.swatchId) last.push(row);
    else groups.push([row]);
  }
  return groups;
}

const digestOf = (what: unknown): string => createHash('sha256').update(JSON.stringify(what)).digest('base64');
