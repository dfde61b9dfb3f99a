import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { verifyStudio } from '../../server/backup/verify.ts';
import { recordWeighing } from '../../server/bench/recordWeighing.ts';
import { takeWayOut } from '../../server/bench/takeWayOut.ts';
import { voidEntry } from '../../server/bench/voidEntry.ts';
import { confirmedNow } from '../../server/bench/waysOut.ts';
import { readConfig } from '../../server/config.ts';
import { addForgottenCost } from '../../server/costing/additions.ts';
import { correctCostLine, standingLines } from '../../server/costing/corrections.ts';
import { applyMigrations } from '../../server/db/migrate.ts';
import { openDatabase } from '../../server/db/open.ts';
import type { Actor, Deps } from '../../server/deps.ts';
import { benchOf } from '../../server/lots/benchState.ts';
import { finishLot } from '../../server/lots/finishLot.ts';
import { planLot } from '../../server/lots/planLot.ts';
import { componentsOf, costLinesOf } from '../../server/lots/queries.ts';
import { insertPerson } from '../../server/people/queries.ts';
import { instantsOfDay } from '../../server/settings/days.ts';
import { insertScale, insertStudio } from '../../server/settings/queries.ts';
import {
  closeContainer,
  makeStockSolution,
  recallContainer,
  receiveContainer,
  reopenContainer,
} from '../../server/stock/containers.ts';
import { stockTake, waste } from '../../server/stock/ledger.ts';
import { lotsTouchedBy, onHand, onHandAt, stockLotById } from '../../server/stock/queries.ts';
import { MONDAY } from './app.ts';
import { beganAt, costOf, type Happenings, inTheCup, type JarEvent, stockAt, traceOf } from './arrivalModel.ts';
import { planInput } from './lotInputs.ts';
import { makeWorld } from './world.ts';

/* Any set of happenings with their times, delivered by two phones and the studio's own page in any order, with delays and twice,
   against what the set says by itself (arrivalModel.ts). */

const MINUTE = 60_000;
const DAY = 24 * 60;
const ZONE = 'Europe/Lisbon';
/** 0 blue, 1 yellow, 2 red; 3 a second jar of blue that is typed in late; 4 a bottle of solution; 5 salt, for the ways out. */
const JARS = 6;
const LATE_JAR = 3;
const BOTTLE = 4;
const SALT = 5;

interface Sent {
  /** When it happened, minutes after the lots were planned. */
  minute: number;
  /** How long it lay on the phone, minutes. */
  delay: number;
  /** Sent a second time so many minutes later; null for once. */
  again: number | null;
}
type PhoneDeed = Sent &
  (
    | { deed: 'weigh'; lot: number; jar: number; quantity: number }
    | { deed: 'void'; which: number }
    | { deed: 'count'; jar: number; quantity: number }
    | { deed: 'waste'; jar: number; quantity: number }
  );
/** Done on a page of the studio, at once. */
type PageDeed = { minute: number; again: number | null } & (
  | { deed: 'recall'; jar: number }
  | { deed: 'close'; jar: number; how: 'empty' | 'discarded' }
  | { deed: 'reopen'; jar: number; quantity: number }
  | { deed: 'correct'; lot: number; jar: number; by: number }
  | { deed: 'forgotten'; lot: number; jar: number; quantity: number }
);
export interface Scenario {
  /** The weighing that each lot begins with, of each of its dyes; it is never voided. */
  bases: Sent[];
  phone: PhoneDeed[];
  page: PageDeed[];
  receipt: { minute: number; daysAgo: number; quantity: number; priceMinor: number; freightMinor: number } | null;
  solution: { minute: number; daysAgo: number; source: number; massMg: number } | null;
  /** Too much salt, thrown away and weighed again, on one phone. */
  wayOut: (Sent & { lot: number; pause: number })[];
  finishes: (Sent | null)[];
}

