import { isUtf8 } from 'node:buffer';
import { type CastingContext, type InfoRecord, parse } from 'csv-parse/sync';
import type { Sheet } from './sheet.ts';
import { refuse, TableRows } from './tableRows.ts';

/** A line, or what a quotation mark that is never closed takes for one: all that a row of readings may come to, in up to four bytes each. */
const MAX_LINE_BYTES = 4_000_000;
/** More columns and lines, though they be empty, than a spreadsheet can have (ECMA-376 implementations, SpreadsheetML limits). */
const MAX_EMPTY_COLUMNS = 16_384;
const MAX_EMPTY_LINES = 1_048_576;
/** Of the first line, to tell the sign between columns by. */
const LOOKED_AT = 65_536;

const SIGNS: Readonly<Record<string, string>> = { ',': 'comma', ';': 'semicolon', '\t': 'tab', '|': 'bar' };

export function csvTable(content: Buffer): Sheet {
  const { text, encoding } = decoded(content);
  if (text.includes(0)) refuse('That is no table: send a CSV or XLSX file.');
  const { delimiter, from } = delimited(text.subarray(0, LOOKED_AT).toString());
  const rows = new TableRows();
  readRows(text.subarray(from), delimiter, from > 0 ? 1 : 0, rows);
  return rows.sheet([`CSV, ${encoding}, columns separated by ${SIGNS[delimiter]}`]);
}

/** The file in UTF-8, without a byte order mark. It stays bytes: as one text, a large file would be held twice. */
function decoded(content: Buffer): { text: Buffer; encoding: string } {
  const from = (decoder: string): Buffer => Buffer.from(new TextDecoder(decoder).decode(content));
  const mark = content.subarray(0, 3).toString('latin1');
  if (mark.startsWith('ÿþ')) return { text: from('utf-16le'), encoding: 'UTF-16' };
  if (mark.startsWith('þÿ')) return { text: from('utf-16be'), encoding: 'UTF-16' };
  if (isUtf8(content)) return { text: content.subarray(mark === 'ï»¿' ? 3 : 0), encoding: 'UTF-8' };
  return { text: Buffer.from(western(content)), encoding: 'Western European (Windows-1252)' };
}

/* Characters 0x80–0x9f of Windows-1252 (Unicode Consortium, cp1252.txt). Not every Node decodes them: some take the encoding
   for ISO 8859-1, where these are control codes. */
const CP1252 = '€\u0081‚ƒ„…†‡ˆ‰Š‹Œ\u008dŽ\u008f\u0090‘’“”•–—˜™š›œ\u009džŸ';
const western = (content: Buffer): string =>
  content.toString('latin1').replace(/[\u0080-\u009f]/g, (c) => CP1252[c.charCodeAt(0) - 0x80] ?? c);

/** The sign between columns: told by a first line `sep=;`, else the one that the head of the table has most of; and the byte
 *  where the table begins. */
function delimited(beginning: string): { delimiter: string; from: number } {
  const told = /^sep=([,;\t|])\r?\n/i.exec(beginning);
  if (told) return { delimiter: told[1] ?? ',', from: told[0].length };
  const head = /^\s*([^\r\n]*)/.exec(beginning)?.[1]?.replace(/"(?:[^"]|"")*"/g, '') ?? '';
  const count = (sign: string): number => head.split(sign).length;
  return { delimiter: Object.keys(SIGNS).reduce((best, sign) => (count(sign) > count(best) ? sign : best)), from: 0 };
}

function readRows(text: Buffer, delimiter: string, skipped: number, rows: TableRows): void {
  // A quoted cell may hold line ends: a row begins after the row before it.
  let before = skipped;
  const row = (cells: string[], { lines }: InfoRecord): null => {
    const line = before + 1;
    before = lines + skipped;
    if (line > MAX_EMPTY_LINES) refuse('The file has more lines than any spreadsheet, though many be empty.');
    if (cells.every((cell) => cell.trim() === '')) rows.emptyLines(1);
    for (const [column, cell] of cells.entries()) rows.add(line, column, cell);
    // Kept there, not here.
    return null;
  };
  const cell = (value: string, { index }: CastingContext): string => {
    if (index >= MAX_EMPTY_COLUMNS) refuse(`Line ${before + 1} has more columns than any spreadsheet.`);
    return value;
  };
  try {
    parse(text, {
      delimiter,
      relax_column_count: true,
      skip_empty_lines: false,
      max_record_size: MAX_LINE_BYTES,
      cast: cell,
      on_record: row as never,
    });
  } catch (error) {
    const { code, lines } = error as { code?: string; lines?: number };
    if (code === 'CSV_QUOTE_NOT_CLOSED') refuse('A quotation mark is opened and never closed.');
    if (code === 'CSV_MAX_RECORD_SIZE')
      refuse(
        `Line ${before + 1} does not end where a line of a table would. A quotation mark may be opened there and never closed.`,
      );
    if (code === 'INVALID_OPENING_QUOTE' || code === 'CSV_INVALID_CLOSING_QUOTE') {
      refuse(`Line ${lines ?? '?'} has a quotation mark in the middle of a cell: double it, or quote the whole cell.`);
    }
    throw error;
  }
}
