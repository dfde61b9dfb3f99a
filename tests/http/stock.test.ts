import { parse } from 'csv-parse/sync';
import { expect, test } from 'vitest';
import { issue } from '../../server/stock/ledger.ts';
import { freshStudio, MONDAY, type TestStudio } from '../support/app.ts';
import { statementsOf } from '../support/statements.ts';

const DAY_MS = 24 * 3600_000;

/** A studio with one dye whose solutions keep a week, and one container of 250 g of it for 30 € and 5 € freight. */
async function shelf(): Promise<TestStudio & { dyeId: number; jar: number; at: string }> {
  const studio = await freshStudio();
  const { body: dye } = await studio.api.post('/dyes', {
    code: 'T1',
    name: 'Turquoise',
    class: 'reactive',
    solutionLifeDays: 7,
    hazardCodes: 'H334',
  });
  const saved = await studio.page.post('/stock', {
    item: `dye-${dye.dyeId}`,
    quantity: '250 g',
    price: '30',
    freight: '5,00',
    supplier: 'a wholesaler',
    makerLot: 'M-77',
    strength: '100',
    receivedOn: '2026-03-02',
    bestBeforeOn: '2027-03-01',
  });
  expect(saved.status).toBe(303);
  const at = saved.headers['location'] as string;
  return { ...studio, dyeId: dye.dyeId, jar: Number(at.split('/').at(-1)), at };
}

/** A lot, on the bench unless said otherwise, by SQL: planning belongs to another part. */
function lotWith(studio: TestStudio, number: string, status: 'planned' | 'onBench' = 'onBench'): number {
  const run = (sql: string, ...values: unknown[]): number =>
    Number(studio.deps.sqlite.prepare(sql).run(...values).lastInsertRowid);
  run("insert or ignore into methods (id, name) values (1, 'Cold batch')");
  run("insert or ignore into fibres (id, name, class, kind) values (1, 'Linen', 'cellulose', 'cloth')");
  return run(
    `insert into lots (number, status, method_id, fibre_id, goods_text, dry_mass_mg, goods_owner, mass_found, coverage, loss_ppm, readability_mg,
      estimate_minor, plan_json, planned_at, planned_by) values (?, ?, 1, 1, '12 napkins', 500000, 'studio', 'weighedDry', 'eachOverAll', 0, 10, 0, '{}', 1, ?)`,
    number,
    status,
    studio.owner.personId,
  );
}

test('a container received is labelled, stands in the ledger at the day it came, and costs what was paid', async () => {
  const { api, page, at, jar } = await shelf();
  expect((await api.get(`/stock-lots/${jar}`)).body).toMatchObject({
    code: 'T1-1',
    unit: 'mg',
    receivedQuantity: 250_000,
    onHandQuantity: 250_000,
    priceMinor: 3000,
    freightMinor: 500,
    valueMinor: 3500,
    makerLot: 'M-77',
  });
  const shown = (await page.get(at)).text;
  expect(shown).toContain('250 g');
  expect(shown).toContain('maker’s lot'.replace('maker', 'Maker'));
  // 35 € for 250 g: 14 € for 100 g
  expect(shown).toMatch(/Cost per 100 g<\/dt><dd>€14\.00/);
  expect(shown).toContain('2 Mar 2026, 00:00');
  expect((await page.get('/stock')).text).toContain('€35.00');
  expect((await page.get('/stock?kind=auxiliary')).text).toContain('The shelf is empty');
});

