import { describe, expect, test } from 'vitest';
import { lotSteps, lots } from '../../server/db/tables/lots.ts';
import { orders } from '../../server/db/tables/orders.ts';
import type { Deps } from '../../server/deps.ts';
import { openSignIn } from '../../server/people/signIn.ts';
import { freshStudio, MONDAY, type TestStudio } from '../support/app.ts';
import { type LotWorld, lotWorld, writeLot } from '../support/finishedLots.ts';
import { statementsOf } from '../support/statements.ts';

const MINUTE = 60_000;
const DAY = 24 * 60 * MINUTE;

async function studioWithWorld(): Promise<TestStudio & { world: LotWorld }> {
  const studio = await freshStudio();
  return { ...studio, world: lotWorld(studio.deps, studio.owner) };
}

/** A lot on the bench with these steps, minutes long; its entries are written by `log`. */
function lotWithSteps(
  world: LotWorld,
  number: string,
  minutes: readonly [string, number][],
  planned?: { plannedForOn: string | null },
): { lotId: number; stepIds: number[] } {
  const { db, sqlite } = world.deps;
  const lotId = db
    .insert(lots)
    .values({
      number,
      status: 'planned',
      methodId: world.methodId,
      fibreId: world.fibreId,
      goodsText: 'napkins',
      dryMassMg: 840_000,
      goodsOwner: 'customer',
      massFound: 'stated',
      coverage: 'eachOverAll',
      lossPpm: 0,
      readabilityMg: 10,
      estimateMinor: 0,
      planJson: '{}',
      plannedAt: MONDAY - DAY,
      plannedBy: world.owner.personId,
      ...planned,
    })
    .returning()
    .get().id;
  const stepIds = minutes.map(
    ([name, duration], i) =>
      db
        .insert(lotSteps)
        .values({ lotId, ordinal: i + 1, name, plannedDurationS: duration * 60, plannedHandsOnS: 0 })
        .returning()
        .get().id,
  );
  if (planned) return { lotId, stepIds };
  sqlite.prepare("update lots set status = 'onBench', started_at = ? where id = ?").run(MONDAY - 60 * MINUTE, lotId);
  return { lotId, stepIds };
}

let entries = 0;
const log = (
  deps: Deps,
  lotId: number,
  kind: string,
  at: number,
  refers: { stepId?: number | undefined; to?: unknown },
): unknown =>
  deps.sqlite
    .prepare(
      'insert into log_entries (lot_id, client_id, kind, step_id, refers_to_id, at, recorded_at, by_person_id) values (?, ?, ?, ?, ?, ?, ?, 1) returning id',
    )
    .pluck()
    .get(lotId, `today-entry-${++entries}`, kind, refers.stepId ?? null, refers.to ?? null, at, at);

const headings = (text: string): string[] =>
  [...text.matchAll(/<h2[^>]*>([^<]+)/g)]
    .map((m) => (m[1] ?? '').trim())
    .filter((h) => !['Work', 'Formulas', 'Shelf', 'Books'].includes(h));

describe('a new studio', () => {
  test('is led from the fibre to the first lot, the next step marked', async () => {
    const { page } = await freshStudio();
    const empty = (await page.get('/')).text;
    expect(empty).toContain('From an empty shelf to the first lot');
    for (const href of ['/fibres/new', '/dyes/new', '/stock/new', '/methods/new', '/recipes/new', '/lots/new']) {
      expect(empty).toContain(`href="${href}"`);
      expect((await page.get(href)).status, href).toBe(200);
    }
    expect(empty.match(/class="is-next"/g)).toHaveLength(1);
    await page.post('/fibres', { name: 'Linen', class: 'cellulose', kind: 'cloth' });
    const after = (await page.get('/')).text;
    expect(after.match(/class="is-done"/g)).toHaveLength(1);
    expect(after).not.toContain('href="/fibres/new"');
    expect(after).toMatch(/class="is-next"><div class="grow"><b>Add a dye/);
  });

  test('the guide goes when there is a lot, and a viewer is offered nothing to add', async () => {
    const { app, page, deps, world } = await studioWithWorld();
    expect((await page.get('/')).text).toContain('class="is-next"><div class="grow"><b>Plan the first lot');
    const viewer = deps.sqlite
      .prepare("insert into people (name, role, created_at) values ('Ana', 'viewer', 1) returning id")
      .pluck()
      .get() as number;
    const seen = await app.inject({ url: '/', headers: { cookie: `studio=${openSignIn(deps, viewer, 'test')}` } });
    expect(seen.body).toContain('Plan the first lot');
    expect(seen.body).not.toContain('href="/lots/new"');
    lotWithSteps(world, '26-0001', []);
    expect((await page.get('/')).text).not.toContain('From an empty shelf');
  });
});

