import readXlsx from 'read-excel-file/node';
import { describe, expect, test } from 'vitest';
import { orderLines } from '../../server/db/tables/orders.ts';
import { insertPerson } from '../../server/people/queries.ts';
import { makeToken } from '../../server/people/signIn.ts';
import { freshStudio, MONDAY, type TestStudio } from '../support/app.ts';
import { type LotWorld, lotWorld, writeLot } from '../support/finishedLots.ts';
import { statementsOf } from '../support/statements.ts';

const DAY = 86_400_000;
const at = (iso: string): number => Date.parse(iso);

async function studioWithWorld(): Promise<TestStudio & { world: LotWorld }> {
  const studio = await freshStudio();
  return { ...studio, world: lotWorld(studio.deps, studio.owner) };
}

/** Ids of a lot's cost lines by their numbers. */
const lineIds = (studio: TestStudio, lotId: number): number[] =>
  studio.deps.sqlite
    .prepare('select id from cost_lines where lot_id = ? order by ordinal')
    .pluck()
    .all(lotId) as number[];
const sumOf = (studio: TestStudio, where = '1 = 1'): number =>
  studio.deps.sqlite
    .prepare(`select coalesce(sum(cost_minor), 0) from cost_lines where ${where}`)
    .pluck()
    .get() as number;
const onHand = (studio: TestStudio, stockLotId: number): number =>
  studio.deps.sqlite
    .prepare('select sum(quantity) from stock_ledger where stock_lot_id = ?')
    .pluck()
    .get(stockLotId) as number;

/** A workbook as an independent reader sees it: sheets by name. */
async function sheetsOf(body: Buffer): Promise<Record<string, unknown[][]>> {
  const sheets = (await readXlsx(body)) as unknown as { sheet: string; data: unknown[][] }[];
  return Object.fromEntries(sheets.map(({ sheet, data }) => [sheet, data]));
}
const binary = (test: ReturnType<TestStudio['api']['get']>) =>
  test.buffer(true).parse((res, done) => {
    const chunks: Buffer[] = [];
    (res as unknown as NodeJS.ReadableStream)
      .on('data', (chunk: Buffer) => chunks.push(chunk))
      .on('end', () => done(null, Buffer.concat(chunks)));
  });

