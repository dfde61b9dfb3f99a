import supertest from 'supertest';
import { describe, expect, test } from 'vitest';
import { verifyStudio } from '../../server/backup/verify.ts';
import { planLot } from '../../server/lots/planLot.ts';
import { componentsOf, stepsOf } from '../../server/lots/queries.ts';
import { insertPerson } from '../../server/people/queries.ts';
import { openSignIn } from '../../server/people/signIn.ts';
import { onHandAt } from '../../server/stock/queries.ts';
import { freshStudio, MONDAY, type TestStudio } from '../support/app.ts';
import { planInput } from '../support/lotInputs.ts';
import { makeWorld, type World } from '../support/world.ts';

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
const DAY = 24 * HOUR;

interface Bench extends TestStudio {
  world: World;
  lotId: number;
  blue: number;
  line: number;
  steps: number[];
  weigh: (massMg: number, at?: number, stockLotId?: number) => Promise<{ status: number; body: { entryId: number } }>;
  onHand: (stockLotId?: number) => Promise<number>;
  count: (countedQuantity: number, at?: number) => Promise<void>;
  finish: (at?: number) => Promise<{ status: number; body: { fields?: Record<string, string> } }>;
  costMinor: () => Promise<number>;
  /** Every rule of `npm run verify` that does not hold. */
  broken: () => Promise<string[]>;
}

let sent = 0;
const clientId = (): string => `sent-${String(++sent).padStart(8, '0')}`;

