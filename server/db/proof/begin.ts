import type { Sqlite } from '../open.ts';
import { CHAINED, type Covered, coveredTables, quoted, rowReader, SCHEMA_TABLE, schemaRows } from './covered.ts';
import { proofFindings, unlinkedTables } from './findings.ts';
import { linkOf, type Value } from './rowDigest.ts';
import { EMPTY, packed, plus, type Sum, termOf, unpacked } from './sums.ts';

const OURS = 'proof_of_';
const before = '(SELECT link FROM record_links ORDER BY id DESC LIMIT 1)';

const valuesOf = (row: 'NEW' | 'OLD', { columns }: Covered): string =>
  columns.map((c) => `${row}.${quoted(c)}`).join(', ');

/** The triggers that keep the proof of a table, by their name. */
export function triggersFor(table: Covered, sumId: number): Map<string, string> {
  const name = quoted(table.name);
  const word = `'${table.name}'`;
  const made = new Map<string, string>();
  const make = (what: string, event: string, does: string): void => {
    const trigger = `${OURS}${table.name}_${what}`;
    made.set(trigger, `CREATE TRIGGER ${quoted(trigger)} AFTER ${event} ON ${name} BEGIN ${does}; END`);
  };
  const chain = CHAINED[table.name];
  if (chain !== undefined) {
    const id = quoted(table.columns[0] ?? '');
    make(
      'added',
      'INSERT',
      `INSERT INTO record_links (chain_id, row_id, link) VALUES (${chain}, NEW.${id}, record_link(${before}, ${word}, ${valuesOf('NEW', table)}))`,
    );
    make(
      'removed',
      'DELETE',
      `INSERT INTO record_links (chain_id, row_id, removed, link) VALUES (${chain}, OLD.${id}, 1, record_removal(${before}, ${word}, OLD.${id}))`,
    );
    return made;
  }
  const move = (call: string, values: string): string =>
    `UPDATE table_sums SET state = ${call}(state, ${word}, ${table.keyLength}, ${values}) WHERE id = ${sumId}`;
  make('added', 'INSERT', move('sum_with', valuesOf('NEW', table)));
  make('removed', 'DELETE', move('sum_without', valuesOf('OLD', table)));
  make('changed', 'UPDATE', move('sum_changed', `${valuesOf('OLD', table)}, ${valuesOf('NEW', table)}`));
  return made;
}

/** Stands among the sums for as long as an upgrade has the triggers taken away. */
const AT_REST = 'an upgrade is under way';
export const isAtRest = (sqlite: Sqlite): boolean =>
  sqlite.prepare('select 1 from table_sums where table_name = ?').get(AT_REST) !== undefined;

/** Takes the triggers away while migrations change what they watch, and notes what did not hold by then. */
export function restProof(sqlite: Sqlite): void {
  sqlite.transaction(() => {
    const note = sqlite.prepare(
      "insert into proof_findings (found_at, words) values (cast(unixepoch('subsec') * 1000 as integer), ?)",
    );
    for (const { wrong } of proofFindings(sqlite)) for (const words of wrong) note.run(words);
    const names = sqlite.prepare("select name from sqlite_master where type = 'trigger' and name glob ?").pluck();
    for (const name of names.all(`${OURS}*`) as string[]) sqlite.exec(`drop trigger ${quoted(name)}`);
    sqlite.prepare('insert into table_sums (table_name, state) values (?, zeroblob(48))').run(AT_REST);
  })();
}

export function sumOver(table: Covered, rows: Iterable<Value[]>, writes = 0): Sum {
  let sum: Sum = { ...EMPTY, writes };
  for (const row of rows) sum = plus(sum, termOf(table.name, table.keyLength, row), 1);
  return sum;
}

function keepSum(sqlite: Sqlite, table: Covered, rows: Iterable<Value[]>): number {
  const known = sqlite.prepare('select id, state from table_sums where table_name = ?').get(table.name) as
    | { id: number; state: Buffer }
    | undefined;
  // What was noted of it (heads.ts) is not more than what it will count from here.
  const sum = sumOver(table, rows, known === undefined ? 0 : (unpacked(table.name, known.state)?.writes ?? 0));
  const state = packed(table.name, sum);
  if (known) sqlite.prepare('update table_sums set state = ? where id = ?').run(state, known.id);
  else sqlite.prepare('insert into table_sums (table_name, state) values (?, ?)').run(table.name, state);
  return known?.id ?? (sqlite.prepare('select max(id) from table_sums').pluck().get() as number);
}

const lastLink = (sqlite: Sqlite): Buffer | null =>
  (sqlite.prepare('select link from record_links order by id desc limit 1').pluck().get() as Buffer | undefined) ??
  null;

/** Links every row of a table as it is now, after whatever the record holds already. */
function linkAll(sqlite: Sqlite, table: Covered, chain: number): void {
  const insert = sqlite.prepare('insert into record_links (chain_id, row_id, link) values (?, ?, ?)');
  const from = (sqlite.prepare('select coalesce(max(id), 0) + 1 from record_links').pluck().get() as number) || 1;
  let link = lastLink(sqlite);
  // A page at a time: a statement that reads keeps the connection from writing.
  const PAGE = 2000;
  const [id = ''] = table.columns;
  const { rows: rowsAfter } = rowReader(sqlite, table, `where ${quoted(id)} > ? order by 1 limit ${PAGE}`);
  for (let after = Number.MIN_SAFE_INTEGER; ; ) {
    const rows = [...rowsAfter(after)];
    for (const row of rows) {
      link = linkOf(link, table.name, row);
      after = Number(row[0]);
      insert.run(chain, after, link);
    }
    if (rows.length < PAGE) break;
  }
  sqlite
    .prepare(
      `insert into record_chains (id, table_name, columns, from_link) values (?, ?, ?, ?)
        on conflict (id) do update set columns = excluded.columns, from_link = excluded.from_link`,
    )
    .run(chain, table.name, table.columns.join(' '), from);
}

/** Begins the proof over what stands in the tables, and makes the triggers that keep it: after migrations, in one transaction. The sums
 *  are made anew, since an upgrade changes rows and columns at will; links are added only where an upgrade has done so. */
export function beginProof(sqlite: Sqlite): void {
  sqlite.transaction(() => {
    const tables = coveredTables(sqlite);
    const names = new Set([...tables.map((t) => t.name), SCHEMA_TABLE.name]);
    for (const name of sqlite.prepare('select table_name from table_sums').pluck().all() as string[])
      if (!names.has(name)) sqlite.prepare('delete from table_sums where table_name = ?').run(name);
    const unlinked = unlinkedTables(sqlite);
    for (const table of tables) {
      const chain = CHAINED[table.name];
      if (chain !== undefined && unlinked.has(table.name)) linkAll(sqlite, table, chain);
      const sumId = chain === undefined ? keepSum(sqlite, table, rowReader(sqlite, table).rows()) : 0;
      for (const source of triggersFor(table, sumId).values()) sqlite.exec(source);
    }
    keepSum(sqlite, SCHEMA_TABLE, schemaRows(sqlite));
  })();
}
