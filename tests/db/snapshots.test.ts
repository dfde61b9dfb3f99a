import { copyFileSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, onTestFinished, test } from 'vitest';
import { RULES } from '../../server/backup/queries.ts';
import { readConfig } from '../../server/config.ts';
import { applyMigrations } from '../../server/db/migrate.ts';
import { type OpenDatabase, openDatabase } from '../../server/db/open.ts';
import { freshStudio, MONDAY } from '../support/app.ts';
import { lotWorld, writeLot } from '../support/finishedLots.ts';

const MIGRATIONS = join(readConfig({}).packageRoot, 'migrations');
const FIRST_OF_THESE = '0017_snapshots';

/** The migrations of the version before. */
function earlierMigrations(): string {
  const folder = mkdtempSync(join(tmpdir(), 'lot-and-shade-db-'));
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  mkdirSync(join(folder, 'meta'));
  const journal = JSON.parse(readFileSync(join(MIGRATIONS, 'meta', '_journal.json'), 'utf8')) as {
    entries: { tag: string }[];
  };
  const entries = journal.entries.slice(
    0,
    journal.entries.findIndex((e) => e.tag === FIRST_OF_THESE),
  );
  for (const { tag } of entries) copyFileSync(join(MIGRATIONS, `${tag}.sql`), join(folder, `${tag}.sql`));
  writeFileSync(join(folder, 'meta', '_journal.json'), JSON.stringify({ ...journal, entries }));
  return folder;
}

// 23:30 on 31 December 2025 in Lisbon, and in UTC.
const CLOSED_AT = Date.UTC(2025, 11, 31, 23, 30);

/** A studio of the version before: one lot closed with more goods than planned, one still on the bench; since then a dye, a
 *  customer and the fibre were renamed, the fibre after the lot was planned, and a jar's strength was set to 128 %. */
const OLD_STUDIO = `
  insert into people (id, name, role, created_at) values (1, 'Inês', 'owner', 1);
  insert into studio (id, name, currency, zone, units, labour_rate_minor_per_hour, overhead_rate_minor_per_hour, weighing_tolerance_ppm, weighing_floor_ppm,
    stock_conc_ppm, created_at) values (1, 'Works', 'EUR', 'Europe/Lisbon', 'metric', 0, 0, 20000, 10000, 10000, 1);
  insert into fibres (id, name, class, kind, regain_ppm) values (1, 'Flax cloth', 'cellulose', 'cloth', 120000);
  insert into dyes (id, code, name, class) values (1, 'NB', 'Navy', 'reactive');
  insert into methods (id, name, dye_class) values (1, 'Immersion', 'reactive');
  insert into recipes (id, name, dye_class) values (1, 'Mudflat', 'reactive');
  insert into recipe_revisions (id, recipe_id, number, entry_style, total_depth_ppm, made_at, made_by) values (1, 1, 1, 'split', 20000, 1, 1);
  insert into recipe_components (revision_id, ordinal, dye_id, share_ppm, depth_ppm) values (1, 1, 1, 1000000, 20000);
  insert into customers (id, name) values (1, 'Guild of the Estuary');
  insert into orders (id, number, customer_id, ordered_on, status) values (1, '2025-001', 1, '2025-12-01', 'open');
  insert into order_lines (id, order_id, ordinal, description, tolerance_formula, tolerance_milli) values (1, 1, 1, 'napkins', 'CIEDE2000', 1500);
  insert into stock_lots (id, code, kind, dye_id, unit, strength_ppm, received_on, price_minor, received_quantity, maker_lot)
    values (1, 'NB-1', 'dye', 1, 'mg', 1280000, '2025-01-01', 5000, 500000, 'M-1');
  insert into stock_ledger (stock_lot_id, kind, quantity, at, recorded_at, by_person_id) values (1, 'receipt', 500000, 1, 1, 1);
`;
const planJson = JSON.stringify({
  fibreId: 1,
  fibreName: 'Linen',
  methodId: 1,
  methodName: 'Immersion',
  colours: [{ revisionId: 1, recipeName: 'Estuary' }],
  lines: [{ kind: 'dye', dyeId: 1, auxiliaryId: null, code: 'RB', name: 'Tide blue' }],
});