const minute = fc.integer({ min: 1, max: 3 * DAY });
const delay = fc.oneof(fc.constant(1), fc.integer({ min: 1, max: 4 * DAY }));
const again = fc.option(fc.integer({ min: 1, max: 4 * DAY }), { freq: 4 });
const sent = { minute, delay, again };
const jar = fc.integer({ min: 0, max: BOTTLE });
const powder = fc.integer({ min: 0, max: 2 });
const lot = fc.integer({ min: 0, max: 1 });
const some = fc.integer({ min: 1, max: 9_000 });

const phoneDeed: fc.Arbitrary<PhoneDeed> = fc.oneof(
  { weight: 4, arbitrary: fc.record({ deed: fc.constant('weigh' as const), lot, jar, quantity: some, ...sent }) },
  { weight: 2, arbitrary: fc.record({ deed: fc.constant('void' as const), which: fc.nat(20), ...sent }) },
  {
    weight: 2,
    arbitrary: fc.record({
      deed: fc.constant('count' as const),
      jar,
      quantity: fc.integer({ min: 0, max: 600_000 }),
      ...sent,
    }),
  },
  { weight: 1, arbitrary: fc.record({ deed: fc.constant('waste' as const), jar, quantity: some, ...sent }) },
);
const at = { minute: fc.integer({ min: 1, max: 6 * DAY }), again };
const pageDeed: fc.Arbitrary<PageDeed> = fc.oneof(
  fc.record({ deed: fc.constant('recall' as const), jar, ...at }),
  fc.record({
    deed: fc.constant('close' as const),
    jar,
    how: fc.constantFrom('empty' as const, 'discarded' as const),
    ...at,
  }),
  fc.record({ deed: fc.constant('reopen' as const), jar, quantity: fc.integer({ min: 0, max: 300_000 }), ...at }),
  fc.record({
    deed: fc.constant('correct' as const),
    lot,
    jar: powder,
    by: fc.integer({ min: -2000, max: 2000 }),
    ...at,
  }),
  fc.record({ deed: fc.constant('forgotten' as const), lot, jar: powder, quantity: some, ...at }),
);
const early = { ...sent, minute: fc.integer({ min: 1, max: 300 }) };
const finish = { ...sent, minute: fc.integer({ min: 301, max: 3 * DAY }) };

export const scenarios: fc.Arbitrary<Scenario> = fc.record({
  bases: fc.array(fc.record(early), { minLength: 6, maxLength: 6 }),
  phone: fc.array(phoneDeed, { maxLength: 16 }),
  page: fc.array(pageDeed, { maxLength: 7 }),
  receipt: fc.option(
    fc.record({
      minute,
      daysAgo: fc.integer({ min: 0, max: 5 }),
      quantity: fc.integer({ min: 50_000, max: 300_000 }),
      priceMinor: fc.integer({ min: 0, max: 9000 }),
      freightMinor: fc.integer({ min: 0, max: 900 }),
    }),
  ),
  solution: fc.option(
    fc.record({
      minute,
      daysAgo: fc.integer({ min: 0, max: 2 }),
      source: powder,
      massMg: fc.integer({ min: 1000, max: 20_000 }),
    }),
  ),
  wayOut: fc.array(fc.record({ ...early, lot, pause: fc.integer({ min: 1, max: 200 }) }), { maxLength: 1 }),
  finishes: fc.tuple(fc.option(fc.record(finish), { freq: 5 }), fc.option(fc.record(finish), { freq: 5 })),
});

/** A studio with two lots planned, put away as bytes: each run takes a copy. */
interface Start {
  bytes: Buffer;
  owner: Actor;
  dataDir: string;
  lotIds: number[];
  jarIds: number[];
  dyeId: number;
  packageRoot: string;
}
let started: Promise<Start> | undefined;
export const theStart = (): Promise<Start> => {
  started ??= makeStart();
  return started;
};

function depsOver(open: ReturnType<typeof openDatabase>, dataDir: string, clock: { now: number }): Deps {
  let ids = 0;
  return {
    config: readConfig({ DATA_DIR: dataDir, LOG_LEVEL: 'silent', TZ: ZONE }),
    ...open,
    now: () => clock.now,
    newId: () => `00000000-0000-4000-8000-${String(++ids).padStart(12, '0')}`,
    firstRunCode: '314159',
  };
}

