import readXlsx from 'read-excel-file/node';
import { describe, expect, test } from 'vitest';
import { RULES } from '../../server/backup/queries.ts';
import { insertPerson } from '../../server/people/queries.ts';
import { makeToken } from '../../server/people/signIn.ts';
import { theStudio, updateStudio } from '../../server/settings/queries.ts';
import { receive } from '../../server/stock/ledger.ts';
import { stockLotById } from '../../server/stock/queries.ts';
import { freshStudio, MONDAY, type TestStudio } from '../support/app.ts';
import { type LotWorld, lotWorld, writeLot } from '../support/finishedLots.ts';

const DAY = 86_400_000;

async function closedLot(): Promise<TestStudio & { world: LotWorld; lotId: number }> {
  const studio = await freshStudio();
  const world = lotWorld(studio.deps, studio.owner);
  studio.clock.now += DAY;
  const lotId = writeLot(world, { number: '26-0001', finishedAt: studio.clock.now });
  studio.clock.now += 3 * DAY;
  return { ...studio, world, lotId };
}

const rowsOf = (studio: TestStudio, lotId: number) =>
  studio.deps.sqlite.prepare('select * from cost_lines where lot_id = ? order by ordinal').all(lotId) as Record<
    string,
    unknown
  >[];
const sumOf = (studio: TestStudio): number =>
  studio.deps.sqlite.prepare('select sum(cost_minor) from cost_lines').pluck().get() as number;
const ledgerOf = (studio: TestStudio, stockLotId: number) =>
  studio.deps.sqlite
    .prepare('select kind, quantity, lot_id as lotId, at, reason from stock_ledger where stock_lot_id = ? order by id')
    .all(stockLotId) as { kind: string; quantity: number; lotId: number | null; at: number; reason: string }[];

async function proofOfWorkbook(studio: TestStudio): Promise<string> {
  const file = await studio.api
    .get('/exports/lots.xlsx?rows=costLine')
    .buffer(true)
    .parse((res, done) => {
      const chunks: Buffer[] = [];
      (res as unknown as NodeJS.ReadableStream)
        .on('data', (chunk: Buffer) => chunks.push(chunk))
        .on('end', () => done(null, Buffer.concat(chunks)));
    });
  expect(file.status).toBe(200);
  return JSON.stringify(await readXlsx(file.body as Buffer));
}