/** A lot of 1 kg of linen, planned on Monday at nine: 10 g of blue (B-1: 500 g for 40.00, so 8 minor units a gram). */
async function bench(): Promise<Bench> {
  const studio = await freshStudio();
  const { deps, api, owner } = studio;
  const world = makeWorld(studio);
  const { id: lotId } = planLot(
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
  const blue = world.stock.blue.id;
  const line = componentsOf(deps.db, lotId).find((c) => c.dyeId === world.dyeIds.blue)?.id ?? 0;
  return {
    ...studio,
    world,
    lotId,
    blue,
    line,
    steps: stepsOf(deps.db, lotId).map((s) => s.id),
    weigh: async (amount, at, stockLotId = blue) =>
      api.post(`/lots/${lotId}/weighings`, { componentId: line, stockLotId, massMg: amount, at, clientId: clientId() }),
    onHand: async (id = blue) => (await api.get(`/stock-lots/${id}`)).body.onHandQuantity,
    count: async (countedQuantity, at) => {
      const answer = await api.post(`/stock-lots/${blue}/stock-takes`, { countedQuantity, reason: 'count', at });
      expect(answer.status).toBe(201);
    },
    finish: async (at) =>
      api.post(`/lots/${lotId}/outcome`, { firstQuality: 10, unweighedConfirmed: true, at, clientId: clientId() }),
    costMinor: async () =>
      deps.sqlite
        .prepare('select coalesce(sum(cost_minor), 0) from cost_lines where lot_id = ?')
        .pluck()
        .get(lotId) as number,
    broken: async () => (await verifyStudio(deps.db, deps.config.dataDir)).flatMap((c) => c.wrong),
  };
}

const later = (b: TestStudio, ms: number): number => {
  b.clock.now += ms;
  return b.clock.now;
};

describe('a count states what there was at its time', () => {
  test('a weighing from before it that was sent after it is absorbed, and told', async () => {
    const b = await bench();
    const weighedAt = later(b, HOUR);
    later(b, HOUR);
    await b.count(90_000);
    later(b, HOUR);
    expect((await b.weigh(10_000, weighedAt)).status).toBe(201);
    expect(await b.onHand()).toBe(90_000);
    const page = (await b.page.get(`/stock/${b.blue}`)).text;
    expect(page).toContain('counted already, and entered after the count');
    expect(page).toContain('the entry of 16 Mar 2026, 10:00');
    const then = (at: number) => onHandAt(b.deps.db, b.blue, at);
    // 500 g came; 10 g were weighed at ten; 90 g were there at eleven.
    expect([then(weighedAt - 1), then(weighedAt), then(weighedAt + HOUR)]).toEqual([500_000, 490_000, 90_000]);
    expect(await b.broken()).toEqual([]);
  });

  test('voiding a mistaken weighing from before it changes nothing after it', async () => {
    const b = await bench();
    const { body } = await b.weigh(10_000, later(b, HOUR));
    later(b, HOUR);
    await b.count(100_000);
    later(b, HOUR);
    const voided = await b.api.post(`/log/${body.entryId}/voiding`, {
      reason: 'wrong jar',
      clientId: clientId(),
    });
    expect([voided.status, await b.onHand()]).toEqual([201, 100_000]);
  });

  test('correcting what a finished lot had concerns the time of the weighing', async () => {
    const b = await bench();
    await b.weigh(10_000, later(b, HOUR));
    await b.finish(later(b, HOUR));
    later(b, HOUR);
    await b.count(92_000);
    later(b, HOUR);
    const line = b.deps.sqlite.prepare("select * from cost_lines where kind = 'dye'").get() as { id: number };
    const corrected = await b.api.post(`/cost-lines/${line.id}/correction`, {
      reason: 'misread',
      replacement: { quantity: 8000, priceMinor: 4000, perQuantity: 500_000 },
    });
    expect([corrected.status, await b.onHand(), await b.costMinor()]).toEqual([201, 92_000, 64]);
    expect(await b.broken()).toEqual([]);
  });

  test('one that comes late itself is held against its own time, and gives way to a newer one', async () => {
    const b = await bench();
    const countedAt = later(b, HOUR);
    await b.weigh(10_000, later(b, HOUR));
    await b.count(300_000, later(b, HOUR));
    await b.count(400_000, countedAt);
    expect(await b.onHand()).toBe(300_000);
    expect(onHandAt(b.deps.db, b.blue, countedAt + HOUR)).toBe(390_000);
  });

  test('before the container came there was nothing to count', async () => {
    const b = await bench();
    for (const at of [Date.UTC(2026, 0, 1), 1, Date.UTC(2030, 0, 1)]) {
      const refused = await b.api.post(`/stock-lots/${b.blue}/stock-takes`, { countedQuantity: 1, reason: 'x', at });
      expect([refused.status, Object.keys(refused.body.fields)]).toEqual([422, ['at']]);
    }
  });
});

describe('a weighing that reaches the record after its lot was finished', () => {
  test('is recorded, marked late, costs and moves what it would have in time, and asks the owner', async () => {
    const b = await bench();
    await b.weigh(10_000, later(b, HOUR));
    const offlineAt = later(b, HOUR);
    await b.finish(later(b, HOUR));
    // 10 g at 4000/500 a gram.
    expect(await b.costMinor()).toBe(80);
    later(b, DAY);
    const late = await b.weigh(1_040, offlineAt);
    expect(late.status).toBe(201);
    // 11.04 g × 8 = 88.32: what it would have cost in time, rounded once.
    expect([await b.costMinor(), await b.onHand()]).toEqual([88, 488_960]);
    expect(await b.broken()).toEqual([]);
    const [question, ...others] = (await b.api.get('/questions')).body;
    expect(others).toEqual([]);
    expect(question).toMatchObject({
      kind: 'lateWeighing',
      asks: 'owner',
      lotId: b.lotId,
      stockLotId: b.blue,
      answer: null,
    });
    expect(question.words).toContain('Inês weighed 1.04 g of Tide blue from B-1 on 16 Mar 2026, 11:00');
    for (const place of ['/', `/lots/${b.lotId}`, `/stock/${b.blue}`])
      expect((await b.page.get(place)).text).toContain('No, take it back');
    expect((await b.page.get(`/lots/${b.lotId}`)).text).toContain(
      'reached the record on 17 Mar 2026, 12:00, after the lot was closed',
    );
  });

  test('is taken back, or stands, by one answer of the owner', async () => {
    const b = await bench();
    await b.weigh(10_000, later(b, HOUR));
    const offlineAt = later(b, HOUR);
    await b.finish(later(b, HOUR));
    later(b, DAY);
    await b.weigh(5_000, offlineAt);
    const [{ questionId }] = (await b.api.get('/questions')).body;
    const dyer = insertPerson(b.deps.db, {
      name: 'Rui',
      role: 'dyer',
      passphraseHash: null,
      labourRateMinorPerHour: null,
      active: 1,
      createdAt: MONDAY,
    });
    const asDyer = supertest(b.app.server)
      .post(`/questions/${questionId}/answer`)
      .set('cookie', `studio=${openSignIn(b.deps, dyer.id, 'test')}`)
      .set('host', 'studio.test')
      .set('origin', 'http://studio.test')
      .type('form')
      .send({ answer: 'takeBack', back: '/' });
    expect((await asDyer).status).toBe(403);
    expect(await b.costMinor()).toBe(120);
    expect((await b.api.post(`/questions/${questionId}/answer`, { answer: 'perhaps' })).status).toBe(422);
    const answered = await b.page.post(`/questions/${questionId}/answer`, {
      answer: 'takeBack',
      back: `/lots/${b.lotId}`,
    });
    expect([answered.status, answered.headers['location']]).toEqual([303, `/lots/${b.lotId}`]);
    expect([await b.costMinor(), await b.onHand()]).toEqual([80, 490_000]);
    expect(await b.broken()).toEqual([]);
    expect((await b.api.post(`/questions/${questionId}/answer`, { answer: 'stands' })).status).toBe(409);
    expect((await b.page.get(`/lots/${b.lotId}`)).text).toContain('It has been taken back. Inês');
    expect((await b.api.get('/questions')).body).toEqual([]);
  });

  test('of a jar that the lot had not used yet adds a line of its own, and sent twice is booked once', async () => {
    const b = await bench();
    await b.api.post(`/lots/${b.lotId}/log`, { kind: 'note', text: 'by eye', clientId: clientId() });
    const offlineAt = later(b, HOUR);
    await b.finish(later(b, HOUR));
    later(b, HOUR);
    const body = { componentId: b.line, stockLotId: b.blue, massMg: 10_000, at: offlineAt, clientId: clientId() };
    const [first, second] = [
      await b.api.post(`/lots/${b.lotId}/weighings`, body),
      await b.api.post(`/lots/${b.lotId}/weighings`, body),
    ];
    expect([first.status, second.body.entryId]).toEqual([201, first.body.entryId]);
    expect([await b.costMinor(), await b.onHand()]).toEqual([80, 490_000]);
    expect(await b.broken()).toEqual([]);
  });

  test('is refused when whoever sends it can read that the lot is finished', async () => {
    const b = await bench();
    await b.weigh(10_000, later(b, HOUR));
    await b.finish(later(b, HOUR));
    later(b, 10 * MINUTE);
    const refused = await b.weigh(1_000);
    expect([refused.status, await b.onHand()]).toEqual([409, 490_000]);
  });

  test('and weighed after the finish on a phone that could not know of it, it is recorded and asked about as that', async () => {
    const b = await bench();
    await b.weigh(10_000, later(b, HOUR));
    await b.finish(later(b, HOUR));
    const offlineAt = later(b, HOUR);
    later(b, HOUR);
    expect((await b.weigh(1_000, offlineAt)).status).toBe(201);
    const [question] = (await b.api.get('/questions')).body;
    expect(question.words).toContain('on 16 Mar 2026, 12:00, after lot 26-0001 had been closed on 16 Mar 2026, 11:00');
    // The other way round: the finish is what comes late.
    const c = await bench();
    await c.weigh(10_000, later(c, HOUR));
    const finishedAt = later(c, HOUR);
    await c.weigh(1_000, later(c, HOUR));
    expect((await c.finish(finishedAt)).status).toBe(201);
    expect((await c.api.get('/questions')).body).toMatchObject([{ kind: 'lateWeighing' }]);
    expect([await c.costMinor(), await b.costMinor()]).toEqual([88, 88]);
  });

  test('a voiding, a note, a temperature and a step of before the finish are taken too', async () => {
    const b = await bench();
    const { body } = await b.weigh(10_000, later(b, HOUR));
    await b.weigh(2_000, later(b, HOUR));
    const offlineAt = later(b, HOUR);
    await b.finish(later(b, HOUR));
    later(b, HOUR);
    const at = { at: offlineAt };
    const to = `/lots/${b.lotId}`;
    const answers = [
      await b.api.post(`/log/${body.entryId}/voiding`, { reason: 'misread', ...at, clientId: clientId() }),
      await b.api.post(`${to}/log`, { kind: 'temperature', text: '40 °C', tempC: 40, ...at, clientId: clientId() }),
      await b.api.post(`${to}/log`, { kind: 'deviation', text: 'hotter', ...at, clientId: clientId() }),
      await b.api.post(`${to}/steps`, { stepId: b.steps[0], kind: 'stepStart', ...at, clientId: clientId() }),
      await b.api.post(`${to}/steps`, { stepId: b.steps[0], kind: 'stepEnd', ...at, clientId: clientId() }),
    ];
    expect(answers.map((a) => a.status)).toEqual([201, 201, 201, 201, 201]);
    expect([await b.costMinor(), await b.onHand()]).toEqual([16, 498_000]);
    expect(await b.broken()).toEqual([]);
    const [question] = (await b.api.get('/questions')).body;
    expect(question.kind).toBe('lateVoiding');
    // The voiding was the mistake: what it had struck out is recorded again at its own time.
    await b.api.post(`/questions/${question.questionId}/answer`, { answer: 'putBack' });
    expect([await b.costMinor(), await b.onHand()]).toEqual([96, 488_000]);
    expect(await b.broken()).toEqual([]);
  });
});

describe('a weighing from a container that was recalled or closed meanwhile', () => {
  test('is in the trace, asks the owner and warns at the bench', async () => {
    const b = await bench();
    const weighedAt = later(b, HOUR);
    await b.api.post(`/stock-lots/${b.blue}/recall`, { reason: 'maker’s notice' });
    const live = await b.weigh(10_000);
    expect(live.status).toBe(422);
    later(b, HOUR);
    expect((await b.weigh(10_000, weighedAt)).status).toBe(201);
    const touched = (await b.api.get(`/stock-lots/${b.blue}/touched`)).body;
    expect(touched.lots).toMatchObject([{ lotId: b.lotId, quantity: 10_000 }]);
    const [question] = (await b.api.get(`/questions?stockLotId=${b.blue}`)).body;
    expect(question.words).toContain('B-1 was recalled on 16 Mar 2026, 10:00: maker’s notice');
    expect((await b.page.get(`/lots/${b.lotId}/bench`)).text).toContain('Weighed from B-1, which has been recalled.');
  });

  test.each(['empty', 'discarded'])('leaves a container that was closed as %s with nothing in it', async (how) => {
    const b = await bench();
    const weighedAt = later(b, HOUR);
    later(b, HOUR);
    await b.api.post(`/stock-lots/${b.blue}/closing`, { how, reason: 'gone hard' });
    expect((await b.weigh(10_000)).status).toBe(409);
    later(b, HOUR);
    expect((await b.weigh(10_000, weighedAt)).status).toBe(201);
    expect(await b.onHand()).toBe(0);
    const gone = b.deps.sqlite
      .prepare(
        "select coalesce(-sum(quantity), 0) from stock_ledger where stock_lot_id = ? and kind in ('waste', 'reversal')",
      )
      .pluck()
      .get(b.blue);
    expect(gone).toBe(how === 'discarded' ? 490_000 : 0);
    later(b, HOUR);
    await b.api.post(`/stock-lots/${b.blue}/reopening`, { countedQuantity: 470_000, reason: 'the wrong jar' });
    expect(await b.onHand()).toBe(470_000);
  });
});

describe('times', () => {
  test('after the clock went back a day a running step is ended and the lot finished, with the doubt told', async () => {
    const b = await bench();
    later(b, DAY);
    const to = `/lots/${b.lotId}`;
    await b.api.post(`${to}/steps`, { stepId: b.steps[0], kind: 'stepStart', clientId: clientId() });
    later(b, -DAY + HOUR);
    const ended = await b.api.post(`${to}/steps`, { stepId: b.steps[0], kind: 'stepEnd', clientId: clientId() });
    expect(ended.status).toBe(201);
    expect((await b.page.get(to)).text).toContain('by the clock before the step began: one of the two times is wrong');
    const log = (await b.api.get(to)).body.log as { kind: string }[];
    expect(log.map((e) => e.kind)).toEqual(['start', 'stepStart', 'stepEnd']);
    expect((await b.page.get('/')).status).toBe(200);
    expect((await b.finish()).status).toBe(201);
  });

  test.each([
    ['2030', Date.UTC(2030, 0, 1)],
    ['1970', 1],
    ['a week before it began', MONDAY - 7 * DAY],
    ['before its first weighing', MONDAY + HOUR],
  ])('a lot is not finished or given up in %s', async (_, at) => {
    const b = await bench();
    later(b, 3 * HOUR);
    await b.weigh(10_000);
    later(b, HOUR);
    const given = { reason: 'spoilt', at, clientId: clientId() };
    for (const refused of [await b.finish(at), await b.api.post(`/lots/${b.lotId}/abandonment`, given)])
      expect([refused.status, Object.keys(refused.body.fields)]).toEqual([422, ['at']]);
    expect((await b.finish()).status).toBe(201);
  });

  test('nothing is weighed long before its lot was planned, nor a day ahead; a fast clock is told', async () => {
    const b = await bench();
    later(b, HOUR);
    for (const at of [MONDAY - 2 * DAY, b.clock.now + DAY + 1]) expect((await b.weigh(1_300, at)).status).toBe(422);
    await b.weigh(1_300, b.clock.now + 20 * HOUR);
    const entry = (await b.api.get(`/lots/${b.lotId}`)).body.log.at(-1);
    expect([entry.at, entry.clockSaidAt]).toEqual([b.clock.now, b.clock.now + 20 * HOUR]);
    expect((await b.page.get(`/lots/${b.lotId}`)).text).toContain('the device’s clock said 17 Mar 2026, 06:00');
  });

  test('a jar used before its receipt was typed is taken and told; long before, it is another jar', async () => {
    const b = await bench();
    const jar = async (receivedOn: string) =>
      (await b.api.post('/stock-lots', { dyeId: b.world.dyeIds.blue, quantity: 100_000, priceMinor: 900, receivedOn }))
        .body;
    later(b, 2 * DAY);
    const { stockLotId, code } = await jar('2026-03-18');
    expect((await b.weigh(10_000, MONDAY + HOUR, stockLotId)).status).toBe(201);
    expect(await b.onHand(stockLotId)).toBe(90_000);
    expect((await b.page.get(`/lots/${b.lotId}`)).text).toContain(
      'before the container came, which was on 18 Mar 2026 by its receipt',
    );
    expect((await b.page.get(`/stock/${stockLotId}`)).text).toContain('before it came, by its receipt');
    const made = await b.api.post(`/stock-lots/${stockLotId}/solutions`, {
      concPpm: 10_000,
      massMg: 5000,
      madeOn: '2026-03-16',
    });
    expect(made.status).toBe(201);
    later(b, 200 * DAY);
    const young = await jar('2026-09-30');
    expect((await b.weigh(10_000, MONDAY + HOUR, young.stockLotId)).status).toBe(422);
    expect(code).not.toBe(young.code);
  });

  test.each(['0001-01-01', '1899-12-31', '2200-01-01'])(
    'nothing is received on %s, by any door',
    async (receivedOn) => {
      const b = await bench();
      const body = { dyeId: b.world.dyeIds.blue, quantity: 1000, priceMinor: 100, receivedOn };
      expect((await b.api.post('/stock-lots', body)).status).toBeGreaterThanOrEqual(400);
      const form = { item: `dye-${b.world.dyeIds.blue}`, quantity: '1 g', price: '1', strength: '100', receivedOn };
      const typed = await b.page.post('/stock', form);
      expect([typed.status, typed.text.includes('That year is not of this studio’s time')]).toEqual([422, true]);
    },
  );

  test('a time on another day shows its day', async () => {
    const b = await bench();
    later(b, 12 * HOUR);
    // Batching takes six hours from nine in the evening on, with what comes before it until after one at night.
    await b.api.post(`/lots/${b.lotId}/steps`, { stepId: b.steps[0], kind: 'stepStart', clientId: clientId() });
    for (const place of ['/', `/lots/${b.lotId}/bench`])
      expect((await b.page.get(place)).text).toMatch(/ready about 17 Mar, 04:10/);
  });
});

describe('two hands that did not know of each other', () => {
  const stepOf = async (b: Bench, stepId: number) =>
    (await b.api.get(`/lots/${b.lotId}`)).body.steps.find((s: { stepId: number }) => s.stepId === stepId);
  const say = (b: Bench, kind: 'stepStart' | 'stepEnd', at: number) =>
    b.api.post(`/lots/${b.lotId}/steps`, { stepId: b.steps[0], kind, at, clientId: clientId() });

  test.each([
    ['the earlier arrives first', false],
    ['the later arrives first', true],
  ])('both end one step without network: it counts from the first, %s', async (_, turned) => {
    const b = await bench();
    const startedAt = later(b, HOUR);
    expect((await say(b, 'stepStart', startedAt)).status).toBe(201);
    const ends = [startedAt + 20 * MINUTE, startedAt + 25 * MINUTE];
    later(b, 2 * HOUR);
    for (const at of turned ? ends.toReversed() : ends) expect((await say(b, 'stepEnd', at)).status).toBe(201);
    expect(await stepOf(b, b.steps[0] ?? 0)).toMatchObject({ startedAt, endedAt: ends[0], state: 'done' });
    // Whoever stands there is told at once.
    expect((await say(b, 'stepEnd', b.clock.now)).status).toBe(409);
  });

  test('an end that arrives before its start waits for it', async () => {
    const b = await bench();
    const startedAt = later(b, HOUR);
    later(b, 2 * HOUR);
    expect((await say(b, 'stepEnd', startedAt + 30 * MINUTE)).status).toBe(201);
    expect((await say(b, 'stepStart', startedAt)).status).toBe(201);
    expect(await stepOf(b, b.steps[0] ?? 0)).toMatchObject({
      startedAt,
      endedAt: startedAt + 30 * MINUTE,
      state: 'done',
    });
  });

  test('both void one weighing: stock is put back once, and neither is refused', async () => {
    const b = await bench();
    const { body } = await b.weigh(10_000, later(b, HOUR));
    const voidedAt = later(b, HOUR);
    later(b, HOUR);
    const voiding = () =>
      b.api.post(`/log/${body.entryId}/voiding`, { reason: 'misread', at: voidedAt, clientId: clientId() });
    expect((await voiding()).status).toBe(201);
    expect((await voiding()).status).toBe(201);
    expect(await b.onHand()).toBe(500_000);
    expect(await b.broken()).toEqual([]);
  });

  test('a way out that was chosen before the lot was finished, and sent after it, is told and changes nothing', async () => {
    const b = await bench();
    await b.weigh(11_000, later(b, HOUR));
    const offered = (await b.api.get(`/lots/${b.lotId}/ways-out/${b.line}`)).body.waysOut;
    const way = offered.find((w: { way: string }) => w.way === 'moreGoods');
    const chosenAt = later(b, MINUTE);
    later(b, HOUR);
    expect((await b.finish()).status).toBe(201);
    const cost = await b.costMinor();
    later(b, HOUR);
    const sentLate = await b.api.post(`/lots/${b.lotId}/adjustments`, {
      componentId: b.line,
      way: 'moreGoods',
      confirmed: way.confirmed,
      at: chosenAt,
      clientId: clientId(),
    });
    expect(sentLate.status).toBe(201);
    expect((await b.api.get(`/lots/${b.lotId}`)).body.log.at(-1).text).toContain(
      'was not done: it reached the record after the lot was closed',
    );
    expect(await b.costMinor()).toBe(cost);
    expect(await b.broken()).toEqual([]);
  });
});