async function makeStart(): Promise<Start> {
  const dataDir = mkdtempSync(join(tmpdir(), 'lot-and-shade-arrivals-'));
  process.once('exit', () => rmSync(dataDir, { recursive: true, force: true }));
  const { packageRoot } = readConfig({});
  const open = openDatabase(':memory:');
  await applyMigrations(open, join(packageRoot, 'migrations'));
  const deps = depsOver(open, dataDir, { now: MONDAY });
  insertStudio(deps.db, {
    name: 'Test Works',
    currency: 'EUR',
    zone: ZONE,
    units: 'metric',
    labourRateMinorPerHour: 0,
    overheadRateMinorPerHour: 0,
    weighingTolerancePpm: 20_000,
    weighingFloorPpm: 10_000,
    stockConcPpm: 10_000,
    costing: 'specific',
    sample: 0,
    createdAt: MONDAY,
  });
  insertScale(deps.db, { name: 'Dye scale', readabilityMg: 10, capacityMg: null, isDefault: 1 });
  const person = { name: 'Inês', role: 'owner' as const };
  const { id: personId } = insertPerson(deps.db, {
    ...person,
    passphraseHash: null,
    labourRateMinorPerHour: null,
    active: 1,
    createdAt: MONDAY,
  });
  const owner = { personId, ...person };
  const world = makeWorld({ deps, owner });
  const colour = { revisionId: world.revisionId, swatchId: null, depthPpm: 20_000, sharePpm: 1_000_000, placement: '' };
  const lotIds = [0, 1].map(
    () =>
      planLot(
        deps,
        planInput(world, {
          goodsText: 'cloth',
          pieces: 10,
          goodsOwner: 'customer',
          mass: { found: 'weighedDry', massMg: 1_000_000 },
          colours: [colour],
          solutions: 'never',
        }),
        owner,
      ).id,
  );
  const { blue, yellow, red, salt } = world.stock;
  const bytes = open.sqlite.serialize();
  open.sqlite.close();
  const jarIds = [blue.id, yellow.id, red.id, 0, 0, salt.id];
  return { bytes, owner, dataDir, lotIds, jarIds, dyeId: world.dyeIds.blue, packageRoot };
}

interface Delivery {
  at: number;
  act: () => void;
}

/** Delivers a scenario to a fresh studio. Answers what differs from the model, in words; nothing when all is as it must be. */
export async function deliver(scenario: Scenario, start: Start): Promise<string[]> {
  const clock = { now: MONDAY };
  const open = openDatabase(start.bytes);
  const deps = depsOver(open, start.dataDir, clock);
  try {
    const set = happen(scenario, start, deps, clock);
    return [...differences(set, start, deps), ...(await brokenRules(deps, start))];
  } finally {
    open.sqlite.close();
  }
}

/** A happening of a phone in the plan of deliveries. */
interface Planned {
  at: number;
  deliveredAt: number;
}

