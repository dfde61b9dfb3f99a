import { expect, test } from 'vitest';
import { recordWeighing } from '../../server/bench/recordWeighing.ts';
import { voidEntry } from '../../server/bench/voidEntry.ts';
import { fibreById } from '../../server/fibres/queries.ts';
import { finishLot } from '../../server/lots/finishLot.ts';
import { costLinesOf } from '../../server/lots/queries.ts';
import { rateBook } from '../../server/matching/proposals.ts';
import { methodById } from '../../server/methods/queries.ts';
import { makeSolution, receive, waste } from '../../server/stock/ledger.ts';
import { movingAverageRate } from '../../server/stock/movingAverage.ts';
import { freshStudio, type TestStudio } from '../support/app.ts';
import { plannedLot } from '../support/benchWorld.ts';
import { outcomeInput } from '../support/lotInputs.ts';
import { makeWorld } from '../support/world.ts';

const MINUTE = 60_000;

const receipt = (studio: TestStudio, dyeId: number, code: string, quantity: number, priceMinor: number) =>
  receive(
    studio.deps.db,
    {
      code,
      kind: 'dye',
      dyeId,
      auxiliaryId: null,
      fibreId: null,
      unit: 'mg',
      supplier: '',
      makerLot: '',
      strengthPpm: 1_000_000,
      receivedOn: '2026-03-16',
      openedOn: null,
      bestBeforeOn: null,
      priceMinor,
      freightMinor: 0,
      receivedQuantity: quantity,
      sourceStockLotId: null,
      concPpm: null,
      note: '',
    },
    studio.owner,
    { at: studio.clock.now, recordedAt: studio.clock.now },
  );

const perGram = (rate: { priceMinor: number; perQuantity: number }): number =>
  (rate.priceMinor / rate.perQuantity) * 1000;

test('a jar of 500 g at 0.04 and one of 250 g at 0.07 are worth 0.05 a gram; the jar alone stays at its own price', async () => {
  const studio = await freshStudio();
  const { db } = studio.deps;
  // IAS 2 Inventories (weighted average); the figures are a worked example of the trade.
  const dyeId = studio.deps.sqlite
    .prepare("insert into dyes (code, name, class) values ('NN', 'New', 'reactive') returning id")
    .pluck()
    .get() as number;
  const a = receipt(studio, dyeId, 'N-1', 500_000, 2_000);
  studio.clock.now += MINUTE;
  const b = receipt(studio, dyeId, 'N-2', 250_000, 1_750);
  expect(movingAverageRate(db, b, studio.clock.now)).toEqual({ priceMinor: 3_750, perQuantity: 750_000 });
  expect(perGram(movingAverageRate(db, a, studio.clock.now - 1))).toBe(4);

  // 100 g in 10 L of solution are still in the house; 5 L of them poured away are 50 g less: (700·5 + …) stays 5 until a receipt.
  studio.clock.now += MINUTE;
  const when = () => ({ at: studio.clock.now, recordedAt: studio.clock.now });
  const solution = makeSolution(
    db,
    {
      sourceStockLotId: a.id,
      code: 'N-1-S1',
      massMg: 100_000,
      volumeUl: 10_000_000,
      concPpm: 10_000,
      madeOn: '2026-03-16',
      bestBeforeOn: null,
      note: '',
    },
    studio.owner,
    when(),
  );
  // 5 cents a gram, 10 g in a litre: 50 cents a litre.
  const rate = movingAverageRate(db, solution, studio.clock.now);
  expect((rate.priceMinor / rate.perQuantity) * 1_000_000).toBeCloseTo(50, 9);
  studio.clock.now += MINUTE;
  waste(db, { stockLotId: solution.id, quantity: 5_000_000, reason: 'old' }, studio.owner, when());
  studio.clock.now += MINUTE;
  const c = receipt(studio, dyeId, 'N-3', 300_000, 3_000);
  // 700 g at 5 and 300 g at 10 cents: 6.5 cents, by hand.
  expect(perGram(movingAverageRate(db, c, studio.clock.now))).toBeCloseTo(6.5, 9);
});

test('the setting values lots finished from then on, and each line says how it was valued', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const { deps, owner, clock } = studio;
  clock.now += MINUTE;
  receipt(studio, w.dyeIds.blue, 'B-2', 500_000, 8_000); // beside 500 g for 40.00

  const settings = (await studio.page.get('/settings')).text;
  expect(settings).toMatch(/name="costing" value="specific" checked/);
  const form = {
    name: 'Test Works',
    zone: 'Europe/Lisbon',
    labourRate: '24',
    overheadRate: '9',
    weighingTolerance: '2',
    weighingFloor: '1',
    stockConc: '1',
    version: /name="version" value="(\d+)"/.exec(settings)?.[1] ?? '',
  };
  const saved = await studio.page.post('/settings', {
    ...form,
    currency: 'EUR',
    units: 'metric',
    costing: 'movingAverage',
  });
  expect(saved.status, saved.text).toBe(303);
  expect((await studio.page.get('/settings')).text).toMatch(/name="costing" value="movingAverage" checked/);

  // Proposals of recipes compare by the same value: 2 % of 100 g of blue at 12 cents a gram.
  const fibre = fibreById(deps.db, w.linenId);
  const method = methodById(deps.db, w.methodId);
  if (!fibre || !method) throw new Error('there are no goods or no method');
  expect(rateBook(deps.db, fibre, method)([{ dyeId: w.dyeIds.blue, depthPpm: 20_000 }])).toBe(24);

  const lotId = (await plannedLot(studio, w, { goodsOwner: 'customer' })).lotId;
  // The plan goes by the same value, so that estimate and cost can be compared.
  const { estimate } = JSON.parse(
    deps.sqlite.prepare('select plan_json from lots where id = ?').pluck().get(lotId) as string,
  ) as { estimate: { description: string }[] };
  expect(estimate.find((e) => e.description.startsWith('RB'))).toMatchObject({
    quantity: 12_000,
    rate: { priceMinor: 12_000, perQuantity: 1_000_000 },
    costMinor: 144,
  });
  expect((await studio.page.get(`/lots/${lotId}`)).text).toContain('Materials at the moving average');
  const blue = (await studio.api.get(`/lots/${lotId}`)).body.lines.find((l: { code: string }) => l.code === 'RB');
  let n = 0;
  const happened = () => {
    clock.now += MINUTE;
    return { clientId: `weigh-${String(++n).padStart(6, '0')}`, at: clock.now };
  };
  // Mistyped, taken back and weighed again: the average never hears of it.
  const wrong = recordWeighing(
    deps,
    {
      lotId,
      componentId: blue.componentId,
      stockLotId: w.stock.blue.id,
      amount: 120_000,
      confirmed: true,
      ...happened(),
    },
    owner,
  );
  voidEntry(deps, { entryId: wrong.id, reason: 'slip of the keys', ...happened() }, owner);
  recordWeighing(
    deps,
    { lotId, componentId: blue.componentId, stockLotId: w.stock.blue.id, amount: 12_000, ...happened() },
    owner,
  );
  finishLot(deps, outcomeInput({ lotId, ...happened() }), owner);
  // 12 g at (40.00 + 80.00)/1 kg = 1.44, where the jar itself would have been 0.96.
  expect(costLinesOf(deps.db, lotId)).toMatchObject([
    {
      kind: 'dye',
      quantity: 12_000,
      costMinor: 144,
      priceMinor: 12_000,
      perQuantity: 1_000_000,
      valuation: 'movingAverage',
    },
  ]);
  expect((await studio.page.get(`/lots/${lotId}`)).text).toContain('moving average');
});
