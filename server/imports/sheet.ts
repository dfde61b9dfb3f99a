import { readingProcess } from '../readApart.ts';

/** A table as a file holds it: names of the columns, then rows of text. */
export interface Sheet {
  columns: string[];
  rows: { line: number; cells: string[] }[];
  /** How it was read, for the page. */
  notes: string[];
}

/** Reads a CSV file (comma, semicolon, tab or bar; quotes; BOM; UTF-8, UTF-16 or Western European) or the first sheet of an
 *  XLSX file, in a process of its own (tableWork.ts). Throws with words for the field `file`. */
export const readSheet = (content: Uint8Array): Promise<Sheet> =>
  readingProcess.read<Sheet>('table', content, null, 'file');