test('a refused receipt keeps what was typed and saves nothing', async () => {
  const { page, api, dyeId } = await shelf();
  const typed = { item: `dye-${dyeId}`, quantity: '500 mL', price: 'much', strength: '100', receivedOn: '2026-02-30' };
  const refused = await page.post('/stock', typed);
  expect(refused.status).toBe(422);
  for (const name of ['quantity', 'price', 'receivedOn']) expect(refused.text).toContain(`f-${name}-error`);
  expect(refused.text).toContain('value="500 mL"');
  const late = await page.post('/stock', { ...typed, quantity: '1 lb', price: '1', receivedOn: '2026-03-17' });
  expect([late.status, late.text.includes('still to come')]).toEqual([422, true]);
  const nothing = await page.post('/stock', {
    ...typed,
    item: 'dye-99',
    quantity: '1 lb',
    price: '1',
    receivedOn: '2026-03-16',
  });
  expect([nothing.status, nothing.text.includes('f-item-error')]).toEqual([422, true]);
  expect((await api.get('/stock-lots')).body.stockLots).toHaveLength(1);
});

test('a form sent twice is received once, and a label is taken once', async () => {
  const { page, api, dyeId, at } = await shelf();
  const form = /name="clientId" value="([^"]+)"/.exec((await page.get(`/stock/new?item=dye-${dyeId}`)).text)?.[1] ?? '';
  expect(form).toMatch(/^[\w-]{36}$/);
  const typed = {
    item: `dye-${dyeId}`,
    quantity: '100 g',
    price: '0',
    strength: '100',
    receivedOn: '2026-03-16',
    clientId: form,
  };
  const first = await page.post('/stock', typed);
  const second = await page.post('/stock', typed);
  expect(second.headers['location']).toBe(first.headers['location']);
  expect((await api.get('/stock-lots')).body.stockLots.map((s: { code: string }) => s.code)).toEqual(['T1-1', 'T1-2']);
  const { clientId: _id, ...again } = typed;
  const taken = await page.post('/stock', { ...again, code: 't1-1' });
  expect([taken.status, taken.text.includes('f-code-error')]).toEqual([422, true]);
  expect((await page.get(at)).status).toBe(200);
});

test('a count becomes an entry of its difference; one that agrees is recorded as well', async () => {
  const { page, api, jar, at } = await shelf();
  expect((await page.post(`${at}/stock-takes`, { counted: '240 g', reason: 'month-end count' })).status).toBe(303);
  expect((await page.post(`${at}/stock-takes`, { counted: '240', reason: 'again' })).status).toBe(303);
  const { entries } = (await api.get(`/stock-lots/${jar}/ledger`)).body;
  expect(entries.map((e: { quantity: number; balance: number }) => [e.quantity, e.balance])).toEqual([
    [0, 240_000],
    [-10_000, 240_000],
    [250_000, 250_000],
  ]);
  expect((await page.get(at)).text).toContain('count and ledger agreed');
  const refused = await page.post(`${at}/stock-takes`, { counted: 'some', reason: '' });
  expect(refused.status).toBe(422);
  expect(refused.text).toContain('f-counted-error');
  expect(refused.text).toContain('f-reason-error');
});

test('waste is written off with a reason; what is sent again by the API is written once', async () => {
  const { page, api, jar, at } = await shelf();
  expect((await page.post(`${at}/wastes`, { quantity: '5 g', reason: 'spilt' })).status).toBe(303);
  const body = { quantity: 3000, reason: 'clumped', clientId: 'tablet-2-000017' };
  const first = await api.post(`/stock-lots/${jar}/wastes`, body);
  const again = await api.post(`/stock-lots/${jar}/wastes`, body);
  expect([first.status, again.status]).toEqual([201, 201]);
  expect(again.body).toEqual(first.body);
  expect((await api.get(`/stock-lots/${jar}`)).body.onHandQuantity).toBe(242_000);
  const other = await api.post(`/stock-lots/${jar}/stock-takes`, {
    countedQuantity: 1,
    reason: 'x',
    clientId: body.clientId,
  });
  expect([other.status, other.body.code]).toEqual([409, 'idReused']);
  expect((await api.post(`/stock-lots/${jar}/wastes`, { quantity: 0, reason: '' })).status).toBe(422);
});

