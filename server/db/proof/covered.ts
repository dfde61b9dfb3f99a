import type { Statement } from 'better-sqlite3';
import type { Sqlite } from '../open.ts';
import type { Value } from './rowDigest.ts';

/** Log and weighings, ledger, costs with their corrections, money, audit: written once, in order. Their rows are linked; of all others a sum is kept.
 *  Numbers are never given again. */
export const CHAINED: Readonly<Record<string, number>> = {
  log_entries: 1,
  stock_ledger: 2,
  cost_lines: 3,
  stock_money: 4,
  audit_entries: 5,
  weighings: 6,
};
const PROOF_TABLES = new Set(['record_links', 'record_chains', 'table_sums', 'proof_findings']);
/** The tables, indexes, views and triggers themselves, as one more table. */
export const SCHEMA = 'sqlite_master';

/** Not SQLite’s own tables, nor the two by which the program that replicates the database holds its place in the write-ahead log. */
const OURS = "name not like 'sqlite\\_%' escape '\\' and name not like '\\_litestream\\_%' escape '\\'";

export interface Covered {
  name: string;
  /** The key first. */
  columns: string[];
  /** How many columns are the key; 0 where the row has a number of its own, which then is the first column. */
  keyLength: number;
}

export const quoted = (name: string): string => `"${name.replaceAll('"', '""')}"`;

export const hasProof = (sqlite: Sqlite): boolean =>
  sqlite.prepare("select 1 from sqlite_master where name = 'table_sums'").get() !== undefined;

function covered(sqlite: Sqlite, name: string): Covered {
  const found = sqlite.prepare('select name, type, pk from pragma_table_info(?) order by cid').all(name) as {
    name: string;
    type: string;
    pk: number;
  }[];
  const key = found.filter((c) => c.pk > 0).sort((a, b) => a.pk - b.pk);
  const rest = found.filter((c) => c.pk === 0).map((c) => c.name);
  const [only] = key;
  if (key.length === 1 && only?.type.toUpperCase() === 'INTEGER')
    return { name, columns: [only.name, ...rest], keyLength: 0 };
  // The migrator's own table has a key that is always null, and every table without a key has the number of its rows.
  if (key.length === 0 || name === '__drizzle_migrations')
    return { name, columns: ['rowid', ...found.map((c) => c.name)], keyLength: 0 };
  return { name, columns: [...key.map((c) => c.name), ...rest], keyLength: key.length };
}

/** Every table of the record, as it is now. */
export const coveredTables = (sqlite: Sqlite): Covered[] =>
  (
    sqlite
      .prepare(`select name from sqlite_master where type = 'table' and ${OURS} order by name`)
      .pluck()
      .all() as string[]
  )
    .filter((name) => !PROOF_TABLES.has(name))
    .map((name) => covered(sqlite, name));

const DAMAGED_TEXT = '\uFFFD';

export interface RowReader {
  rows: (...bound: number[]) => Generator<Value[]>;
  row: (...bound: number[]) => Value[] | undefined;
}

/** Reads rows of a table, each as its values in the order of `columns`. Text that is no UTF-8 reads as replacement characters; where
 *  there are any, the bytes decide, so that two such texts are not taken for the same. */
export function rowReader(sqlite: Sqlite, table: Covered, where = ''): RowReader {
  const from = quoted(table.name);
  const keys = table.columns.slice(0, Math.max(1, table.keyLength));
  const statement = sqlite
    .prepare<number[], Value[]>(`select ${table.columns.map(quoted).join(', ')} from ${from} ${where}`)
    .raw();
  const inBytes = table.columns.map((c) => `cast(${quoted(c)} as blob)`).join(', ');
  const byKey = keys.map((c) => `${quoted(c)} = ?`).join(' and ');
  let bytes: Statement<Value[], (Buffer | null)[]> | undefined;
  const exact = (row: Value[]): Value[] => {
    if (!row.some((value) => typeof value === 'string' && value.includes(DAMAGED_TEXT))) return row;
    bytes ??= sqlite.prepare<Value[], (Buffer | null)[]>(`select ${inBytes} from ${from} where ${byKey}`).raw();
    const read = bytes.get(...row.slice(0, keys.length));
    return row.map((value, i) => {
      const own = read?.[i];
      return typeof value === 'string' && own && !Buffer.from(value).equals(own) ? own : value;
    });
  };
  return {
    *rows(...bound) {
      for (const row of statement.iterate(...bound)) yield exact(row);
    },
    row(...bound) {
      const row = statement.get(...bound);
      return row && exact(row);
    },
  };
}

/** What SQLite keeps of tables, indexes, views and triggers, as rows: kind and name are the key. */
export const schemaRows = (sqlite: Sqlite): Value[][] =>
  sqlite
    .prepare(`select type, name, tbl_name, sql from sqlite_master where ${OURS} order by type, name`)
    .raw()
    .all() as Value[][];
export const SCHEMA_TABLE: Covered = { name: SCHEMA, columns: ['type', 'name', 'tbl_name', 'sql'], keyLength: 2 };
