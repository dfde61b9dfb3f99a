import { expect, test } from 'vitest';
import { freshStudio, MONDAY } from '../support/app.ts';
import { lotWorld, writeLot } from '../support/finishedLots.ts';

/* What a till, a scale or a script that speaks to the shelf would lose: a page of a list, the answer to what it sent, a word of what
 * happened to a jar. Yellow: 500 g for 42.50; blue: 250 g for 39.00; soda ash: 5 kg for 12.00. */

const HOUR = 3_600_000;

async function doors() {
  const studio = await freshStudio();
  const world = lotWorld(studio.deps, studio.owner);
  const { yellow, blue, soda } = world.stockLotIds;
  const get = async (path: string) => (await studio.api.get(path)).body;
  const post = async (path: string, body: object) => {
    const { status, body: answer } = await studio.api.post(path, body);
    return { status, ...answer };
  };
  return { ...studio, world, yellow, blue, soda, get, post };
}

test('a list is of what is asked for, and what is closed comes page by page', async () => {
  const s = await doors();
  const codes = async (query: string) => {
    const { stockLots, next } = await s.get(`/stock-lots${query}`);
    return [...stockLots.map((l: { code: string }) => l.code), next];
  };
  expect(await codes('')).toEqual(['B1-A', 'Y1-A', 'SODA-A', null]);
  expect(await codes(`?dyeId=${s.world.dyeIds[0]}`)).toEqual(['Y1-A', null]);
  expect(await codes(`?auxiliaryId=${s.world.auxiliaryId}&closed=no`)).toEqual(['SODA-A', null]);
  expect(await codes(`?fibreId=${s.world.fibreId}`)).toEqual([null]);
  expect(await codes('?kind=auxiliary')).toEqual(['SODA-A', null]);
  expect(await codes('?closed=yes')).toEqual([null]);
  s.deps.sqlite
    .prepare(
      `insert into stock_lots (code, kind, auxiliary_id, unit, strength_ppm, received_on, price_minor, freight_minor, received_quantity, closed_at)
      select 'OLD-' || value, 'auxiliary', ?, 'mg', 1000000, '2025-01-01', 0, 0, 1000, 1 from json_each(?)`,
    )
    .run(s.world.auxiliaryId, JSON.stringify(Array.from({ length: 201 }, (_, i) => i + 1)));
  const first = await codes('?closed=yes');
  expect([first.length, first[0], first[199]]).toEqual([201, 'OLD-201', 'OLD-2']);
  expect(await codes(`?closed=yes&after=${first.at(-1)}`)).toEqual(['OLD-1', null]);
  expect(await codes(`?closed=yes&dyeId=${s.world.dyeIds[0]}`)).toEqual([null]);
});

test('a ledger ends where there is no more of it', async () => {
  const s = await doors();
  const page = async (query = '') => {
    const { entries, next } = await s.get(`/stock-lots/${s.blue}/ledger${query}`);
    return [entries.map((e: { kind: string; balance: number }) => [e.kind, e.balance]), next];
  };
  await s.post(`/stock-lots/${s.blue}/wastes`, { quantity: 50_000, reason: 'spilt' });
  const { entryId } = await s.post(`/stock-lots/${s.blue}/stock-takes`, {
    countedQuantity: 190_000,
    reason: 'counted',
  });
  const all = [
    ['stockTake', 190_000],
    ['waste', 200_000],
    ['receipt', 250_000],
  ];
  expect(await page()).toEqual([all, null]);
  expect(await page('?limit=4')).toEqual([all, null]);
  expect(await page('?limit=1')).toEqual([all.slice(0, 1), String(entryId)]);
  expect(await page(`?after=${entryId}`)).toEqual([all.slice(1), null]);
  expect((await s.get(`/stock-lots/${s.blue}/ledger`)).entries[0]).toMatchObject({
    entryId,
    personName: 'Inês',
    lotNumber: null,
  });
});

