import readXlsx from 'read-excel-file/node';
import { describe, expect, test } from 'vitest';
import { customers, orderLines, orders } from '../../server/db/tables/orders.ts';
import { makeSolution, receive } from '../../server/stock/ledger.ts';
import { freshStudio, MONDAY, type TestStudio } from '../support/app.ts';
import { type LotWorld, lotWorld, writeLot } from '../support/finishedLots.ts';
import { makeWorld, type World } from '../support/world.ts';

const DAY = 86_400_000;

async function studioWithLots(): Promise<TestStudio & { world: LotWorld }> {
  const studio = await freshStudio();
  return { ...studio, world: lotWorld(studio.deps, studio.owner) };
}

/** Another customer's line in the house, with so much dry mass on each of the two. */
function secondLine(world: LotWorld, mine: number, theirs: number): { customerId: number; orderLineId: number } {
  const { db, sqlite } = world.deps;
  sqlite.prepare('update order_lines set dry_mass_mg = ? where id = ?').run(mine, world.orderLineId);
  const customer = db.insert(customers).values({ name: 'Harbour Inn' }).returning().get();
  const order = db
    .insert(orders)
    .values({ number: '2026-077', customerId: customer.id, orderedOn: '2026-03-01', status: 'inWork' })
    .returning()
    .get();
  const line = db
    .insert(orderLines)
    .values({ orderId: order.id, ordinal: 1, description: 'runners', pieces: 6, dryMassMg: theirs })
    .returning()
    .get();
  return { customerId: customer.id, orderLineId: line.id };
}

const csvSum = (text: string, column: string): number => {
  const [head = '', ...rows] = text.trim().split('\r\n');
  const at = head
    .replace(/^\ufeff/, '')
    .split(',')
    .indexOf(column);
  return rows.reduce((sum, row) => sum + Math.round(100 * Number(row.split(',').at(at - head.split(',').length))), 0);
};

describe('a lot for two customers', () => {
  test('is shared out alike in history, in both exports, in the workbook and in Costing, to the cent', async () => {
    const { api, page, world } = await studioWithLots();
    const other = secondLine(world, 300_000, 900_000);
    writeLot(world, { number: '26-0001', finishedAt: MONDAY, orderLineIds: [world.orderLineId, other.orderLineId] });
    // 37.83 by 1 : 3; every kind of cost by largest remainder.
    const groups = (await api.get('/costing?by=customer')).body.groups as { key: string; totalMinor: number }[];
    const both = [world.customerId, other.customerId].map(
      (id) => groups.find((g) => g.key === String(id))?.totalMinor ?? 0,
    );
    expect(both[0]! + both[1]!).toBe(3783);
    expect(Math.abs(both[0]! - 3783 / 4)).toBeLessThan(3);
    for (const [i, id] of [world.customerId, other.customerId].entries()) {
      const mine = both[i];
      const history = (await api.get(`/history?customerId=${id}`)).body;
      expect([history.totals.totalMinor, history.lots[0].totalMinor]).toEqual([mine, mine]);
      expect(history.lots[0].sharePpm).toBe(i === 0 ? 250_000 : 750_000);
      for (const by of ['month', 'customer', 'shade', 'lot'] as const)
        expect((await api.get(`/costing?by=${by}&customerId=${id}`)).body.total.totalMinor, by).toBe(mine);
      const lots = (await api.get(`/exports/lots.csv?customerId=${id}&columns=lot,total_cost`)).text;
      expect(csvSum(lots, 'total_cost')).toBe(mine);
      const lines = (await api.get(`/exports/lots.csv?customerId=${id}&rows=costLine&columns=lot,cost`)).text;
      expect(csvSum(lines, 'cost')).toBe(mine);
      const proof = (await api.get(`/exports/reconciliation?customerId=${id}`)).body;
      expect([proof.partMinor, proof.historyMinor]).toEqual([mine, 3783]);
      expect((await page.get(`/history?customerId=${id}&from=&to=`)).text).toContain('% of the lot');
    }
    // Without a customer the lot is whole, and no column says anything of shares.
    const whole = (await api.get('/exports/lots.csv')).text;
    expect(csvSum(whole, 'total_cost')).toBe(3783);
    expect(whole).not.toContain('share');
  });
});

