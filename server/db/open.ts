import Database from 'better-sqlite3';
import { type BetterSQLite3Database, drizzle } from 'drizzle-orm/better-sqlite3';

export type Sqlite = Database.Database;
/** The database or an open transaction: queries take it first and do not mind which. */
export type Db = Pick<
  BetterSQLite3Database,
  'select' | 'selectDistinct' | 'insert' | 'update' | 'delete' | 'all' | 'get' | 'run'
> & {
  transaction: BetterSQLite3Database['transaction'];
};

export interface OpenDatabase {
  sqlite: Sqlite;
  db: BetterSQLite3Database;
}

/** Opens the studio's file. The pragmas belong to the connection, so they are said on every open:
 *  SQLite here is compiled with WAL → synchronous NORMAL, which may lose the last commit on power failure. */
export function openDatabase(file: string): OpenDatabase {
  const sqlite = new Database(file);
  sqlite.pragma('journal_mode = WAL');
  sqlite.pragma('synchronous = FULL');
  sqlite.pragma('foreign_keys = ON');
  // Without it, INSERT OR REPLACE deletes the old row unseen by the triggers that refuse a DELETE.
  sqlite.pragma('recursive_triggers = ON');
  sqlite.pragma('busy_timeout = 5000');
  return { sqlite, db: drizzle(sqlite) };
}
