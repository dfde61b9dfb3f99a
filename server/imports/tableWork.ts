import { readFile } from 'node:fs/promises';
import { csvTable } from './csvTable.ts';
import type { Sheet } from './sheet.ts';
import { refuse } from './tableRows.ts';
import { workbookTable } from './workbook.ts';

/* Runs in the process that reads what comes from outside (server/readApart.ts). */

export async function work(file: string): Promise<Sheet> {
  const content = await readFile(file);
  if (content.length === 0) refuse('The file is empty.');
  if (content.subarray(0, 4).toString('latin1') === 'PK\u0003\u0004') return workbookTable(content);
  if (content.subarray(0, 4).toString('hex') === 'd0cf11e0') {
    refuse('That is a spreadsheet of the old kind. Save it as .xlsx or as CSV, then send it again.');
  }
  return csvTable(content);
}
