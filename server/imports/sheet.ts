import yauzl from 'yauzl';
import { invalid } from '../errors.ts';

/** A table as a file holds it: names of the columns, then rows of text. */
export interface Sheet {
  columns: string[];
  rows: { line: number; cells: string[] }[];
  /** How it was read, for the page. */
  notes: string[];
}

export const MAX_ROWS = 5000;
const MAX_COLUMNS = 200;
/** As long as a spreadsheet's own cells may be (common practice). */
const MAX_CELL = 32_767;
/** A spreadsheet file is a zip: what it unpacks to is judged before it is unpacked. */
const MAX_UNPACKED_BYTES = 200_000_000;

const refuse = (words: string): never => {
  throw invalid({ file: words });
};

/** Reads a CSV file (comma, semicolon, tab or bar; quotes; BOM; UTF-8, UTF-16 or Western European) or the first sheet of an
 *  XLSX file. Throws with words for the field `file`. */
export async function readSheet(content: Buffer): Promise<Sheet> {
  if (content.length === 0) refuse('The file is empty.');
  if (content.subarray(0, 4).toString('latin1') === 'PK\u0003\u0004')
    return shaped(await xlsxRows(content), ['XLSX, first sheet']);
  if (content.subarray(0, 4).toString('hex') === 'd0cf11e0') {
    refuse('That is a spreadsheet of the old kind. Save it as .xlsx or as CSV, then send it again.');
  }
  const { text, encoding } = decoded(content);
  if (text.includes('\u0000')) refuse('That is no table: send a CSV or XLSX file.');
  const { delimiter, body, skipped } = delimited(text);
  const names: Record<string, string> = { ',': 'comma', ';': 'semicolon', '\t': 'tab', '|': 'bar' };
  return shaped(await csvRows(body, delimiter, skipped), [
    `CSV, ${encoding}, columns separated by ${names[delimiter]}`,
  ]);
}

function decoded(content: Buffer): { text: string; encoding: string } {
  const mark = content.subarray(0, 2).toString('latin1');
  if (mark === 'ÿþ') return { text: new TextDecoder('utf-16le').decode(content), encoding: 'UTF-16' };
  if (mark === 'þÿ') return { text: new TextDecoder('utf-16be').decode(content), encoding: 'UTF-16' };
  try {
    return { text: new TextDecoder('utf-8', { fatal: true }).decode(content), encoding: 'UTF-8' };
  } catch {
    return { text: western(content), encoding: 'Western European (Windows-1252)' };
  }
}

/* Characters 0x80–0x9f of Windows-1252 (Unicode Consortium, cp1252.txt). Not every Node decodes them: some take the encoding
   for ISO 8859-1, where these are control codes. */
const CP1252 = '€\u0081‚ƒ„…†‡ˆ‰Š‹Œ\u008dŽ\u008f\u0090‘’“”•–—˜™š›œ\u009džŸ';
const western = (content: Buffer): string =>
  content.toString('latin1').replace(/[\u0080-\u009f]/g, (c) => CP1252[c.charCodeAt(0) - 0x80] ?? c);

/** The sign between columns: told by a first line `sep=;`, else the one that the head of the table has most of. */
function delimited(text: string): { delimiter: string; body: string; skipped: number } {
  const told = /^sep=(.)\r?\n/i.exec(text);
  if (told) return { delimiter: told[1] ?? ',', body: text.slice(told[0].length), skipped: 1 };
  const head = /^\s*([^\r\n]*)/.exec(text)?.[1]?.replace(/"(?:[^"]|"")*"/g, '') ?? '';
  const count = (sign: string): number => head.split(sign).length;
  const delimiter = [',', ';', '\t', '|'].reduce((best, sign) => (count(sign) > count(best) ? sign : best));
  return { delimiter, body: text, skipped: 0 };
}

interface RawRow {
  line: number;
  cells: string[];
}

