import { describe, expect, test } from 'vitest';
import { insertPerson } from '../../server/people/queries.ts';
import { MONDAY } from '../support/app.ts';
import { benchLot } from '../support/benchLot.ts';

/* What a studio would lose if one small thing at the bench went wrong: a record of the wrong lot, an impossible time, work or
 * goods that cost what they did not. */

const MINUTE = 60_000;
const DAY = 86_400_000;

interface CostLine {
  kind: string;
  description: string;
  quantity: number;
  costMinor: number;
  wasted: boolean;
}
const linesOf = (body: unknown, kind: string): CostLine[] =>
  (body as { costLines: CostLine[] }).costLines.filter((l) => l.kind === kind);

describe('an entry belongs to its lot', () => {
  test('an id that one lot has used is refused by another, and neither weighs anything twice', async () => {
    const one = await benchLot();
    const two = await benchLot({}, one);
    const id = { clientId: 'phone-000001' };
    expect((await one.weigh('RB', 12_000, id)).status).toBe(201);
    const refused = await two.weigh('RB', 12_000, id);
    expect([refused.status, refused.body.code]).toEqual([409, 'idReused']);
    expect((await two.send('/log', { kind: 'note', text: 'folded', ...id })).status).toBe(409);
    expect((await two.shown()).log).toEqual([]);
    expect((await one.studio.api.get(`/stock-lots/${one.w.stock.blue.id}`)).body.onHandQuantity).toBe(488_000);
  });

  test('a step of one lot is not worked in another', async () => {
    const one = await benchLot();
    const two = await benchLot({}, one);
    const stepId = (await one.shown()).steps[0]?.stepId;
    expect((await two.send('/steps', { stepId, kind: 'stepStart' })).status).toBe(404);
  });
});

describe('times at the bench are possible', () => {
  test('a step that ended before it began is kept with the doubt; one that ended in the same moment has none', async () => {
    const { shown, send, studio, lotId } = await benchLot();
    const doubt = 'by the clock before the step began';
    const [first, second] = (await shown()).steps;
    await send('/steps', { stepId: first?.stepId, kind: 'stepStart', at: MONDAY });
    expect((await send('/steps', { stepId: first?.stepId, kind: 'stepEnd', at: MONDAY })).status).toBe(201);
    expect((await studio.page.get(`/lots/${lotId}`)).text).not.toContain(doubt);
    await send('/steps', { stepId: second?.stepId, kind: 'stepStart', at: MONDAY });
    expect((await send('/steps', { stepId: second?.stepId, kind: 'stepEnd', at: MONDAY - 1 })).status).toBe(201);
    expect((await studio.page.get(`/lots/${lotId}`)).text).toContain(doubt);
  });

  test('a step is started once and ended once', async () => {
    const { shown, send } = await benchLot();
    const stepId = (await shown()).steps[0]?.stepId;
    const [start, end] = [
      { stepId, kind: 'stepStart' },
      { stepId, kind: 'stepEnd' },
    ];
    expect((await send('/steps', start)).status).toBe(201);
    expect((await send('/steps', start)).status).toBe(409);
    expect((await send('/steps', end)).status).toBe(201);
    expect((await send('/steps', end)).status).toBe(409);
  });

  test('a day ahead is taken for a clock that is a little out, and more than a day for one that is wrong', async () => {
    const { send, shown, weigh } = await benchLot();
    const refused = await send('/log', { kind: 'note', text: 'from tomorrow', at: MONDAY + DAY + 1 });
    expect(refused.status).toBe(422);
    expect(refused.body.fields.at).toMatch(/device’s clock/);
    expect((await weigh('RB', 12_000, { at: MONDAY + 400 * DAY })).status).toBe(422);
    expect((await shown()).log).toEqual([]);
    expect((await send('/log', { kind: 'note', text: 'from a phone', at: MONDAY + DAY })).status).toBe(201);
  });
});

