import { describe, expect, test } from 'vitest';
import {
  bestBeforeOfSolution,
  changeContainer,
  closeContainer,
  liftRecall,
  makeStockSolution,
  occurrence,
  proposedCode,
  recallContainer,
  receiveContainer,
  reopenContainer,
  type SolutionInput,
} from '../../server/stock/containers.ts';
import { issue, makeSolution, stockTake, waste } from '../../server/stock/ledger.ts';
import { addStockMoney, type StockMoneyInput } from '../../server/stock/money.ts';
import { movingAverageRate } from '../../server/stock/movingAverage.ts';
import { ledgerOf, onHand, stockLotById, stockLotEventsOf } from '../../server/stock/queries.ts';
import type { ReceiptInput } from '../../server/stock/schemas.ts';
import { worthOfItem } from '../../server/stock/worth.ts';
import { bareStudio, MONDAY } from '../support/app.ts';
import { refused } from '../support/refused.ts';
import { makeWorld } from '../support/world.ts';

/* What a studio would lose if one small thing about its jars went wrong: a day that cannot be, powder from a jar that is gone, money
 * that nobody paid. 500 g blue (B-1) came on 5 January for 40.00; today is Monday 16 March. */

const HOUR = 3_600_000;

async function stockRoom() {
  const studio = await bareStudio();
  const w = makeWorld(studio);
  const { deps, owner, clock } = studio;
  const { db } = deps;
  const blue = w.stock.blue.id;
  const receipt = (more: Partial<ReceiptInput> = {}): ReceiptInput => ({
    item: { kind: 'dye', id: w.dyeIds.blue },
    code: '',
    quantity: 100_000,
    priceMinor: 900,
    freightMinor: 100,
    supplier: '',
    makerLot: '',
    strengthPpm: 1_000_000,
    receivedOn: '2026-03-10',
    openedOn: null,
    bestBeforeOn: null,
    note: '',
    clientId: null,
    ...more,
  });
  const receive = (more: Partial<ReceiptInput> = {}) => receiveContainer(deps, receipt(more), owner);
  /** 1 % from 5 g of blue, unless said otherwise. */
  const dissolve = (more: Partial<SolutionInput> = {}, from = blue) =>
    makeStockSolution(
      deps,
      from,
      {
        concPpm: 10_000,
        massMg: 5_000,
        madeUpUl: null,
        wantedUl: null,
        code: '',
        madeOn: null,
        bestBeforeOn: undefined,
        note: '',
        clientId: null,
        ...more,
      },
      owner,
    );
  const pay = (more: Partial<StockMoneyInput> = {}) =>
    addStockMoney(
      deps,
      { stockLotId: blue, kind: 'bill', amountMinor: 500, on: null, reason: 'bill 17', clientId: null, ...more },
      owner,
    );
  const now = () => ({ at: clock.now, recordedAt: clock.now });
  const ledger = (id: number) => ledgerOf(db, id, null, 100).map((e) => [e.kind, e.quantity, e.reason]);
  return { ...studio, w, db, blue, receive, dissolve, pay, now, ledger };
}

const beside = (fields: Record<string, string>) => ({ code: 'invalidInput', said: fields });