describe('a correction', () => {
  test('takes the wrong line back and writes the right one, on the lot’s page and in the books', async () => {
    const studio = await studioWithWorld();
    const { page, world, clock } = studio;
    const lotId = writeLot(world, { number: '26-0001', finishedAt: MONDAY });
    const [, , , labour] = lineIds(studio, lotId);
    clock.now += DAY;
    const form = (await page.get(`/costing/lines/${labour}/correction/new`)).text;
    expect(form).toContain('value="1 h 30 min"');
    const sent = { stands: 'line', quantity: '2 h', price: '18.00', perQuantity: '1 h' };
    const silent = await page.post(`/costing/lines/${labour}/correction`, { ...sent, reason: ' ' });
    expect(silent.status).toBe(422);
    expect(silent.text).toContain('value="2 h"');
    const saved = await page.post(`/costing/lines/${labour}/correction`, { ...sent, reason: 'the clock stood still' });
    expect([saved.status, saved.headers['location']]).toEqual([303, `/costing/lots/${lotId}#lines`]);
    // 37.83 − 27.00 + 2 h at 18.00 = 46.83
    expect(sumOf(studio)).toBe(4683);
    const shown = (await page.get(`/costing/lots/${lotId}`)).text;
    for (const text of ['the clock stood still', '€46.83', '-€27.00', '€36.00', 'stands instead of line 4'])
      expect(shown).toContain(text);
    // The line that was taken back cannot be corrected again, and nor can the one that takes it back; the new one can.
    const ids = lineIds(studio, lotId);
    for (const id of [labour, ids[5]])
      expect((await page.post(`/costing/lines/${id}/correction`, { ...sent, reason: 'again' })).status).toBe(409);
    const gone = await page.post(`/costing/lines/${ids[6]}/correction`, { stands: 'nothing', reason: 'a favour' });
    expect(gone.status, gone.text).toBe(303);
    expect(sumOf(studio)).toBe(1083);
  });

  test('of a quantity sets the container’s ledger right, at the time of the weighing', async () => {
    const studio = await studioWithWorld();
    const { api, page, world, clock } = studio;
    const lotId = writeLot(world, { number: '26-0001', finishedAt: MONDAY });
    const [yellow] = lineIds(studio, lotId);
    const before = onHand(studio, world.stockLotIds.yellow);
    clock.now += 3 * DAY;
    const answer = await api.post(`/cost-lines/${yellow}/correction`, {
      reason: 'read 12.6 for 2.6',
      replacement: { quantity: 2_600, priceMinor: 4_250, perQuantity: 500_000 },
    });
    expect(answer.status, JSON.stringify(answer.body)).toBe(201);
    // 2.6 g × 42.50 / 500 g = 0.221
    expect(answer.body.lines).toMatchObject([
      { quantity: -12_600, costMinor: -107, correction: 'reversal', correctsId: yellow },
      { quantity: 2_600, costMinor: 22, correction: 'replacement', correctsId: yellow },
    ]);
    expect(onHand(studio, world.stockLotIds.yellow)).toBe(before + 10_000);
    const past = await api.get(`/stock-lots/${world.stockLotIds.yellow}/on-hand?on=2026-03-17`);
    // The correction speaks of the weighing, which had been made by then.
    expect(past.body.quantity).toBe(before + 10_000);
    const proof = (await api.get('/exports/reconciliation')).body;
    expect(proof).toMatchObject({ ties: true, mg: { lineQuantity: 46_800, ledgerQuantity: 46_800 } });
    expect((await page.get('/history?from=&to=')).text).toContain('Ties to the ledger');
  });

  test('is the owner’s alone', async () => {
    const studio = await studioWithWorld();
    const { app, deps, world } = studio;
    const lotId = writeLot(world, { number: '26-0001', finishedAt: MONDAY });
    const [first] = lineIds(studio, lotId);
    const dyer = insertPerson(deps.db, {
      name: 'Ana',
      role: 'dyer',
      passphraseHash: null,
      labourRateMinorPerHour: null,
      active: 1,
      createdAt: MONDAY,
    });
    const { token } = makeToken(deps, { name: 'a', scope: 'write', expiresAt: null }, dyer.id);
    const refused = await app.inject({
      method: 'POST',
      url: `/api/v1/cost-lines/${first}/correction`,
      headers: { authorization: `Bearer ${token}` },
      payload: { reason: 'no', replacement: null },
    });
    expect(refused.statusCode).toBe(403);
    expect(sumOf(studio)).toBe(3783);
  });

  test('is guarded by the database: whole, once, with a reason', async () => {
    const studio = await studioWithWorld();
    const { world, deps } = studio;
    const lotId = writeLot(world, { number: '26-0001', finishedAt: MONDAY });
    const [first] = lineIds(studio, lotId);
    const insert = (more: string, quantity: number, cost: number) => () =>
      deps.sqlite
        .prepare(
          `insert into cost_lines (lot_id, ordinal, kind, description, dye_id, stock_lot_id, quantity, quantity_unit, price_minor, per_quantity, cost_minor, corrects_id, written_at, written_by, ${more.split('=')[0]}, reason)
           select lot_id, 90, kind, description, dye_id, stock_lot_id, ?, quantity_unit, price_minor, per_quantity, ?, id, 1, 1, '${more.split('=')[1]}', ? from cost_lines where id = ?`,
        )
        .run(quantity, cost, 'why', first);
    expect(insert('correction=replacement', 5, 5)).toThrow('taken back before another stands for it');
    expect(insert('correction=reversal', -5, -107)).toThrow('takes one line back, whole');
    insert('correction=reversal', -12_600, -107)();
    expect(() =>
      deps.sqlite
        .prepare(
          `insert into cost_lines (lot_id, ordinal, kind, description, quantity, quantity_unit, price_minor, per_quantity, cost_minor, corrects_id, written_at, correction)
           select lot_id, 91, kind, description, 5, quantity_unit, price_minor, per_quantity, 5, id, 1, 'replacement' from cost_lines where id = ?`,
        )
        .run(first),
    ).toThrow('says what it corrects, why, and who says so');
  });
});

