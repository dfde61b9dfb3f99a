import { getTableColumns, type InferInsertModel, type InferSelectModel, sql } from 'drizzle-orm';
import type { SQLiteTable } from 'drizzle-orm/sqlite-core';
import type { Db } from './open.ts';

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

/** Inserts a row and answers it, by a statement that is kept ready. */
export function readyInsert<Table extends SQLiteTable>(
  table: Table,
): (db: Db, row: InferInsertModel<Table>) => InferSelectModel<Table> {
  const columns = Object.entries(getTableColumns(table)).filter(([name]) => name !== 'id');
  const defaults = Object.fromEntries(columns.map(([name, column]) => [name, column.default ?? null]));
  const statement = ready((db) =>
    db
      .insert(table)
      .values(Object.fromEntries(columns.map(([name]) => [name, sql.placeholder(name)])) as never)
      .returning()
      .prepare(),
  );
  return (db, row) => {
    const given = Object.fromEntries(Object.entries(row).filter(([, value]) => value !== undefined));
    return statement(db).get({ ...defaults, ...given }) as unknown as InferSelectModel<Table>;
  };
}
