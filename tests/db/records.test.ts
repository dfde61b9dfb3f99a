import { eq } from 'drizzle-orm';
import { describe, expect, test } from 'vitest';
import { costLines, lots } from '../../server/db/tables/lots.ts';
import type { Deps } from '../../server/deps.ts';
import { insertPerson } from '../../server/people/queries.ts';
import { answer, ask } from '../../server/questions/asking.ts';
import { insertStudio } from '../../server/settings/queries.ts';
import { freshDeps, MONDAY } from '../support/app.ts';
import { correctCostLine, type LotWorld, lotWorld, writeLot } from '../support/finishedLots.ts';

/** A studio with one finished lot and one on the bench. */
async function studioWithLots(): Promise<{ deps: Deps; world: LotWorld; finished: number; open: number }> {
  const { deps } = await freshDeps();
  insertStudio(deps.db, {
    name: 'Test Works',
    currency: 'EUR',
    zone: 'Europe/Lisbon',
    units: 'metric',
    labourRateMinorPerHour: 1800,
    overheadRateMinorPerHour: 600,
    weighingTolerancePpm: 20_000,
    weighingFloorPpm: 10_000,
    stockConcPpm: 10_000,
    costing: 'specific',
    sample: 0,
    createdAt: MONDAY,
  });
  const { id } = insertPerson(deps.db, {
    name: 'Inês',
    role: 'owner',
    passphraseHash: null,
    labourRateMinorPerHour: null,
    active: 1,
    createdAt: MONDAY,
  });
  const world = lotWorld(deps, { personId: id, name: 'Inês', role: 'owner' });
  const finished = writeLot(world, { number: '26-0001', finishedAt: MONDAY });
  const open = writeLot(world, { number: '26-0002', finishedAt: MONDAY }, true);
  return { deps, world, finished, open };
}

const columnsOf = (deps: Deps, table: string): string[] =>
  deps.sqlite.prepare('select name from pragma_table_xinfo(?)').pluck().all(table) as string[];

/** Tables with a column that refers to a lot, and that column. */
const lotTables = (deps: Deps): { table: string; column: string }[] =>
  deps.sqlite
    .prepare(
      `select t.name as "table", k."from" as "column" from pragma_table_list t, pragma_foreign_key_list(t.name) k
       where t.schema = 'main' and t.type = 'table' and k."table" = 'lots' and k."from" = 'lot_id' order by t.name`,
    )
    .all() as { table: string; column: string }[];

/** Whole content of a table, to see that nothing moved. */
const contentOf = (deps: Deps, table: string): unknown[] => deps.sqlite.prepare(`select * from ${table}`).all();

const changes = (deps: Deps, statement: string, ...values: unknown[]): number =>
  deps.sqlite.prepare(statement).run(...values).changes;

/** Swatches and readings may be made of a finished lot afterwards, its figures follow the record, and questions about it may be
 *  asked and answered; they are guarded by rules of their own. */
const MADE_OF_A_LOT = new Set(['swatches', 'colour_readings', 'closed_lots', 'questions']);

const APPEND_ONLY: Record<string, string> = {
  stock_ledger: 'the stock ledger is append-only',
  log_entries: 'the log is append-only',
  recipe_revisions: 'a recipe revision never changes',
  recipe_components: 'a recipe revision never changes',
  lot_colours: 'a plan is not overwritten',
  lot_components: 'a plan is not overwritten',
  lot_steps: 'a plan is not overwritten',
  lot_lines: 'a plan is not overwritten',
  lot_adjustments: 'what happened is never rewritten',
  lot_targets: 'what happened is never rewritten',
  weighings: 'what happened is never rewritten',
  lot_labour: 'what happened is never rewritten',
  lot_outcomes: 'the lot is finished',
  cost_lines: 'a cost line is corrected by a reversing line',
  lot_closings: 'a closing is kept as it was',
  lot_names: 'a closing is kept as it was',
  lot_line_closings: 'a closing is kept as it was',
};

