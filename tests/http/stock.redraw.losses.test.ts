import { expect, test } from 'vitest';
import { type Drawn, redraw } from '../../server/stock/ledger.ts';
import { bareStudio, MONDAY } from '../support/app.ts';
import { lotWorld, writeLot } from '../support/finishedLots.ts';

test('what a lot had from a jar is set right entry by entry: what was right is not touched', async () => {
  const { deps, owner } = await bareStudio();
  const world = lotWorld(deps, owner);
  const lotId = writeLot(world, { number: '26-0001', finishedAt: MONDAY }, true);
  const stockLotId = world.stockLotIds.yellow;
  const entries = () =>
    deps.sqlite
      .prepare(
        'select kind, quantity, at, weighing_id as weighingId from stock_ledger where lot_id = ? and stock_lot_id = ? order by id',
      )
      .all(lotId, stockLotId) as { kind: string; quantity: number; at: number; weighingId: number }[];
  const [weighed] = entries();
  if (!weighed) throw new Error('yellow was weighed');
  const { at, weighingId } = weighed;
  const set = (...drawn: Drawn[]) => {
    const before = entries().length;
    redraw(deps.db, { stockLotId, lotId, drawn, reason: 'misread' }, owner, MONDAY + 5);
    return entries()
      .slice(before)
      .map((e) => [e.kind, e.quantity, e.at - at, e.weighingId]);
  };
  const reading = { weighingId, at, quantity: 12_600 };
  const more = { weighingId: null, at, quantity: 500 };
  expect(set(reading)).toEqual([]);
  expect(set(more, reading)).toEqual([['issue', -500, 0, null]]);
  // Another mass, another time, another weighing: each is another entry, and the one beside it stays.
  expect(set({ ...reading, quantity: 10_000 }, more)).toEqual([
    ['reversal', 12_600, 0, weighingId],
    ['issue', -10_000, 0, weighingId],
  ]);
  expect(set({ ...reading, quantity: 10_000, at: at + 1 }, more)).toEqual([
    ['reversal', 10_000, 0, weighingId],
    ['issue', -10_000, 1, weighingId],
  ]);
  expect(set({ ...more, quantity: 10_000, at: at + 1 }, more)).toEqual([
    ['reversal', 10_000, 1, weighingId],
    ['issue', -10_000, 1, null],
  ]);
  expect(set(more)).toEqual([['reversal', 10_000, 1, null]]);
});
