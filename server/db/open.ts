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

/** Opens a studio's file to look into it; nothing can be written, not even by mistake. */
export function openForReading(file: string): OpenDatabase {
  const sqlite = new Database(file, { readonly: true, fileMustExist: true });
  sqlite.pragma('busy_timeout = 5000');
  return { sqlite, db: drizzle(sqlite) };
}

/** Whether another process has the file open. A connection in WAL holds a shared lock for as long as it lives, so the
 *  exclusive one is refused. */
export function isOpenElsewhere(file: string): boolean {
  const sqlite = new Database(file, { fileMustExist: true, timeout: 500 });
  try {
    sqlite.pragma('locking_mode = EXCLUSIVE');
    sqlite.exec('BEGIN IMMEDIATE; ROLLBACK');
    return false;
  } catch (error) {
    if ((error as { code?: string }).code?.startsWith('SQLITE_BUSY')) return true;
    throw error;
  } finally {
    sqlite.close();
  }
}