describe('rework and seconds', () => {
  test('the good pieces of a lot carry its rework, less what the seconds bring', async () => {
    const studio = await studioWithWorld();
    const { api, page, world } = studio;
    const first = writeLot(world, {
      number: '26-0001',
      finishedAt: MONDAY,
      outcome: { firstQuality: 16, seconds: 2, rework: 4, scrap: 2, secondsValueMinor: 500 },
    });
    const again = writeLot(world, {
      number: '26-0002',
      finishedAt: MONDAY + DAY,
      pieces: 4,
      outcome: { firstQuality: 4, seconds: 0 },
      orderLineIds: [],
    });
    expect((await page.post(`/costing/lots/${again}/rework`, { ofNumber: '26-0099' })).status).toBe(422);
    expect((await page.post(`/costing/lots/${again}/rework`, { ofNumber: '26-0002' })).status).toBe(422);
    expect((await page.post(`/costing/lots/${again}/rework`, { ofNumber: '26-0001' })).status).toBe(303);
    expect((await page.post(`/costing/lots/${first}/rework`, { ofNumber: '26-0002' })).text).toContain('itself rework');
    const job = (await api.get(`/costing/lots/${first}`)).body;
    // (37.83 + 37.83 − 5.00) / 20 = 3.533; 20 of 24 good, 16 of 24 at once.
    expect(job).toMatchObject({ ownMinor: 3783, reworkMinor: 3783, goodCount: 20, startedCount: 24 });
    expect(job.unitCostMinor).toBeCloseTo(353.3, 9);
    expect([job.yieldPct, job.rightFirstTimePct].map((p) => p.toFixed(2))).toEqual(['83.33', '66.67']);
    const shown = (await page.get(`/costing/lots/${first}`)).text;
    expect(shown).toContain('€3.53');
    expect(shown).toContain('83.3 %');
    expect((await page.get(`/costing/lots/${again}`)).text).toContain('counted there too, as rework');
    const csv = (await page.get('/history/export.csv')).text;
    expect(csv.split('\r\n')[2]).toContain(',26-0001,EUR');
    expect((await page.post(`/costing/lots/${again}/rework`, { ofNumber: '' })).status).toBe(303);
    expect((await api.get(`/costing/lots/${first}`)).body.reworkMinor).toBe(0);
  });

  test('agreed prices are held against it, markup and margin each by its name', async () => {
    const studio = await studioWithWorld();
    const { page, world, deps } = studio;
    deps.sqlite.prepare('update order_lines set price_minor = 8000, pieces = 20').run();
    const lotId = writeLot(world, {
      number: '26-0001',
      finishedAt: MONDAY,
      outcome: { firstQuality: 20, seconds: 0 },
      extraCostLines: [
        {
          kind: 'other',
          description: 'rest',
          quantity: 1,
          quantityUnit: 'piece',
          priceMinor: 217,
          perQuantity: 1,
          costMinor: 217,
        },
      ],
    });
    // 40.00 over 20 pieces at 4.00 each: cost 2.00, 100 % markup, 50 % margin.
    const shown = (await page.get(`/costing/lots/${lotId}`)).text.replace(/\s+/g, ' ');
    expect(shown).toMatch(/Markup, on cost.*Margin, of price.*€4\.00.*100\.0 %.*50\.0 %/);
  });
});

