import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { recordWeighing } from '../../server/bench/recordWeighing.ts';
import { voidEntry } from '../../server/bench/voidEntry.ts';
import { addForgottenCost } from '../../server/costing/additions.ts';
import { correctCostLine, standingLines } from '../../server/costing/corrections.ts';
import { EVERYTHING } from '../../server/costing/queries.ts';
import { reconciliation } from '../../server/exports/reconcile.ts';
import { finishLot } from '../../server/lots/finishLot.ts';
import { planLot } from '../../server/lots/planLot.ts';
import { costLinesOf } from '../../server/lots/queries.ts';
import { insertPerson } from '../../server/people/queries.ts';
import { insertScale, insertStudio, updateStudio } from '../../server/settings/queries.ts';
import { makeSolution, stockTake, waste } from '../../server/stock/ledger.ts';
import { movingAverageRate } from '../../server/stock/movingAverage.ts';
import { freshDeps, type TestStudio } from '../support/app.ts';
import { planInput } from '../support/lotInputs.ts';
import { makeWorld, type World } from '../support/world.ts';

const MINUTE = 60_000;

/** What hands do in a dye room, drawn at random. Jars: 0 blue, 1 yellow, 2 red. */
type Deed =
  | { deed: 'weigh'; jar: number; mg: number }
  | { deed: 'slip'; jar: number; wrongMg: number; mg: number }
  | { deed: 'waste'; jar: number; mg: number }
  | { deed: 'count'; jar: number; mg: number }
  | { deed: 'dissolve'; jar: number; mg: number };

const jar = fc.integer({ min: 0, max: 2 });
const mg = fc.integer({ min: 1, max: 40_000 });
const deeds = fc.array(
  fc.oneof(
    fc.record({ deed: fc.constant('weigh' as const), jar, mg }),
    fc.record({ deed: fc.constant('slip' as const), jar, wrongMg: mg, mg }),
    fc.record({ deed: fc.constant('waste' as const), jar, mg }),
    fc.record({ deed: fc.constant('count' as const), jar, mg: fc.integer({ min: 0, max: 600_000 }) }),
    fc.record({ deed: fc.constant('dissolve' as const), jar, mg: fc.integer({ min: 100, max: 20_000 }) }),
  ),
  { minLength: 1, maxLength: 14 },
);

interface Bench {
  studio: Pick<TestStudio, 'deps' | 'owner' | 'clock'>;
  world: World;
  lotId: number;
  jars: number[];
  components: number[];
  n: number;
}

async function freshBench(): Promise<Bench> {
  const { deps, clock } = await freshDeps();
  // Set up by hand: a passphrase takes longer to hash than a whole history to live.
  insertStudio(deps.db, {
    name: 'Test Works',
    currency: 'EUR',
    zone: 'Europe/Lisbon',
    units: 'metric',
    labourRateMinorPerHour: 0,
    overheadRateMinorPerHour: 0,
    weighingTolerancePpm: 20_000,
    weighingFloorPpm: 10_000,
    stockConcPpm: 10_000,
    costing: 'specific',
    sample: 0,
    createdAt: clock.now,
  });
  insertScale(deps.db, { name: 'Dye scale', readabilityMg: 10, capacityMg: null, isDefault: 1 });
  const person = { name: 'Inês', role: 'owner' as const };
  const { id: personId } = insertPerson(deps.db, {
    ...person,
    passphraseHash: null,
    labourRateMinorPerHour: null,
    active: 1,
    createdAt: clock.now,
  });
  const owner = { personId, ...person };
  const studio = { deps, owner, clock };
  const world = makeWorld(studio);
  const lot = planLot(
    deps,
    planInput(world, {
      goodsText: 'cloth',
      pieces: 10,
      goodsOwner: 'customer',
      mass: { found: 'weighedDry', massMg: 1_000_000 },
      solutions: 'never',
    }),
    owner,
  );
  const components = deps.sqlite
    .prepare("select id from lot_components where lot_id = ? and kind = 'dye' order by dye_id")
    .pluck()
    .all(lot.id) as number[];
  return {
    studio,
    world,
    lotId: lot.id,
    jars: [world.stock.blue.id, world.stock.yellow.id, world.stock.red.id],
    components,
    n: 0,
  };
}