describe('a finished lot costs what it cost', () => {
  test('hands at their own rate, and at the studio’s where they have none; both bring the overhead of their hours', async () => {
    const { studio, weighTheRest, finish } = await benchLot({ goodsOwner: 'customer' });
    const hand = (name: string, labourRateMinorPerHour: number | null): number =>
      insertPerson(studio.deps.db, {
        name,
        role: 'dyer',
        passphraseHash: null,
        labourRateMinorPerHour,
        active: 1,
        createdAt: MONDAY,
      }).id;
    await weighTheRest();
    const done = await finish({
      labour: [
        { personId: hand('Rui', 3_000), durationS: 3_600 },
        { personId: hand('Ana', 0), durationS: 1_800 },
        { personId: hand('Leo', null), durationS: 1_800 },
      ],
    });
    expect(done.status, done.text).toBe(201);
    // 1 h at 30.00; half an hour of somebody who works for nothing; half an hour at the studio's 24.00; 2 h of overhead at 9.00.
    expect(linesOf(done.body, 'labour').map((l) => [l.description.slice(0, 3), l.costMinor])).toEqual([
      ['Rui', 3_000],
      ['Ana', 0],
      ['Leo', 1_200],
    ]);
    expect(linesOf(done.body, 'overhead').map((l) => [l.quantity, l.costMinor])).toEqual([[7_200, 1_800]]);
  });

  test('goods that were added are issued and paid for as dyed, not as planned', async () => {
    const { studio, w, weigh, send, weighTheRest, finish, shown } = await benchLot();
    const goods = await studio.api.post('/stock-lots', {
      fibreId: w.linenId,
      quantity: 10_000_000,
      priceMinor: 26_000,
      receivedOn: '2026-03-01',
      clientId: 'goods-00001',
    });
    expect(goods.status, goods.text).toBe(201);
    const own = await benchLot({ goodsStockLotId: goods.body.stockLotId }, { studio, w });
    // 12.48 g for 12.00: 4 % more goods, 1248 g.
    expect((await own.weigh('RB', 12_480)).status).toBe(201);
    expect((await own.takeWayOut('RB', 'moreGoods')).status).toBe(201);
    await own.weighTheRest();
    const done = await own.finish();
    expect(done.status, done.text).toBe(201);
    // 1248 g at 2.60 for 100 g = 32.448
    expect(linesOf(done.body, 'goods').map((l) => [l.quantity, l.costMinor])).toEqual([[1_248_000, 3_245]]);
    expect((await studio.api.get(`/stock-lots/${goods.body.stockLotId}`)).body.onHandQuantity).toBe(8_752_000);
    // And the other lot, of goods that no container holds, as planned.
    await weigh('RB', 12_000);
    await weighTheRest();
    expect(linesOf((await finish()).body, 'goods').map((l) => [l.quantity, l.costMinor])).toEqual([[1_200_000, 3_120]]);
    expect(await shown()).toMatchObject({ status: 'finished' });
    expect(await send('/log', { kind: 'deviation', text: 'later' })).toMatchObject({ status: 409 });
  });

  test('what was thrown away stands apart from what was used, and both are paid', async () => {
    const { weigh, takeWayOut, weighTheRest, finish, studio, w } = await benchLot({ goodsOwner: 'customer' });
    await weigh('RB', 12_500);
    expect((await takeWayOut('RB', 'weighAgain')).status).toBe(201);
    studio.clock.now += MINUTE;
    await weigh('RB', 12_000);
    await weighTheRest();
    const done = await finish();
    const blue = linesOf(done.body, 'dye').filter((l) => l.description.includes('B-1'));
    // 500 g cost 40.00: 12.5 g are 1.00, 12 g are 0.96.
    expect(blue.map((l) => [l.quantity, l.costMinor, l.wasted])).toEqual([
      [12_500, 100, true],
      [12_000, 96, false],
    ]);
    expect((await studio.api.get(`/stock-lots/${w.stock.blue.id}`)).body.onHandQuantity).toBe(475_500);
  });

  test('a lot that is given up pays for its powder and not for goods that it did not dye', async () => {
    const { weigh, send, studio, lotId } = await benchLot();
    await weigh('RB', 12_000);
    expect((await send('/abandonment', { reason: 'the power went' })).status).toBe(201);
    const { body } = await studio.api.get(`/lots/${lotId}`);
    expect(linesOf(body, 'goods')).toEqual([]);
    expect(linesOf(body, 'dye').map((l) => l.costMinor)).toEqual([96]);
  });
});
