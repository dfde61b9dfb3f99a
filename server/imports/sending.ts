import { readdir } from 'node:fs/promises';
import { join } from 'node:path';
import { PassThrough, Readable } from 'node:stream';
import { setImmediate as nextTurn } from 'node:timers/promises';
import yazl from 'yazl';
import type { Deps } from '../deps.ts';
import { Refusal } from '../errors.ts';
import { csvLine } from '../http/csv.ts';
import { theStudio } from '../settings/queries.ts';
import { libraryFiles } from './libraryFiles.ts';
import { type ColumnOfTable, columnsOf, LIBRARY_QUERIES, openSnapshot, rowsOfQuery, rowsOfTable } from './queries.ts';
import { NOT_EXPORTED, NOT_EXPORTED_COLUMNS, TABLE_MEANINGS, unitOfColumn } from './tableMeanings.ts';

type Sqlite = Deps['sqlite'];
type Row = Record<string, string | number | null>;

/** Tables that leave, each with its columns. */
function tablesOf(sqlite: Sqlite): Map<string, ColumnOfTable[]> {
  const tables = new Map<string, ColumnOfTable[]>();
  for (const column of columnsOf(sqlite)) {
    if (NOT_EXPORTED.has(column.table) || NOT_EXPORTED_COLUMNS.has(`${column.table}.${column.name}`)) continue;
    tables.set(column.table, [...(tables.get(column.table) ?? []), column]);
  }
  return tables;
}

async function* csvOfTable(sqlite: Sqlite, table: string, columns: readonly ColumnOfTable[]): AsyncGenerator<string> {
  const names = columns.map((c) => c.name);
  yield csvLine(names);
  for (const page of rowsOfTable(sqlite, table, names)) {
    yield page.map((row) => csvLine(names.map((n) => (row as Row)[n] ?? null))).join('');
    await nextTurn();
  }
}

function* csvOfSchema(tables: ReadonlyMap<string, readonly ColumnOfTable[]>): Generator<string> {
  yield csvLine(['table', 'column', 'type', 'unit', 'may_be_empty', 'key', 'refers_to', 'table_holds']);
  for (const [table, columns] of tables) {
    for (const c of columns) {
      yield csvLine([
        table,
        c.name,
        c.type.toLowerCase(),
        unitOfColumn(c.name),
        c.notNull ? 'no' : 'yes',
        c.key ? 'yes' : 'no',
        c.refersTo ?? '',
        TABLE_MEANINGS[table] ?? '',
      ]);
    }
  }
}

/** { studio, madeAt, tables: { name: [rows] } }, a row a line. */
async function* jsonOf(sqlite: Sqlite, head: { studio: string; madeAt: number }): AsyncGenerator<string> {
  yield `{"format":"lot-and-shade export","studio":${JSON.stringify(head.studio)},"madeAt":${head.madeAt},"tables":{`;
  let firstTable = true;
  for (const [table, columns] of tablesOf(sqlite)) {
    yield `${firstTable ? '' : ','}\n${JSON.stringify(table)}:[`;
    firstTable = false;
    let firstRow = true;
    for (const page of rowsOfTable(
      sqlite,
      table,
      columns.map((c) => c.name),
    )) {
      yield page.map((row, i) => `${firstRow && i === 0 ? '' : ','}\n${JSON.stringify(row)}`).join('');
      firstRow = false;
      await nextTurn();
    }
    yield ']';
  }
  yield '}}\n';
}

const README = (studio: string): string => `Everything of ${studio}, to read without Lot & Shade.

schema.csv       every table and column: type, unit, what it refers to
tables/          one CSV file a table, UTF-8, commas, quotes where needed
everything.json  the same as one JSON document
import/          the library as files that the Import page reads again, best in this order: fibres, dyes, auxiliaries,
                 customers, stock, swatches. Open containers only; solutions, lots, orders and photos are in tables/.
photos/, voices/ pictures (WebP) and recordings, named by the SHA-256 of their content

A text that a spreadsheet would run as a formula (it begins with = + - or @) has an apostrophe before it in the CSV files.
Passphrases, sign-ins and the secrets of API tokens are not in here.
`;