describe('costs by what they were for', () => {
  async function threeLots() {
    const studio = await studioWithWorld();
    const { world, deps } = studio;
    const second = deps.db
      .insert(orderLines)
      .values({ orderId: world.orderId, ordinal: 2, description: 'runner', pieces: 2, dryMassMg: 300_000 })
      .returning()
      .get();
    deps.sqlite.prepare('update order_lines set dry_mass_mg = 700000 where id = ?').run(world.orderLineId);
    writeLot(world, { number: '26-0001', finishedAt: at('2026-01-10T12:00:00Z') });
    writeLot(world, { number: '26-0002', finishedAt: at('2026-02-10T12:00:00Z'), orderLineIds: [] });
    writeLot(world, {
      number: '26-0003',
      finishedAt: at('2026-03-10T12:00:00Z'),
      orderLineIds: [world.orderLineId, second.id],
      dryMassMg: 420_000,
    });
    return { ...studio, second };
  }

  test.each(['lot', 'order', 'customer', 'shade', 'method', 'fibre', 'month'])(
    'by %s, the groups add to the lots, to the cent and the milligram',
    async (by) => {
      const { api, page } = await threeLots();
      const { body } = await api.get(`/costing?by=${by}`);
      const add = (field: string): number =>
        body.groups.reduce((sum: number, g: Record<string, number>) => sum + (g[field] ?? 0), 0);
      expect(body.total.totalMinor).toBe(3 * 3783);
      for (const field of ['totalMinor', 'estimateMinor', 'dryMassMg', 'goodPieces'])
        expect(add(field), field).toBe(body.total[field]);
      const shown = await page.get(`/costing?by=${by}&from=&to=`);
      expect(shown.status).toBe(200);
      expect(shown.text).toContain('€113.49');
      // Every figure that leads to lines leads to lines that make it.
      const links = [...shown.text.matchAll(/href="(\/costing\/lines\?[^"]*)"[^>]*>(?:<b>)?(€[\d.,]+)/g)].slice(0, 12);
      expect(links.length).toBeGreaterThan(3);
      for (const [, href = '', figure] of links.filter((l) => l[1]?.includes('kind='))) {
        const lines = await page.get(href.replaceAll('&amp;', '&'));
        expect(lines.status, href).toBe(200);
        expect(lines.text, href).toContain(`Together <b class="big-number">${figure}</b>`);
      }
    },
  );

  test('a lot of two lines of one order is that order’s, and a lot of none is said to be', async () => {
    const { api } = await threeLots();
    const { groups } = (await api.get('/costing?by=order')).body;
    expect(groups.map((g: { label: string; totalMinor: number }) => [g.label, g.totalMinor])).toEqual([
      ['O-1, Café Foz', 7566],
      ['for no order', 3783],
    ]);
    const months = (await api.get('/costing?by=month')).body.groups;
    expect(months.map((g: { key: string }) => g.key)).toEqual(['2026-01', '2026-02', '2026-03']);
  });

  test('in a fixed number of statements', async () => {
    const studio = await studioWithWorld();
    const { page, world } = studio;
    const write = (first: number, last: number): void => {
      for (let i = first; i <= last; i++) writeLot(world, { number: `26-${i}`, finishedAt: MONDAY - i * DAY });
    };
    const count = (url: string) =>
      statementsOf(studio.deps, async () => expect((await page.get(url)).status).toBe(200));
    write(1, 5);
    const urls = ['/costing?by=shade&from=&to=', '/costing?by=order&from=&to=', '/costing/lines?by=shade&from=&to='];
    // The look at a sign-in is prepared with the first page.
    await page.get('/fibres');
    const few: number[] = [];
    for (const url of urls) few.push(await count(url));
    write(6, 20);
    const many: number[] = [];
    for (const url of urls) many.push(await count(url));
    expect(many).toEqual(few);
  });

  test('a shade tells why a kilogram cost more, and its reasons add to the difference', async () => {
    const { api, page } = await threeLots();
    const shade = (await api.get('/costing?by=shade')).body.groups[0];
    const lots = (await api.get(`/costing/shades/${shade.key}`)).body.lots;
    expect(lots).toHaveLength(3);
    // The same work on half the goods: 37.83 a lot, over 0.84 kg and over 0.42 kg.
    expect(lots.map((l: { perKg: number }) => l.perKg.toFixed(2))).toEqual(['4503.57', '4503.57', '9007.14']);
    const [a, , c] = lots;
    const { change } = (await api.get(`/costing/shades/${shade.key}?earlier=${a.lotId}&later=${c.lotId}`)).body;
    expect([change.earlierMinorPerKg, change.laterMinorPerKg, change.differenceMinor]).toEqual([4504, 9007, 4503]);
    const effects = change.lines.flatMap((l: Record<string, number>) => [
      l['priceEffectMinor'],
      l['quantityEffectMinor'],
    ]);
    expect(effects.reduce((sum: number, e: number) => sum + e, 0)).toBe(4503);
    // Nothing changed its price; all of it is more dye and more hours on a kilogram.
    const labour = change.lines.find((l: { kind: string }) => l.kind === 'labour');
    expect(labour).toMatchObject({ unit: 's', priceEffectMinor: 0 });
    expect(Math.abs(labour.quantityEffectMinor - 2700 / 0.84)).toBeLessThanOrEqual(1);
    const shown = await page.get(`/costing/shades/${shade.key}?earlier=${a.lotId}&later=${c.lotId}`);
    expect(shown.text).toContain('A kilogram cost €45.03 more.');
    expect(shown.text).toMatch(/role="img" aria-labelledby="series-title series-desc"/);
    const foreign = await page.get(`/costing/shades/${shade.key}?earlier=999&later=${c.lotId}`);
    expect(foreign.status).toBe(422);
    expect(foreign.text).toContain('Choose a lot of this shade.');
  });
});

