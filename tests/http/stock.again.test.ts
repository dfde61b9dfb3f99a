import { describe, expect, test } from 'vitest';
import { RULES } from '../../server/backup/queries.ts';
import { insertPerson } from '../../server/people/queries.ts';
import { makeToken } from '../../server/people/signIn.ts';
import { freshStudio, MONDAY, type TestStudio } from '../support/app.ts';

const DAY = 86_400_000;

/** A studio with one dye and 250 g of it. */
async function shelf(): Promise<TestStudio & { jar: number; at: string; dyeId: number }> {
  const studio = await freshStudio();
  const { deps, api } = studio;
  const dyeId = deps.sqlite
    .prepare("insert into dyes (code, name, class) values ('T1', 'Turquoise', 'reactive') returning id")
    .pluck()
    .get() as number;
  const { body } = await api.post('/stock-lots', {
    dyeId,
    code: 'T1-1',
    quantity: 250_000,
    priceMinor: 3000,
    receivedOn: '2026-03-02',
  });
  return { ...studio, dyeId, jar: body.stockLotId, at: `/stock/${body.stockLotId}` };
}

const ledgerOf = async (studio: TestStudio, jar: number): Promise<[string, number][]> =>
  (await studio.api.get(`/stock-lots/${jar}/ledger`)).body.entries.map((e: { kind: string; quantity: number }) => [
    e.kind,
    e.quantity,
  ]);
const eventsOf = async (studio: TestStudio, jar: number) =>
  (await studio.api.get(`/stock-lots/${jar}/events`)).body.events as Record<string, unknown>[];

/** A key of somebody who dyes but does not own. */
function dyerKey({ deps }: TestStudio): string {
  const { id } = insertPerson(deps.db, {
    name: 'Ana',
    role: 'dyer',
    passphraseHash: null,
    labourRateMinorPerHour: null,
    active: 1,
    createdAt: MONDAY,
  });
  return makeToken(deps, { name: 'a', scope: 'write', expiresAt: null }, id).token;
}

describe('a closed container', () => {
  test('is opened again with its count, and every day keeps what it showed', async () => {
    const studio = await shelf();
    const { page, api, jar, at, clock } = studio;
    await page.post(`${at}/closing`, { how: 'empty', reason: '' });
    const shown = (await page.get(at)).text;
    expect(shown).toContain(`href="${at}/reopening/new"`);
    clock.now += DAY;
    const form = (await page.get(`${at}/reopening/new`)).text;
    expect(form).toContain('name="counted" type="text" value="250 g"');
    const sent = { counted: '180 g', clientId: /name="clientId" value="([\w-]+)"/.exec(form)?.[1] ?? '' };
    const silent = await page.post(`${at}/reopening`, { ...sent, reason: '' });
    expect([silent.status, silent.text.includes('value="180 g"')]).toEqual([422, true]);
    for (let press = 1; press <= 2; press++)
      expect((await page.post(`${at}/reopening`, { ...sent, reason: 'the wrong jar' })).status).toBe(303);
    expect(await ledgerOf(studio, jar)).toEqual([
      ['stockTake', 180_000],
      ['stockTake', -250_000],
      ['receipt', 250_000],
    ]);
    expect((await api.get(`/stock-lots/${jar}/on-hand?on=2026-03-16`)).body.quantity).toBe(0);
    expect((await api.get(`/stock-lots/${jar}`)).body).toMatchObject({ closedAt: null, onHandQuantity: 180_000 });
    expect((await api.get('/stock-lots')).body.stockLots).toHaveLength(1);
    const story = (await page.get(at)).text;
    for (const words of ['Opened again', 'the wrong jar', 'opened again: the wrong jar'])
      expect(story).toContain(words);
    expect((await api.post(`/stock-lots/${jar}/wastes`, { quantity: 1_000, reason: 'spilt' })).status).toBe(201);
    expect((await page.get(`${at}/reopening/new`)).status).toBe(409);
    const again = await api.post(`/stock-lots/${jar}/reopening`, { countedQuantity: 1, reason: 'again' });
    expect(again.status).toBe(409);
  });

  test('that was thrown away on paper only is no waste any more', async () => {
    const studio = await shelf();
    const { api, jar, clock, deps } = studio;
    await api.post(`/stock-lots/${jar}/closing`, { how: 'discarded', reason: 'went hard' });
    clock.now += DAY;
    const answer = await api.post(`/stock-lots/${jar}/reopening`, {
      countedQuantity: 250_000,
      reason: 'it was another',
    });
    expect([answer.status, answer.body.onHandQuantity]).toEqual([200, 250_000]);
    expect(await ledgerOf(studio, jar)).toEqual([
      ['stockTake', 0],
      ['reversal', 250_000],
      ['waste', -250_000],
      ['receipt', 250_000],
    ]);
    // Use, by which the shopping list goes, is none.
    const [toBuy] = (await api.get('/stock/shopping')).body.items;
    expect(toBuy.meanDailyQuantity).toBe(0);
    expect(await eventsOf(studio, jar)).toMatchObject([
      { kind: 'reopened', reason: 'it was another', personName: 'Inês' },
      { kind: 'closed', reason: 'went hard', personName: 'Inês' },
    ]);
    for (const { name, broken } of RULES) expect(broken(deps.db), name).toEqual([]);
  });
});