test('a count that reaches the studio late is held against what was there when it was made', async () => {
  const { api, jar, clock } = await shelf();
  const countedAt = MONDAY;
  clock.now += 3_600_000;
  await api.post(`/stock-lots/${jar}/wastes`, { quantity: 10_000, reason: 'spilt' });
  clock.now += 3_600_000;
  const { body } = await api.post(`/stock-lots/${jar}/stock-takes`, {
    countedQuantity: 249_000,
    reason: 'counted',
    at: countedAt,
  });
  expect(body.quantity).toBe(-1000);
  expect((await api.get(`/stock-lots/${jar}`)).body.onHandQuantity).toBe(239_000);
  const ahead = await api.post(`/stock-lots/${jar}/wastes`, { quantity: 1, reason: 'x', at: clock.now + DAY_MS });
  expect([ahead.status, Object.keys(ahead.body.fields)]).toEqual([422, ['at']]);
});

test('on hand at the end of a past day is shown by the page and by the API', async () => {
  const { page, api, jar, at, clock } = await shelf();
  await page.post(`${at}/wastes`, { quantity: '50 g', reason: 'spilt' });
  clock.now += DAY_MS;
  await page.post(`${at}/wastes`, { quantity: '50 g', reason: 'spilt' });
  const on = async (day: string): Promise<number> =>
    (await api.get(`/stock-lots/${jar}/on-hand?on=${day}`)).body.quantity as number;
  expect([await on('2026-03-01'), await on('2026-03-02'), await on('2026-03-16'), await on('2026-03-17')]).toEqual([
    0, 250_000, 200_000, 150_000,
  ]);
  expect((await page.get(`${at}?on=2026-03-16`)).text).toMatch(/At the end of 16 Mar 2026: <b>200 g<\/b>/);
  expect((await page.get(`${at}?on=soon`)).text).toContain('f-on-error');
});

test('a solution takes its powder from the jar, keeps its label’s strength, and is past its life when the dye says', async () => {
  const { page, api, jar, at } = await shelf();
  const asked = await page.part('get', `${at}/solutions/new?volume=500%20mL&conc=1&mass=5.04`);
  // 1 % w/v = 1 g in 100 mL: 5 g in 500 mL, and 5.04 g in 504 mL
  expect(asked.text).toContain('5.00 g');
  expect(asked.text).toMatch(/With 5\.04 g weighed, make up to 504\.0 mL/);
  const made = await page.post(`${at}/solutions`, {
    volume: '500 mL',
    conc: '1',
    mass: '5.04',
    madeOn: '2026-03-16',
    bestBeforeOn: '2026-03-23',
  });
  expect(made.status).toBe(303);
  const solution = (await api.get(made.headers['location']?.replace('/stock/', '/stock-lots/') as string)).body;
  expect(solution).toMatchObject({
    code: 'T1-1-S1',
    unit: 'ul',
    concPpm: 10_000,
    receivedQuantity: 504_000,
    sourceStockLotId: jar,
    bestBeforeOn: '2026-03-23',
    makerLot: 'M-77',
    // 5.04 g of 250 g for 35.00 €: 0.7056 €
    priceMinor: 71,
  });
  expect((await api.get(`/stock-lots/${jar}`)).body.onHandQuantity).toBe(244_960);
  expect((await page.get(at)).text).toContain('Solutions made from it');
  expect((await page.get(`/stock/${solution.stockLotId}`)).text).toContain('1 % solution of');
  expect((await page.get(`/stock/${solution.stockLotId}/solutions/new`)).status).toBe(409);

  const otherwise = await api.post(`/stock-lots/${jar}/solutions`, {
    concPpm: 10_000,
    massMg: 5040,
    volumeUl: 500_000,
    clientId: 'bench-0001',
  });
  expect(otherwise.body).toMatchObject({ concPpm: 10_080, bestBeforeOn: '2026-03-23', receivedQuantity: 500_000 });
  const again = await api.post(`/stock-lots/${jar}/solutions`, {
    concPpm: 10_000,
    massMg: 5040,
    volumeUl: 500_000,
    clientId: 'bench-0001',
  });
  expect(again.body.stockLotId).toBe(otherwise.body.stockLotId);
  expect((await api.get(`/stock-lots/${jar}`)).body.onHandQuantity).toBe(239_920);
});