describe('a quote', () => {
  test('reaches the margin that it promises', async () => {
    const { api, world } = await studioWithLots();
    // 1 000.01 at 40 % is 1 666.683…: 1 666.69 and not 1 666.68, which would be 39.9996 %.
    world.deps.sqlite.prepare('update order_lines set pieces = null where id = ?').run(world.orderLineId);
    writeLot(world, { number: '26-0001', finishedAt: MONDAY, estimateMinor: 100_001 }, true);
    const { lines } = (await api.get(`/orders/${world.orderId}/quote?basis=margin&pct=40`)).body;
    expect(lines[0].price.lineMinor).toBe(166_669);
    expect(lines[0].price.marginPct).toBeGreaterThanOrEqual(40);
  });
});

describe('money after the receipt', () => {
  async function blueJar(costing: 'specific' | 'movingAverage') {
    const studio = await freshStudio();
    const w = makeWorld(studio);
    studio.deps.sqlite.prepare('update studio set costing = ?').run(costing);
    return { studio, w };
  }

  test('a credit is written on the page of the jar, with its reason, and what is left costs less', async () => {
    const { studio, w } = await blueJar('specific');
    const { page, api } = studio;
    const id = w.stock.blue.id;
    const form = (await page.get(`/stock/${id}/money/new`)).text;
    expect(form).toContain('A credit: money back');
    const clientId = /name="clientId" value="([\w-]+)"/.exec(form)?.[1] ?? '';
    const sent = { kind: 'credit', amount: '10.00', on: '2026-03-16', clientId };
    expect((await page.post(`/stock/${id}/money`, { ...sent, reason: '' })).status).toBe(422);
    const tooMuch = await page.post(`/stock/${id}/money`, { ...sent, amount: '40.01', reason: 'note 118' });
    expect([tooMuch.status, tooMuch.text.includes('more than was paid')]).toEqual([422, true]);
    for (let press = 1; press <= 2; press++)
      expect((await page.post(`/stock/${id}/money`, { ...sent, reason: 'note 118, damp' })).status).toBe(303);
    const shown = (await page.get(`/stock/${id}`)).text;
    for (const words of ['note 118, damp', '-€10.00', '€30.00']) expect(shown).toContain(words);
    const { money } = (await api.get(`/stock-lots/${id}/money`)).body;
    expect(money).toMatchObject([{ kind: 'credit', amountMinor: -1000, reason: 'note 118, damp' }]);
    // 500 g for 40.00 less 10.00.
    expect((await api.get(`/stock-lots/${id}`)).body).toMatchObject({ lateMinor: -1000, valueMinor: 3000 });
    expect((await api.get('/costing/stock')).body.total).toMatchObject({ paidMinor: 12_000, inStockMinor: 12_000 });
    // A receipt cannot be credited before it came, nor ahead of time; the record never changes.
    const late = { kind: 'freight', amountMinor: 5, reason: 'x' };
    expect((await api.post(`/stock-lots/${id}/money`, { ...late, on: '2025-12-31' })).body.fields.on).toMatch(
      /not come/,
    );
    expect((await api.post(`/stock-lots/${id}/money`, { ...late, on: '2026-03-17' })).body.fields.on).toMatch(
      /to come/,
    );
    for (const sql of ['update stock_money set amount_minor = -1', 'delete from stock_money'])
      expect(() => studio.deps.sqlite.exec(sql)).toThrow('never rewritten');
  });

  test('under a moving average stock shows what the books have, after a receipt that came late', async () => {
    const { studio, w } = await blueJar('movingAverage');
    const { deps, owner, api, page, clock } = studio;
    clock.now += 3 * DAY;
    // 40.00 for 500 g and 37.00 for 250 g, the second written down late: the stock list and the page of Costing agree.
    const row = { ...w.stock.blue, code: 'B-2', priceMinor: 3_700, receivedQuantity: 250_000 };
    const { id: _, version: __, closedAt: ___, recalledAt: ____, recallReason: _____, ...lot } = row;
    receive(deps.db, lot, owner, { at: clock.now - 2 * DAY, recordedAt: clock.now });
    const { materials } = (await api.get('/costing/stock')).body as { materials: Record<string, unknown>[] };
    const blue = materials.find((m) => m['code'] === 'RB');
    expect(blue).toMatchObject({ paidMinor: 7700, issuedMinor: 0, inStockMinor: 7700, differenceMinor: 0, wrong: [] });
    const { stockLots } = (await api.get(`/stock-lots?dyeId=${w.dyeIds.blue}`)).body as {
      stockLots: { valueMinor: number }[];
    };
    // 77.00 for 750 g, whichever jar it lies in.
    expect(stockLots.map((s) => s.valueMinor)).toEqual([5133, 2567]);
    const shown = (await page.get('/costing/stock?on=2026-03-16')).text;
    expect(shown).toContain('What stock is worth');
    expect((await page.get('/costing/stock?on=yesterday')).status).toBe(422);
    // The day before it came it was not there.
    const before = (await api.get('/costing/stock?on=2026-03-16')).body.materials as Record<string, unknown>[];
    expect(before.find((m) => m['code'] === 'RB')).toMatchObject({ paidMinor: 4000, inStockMinor: 4000 });
  });

  test('ten solutions of 0.4 g at a cent a gram are four cents together', async () => {
    const { studio, w } = await blueJar('specific');
    const { deps, owner, clock } = studio;
    const { id: _, ...red } = w.stock.red;
    const receipt = { ...red, code: 'R-2', priceMinor: 100, receivedQuantity: 100_000 };
    const jar = receive(deps.db, receipt, owner, { at: clock.now, recordedAt: clock.now });
    const solutions = Array.from({ length: 10 }, (_, i) => {
      clock.now += 60_000;
      const made = { sourceStockLotId: jar.id, code: `R-2-S${i}`, massMg: 400, volumeUl: 40_000, concPpm: 10_000 };
      const when = { at: clock.now, recordedAt: clock.now };
      return makeSolution(deps.db, { ...made, madeOn: '2026-03-16', bestBeforeOn: null, note: '' }, owner, when);
    });
    const prices = solutions.map((s) => s.priceMinor);
    expect(prices.reduce((sum, p) => sum + p, 0)).toBe(4);
    expect(Math.max(...prices)).toBe(1);
    // Used up on a lot they cost it four cents, and the books of the red still add up.
    const { body: lot } = await studio.api.post('/lots', {
      fibreId: w.linenId,
      methodId: w.methodId,
      goodsText: 'napkins',
      goodsOwner: 'customer',
      mass: { found: 'weighedDry', massMg: 600_000 },
      colours: [{ revisionId: w.revisionId, depthPpm: 20_000 }],
    });
    clock.now += 60_000;
    await studio.api.post(`/lots/${lot.lotId}/log`, { kind: 'note', text: 'in the bath', clientId: 'begun-0001-note' });
    const end = { firstQuality: 1, clientId: 'end-000001', unweighedConfirmed: true };
    expect((await studio.api.post(`/lots/${lot.lotId}/outcome`, end)).status).toBe(201);
    for (const s of solutions) {
      const forgotten = { what: 'material', stockLotId: s.id, quantity: 40_000, reason: 'no note' };
      expect((await studio.api.post(`/lots/${lot.lotId}/cost-lines`, forgotten)).status).toBe(201);
    }
    const { materials } = (await studio.api.get('/costing/stock')).body as { materials: Record<string, unknown>[] };
    expect(materials.find((m) => m['code'] === 'RR')).toMatchObject({
      paidMinor: 3100,
      issuedMinor: 4,
      writtenOffMinor: 0,
      inStockMinor: 3096,
      wrong: [],
    });
  });

  test('a credit on a lot is a line of its own: money back makes it cheaper, what a customer is let off dearer', async () => {
    const studio = await studioWithLots();
    const { page, api, world, clock } = studio;
    const lotId = writeLot(world, { number: '26-0001', finishedAt: MONDAY });
    clock.now += DAY;
    const form = (await page.get(`/costing/lots/${lotId}/additions/new?what=credit`)).text;
    expect(form).toContain('The studio: the lot costs less');
    const back = {
      what: 'credit',
      to: 'studio',
      description: 'carrier’s refund',
      amount: '5.00',
      reason: 'parcel late',
    };
    expect((await page.post(`/costing/lots/${lotId}/additions`, { ...back, amount: '0' })).status).toBe(422);
    expect((await page.post(`/costing/lots/${lotId}/additions`, back)).status).toBe(303);
    const sum = () => studio.deps.sqlite.prepare('select sum(cost_minor) from cost_lines').pluck().get();
    expect(sum()).toBe(3283);
    const off = { what: 'credit', to: 'customer', description: 'off shade', amountMinor: 700, reason: 'three pieces' };
    const { lines } = (await api.post(`/lots/${lotId}/cost-lines`, off)).body;
    expect(lines).toMatchObject([{ kind: 'other', quantity: 1, costMinor: 700 }]);
    expect(sum()).toBe(3983);
    expect((await api.get('/exports/reconciliation')).body).toMatchObject({ historyMinor: 3983, ties: true });
  });
});

