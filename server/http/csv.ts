import { Readable } from 'node:stream';
import { setImmediate as nextTurn } from 'node:timers/promises';
import type { FastifyReply } from 'fastify';

/** What one cell may hold. null is an empty cell. */
export type CsvCell = string | number | null;

/** One column: its name in the header and its value of a row. Lists with more to say (unit, meaning) fit by shape. */
export interface CsvColumn<Row> {
  readonly name: string;
  readonly value: (row: Row) => CsvCell;
  /** Said of digits and days, which never need quotes or a guard. */
  readonly cell?: 'number' | 'money' | 'day' | undefined;
}

/** A cell that starts so is run as a formula by spreadsheets; tab, CR and LF are skipped by them before they look.
 *  Source: OWASP, CSV Injection. The full-width forms are taken as the plain ones by some. */
const FORMULA_STARTS: ReadonlySet<number> = new Set(Array.from('=+-@\t\r\n＝＋－＠', (c) => c.charCodeAt(0)));
const PLAIN_NUMBER = /^[+-]?\d+(?:\.\d+)?$/;
const NEEDS_QUOTES = /[",\r\n]|^\s|\s$/;

function cellText(cell: CsvCell): string {
  if (cell === null) return '';
  if (typeof cell === 'number') {
    if (!Number.isFinite(cell)) throw new TypeError('A cell of a CSV file must be a finite number.');
    return String(cell);
  }
  const guarded = FORMULA_STARTS.has(cell.charCodeAt(0)) && !PLAIN_NUMBER.test(cell) ? `'${cell}` : cell;
  return NEEDS_QUOTES.test(guarded) ? `"${guarded.replaceAll('"', '""')}"` : guarded;
}

/** One record by RFC 4180: commas, quotes where needed and doubled inside, CRLF at its end. A lone empty cell is written
 *  as "", since readers skip an empty line. */
export const csvLine = (cells: readonly CsvCell[]): string => {
  const line = cells.map(cellText).join(',');
  return `${line === '' ? '""' : line}\r\n`;
};

function rowLine<Row>(columns: readonly CsvColumn<Row>[], row: Row): string {
  const cells = columns.map((column) => {
    const value = column.value(row);
    return column.cell !== undefined && typeof value === 'string' ? value : cellText(value);
  });
  return `${cells.length === 1 && cells[0] === '' ? '""' : cells.join(',')}\r\n`;
}

async function* lines<Row>(
  columns: readonly CsvColumn<Row>[],
  first: IteratorResult<readonly Row[]>,
  rest: AsyncIterator<readonly Row[]> | Iterator<readonly Row[]>,
): AsyncGenerator<string> {
  let page = first;
  try {
    let head = csvLine(columns.map((column) => column.name));
    while (!page.done) {
      const text = head + page.value.map((row) => rowLine(columns, row)).join('');
      if (text !== '') yield text;
      head = '';
      await nextTurn();
      page = await rest.next();
    }
    if (head !== '') yield head;
  } finally {
    await rest.return?.();
  }
}

/** Streams rows, page by page, as a CSV file to be kept; between pages other requests get their turn. What fails before
 *  the first page is an ordinary refusal; a failure half-way destroys the connection, so that a broken file looks broken. */
export async function sendCsv<Row>(
  reply: FastifyReply,
  filename: string,
  columns: readonly CsvColumn<Row>[],
  pages: AsyncIterable<readonly Row[]> | Iterable<readonly Row[]>,
): Promise<FastifyReply> {
  const rest = Symbol.asyncIterator in pages ? pages[Symbol.asyncIterator]() : pages[Symbol.iterator]();
  const first = await rest.next();
  const plainName = filename.replace(/[^\w.-]+/g, '-');
  return reply
    .type('text/csv; charset=utf-8; header=present')
    .header(
      'content-disposition',
      `attachment; filename="${plainName}"; filename*=UTF-8''${encodeURIComponent(filename)}`,
    )
    .header('cache-control', 'no-store')
    .send(Readable.from(lines(columns, first, rest), { objectMode: false }));
}

/** Pages of a list read by keyset: each read gets the key of the last row before it, null at the start. */
export function* keysetPages<Row, Key>(
  read: (after: Key | null) => readonly Row[],
  keyOf: (row: Row) => Key,
): Generator<readonly Row[]> {
  let after: Key | null = null;
  for (;;) {
    const page: readonly Row[] = read(after);
    const last = page.at(-1);
    if (last === undefined) return;
    yield page;
    after = keyOf(last);
  }
}
