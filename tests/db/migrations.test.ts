import {
  copyFileSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { is } from 'drizzle-orm';
import { getTableConfig, SQLiteTable } from 'drizzle-orm/sqlite-core';
import { describe, expect, onTestFinished, test } from 'vitest';
import { readConfig } from '../../server/config.ts';
import { applyMigrations, isOfOlderVersion } from '../../server/db/migrate.ts';
import { type OpenDatabase, openDatabase } from '../../server/db/open.ts';

const MIGRATIONS = join(readConfig({}).packageRoot, 'migrations');
interface Journal {
  entries: { idx: number; version: string; when: number; tag: string; breakpoints: boolean }[];
}
const journal = JSON.parse(readFileSync(join(MIGRATIONS, 'meta', '_journal.json'), 'utf8')) as Journal;

function freshFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'lot-and-shade-db-'));
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  return folder;
}

function openAt(file: string): OpenDatabase {
  const open = openDatabase(file);
  onTestFinished(() => {
    open.sqlite.close();
  });
  return open;
}

async function migrated(file = ':memory:'): Promise<OpenDatabase> {
  const open = openAt(file);
  await applyMigrations(open, MIGRATIONS);
  return open;
}

/** The repository's migrations with one more, as the next release would bring it. */
function migrationsWith(sql: string): string {
  const folder = join(freshFolder(), 'migrations');
  mkdirSync(join(folder, 'meta'), { recursive: true });
  const last = journal.entries.at(-1);
  if (!last) throw new Error('there is no migration');
  for (const { tag } of journal.entries) copyFileSync(join(MIGRATIONS, `${tag}.sql`), join(folder, `${tag}.sql`));
  writeFileSync(join(folder, '9999_next.sql'), sql);
  writeFileSync(
    join(folder, 'meta', '_journal.json'),
    JSON.stringify({
      ...journal,
      entries: [...journal.entries, { ...last, idx: last.idx + 1, when: last.when + 1000, tag: '9999_next' }],
    }),
  );
  return folder;
}

const addCustomer = (open: OpenDatabase, name: string): void => {
  open.sqlite.prepare('insert into customers (name) values (?)').run(name);
};
const customerNames = (open: OpenDatabase): unknown[] =>
  open.sqlite.prepare('select name from customers order by id').pluck().all();

describe('migrations', () => {
  test('replay from an empty file, each once', async () => {
    const open = openAt(join(freshFolder(), 'studio.sqlite'));
    expect(await applyMigrations(open, MIGRATIONS)).toBe(journal.entries.length);
    expect(await applyMigrations(open, MIGRATIONS)).toBe(0);
    expect(open.sqlite.pragma('integrity_check', { simple: true })).toBe('ok');
    expect(open.sqlite.pragma('foreign_key_check')).toEqual([]);
    expect(open.sqlite.pragma('foreign_keys', { simple: true })).toBe(1);
  });

  test('an upgrade keeps the rows, and a copy of the file as it was', async () => {
    const file = join(freshFolder(), 'studio.sqlite');
    const open = await migrated(file);
    addCustomer(open, 'Café Foz');
    expect(await applyMigrations(open, migrationsWith('CREATE TABLE extra (id INTEGER PRIMARY KEY) STRICT;'))).toBe(1);
    expect(customerNames(open)).toEqual(['Café Foz']);
    const copy = openAt(`${file}.before-9999_next`);
    expect(customerNames(copy)).toEqual(['Café Foz']);
    expect(copy.sqlite.prepare("select 1 from sqlite_master where name = 'extra'").get()).toBeUndefined();
  });

  test('a new file is not copied', async () => {
    const file = join(freshFolder(), 'studio.sqlite');
    await migrated(file);
    expect(existsSync(`${file}.before-${journal.entries[0]?.tag}`)).toBe(false);
  });

  test('a migration that fails leaves the file as it was, with foreign keys on again', async () => {
    const open = await migrated(join(freshFolder(), 'studio.sqlite'));
    addCustomer(open, 'Café Foz');
    const broken = migrationsWith(
      'CREATE TABLE extra (id INTEGER PRIMARY KEY) STRICT;\n--> statement-breakpoint\nDROP TABLE nothing_like_it;',
    );
    await expect(applyMigrations(open, broken)).rejects.toThrow();
    expect(open.sqlite.prepare("select 1 from sqlite_master where name = 'extra'").get()).toBeUndefined();
    expect(customerNames(open)).toEqual(['Café Foz']);
    expect(open.sqlite.pragma('foreign_keys', { simple: true })).toBe(1);
  });

  test('a file of an older version is known as one until it is brought up to date', async () => {
    const file = join(freshFolder(), 'studio.sqlite');
    const open = await migrated(file);
    expect(isOfOlderVersion(open, MIGRATIONS)).toBe(false);
    expect(isOfOlderVersion(open, migrationsWith('create table later (id integer primary key) strict;'))).toBe(true);
  });

  test('a file of a newer version is refused in a sentence and left alone', async () => {
    const open = await migrated(join(freshFolder(), 'studio.sqlite'));
    addCustomer(open, 'Café Foz');
    const newer = (journal.entries.at(-1)?.when ?? 0) + 1;
    open.sqlite.prepare('insert into __drizzle_migrations (hash, created_at) values (?, ?)').run('later', newer);
    await expect(applyMigrations(open, MIGRATIONS)).rejects.toThrow(
      'this data folder was written by a newer version of Lot & Shade. Start that version, or restore a backup.',
    );
    expect(customerNames(open)).toEqual(['Café Foz']);
  });
});