test('what is sent is answered with what was written', async () => {
  const s = await doors();
  s.clock.now += HOUR;
  const at = s.clock.now - 60_000;
  const clientId = 'till-000001';
  expect(
    await s.post(`/stock-lots/${s.blue}/wastes`, { quantity: 50_000, reason: 'spilt', at, clientId }),
  ).toMatchObject({
    status: 201,
    kind: 'waste',
    quantity: -50_000,
    reason: 'spilt',
    at,
    recordedAt: s.clock.now,
    clientId,
    stockLotId: s.blue,
  });
  const count = { countedQuantity: 190_000, reason: 'counted', at, clientId: 'till-000002' };
  expect(await s.post(`/stock-lots/${s.blue}/stock-takes`, count)).toMatchObject({
    status: 201,
    kind: 'stockTake',
    quantity: -10_000,
    reason: 'counted',
    at,
    clientId: 'till-000002',
  });
  const bill = { kind: 'credit', amountMinor: 500, on: '2026-03-16', reason: 'note 118', clientId: 'till-000003' };
  const credit = await s.post(`/stock-lots/${s.blue}/money`, bill);
  expect(credit).toMatchObject({
    status: 201,
    kind: 'credit',
    amountMinor: -500,
    reason: 'note 118',
    stockLotId: s.blue,
  });
  expect((await s.post(`/stock-lots/${s.blue}/money`, bill)).moneyId).toBe(credit.moneyId);
  const { status: _, ...row } = credit;
  expect((await s.get(`/stock-lots/${s.blue}/money`)).money).toEqual([row]);
  // 39.00 less 5.00 for 250 g, 190 g of it there.
  expect(await s.get(`/stock-lots/${s.blue}`)).toMatchObject({
    stockLotId: s.blue,
    lateMinor: -500,
    valueMinor: 2_584,
  });

  const dissolve = {
    concPpm: 10_000,
    massMg: 5_000,
    volumeUl: 510_000,
    code: 'S-7',
    madeOn: '2026-03-16',
    note: 'warm',
  };
  const made = await s.post(`/stock-lots/${s.blue}/solutions`, { ...dissolve, clientId: 'till-000004' });
  expect(made).toMatchObject({ status: 201, code: 'S-7', receivedQuantity: 510_000, concPpm: 9_804, note: 'warm' });
  const again = await s.post(`/stock-lots/${s.blue}/solutions`, { ...dissolve, clientId: 'till-000004' });
  expect(again.stockLotId).toBe(made.stockLotId);
  const { containers, stockLotId } = await s.get(`/stock-lots/${s.blue}/touched`);
  expect([stockLotId, containers]).toEqual([
    s.blue,
    [
      { stockLotId: s.blue, code: 'B1-A' },
      { stockLotId: made.stockLotId, code: 'S-7' },
    ],
  ]);
  expect(await s.get(`/stock-lots/${s.blue}/on-hand?on=2026-03-16`)).toEqual({
    on: '2026-03-16',
    quantity: 185_000,
    unit: 'mg',
  });
  expect(await s.get(`/stock-lots/${made.stockLotId}/on-hand?on=2026-03-15`)).toEqual({
    on: '2026-03-15',
    quantity: 0,
    unit: 'ul',
  });

  const receipt = { dyeId: s.world.dyeIds[0], quantity: 1_000, priceMinor: 5, receivedOn: '2026-03-16' };
  expect(await s.post('/stock-lots', { ...receipt, clientId: 'till-000005' })).toMatchObject({
    status: 201,
    code: 'Y1-1',
    freightMinor: 0,
  });
  expect(await s.post('/stock-lots', { ...receipt, clientId: 'till-000005' })).toMatchObject({
    status: 201,
    code: 'Y1-1',
  });
  const kept = { supplier: 'x', makerLot: 'y', strengthPpm: 900_000, openedOn: null, bestBeforeOn: null, note: 'z' };
  const change = (version: number) => s.api.put(`/stock-lots/${s.soda}`, { ...kept, version });
  expect((await change(1)).body).toMatchObject({ ...kept, version: 2 });
  expect((await change(1)).status).toBe(409);
});