describe('a recall', () => {
  test('is lifted with a reason, from the powder and from what was recalled with it', async () => {
    const studio = await shelf();
    const { page, api, jar, at, clock } = studio;
    const solution = async (): Promise<number> =>
      (await api.post(`/stock-lots/${jar}/solutions`, { concPpm: 10_000, massMg: 5000 })).body.stockLotId;
    const [bad, fine] = [await solution(), await solution()];
    await api.post(`/stock-lots/${bad}/recall`, { reason: 'mould' });
    clock.now += DAY;
    await page.post(`${at}/recall`, { reason: 'maker’s notice' });
    expect((await page.get(at)).text).toContain(`href="${at}/recall-lifting/new"`);
    clock.now += DAY;
    const early = await api.post(`/stock-lots/${fine}/recall-lifting`, { reason: 'looks well' });
    expect([early.status, JSON.stringify(early.body)]).toEqual([409, expect.stringContaining('T1-1')]);
    expect((await page.post(`${at}/recall-lifting`, { reason: '' })).status).toBe(422);
    expect((await page.get(`${at}/recall-lifting/new`)).status).toBe(200);
    const lifted = await page.post(`${at}/recall-lifting`, { reason: 'it was the neighbour’s jar' });
    expect([lifted.status, lifted.headers['location']]).toEqual([303, at]);
    expect((await api.get(`/stock-lots/${jar}`)).body).toMatchObject({ recalledAt: null, recallReason: '' });
    expect((await api.get(`/stock-lots/${fine}`)).body.recalledAt).toBeNull();
    expect((await api.get(`/stock-lots/${bad}`)).body.recallReason).toBe('mould');
    expect(await eventsOf(studio, fine)).toMatchObject([
      { kind: 'recallLifted', reason: 'it was the neighbour’s jar', throughId: jar },
      { kind: 'recalled', reason: 'made from T1-1: maker’s notice', throughId: jar, personName: 'Inês' },
    ]);
    expect(await eventsOf(studio, bad)).toHaveLength(1);
    const story = (await page.get(at)).text;
    for (const words of ['Recall lifted', 'it was the neighbour’s jar', 'maker’s notice'])
      expect(story).toContain(words);
    expect((await api.post(`/stock-lots/${jar}/solutions`, { concPpm: 10_000, massMg: 5000 })).status).toBe(201);
    expect((await page.get(`${at}/recall-lifting/new`)).status).toBe(409);
  });

  test('is lifted by the owner alone; a dyer opens containers', async () => {
    const studio = await shelf();
    const { app, api, jar } = studio;
    const authorization = `Bearer ${dyerKey(studio)}`;
    const post = (url: string, payload: object) =>
      app.inject({ method: 'POST', url: `/api/v1/stock-lots/${jar}/${url}`, headers: { authorization }, payload });
    await api.post(`/stock-lots/${jar}/recall`, { reason: 'maker’s notice' });
    expect((await post('recall-lifting', { reason: 'no' })).statusCode).toBe(403);
    await api.post(`/stock-lots/${jar}/closing`, { how: 'empty' });
    expect((await post('reopening', { countedQuantity: 1_000, reason: 'some left' })).statusCode).toBe(200);
    expect(await eventsOf(studio, jar)).toMatchObject([
      { kind: 'reopened', personName: 'Ana' },
      { kind: 'closed' },
      { kind: 'recalled' },
    ]);
  });
});

test('what was done with a container is never rewritten', async () => {
  const { api, jar, deps } = await shelf();
  await api.post(`/stock-lots/${jar}/recall`, { reason: 'maker’s notice' });
  for (const statement of ["update stock_lot_events set reason = 'none'", 'delete from stock_lot_events'])
    expect(() => deps.sqlite.exec(statement)).toThrow('what happened is never rewritten');
});
