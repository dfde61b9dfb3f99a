import { posix } from 'node:path';
import type { Sheet } from './sheet.ts';
import { demandCell, refuse, TableRows, tooMuchText } from './tableRows.ts';
import { type PartReader, UnpacksToTooMuch, Unreadable, zippedXml } from './zippedXml.ts';

/* The first sheet of a workbook (SpreadsheetML, ECMA-376 part 1, §18), read as it is unpacked. */

/** Filled cells, of the head and 5000 rows of 200 columns. */
const MAX_CELLS = 1_100_000;
const MAX_STYLES = 100_000;

export async function workbookTable(content: Buffer): Promise<Sheet> {
  try {
    const { read, close } = await zippedXml(content);
    try {
      return await firstSheet(read);
    } finally {
      close();
    }
  } catch (error) {
    if (error instanceof UnpacksToTooMuch)
      refuse(
        'That spreadsheet unpacks to more than can be read. Copy the table alone into a new one, or save it as CSV, then send that.',
      );
    if (error instanceof Unreadable)
      refuse('That file cannot be read as a spreadsheet. Save it as .xlsx or as CSV, then send it again.');
    throw error;
  }
}

interface Relation {
  type: string;
  path: string;
}

async function relationsOf(read: PartReader, part: string): Promise<Map<string, Relation>> {
  const relations = new Map<string, Relation>();
  const folder = posix.dirname(part);
  await read(posix.join(folder, '_rels', `${posix.basename(part)}.rels`), {
    open: (name, { Id = '', Type = '', Target = '' }) => {
      if (name !== 'Relationship' || relations.size > MAX_STYLES) return;
      const path = Target.startsWith('/') ? Target.slice(1) : posix.join(folder, Target);
      relations.set(Id, { type: Type.slice(Type.lastIndexOf('/') + 1), path });
    },
  });
  return relations;
}

const pathOf = (relations: ReadonlyMap<string, Relation>, type: string): string | undefined =>
  [...relations.values()].find((r) => r.type === type)?.path;

async function firstSheet(read: PartReader): Promise<Sheet> {
  const workbook = pathOf(await relationsOf(read, ''), 'officeDocument') ?? 'xl/workbook.xml';
  const relations = await relationsOf(read, workbook);
  let sheet: string | undefined;
  let from1904 = false;
  await read(workbook, {
    open: (name, attributes) => {
      if (name === 'workbookPr') from1904 = /^(1|true|on)$/.test(attributes['date1904'] ?? '');
      if (name !== 'sheet') return;
      const id = Object.entries(attributes).find(([key]) => key.endsWith(':id'))?.[1];
      const relation = relations.get(id ?? '');
      // A sheet may also be a chart.
      if (relation?.type === 'worksheet') sheet ??= relation.path;
    },
  });
  if (sheet === undefined) throw new Unreadable('no sheet');
  const formats = await formatsOf(read, pathOf(relations, 'styles'));
  const cells = await cellsOf(read, sheet, { formats, from1904 });
  const shared = await sharedStrings(read, pathOf(relations, 'sharedStrings'), cells.firstUse);
  const rows = new TableRows();
  let last = 0;
  for (const { line, column, value } of cells.found) {
    if (line > last + 1) rows.emptyLines(line - last - 1);
    last = line;
    rows.add(line, column, typeof value === 'string' ? value : (shared.get(value) ?? ''));
  }
  return rows.sheet(['XLSX, first sheet']);
}

type Format = 'number' | 'day' | 'time';

/** Formats of days and times that have a number and no code of their own (ECMA-376 part 1, §18.8.30). */
const BUILT_IN: readonly [from: number, to: number, format: Format][] = [
  [14, 17, 'day'],
  [18, 21, 'time'],
  [22, 22, 'day'],
  [27, 36, 'day'],
  [45, 47, 'time'],
  [50, 58, 'day'],
];

function formatOfCode(code: string): Format {
  // What stands in quotes, behind a backslash or an underscore, and colours or languages in brackets, is no date.
  const signs = code.slice(0, 1000).replace(/"[^"]*"|\\.|_.|\*.|\[(?!h+\]|m+\]|s+\])[^\]]*\]/gi, '');
  if (/[dy]|m{3,}/i.test(signs)) return 'day';
  return /[hs]/i.test(signs) ? 'time' : 'number';
}

/** The format of each cell style, by its place. */
async function formatsOf(read: PartReader, path: string | undefined): Promise<Format[]> {
  const codes = new Map<string, Format>();
  const formats: Format[] = [];
  let inCells = false;
  if (path === undefined) return formats;
  await read(path, {
    open: (name, { numFmtId = '', formatCode = '' }) => {
      if (name === 'numFmt' && codes.size < MAX_STYLES) codes.set(numFmtId, formatOfCode(formatCode));
      if (name === 'cellXfs') inCells = true;
      if (name !== 'xf' || !inCells || formats.length >= MAX_STYLES) return;
      const built = BUILT_IN.find(([from, to]) => Number(numFmtId) >= from && Number(numFmtId) <= to);
      formats.push(codes.get(numFmtId) ?? built?.[2] ?? 'number');
    },
    close: (name) => {
      if (name === 'cellXfs') inCells = false;
    },
  });
  return formats;
}

interface FoundCell {
  line: number;
  column: number;
  /** Its text, or the place of its text among the shared ones. */
  value: string | number;
}

/** Column and line of a reference such as AB12; undefined of what is none. */
function placeOf(reference: string): { line: number; column: number } | undefined {
  const [, letters = '', line = ''] = /^([A-Z]{1,3})(\d{1,7})$/.exec(reference) ?? [];
  if (letters === '') return undefined;
  let column = 0;
  for (const letter of letters) column = column * 26 + letter.charCodeAt(0) - 64;
  return { line: Number(line), column: column - 1 };
}

