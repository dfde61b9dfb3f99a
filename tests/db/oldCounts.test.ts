import { copyFileSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, onTestFinished, test } from 'vitest';
import { readConfig } from '../../server/config.ts';
import { applyMigrations } from '../../server/db/migrate.ts';
import { openDatabase } from '../../server/db/open.ts';

const MIGRATIONS = join(readConfig({}).packageRoot, 'migrations');

/** The migrations of the version before counts absorbed what came late. */
function migrationsBefore(tag: string): string {
  const folder = mkdtempSync(join(tmpdir(), 'lot-and-shade-before-'));
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  const journal = JSON.parse(readFileSync(join(MIGRATIONS, 'meta', '_journal.json'), 'utf8')) as {
    entries: { tag: string }[];
  };
  const entries = journal.entries.slice(
    0,
    journal.entries.findIndex((e) => e.tag === tag),
  );
  mkdirSync(join(folder, 'meta'));
  for (const e of entries) copyFileSync(join(MIGRATIONS, `${e.tag}.sql`), join(folder, `${e.tag}.sql`));
  writeFileSync(join(folder, 'meta', '_journal.json'), JSON.stringify({ ...journal, entries }));
  return folder;
}

test('an old count that something late has spoiled keeps its figures, and a new count is asked for', async () => {
  const open = openDatabase(':memory:');
  onTestFinished(() => {
    open.sqlite.close();
  });
  await applyMigrations(open, migrationsBefore('0018_arrival'));
  const { sqlite } = open;
  sqlite.exec(`insert into people (id, name, role, created_at) values (1, 'Inês', 'owner', 0);
    insert into dyes (id, code, name, class) values (1, 'RB', 'Tide blue', 'reactive');
    insert into stock_lots (id, code, kind, dye_id, unit, received_on, price_minor, received_quantity)
      values (1, 'B-1', 'dye', 1, 'mg', '2026-01-05', 1000, 100000), (2, 'B-2', 'dye', 1, 'mg', '2026-01-05', 1000, 100000)`);
  const entry = sqlite.prepare(
    "insert into stock_ledger (stock_lot_id, kind, quantity, at, recorded_at, by_person_id, reason) values (?, ?, ?, ?, ?, 1, 'why')",
  );
  const day = 86_400_000;
  const monday = Date.UTC(2026, 2, 16);
  for (const jar of [1, 2]) {
    entry.run(jar, 'receipt', 100_000, monday, monday);
    entry.run(jar, 'stockTake', -10_000, monday + 2 * day, monday + 2 * day);
    // Spilt on Tuesday, entered on Friday.
    entry.run(jar, 'waste', -5000, monday + day, monday + 4 * day);
  }
  // B-2 was counted again since.
  entry.run(2, 'stockTake', 5000, monday + 5 * day, monday + 5 * day);
  const figures = 'select id, stock_lot_id, kind, quantity, at, recorded_at, reason from stock_ledger';
  const before = sqlite.prepare(figures).all();
  await applyMigrations(open, MIGRATIONS);
  expect(sqlite.prepare(figures).all()).toEqual(before);
  const asked = sqlite.prepare('select kind, asks, stock_lot_id, words from questions').all();
  expect(asked).toEqual([
    {
      kind: 'oldCount',
      asks: 'owner',
      stock_lot_id: 1,
      words:
        'On 2026-03-20 one entry about an earlier time reached the ledger of B-1 after the count of 2026-03-18, and moved what it had found by -5.000 g. Nothing has been changed. Count the container again.',
    },
  ]);
});