describe('append-only tables', () => {
  test.each(Object.entries(APPEND_ONLY))('%s: %s', async (table, words) => {
    const { deps } = await studioWithLots();
    const before = contentOf(deps, table);
    expect(before.length).toBeGreaterThan(0);
    for (const column of columnsOf(deps, table)) {
      expect(() => changes(deps, `update ${table} set ${column} = ${column}`), column).toThrow(words);
      expect(() => changes(deps, `update or replace ${table} set ${column} = 1`), column).toThrow();
      expect(() => changes(deps, `update or ignore ${table} set ${column} = 1`), column).toThrow(words);
    }
    expect(() => changes(deps, `delete from ${table}`)).toThrow(words);
    expect(() => changes(deps, `insert or replace into ${table} select * from ${table}`)).toThrow();
    expect(contentOf(deps, table)).toEqual(before);
  });

  test('every table that belongs to a lot is one of them', async () => {
    const { deps } = await studioWithLots();
    const guarded = lotTables(deps).map((t) => t.table);
    expect(guarded.filter((t) => !MADE_OF_A_LOT.has(t) && APPEND_ONLY[t] === undefined)).toEqual([]);
    expect(guarded.length).toBeGreaterThan(10);
  });
});

describe('a finished lot', () => {
  test('no UPDATE of any of its columns succeeds, nor does a DELETE', async () => {
    const { deps, finished, open } = await studioWithLots();
    const before = contentOf(deps, 'lots');
    const columns = columnsOf(deps, 'lots');
    expect(columns).toContain('estimate_minor');
    for (const column of columns) {
      expect(() => changes(deps, `update lots set ${column} = ${column} where id = ?`, finished), column).toThrow(
        /the lot is finished|a plan is not overwritten/,
      );
    }
    expect(() =>
      changes(deps, "update lots set status = 'onBench', finished_at = null where id = ?", finished),
    ).toThrow('the lot is finished');
    expect(() => changes(deps, 'delete from lots where id = ?', finished)).toThrow('a lot is abandoned, never erased');
    expect(() => changes(deps, 'delete from lots where id = ?', open)).toThrow('a lot is abandoned, never erased');
    expect(contentOf(deps, 'lots')).toEqual(before);
  });

  test('is not written over by an INSERT that replaces', async () => {
    const { deps, finished } = await studioWithLots();
    const before = contentOf(deps, 'lots');
    const columns = columnsOf(deps, 'lots');
    const swapped = columns.map((c) => (c === 'estimate_minor' ? '1' : c)).join(', ');
    for (const statement of [
      `insert or replace into lots select ${swapped} from lots where id = ?`,
      `insert into lots select ${swapped} from lots where id = ? on conflict (id) do update set estimate_minor = 1`,
    ]) {
      expect(() => changes(deps, statement, finished), statement).toThrow();
    }
    expect(contentOf(deps, 'lots')).toEqual(before);
  });

  test.each([
    ['lot_lines', 'order_line_id', 'the lot is finished'],
    ['lot_colours', 'ordinal', 'the plan is closed once work has begun'],
    ['lot_components', 'ordinal', 'the plan is closed once work has begun'],
    ['lot_steps', 'ordinal', 'the plan is closed once work has begun'],
    ['lot_adjustments', 'log_entry_id', 'the lot is finished'],
    ['lot_targets', 'component_id', 'the lot is finished'],
    ['weighings', 'log_entry_id', 'the lot is finished'],
    ['lot_labour', 'log_entry_id', 'the lot is finished'],
    ['lot_outcomes', 'lot_id', 'the lot is finished'],
    ['cost_lines', 'ordinal', 'the lot is finished'],
  ])('%s takes no late row', async (table, unique, words) => {
    const { deps, finished } = await studioWithLots();
    const before = contentOf(deps, table);
    // A copy of a row of its own, with a fresh id and another value where one must be unique.
    const columns = columnsOf(deps, table).filter((c) => c !== 'id');
    const values = columns.map((c) => (c === unique && c !== 'lot_id' ? `${c} + 1` : c));
    expect(() =>
      changes(
        deps,
        `insert into ${table} (${columns.join(', ')}) select ${values.join(', ')} from ${table} where lot_id = ? limit 1`,
        finished,
      ),
    ).toThrow(words);
    expect(contentOf(deps, table)).toEqual(before);
  });

  test('its cost is corrected by a line that points at the one it takes back, and by nothing else', async () => {
    const { deps, world, finished } = await studioWithLots();
    const total = (): unknown =>
      deps.sqlite.prepare('select sum(cost_minor) from cost_lines where lot_id = ?').pluck().get(finished);
    expect(total()).toBe(3783); // 1.07 + 0.66 + 0.10 + 27.00 + 9.00
    correctCostLine(world, finished, 1, 6);
    expect(total()).toBe(3676);
    const other = writeLot(world, { number: '26-0003', finishedAt: MONDAY });
    const line = deps.db.select().from(costLines).where(eq(costLines.lotId, other)).all()[0];
    expect(() =>
      changes(
        deps,
        `insert into cost_lines (lot_id, ordinal, kind, description, dye_id, stock_lot_id, quantity, quantity_unit, price_minor, per_quantity, cost_minor, corrects_id, correction, reason, written_by, written_at)
         select ?, 99, kind, 'smuggled', dye_id, stock_lot_id, -quantity, quantity_unit, price_minor, per_quantity, -cost_minor, id, 'reversal', 'smuggled', 1, 1 from cost_lines where id = ?`,
        finished,
        line?.id,
      ),
    ).toThrow('a cost line is corrected in its own lot');
    expect(total()).toBe(3676);
  });

  test('stands whatever happens to what it was made of', async () => {
    const { deps, finished } = await studioWithLots();
    const shot = (): unknown[] =>
      lotTables(deps)
        .filter((t) => !MADE_OF_A_LOT.has(t.table))
        .map((t) => deps.sqlite.prepare(`select * from ${t.table} where lot_id = ?`).all(finished));
    const before = [shot(), deps.db.select().from(lots).where(eq(lots.id, finished)).all()];
    changes(deps, "update dyes set name = 'Renamed', archived_at = 1");
    changes(deps, 'update fibres set regain_ppm = 1, cost_minor_per_kg = 99');
    changes(deps, "update methods set name = 'Renamed', loss_ppm = 9");
    changes(
      deps,
      "update studio set currency = 'USD', labour_rate_minor_per_hour = 1, overhead_rate_minor_per_hour = 1",
    );
    changes(deps, 'update people set labour_rate_minor_per_hour = 1');
    expect(() => changes(deps, 'update stock_lots set price_minor = price_minor + 1')).toThrow(
      'the receipt of a stock lot never changes',
    );
    for (const parent of ['dyes', 'fibres', 'methods', 'people', 'stock_lots', 'order_lines', 'recipes', 'swatches']) {
      expect(() => changes(deps, `delete from ${parent}`), parent).toThrow();
      expect(() => changes(deps, `update ${parent} set id = id + 1000`), parent).toThrow();
    }
    expect([shot(), deps.db.select().from(lots).where(eq(lots.id, finished)).all()]).toEqual(before);
  });
});