const happened = (b: Bench) => {
  b.studio.clock.now += MINUTE;
  b.n += 1;
  return { clientId: `deed-${String(b.n).padStart(8, '0')}`, at: b.studio.clock.now };
};

function weigh(b: Bench, at: number, amount: number): number {
  const { deps, owner } = b.studio;
  const input = { lotId: b.lotId, componentId: b.components[at] ?? 0, stockLotId: b.jars[at] ?? 0, amount };
  return recordWeighing(deps, { ...input, ...happened(b), confirmed: true }, owner).id;
}

/** Does a deed; `unerring` leaves the slip out, as if the right mass had been read at once. */
function act(b: Bench, d: Deed, unerring = false): void {
  const { deps, owner, clock } = b.studio;
  const stockLotId = b.jars[d.jar] ?? 0;
  if (d.deed === 'weigh') weigh(b, d.jar, d.mg);
  else if (d.deed === 'slip') {
    if (unerring) clock.now += 2 * MINUTE;
    else {
      const entryId = weigh(b, d.jar, d.wrongMg);
      voidEntry(deps, { entryId, reason: 'slip', ...happened(b) }, owner);
    }
    weigh(b, d.jar, d.mg);
  } else {
    const { at } = happened(b);
    const when = { at, recordedAt: at };
    if (d.deed === 'waste') waste(deps.db, { stockLotId, quantity: d.mg, reason: 'spilt' }, owner, when);
    else if (d.deed === 'count')
      stockTake(deps.db, { stockLotId, countedQuantity: d.mg, reason: 'count' }, owner, when);
    else {
      const made = {
        sourceStockLotId: stockLotId,
        code: `S-${b.n}`,
        massMg: d.mg,
        volumeUl: d.mg * 100,
        concPpm: 10_000,
      };
      makeSolution(deps.db, { ...made, madeOn: '2026-03-16', bestBeforeOn: null, note: '' }, owner, when);
    }
  }
}

function finish(b: Bench): void {
  const { deps, owner } = b.studio;
  const outcome = {
    firstQuality: 10,
    seconds: 0,
    rework: 0,
    scrap: 0,
    secondsValueMinor: 0,
    note: '',
    doDifferently: '',
  };
  const labour = [{ stepId: null, personId: owner.personId, durationS: 4321 }];
  finishLot(deps, { lotId: b.lotId, ...outcome, labour, unweighedConfirmed: true, ...happened(b) }, owner);
}

const ledger = (b: Bench, stockLotId: number) =>
  b.studio.deps.sqlite
    .prepare(
      'select id, kind, quantity, at, reverses_id as reversesId from stock_ledger where stock_lot_id = ? order by id',
    )
    .all(stockLotId) as { id: number; kind: string; quantity: number; at: number; reversesId: number | null }[];

/** On hand by a model of its own: a count sets it, everything else moves it. */
function modelled(entries: readonly { quantity: number }[]): number {
  return entries.reduce((sum, e) => sum + e.quantity, 0);
}