describe('the bench', () => {
  test('a running step shows the time left by the entry that began it, overdue when it is over', async () => {
    const { page, api, deps, clock, world } = await studioWithWorld();
    const { lotId, stepIds } = lotWithSteps(world, '26-0007', [
      ['Soak', 30],
      ['Dye', 60],
      ['Wash off', 20],
    ]);
    log(deps, lotId, 'stepStart', MONDAY - 50 * MINUTE, { stepId: stepIds[0] });
    log(deps, lotId, 'stepEnd', MONDAY - 15 * MINUTE, { stepId: stepIds[0] });
    log(deps, lotId, 'stepStart', MONDAY - 10 * MINUTE, { stepId: stepIds[1] });

    const [lot] = (await api.get('/today')).body.onBench;
    expect(lot).toMatchObject({ number: '26-0007', doneSteps: 1, stepCount: 3, nextStep: null });
    expect(lot.running).toEqual([
      { stepId: stepIds[1], name: 'Dye', state: 'running', remainingS: 50 * 60, expectedEndAt: MONDAY + 50 * MINUTE },
    ]);
    // 50 min of dyeing, then 20 min of washing off.
    expect(lot.readyAt).toBe(MONDAY + 70 * MINUTE);
    const shown = (await page.get('/')).text;
    expect(shown).toContain(`data-ends-at="${MONDAY + 50 * MINUTE}" data-now="${MONDAY}"><b>50:00</b>`);
    expect(shown).toContain('ready about 10:10');

    clock.now += 52 * MINUTE;
    expect((await page.get('/')).text).toContain('over by 2:00');
    expect((await api.get('/today')).body.onBench[0].running[0]).toMatchObject({ state: 'overdue', remainingS: -120 });
  });

  test('a voided start never ran; the next step is named instead', async () => {
    const { page, api, deps, world } = await studioWithWorld();
    const { lotId, stepIds } = lotWithSteps(world, '26-0007', [['Soak', 30]]);
    const entry = log(deps, lotId, 'stepStart', MONDAY - 10 * MINUTE, { stepId: stepIds[0] });
    log(deps, lotId, 'voiding', MONDAY - 9 * MINUTE, { to: entry });
    expect((await api.get('/today')).body.onBench[0]).toMatchObject({ running: [], nextStep: 'Soak', doneSteps: 0 });
    expect((await page.get('/')).text).toContain('Next: Soak');
  });

  test('a lot that is weighed and through its steps is offered to be finished', async () => {
    const { page, world } = await studioWithWorld();
    const lotId = writeLot(world, { number: '26-0009', finishedAt: MONDAY }, true);
    const shown = (await page.get('/')).text;
    expect(shown).toContain('3 of 3 weighed · 1 of 1 steps done');
    expect(shown).toContain(`href="/lots/${lotId}/finish"`);
  });
});