describe('a lot that is not finished', () => {
  test('keeps its plan, and moves on', async () => {
    const { deps, open } = await studioWithLots();
    for (const column of [
      'number',
      'dry_mass_mg',
      'estimate_minor',
      'plan_json',
      'coverage',
      'planned_at',
      'loss_ppm',
    ]) {
      expect(() => changes(deps, `update lots set ${column} = ${column} where id = ?`, open), column).toThrow(
        'a plan is not overwritten',
      );
    }
    expect(() =>
      changes(
        deps,
        "insert into lot_steps (lot_id, ordinal, name, planned_duration_s, planned_hands_on_s) values (?, 9, 'late', 0, 0)",
        open,
      ),
    ).toThrow('the plan is closed once work has begun');
    expect(changes(deps, "update lots set planned_for_on = '2026-03-20' where id = ?", open)).toBe(1);
    expect(() => changes(deps, "update lots set status = 'finished' where id = ?", open)).toThrow(/CHECK/);
  });

  test('has entries of its own lot only', async () => {
    const { deps, finished, open } = await studioWithLots();
    const foreign = deps.sqlite.prepare('select id from log_entries where lot_id = ?').pluck().get(finished);
    expect(() =>
      changes(
        deps,
        "insert into log_entries (lot_id, client_id, kind, refers_to_id, at, recorded_at, by_person_id) values (?, 'abcdefgh', 'voiding', ?, 1, 1, 1)",
        open,
        foreign,
      ),
    ).toThrow('a log entry refers to its own lot');
  });
});