describe('a forgotten material', () => {
  test('comes from no container that was not there yet, and from a recalled one only when that is said', async () => {
    const studio = await studioWithLots();
    const { page, api, world, clock, deps, owner } = studio;
    const lotId = writeLot(world, { number: '26-0001', finishedAt: MONDAY });
    clock.now += DAY;
    const soda = deps.sqlite.prepare('select * from stock_lots where id = ?').get(world.stockLotIds.soda) as {
      auxiliary_id: number;
    };
    const later = receive(
      deps.db,
      {
        code: 'SODA-B',
        kind: 'auxiliary',
        dyeId: null,
        auxiliaryId: soda.auxiliary_id,
        fibreId: null,
        unit: 'mg',
        supplier: '',
        makerLot: '',
        strengthPpm: 1_000_000,
        receivedOn: '2026-03-17',
        openedOn: null,
        bestBeforeOn: null,
        priceMinor: 500,
        freightMinor: 0,
        receivedQuantity: 1_000_000,
        sourceStockLotId: null,
        concPpm: null,
        note: '',
      },
      owner,
      { at: clock.now, recordedAt: clock.now },
    );
    const sent = { what: 'material', stockLotId: String(later.id), quantity: '5 g', reason: 'no note' };
    const refused = await page.post(`/costing/lots/${lotId}/additions`, sent);
    expect([refused.status, refused.text.includes('came after the lot was closed')]).toEqual([422, true]);
    await api.post(`/stock-lots/${world.stockLotIds.soda}/recall`, { reason: 'a maker’s notice' });
    const recalled = { ...sent, stockLotId: String(world.stockLotIds.soda) };
    const asked = await page.post(`/costing/lots/${lotId}/additions`, recalled);
    expect([asked.status, asked.text.includes('is recalled (a maker’s notice)')]).toEqual([422, true]);
    expect(asked.text).toContain('name="recalledConfirmed"');
    const said = await page.post(`/costing/lots/${lotId}/additions`, { ...recalled, recalledConfirmed: 'yes' });
    expect(said.status, said.text).toBe(303);
    const json = { what: 'material', stockLotId: world.stockLotIds.soda, quantity: 5, reason: 'x' };
    expect((await api.post(`/lots/${lotId}/cost-lines`, json)).body.fields).toHaveProperty('recalledConfirmed');
  });
});