describe('a jar has days that can be', () => {
  test('it is opened between its receipt and today, both included', async () => {
    const { receive } = await stockRoom();
    const opened = (openedOn: string) => refused(() => receive({ openedOn }));
    expect(opened('2026-03-09')).toEqual(beside({ openedOn: 'It cannot be opened before it was received.' }));
    expect(opened('2026-03-17')).toEqual(beside({ openedOn: 'That day is still to come.' }));
    expect([opened('2026-03-10'), opened('2026-03-16')]).toEqual(['let through', 'let through']);
    expect(refused(() => receive({ receivedOn: '2026-03-17' }))).toEqual(
      beside({ receivedOn: 'That day is still to come.' }),
    );
    expect(receive({ receivedOn: '2026-03-16' }).receivedOn).toBe('2026-03-16');
  });

  test('it is not opened tomorrow when it is changed either; nor is its day held against a clock set back', async () => {
    const { deps, db, owner, clock, receive } = await stockRoom();
    const jar = receive({ openedOn: '2026-03-16' });
    const { supplier, makerLot, strengthPpm, bestBeforeOn, note } = jar;
    const change = (openedOn: string | null, version: number, more = {}) =>
      changeContainer(
        deps,
        jar,
        { supplier, makerLot, strengthPpm, bestBeforeOn, note, openedOn, ...more },
        version,
        owner,
      );
    expect(refused(() => change('2026-03-17', 1))).toEqual(beside({ openedOn: 'That day is still to come.' }));
    clock.now -= 48 * HOUR;
    change('2026-03-16', 1, { note: 'half full' });
    expect(stockLotById(db, jar.id)).toMatchObject({ openedOn: '2026-03-16', note: 'half full', version: 2 });
    // Who saves against what was read before that loses nothing of theirs, and overwrites nothing.
    expect(refused(() => change('2026-03-16', 1, { strengthPpm: 900_000 }))).toEqual({
      code: 'staleEdit',
      said: 'Somebody saved this container meanwhile. What you typed is below; open its page again to see theirs.',
    });
    expect(stockLotById(db, jar.id)?.strengthPpm).toBe(1_000_000);
  });

  test('nothing was weighed from it before it came, and that is said with its day', async () => {
    const { deps, blue } = await stockRoom();
    const at = Date.UTC(2026, 0, 5);
    expect(() => occurrence(deps, { at: at - 1 }, blue)).toThrow(
      'B-1 came on 2026-01-05 by its receipt: look at the day, or at the container.',
    );
    expect(occurrence(deps, { at }, blue)).toMatchObject({ at, recordedAt: MONDAY });
    expect(refused(() => occurrence(deps, { at }, 999))).toEqual({
      code: 'notFound',
      said: 'There is no such container.',
    });
  });

  test('its label is the next that is free, however the others are written', async () => {
    const { db, receive } = await stockRoom();
    receive({ code: 'rb-1' });
    receive({ code: 'RB-3' });
    expect(proposedCode(db, 'RB')).toBe('RB-2');
    expect([receive().code, receive().code]).toEqual(['RB-2', 'RB-4']);
  });

  test('it holds what was received, and nothing of another kind', async () => {
    const { receive, w } = await stockRoom();
    const held = (kind: 'dye' | 'auxiliary' | 'fibre', id: number) => {
      const jar = receive({ item: { kind, id } });
      return [jar.kind, jar.dyeId, jar.auxiliaryId, jar.fibreId];
    };
    expect(held('dye', w.dyeIds.red)).toEqual(['dye', w.dyeIds.red, null, null]);
    expect(held('auxiliary', w.auxiliaryIds.salt)).toEqual(['auxiliary', null, w.auxiliaryIds.salt, null]);
    expect(held('fibre', w.linenId)).toEqual(['fibre', null, null, w.linenId]);
  });

  test('nothing is received of what is put away', async () => {
    const { deps, w, receive } = await stockRoom();
    deps.sqlite.prepare('update dyes set archived_at = 1 where id = ?').run(w.dyeIds.blue);
    const said = refused(() => receive());
    expect(said).toEqual(beside({ item: 'Tide blue is put away; put it back first.' }));
    expect(refused(() => receive({ item: { kind: 'fibre', id: 999 } }))).toEqual(
      beside({ item: 'Choose what the container holds.' }),
    );
  });
});

