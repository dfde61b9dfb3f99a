import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { describe, expect, onTestFinished, test } from 'vitest';
import { copyHere } from '../../server/db/databaseCopy.ts';
import { copyInMemory, openDatabase, type Sqlite } from '../../server/db/open.ts';

/* What the house relies on in the SQLite driver and in the SQLite that it carries, and what a new version of either might change
   without a word. Where one of these fails after an upgrade, the code that rests on it must be read again. */

function freshFile(): string {
  const folder = mkdtempSync(join(tmpdir(), 'lot-and-shade-driver-'));
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  return join(folder, 'studio.sqlite');
}

function jars(file = ':memory:'): Sqlite {
  const { sqlite } = openDatabase(file);
  onTestFinished(() => {
    sqlite.close();
  });
  sqlite.exec('create table jars (id integer primary key, mass_mg integer not null, note text) strict');
  const add = sqlite.prepare('insert into jars (mass_mg, note) values (?, ?)');
  for (let i = 1; i <= 3; i++) add.run(i * 1000, null);
  return sqlite;
}

describe('durability', () => {
  test('every open waits for the disk at each commit, the second as the first', () => {
    const file = freshFile();
    for (let i = 0; i < 2; i++) {
      const { sqlite } = openDatabase(file);
      // 2 is FULL: SQLite here is compiled with NORMAL for WAL, which may lose the last commits when the power fails.
      expect(sqlite.pragma('synchronous', { simple: true })).toBe(2);
      expect(sqlite.pragma('journal_mode', { simple: true })).toBe('wal');
      expect(sqlite.pragma('foreign_keys', { simple: true })).toBe(1);
      expect(sqlite.pragma('recursive_triggers', { simple: true })).toBe(1);
      sqlite.close();
    }
    const bare = new Database(file);
    expect(bare.pragma('synchronous', { simple: true })).toBe(1);
    bare.close();
  });

  test('the online backup holds what was committed before it and is sound', async () => {
    const file = freshFile();
    const sqlite = jars(file);
    const copy = `${file}.copy`;
    await copyHere(sqlite, copy);
    sqlite.prepare('insert into jars (mass_mg) values (9)').run();
    const read = new Database(copy, { readonly: true });
    expect(read.prepare('select count(*) from jars').pluck().get()).toBe(3);
    expect(read.pragma('integrity_check', { simple: true })).toBe('ok');
    read.close();
  });

  test('a studio in WAL mode can be copied into memory as it stands', () => {
    const sqlite = jars(freshFile());
    const copy = copyInMemory(sqlite);
    copy.sqlite.prepare('delete from jars').run();
    expect(copy.sqlite.prepare('select count(*) from jars').pluck().get()).toBe(0);
    copy.sqlite.close();
    expect(sqlite.prepare('select count(*) from jars').pluck().get()).toBe(3);
  });
});

describe('a statement under way', () => {
  test('keeps its connection from writing, so that exports go by pages', () => {
    const sqlite = jars();
    const rows = sqlite.prepare('select id from jars').iterate();
    rows.next();
    expect(() => sqlite.prepare('delete from jars').run()).toThrow('busy');
    rows.return?.();
    expect(sqlite.prepare('delete from jars').run().changes).toBe(3);
  });

  test('a transaction does not wait for a promise: what is asynchronous is refused', () => {
    const sqlite = jars();
    expect(() => sqlite.transaction(async () => sqlite.prepare('delete from jars').run())()).toThrow('promise');
    expect(sqlite.prepare('select count(*) from jars').pluck().get()).toBe(3);
  });
});

describe('values', () => {
  test('whole numbers come back exactly, up to the largest safe one', () => {
    const sqlite = jars();
    const largest = Number.MAX_SAFE_INTEGER;
    sqlite.prepare('insert into jars (mass_mg) values (?)').run(largest);
    expect(sqlite.prepare('select max(mass_mg) from jars').pluck().get()).toBe(largest);
    expect(sqlite.prepare('select ? + 1').pluck().get(41)).toBe(42);
  });

  test('what SQLite has no type for is refused and not guessed at', () => {
    const sqlite = jars();
    const add = sqlite.prepare('insert into jars (mass_mg, note) values (1, ?)');
    for (const value of [true, new Date(0), { a: 1 }, ['a', 'b'], Symbol('a')])
      expect(() => add.run(value), String(typeof value)).toThrow();
    expect(sqlite.prepare('select count(*) from jars').pluck().get()).toBe(3);
    add.run(undefined);
    expect(sqlite.prepare('select note from jars order by id desc').pluck().get()).toBeNull();
  });

  test('STRICT tables take no words for a number and no fraction for a whole one', () => {
    const sqlite = jars();
    for (const value of ["'ten'", '1.5', "x'00'", 'null'])
      expect(() => sqlite.exec(`insert into jars (mass_mg) values (${value})`), value).toThrow();
    expect(sqlite.prepare('select count(*) from jars').pluck().get()).toBe(3);
  });

  test('a name in double quotes is never taken for a word', () => {
    expect(() => jars().prepare('select "no such column" from jars')).toThrow('no such column');
  });
});

describe('what the queries use', () => {
  test('full text search, mathematics, JSON and returning are compiled in', () => {
    const sqlite = jars();
    sqlite.exec("create virtual table words using fts5 (text, prefix = '2 3', tokenize = 'unicode61')");
    sqlite.exec("insert into words values ('Rusted stake, linen'), ('Estuary grey')");
    expect(sqlite.prepare('select text from words where words match ?').pluck().all('"rust"*')).toEqual([
      'Rusted stake, linen',
    ]);
    expect(() => sqlite.prepare('select text from words where words match ?').all('"rust')).toThrow();
    expect(sqlite.prepare('select sqrt(16)').pluck().get()).toBe(4);
    expect(sqlite.prepare(`select json_extract('{"a":7}', '$.a')`).pluck().get()).toBe(7);
    expect(sqlite.prepare('insert into jars (mass_mg) values (5) returning id').pluck().get()).toBe(4);
  });

  test('a trigger’s refusal and a broken key come with their codes, by which they are put into words', () => {
    const sqlite = jars();
    sqlite.exec(
      "create trigger jars_stay before delete on jars begin select raise(abort, 'a jar stays'); end; create table labels (jar_id integer not null references jars (id)) strict",
    );
    const codeOf = (statement: string): string => {
      try {
        sqlite.exec(statement);
      } catch (error) {
        return (error as { code: string }).code;
      }
      return 'none';
    };
    expect(codeOf('delete from jars')).toBe('SQLITE_CONSTRAINT_TRIGGER');
    expect(codeOf('insert into labels values (99)')).toBe('SQLITE_CONSTRAINT_FOREIGNKEY');
    expect(codeOf('insert into jars (id, mass_mg) values (1, 1)')).toBe('SQLITE_CONSTRAINT_PRIMARYKEY');
    // Without recursive triggers the row would go unseen by the one that refuses a DELETE.
    expect(codeOf('insert or replace into jars (id, mass_mg) values (1, 1)')).toBe('SQLITE_CONSTRAINT_TRIGGER');
  });
});