describe('orders and lots', () => {
  const planFor = (studio: TestStudio, w: World, orderLineId: number, pieces: number, more: object = {}) =>
    studio.api.post('/lots', {
      fibreId: w.linenId,
      methodId: w.methodId,
      goodsText: 'napkins',
      pieces,
      mass: { found: 'weighedDry', massMg: 600_000 },
      colours: [{ revisionId: w.revisionId, depthPpm: 20_000 }],
      orderLines: [{ orderLineId, pieces }],
      ...more,
    });
  async function orderOf(studio: TestStudio, pieces: number) {
    const customer = await studio.api.post('/customers', { name: 'Guild of the Long Table' });
    const order = await studio.api.post('/orders', {
      customerId: customer.body.customerId,
      orderedOn: '2026-03-10',
      lines: [{ description: 'napkins', pieces }],
    });
    return { orderId: order.body.orderId as number, orderLineId: order.body.lines[0].orderLineId as number };
  }
  const finish = async (studio: TestStudio, lotId: number, more: object) => {
    await studio.api.post(`/lots/${lotId}/log`, { kind: 'note', text: 'in the bath', clientId: `begun-${lotId}-note` });
    return studio.api.post(`/lots/${lotId}/outcome`, {
      clientId: `end-${lotId}-0001`,
      unweighedConfirmed: true,
      ...more,
    });
  };

  test('lots of a cancelled order say so everywhere, and none is planned for it', async () => {
    const studio = await freshStudio();
    const w = makeWorld(studio);
    const { orderId, orderLineId } = await orderOf(studio, 24);
    const { lotId } = (await planFor(studio, w, orderLineId, 12)).body;
    await studio.api.post(`/lots/${lotId}/log`, { kind: 'note', text: 'in the bath', clientId: 'begun-0001-note' });
    expect((await studio.page.get(`/lots/${lotId}`)).text).not.toContain('cancelled');
    await studio.api.post(`/orders/${orderId}/cancellation`);
    for (const url of [`/lots/${lotId}`, `/lots/${lotId}/bench`])
      expect((await studio.page.get(url)).text, url).toContain('(Guild of the Long Table) has been cancelled');
    expect((await studio.page.get('/')).text).toMatch(/order 2026-\d+ cancelled/);
    const again = await planFor(studio, w, orderLineId, 12);
    expect([again.status, again.body.fields.orderLineId]).toEqual([422, expect.stringContaining('is cancelled')]);
    await studio.api.post(`/orders/${orderId}/reopening`);
    expect((await planFor(studio, w, orderLineId, 12)).status).toBe(201);
  });

  test('a line of 50 is not ready by a lot of 2, and more than it wants is asked about', async () => {
    const studio = await freshStudio();
    const w = makeWorld(studio);
    const { orderId, orderLineId } = await orderOf(studio, 50);
    const { lotId } = (await planFor(studio, w, orderLineId, 2)).body;
    expect((await finish(studio, lotId, { firstQuality: 2 })).status).toBe(201);
    const short = await studio.page.post(`/orders/${orderId}/readiness`);
    expect([short.status, short.text.includes('2 of 50 good pieces')]).toEqual([422, true]);
    expect(short.text).toContain('name="shortConfirmed"');
    const tooMany = await planFor(studio, w, orderLineId, 49);
    expect(tooMany.body.fields.morePiecesConfirmed).toMatch(/wants 50 pieces; with these 49 there would be 51/);
    expect((await planFor(studio, w, orderLineId, 49, { morePiecesConfirmed: true })).status).toBe(201);
    const said = await studio.page.post(`/orders/${orderId}/readiness`, { shortConfirmed: 'yes' });
    expect(said.status, said.text).toBe(303);
  });

  test('seconds that are not there bring nothing', async () => {
    const studio = await freshStudio();
    const w = makeWorld(studio);
    const { orderLineId } = await orderOf(studio, 2);
    const { lotId } = (await planFor(studio, w, orderLineId, 2)).body;
    const wrong = await finish(studio, lotId, { firstQuality: 2, secondsValueMinor: 900 });
    expect([wrong.status, wrong.body.fields.secondsValue]).toEqual([422, expect.stringContaining('no seconds')]);
    const right = await finish(studio, lotId, { firstQuality: 1, seconds: 1, secondsValueMinor: 900 });
    expect(right.status, right.text).toBe(201);
    expect(() =>
      studio.deps.sqlite.exec(
        'insert into lot_outcomes (lot_id, first_quality, seconds, rework, scrap, seconds_value_minor, judged_at, judged_by) values (99, 1, 0, 0, 0, 1, 1, 1)',
      ),
    ).toThrow('no seconds, no value of seconds');
    // Nor does a lot dye again what another did not leave to be dyed again.
    const other = (await planFor(studio, w, orderLineId, 1, { orderLines: [] })).body.lotId;
    const rework = await studio.api.post(`/lots/${other}/rework-of`, { ofNumber: '26-0001' });
    expect([rework.status, rework.body.fields.ofNumber]).toEqual([422, expect.stringContaining('left no pieces')]);
  });

  test('shortage is judged over all lines of a plan, and over what other lots still want', async () => {
    const studio = await freshStudio();
    const w = makeWorld(studio);
    // Two colours of one blue, 2 g each, from a jar of 3 g.
    await studio.api.post(`/stock-lots/${w.stock.blue.id}/stock-takes`, { countedQuantity: 3_000, reason: 'counted' });
    const body = (depthPpm: number, n: number) => ({
      fibreId: w.linenId,
      methodId: w.methodId,
      goodsText: 'napkins',
      mass: { found: 'weighedDry', massMg: 200_000 },
      solutions: 'never',
      coverage: 'eachOverAll',
      colours: Array.from({ length: n }, () => ({ revisionId: w.revisionId, depthPpm })),
    });
    // 200 g at 2 % are 4 g, half of it blue: 2 g a colour.
    const plan = (await studio.api.post('/lots/plan', body(20_000, 2))).body;
    const words = plan.warnings.filter((x: string) => x.startsWith('Tide blue'));
    expect(words.join(' ')).toContain('container B-1 is short by 1.00 g');
    const blues = plan.lines.filter((l: { code: string }) => l.code === 'RB');
    expect(blues.map((l: { short: number }) => l.short)).toEqual([0, 1_000]);
    // One colour is enough by itself; with a lot that is planned for the same jar it is not.
    const alone = (await studio.api.post('/lots/plan', body(20_000, 1))).body.warnings as string[];
    expect(alone.filter((x) => x.startsWith('Tide blue'))).toEqual([]);
    expect((await studio.api.post('/lots', body(20_000, 1))).status).toBe(201);
    const beside = ((await studio.api.post('/lots/plan', body(20_000, 1))).body.warnings as string[]).join(' ');
    expect(beside).toContain(
      'Tide blue: other lots in hand still want 2.00 g; with theirs container B-1 is short by 1.00 g.',
    );
  });
});

