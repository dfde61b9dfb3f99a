import { eq, is, sql } from 'drizzle-orm';
import { drizzle } from 'drizzle-orm/better-sqlite3';
import { SQLiteTable } from 'drizzle-orm/sqlite-core';
import { describe, expect, test } from 'vitest';
import { copyInMemory, plannedOnce } from '../../server/db/open.ts';
import { ready } from '../../server/db/ready.ts';
import * as lotTables from '../../server/db/tables/lots.ts';
import { lotComponents } from '../../server/db/tables/lots.ts';
import * as materialTables from '../../server/db/tables/materials.ts';
import { auxiliaries, dyes } from '../../server/db/tables/materials.ts';
import * as samplingTables from '../../server/db/tables/sampling.ts';
import * as stockTables from '../../server/db/tables/stock.ts';
import * as swatchTables from '../../server/db/tables/swatches.ts';
import { freshSampleStudio } from '../support/sampleStudio.ts';

/* The rows of the query builder are put together here and not by it. A value in another place would be another studio's figures. */

describe('rows of the query builder', () => {
  test('of every table and of joins are those that it makes itself', async () => {
    const { deps } = await freshSampleStudio();
    const theirs = drizzle(deps.sqlite);
    const tables = [lotTables, materialTables, samplingTables, stockTables, swatchTables].flatMap((module) =>
      Object.values(module).filter((t): t is SQLiteTable => is(t, SQLiteTable)),
    );
    let rows = 0;
    for (const table of tables) {
      const mine = deps.db.select().from(table).all();
      rows += mine.length;
      // As text: names, order and values at once, over thousands of rows.
      expect(JSON.stringify(mine)).toBe(JSON.stringify(theirs.select().from(table).all()));
    }
    expect(rows).toBeGreaterThan(5_000);
    const joined = (db: typeof deps.db) =>
      db
        .select({
          line: lotComponents,
          dye: dyes,
          auxiliary: { id: auxiliaries.id, name: auxiliaries.name },
          said: sql<string>`coalesce(${dyes.name}, ${auxiliaries.name})`,
          parts: { first: sql<number>`1`, code: dyes.code },
        })
        .from(lotComponents)
        .leftJoin(dyes, eq(dyes.id, lotComponents.dyeId))
        .leftJoin(auxiliaries, eq(auxiliaries.id, lotComponents.auxiliaryId));
    const mine = joined(deps.db).all();
    expect(JSON.stringify(mine)).toBe(JSON.stringify(joined(theirs).all()));
    expect(mine.some((r) => r.dye === null) && mine.some((r) => r.auxiliary === null)).toBe(true);
    expect(joined(deps.db).limit(1).get()).toStrictEqual(joined(theirs).limit(1).get());
    expect(deps.db.select().from(dyes).where(eq(dyes.id, -1)).get()).toBeUndefined();
  });

  test('a value left out of a kept query is told, not bound as nothing', async () => {
    const { deps } = await freshSampleStudio();
    const byId = ready((db) =>
      db
        .select()
        .from(dyes)
        .where(eq(dyes.id, sql.placeholder('dyeId')))
        .prepare(),
    );
    expect(byId(deps.db).get({ dyeId: 1 })?.id).toBe(1);
    expect(() => byId(deps.db).get({})).toThrow('dyeId');
  });
});

describe('statements of the query builder', () => {
  test('hide the values that the planner would look at, and say the same', () => {
    expect(plannedOnce('select 1 from t where a = ? and b is ? and c >= ? limit ? offset ?')).toBe(
      'select 1 from t where a = +? and b is +? and c >= +? limit +? offset +?',
    );
    const kept = "where (? is null or a in (?, ?)) and b like ? and c is null and d is not ? and e = 'x'";
    expect(plannedOnce(kept)).toBe(kept);
  });

  test('reach SQLite so, whoever asks', async () => {
    const { deps } = await freshSampleStudio();
    const { sqlite, db } = copyInMemory(deps.sqlite);
    const { prepare } = sqlite;
    const asked: string[] = [];
    sqlite.prepare = ((source: string) => {
      asked.push(source);
      return prepare.call(sqlite, source);
    }) as unknown as typeof prepare;
    db.select().from(dyes).where(eq(dyes.id, 1)).limit(1).get();
    db.get(sql`select ${2} as two from dyes where id = ${1}`);
    sqlite.prepare = prepare;
    expect(asked.map((s) => [...s.matchAll(/(?:=|limit) (\+?\?)/g)].map((m) => m[1]))).toEqual([['+?', '+?'], ['+?']]);
    sqlite.close();
  });
});