function oldLot({ sqlite }: OpenDatabase, id: number): void {
  sqlite
    .prepare(
      `insert into lots (id, number, status, method_id, fibre_id, goods_text, dry_mass_mg, goods_owner, mass_found, coverage, loss_ppm, readability_mg,
        estimate_minor, plan_json, planned_at, planned_by) values (?, ?, 'planned', 1, 1, 'napkins', 500000, 'studio', 'weighedDry', 'eachOverAll', 0, 10, 900, ?, 1, 1)`,
    )
    .run(id, `25-000${id}`, planJson);
  sqlite.exec(`
    insert into lot_colours (id, lot_id, ordinal, revision_id, depth_ppm, share_ppm) values (${id}, ${id}, 1, 1, 20000, 1000000);
    insert into lot_components (id, lot_id, ordinal, lot_colour_id, kind, dye_id, basis, exact_ug, planned_mass_mg, step)
      values (${id}, ${id}, 1, ${id}, 'dye', 1, 'owg', 10000000, 10000, 10);
    insert into lot_lines (lot_id, order_line_id) values (${id}, 1);
    update lots set status = 'onBench', started_at = 2 where id = ${id};
    insert into log_entries (id, lot_id, client_id, kind, at, recorded_at, by_person_id) values (${id}, ${id}, 'old-weigh-${id}', 'weighing', 2, 2, 1);
    insert into weighings (id, lot_id, component_id, stock_lot_id, log_entry_id, mass_mg) values (${id}, ${id}, ${id}, 1, ${id}, 12000);
    insert into stock_ledger (stock_lot_id, kind, quantity, at, recorded_at, by_person_id, lot_id, weighing_id) values (1, 'issue', -12000, 2, 2, 1, ${id}, ${id});
  `);
}

async function upgraded(): Promise<{ open: OpenDatabase; before: Record<string, unknown[]> }> {
  const open = openDatabase(':memory:');
  onTestFinished(() => {
    open.sqlite.close();
  });
  const { sqlite } = open;
  await applyMigrations(open, earlierMigrations());
  sqlite.exec(OLD_STUDIO);
  oldLot(open, 1);
  sqlite.exec(`
    insert into log_entries (id, lot_id, client_id, kind, at, recorded_at, by_person_id) values (11, 1, 'old-more-goods', 'adjustment', 3, 3, 1);
    insert into lot_adjustments (lot_id, log_entry_id, way, factor_ppm, dry_mass_mg) values (1, 11, 'moreGoods', 1200000, 600000);
    insert into log_entries (id, lot_id, client_id, kind, at, recorded_at, by_person_id) values (12, 1, 'old-finish-1', 'finish', ${CLOSED_AT}, ${CLOSED_AT}, 1);
    insert into lot_outcomes (lot_id, first_quality, seconds, rework, scrap, judged_at, judged_by) values (1, 12, 0, 0, 0, ${CLOSED_AT}, 1);
    insert into cost_lines (lot_id, ordinal, kind, description, dye_id, stock_lot_id, quantity, quantity_unit, price_minor, per_quantity, cost_minor, written_at, valuation)
      values (1, 1, 'dye', 'RB Tide blue, container NB-1', 1, 1, 12000, 'mg', 5000, 500000, 120, ${CLOSED_AT}, 'specific');
    update lots set status = 'finished', finished_at = ${CLOSED_AT} where id = 1;
    insert into cost_lines (lot_id, ordinal, kind, description, dye_id, stock_lot_id, quantity, quantity_unit, price_minor, per_quantity, cost_minor, written_at,
        valuation, added, reason, written_by)
      values (1, 2, 'dye', 'NB Navy, container NB-1', 1, 1, 500, 'mg', 5000, 500000, 5, ${CLOSED_AT + 1}, 'specific', 1, 'forgotten', 1);
    insert into stock_ledger (stock_lot_id, kind, quantity, at, recorded_at, by_person_id, lot_id) values (1, 'issue', -500, ${CLOSED_AT + 1}, ${CLOSED_AT + 1}, 1, 1);
  `);
  oldLot(open, 2);
  const tables = sqlite
    .prepare(
      "select name from sqlite_master where type = 'table' and name not like 'sqlite_%' and name not like '\\_\\_%' escape '\\'",
    )
    .pluck()
    .all() as string[];
  const before = Object.fromEntries(tables.map((t) => [t, sqlite.prepare(`select * from ${t}`).all()]));
  await applyMigrations(open, MIGRATIONS);
  return { open, before };
}