describe('every open of a file', () => {
  test('is durable, keeps foreign keys and lets others read meanwhile', async () => {
    const file = join(freshFolder(), 'studio.sqlite');
    (await migrated(file)).sqlite.close();
    const { sqlite } = openAt(file);
    expect(sqlite.pragma('journal_mode', { simple: true })).toBe('wal');
    expect(sqlite.pragma('synchronous', { simple: true })).toBe(2); // FULL
    expect(sqlite.pragma('foreign_keys', { simple: true })).toBe(1);
    expect(sqlite.pragma('busy_timeout', { simple: true })).toBeGreaterThan(0);
    expect(() =>
      sqlite
        .prepare("insert into orders (number, customer_id, ordered_on, status) values ('1', 99, '2026-01-01', 'open')")
        .run(),
    ).toThrow(/FOREIGN KEY/);
  });

  test('finds what another connection wrote', async () => {
    const file = join(freshFolder(), 'studio.sqlite');
    const first = await migrated(file);
    const second = openAt(file);
    addCustomer(first, 'Café Foz');
    expect(customerNames(second)).toEqual(['Café Foz']);
  });
});

const tableFiles = readdirSync(join(readConfig({}).packageRoot, 'server', 'db', 'tables'));
const modules: Record<string, unknown>[] = await Promise.all(
  tableFiles.map((file) => import(`../../server/db/tables/${file.replace(/\.ts$/, '')}.ts`)),
);
const TABLES = modules.flatMap((module) =>
  Object.values(module).filter((value): value is SQLiteTable => is(value, SQLiteTable)),
);

/** Worked out from other tables, whose CHECKs hold for it. */
const DERIVED = new Set(['swatch_colours']);

interface RealColumn {
  name: string;
  type: string;
  notnull: number;
  dflt_value: string | null;
  pk: number;
}

const literal = (sqlText: string | null): string | number | undefined =>
  sqlText === null ? undefined : sqlText.startsWith("'") ? sqlText.slice(1, -1) : Number(sqlText);

describe('the tables as the code knows them', () => {
  test('are all the tables there are, and every one is STRICT', async () => {
    const open = await migrated();
    const real = open.sqlite
      .prepare(
        "select name, strict from pragma_table_list where schema = 'main' and type = 'table' and name not like 'sqlite_%' and name <> '__drizzle_migrations'",
      )
      .all() as { name: string; strict: number }[];
    expect(real.filter((t) => t.strict === 0)).toEqual([]);
    expect(real.map((t) => t.name).sort()).toEqual(TABLES.map((t) => getTableConfig(t).name).sort());
  });

  test.each(TABLES.map((table) => [getTableConfig(table).name, table] as const))(
    '%s has the same columns, keys and choices in code and file',
    async (name, table) => {
      const { sqlite } = await migrated();
      const { columns, foreignKeys, primaryKeys } = getTableConfig(table);
      const real = sqlite
        .prepare('select name, type, "notnull", dflt_value, pk from pragma_table_xinfo(?)')
        .all(name) as RealColumn[];
      expect(
        columns.map((c) => ({
          name: c.name,
          type: c.getSQLType().toUpperCase(),
          notNull: c.notNull,
          default: c.hasDefault ? c.default : undefined,
        })),
      ).toEqual(
        real.map((c) => ({
          name: c.name,
          type: c.type,
          notNull: c.notnull === 1 || c.pk > 0,
          default: literal(c.dflt_value),
        })),
      );

      const keyed = columns.filter((c) => c.primary).map((c) => c.name);
      const composite = primaryKeys.flatMap((key) => key.columns.map((c) => c.name));
      expect([...keyed, ...composite]).toEqual(
        real
          .filter((c) => c.pk > 0)
          .sort((x, y) => x.pk - y.pk)
          .map((c) => c.name),
      );

      const realKeys = sqlite.prepare('select "from", "table", "to" from pragma_foreign_key_list(?)').all(name) as {
        from: string;
        table: string;
        to: string;
      }[];
      const line = (from: string | undefined, to: string, column: string | undefined): string =>
        `${from} → ${to}.${column}`;
      expect(
        foreignKeys
          .map((key) => key.reference())
          .map((r) => line(r.columns[0]?.name, getTableConfig(r.foreignTable).name, r.foreignColumns[0]?.name))
          .sort(),
      ).toEqual(realKeys.map((k) => line(k.from, k.table, k.to)).sort());

      const ddl = sqlite.prepare('select sql from sqlite_master where name = ?').pluck().get(name) as string;
      const chosen = columns.filter((c) => c.enumValues !== undefined && c.enumValues.length > 0);
      for (const column of DERIVED.has(name) ? [] : chosen) {
        const choices =
          new RegExp(`CHECK \\(${column.name} IN \\(([^)]*(?:\\([^)]*\\)[^)]*)*)\\)\\)`).exec(ddl)?.[1] ?? '';
        expect([...choices.matchAll(/'([^']*)'/g)].map((m) => m[1]).toSorted(), `${name}.${column.name}`).toEqual(
          column.enumValues.toSorted(),
        );
      }
    },
  );
});
