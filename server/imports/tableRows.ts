import { invalid } from '../errors.ts';
import type { Sheet } from './sheet.ts';

/* What a table from outside may hold, judged cell by cell while it comes: nothing here grows with the file, only with what was
   found to be within the limits. */

const MAX_ROWS = 5000;
const MAX_COLUMNS = 200;
/** As long as a spreadsheet's own cells may be (common practice); readings of one card run to thousands of characters. */
const MAX_CELL = 32_767;
/** In all cells together. A library of 5000 swatches with spectra has some 2 million characters. */
const MAX_TEXT = 20_000_000;

export const refuse = (words: string): never => {
  throw invalid({ file: words });
};

/** A, B, … Z, AA, …, as a spreadsheet calls its columns. */
function columnLetters(index: number): string {
  let name = '';
  for (let n = index + 1; n > 0; n = Math.floor((n - 1) / 26)) name = String.fromCharCode(65 + ((n - 1) % 26)) + name;
  return name;
}

const whole = (n: number): string => String(n).replace(/(?<=\d)(?=(?:\d{3})+$)/g, '\u202f');

export const tooMuchText = (length: number): boolean => length > MAX_TEXT;

interface Row {
  line: number;
  cells: Map<number, string>;
}

/** Refuses a cell as soon as it is known to be too long. */
export function demandCell(line: number, column: number, length: number): void {
  if (length <= MAX_CELL) return;
  refuse(
    `Cell ${columnLetters(column)}${line} holds more than ${whole(MAX_CELL)} characters, the most that can be read of one. Shorten it, or leave its column out of the file.`,
  );
}

/** Collects the filled cells of a table. An empty cell costs nothing, wherever it stands. */
export class TableRows {
  readonly #rows: Row[] = [];
  #emptyLines = 0;
  #row: Row | undefined;
  #width = 0;
  #textLength = 0;
  #emptyBelow = 0;

  /** Lines come in their order, cells of a line in any. */
  add(line: number, column: number, text: string): void {
    const value = text.trim();
    if (value === '') return;
    demandCell(line, column, value.length);
    if (column >= MAX_COLUMNS)
      refuse(
        `Cell ${columnLetters(column)}${line} lies beyond the ${MAX_COLUMNS} columns that a table may have. If it is a stray one, clear it; else send fewer columns.`,
      );
    this.#textLength += value.length;
    if (tooMuchText(this.#textLength))
      refuse(`The file holds more than ${whole(MAX_TEXT)} characters of text: send it in parts.`);
    if (this.#row?.line !== line) {
      // The head is a row too.
      if (this.#rows.length > MAX_ROWS) refuse(`The file has more than ${MAX_ROWS} rows: send it in parts.`);
      this.#emptyLines += this.#emptyBelow;
      this.#emptyBelow = 0;
      this.#row = { line, cells: new Map() };
      this.#rows.push(this.#row);
    }
    this.#width = Math.max(this.#width, column + 1);
    this.#row.cells.set(column, value);
  }

  /** They are told only where something stands below them. */
  emptyLines(count: number): void {
    this.#emptyBelow += count;
  }

  sheet(notes: readonly string[]): Sheet {
    const [head, ...rows] = this.#rows;
    if (!head) return refuse('There is nothing in the file.');
    if (rows.length === 0) refuse('The file has a head and no rows below it.');
    const seen = new Map<string, number>();
    const columns = Array.from({ length: this.#width }, (_, i) => {
      const name = (head.cells.get(i) ?? '').replace(/\s+/g, ' ').trim() || `column ${i + 1}`;
      const n = (seen.get(name.toLowerCase()) ?? 0) + 1;
      seen.set(name.toLowerCase(), n);
      return n === 1 ? name.slice(0, 100) : `${name.slice(0, 90)} (${n})`;
    });
    return {
      columns,
      notes: [...notes, ...(this.#emptyLines > 0 ? [`${this.#emptyLines} empty lines left out`] : [])],
      rows: rows.map(({ line, cells }) => ({ line, cells: columns.map((_, i) => unguarded(cells.get(i) ?? '')) })),
    };
  }
}

/** Our own exports put an apostrophe before what a spreadsheet would run as a formula: taken off again. */
const unguarded = (cell: string): string => (/^'[=+\-@\t\r＝＋－＠]/.test(cell) ? cell.slice(1) : cell);
