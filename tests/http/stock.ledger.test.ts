import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Actor, Deps } from '../../server/deps.ts';
import { setUpStudio } from '../../server/people/firstRun.ts';
import { issue, makeSolution, receive, reverseWeighing, stockTake, waste } from '../../server/stock/ledger.ts';
import { ledgerOf, onHand, onHandAt } from '../../server/stock/queries.ts';
import { freshDeps, MONDAY } from '../support/app.ts';

type World = { deps: Deps; by: Actor; lotId: number; component: number; dyeId: number };

/** A studio with a dye and one lot on the bench with a component to weigh. */
async function world(): Promise<World> {
  const { deps } = await freshDeps();
  const personId = await setUpStudio(deps, {
    studioName: 'Test Works',
    currency: 'EUR',
    zone: 'Europe/Lisbon',
    units: 'metric',
    readabilityMg: 10,
    ownerName: 'Inês',
    passphrase: 'four unrelated words',
  });
  const run = (sql: string, ...values: unknown[]): number =>
    Number(deps.sqlite.prepare(sql).run(...values).lastInsertRowid);
  const dyeId = run("insert into dyes (code, name, class) values ('T1', 'Turquoise', 'reactive')");
  run("insert into methods (id, name) values (1, 'Cold batch')");
  run("insert into fibres (id, name, class, kind) values (1, 'Linen', 'cellulose', 'cloth')");
  const lotId = run(
    `insert into lots (number, status, method_id, fibre_id, goods_text, dry_mass_mg, goods_owner, mass_found, coverage, loss_ppm, readability_mg,
      estimate_minor, plan_json, planned_at, planned_by) values ('L-1', 'planned', 1, 1, 'x', 1, 'studio', 'stated', 'eachOverAll', 0, 10, 0, '{}', 1, ?)`,
    personId,
  );
  const component = run(
    "insert into lot_components (lot_id, ordinal, kind, dye_id, basis, planned_mass_mg, step) values (?, 1, 'dye', ?, 'owg', 100, 10)",
    lotId,
    dyeId,
  );
  return { deps, by: { personId, name: 'Inês', role: 'owner' }, lotId, component, dyeId };
}

let codes = 0;
const container = ({ deps, by, dyeId }: World, quantity: number, at = MONDAY): number =>
  receive(
    deps.db,
    {
      code: `T1-${++codes}`,
      kind: 'dye',
      dyeId,
      auxiliaryId: null,
      fibreId: null,
      unit: 'mg',
      supplier: '',
      makerLot: '',
      strengthPpm: 1_000_000,
      receivedOn: '2026-03-16',
      openedOn: null,
      bestBeforeOn: null,
      priceMinor: 0,
      freightMinor: 0,
      receivedQuantity: quantity,
      sourceStockLotId: null,
      concPpm: null,
      note: '',
    },
    by,
    { at, recordedAt: at },
  ).id;

/** A weighing of a lot as the bench leaves it: log entry, weighing, issue. Answers the weighing's id. */
function weigh({ deps, by, lotId, component }: World, stockLotId: number, massMg: number, at: number): number {
  const run = (sql: string, ...values: unknown[]): number =>
    Number(deps.sqlite.prepare(sql).run(...values).lastInsertRowid);
  const log = run(
    "insert into log_entries (lot_id, client_id, kind, at, recorded_at, by_person_id) values (?, ?, 'weighing', ?, ?, ?)",
    lotId,
    deps.newId(),
    at,
    at,
    by.personId,
  );
  const weighing = run(
    'insert into weighings (lot_id, component_id, stock_lot_id, log_entry_id, mass_mg, strength_ppm) values (?, ?, ?, ?, ?, 1000000)',
    lotId,
    component,
    stockLotId,
    log,
    massMg,
  );
  issue(deps.db, { stockLotId, quantity: massMg, lotId, weighingId: weighing }, by, { at, recordedAt: at });
  return weighing;
}

type Deed =
  | { deed: 'weigh'; quantity: number }
  | { deed: 'waste'; quantity: number }
  | { deed: 'count'; counted: number }
  | { deed: 'void'; which: number }
  | { deed: 'solution'; quantity: number };

const quantity = fc.integer({ min: 1, max: 400_000 });
const deeds = fc.array(
  fc.oneof(
    fc.record({ deed: fc.constant('weigh' as const), quantity }),
    fc.record({ deed: fc.constant('waste' as const), quantity }),
    fc.record({ deed: fc.constant('count' as const), counted: fc.integer({ min: 0, max: 1_000_000 }) }),
    fc.record({ deed: fc.constant('void' as const), which: fc.nat(30) }),
    fc.record({ deed: fc.constant('solution' as const), quantity }),
  ),
  { maxLength: 25 },
) as fc.Arbitrary<Deed[]>;