test('a slip of the keys in a solution is refused beside its field', async () => {
  const { page, api, jar, at } = await shelf();
  const typed = { volume: '500 mL', conc: '1', mass: '50', madeOn: '2026-03-16' };
  const slip = await page.post(`${at}/solutions`, typed);
  expect([slip.status, slip.text.includes('f-mass-error'), slip.text.includes('value="50"')]).toEqual([
    422,
    true,
    true,
  ]);
  const diluted = await page.post(`${at}/solutions`, { ...typed, mass: '5', madeUpTo: '5 L' });
  expect([diluted.status, diluted.text.includes('f-madeUpTo-error')]).toEqual([422, true]);
  expect((await api.get(`/stock-lots/${jar}`)).body.onHandQuantity).toBe(250_000);
});

test('closing writes the rest off, as a difference or as waste, and offers the container no more', async () => {
  const { page, api, jar, at, dyeId } = await shelf();
  const refused = await page.post(`${at}/closing`, { how: 'discarded', reason: '' });
  expect([refused.status, refused.text.includes('f-reason-error')]).toEqual([422, true]);
  expect((await page.post(`${at}/closing`, { how: 'discarded', reason: 'went hard' })).status).toBe(303);
  expect((await page.post(`${at}/closing`, { how: 'empty' })).status).toBe(303);
  const { entries } = (await api.get(`/stock-lots/${jar}/ledger`)).body;
  expect(entries.map((e: { kind: string }) => e.kind)).toEqual(['waste', 'receipt']);
  expect((await api.get(`/stock-lots/${jar}`)).body).toMatchObject({ onHandQuantity: 0, valueMinor: 0 });
  expect((await api.get('/stock-lots')).body.stockLots).toEqual([]);
  expect((await api.get(`/stock-lots?closed=yes&dyeId=${dyeId}`)).body.stockLots).toHaveLength(1);
  expect((await page.get('/stock?closed=yes')).text).toContain('T1-1');
  const late = await page.post(`${at}/wastes`, { quantity: '1 g', reason: 'x' });
  expect(late.status).toBe(409);
  expect((await page.get(`${at}/stock-takes/new`)).status).toBe(409);
});

test('what was paid for what was received stands, in every door; the rest can be put right', async () => {
  const { page, api, jar, at, deps } = await shelf();
  const { version, supplier, strengthPpm, openedOn, bestBeforeOn, note } = (await api.get(`/stock-lots/${jar}`)).body;
  const changed = await api.put(`/stock-lots/${jar}`, {
    version,
    supplier,
    strengthPpm,
    openedOn,
    bestBeforeOn,
    note,
    makerLot: 'M-78',
  });
  const price = await api.put(`/stock-lots/${jar}`, { version, makerLot: 'M-80', priceMinor: 1 });
  expect([price.status, Object.keys(price.body.fields)]).toEqual([422, expect.arrayContaining(['priceMinor'])]);
  expect([changed.status, changed.body.makerLot, changed.body.priceMinor]).toEqual([200, 'M-78', 3000]);
  const stale = await page.post(at, { supplier: '', makerLot: 'M-79', strength: '100', version: String(version) });
  expect([stale.status, stale.text.includes('M-79')]).toEqual([409, true]);
  expect(() => deps.sqlite.prepare('update stock_lots set price_minor = 1 where id = ?').run(jar)).toThrow(
    /receipt of a stock lot never changes/,
  );
});