describe('a quote', () => {
  test('comes from the plans of the lots, by markup or by margin, with set-up and a minimum', async () => {
    const studio = await studioWithWorld();
    const { api, page, world, deps } = studio;
    const second = deps.db
      .insert(orderLines)
      .values({ orderId: world.orderId, ordinal: 2, description: 'one scarf', pieces: 1 })
      .returning()
      .get();
    writeLot(world, { number: '26-0001', finishedAt: MONDAY, estimateMinor: 4_800 }, true);
    const url = `/orders/${world.orderId}/quote`;
    const quote = async (query: string) => (await api.get(`${url}?${query}`)).body;
    // 48.00 at 50 % markup = 72.00 = 24 × 3.00: 33.3 % margin.
    const plain = await quote('basis=markup&pct=50');
    expect(plain.lines[0]).toMatchObject({
      costMinor: 4_800,
      price: { lineMinor: 7_200, pieceMinor: 300, byMinimum: false },
    });
    expect(plain.lines[0].price.marginPct).toBeCloseTo(100 / 3, 9);
    expect(plain.lines[1]).toMatchObject({ orderLineId: second.id, price: null });
    expect(plain.totalMinor).toBe(7_200);
    // 48.00 at 50 % margin = 96.00 = 100 % markup.
    const margin = await quote('basis=margin&pct=50');
    expect(margin.lines[0].price).toMatchObject({ lineMinor: 9_600, markupPct: 100, marginPct: 50 });
    // (48.00 + 12.00) × 1.5 = 90.00; a piece is rounded up: 24 × 3.75.
    expect((await quote('basis=markup&pct=50&setUpMinor=1200')).lines[0].price.lineMinor).toBe(9_000);
    // 100.00 over 24 pieces: 4.17 each, 100.08.
    expect((await quote('basis=markup&pct=50&minimumMinor=10000')).lines[0].price).toMatchObject({
      pieceMinor: 417,
      lineMinor: 10_008,
      byMinimum: true,
    });
    const shown = (await page.get(`${url}?basis=margin&pct=50&setUp=&minimum=`)).text;
    expect(shown).toContain('€96.00');
    expect(shown).toContain('Markup, on cost');
    expect((await page.get(`${url}?basis=margin&pct=100`)).status).toBe(422);
    const paper = (await page.get(`${url}/paper?basis=margin&pct=50`)).text;
    expect(paper).toContain('€96.00');
    expect(paper).not.toContain('€48.00');
    expect(paper).not.toMatch(/>[^<]*(margin|markup)/i);
  });

  test('an order without lots is told to plan one', async () => {
    const { page, world } = await studioWithWorld();
    const shown = (await page.get(`/orders/${world.orderId}/quote`)).text;
    expect(shown).toContain(`/lots/new?orderLineId=${world.orderLineId}`);
  });
});