describe('a studio of the version before', () => {
  test('keeps every row and every figure but the mass of goods that reports had wrong', async () => {
    const { open, before } = await upgraded();
    for (const [table, rows] of Object.entries(before)) {
      if (table === 'closed_lots') continue;
      const after = open.sqlite.prepare(`select * from ${table}`).all();
      expect(after.length, table).toBe(rows.length);
      rows.forEach((row, i) => {
        expect(after[i], `${table} ${i}`).toMatchObject(row as Record<string, unknown>);
      });
    }
    const [was] = before['closed_lots'] as [Record<string, unknown>];
    expect(was['dry_mass_mg']).toBe(500_000);
    expect(open.sqlite.prepare('select * from closed_lots').all()).toEqual([
      { ...was, dry_mass_mg: 600_000, closed_on: '2025-12-31' },
    ]);
    for (const { name, broken } of RULES) expect(broken(open.db), name).toEqual([]);
  });

  test('is told what cannot be known: strengths and names are marked as of the upgrade, the plan’s names are certain', async () => {
    const { open } = await upgraded();
    const all = (sql: string) => open.sqlite.prepare(sql).all();
    expect(all('select id, strength_ppm, conc_ppm, strength_kept from weighings')).toEqual([
      { id: 1, strength_ppm: 1_280_000, conc_ppm: null, strength_kept: 'atUpgrade' },
      { id: 2, strength_ppm: 1_280_000, conc_ppm: null, strength_kept: 'atUpgrade' },
    ]);
    expect(all('select added, strength_ppm from cost_lines order by id')).toEqual([
      { added: 0, strength_ppm: null },
      { added: 1, strength_ppm: 1_280_000 },
    ]);
    expect(all('select * from lot_closings')).toEqual([
      {
        lot_id: 1,
        closed_on: '2025-12-31',
        zone: 'Europe/Lisbon',
        currency: 'EUR',
        dry_mass_mg: 600_000,
        weighing_tolerance_ppm: 20_000,
        kept: 'atUpgrade',
      },
    ]);
    expect(all('select kind, code, name from lot_names order by kind, ref_id')).toEqual([
      { kind: 'dye', code: 'RB', name: 'Tide blue' },
      { kind: 'fibre', code: '', name: 'Linen' },
      { kind: 'method', code: '', name: 'Immersion' },
      { kind: 'person', code: '', name: 'Inês' },
      { kind: 'recipe', code: '', name: 'Estuary' },
      { kind: 'stockLot', code: 'NB-1', name: 'M-1' },
    ]);
    expect(all('select customer_name, order_number, description, tolerance_milli from lot_line_closings')).toEqual([
      {
        customer_name: 'Guild of the Estuary',
        order_number: '2025-001',
        description: 'napkins',
        tolerance_milli: 1500,
      },
    ]);
  });
});

describe('what was kept at a closing', () => {
  test('cannot be written for a lot that is open, nor otherwise than it is, nor changed', async () => {
    const { deps, owner } = await freshStudio();
    const world = lotWorld(deps, owner);
    const closed = writeLot(world, { number: '26-0001', finishedAt: MONDAY });
    const open = writeLot(world, { number: '26-0002', finishedAt: MONDAY }, true);
    const { sqlite } = deps;
    for (const [table, columns] of [
      ['lot_closings', 'closed_on, zone, currency, dry_mass_mg, weighing_tolerance_ppm, kept'],
      ['lot_names', 'kind, ref_id, code, name'],
      ['lot_line_closings', 'order_line_id, order_id, order_number, customer_id, customer_name, description'],
    ] as const) {
      expect(sqlite.prepare(`select count(*) from ${table} where lot_id = ?`).pluck().get(closed), table).not.toBe(0);
      expect(sqlite.prepare(`select count(*) from ${table} where lot_id = ?`).pluck().get(open), table).toBe(0);
      expect(
        () => sqlite.exec(`insert into ${table} (lot_id, ${columns}) select ${open}, ${columns} from ${table}`),
        table,
      ).toThrow('a closing is kept as it was');
    }
    expect(() =>
      sqlite.exec(`insert into lot_names values (${closed}, 'person', 99, '', 'nobody that was there')`),
    ).toThrow('a closing is kept as it was');
  });

  test('a weighing without the strength of its container is refused, and so is one that claims to be older', async () => {
    const { deps, owner } = await freshStudio();
    const world = lotWorld(deps, owner);
    writeLot(world, { number: '26-0001', finishedAt: MONDAY }, true);
    const again = (strength: string, kept: string) =>
      deps.sqlite.exec(`insert into weighings (lot_id, component_id, stock_lot_id, log_entry_id, mass_mg, strength_ppm, strength_kept)
        select lot_id, component_id, stock_lot_id, log_entry_id, mass_mg, ${strength}, ${kept} from weighings limit 1`);
    expect(() => again('null', "'whenWeighed'")).toThrow('a weighing keeps the strength of its container');
    expect(() => again('1000000', "'atUpgrade'")).toThrow('a weighing keeps the strength of its container');
  });

  test('is missed by verify where it is not there', async () => {
    const { deps, owner } = await freshStudio();
    writeLot(lotWorld(deps, owner), { number: '26-0001', finishedAt: MONDAY });
    const rule = RULES.find((r) => r.name.startsWith('a closed lot has kept'));
    expect(rule?.broken(deps.db)).toEqual([]);
    deps.sqlite.exec("drop trigger lot_names_no_delete; delete from lot_names where kind = 'dye'");
    expect(rule?.broken(deps.db)).toEqual(['lot 26-0001']);
  });
});