describe('under any history', () => {
  test('on hand is the replay of the ledger, at every instant, and what a jar says on its page', async () => {
    await fc.assert(
      fc.asyncProperty(deeds, async (history) => {
        const b = await freshBench();
        const model = b.jars.map((id) => modelled(ledger(b, id)));
        for (const d of history) {
          act(b, d);
          const before = model[d.jar] ?? 0;
          if (d.deed === 'count') model[d.jar] = d.mg;
          else model[d.jar] = before - d.mg;
        }
        const { deps } = b.studio;
        b.jars.forEach((id, i) => {
          const entries = ledger(b, id);
          expect(
            deps.sqlite.prepare('select sum(quantity) from stock_ledger where stock_lot_id = ?').pluck().get(id),
          ).toBe(model[i]);
          // Every reversal undoes one entry whole, and no entry twice.
          for (const e of entries.filter((x) => x.kind === 'reversal')) {
            expect(entries.find((x) => x.id === e.reversesId)?.quantity).toBe(-e.quantity);
            expect(entries.filter((x) => x.reversesId === e.reversesId)).toHaveLength(1);
          }
          let running = 0;
          for (const [n, e] of entries.entries()) {
            running += e.quantity;
            if (entries[n + 1]?.at === e.at) continue;
            const then = deps.sqlite
              .prepare('select coalesce(sum(quantity), 0) from stock_ledger where stock_lot_id = ? and at <= ?')
              .pluck()
              .get(id, e.at);
            expect(then).toBe(running);
          }
        });
      }),
      { numRuns: 12 },
    );
  });

  test('a lot’s cost is the sum of its lines, its lines are the ledger, and each line is its rate times its quantity', async () => {
    await fc.assert(
      fc.asyncProperty(
        deeds,
        fc.constantFrom('specific' as const, 'movingAverage' as const),
        fc.array(
          fc.record({
            at: fc.nat(20),
            to: fc.option(fc.integer({ min: 1, max: 60_000 })),
            forgotten: fc.option(fc.record({ jar: fc.nat(2), mg: fc.integer({ min: 1, max: 9_000 }) })),
          }),
          { maxLength: 4 },
        ),
        async (history, costing, corrections) => {
          const b = await freshBench();
          const { deps, owner } = b.studio;
          const { version } = deps.sqlite.prepare('select version from studio').get() as { version: number };
          updateStudio(deps.db, { costing }, version);
          weigh(b, 0, 1_000);
          for (const d of history) act(b, d);
          finish(b);
          for (const { at, to, forgotten } of corrections) {
            if (forgotten) {
              b.studio.clock.now += MINUTE;
              const cost = {
                what: 'material' as const,
                stockLotId: b.jars[forgotten.jar] ?? 0,
                quantity: forgotten.mg,
                wasted: forgotten.mg % 2 === 1,
              };
              addForgottenCost(deps, { lotId: b.lotId, cost, reason: 'forgotten', clientId: null }, owner);
            }
            const standing = standingLines(costLinesOf(deps.db, b.lotId));
            const line = standing[at % Math.max(standing.length, 1)];
            if (!line) break;
            b.studio.clock.now += MINUTE;
            const replacement =
              to === null ? null : { quantity: to, priceMinor: line.priceMinor, perQuantity: line.perQuantity };
            correctCostLine(deps, { costLineId: line.id, reason: 'found out later', replacement }, owner);
          }
          const lines = costLinesOf(deps.db, b.lotId);
          for (const l of lines) {
            expect(Math.abs(l.costMinor - (l.quantity * l.priceMinor) / l.perQuantity)).toBeLessThanOrEqual(0.5 + 1e-9);
          }
          const total = lines.reduce((sum, l) => sum + l.costMinor, 0);
          expect(standingLines(lines).reduce((sum, l) => sum + l.costMinor, 0)).toBe(total);
          const proof = reconciliation(deps.db, EVERYTHING);
          expect(proof.ties).toBe(true);
          expect([proof.lines.costMinor, proof.historyMinor]).toEqual([total, total]);
          expect(proof.mg.lineQuantity).toBe(proof.mg.ledgerQuantity);
        },
      ),
      { numRuns: 16 },
    );
  });

  test('weighed wrong, voided and weighed right costs, holds and averages what never having erred does', async () => {
    await fc.assert(
      fc.asyncProperty(
        deeds,
        fc.constantFrom('specific' as const, 'movingAverage' as const),
        async (history, costing) => {
          const outcome = async (unerring: boolean) => {
            const b = await freshBench();
            const { deps } = b.studio;
            const { version } = deps.sqlite.prepare('select version from studio').get() as { version: number };
            updateStudio(deps.db, { costing }, version);
            weigh(b, 2, 500);
            for (const d of history) act(b, d, unerring);
            finish(b);
            const log = deps.sqlite.prepare('select count(*) from log_entries').pluck().get() as number;
            return {
              log,
              cost: costLinesOf(deps.db, b.lotId).map(({ id: _, writtenAt: __, ...line }) => line),
              onHand: b.jars.map((id) => modelled(ledger(b, id))),
              averages: [b.world.stock.blue, b.world.stock.yellow, b.world.stock.red].map((s) =>
                movingAverageRate(deps.db, s, b.studio.clock.now),
              ),
            };
          };
          const erred = await outcome(false);
          const never = await outcome(true);
          expect({ ...erred, log: 0 }).toEqual({ ...never, log: 0 });
          expect(erred.log - never.log).toBe(2 * history.filter((d) => d.deed === 'slip').length);
        },
      ),
      { numRuns: 12 },
    );
  });
});