test('a recall finds every lot, swatch, order and customer, through solutions too, and says so as CSV', async () => {
  const studio = await shelf();
  const { page, api, jar, at, deps, owner, dyeId } = studio;
  const run = (sql: string, ...values: unknown[]): number =>
    Number(deps.sqlite.prepare(sql).run(...values).lastInsertRowid);
  const when = { at: MONDAY, recordedAt: MONDAY };
  const solution = (await api.post(`/stock-lots/${jar}/solutions`, { concPpm: 10_000, massMg: 5000 })).body
    .stockLotId as number;
  const { body: other } = await api.post('/stock-lots', {
    dyeId,
    quantity: 1000,
    priceMinor: 1,
    receivedOn: '2026-03-02',
  });

  const byPowder = lotWith(studio, 'L-1');
  const bySolution = lotWith(studio, 'L-2');
  const untouched = lotWith(studio, 'L-3');
  const takenBack = lotWith(studio, 'L-4');
  const use = (lotId: number, stockLotId: number, quantity: number): number =>
    issue(deps.db, { stockLotId, quantity, lotId, weighingId: null }, owner, when).id;
  use(byPowder, jar, 4000);
  use(byPowder, jar, 500);
  use(bySolution, solution, 20_000);
  use(untouched, other.stockLotId, 100);
  const undone = use(takenBack, jar, 700);
  run(
    "insert into stock_ledger (stock_lot_id, kind, quantity, at, recorded_at, by_person_id, reverses_id, lot_id) values (?, 'reversal', 700, 1, 1, ?, ?, ?)",
    jar,
    owner.personId,
    undone,
    takenBack,
  );
  const customer = run("insert into customers (name, contact) values ('=Café, \"Maré\"', '@cafe')");
  const order = run(
    "insert into orders (number, customer_id, ordered_on, status) values ('O-9', ?, '2026-03-01', 'inWork')",
    customer,
  );
  const line = run("insert into order_lines (order_id, ordinal, description) values (?, 1, 'napkins')", order);
  run('insert into lot_lines (lot_id, order_line_id) values (?, ?)', bySolution, line);
  const recipe = run("insert into recipes (name, dye_class) values ('Brick', 'reactive')");
  const revision = run(
    "insert into recipe_revisions (recipe_id, number, entry_style, total_depth_ppm, made_at, made_by) values (?, 1, 'split', 20000, 1, ?)",
    recipe,
    owner.personId,
  );
  const swatch = (code: string, lotId: number | null): number =>
    run(
      "insert into swatches (code, name, revision_id, depth_ppm, fibre_id, method_id, lot_id, dyed_on, made_by) values (?, ?, ?, 20000, 1, 1, ?, '2026-03-01', ?)",
      code,
      `swatch ${code}`,
      revision,
      lotId,
      owner.personId,
    );
  swatch('S-1', byPowder);
  run('insert into swatch_stock_lots values (?, ?)', swatch('S-2', null), jar);
  swatch('S-3', untouched);
  run(
    `insert into lot_components (lot_id, ordinal, kind, dye_id, basis, planned_mass_mg, step, stock_lot_id)
      select id, 1, 'dye', ?, 'owg', 100, 10, ? from lots where id = ?`,
    dyeId,
    jar,
    lotWith(studio, 'L-5', 'planned'),
  );

  expect((await page.post(`${at}/recall`, { reason: '' })).status).toBe(422);
  const recalled = await page.post(`${at}/recall`, { reason: 'maker’s notice' });
  expect([recalled.status, recalled.headers['location']]).toEqual([303, `${at}/touched`]);
  expect((await api.get(`/stock-lots/${solution}`)).body.recallReason).toBe('made from T1-1: maker’s notice');
  expect((await api.post(`/stock-lots/${jar}/solutions`, { concPpm: 10_000, massMg: 5000 })).status).toBe(409);

  const touched = (await api.get(`/stock-lots/${jar}/touched`)).body;
  expect(
    touched.lots.map((l: { number: string; throughCode: string; quantity: number }) => [
      l.number,
      l.throughCode,
      l.quantity,
    ]),
  ).toEqual([
    ['L-2', 'T1-1-S1', 20_000],
    ['L-1', 'T1-1', 4500],
  ]);
  expect(touched.plannedLots.map((l: { number: string }) => l.number)).toEqual(['L-5']);
  expect(touched.swatches.map((s: { code: string }) => s.code).sort()).toEqual(['S-1', 'S-2']);
  expect(touched.orders).toMatchObject([{ number: 'O-9', customerName: '=Café, "Maré"', lotNumber: 'L-2' }]);

  const shown = (await page.get(`${at}/touched`)).text;
  for (const words of ['L-1', 'L-2', 'S-2', 'O-9', '2 lots, 2 swatches, 1 order line']) expect(shown).toContain(words);
  expect(shown).not.toContain('L-4');

  const file = await page.get(`${at}/touched.csv`);
  expect(file.headers['content-disposition']).toContain('touched-by-T1-1.csv');
  const rows = parse(file.text, { columns: true }) as Record<string, string>[];
  expect(rows.map((r) => [r['thing'], r['number'], r['quantity'], r['unit'], r['customer']])).toEqual([
    ['lot', 'L-2', '20', 'mL', ''],
    ['lot', 'L-1', '4.5', 'g', ''],
    ['planned lot', 'L-5', '', '', ''],
    ['swatch', 'S-2', '', '', ''],
    ['swatch', 'S-1', '', '', ''],
    ['order line', 'O-9', '', '', `'=Café, "Maré"`],
  ]);
});