describe('formulas and stock', () => {
  test('a revision that a lot or a swatch stands on takes no further component', async () => {
    const { deps, world } = await studioWithLots();
    changes(deps, "insert into dyes (id, code, name, class) values (77, 'R1', 'Red', 'reactive')");
    expect(() =>
      changes(
        deps,
        'insert into recipe_components (revision_id, ordinal, dye_id, share_ppm, depth_ppm) values (?, 3, 77, 0, 0)',
        world.revisionId,
      ),
    ).toThrow('a recipe revision never changes');
  });

  test('a swatch keeps the formula it was dyed by, and its note may change', async () => {
    const { deps } = await studioWithLots();
    expect(() => changes(deps, 'update swatches set depth_ppm = depth_ppm + 1')).toThrow(
      'a swatch keeps the formula it was dyed by',
    );
    expect(changes(deps, "update swatches set note = 'a little flat'")).toBe(1);
  });

  test('a reversal undoes one entry of the same container, whole and once', async () => {
    const { deps, world } = await studioWithLots();
    const issue = deps.sqlite
      .prepare("select id, stock_lot_id, quantity from stock_ledger where kind = 'issue'")
      .get() as {
      id: number;
      stock_lot_id: number;
      quantity: number;
    };
    const reverse = (stockLotId: number, quantity: number): number =>
      changes(
        deps,
        "insert into stock_ledger (stock_lot_id, kind, quantity, at, recorded_at, by_person_id, reverses_id) values (?, 'reversal', ?, 1, 1, 1, ?)",
        stockLotId,
        quantity,
        issue.id,
      );
    const words = 'a reversal undoes one entry of the same stock lot, whole';
    expect(() => reverse(issue.stock_lot_id, -issue.quantity - 1)).toThrow(words);
    expect(() => reverse(world.stockLotIds.soda, -issue.quantity)).toThrow(words);
    expect(reverse(issue.stock_lot_id, -issue.quantity)).toBe(1);
    expect(() => reverse(issue.stock_lot_id, -issue.quantity)).toThrow(/UNIQUE/);
  });

  test.each([
    ['an issue of more than nothing', "'issue', 5, ''", /CHECK/],
    ['a receipt of less than nothing', "'receipt', -5, ''", /CHECK/],
    ['waste without a reason', "'waste', -5, ' '", /CHECK/],
    ['an issue of nothing', "'issue', 0, ''", /CHECK/],
    ['a second receipt', "'receipt', 5, ''", /UNIQUE/],
    ['a fraction of a milligram', "'issue', -0.5, ''", /REAL value in INTEGER column/],
    ['a mass in words', "'issue', 'heavy', ''", /TEXT value in INTEGER column/],
  ])('the ledger refuses %s', async (_, values, words) => {
    const { deps, world } = await studioWithLots();
    expect(() =>
      changes(
        deps,
        `insert into stock_ledger (stock_lot_id, kind, quantity, reason, at, recorded_at, by_person_id) values (${world.stockLotIds.yellow}, ${values}, 1, 1, 1)`,
      ),
    ).toThrow(words);
  });
});

describe('a question', () => {
  test('is answered once, never rewritten and never erased', async () => {
    const { deps, finished } = await studioWithLots();
    const { id } = ask(deps.db, {
      kind: 'lateWeighing',
      asks: 'owner',
      lotId: finished,
      words: 'A weighing arrived late. Does it stand?',
      askedAt: MONDAY,
    });
    const words = 'a question is answered once and never rewritten';
    expect(() => changes(deps, "update questions set words = 'something else' where id = ?", id)).toThrow(words);
    expect(() => changes(deps, 'update questions set lot_id = null, stock_lot_id = 1 where id = ?', id)).toThrow(words);
    expect(() => changes(deps, 'delete from questions')).toThrow('a question is answered, never erased');
    expect(() => changes(deps, "update questions set answer = 'stands', answered_at = 1 where id = ?", id)).toThrow(
      'CHECK',
    );
    const owner = { personId: 1, name: 'Inês', role: 'owner' } as const;
    expect(() => answer(deps.db, id, { answer: 'stands', words: '', at: MONDAY }, { ...owner, role: 'dyer' })).toThrow(
      'the owner answers it',
    );
    expect(answer(deps.db, id, { answer: 'stands', words: 'seen in the jar', at: MONDAY }, owner).answer).toBe(
      'stands',
    );
    expect(() => answer(deps.db, id, { answer: 'undone', words: '', at: MONDAY }, owner)).toThrow('answered already');
    expect(() => changes(deps, "update questions set answer = 'undone' where id = ?", id)).toThrow(words);
  });
});