test('the workbook proves each material to the end of its days, difference 0', async () => {
  const { api, world } = await studioWithLots();
  writeLot(world, { number: '26-0001', finishedAt: MONDAY });
  const file = await api
    .get('/exports/lots.xlsx')
    .buffer(true)
    .parse((res, done) => {
      const chunks: Buffer[] = [];
      (res as unknown as NodeJS.ReadableStream)
        .on('data', (chunk: Buffer) => chunks.push(chunk))
        .on('end', () => done(null, Buffer.concat(chunks)));
    });
  const sheets = (await readXlsx(file.body as Buffer)) as unknown as { sheet: string; data: unknown[][] }[];
  const rows = sheets.find((s) => s.sheet === 'Reconciliation')?.data ?? [];
  const head = rows.findIndex((row) => row[0] === 'Material');
  expect(rows[head]?.slice(0, 4)).toEqual(['Material', 'Paid', 'Issued', 'Written off']);
  const materials = rows.slice(head + 1);
  expect(materials.at(-1)?.[0]).toBe('Together');
  expect(materials.length).toBeGreaterThan(3);
  for (const row of materials) {
    const [, paid, issued, writtenOff, , , inStock, difference] = row as number[];
    expect(difference).toBe(0);
    expect(Math.round(100 * ((issued ?? 0) + (writtenOff ?? 0) + (inStock ?? 0)))).toBe(Math.round(100 * (paid ?? 0)));
  }
});
