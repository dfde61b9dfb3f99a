import { describe, expect, test } from 'vitest';
import { RULES } from '../../server/backup/queries.ts';
import type { Deps } from '../../server/deps.ts';
import { freshStudio, MONDAY } from '../support/app.ts';
import { correctCostLine, lotWorld, writeLot } from '../support/finishedLots.ts';

/** What a row must say, asked of the lots, their outcomes and their cost lines one by one. */
const FROM_THE_RECORD = `select l.finished_at, l.id as lot_id, l.status, l.number, l.method_id, l.fibre_id, coalesce((select a.dry_mass_mg from lot_adjustments a where a.lot_id = l.id order by a.id desc limit 1), l.dry_mass_mg) as dry_mass_mg,
    l.estimate_minor, (select first_quality from lot_outcomes o where o.lot_id = l.id) as first_quality, (select seconds from lot_outcomes o where o.lot_id = l.id) as seconds,
    (select rework from lot_outcomes o where o.lot_id = l.id) as rework, (select scrap from lot_outcomes o where o.lot_id = l.id) as scrap,
    (select seconds_value_minor from lot_outcomes o where o.lot_id = l.id) as seconds_value_minor,
    ${['dye', 'auxiliary', 'goods', 'labour', 'overhead', 'other']
      .map(
        (kind) =>
          `(select coalesce(sum(cost_minor), 0) from cost_lines c where c.lot_id = l.id and c.kind = '${kind}') as ${kind}_minor`,
      )
      .join(', ')},
    (select coalesce(sum(cost_minor), 0) from cost_lines c where c.lot_id = l.id and c.wasted = 1) as wasted_minor,
    (select closed_on from lot_closings k where k.lot_id = l.id) as closed_on
  from lots l where l.finished_at is not null order by l.finished_at, l.id`;

const rows = ({ sqlite }: Deps, sql: string): unknown[] => sqlite.prepare(sql).all();
const KEPT = 'select * from closed_lots order by finished_at, lot_id';
const rule = RULES.find((r) => r.name.startsWith('the figures that reports take'));

describe('the figures of closed lots', () => {
  test('follow the record: finished, abandoned, corrected; a lot on the bench has none', async () => {
    const { deps, owner } = await freshStudio();
    const world = lotWorld(deps, owner);
    const finished = writeLot(world, { number: '26-0001', finishedAt: MONDAY });
    writeLot(world, { number: '26-0002', finishedAt: MONDAY, status: 'abandoned', outcome: null });
    writeLot(world, { number: '26-0003', finishedAt: MONDAY }, true);
    expect(rows(deps, FROM_THE_RECORD)).toHaveLength(2);
    expect(rows(deps, KEPT)).toEqual(rows(deps, FROM_THE_RECORD));
    const before = rows(deps, KEPT);
    correctCostLine(world, finished, 1, 100);
    expect(rows(deps, KEPT)).not.toEqual(before);
    expect(rows(deps, KEPT)).toEqual(rows(deps, FROM_THE_RECORD));
    expect(rule?.broken(deps.db)).toEqual([]);
  });

  test('cannot be made, changed or taken away by hand', async () => {
    const { deps, owner } = await freshStudio();
    const world = lotWorld(deps, owner);
    const lotId = writeLot(world, { number: '26-0001', finishedAt: MONDAY });
    const open = writeLot(world, { number: '26-0002', finishedAt: MONDAY }, true);
    const before = rows(deps, KEPT);
    const columns = (before[0] ? Object.keys(before[0]) : []).filter((c) => !/^(status|number)$/.test(c));
    for (const column of columns)
      expect(() => deps.sqlite.exec(`update closed_lots set ${column} = coalesce(${column}, 0) + 1`), column).toThrow(
        'follow the record',
      );
    expect(() => deps.sqlite.exec(`delete from closed_lots where lot_id = ${lotId}`)).toThrow('follow the record');
    expect(() => deps.sqlite.exec('insert or replace into closed_lots select * from closed_lots')).toThrow();
    expect(() =>
      deps.sqlite.exec(
        `insert into closed_lots select finished_at, ${open}, status, 'x', method_id, fibre_id, dry_mass_mg, estimate_minor, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, closed_on from closed_lots`,
      ),
    ).toThrow('follow the record');
    expect(rows(deps, KEPT)).toEqual(before);
  });

  test('are held against the record by verify', async () => {
    const { deps, owner } = await freshStudio();
    writeLot(lotWorld(deps, owner), { number: '26-0001', finishedAt: MONDAY });
    deps.sqlite.exec('drop trigger closed_lots_fixed; update closed_lots set dye_minor = dye_minor + 1');
    expect(rule?.broken(deps.db)).toEqual(['lot 26-0001']);
    deps.sqlite.exec('drop trigger closed_lots_no_delete; delete from closed_lots');
    expect(rule?.broken(deps.db)).toEqual(['lot 26-0001']);
  });
});