describe('the workbook', () => {
  test('read by another library says what the CSV says, explains its columns and proves that it ties', async () => {
    const studio = await studioWithWorld();
    const { page, world } = studio;
    for (let day = 1; day <= 9; day++)
      writeLot(world, {
        number: `26-${day}`,
        finishedAt: at(`2026-03-0${day}T12:00:00Z`),
        goodsText: day === 3 ? '=1+1 <&> "x"' : '24 napkins',
      });
    const answer = await binary(page.get('/history/export.xlsx?rows=costLine'));
    expect(answer.headers['content-type']).toContain('spreadsheetml.sheet');
    expect(answer.headers['content-disposition']).toContain('batch%20history%20cost%20lines.xlsx');
    const sheets = await sheetsOf(answer.body as Buffer);
    expect(Object.keys(sheets)).toEqual(['Cost lines', 'Columns', 'Reconciliation', 'The record']);
    const [header = [], ...rows] = sheets['Cost lines'] ?? [];
    const column = (name: string): number => header.indexOf(name);
    expect(rows).toHaveLength(45);
    expect(Math.round(rows.reduce((sum, row) => sum + 100 * Number(row[column('cost')]), 0))).toBe(9 * 3783);
    expect(rows[0]?.[column('finished_on')]).toEqual(new Date(Date.UTC(2026, 2, 1)));
    expect(rows[0]?.[column('quantity')]).toBe(12.6);
    expect(rows[2]?.[column('makers_lot')]).toBe('=S,"1"');
    const csvHeader = (await page.get('/history/export.csv?rows=costLine')).text.split('\r\n')[0];
    expect(header.join(',')).toBe(csvHeader);
    expect((sheets['Columns'] ?? []).slice(1).map((row) => row[0])).toEqual(header);
    const proof = sheets['Reconciliation'] ?? [];
    expect(proof[1]?.slice(1, 4)).toEqual([340.47, 340.47, 0]);
    expect(proof[3]?.slice(1, 4)).toEqual([45, 45, 0]);
    // 9 × (12.6 + 4.2 + 40) g
    expect(proof[4]?.slice(1, 4)).toEqual([511.2, 511.2, 0]);
    expect(proof[6]?.slice(1, 4)).toEqual([9 * 1.83, 9 * 1.83, 0]);

    const lots = await sheetsOf((await binary(page.get('/history/export.xlsx'))).body as Buffer);
    expect((lots['Lots'] ?? [])[3]).toContain('=1+1 <&> "x"');
  });

  test('holds the columns that were asked for, in their order, and refuses one that is not there', async () => {
    const { page, api, world } = await studioWithWorld();
    writeLot(world, { number: '26-1', finishedAt: MONDAY });
    const csv = (await page.get('/history/export.csv?columns=total_cost,lot')).text;
    expect(csv).toBe('total_cost,lot\r\n37.83,26-1\r\n');
    expect((await api.get('/exports/lots.xlsx?columns=total_cost,profit')).status).toBe(422);
  });
});

describe('a saved export', () => {
  test('is the same file next month, on the page and to a token', async () => {
    const studio = await studioWithWorld();
    const { page, api, world, clock } = studio;
    writeLot(world, { number: '26-1', finishedAt: at('2026-02-10T12:00:00Z') });
    writeLot(world, { number: '26-2', finishedAt: at('2026-03-10T12:00:00Z') });
    const form = { name: 'For the accountant', rows: 'lot', format: 'csv', span: 'lastMonth' };
    const saved = await page.post('/exports', {
      ...form,
      'lot.column.lot': 'yes',
      'lot.column.total_cost': 'yes',
      'costLine.column.kind': 'yes',
    });
    expect(saved.status, saved.text).toBe(303);
    const { savedExports } = (await api.get('/exports/saved')).body;
    expect(savedExports).toMatchObject([
      { name: 'For the accountant', span: 'lastMonth', columns: ['lot', 'total_cost'] },
    ]);
    const { savedExportId: id, version } = savedExports[0];
    expect((await api.get(`/exports/saved/${id}.csv`)).text).toBe('lot,total_cost\r\n26-1,37.83\r\n');
    expect((await page.get(`/exports/${id}/file.csv`)).text).toContain('26-1');
    clock.now = at('2026-04-02T12:00:00Z');
    expect((await api.get(`/exports/saved/${id}.csv`)).text).toBe('lot,total_cost\r\n26-2,37.83\r\n');
    const sheets = await sheetsOf((await binary(api.get(`/exports/saved/${id}.xlsx`))).body as Buffer);
    expect(sheets['Lots']).toEqual([
      ['lot', 'total_cost'],
      ['26-2', 37.83],
    ]);
    expect((await page.get('/exports')).text).toContain('For the accountant');
    expect((await page.get(`/exports/${id}/edit`)).text).toMatch(/name="lot\.column\.total_cost" value="yes" checked/);

    const changed = await api.put(`/exports/saved/${id}`, {
      export: { name: 'All', rows: 'costLine', span: 'everything' },
      version,
    });
    expect(changed.body).toMatchObject({ name: 'All', columns: [], version: version + 1 });
    expect((await api.put(`/exports/saved/${id}`, { export: { name: 'All' }, version })).status).toBe(409);
    expect((await api.post('/exports/saved', { name: 'Wrong', columns: ['profit'] })).status).toBe(422);
    expect((await api.post('/exports/saved', { name: 'Wrong', order: 'O-9' })).status).toBe(422);
    expect((await page.post('/exports', { ...form, name: ' ' })).status).toBe(422);
    expect((await page.post(`/exports/${id}/removal`)).status).toBe(303);
    expect((await api.get(`/exports/saved/${id}.csv`)).status).toBe(404);
  });
});