describe('under random histories', () => {
  test('on hand is what a plain book would say, now and at every past moment', async () => {
    const w = await world();
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 1_000_000 }), deeds, (received, history) => {
        let at = MONDAY;
        const id = container(w, received, at);
        /** The book that a person would keep: what was counted, and what went out of it. A voided weighing never went out. */
        const book: { at: number; out?: number; counted?: number; weighingId?: number; voided?: boolean }[] = [];
        const there = (moment: number): number =>
          book
            .filter((e) => e.at <= moment && !e.voided)
            .reduce((sum, e) => (e.counted === undefined ? sum - (e.out ?? 0) : e.counted), received);
        const when = () => ({ at, recordedAt: at });
        for (const d of history) {
          at += 1000;
          if (d.deed === 'weigh') {
            book.push({ at, out: d.quantity, weighingId: weigh(w, id, d.quantity, at) });
          } else if (d.deed === 'waste') {
            waste(w.deps.db, { stockLotId: id, quantity: d.quantity, reason: 'spilt' }, w.by, when());
            book.push({ at, out: d.quantity });
          } else if (d.deed === 'count') {
            stockTake(w.deps.db, { stockLotId: id, countedQuantity: d.counted, reason: 'count' }, w.by, when());
            book.push({ at, counted: d.counted });
          } else if (d.deed === 'solution') {
            makeSolution(
              w.deps.db,
              {
                sourceStockLotId: id,
                code: `S-${++codes}`,
                massMg: d.quantity,
                volumeUl: d.quantity * 100,
                concPpm: 10_000,
                madeOn: '2026-03-16',
                bestBeforeOn: null,
                note: '',
              },
              w.by,
              when(),
            );
            book.push({ at, out: d.quantity });
          } else {
            const weighings = book.filter((e) => e.weighingId !== undefined);
            const weighing = weighings[d.which % Math.max(1, weighings.length)];
            if (weighing?.weighingId !== undefined) {
              reverseWeighing(w.deps.db, weighing.weighingId, w.by, when().recordedAt, 'voided');
              weighing.voided = true;
            }
          }
        }
        expect(onHand(w.deps.db, id)).toBe(there(at));
        for (let moment = MONDAY; moment <= at; moment += 1000)
          expect(onHandAt(w.deps.db, id, moment)).toBe(there(moment));
        expect(onHandAt(w.deps.db, id, MONDAY - 1)).toBe(0);
        const lines = ledgerOf(w.deps.db, id, null, 1000);
        expect(lines[0]?.balance).toBe(there(at));
        expect(lines.reduce((sum, line) => sum + line.quantity, 0)).toBe(there(at));
      }),
      { numRuns: 60 },
    );
  });

  test('the ledger read in pages of any size is the ledger', async () => {
    const w = await world();
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 7 }), fc.array(quantity, { maxLength: 20 }), (size, wastes) => {
        const id = container(w, 1_000_000);
        for (const q of wastes)
          waste(w.deps.db, { stockLotId: id, quantity: q, reason: 'x' }, w.by, { at: MONDAY, recordedAt: MONDAY });
        const whole = ledgerOf(w.deps.db, id, null, 1000);
        const paged = [];
        for (let before: number | null = null; ; ) {
          const page = ledgerOf(w.deps.db, id, before, size);
          paged.push(...page);
          if (page.length < size) break;
          before = page.at(-1)?.id ?? null;
        }
        expect(paged).toEqual(whole);
      }),
      { numRuns: 30 },
    );
  });
});

describe('the database itself refuses', () => {
  test.each([
    ['an entry changed', 'update stock_ledger set quantity = 1 where stock_lot_id = ?', /append-only/],
    ['a reason changed', "update stock_ledger set reason = 'x' where stock_lot_id = ?", /append-only/],
    ['an entry erased', 'delete from stock_ledger where stock_lot_id = ?', /append-only/],
    [
      'a second receipt',
      "insert into stock_ledger (stock_lot_id, kind, quantity, at, recorded_at, by_person_id) values (?, 'receipt', 5, 1, 1, 1)",
      /UNIQUE/,
    ],
    [
      'an issue that adds',
      "insert into stock_ledger (stock_lot_id, kind, quantity, at, recorded_at, by_person_id) values (?, 'issue', 5, 1, 1, 1)",
      /CHECK/,
    ],
    [
      'an issue of nothing',
      "insert into stock_ledger (stock_lot_id, kind, quantity, at, recorded_at, by_person_id) values (?, 'issue', 0, 1, 1, 1)",
      /CHECK/,
    ],
    [
      'waste without a reason',
      "insert into stock_ledger (stock_lot_id, kind, quantity, at, recorded_at, by_person_id, reason) values (?, 'waste', -5, 1, 1, 1, ' ')",
      /CHECK/,
    ],
    ['a reversal of nothing', reversal('null', 5), /reversal undoes|CHECK/],
  ] as const)('%s', async (_what, sql, words) => {
    const w = await world();
    const id = container(w, 1000);
    const rows = (): unknown[] => w.deps.sqlite.prepare('select * from stock_ledger').all();
    const before = rows();
    expect(() => w.deps.sqlite.prepare(sql).run(id)).toThrow(words);
    expect(rows()).toEqual(before);
  });

  test('a reversal in part, of another container, of a reversal, or a second time', async () => {
    const w = await world();
    const id = container(w, 1000);
    const other = container(w, 1000);
    const weighingId = weigh(w, id, 100, MONDAY);
    const entry = w.deps.sqlite.prepare("select id from stock_ledger where kind = 'issue'").pluck().get() as number;
    const insert = (stockLotId: number, reverses: number, q: number): unknown =>
      w.deps.sqlite.prepare(reversal(String(reverses), q)).run(stockLotId);
    expect(() => insert(id, entry, 99)).toThrow(/whole/);
    expect(() => insert(other, entry, 100)).toThrow(/same stock lot/);
    reverseWeighing(w.deps.db, weighingId, w.by, MONDAY, 'voided');
    expect(onHand(w.deps.db, id)).toBe(1000);
    expect(() => insert(id, entry, 100)).toThrow(/UNIQUE/);
    const undone = w.deps.sqlite.prepare("select id from stock_ledger where kind = 'reversal'").pluck().get() as number;
    expect(() => insert(id, undone, -100)).toThrow(/reversal undoes/);
    reverseWeighing(w.deps.db, weighingId, w.by, MONDAY, 'voided again');
    expect(onHand(w.deps.db, id)).toBe(1000);
  });
});

function reversal(reverses: string, q: number): string {
  return `insert into stock_ledger (stock_lot_id, kind, quantity, at, recorded_at, by_person_id, reverses_id) values (?, 'reversal', ${q}, 1, 1, 1, ${reverses})`;
}
