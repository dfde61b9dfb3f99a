import { randomUUID } from 'node:crypto';
import { describe, expect, test } from 'vitest';
import { recordStep } from '../../server/bench/recordStep.ts';
import { recordWeighing } from '../../server/bench/recordWeighing.ts';
import { materialProof, stockProof } from '../../server/costing/stockProof.ts';
import { copyInMemory } from '../../server/db/open.ts';
import type { Deps } from '../../server/deps.ts';
import { itemsEverReceived } from '../../server/stock/queries.ts';
import { benchLot } from '../support/benchLot.ts';

/* What a long record must not be read for again and again: statements are counted on a connection of its own, where none is ready yet. */

/** The statements that a piece of work runs on a fresh connection to a copy of the studio. */
function readsOf(deps: Deps, work: (again: Deps) => void): string[] {
  const copy = copyInMemory(deps.sqlite);
  const { prepare } = copy.sqlite;
  const read: string[] = [];
  copy.sqlite.prepare = ((source: string) => {
    read.push(source.replace(/\s+/g, ' '));
    return prepare.call(copy.sqlite, source);
  }) as unknown as typeof prepare;
  work({ ...deps, ...copy });
  copy.sqlite.close();
  return read;
}

describe('at the bench', () => {
  test('a weighing reads lot, line and container once each, and not the plan nor the log', async () => {
    const { studio, w, lotId, shown, weigh } = await benchLot();
    expect((await weigh('RB', 1_000)).status).toBe(201);
    const { deps, owner, clock } = studio;
    const line = (await shown()).lines.find((l) => l.code === 'RB');
    const stockLotId = deps.sqlite
      .prepare('select id from stock_lots where dye_id = ? order by id limit 1')
      .pluck()
      .get(w.dyeIds.blue) as number;
    const reads = readsOf(deps, (again) => {
      const input = { lotId, componentId: line?.componentId ?? 0, stockLotId, amount: 100, confirmed: true };
      recordWeighing(again, { ...input, clientId: randomUUID(), at: clock.now }, owner);
    });
    const of = (table: string) => reads.filter((s) => s.startsWith('select') && s.includes(`from "${table}" where`));
    expect([of('lots').length, of('stock_lots').length]).toEqual([1, 1]);
    expect(reads.filter((s) => s.startsWith('select') && s.includes('from "lot_components"'))).toHaveLength(1);
    expect(reads.filter((s) => s.includes('plan_json'))).toEqual([]);
    // Known id, lot, line, container, strength then, and the next count; three rows are written.
    expect(reads.filter((s) => s.startsWith('select'))).toHaveLength(6);
    expect(reads.filter((s) => s.startsWith('insert'))).toHaveLength(3);
  });

  test('a step looks at its own starts and ends, however long the log of its lot is', async () => {
    const { studio, lotId, shown, send } = await benchLot();
    for (let i = 0; i < 12; i++) await send('/log', { kind: 'note', text: `looked, ${i}` });
    const { deps, owner, clock } = studio;
    const stepId = (await shown()).steps[0]?.stepId ?? 0;
    const reads = readsOf(deps, (again) => {
      const step = { lotId, stepId, clientId: randomUUID(), at: clock.now };
      recordStep(again, { ...step, kind: 'stepStart' }, owner);
    });
    const logs = reads.filter((s) => s.startsWith('select') && s.includes('log_entries'));
    expect(logs.filter((s) => !s.includes('"client_id" = +?') && !s.includes('"step_id" = +?'))).toEqual([]);
  });
});

describe('what stock is worth', () => {
  /** Which materials' ledgers are read while everything is proved, and the proof. */
  async function proved({ sqlite, db }: Deps, until: number) {
    const { prepare } = sqlite;
    let ledgers = 0;
    sqlite.prepare = ((source: string) => {
      if (
        /cross join stock_ledger e on e\.stock_lot_id = s\.id where s\.(dye|auxiliary|fibre)_id = \+\? and e\.at <= \+\?$/.test(
          source.trim(),
        )
      )
        ledgers += 1;
      return prepare.call(sqlite, source);
    }) as unknown as typeof prepare;
    try {
      return { proof: await stockProof(db, until), ledgers: () => ledgers };
    } finally {
      sqlite.prepare = prepare;
    }
  }

  test('is gone through again for what was written about since, and for nothing else; the figures are those of a fresh look', async () => {
    const { studio, weigh, weighTheRest, finish } = await benchLot();
    const { deps, clock } = studio;
    const until = clock.now + 86_400_000;
    const fresh = () => {
      const copy = copyInMemory(deps.sqlite);
      const all = itemsEverReceived(copy.db).map((item) => materialProof(copy.db, item, until));
      copy.sqlite.close();
      return all;
    };
    const first = await proved(deps, until);
    expect(first.ledgers()).toBe(first.proof.materials.length);
    expect(first.proof.materials).toEqual(fresh());
    const again = await proved(deps, until);
    expect(again.ledgers()).toBe(0);
    expect(again.proof).toEqual(first.proof);
    expect((await weigh('RB', 1_000)).status).toBe(201);
    const weighed = await proved(deps, until);
    expect(weighed.ledgers()).toBe(1);
    expect(weighed.proof.materials).toEqual(fresh());
    await weighTheRest();
    expect((await finish()).status).toBe(201);
    const finished = await proved(deps, until);
    expect(finished.proof.materials).toEqual(fresh());
    expect(finished.proof.total.issuedMinor).toBeGreaterThan(weighed.proof.total.issuedMinor);
  });

  test('at a day before something happened is that of the day, and today’s stays kept', async () => {
    const { studio, weigh } = await benchLot();
    const { deps, clock } = studio;
    const before = clock.now;
    const item = itemsEverReceived(deps.db)[0];
    if (!item) throw new Error('something was received');
    clock.now += 86_400_000;
    expect((await weigh('RB', 1_000)).status).toBe(201);
    const today = await proved(deps, clock.now + 1);
    const then = await proved(deps, before);
    expect(then.proof.total.onBenchMinor).toBe(0);
    expect(today.proof.total.onBenchMinor).toBeGreaterThan(0);
    expect((await proved(deps, clock.now + 1)).proof).toEqual(today.proof);
  });
});
