import { parse } from 'csv-parse/sync';
import { expect, test } from 'vitest';
import { openSignIn } from '../../server/people/signIn.ts';
import { issue, makeSolution, receive, waste } from '../../server/stock/ledger.ts';
import { freshStudio, type TestStudio } from '../support/app.ts';
import { statementsOf } from '../support/statements.ts';
import { makeWorld } from '../support/world.ts';

const DAY = 86_400_000;

/** A page for somebody who has just signed in: months pass in these tests, and sign-ins do not last that long. */
const browse = (studio: TestStudio, url: string) =>
  studio.app.inject({ url, headers: { cookie: `studio=${openSignIn(studio.deps, studio.owner.personId, 'test')}` } });

interface Item {
  code: string;
  state: string;
  onHandQuantity: number;
  inSolutionQuantity: number;
  plannedQuantity: number;
  meanDailyQuantity: number;
  reorderQuantity: number;
  containers: number;
  costMinor: number;
  lastsDays: number | null;
}

test('what is used up within the lead time is to be bought, in jars like the last one', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const { api, clock, deps, owner } = studio;
  const item = async (code: string, query = ''): Promise<Item> => {
    const { items } = (await api.get(`/stock/shopping${query}`)).body as { items: Item[] };
    const found = items.find((i) => i.code === code);
    if (!found) throw new Error(`no ${code}`);
    return found;
  };
  const now = () => ({ at: clock.now, recordedAt: clock.now });
  clock.now += 90 * DAY;
  // 450 g of 500 g blue in 90 days: 5 g a day, order again at 140 g, 50 g last 10 days; 590 g for 118 days, less 50: two jars.
  issue(deps.db, { stockLotId: w.stock.blue.id, quantity: 450_000, lotId: null, weighingId: null }, owner, now());
  expect(await item('RB')).toMatchObject({
    state: 'reorder',
    onHandQuantity: 50_000,
    meanDailyQuantity: 5_000,
    reorderQuantity: 140_000,
    lastsDays: 10,
    containers: 2,
    costMinor: 8_000,
  });
  expect(await item('RY')).toMatchObject({ state: 'enough', containers: 0, lastsDays: null });
  // A solution holds powder too: dissolving is use of the jar, and what is dissolved is still there.
  makeSolution(
    deps.db,
    {
      sourceStockLotId: w.stock.red.id,
      code: 'R-S',
      massMg: 90_000,
      volumeUl: 9_000_000,
      concPpm: 10_000,
      madeOn: '2026-06-14',
      bestBeforeOn: null,
      note: '',
    },
    owner,
    now(),
  );
  expect(await item('RR')).toMatchObject({
    onHandQuantity: 160_000,
    inSolutionQuantity: 90_000,
    meanDailyQuantity: 1_000,
    state: 'enough',
  });
  waste(deps.db, { stockLotId: w.stock.red.id, quantity: 150_000, reason: 'damp' }, owner, now());
  expect((await item('RR')).state).toBe('enough');
  expect((await item('RR', '?leadTimeDays=60')).state).toBe('reorder');

  const shown = (await browse(studio, '/stock/shopping')).body;
  expect(shown).toContain('2 × 500 g');
  expect(shown).toContain('time to order');
  const csv = parse((await browse(studio, '/stock/shopping.csv')).body, { columns: true }) as Record<string, string>[];
  expect(csv).toMatchObject([{ code: 'RB', reorder_at: '140', unit: 'g', buy_containers: '2', container_size: '500' }]);
  expect((await browse(studio, '/stock/shopping?windowDays=never')).statusCode).toBe(422);
  expect((await api.get('/stock/shopping?windowDays=1')).status).toBe(422);
});

test('a planned lot that wants more than there is comes first', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const { api, page, deps, clock, owner } = studio;
  const plan = {
    fibreId: String(w.linenId),
    methodId: String(w.methodId),
    goodsText: 'curtains',
    goodsOwner: 'studio',
    massFound: 'weighedDry',
    mass: '60 kg',
    'revisionId.0': String(w.revisionId),
    'depth.0': '2',
  };
  expect((await page.post('/lots', plan)).status).toBe(303);
  const { items } = (await api.get('/stock/shopping')).body as { items: Item[] };
  // 60 kg at 2 %, half of it blue: 600 g wanted of 500 g there; yellow 360 g of 500 g; red 240 g of 250 g.
  expect(items.find((i) => i.code === 'RB')).toMatchObject({ state: 'short', plannedQuantity: 600_000, containers: 1 });
  expect(items.find((i) => i.code === 'RR')).toMatchObject({ state: 'enough', plannedQuantity: 240_000 });
  expect(items[0]?.state).toBe('short');

  const count = () => statementsOf(deps, async () => expect((await page.get('/stock/shopping')).status).toBe(200));
  const few = await count();
  const { id: _, version: __, ...red } = w.stock.red;
  for (let n = 0; n < 20; n++) {
    receive(deps.db, { ...red, code: `R-${n + 10}` }, owner, { at: clock.now, recordedAt: clock.now });
  }
  expect(await count()).toBe(few);
});

test('powder and solution past the usual life of their class are marked, unless they have a day of their own', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const { clock, deps, owner } = studio;
  makeSolution(
    deps.db,
    {
      sourceStockLotId: w.stock.blue.id,
      code: 'B-1-S1',
      massMg: 5_000,
      volumeUl: 500_000,
      concPpm: 10_000,
      madeOn: '2026-03-16',
      bestBeforeOn: null,
      note: '',
    },
    owner,
    { at: clock.now, recordedAt: clock.now },
  );
  const marks = async (): Promise<number> =>
    [...(await browse(studio, '/stock')).body.matchAll(/past the usual [^<]* of its class: test it first/g)].length;
  clock.now += 7 * DAY;
  expect(await marks()).toBe(0);
  clock.now += DAY;
  // Reactive solution: about a week (P. Burch, soda ash and dye working time, 2019).
  expect(await marks()).toBe(1);
  clock.now += 360 * DAY;
  // Reactive powder: nominally a year (P. Burch, Q&A on old powder); the salts have no published life.
  expect(await marks()).toBe(4);
  deps.sqlite.prepare("update stock_lots set best_before_on = '2028-01-01'").run();
  expect(await marks()).toBe(0);
});