describe('what comes next', () => {
  test('planned lots stand by their day, overdue orders first, and done ones not at all', async () => {
    const { page, api, deps, world } = await studioWithWorld();
    for (const [number, dueOn, status] of [
      ['O-2', '2026-03-20', 'open'],
      ['O-3', '2026-03-10', 'ready'],
      ['O-4', null, 'open'],
      ['O-5', '2026-03-01', 'delivered'],
      ['O-6', '2026-03-16', 'inWork'],
    ] as const) {
      deps.db
        .insert(orders)
        .values({ number, customerId: world.customerId, orderedOn: '2026-02-01', dueOn, status })
        .run();
    }
    const lot = (number: string, on: string | null): void => {
      lotWithSteps(world, number, [], { plannedForOn: on });
    };
    lot('26-0001', null);
    lot('26-0002', '2026-03-18');
    lot('26-0003', '2026-03-13');
    const today = (await api.get('/today')).body;
    expect(today.todayOn).toBe('2026-03-16');
    expect(today.planned.map((l: { number: string }) => l.number)).toEqual(['26-0003', '26-0002', '26-0001']);
    expect(today.orders.map((o: { number: string; overdue: boolean }) => [o.number, o.overdue])).toEqual([
      ['O-3', true],
      ['O-6', false],
      ['O-2', false],
      ['O-1', false],
      ['O-4', false],
    ]);
    const shown = (await page.get('/')).text;
    expect(shown).toContain('was for 13 Mar 2026');
    expect(shown).toContain('6 days overdue');
    expect(shown).toContain('due today');
    expect(shown).not.toContain('O-5');
  });

  test('the shelf is watched: nearly out, past its day, recalled; a full container is not named', async () => {
    const { page, api, deps, world } = await studioWithWorld();
    lotWithSteps(world, '26-0001', []);
    expect((await api.get('/today')).body.containers).toEqual([]);
    const { yellow, blue } = world.stockLotIds;
    // 450 g of 500 g gone leaves a tenth.
    deps.sqlite
      .prepare(
        "insert into stock_ledger (stock_lot_id, kind, quantity, at, recorded_at, by_person_id, reason) values (?, 'waste', -450000, 1, 1, 1, 'spilt')",
      )
      .run(yellow);
    deps.sqlite.prepare("update stock_lots set best_before_on = '2026-03-15' where id = ?").run(blue);
    const { containers } = (await api.get('/today')).body;
    expect(containers).toMatchObject([
      { code: 'B1-A', supplyState: 'enough', keepingState: 'past', recalled: false },
      { code: 'Y1-A', supplyState: 'nearlyOut', keepingState: 'undated', onHandQuantity: 50_000 },
    ]);
    const shown = (await page.get('/')).text;
    expect(shown).toContain('nearly out');
    expect(shown).toContain('best-before passed 1 day ago');
    expect(shown).not.toContain('SODA-A');
    deps.sqlite.prepare('update stock_lots set closed_at = 1').run();
    expect((await api.get('/today')).body.containers).toEqual([]);
  });

  test('finished lots wait for a colour reading until there is one, for a season', async () => {
    const { page, api, deps, world } = await studioWithWorld();
    const first = writeLot(world, { number: '26-0001', finishedAt: MONDAY - 2 * DAY });
    writeLot(world, { number: '26-0002', finishedAt: MONDAY - DAY });
    writeLot(world, { number: '25-0300', finishedAt: MONDAY - 91 * DAY });
    writeLot(world, { number: '26-0003', finishedAt: MONDAY - DAY, status: 'abandoned', outcome: null });
    const unread = async (): Promise<string[]> =>
      (await api.get('/today')).body.unread.map((l: { number: string }) => l.number);
    expect(await unread()).toEqual(['26-0002', '26-0001']);
    const reading = deps.sqlite
      .prepare(
        "insert into colour_readings (lot_id, l, a, b, illuminant, observer, source, read_at, read_by) values (?, 50, 0, 0, 'D65', '10', 'instrument', 1, 1) returning id",
      )
      .pluck()
      .get(first);
    expect(await unread()).toEqual(['26-0002']);
    deps.sqlite.prepare('update colour_readings set withdrawn_at = 2 where id = ?').run(reading);
    expect(await unread()).toEqual(['26-0002', '26-0001']);
    expect(headings((await page.get('/')).text)).toContain('Waiting for a colour reading');
  });

  test('a day with nothing to do says so', async () => {
    const { page, deps, world } = await studioWithWorld();
    writeLot(world, { number: '26-0001', finishedAt: MONDAY - 100 * DAY });
    deps.sqlite.prepare("update orders set status = 'delivered'").run();
    expect((await page.get('/')).text).toContain('A quiet day');
  });

  test('costs as many statements for twenty lots as for ten', async () => {
    const { page, deps, world } = await studioWithWorld();
    const statements = (): Promise<number> => statementsOf(deps, () => page.get('/').expect(200));
    const write = (from: number, to: number): void => {
      for (let n = from; n <= to; n++) {
        lotWithSteps(world, `26-1${n}`, [['Dye', 60]]);
        writeLot(world, { number: `26-2${n}`, finishedAt: MONDAY - DAY });
      }
    };
    write(11, 20);
    // What is prepared once for a connection is prepared by now.
    await statements();
    const ten = await statements();
    expect(ten).toBeGreaterThan(5);
    write(21, 30);
    expect(await statements()).toBe(ten);
  });
});
