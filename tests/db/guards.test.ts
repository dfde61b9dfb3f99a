import { expect, test } from 'vitest';
import { recordReading } from '../../server/readings/recordReadings.ts';
import { freshStudio, MONDAY } from '../support/app.ts';
import { lotWorld, writeLot } from '../support/finishedLots.ts';

test('stock cannot be booked to a lot that is finished, and a lot never goes back to planned', async () => {
  const { deps, owner } = await freshStudio();
  const world = lotWorld(deps, owner);
  const finished = writeLot(world, { number: '26-0001', finishedAt: MONDAY });
  const open = writeLot(world, { number: '26-0002', finishedAt: MONDAY }, true);
  const book = (lotId: number) => () =>
    deps.sqlite
      .prepare(
        "insert into stock_ledger (stock_lot_id, kind, quantity, at, recorded_at, by_person_id, lot_id) values (?, 'issue', -10, ?, ?, ?, ?)",
      )
      .run(world.stockLotIds.blue, MONDAY, MONDAY, owner.personId, lotId);
  expect(book(finished)).toThrow('the lot is finished');
  expect(book(open)).not.toThrow();
  deps.sqlite
    .prepare("update lots set status = 'onBench', started_at = 1 where id = ? and status = 'planned'")
    .run(open);
  expect(() => deps.sqlite.prepare("update lots set status = 'planned' where id = ?").run(open)).toThrow(
    'work on the lot has begun',
  );
});

test('a colour reading is withdrawn, never changed or erased', async () => {
  const { deps, owner } = await freshStudio();
  const world = lotWorld(deps, owner);
  const reading = recordReading(
    deps.db,
    {
      subject: { swatchId: world.swatchId },
      colour: { hex: '#336699' },
      source: 'typed',
      asTyped: '',
      areaSharePpm: null,
      uncertaintyMilli: null,
      note: '',
    },
    owner,
    MONDAY,
  );
  for (const column of ['l', 'a', 'b', 'read_at']) {
    expect(
      () => deps.sqlite.prepare(`update colour_readings set ${column} = ${column} + 1 where id = ?`).run(reading.id),
      column,
    ).toThrow('withdrawn');
  }
  expect(() =>
    deps.sqlite.prepare("update colour_readings set source = 'instrument' where id = ?").run(reading.id),
  ).toThrow('withdrawn');
  expect(() => deps.sqlite.prepare('delete from colour_readings where id = ?').run(reading.id)).toThrow('withdrawn');
  expect(deps.sqlite.prepare('update colour_readings set withdrawn_at = 5 where id = ?').run(reading.id).changes).toBe(
    1,
  );
});