test('a long ledger comes in pages whose balances follow from each other', async () => {
  const { api, page, jar, at } = await shelf();
  for (let n = 1; n <= 60; n++) await api.post(`/stock-lots/${jar}/wastes`, { quantity: 1000, reason: `spill ${n}` });
  const first = (await page.get(at)).text;
  expect(first).toContain('spill 60');
  expect(first).not.toContain('spill 10<');
  const next = /href="(\/stock\/\d+\?before=\d+)"/.exec(first)?.[1] ?? '';
  const second = (await page.get(next)).text;
  expect(second).toContain('spill 10<');
  expect(second).toContain('Back to the start');
  const pageOne = (await api.get(`/stock-lots/${jar}/ledger?limit=40`)).body;
  const pageTwo = (await api.get(`/stock-lots/${jar}/ledger?limit=40&after=${pageOne.next}`)).body;
  const lines = [...pageOne.entries, ...pageTwo.entries] as { quantity: number; balance: number }[];
  expect([lines.length, pageTwo.next]).toEqual([61, null]);
  let balance = 0;
  for (const line of lines.reverse()) {
    balance += line.quantity;
    expect(line.balance).toBe(balance);
  }
});

test('the overview asks as often for twenty containers as for two', async () => {
  const { api, page, deps, dyeId } = await shelf();
  const counted = (): Promise<number> => statementsOf(deps, () => page.get('/stock'));
  const few = await counted();
  for (let n = 0; n < 19; n++)
    await api.post('/stock-lots', { dyeId, quantity: 1000, priceMinor: 1, receivedOn: '2026-03-02' });
  expect(await counted()).toBe(few);
});

test('an unknown container is not here, a fibre that is not there is not received, and nobody looks without signing in', async () => {
  const { page, api, app } = await shelf();
  expect((await page.get('/stock/99')).status).toBe(404);
  expect((await api.get('/stock-lots/99/touched')).status).toBe(404);
  const two = await api.post('/stock-lots', {
    dyeId: 1,
    fibreId: 1,
    quantity: 1,
    priceMinor: 0,
    receivedOn: '2026-03-02',
  });
  expect(two.status).toBe(422);
  const none = await api.post('/stock-lots', { fibreId: 7, quantity: 1, priceMinor: 0, receivedOn: '2026-03-02' });
  expect([none.status, Object.keys(none.body.fields)]).toEqual([422, ['item']]);
  expect((await app.inject({ url: '/api/v1/stock-lots' })).statusCode).toBe(401);
  expect((await app.inject({ url: '/stock/1/touched.csv' })).statusCode).toBe(303);
});