function happen(s: Scenario, start: Start, deps: Deps, clock: { now: number }): Happenings & { jarIds: number[] } {
  const { owner, lotIds } = start;
  const jarIds = [...start.jarIds];
  const set: Happenings = { jars: [], weighings: [], finishes: [], corrections: [], forgotten: [] };
  const deliveries: Delivery[] = [];
  let n = 0;
  /** No two happenings have one time, nor two deliveries. */
  const timeOf = (min: number): number => MONDAY + min * MINUTE + ++n;
  const clientId = (): string => `arrival-${String(++n).padStart(6, '0')}`;
  const plan = (deliveredAt: number, twice: number | null, act: () => void): void => {
    deliveries.push({ at: deliveredAt, act });
    if (twice !== null) deliveries.push({ at: deliveredAt + twice * MINUTE + ++n / 1000, act });
  };

  for (let j = 0; j < JARS; j++) {
    const row = stockLotById(deps.db, jarIds[j] ?? 0);
    set.jars.push({
      received: row?.receivedQuantity ?? 1,
      receivedAt: row ? MONDAY : Number.POSITIVE_INFINITY,
      priceMinor: row?.priceMinor ?? 0,
      madeFrom: null,
      concPpm: null,
      recalledAt: null,
      events: [],
    });
  }
  const jarOf = (j: number) => set.jars[j] as (typeof set.jars)[number];
  const event = (j: number, e: JarEvent): void => void jarOf(j).events.push(e);

  // What the pages of the studio do is done at its own time; whether it can be done then is known beforehand.
  const closings = new Map<number, number[]>();
  const isClosed = (j: number, when: number): boolean =>
    (closings.get(j) ?? []).filter((t) => t <= when).length % 2 === 1;

  // ── containers that come ──
  let receiptAt = Number.POSITIVE_INFINITY;
  if (s.receipt) {
    const { daysAgo, quantity, priceMinor, freightMinor } = s.receipt;
    receiptAt = timeOf(s.receipt.minute);
    const receivedOn = new Date(receiptAt - daysAgo * DAY * MINUTE).toISOString().slice(0, 10);
    const id = clientId();
    Object.assign(jarOf(LATE_JAR), {
      received: quantity,
      priceMinor: priceMinor + freightMinor,
      receivedAt: daysAgo === 0 ? receiptAt : instantsOfDay(receivedOn, ZONE).startAt,
    });
    plan(receiptAt, 60, () => {
      const item = { kind: 'dye' as const, id: start.dyeId };
      const kept = { supplier: '', makerLot: '', strengthPpm: 1_000_000, openedOn: null, bestBeforeOn: null, note: '' };
      const input = { item, code: 'B-2', quantity, priceMinor, freightMinor, receivedOn, ...kept, clientId: id };
      jarIds[LATE_JAR] = receiveContainer(deps, input, owner).id;
    });
  }
  const closed = s.page
    .filter((d) => d.deed === 'close' || d.deed === 'reopen')
    .map((d) => ({ d, when: timeOf(d.minute) }))
    .sort((a, b) => a.when - b.when);
  const recalls = s.page.filter((d) => d.deed === 'recall').map((d) => ({ d, when: timeOf(d.minute) }));
  let solutionAt = Number.POSITIVE_INFINITY;
  if (s.solution) {
    const { daysAgo, source, massMg } = s.solution;
    const typedAt = timeOf(s.solution.minute);
    const madeOn = new Date(typedAt - daysAgo * DAY * MINUTE).toISOString().slice(0, 10);
    const madeAt = daysAgo === 0 ? typedAt : instantsOfDay(madeOn, ZONE).endAt - 1;
    // Before there is a bottle, only the jar that is typed in late may be another.
    const isSource = ({ d, when }: { d: PageDeed; when: number }): boolean =>
      'jar' in d &&
      when <= madeAt &&
      (d.jar === LATE_JAR && receiptAt === Number.POSITIVE_INFINITY ? 0 : d.jar) === source;
    const shut = closed.some(isSource);
    const recalled = recalls.some(isSource);
    if (madeAt >= MONDAY && !shut && !recalled) {
      solutionAt = typedAt;
      const id = clientId();
      const from = jarOf(source);
      Object.assign(jarOf(BOTTLE), {
        received: massMg * 100,
        receivedAt: madeAt,
        priceMinor: Math.round((from.priceMinor * massMg) / from.received),
        madeFrom: source,
        concPpm: 10_000,
      });
      event(source, { at: madeAt, is: 'dissolved', quantity: massMg });
      plan(typedAt, 30, () => {
        const made = { concPpm: 10_000, massMg, madeUpUl: null, wantedUl: null, code: 'S-1', madeOn, note: '' };
        const input = { ...made, bestBeforeOn: null, clientId: id };
        jarIds[BOTTLE] = makeStockSolution(deps, jarIds[source] ?? 0, input, owner).id;
      });
    }
  }
  const knownFrom = (j: number): number => (j === LATE_JAR ? receiptAt : j === BOTTLE ? solutionAt : MONDAY);
  /** A jar that never comes is another. */
  const really = (j: number): number => (knownFrom(j) === Number.POSITIVE_INFINITY ? j - 3 : j);

  for (const { d, when } of closed) {
    if (d.deed !== 'close' && d.deed !== 'reopen') continue;
    const j = really(d.jar);
    if (when <= knownFrom(j) || isClosed(j, when) !== (d.deed === 'reopen')) continue;
    closings.set(j, [...(closings.get(j) ?? []), when]);
    const id = clientId();
    if (d.deed === 'close') event(j, { at: when, is: d.how === 'empty' ? 'closedEmpty' : 'thrownAway' });
    else event(j, { at: when, is: 'reopened', quantity: d.quantity });
    plan(when, d.again, () => {
      const stockLotId = jarIds[j] ?? 0;
      if (d.deed === 'close')
        closeContainer(deps, { stockLotId, how: d.how, reason: 'done with', clientId: id }, owner);
      else {
        // Pressed twice it may come after the jar was closed for good.
        const input = { stockLotId, countedQuantity: d.quantity, reason: 'the wrong jar', clientId: id };
        if (clock.now < when + 1 || !isClosed(j, clock.now)) reopenContainer(deps, input, owner);
      }
    });
  }
  for (const { d, when } of recalls) {
    if (d.deed !== 'recall') continue;
    const j = really(d.jar);
    if (when <= knownFrom(j)) continue;
    for (const k of [j, ...(jarOf(BOTTLE).madeFrom === j ? [BOTTLE] : [])])
      jarOf(k).recalledAt = Math.min(jarOf(k).recalledAt ?? when, when);
    plan(when, d.again, () => recallContainer(deps, { stockLotId: jarIds[j] ?? 0, reason: 'maker’s notice' }, owner));
  }

  // ── the bench ──
  const weighed: (Planned & { weighing: Happenings['weighings'][number]; entryId: number })[] = [];
  const components = lotIds.map((id) => componentsOf(deps.db, id));
  const lineOf = (l: number, j: number): number => {
    const own = j === BOTTLE ? (jarOf(BOTTLE).madeFrom ?? 0) : j === LATE_JAR ? 0 : j;
    const row = stockLotById(deps.db, start.jarIds[own] ?? 0);
    return components[l]?.find((c) => c.dyeId === row?.dyeId && c.auxiliaryId === row.auxiliaryId)?.id ?? 0;
  };
  const weigh = (w: Sent, l: number, wantedJar: number, quantity: number, after = 0) => {
    const j = really(wantedJar);
    const at = timeOf(w.minute);
    const deliveredAt = Math.max(at + w.delay * MINUTE, knownFrom(j) + 1, after + 1);
    const weighing = { lot: l, jar: j, at, quantity, voided: false, discarded: false };
    const done = { at, deliveredAt, weighing, entryId: 0 };
    set.weighings.push(weighing);
    const id = clientId();
    plan(deliveredAt, w.again, () => {
      const input = { lotId: lotIds[l] ?? 0, componentId: lineOf(l, j), stockLotId: jarIds[j] ?? 0, amount: quantity };
      done.entryId = recordWeighing(deps, { ...input, confirmed: true, at, clientId: id }, owner).id;
    });
    return done;
  };
  const bases = s.bases.map((b, i) => weigh(b, i % 2, Math.floor(i / 2), 30_000));
  const deedsOf = <D extends PhoneDeed['deed']>(deed: D) =>
    s.phone.filter((d): d is Extract<PhoneDeed, { deed: D }> => d.deed === deed);
  for (const d of deedsOf('weigh')) weighed.push(weigh(d, d.lot, d.jar, d.quantity));
  for (const d of deedsOf('void')) {
    const of = weighed[d.which % Math.max(1, weighed.length)];
    if (!of || of.weighing.voided) continue;
    of.weighing.voided = true;
    const at = Math.max(timeOf(d.minute), of.at + 1);
    const id = clientId();
    plan(Math.max(at + d.delay * MINUTE, of.deliveredAt + 1), d.again, () => {
      voidEntry(deps, { entryId: of.entryId, reason: 'a slip', at, clientId: id }, owner);
    });
  }
  for (const d of [...deedsOf('count'), ...deedsOf('waste')]) {
    const j = really(d.jar);
    const at = timeOf(d.minute);
    event(j, { at, is: d.deed, quantity: d.quantity });
    const id = clientId();
    plan(Math.max(at + d.delay * MINUTE, knownFrom(j) + 1), d.again, () => {
      const when = { at, recordedAt: clock.now, clientId: id };
      const stockLotId = jarIds[j] ?? 0;
      if (d.deed === 'count')
        stockTake(deps.db, { stockLotId, countedQuantity: d.quantity, reason: 'count' }, owner, when);
      else waste(deps.db, { stockLotId, quantity: d.quantity, reason: 'spilt' }, owner, when);
    });
  }
  let choicesMadeAt = 0;
  for (const w of s.wayOut) {
    // 1 000 g are wanted: the first reading is over, and goes with its powder.
    const over = weigh(w, w.lot, SALT, 1_500_000);
    over.weighing.discarded = true;
    const at = over.at + w.pause * MINUTE;
    const id = clientId();
    choicesMadeAt = Math.max(over.deliveredAt + 1, at + MINUTE);
    // Sent again it carries the same figures: those that were seen when it was chosen.
    let confirmed: ReturnType<typeof confirmedNow>;
    plan(choicesMadeAt, w.again, () => {
      const lotId = lotIds[w.lot] ?? 0;
      const choice = { way: 'weighAgain' as const, stage: 'dry' as const, vessel: 'own' as const };
      const chosen = { componentId: lineOf(w.lot, SALT), ...choice };
      confirmed ??= confirmedNow(benchOf(deps.db, lotId, clock.now), chosen);
      takeWayOut(deps, { lotId, ...chosen, confirmed: confirmed ?? null, at, clientId: id }, owner);
    });
    weigh({ ...w, minute: w.minute + w.pause + 1 }, w.lot, SALT, 1_000_000, choicesMadeAt);
  }

  // ── the end of a lot, and what is found out after it ──
  const finishedFrom = [Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY];
  s.finishes.forEach((f, l) => {
    if (!f) return;
    const at = timeOf(f.minute);
    const first = Math.min(...bases.filter((b) => b.weighing.lot === l).map((b) => b.deliveredAt));
    const deliveredAt = Math.max(at + f.delay * MINUTE, first + 1, choicesMadeAt + 1);
    set.finishes.push({ lot: l, at });
    finishedFrom[l] = deliveredAt;
    const id = clientId();
    plan(deliveredAt, f.again, () => {
      const counts = { firstQuality: 10, seconds: 0, rework: 0, scrap: 0, secondsValueMinor: 0 };
      const said = { note: '', doDifferently: '', labour: [], unweighedConfirmed: true };
      finishLot(deps, { lotId: lotIds[l] ?? 0, ...counts, ...said, at, clientId: id }, owner);
    });
  });
  for (const d of s.page) {
    if (d.deed !== 'correct' && d.deed !== 'forgotten') continue;
    const base = bases.find((b) => b.weighing.lot === d.lot && b.weighing.jar === d.jar);
    const from = Math.max(timeOf(d.minute), (finishedFrom[d.lot] ?? 0) + 1, (base?.deliveredAt ?? 0) + 1) + ++n / 1000;
    if (from === Number.POSITIVE_INFINITY || (d.deed === 'correct' && d.by === 0)) continue;
    if (d.deed === 'correct') {
      set.corrections.push({ lot: d.lot, jar: d.jar, by: d.by });
      plan(from, null, () => {
        const line = standingLines(costLinesOf(deps.db, lotIds[d.lot] ?? 0)).find(
          (l) => l.stockLotId === jarIds[d.jar] && l.reason !== 'forgotten',
        );
        if (!line) throw new Error('no line to correct');
        const { priceMinor, perQuantity } = line;
        const replacement = { quantity: line.quantity + d.by, priceMinor, perQuantity };
        correctCostLine(deps, { costLineId: line.id, reason: 'misread', replacement }, owner);
      });
    } else {
      if (isClosed(d.jar, from)) continue;
      set.forgotten.push({ lot: d.lot, jar: d.jar, quantity: d.quantity });
      const id = clientId();
      plan(from, null, () => {
        const cost = {
          what: 'material' as const,
          stockLotId: jarIds[d.jar] ?? 0,
          quantity: d.quantity,
          wasted: false,
          recalledConfirmed: true,
        };
        addForgottenCost(deps, { lotId: lotIds[d.lot] ?? 0, cost, reason: 'forgotten', clientId: id }, owner);
      });
    }
  }

  deliveries.sort((a, b) => a.at - b.at);
  for (const { at, act } of deliveries) {
    clock.now = Math.max(clock.now + 1, Math.ceil(at));
    act();
  }
  clock.now += MINUTE;
  return { ...set, jarIds };
}

