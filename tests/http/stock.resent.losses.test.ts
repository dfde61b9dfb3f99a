import { expect, test } from 'vitest';
import { addForgottenCost, type ForgottenCost } from '../../server/costing/additions.ts';
import { closeContainer } from '../../server/stock/containers.ts';
import { makeSolution, stockTake, waste } from '../../server/stock/ledger.ts';
import { stockLotById } from '../../server/stock/queries.ts';
import { bareStudio } from '../support/app.ts';
import { lotWorld, writeLot } from '../support/finishedLots.ts';
import { refused } from '../support/refused.ts';

/* What was recorded before digests were kept is known by what the entry itself holds: sent again it is answered and written no
 * second time, and its id takes nothing else. */

const DAY = 86_400_000;

async function earlierStudio() {
  const studio = await bareStudio();
  const { deps, owner, clock } = studio;
  const world = lotWorld(deps, owner);
  clock.now += DAY;
  const [lotId, otherId] = ['26-0001', '26-0002'].map((number) => writeLot(world, { number, finishedAt: clock.now }));
  clock.now += DAY;
  const now = { at: clock.now, recordedAt: clock.now };
  const forgetDigests = () =>
    deps.sqlite.exec(`drop trigger if exists cost_lines_no_update; drop trigger if exists stock_ledger_no_update;
      update cost_lines set content_digest = null; update stock_ledger set content_digest = null`);
  const entries = () => deps.sqlite.prepare('select count(*) from stock_ledger').pluck().get();
  return { ...studio, world, lotId: lotId ?? 0, otherId: otherId ?? 0, now, forgetDigests, entries };
}
const taken = { code: 'idReused', said: expect.stringContaining('Nothing of this was recorded') };

test('waste and a count of before', async () => {
  const { deps, owner, world, now, forgetDigests, entries } = await earlierStudio();
  const { yellow, blue } = world.stockLotIds;
  const spilt = { stockLotId: yellow, quantity: 1_000, reason: 'spilt' };
  const write = (what: Partial<typeof spilt> = {}) =>
    waste(deps.db, { ...spilt, ...what }, owner, { ...now, clientId: 'phone-000001' });
  const count = (what: object = {}) =>
    stockTake(deps.db, { stockLotId: blue, countedQuantity: 5, reason: 'counted', ...what }, owner, {
      ...now,
      clientId: 'phone-000002',
    });
  const [first, counted] = [write(), count()];
  forgetDigests();
  const before = entries();
  expect([write().id, write({ reason: ' spilt ' }).id]).toEqual([first.id, first.id]);
  for (const other of [{ quantity: 999 }, { reason: 'wet' }, { stockLotId: blue }])
    expect(refused(() => write(other))).toEqual(taken);
  // A count is no waste, though both say the same of the same jar.
  expect(
    refused(() =>
      stockTake(deps.db, { stockLotId: yellow, countedQuantity: 5, reason: 'spilt' }, owner, {
        ...now,
        clientId: 'phone-000001',
      }),
    ),
  ).toEqual(taken);
  // How much a count found is not in its entry, which holds the difference.
  expect([count().id, count({ countedQuantity: 6 }).id]).toEqual([counted.id, counted.id]);
  expect(refused(() => count({ reason: 'again' }))).toEqual(taken);
  const asWaste = { ...now, clientId: 'phone-000002' };
  expect(refused(() => waste(deps.db, { stockLotId: blue, quantity: 1, reason: 'counted' }, owner, asWaste))).toEqual(
    taken,
  );
  expect(entries()).toBe(before);
});

test('a solution and a closing of before', async () => {
  const { deps, owner, world, now, forgetDigests, entries } = await earlierStudio();
  const { yellow, blue, soda } = world.stockLotIds;
  const sent = { ...now, clientId: 'phone-000003' };
  const dissolve = (more: object = {}, when = sent) =>
    makeSolution(
      deps.db,
      {
        sourceStockLotId: yellow,
        code: 'Y1-S1',
        massMg: 1_000,
        volumeUl: 100_000,
        concPpm: 10_000,
        madeOn: '2026-03-18',
        bestBeforeOn: null,
        note: '',
        ...more,
      },
      owner,
      when,
    );
  const close = (stockLotId: number) =>
    closeContainer(deps, { stockLotId, how: 'empty', reason: '', clientId: 'phone-000004' }, owner);
  const made = dissolve();
  close(blue);
  forgetDigests();
  const before = entries();
  expect(dissolve().id).toBe(made.id);
  expect(refused(() => dissolve({ volumeUl: 99_999 }))).toEqual(taken);
  expect(refused(() => dissolve({}, { ...now, clientId: 'phone-000004' }))).toEqual(taken);
  expect([refused(() => close(blue)), refused(() => close(soda))]).toEqual(['let through', taken]);
  // What was spilt of a solution of the same size is no solution that was made.
  const spilt = { ...now, clientId: 'phone-000005' };
  waste(deps.db, { stockLotId: made.id, quantity: 5, reason: 'spilt' }, owner, spilt);
  forgetDigests();
  expect(refused(() => dissolve({}, spilt))).toEqual(taken);
  expect([entries(), stockLotById(deps.db, soda)?.closedAt]).toEqual([Number(before) + 1, null]);
});

test('a forgotten cost of before', async () => {
  const { deps, owner, world, lotId, otherId, forgetDigests, entries } = await earlierStudio();
  const add = (cost: ForgottenCost, clientId: string, more: object = {}) =>
    addForgottenCost(deps, { lotId, cost, reason: 'forgotten', clientId, ...more }, owner);
  const powder = { what: 'material', stockLotId: world.stockLotIds.yellow, quantity: 50, wasted: false } as const;
  const bus = { what: 'other', description: 'bus', costMinor: 500 } as const;
  const hour = { what: 'labour', personId: 1, durationS: 3_600, rateMinorPerHour: 900, withOverhead: true } as const;
  const salt = { ...powder, stockLotId: world.stockLotIds.soda };
  const known = [
    add(powder, 'page-0000001'),
    add(bus, 'page-0000002'),
    add(hour, 'page-0000003'),
    add(salt, 'page-0000004'),
  ];
  forgetDigests();
  const before = entries();
  expect(
    [
      add(powder, 'page-0000001', { reason: ' forgotten ' }),
      add(bus, 'page-0000002'),
      add(hour, 'page-0000003'),
      add(salt, 'page-0000004'),
    ].map((lines) => lines.map((l) => l.id)),
  ).toEqual(known.map((lines) => lines.map((l) => l.id)));
  for (const [cost, id] of [
    [{ ...powder, quantity: 51 }, 'page-0000001'],
    [bus, 'page-0000001'],
    [{ ...bus, costMinor: 501 }, 'page-0000002'],
    [{ ...hour, durationS: 60 }, 'page-0000003'],
    [{ what: 'overhead', durationS: 3_600, rateMinorPerHour: 900 }, 'page-0000003'],
    [{ ...powder, quantity: 1 }, 'page-0000002'],
  ] as const)
    expect(refused(() => add(cost, id))).toEqual(taken);
  expect(refused(() => add(bus, 'page-0000002', { lotId: otherId }))).toEqual(taken);
  expect(refused(() => add(bus, 'page-0000002', { reason: 'another' }))).toEqual(taken);
  expect(entries()).toBe(before);
});