test('what is done with a jar is told with its reason, and said once however often it is sent', async () => {
  const s = await doors();
  const closing = { how: 'discarded', reason: 'caked', clientId: 'till-000006' };
  expect(await s.post(`/stock-lots/${s.soda}/closing`, closing)).toMatchObject({
    status: 200,
    closedAt: MONDAY,
    onHandQuantity: 0,
  });
  s.clock.now += HOUR;
  const reopening = { countedQuantity: 4_000_000, reason: 'the wrong sack', clientId: 'till-000007' };
  for (let press = 1; press <= 2; press++)
    expect(await s.post(`/stock-lots/${s.soda}/reopening`, reopening)).toMatchObject({
      status: 200,
      closedAt: null,
      onHandQuantity: 4_000_000,
    });
  expect(await s.post(`/stock-lots/${s.soda}/closing`, closing)).toMatchObject({ status: 200, closedAt: null });
  expect(await s.post(`/stock-lots/${s.soda}/recall`, { reason: 'maker’s notice' })).toMatchObject({
    status: 200,
    recalledAt: s.clock.now,
    recallReason: 'maker’s notice',
  });
  expect(await s.post(`/stock-lots/${s.soda}/recall-lifting`, { reason: 'tested' })).toMatchObject({
    status: 200,
    recalledAt: null,
  });
  const { events } = await s.get(`/stock-lots/${s.soda}/events`);
  expect(
    events.map((e: { kind: string; reason: string; eventId: number }) => [e.kind, e.reason, e.eventId > 0]),
  ).toEqual([
    ['recallLifted', 'tested', true],
    ['recalled', 'maker’s notice', true],
    ['reopened', 'the wrong sack', true],
    ['closed', 'caked', true],
  ]);
  expect(await s.post(`/stock-lots/${s.blue}/closing`, { how: 'empty' })).toMatchObject({
    status: 200,
    closedAt: s.clock.now,
  });
  expect(await s.post(`/stock-lots/${s.yellow}/closing`, { how: 'discarded' })).toMatchObject({
    status: 422,
    fields: { reason: 'say why' },
  });
});

test('a jar that is not there is not found', async () => {
  const s = await doors();
  for (const path of ['', '/ledger', '/money', '/events', '/touched', '/on-hand?on=2026-03-16']) {
    const { status, body } = await s.api.get(`/stock-lots/999${path}`);
    expect([path, status, body.code, body.detail]).toEqual([path, 404, 'notFound', 'There is no such container.']);
  }
});

test('a receipt is of one thing, whichever that is', async () => {
  const s = await doors();
  const receipt = { quantity: 1_000, priceMinor: 5, receivedOn: '2026-03-16' };
  const one = async (item: object) => {
    const { status, kind, fields } = await s.post('/stock-lots', { ...receipt, ...item });
    return [status, kind ?? fields];
  };
  const { dyeIds, auxiliaryId, fibreId } = s.world;
  expect(await one({ dyeId: dyeIds[0] })).toEqual([201, 'dye']);
  expect(await one({ auxiliaryId })).toEqual([201, 'auxiliary']);
  expect(await one({ fibreId })).toEqual([201, 'fibre']);
  const told = [422, { dyeId: 'exactly one of dyeId, auxiliaryId, fibreId' }];
  expect(await one({})).toEqual(told);
  expect(await one({ auxiliaryId, fibreId })).toEqual(told);
});

test('what is to be bought may be asked with some days of its own', async () => {
  const s = await doors();
  writeLot(s.world, { number: '26-0001', finishedAt: MONDAY + HOUR }, true);
  s.clock.now = MONDAY + 28 * 24 * HOUR;
  const state = async (query: string) => {
    const { items } = await s.get(`/stock/shopping${query}`);
    return items.find((i: { code: string }) => i.code === 'Y1').state;
  };
  // 12.6 g in four weeks are 0.45 g a day: 487.4 g last 1083 days.
  expect([
    await state(''),
    await state('?leadTimeDays=730&safetyDays=300'),
    await state('?leadTimeDays=730&safetyDays=400'),
  ]).toEqual(['enough', 'enough', 'reorder']);
});