function differences(set: Happenings & { jarIds: number[] }, start: Start, deps: Deps): string[] {
  const wrong: string[] = [];
  const hold = (what: string, found: unknown, meant: unknown): void => {
    if (JSON.stringify(found) !== JSON.stringify(meant))
      wrong.push(`${what}: ${JSON.stringify(found)}, by the model ${JSON.stringify(meant)}`);
  };
  const lotOf = new Map(start.lotIds.map((id, l) => [id, l]));
  set.jarIds.forEach((id, j) => {
    if (id === 0) return;
    hold(`stock of jar ${j}`, onHand(deps.db, id), stockAt(set, j, Number.MAX_SAFE_INTEGER));
    for (let hours = 0; hours <= 7 * 24; hours += 7)
      hold(
        `stock of jar ${j} after ${hours} h`,
        onHandAt(deps.db, id, MONDAY + hours * 60 * MINUTE),
        stockAt(set, j, MONDAY + hours * 60 * MINUTE),
      );
    const row = stockLotById(deps.db, id);
    hold(`recall of jar ${j}`, row?.recalledAt !== null, set.jars[j]?.recalledAt !== null);
    const touched = lotsTouchedBy(deps.db, id)
      .map((t) => [`${lotOf.get(t.lotId)}:${set.jarIds.indexOf(jarOfCode(deps, t.throughCode))}`, t.quantity])
      .sort();
    hold(`trace of jar ${j}`, touched, [...traceOf(set, j)].sort());
  });
  start.lotIds.forEach((id, l) => {
    const bench = benchOf(deps.db, id, deps.now());
    const finish = set.finishes.find((f) => f.lot === l);
    hold(`lot ${l} finished`, bench.lot.finishedAt, finish?.at ?? null);
    hold(`lot ${l} began`, bench.lot.startedAt, beganAt(set, l));
    const cost = costLinesOf(deps.db, id).reduce((sum, line) => sum + line.costMinor, 0);
    hold(`cost of lot ${l}`, cost, finish ? costOf(set, l) : 0);
    const ownJar = (j: number): number => (j === BOTTLE ? (set.jars[BOTTLE]?.madeFrom ?? 0) : j === LATE_JAR ? 0 : j);
    const cups = inTheCup(set, l, ownJar);
    for (const line of bench.lines) {
      const own = start.jarIds.findIndex((jarId) => {
        const row = stockLotById(deps.db, jarId);
        return (
          row !== undefined && row.dyeId === line.component.dyeId && row.auxiliaryId === line.component.auxiliaryId
        );
      });
      const meant = own < 0 ? undefined : cups.get(own);
      hold(`line ${own} of lot ${l}`, line.actual, meant === undefined ? undefined : Math.floor(meant + 0.5 + 1e-6));
    }
  });
  return wrong;
}

const jarOfCode = (deps: Deps, code: string): number =>
  (deps.sqlite.prepare('select id from stock_lots where code = ?').pluck().get(code) as number | undefined) ?? 0;

async function brokenRules(deps: Deps, start: Start): Promise<string[]> {
  const checks = await verifyStudio(deps.db, start.dataDir);
  return checks.flatMap(({ name, wrong }) => wrong.map((words) => `${name}: ${words}`));
}