describe('a jar that is closed', () => {
  test('says why, in the ledger and among what happened to it', async () => {
    const { deps, db, owner, blue, w, ledger } = await stockRoom();
    const close = (stockLotId: number, how: 'empty' | 'discarded', reason: string) =>
      closeContainer(deps, { stockLotId, how, reason }, owner);
    close(blue, 'empty', '');
    close(w.stock.red.id, 'empty', 'the last spoon');
    close(w.stock.yellow.id, 'discarded', 'caked');
    expect(ledger(blue)[0]).toEqual(['stockTake', -500_000, 'closed: empty']);
    expect(ledger(w.stock.red.id)[0]).toEqual(['stockTake', -250_000, 'closed: the last spoon']);
    expect(ledger(w.stock.yellow.id)[0]).toEqual(['waste', -500_000, 'caked']);
    expect(stockLotEventsOf(db, w.stock.yellow.id).map((e) => [e.kind, e.reason])).toEqual([['closed', 'caked']]);
    close(blue, 'discarded', 'again');
    expect(ledger(blue)).toHaveLength(2);
  });

  test('gives nothing any more, is counted no more, and is opened again with a reason only', async () => {
    const { deps, owner, blue, now, clock, db } = await stockRoom();
    closeContainer(deps, { stockLotId: blue, how: 'empty', reason: '' }, owner);
    clock.now += 2 * HOUR;
    const take = { stockLotId: blue, quantity: 1_000, lotId: null, weighingId: null };
    const closed = { code: 'conflict', said: 'Container B-1 is closed.' };
    expect(refused(() => issue(db, take, owner, now()))).toEqual(closed);
    expect(refused(() => stockTake(db, { stockLotId: blue, countedQuantity: 5, reason: 'x' }, owner, now()))).toEqual(
      closed,
    );
    const open = (reason: string) =>
      reopenContainer(deps, { stockLotId: blue, countedQuantity: 20_000, reason }, owner);
    expect(refused(() => open('  '))).toEqual(beside({ reason: 'Say why, for the ledger.' }));
    open('found behind the salt');
    expect(onHand(db, blue)).toBe(20_000);
    expect(refused(() => open('again'))).toEqual({ code: 'conflict', said: 'Container B-1 is open.' });
  });

  test('and thrown away holds what turns out to have been used before: less went, none went, or more was there', async () => {
    const { deps, db, owner, w, clock, ledger } = await stockRoom();
    const at = clock.now;
    clock.now += HOUR;
    const jars = [w.stock.blue, w.stock.yellow, w.stock.red];
    for (const jar of jars) closeContainer(deps, { stockLotId: jar.id, how: 'discarded', reason: 'caked' }, owner);
    clock.now += HOUR;
    // Used an hour before the jars were thrown away, and told an hour afterwards.
    for (const [i, quantity] of [100_000, 500_000, 260_000].entries()) {
      const used = { stockLotId: jars[i]?.id ?? 0, quantity, lotId: null, weighingId: null };
      issue(db, used, owner, { at, recordedAt: clock.now });
    }
    expect(jars.map((j) => onHand(db, j.id))).toEqual([0, 0, 0]);
    const newest = (id: number) => ledger(id).find(([kind]) => kind === 'waste' || kind === 'stockTake');
    // 500 g less 100 g were thrown away, nothing of 500 g; of 250 g, 260 g were used: 10 g more was in it than the ledger knew.
    expect(newest(w.stock.blue.id)).toEqual(['waste', -400_000, 'caked']);
    expect(newest(w.stock.yellow.id)).toEqual(['stockTake', 0, 'caked']);
    expect(newest(w.stock.red.id)).toEqual(['stockTake', 10_000, 'caked']);
    expect(ledger(w.stock.blue.id).find(([kind]) => kind === 'reversal')).toEqual([
      'reversal',
      500_000,
      'what was thrown away is worked out anew',
    ]);
  });

  test('is thrown away empty as well as full', async () => {
    const { deps, db, owner, blue, now, ledger } = await stockRoom();
    waste(db, { stockLotId: blue, quantity: 500_000, reason: 'flooded' }, owner, now());
    closeContainer(deps, { stockLotId: blue, how: 'discarded', reason: 'rusty' }, owner);
    expect(ledger(blue)[0]).toEqual(['stockTake', 0, 'closed: rusty']);
    expect(stockLotById(db, blue)?.closedAt).toBe(MONDAY);
  });
});