async function filesBelow(dataDir: string, folder: string): Promise<string[]> {
  const entries = await readdir(join(dataDir, folder), { recursive: true, withFileTypes: true }).catch(() => []);
  return entries
    .filter((e) => e.isFile() && !e.name.startsWith('.'))
    .map((e) => join(e.parentPath, e.name).slice(dataDir.length + 1))
    .sort();
}

/** Each reads the whole record, and holds a connection and a view of the database while somebody takes it slowly. */
const MOST_AT_ONCE = 3;
let underWay = 0;

/** A stream over one moment's view of the studio, which is let go when the stream ends, however it ends. */
function overSnapshot(deps: Deps, make: (sqlite: Sqlite, out: PassThrough) => void): PassThrough {
  if (underWay >= MOST_AT_ONCE)
    throw new Refusal('busy', 'Everything is being exported several times already. Try again in a few minutes.');
  const snapshot = openSnapshot(deps.sqlite);
  const out = new PassThrough();
  const letGo = (): void => {
    try {
      snapshot.close();
    } catch {
      // A row is still being read: when the reader has noticed that nobody listens.
      setTimeout(letGo, 50);
    }
  };
  underWay++;
  out.once('close', () => {
    underWay--;
    letGo();
  });
  try {
    make(snapshot.sqlite, out);
  } catch (error) {
    out.destroy();
    throw error;
  }
  return out;
}

/** Everything as one zip: CSV a table with its schema, JSON, files to import again, photos and recordings. */
export async function everythingZip(deps: Deps): Promise<Readable> {
  const { name: studio, currency } = theStudio(deps.db);
  const files = (await Promise.all(['photos', 'voices'].map((f) => filesBelow(deps.config.dataDir, f)))).flat();
  return overSnapshot(deps, (sqlite, out) => {
    const zip = new yazl.ZipFile();
    const add = (path: string, pieces: () => Iterable<string> | AsyncIterable<string>): void => {
      zip.addReadStreamLazy(path, { compress: true }, (give) => {
        const stream = Readable.from(whileWanted(pieces(), out), { objectMode: false });
        give(null, stream);
      });
    };
    zip.on('error', (error) => out.destroy(error as Error));
    const tables = tablesOf(sqlite);
    zip.addBuffer(Buffer.from(README(studio)), 'README.txt');
    add('schema.csv', () => csvOfSchema(tables));
    for (const [table, columns] of tables) add(`tables/${table}.csv`, () => csvOfTable(sqlite, table, columns));
    add('everything.json', () => jsonOf(sqlite, { studio, madeAt: deps.now() }));
    for (const { kind, columns } of libraryFiles(currency)) {
      add(`import/${kind}.csv`, function* () {
        yield csvLine(columns.map((c) => c.name));
        for (const row of rowsOfQuery<Row>(sqlite, LIBRARY_QUERIES[kind])) {
          yield csvLine(columns.map((c) => c.value(row)));
        }
      });
    }
    for (const path of files)
      zip.addFile(join(deps.config.dataDir, path), path.replaceAll('\\', '/'), { compress: false });
    zip.end();
    zip.outputStream.pipe(out);
  });
}

/** The tables as one JSON document. */
export function everythingJson(deps: Deps): Readable {
  const { name: studio } = theStudio(deps.db);
  return overSnapshot(deps, (sqlite, out) => {
    const stream = Readable.from(whileWanted(jsonOf(sqlite, { studio, madeAt: deps.now() }), out), {
      objectMode: false,
    });
    stream.once('error', (error) => out.destroy(error));
    stream.pipe(out);
  });
}

/** Pieces until nobody listens any more. */
async function* whileWanted(
  pieces: Iterable<string> | AsyncIterable<string>,
  out: PassThrough,
): AsyncGenerator<string> {
  for await (const piece of pieces) {
    if (out.destroyed) return;
    if (piece !== '') yield piece;
  }
}
