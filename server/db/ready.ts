import { eq, getTableColumns, type InferInsertModel, type InferSelectModel, type SQL, sql } from 'drizzle-orm';
import type { SQLiteColumn, SQLiteTable } from 'drizzle-orm/sqlite-core';
import type { Db, Sqlite } from './open.ts';

/** A query that is built and prepared once a connection and then only run; for the few that stand in the way of a weighing
 *  or of every page: building one takes several times as long as running it. A transaction is its connection's. */
export function ready<Query>(build: (db: Db) => Query): (db: Db) => Query {
  const built = new WeakMap<object, Query>();
  return (db) => {
    // drizzle's session: the same object in a connection and in its transactions.
    const { session } = db as unknown as { session: object };
    const known = built.get(session);
    if (known !== undefined) return known;
    const query = build(db);
    built.set(session, query);
    return query;
  };
}

/** The row of an id, by a statement that is kept ready. */
export function rowById<Table extends SQLiteTable & { id: SQLiteColumn }>(
  table: Table,
): (db: Db, id: number) => InferSelectModel<Table> | undefined {
  const statement = ready((db) =>
    db
      .select()
      .from(table as SQLiteTable)
      .where(eq(table.id, sql.placeholder('id')))
      .prepare(),
  );
  return (db, id) => statement(db).get({ id }) as InferSelectModel<Table> | undefined;
}

/** The condition of a list whose length changes, for a statement that is kept ready: `ids` is given as JSON. */
export const among = (column: SQLiteColumn, name: string): SQL =>
  sql`${column} in (select value from json_each(${sql.placeholder(name)}))`;

/** Inserts a row and answers it, by a statement that is kept ready. The tables are STRICT and no trigger changes what is inserted,
 *  so the row is what was given, with the defaults and the id. */
export function readyInsert<Table extends SQLiteTable>(
  table: Table,
): (db: Db, row: InferInsertModel<Table>) => InferSelectModel<Table> {
  const columns = Object.entries(getTableColumns(table)).filter(([name]) => name !== 'id');
  const statement = ready((db) => {
    const { sql: source } = db
      .insert(table)
      .values(Object.fromEntries(columns.map(([name]) => [name, sql.placeholder(name)])) as never)
      .toSQL();
    const { client } = (db as unknown as { session: { client: Pick<Sqlite, 'prepare'> } }).session;
    return client.prepare(source);
  });
  return (db, row) => {
    const given = row as Record<string, unknown>;
    const inserted: Record<string, unknown> = { id: 0 };
    const values = columns.map(([name, column]) => {
      const value = given[name] === undefined ? (column.default ?? null) : given[name];
      inserted[name] = value;
      return value === null ? null : column.mapToDriverValue(value);
    });
    inserted['id'] = Number(statement(db).run(...values).lastInsertRowid);
    return inserted as InferSelectModel<Table>;
  };
}