describe('what is recalled', () => {
  test('makes no solution, and a solution waits for its powder to be cleared', async () => {
    const { deps, db, owner, blue, dissolve, clock } = await stockRoom();
    const made = dissolve();
    recallContainer(deps, { stockLotId: blue, reason: 'maker’s notice' }, owner);
    const reason = 'made from B-1: maker’s notice';
    expect(stockLotById(db, made.id)).toMatchObject({ recalledAt: clock.now, recallReason: reason });
    expect(refused(() => dissolve())).toEqual({
      code: 'conflict',
      said: 'Container B-1 is recalled: make no solution from it.',
    });
    const lift = (stockLotId: number, why: string) => liftRecall(deps, { stockLotId, reason: why }, owner);
    expect(refused(() => lift(blue, ' '))).toEqual(beside({ reason: 'Say why, for whoever asks later.' }));
    expect(refused(() => lift(made.id, 'tested'))).toEqual({
      code: 'conflict',
      said: 'It was made from B-1, which is recalled: lift that first.',
    });
    lift(blue, ' tested ');
    expect([blue, made.id].map((id) => stockLotById(db, id)?.recalledAt)).toEqual([null, null]);
    expect(stockLotEventsOf(db, made.id).map((e) => [e.kind, e.reason])).toEqual([
      ['recallLifted', 'tested'],
      ['recalled', reason],
    ]);
    lift(blue, 'twice');
    expect(stockLotEventsOf(db, blue).map((e) => [e.kind, e.reason, e.throughId])).toEqual([
      ['recallLifted', 'tested', null],
      ['recalled', 'maker’s notice', null],
    ]);
    expect(stockLotEventsOf(db, made.id).map((e) => e.throughId)).toEqual([blue, blue]);
  });

  test('by itself is cleared by itself: the powder of a solution was never in doubt', async () => {
    const { deps, db, owner, dissolve } = await stockRoom();
    const made = dissolve();
    recallContainer(deps, { stockLotId: made.id, reason: 'wrong water' }, owner);
    liftRecall(deps, { stockLotId: made.id, reason: 'measured' }, owner);
    expect(stockLotById(db, made.id)?.recalledAt).toBeNull();
    expect(stockLotEventsOf(db, made.id).map((e) => [e.kind, e.throughId])).toEqual([
      ['recallLifted', null],
      ['recalled', null],
    ]);
  });

  test('goes on to a solution of before that is typed in afterwards', async () => {
    const { deps, db, owner, blue, dissolve } = await stockRoom();
    recallContainer(deps, { stockLotId: blue, reason: 'maker’s notice' }, owner);
    const made = dissolve({ madeOn: '2026-03-13' });
    expect(made).toMatchObject({ recalledAt: MONDAY, recallReason: 'made from B-1: maker’s notice' });
    expect(stockLotEventsOf(db, made.id)).toMatchObject([{ kind: 'recalled', throughId: blue }]);
  });
});

describe('a stock solution', () => {
  test('is made of powder that was there, on a day that was', async () => {
    const { dissolve, blue } = await stockRoom();
    expect(refused(() => dissolve({ madeOn: '2026-03-17' }))).toEqual(beside({ madeOn: 'That day is still to come.' }));
    // 92 days before 5 January.
    expect(refused(() => dissolve({ madeOn: '2025-10-04' }))).toEqual(
      beside({ madeOn: 'B-1 came on 2026-01-05 by its receipt: look at the day.' }),
    );
    expect(dissolve({ madeOn: '2025-10-05' }).receivedOn).toBe('2025-10-05');
    const made = dissolve();
    expect(refused(() => dissolve({}, made.id))).toEqual(
      beside({ sourceStockLotId: 'A stock solution is made from a container of powder.' }),
    );
    expect(refused(() => dissolve({}, 999))).toEqual({ code: 'notFound', said: 'There is no such container.' });
    expect(made).toMatchObject({ code: 'B-1-S2', sourceStockLotId: blue, receivedQuantity: 500_000 });
  });

  test('takes its powder at the moment it is made; of an earlier day at its end', async () => {
    const { db, blue, dissolve } = await stockRoom();
    dissolve();
    dissolve({ madeOn: '2026-03-13' });
    const taken = ledgerOf(db, blue, null, 9).filter((e) => e.kind === 'issue');
    expect(taken.map((e) => [e.at, e.quantity]).sort()).toEqual([
      [Date.UTC(2026, 2, 14) - 1, -5_000],
      [MONDAY, -5_000],
    ]);
  });

  test('lives as long as its dye says, and without a word of it for ever', async () => {
    const { deps, db, w } = await stockRoom();
    expect(bestBeforeOfSolution(db, w.dyeIds.blue, '2026-03-16')).toBeNull();
    deps.sqlite.prepare('update dyes set solution_life_days = 14 where id = ?').run(w.dyeIds.blue);
    expect(bestBeforeOfSolution(db, w.dyeIds.blue, '2026-03-16')).toBe('2026-03-30');
    expect(bestBeforeOfSolution(db, null, '2026-03-16')).toBeNull();
  });
});