async function csvRows(text: string, delimiter: string, skipped: number): Promise<RawRow[]> {
  // Loaded with the first file: a service starts without.
  const { parse } = await import('csv-parse/sync');
  try {
    const records = parse(text, {
      delimiter,
      info: true,
      relax_column_count: true,
      skip_empty_lines: false,
      to: MAX_ROWS + 2,
    }) as unknown as { record: string[]; info: { lines: number } }[];
    let before = skipped;
    return records.map(({ record, info }) => {
      // A quoted cell may hold line ends: the row begins after the row before it.
      const line = before + 1;
      before = info.lines + skipped;
      return { line, cells: record };
    });
  } catch (error) {
    const { code, lines } = error as { code?: string; lines?: number };
    if (code === 'CSV_QUOTE_NOT_CLOSED') refuse('A quotation mark is opened and never closed.');
    if (code === 'INVALID_OPENING_QUOTE' || code === 'CSV_INVALID_CLOSING_QUOTE') {
      refuse(`Line ${lines ?? '?'} has a quotation mark in the middle of a cell: double it, or quote the whole cell.`);
    }
    throw error;
  }
}

const unpackedBytes = (content: Buffer): Promise<number> =>
  new Promise((resolve, reject) => {
    yauzl.fromBuffer(content, { lazyEntries: true }, (error, zip) => {
      if (error || !zip) return reject(error);
      let bytes = 0;
      zip.on('entry', (entry: yauzl.Entry) => {
        bytes += entry.uncompressedSize;
        zip.readEntry();
      });
      zip.once('end', () => resolve(bytes));
      zip.once('error', reject);
      zip.readEntry();
    });
  });

async function xlsxRows(content: Buffer): Promise<RawRow[]> {
  const unreadable = (): never =>
    refuse('That file cannot be read as a spreadsheet. Save it as .xlsx or as CSV, then send it again.');
  const bytes = await unpackedBytes(content).catch(unreadable);
  if (bytes > MAX_UNPACKED_BYTES) refuse('That spreadsheet unpacks to more than can be read.');
  const { default: readXlsxFile } = await import('read-excel-file/node');
  const sheets = await readXlsxFile(content).catch(unreadable);
  return (sheets[0]?.data ?? []).map((row, i) => ({ line: i + 1, cells: row.map(cellText) }));
}

/** A cell of a spreadsheet as it would be typed. A day is a Date at midnight UTC. */
function cellText(value: unknown): string {
  if (value === null || value === undefined) return '';
  if (value instanceof Date) return value.toISOString().slice(0, 10);
  // 0.1 + 0.2 as a formula gives 0.30000000000000004: fifteen digits are what a spreadsheet itself holds true.
  if (typeof value === 'number') return String(Number(value.toPrecision(15)));
  return String(value);
}

const isEmpty = (row: RawRow): boolean => row.cells.every((cell) => cell.trim() === '');

function shaped(raw: RawRow[], notes: string[]): Sheet {
  const filled = raw.filter((row) => !isEmpty(row));
  const [head, ...rows] = filled;
  if (!head) return refuse('There is nothing in the file.');
  if (rows.length === 0) refuse('The file has a head and no rows below it.');
  if (rows.length > MAX_ROWS) refuse(`The file has more than ${MAX_ROWS} rows: send it in parts.`);
  const width = Math.max(head.cells.length, ...rows.map((row) => row.cells.length));
  if (width > MAX_COLUMNS) refuse(`The file has more than ${MAX_COLUMNS} columns.`);
  const seen = new Map<string, number>();
  const columns = Array.from({ length: width }, (_, i) => {
    const name = (head.cells[i] ?? '').replace(/\s+/g, ' ').trim() || `column ${i + 1}`;
    const n = (seen.get(name.toLowerCase()) ?? 0) + 1;
    seen.set(name.toLowerCase(), n);
    return n === 1 ? name.slice(0, 100) : `${name.slice(0, 90)} (${n})`;
  });
  for (const { line, cells } of rows) {
    const long = cells.findIndex((cell) => cell.length > MAX_CELL);
    if (long >= 0) refuse(`Line ${line} has a cell of more than ${MAX_CELL} characters, under “${columns[long]}”.`);
  }
  return {
    columns,
    notes: [...notes, ...(raw.length > filled.length ? [`${raw.length - filled.length} empty lines left out`] : [])],
    rows: rows.map(({ line, cells }) => ({
      line,
      cells: columns.map((_, i) => unguarded((cells[i] ?? '').trim())),
    })),
  };
}

/** Our own exports put an apostrophe before what a spreadsheet would run as a formula: taken off again. */
const unguarded = (cell: string): string => (/^'[=+\-@\t\r＝＋－＠]/.test(cell) ? cell.slice(1) : cell);