/** Elements whose text is a cell's: its value, or its own rich text without the reading aid above it. */
async function cellsOf(
  read: PartReader,
  path: string,
  how: { formats: readonly Format[]; from1904: boolean },
): Promise<{ found: FoundCell[]; firstUse: Map<number, FoundCell> }> {
  const found: FoundCell[] = [];
  const firstUse = new Map<number, FoundCell>();
  let textLength = 0;
  let at = { line: 0, column: -1 };
  let cell: { type: string; style: number; text: string } | undefined;
  let isReading = false;
  let isAid = false;
  const take = ({ type, style, text }: NonNullable<typeof cell>): void => {
    if (text.trim() === '') return;
    const value = type === 's' ? Number(text) : cellText(type, text, how.formats[style] ?? 'number', how.from1904);
    if (typeof value === 'number' && !(Number.isInteger(value) && value >= 0)) throw new Unreadable('no shared text');
    if (found.length >= MAX_CELLS) refuse('The sheet has more filled cells than can be read: send it in parts.');
    const one = { ...at, value };
    found.push(one);
    if (typeof value === 'number') {
      if (!firstUse.has(value)) firstUse.set(value, one);
      return;
    }
    textLength += value.length;
    if (tooMuchText(textLength)) throw new UnpacksToTooMuch();
  };
  await read(path, {
    open: (name, { r = '', t = 'n', s = '' }) => {
      if (name === 'row') at = { line: /^\d{1,7}$/.test(r) ? Number(r) : at.line + 1, column: -1 };
      else if (name === 'c') {
        at = placeOf(r) ?? { line: at.line, column: at.column + 1 };
        cell = { type: t, style: Number(s), text: '' };
      } else if (name === 'rPh') isAid = true;
      else if (cell && (name === 'v' || name === 't')) isReading = !isAid;
    },
    text: (text) => {
      if (!isReading || !cell) return;
      cell.text += text;
      demandCell(at.line, at.column, cell.text.length);
    },
    close: (name) => {
      if (name === 'v' || name === 't') isReading = false;
      else if (name === 'rPh') isAid = false;
      else if (name === 'c' && cell) {
        take(cell);
        cell = undefined;
      }
    },
  });
  return { found, firstUse };
}

/** Those of the shared texts that a cell of the sheet uses; all others pass by. */
async function sharedStrings(
  read: PartReader,
  path: string | undefined,
  firstUse: ReadonlyMap<number, FoundCell>,
): Promise<Map<number, string>> {
  const strings = new Map<number, string>();
  if (path === undefined) return strings;
  let index = -1;
  let use: FoundCell | undefined;
  let text = '';
  let textLength = 0;
  let isReading = false;
  let isAid = false;
  await read(path, {
    open: (name) => {
      if (name === 'si') {
        index++;
        use = firstUse.get(index);
        text = '';
      } else if (name === 'rPh') isAid = true;
      else if (name === 't') isReading = use !== undefined && !isAid;
    },
    text: (piece) => {
      if (!isReading || !use) return;
      text += piece;
      demandCell(use.line, use.column, text.length);
    },
    close: (name) => {
      if (name === 't') isReading = false;
      else if (name === 'rPh') isAid = false;
      else if (name === 'si' && use) {
        textLength += text.length;
        if (tooMuchText(textLength)) throw new UnpacksToTooMuch();
        strings.set(index, unescaped(text));
      }
    },
  });
  return strings;
}

/** Characters that XML cannot carry are written _xHHHH_ (ECMA-376 part 1, §22.9.2.19). */
const unescaped = (text: string): string =>
  text.replace(/_x([0-9A-Fa-f]{4})_/g, (_, code: string) => String.fromCharCode(Number.parseInt(code, 16)));

/** A cell as it would be typed. */
function cellText(type: string, text: string, format: Format, from1904: boolean): string {
  if (type === 'b') return text.trim() === '1' ? 'true' : 'false';
  if (type === 'd') return text.trim().slice(0, 10);
  if (type !== 'n') return unescaped(text);
  const value = Number(text);
  if (!Number.isFinite(value)) return text;
  if (format !== 'number') return dayOrTime(value, format, from1904) ?? numberText(value);
  return numberText(value);
}

/** 0.1 + 0.2 as a formula gives 0.30000000000000004: fifteen digits are what a spreadsheet itself holds true. */
const numberText = (value: number): string => String(Number(value.toPrecision(15)));

const DAY_S = 86_400;
/** Day 0 of a spreadsheet's two calendars. In the first, days from March 1900 on count as if 1900 had been a leap year. */
const DAY_ZERO = { 1900: Date.UTC(1899, 11, 30), 1904: Date.UTC(1904, 0, 1) };
/** 31 December 9999. */
const LAST_DAY = 2_958_465;

function dayOrTime(serial: number, format: 'day' | 'time', from1904: boolean): string | undefined {
  if (serial < 0 || serial > LAST_DAY) return undefined;
  const seconds = Math.round(serial * DAY_S);
  if (format === 'day') {
    const days = Math.floor(seconds / DAY_S);
    return new Date(DAY_ZERO[from1904 ? 1904 : 1900] + days * DAY_S * 1000).toISOString().slice(0, 10);
  }
  const two = (n: number): string => String(n).padStart(2, '0');
  const rest = seconds % 60;
  const clock = `${two(Math.floor(seconds / 3600))}:${two(Math.floor(seconds / 60) % 60)}`;
  return rest === 0 ? clock : `${clock}:${two(rest)}`;
}