describe('a count', () => {
  test('that found what the ledger says is no entry that a later count must balance', async () => {
    const { db, owner, blue, clock, ledger } = await stockRoom();
    const at = clock.now;
    clock.now += 2 * HOUR;
    const count = (when: number) =>
      stockTake(db, { stockLotId: blue, countedQuantity: 500_000, reason: 'counted' }, owner, {
        at: when,
        recordedAt: clock.now,
      });
    count(clock.now);
    clock.now += HOUR;
    count(at + HOUR);
    expect(ledger(blue).map(([kind, quantity]) => [kind, quantity])).toEqual([
      ['stockTake', 0],
      ['stockTake', 0],
      ['receipt', 500_000],
    ]);
  });
});

describe('the ledger takes no quantity that is none', () => {
  test.each([0, -5, 1.5, Number.NaN])('%s', async (quantity) => {
    const { db, owner, blue, now, ledger } = await stockRoom();
    const none = beside({ quantity: 'The quantity must be more than nothing.' });
    const what = { stockLotId: blue, quantity };
    expect(refused(() => issue(db, { ...what, lotId: null, weighingId: null }, owner, now()))).toEqual(none);
    expect(refused(() => waste(db, { ...what, reason: 'spilt' }, owner, now()))).toEqual(none);
    const solution = { sourceStockLotId: blue, code: 'S', concPpm: 1, madeOn: '2026-03-16', bestBeforeOn: null };
    for (const [massMg, volumeUl] of [
      [quantity, 5],
      [5, quantity],
    ] as const)
      expect(refused(() => makeSolution(db, { ...solution, massMg, volumeUl, note: '' }, owner, now()))).toEqual(none);
    expect(ledger(blue)).toHaveLength(1);
  });

  test('a count of less than nothing, an entry without a reason, a jar that is not there', async () => {
    const { db, owner, blue, now } = await stockRoom();
    const count = (countedQuantity: number, reason = 'counted', stockLotId = blue) =>
      refused(() => stockTake(db, { stockLotId, countedQuantity, reason }, owner, now()));
    const less = beside({ counted: 'A count cannot be less than nothing.' });
    expect([count(-1), count(0.5)]).toEqual([less, less]);
    expect(count(5, ' ')).toEqual(beside({ reason: 'Say why, for the ledger.' }));
    expect(count(5, 'counted', 999)).toEqual({ code: 'notFound', said: 'There is no such container.' });
    expect([count(0), onHand(db, blue)]).toEqual(['let through', 0]);
  });
});

