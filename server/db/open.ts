import Database from 'better-sqlite3';
import { type BetterSQLite3Database, drizzle } from 'drizzle-orm/better-sqlite3';
import { mapRowsOf } from './mapRows.ts';
import { withProofFunctions } from './proof/functions.ts';

export type Sqlite = Database.Database;
/** The database or an open transaction: queries take it first and do not mind which. */
export type Db = Pick<
  BetterSQLite3Database,
  'select' | 'selectDistinct' | 'insert' | 'update' | 'delete' | 'all' | 'get' | 'run' | 'values'
> & {
  transaction: BetterSQLite3Database['transaction'];
};

export interface OpenDatabase {
  sqlite: Sqlite;
  db: BetterSQLite3Database;
}

/** Opens the studio's file, or in memory the bytes of one. The pragmas belong to the connection, so they are said on every open:
 *  SQLite here is compiled with WAL → synchronous NORMAL, which may lose the last commit on power failure. */
export function openDatabase(file: string | Buffer): OpenDatabase {
  const sqlite = new Database(file);
  sqlite.pragma('journal_mode = WAL');
  sqlite.pragma('synchronous = FULL');
  sqlite.pragma('foreign_keys = ON');
  // Without it, INSERT OR REPLACE deletes the old row unseen by the triggers that refuse a DELETE.
  sqlite.pragma('recursive_triggers = ON');
  sqlite.pragma('busy_timeout = 5000');
  withOwnFunctions(sqlite);
  return { sqlite, db: queryBuilder(sqlite) };
}

function queryBuilder(sqlite: Sqlite): BetterSQLite3Database {
  const db = drizzle(rememberingStatements(sqlite));
  mapRowsOf(db);
  return db;
}

/** The studio as it stands at this moment, in memory and apart: what is written there stays there. */
export function copyInMemory(sqlite: Sqlite): OpenDatabase {
  const bytes = sqlite.serialize();
  // A file in WAL mode says so in two bytes of its head (SQLite, Database File Format, 1.3), and memory has no WAL.
  bytes.fill(1, 18, 20);
  return openDatabase(bytes);
}

const dayFormats = new Map<string, Intl.DateTimeFormat>();

/** The calendar day of an instant in a zone, for the triggers that keep the day on which a lot was closed: SQLite knows UTC and the
 *  machine's own zone alone. */
function studioDay(at: number, zone: string): string {
  const known = dayFormats.get(zone);
  const format =
    known ??
    new Intl.DateTimeFormat('en-u-ca-iso8601', { timeZone: zone, year: 'numeric', month: '2-digit', day: '2-digit' });
  if (!known) dayFormats.set(zone, format);
  const part = (type: string): string => format.formatToParts(at).find((p) => p.type === type)?.value ?? '';
  return `${part('year').padStart(4, '0')}-${part('month')}-${part('day')}`;
}

function withOwnFunctions(sqlite: Sqlite): void {
  sqlite.function('studio_day', { deterministic: true }, (at, zone) => studioDay(Number(at), String(zone)));
  withProofFunctions(sqlite);
}

export const sizeBytes = (sqlite: Sqlite): number =>
  Number(sqlite.pragma('page_count', { simple: true })) * Number(sqlite.pragma('page_size', { simple: true }));

/** Opens a studio's file to look into it; nothing can be written, not even by mistake. */
export function openForReading(file: string): OpenDatabase {
  const sqlite = new Database(file, { readonly: true, fileMustExist: true });
  sqlite.pragma('busy_timeout = 5000');
  withOwnFunctions(sqlite);
  return { sqlite, db: queryBuilder(sqlite) };
}

/** Statements kept ready; a page uses some twenty, the whole service a few hundred. */
const KEPT_STATEMENTS = 500;

/** A value that is bound right behind `=`, `is` or `limit`. */
const VALUE_FOR_THE_PLANNER = /(=\s*|\b(?:is|limit|offset)\s+)(?=\?)/gi;

/** The statement with a plus sign before such values, which changes no result. SQLite looks at them while it plans (sqlite3ExprIsInteger
 *  in where.c) and therefore throws the plan away at every binding: a join was planned anew at each run, which took several times as
 *  long as running it. It looks at no expression. A partial index must then be asked for by its words, as `kind = 'receipt'`. */
export const plannedOnce = (source: string): string => source.replace(VALUE_FOR_THE_PLANNER, '$1+');

/** The same connection with a memory for the statements of the query builder, which asks for every statement anew: preparing
 *  takes longer than running most of them. What others prepare on the connection itself is theirs alone and not shared.
 *  A statement that is under way, or a `prepare` that was replaced (tests count statements so), is never shared. */
function rememberingStatements(sqlite: Sqlite): Sqlite {
  const own = sqlite.prepare;
  const kept = new Map<string, Database.Statement>();
  const prepare = (source: string): Database.Statement => {
    if (sqlite.prepare !== own) return sqlite.prepare(plannedOnce(source));
    const known = kept.get(source);
    if (known && !known.busy) {
      // The last to be used stands last; the first in the map is the first to go.
      kept.delete(source);
      kept.set(source, known);
      return known.reader ? known.raw(false) : known;
    }
    const statement = sqlite.prepare(plannedOnce(source));
    if (known) return statement;
    kept.set(source, statement);
    if (kept.size > KEPT_STATEMENTS) {
      const oldest = kept.keys().next().value;
      if (oldest !== undefined) kept.delete(oldest);
    }
    return statement;
  };
  // The driver wraps what a transaction runs anew at each; one wrapping that is handed the work serves them all.
  const inTransaction = sqlite.transaction((work: (tx: unknown) => unknown, tx: unknown) => work(tx));
  const transaction = (work: (tx: unknown) => unknown) => ({
    deferred: (tx: unknown) => inTransaction.deferred(work, tx),
    immediate: (tx: unknown) => inTransaction.immediate(work, tx),
    exclusive: (tx: unknown) => inTransaction.exclusive(work, tx),
  });
  return Object.create(sqlite, { prepare: { value: prepare }, transaction: { value: transaction } }) as Sqlite;
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