describe('a forgotten cost', () => {
  test('of a material is a line of today, issued from its container by when the lot was closed, and the books stay one', async () => {
    const studio = await closedLot();
    const { page, api, world, lotId } = studio;
    const before = rowsOf(studio, lotId);
    const form = (await page.get(`/costing/lots/${lotId}/additions/new`)).text;
    expect(form).toContain('SODA-A · Soda ash');
    const sent = {
      what: 'material',
      stockLotId: String(world.stockLotIds.soda),
      quantity: '250 g',
      clientId: /name="clientId" value="([\w-]+)"/.exec(form)?.[1] ?? '',
    };
    const silent = await page.post(`/costing/lots/${lotId}/additions`, { ...sent, reason: '' });
    expect(silent.status).toBe(422);
    expect(silent.text).toContain('value="250 g"');
    for (let press = 1; press <= 2; press++) {
      const saved = await page.post(`/costing/lots/${lotId}/additions`, { ...sent, reason: 'put in by eye, no note' });
      expect([saved.status, saved.headers['location']]).toEqual([303, `/costing/lots/${lotId}#lines`]);
    }
    // 250 g of 5 kg for 12.00 = 0.60; the lot was 37.83.
    expect(sumOf(studio)).toBe(3843);
    const after = rowsOf(studio, lotId);
    expect(after.slice(0, before.length)).toEqual(before);
    expect(after).toHaveLength(before.length + 1);
    expect(ledgerOf(studio, world.stockLotIds.soda).at(-1)).toEqual({
      kind: 'issue',
      quantity: -250_000,
      lotId,
      // It was used before the lot was closed.
      at: studio.deps.sqlite.prepare('select finished_at from lots where id = ?').pluck().get(lotId),
      reason: 'forgotten in the cost of lot 26-0001: put in by eye, no note',
    });
    for (const address of [`/costing/lots/${lotId}`, `/lots/${lotId}`]) {
      const shown = (await page.get(address)).text;
      for (const words of ['forgotten, added', 'put in by eye, no note', '€38.43']) expect(shown).toContain(words);
    }
    // 290 g of soda, 12.6 g and 4.2 g of dye: by hand.
    expect((await api.get('/exports/reconciliation')).body).toMatchObject({
      ties: true,
      historyMinor: 3843,
      mg: { lineQuantity: 306_800, ledgerQuantity: 306_800 },
    });
    expect((await page.get('/history?from=&to=')).text).toContain('Ties to the ledger');
    const csv = (await page.get('/history/export.csv?rows=costLine')).text.split('\r\n');
    expect(csv.filter((line) => line.includes(',addition,'))).toHaveLength(1);
    expect(csv.find((line) => line.includes(',addition,'))).toContain('put in by eye, no note');
    expect(await proofOfWorkbook(studio)).toContain('addition');
    for (const { name, broken } of RULES) expect(broken(studio.deps.db), name).toEqual([]);
    // Whoever recalls that jar later finds the lot by it.
    const touched = (await api.get(`/stock-lots/${world.stockLotIds.soda}/touched`)).body.lots;
    expect(touched).toMatchObject([{ number: '26-0001', quantity: 290_000 }]);
  });

  test('of hands brings its overhead by one tick, at the rates of today or as typed', async () => {
    const studio = await closedLot();
    const { api, page, world, lotId, deps } = studio;
    updateStudio(deps.db, { overheadRateMinorPerHour: 600 }, theStudio(deps.db).version);
    const hands = { what: 'labour', personId: String(world.helper.personId), duration: '40 min', reason: 'the rinse' };
    const form = (await page.get(`/costing/lots/${lotId}/additions/new?what=labour`)).text;
    expect(form).toContain('Rui, €18.00 an hour');
    expect(form).toMatch(/name="withOverhead" value="yes" checked/);
    expect((await page.post(`/costing/lots/${lotId}/additions`, { ...hands, withOverhead: 'yes' })).status).toBe(303);
    // 40 min at 18.00 = 12.00, at 6.00 = 4.00
    expect(sumOf(studio)).toBe(3783 + 1200 + 400);
    const sent = {
      what: 'labour',
      personId: world.helper.personId,
      durationS: 1800,
      rateMinorPerHour: 3000,
      withOverhead: true,
      reason: 'a dyer from next door',
      clientId: 'forgotten-1',
    };
    const first = await api.post(`/lots/${lotId}/cost-lines`, sent);
    expect(first.status, JSON.stringify(first.body)).toBe(201);
    expect(first.body.lines).toMatchObject([
      { kind: 'labour', quantity: 1800, costMinor: 1500, correction: 'addition', reason: 'a dyer from next door' },
      { kind: 'overhead', quantity: 1800, costMinor: 300, correction: 'addition' },
    ]);
    expect((await api.post(`/lots/${lotId}/cost-lines`, sent)).body).toEqual(first.body);
    expect(sumOf(studio)).toBe(3783 + 1600 + 1800);
    const other = writeLot(world, { number: '26-0002', finishedAt: MONDAY + DAY });
    expect((await api.post(`/lots/${other}/cost-lines`, sent)).status).toBe(409);
    for (const { name, broken } of RULES) expect(broken(deps.db), name).toEqual([]);
  });

  test('of anything else has its words, and can be corrected like any line', async () => {
    const studio = await closedLot();
    const { api, page, lotId } = studio;
    const nameless = { what: 'other', description: '', cost: '7.50', reason: 'bill came late' };
    const refused = await page.post(`/costing/lots/${lotId}/additions`, nameless);
    expect([refused.status, refused.text.includes('Say what it was for.')]).toEqual([422, true]);
    const { body } = await api.post(`/lots/${lotId}/cost-lines`, {
      what: 'other',
      description: 'courier',
      costMinor: 750,
      reason: 'bill came late',
    });
    const line = body.lines[0];
    const fixed = await api.post(`/cost-lines/${line.costLineId}/correction`, {
      reason: 'it was two parcels',
      replacement: { quantity: 2, priceMinor: 750, perQuantity: 1 },
    });
    expect(fixed.body.lines).toMatchObject([
      { costMinor: -750, correction: 'reversal' },
      { costMinor: 1500, correction: 'replacement' },
    ]);
    expect(sumOf(studio)).toBe(3783 + 1500);
    const { costLines, costMinor } = (await api.get(`/lots/${lotId}`)).body;
    expect(costMinor).toBe(5283);
    expect(costLines.at(-3)).toMatchObject({ correction: 'addition', reason: 'bill came late' });
    const group = (await api.get('/costing?by=lot')).body.groups[0];
    expect(group).toMatchObject({ totalMinor: 5283, byKind: { other: 1500 } });
  });

  test('of a jar and then its correction leave the ledger with what is right', async () => {
    const studio = await closedLot();
    const { api, world, lotId } = studio;
    const { body } = await api.post(`/lots/${lotId}/cost-lines`, {
      what: 'material',
      stockLotId: world.stockLotIds.yellow,
      quantity: 5_000,
      reason: 'a second dip',
    });
    // 5 g of 500 g for 42.50 = 0.425
    expect(body.lines).toMatchObject([{ kind: 'dye', costMinor: 43, valuation: 'specific' }]);
    studio.clock.now += DAY;
    await api.post(`/cost-lines/${body.lines[0].costLineId}/correction`, { reason: 'it was none', replacement: null });
    const standing = ledgerOf(studio, world.stockLotIds.yellow).reduce((sum, e) => sum + e.quantity, 0);
    expect(standing).toBe(500_000 - 12_600);
    expect((await api.get('/exports/reconciliation')).body.ties).toBe(true);
  });

  test('is valued at the average of the day on which the lot was closed, where the studio goes by that', async () => {
    const studio = await closedLot();
    const { deps, owner, clock, world, lotId, api } = studio;
    updateStudio(deps.db, { costing: 'movingAverage' }, theStudio(deps.db).version);
    const jar = stockLotById(deps.db, world.stockLotIds.yellow);
    if (!jar) throw new Error('there is no yellow');
    const { id: _, version: __, closedAt: ___, recalledAt: ____, recallReason: _____, ...like } = jar;
    const when = { at: clock.now, recordedAt: clock.now };
    receive(deps.db, { ...like, code: 'Y1-B', priceMinor: 40_000 }, owner, when);
    const { body } = await api.post(`/lots/${lotId}/cost-lines`, {
      what: 'material',
      stockLotId: jar.id,
      quantity: 100_000,
      reason: 'found the empty bag',
    });
    // The dear jar came after the lot was closed: 100 g at 42.50 for 500 g.
    expect(body.lines).toMatchObject([{ costMinor: 850, valuation: 'movingAverage' }]);
  });

  test('is refused of an open lot, a closed container, the customer’s own goods, and to anyone but the owner', async () => {
    const studio = await closedLot();
    const { app, api, page, deps, world, lotId } = studio;
    const soda = { what: 'material', stockLotId: world.stockLotIds.soda, quantity: 1_000, reason: 'late' };
    const open = writeLot(world, { number: '26-0002', finishedAt: MONDAY + DAY }, true);
    expect((await api.post(`/lots/${open}/cost-lines`, soda)).status).toBe(409);
    expect((await page.get(`/costing/lots/${open}/additions/new`)).status).toBe(409);
    expect((await api.post('/lots/999/cost-lines', soda)).status).toBe(404);
    expect((await api.post(`/lots/${lotId}/cost-lines`, { ...soda, reason: ' ' })).status).toBe(422);
    expect((await api.post(`/lots/${lotId}/cost-lines`, { ...soda, quantity: 0 })).status).toBe(422);
    await api.post(`/stock-lots/${world.stockLotIds.soda}/closing`, { how: 'empty' });
    const closed = await api.post(`/lots/${lotId}/cost-lines`, soda);
    expect([closed.status, closed.body.error?.fields?.stockLotId ?? JSON.stringify(closed.body)]).toEqual([
      422,
      expect.stringContaining('open it again'),
    ]);
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
      url: `/api/v1/lots/${lotId}/cost-lines`,
      headers: { authorization: `Bearer ${token}` },
      payload: { what: 'other', description: 'tip', costMinor: 100, reason: 'no' },
    });
    expect(refused.statusCode).toBe(403);
    expect(sumOf(studio)).toBe(3783);
  });

  test('is guarded by the database: to a closed lot, with a reason and by somebody', async () => {
    const { deps, lotId, world } = await closedLot();
    const open = writeLot(world, { number: '26-0002', finishedAt: MONDAY + DAY }, true);
    const insert = (lot: number, more: { reason: string; by: number | null; corrects: number | null }) => () =>
      deps.sqlite
        .prepare(
          `insert into cost_lines (lot_id, ordinal, kind, description, quantity, quantity_unit, price_minor, per_quantity, cost_minor, corrects_id, written_at, written_by, reason, added)
           values (?, 90, 'other', 'courier', 1, 'piece', 100, 1, 100, ?, 1, ?, ?, 1)`,
        )
        .run(lot, more.corrects, more.by, more.reason);
    const said = 'a forgotten cost is added to a closed lot, with the reason and by somebody';
    expect(insert(open, { reason: 'late', by: 1, corrects: null })).toThrow(said);
    expect(insert(lotId, { reason: ' ', by: 1, corrects: null })).toThrow(said);
    expect(insert(lotId, { reason: 'late', by: null, corrects: null })).toThrow(said);
    expect(insert(lotId, { reason: 'late', by: 1, corrects: 1 })).toThrow(said);
    // Stock does not follow by itself: a late issue needs the very line that it is for.
    const issue = deps.sqlite.prepare(
      "insert into stock_ledger (stock_lot_id, kind, quantity, at, recorded_at, by_person_id, lot_id) values (?, 'issue', -5, 1, 1, 1, ?)",
    );
    expect(() => issue.run(world.stockLotIds.soda, lotId)).toThrow('the lot is finished');
    insert(lotId, { reason: 'late', by: 1, corrects: null })();
    expect(() => issue.run(world.stockLotIds.soda, lotId)).toThrow('the lot is finished');
  });
});