describe('money that comes after the receipt', () => {
  test('has a reason, an amount and a day on which the jar was there', async () => {
    const { pay, dissolve, receive } = await stockRoom();
    const made = dissolve();
    expect(refused(() => pay({ reason: ' ' }))).toEqual(
      beside({ reason: 'Say what it was for, with the number of the bill or the note.' }),
    );
    for (const amountMinor of [0, -1, 0.5])
      expect(refused(() => pay({ amountMinor }))).toEqual(
        beside({ amount: 'More than nothing; choose “credit” for money that comes back.' }),
      );
    expect(refused(() => pay({ stockLotId: 999 }))).toEqual({ code: 'notFound', said: 'There is no such container.' });
    expect(refused(() => pay({ stockLotId: made.id }))).toEqual(
      beside({ amount: 'A solution was made, not bought: write it on the container of the powder.' }),
    );
    expect(refused(() => pay({ on: '2026-03-17' }))).toEqual(beside({ on: 'That day is still to come.' }));
    expect(refused(() => pay({ on: '2026-01-04' }))).toEqual(beside({ on: 'The container had not come yet.' }));
    expect(pay({ on: '2026-03-16' }).at).toBe(MONDAY);
    // Lisbon keeps the time of Greenwich in winter.
    expect(pay({ stockLotId: receive().id, on: '2026-03-12' }).at).toBe(Date.UTC(2026, 2, 12));
  });

  test('does not come before the jar within one day, nor back more of it than was paid', async () => {
    const { pay, receive, clock } = await stockRoom();
    clock.now += 5 * HOUR;
    const jar = receive({ receivedOn: '2026-03-16' });
    clock.now += 48 * HOUR;
    expect(pay({ stockLotId: jar.id, on: '2026-03-16' }).at).toBe(MONDAY + 5 * HOUR);
    const credit = (amountMinor: number) => pay({ stockLotId: jar.id, kind: 'credit', amountMinor });
    // 9.00 and 1.00 freight, then a bill of 5.00.
    expect(refused(() => credit(1_501))).toEqual(
      beside({ amount: 'That is more than was paid for it, earlier credits counted.' }),
    );
    expect(credit(1_000).amountMinor).toBe(-1_000);
    expect([refused(() => credit(501)), refused(() => credit(500))]).toEqual([
      beside({ amount: 'That is more than was paid for it, earlier credits counted.' }),
      'let through',
    ]);
  });

  test('is written once however often it is sent, and never under the id of other money', async () => {
    const { pay, w } = await stockRoom();
    const once = { clientId: 'bill-000001' };
    const first = pay(once);
    expect(pay(once).id).toBe(first.id);
    for (const other of [{ amountMinor: 501 }, { kind: 'freight' as const }, { stockLotId: w.stock.red.id }])
      expect(refused(() => pay({ ...once, ...other }))).toMatchObject({ code: 'idReused' });
    expect(pay().id).not.toBe(first.id);
  });
});

describe('what stock is worth', () => {
  test('an item that is used up goes on at what it cost when it was bought', async () => {
    const { db, owner, blue, now, receive, clock, w } = await stockRoom();
    const second = receive().id;
    clock.now += HOUR;
    for (const [stockLotId, quantity] of [
      [blue, 500_000],
      [second, 100_000],
    ] as const)
      waste(db, { stockLotId, quantity, reason: 'flooded' }, owner, now());
    // 40.00 for 500 g and 10.00 for 100 g: 50.00 for 600 g.
    const jar = stockLotById(db, blue);
    if (!jar) throw new Error('the jar is there');
    expect(movingAverageRate(db, jar, clock.now - 1)).toEqual({ priceMinor: 5_000, perQuantity: 600_000 });
    // Used before any of it came, by the clock: all that was bought.
    expect(movingAverageRate(db, jar, Date.UTC(2026, 0, 1))).toEqual({ priceMinor: 5_000, perQuantity: 600_000 });
    expect(refused(() => movingAverageRate(db, { ...jar, dyeId: 999 }, clock.now))).toEqual({
      code: 'notFound',
      said: 'There is no such receipt of this item.',
    });
    const { parts } = worthOfItem(db, { dyeId: w.dyeIds.blue, auxiliaryId: null, fibreId: null }, clock.now);
    expect(parts.map((p) => [p.quantity, p.valueMinor])).toEqual([
      [0, 0],
      [0, 0],
    ]);
  });
});
