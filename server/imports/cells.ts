import { type Field, headOf, unitOfHead } from './fields.ts';
import type { ChoicesInput } from './schemas.ts';
import type { Sheet } from './sheet.ts';

const MONTHS = ['jan', 'feb', 'mar', 'apr', 'may', 'jun', 'jul', 'aug', 'sep', 'oct', 'nov', 'dec'];

type ReadDay = { kind: 'day'; on: string } | { kind: 'twoWays' } | { kind: 'none' };

/** A day as people write it. A number below 13 on both sides of a stroke can be day or month: `order` decides, or it stays
 *  open. With points the day comes first (common practice where points are used). */
export function readDay(text: string, order: ChoicesInput['dates']): ReadDay {
  const plain = text.replace(/[T\s]\d{1,2}:\d{2}(?::\d{2})?(?:\.\d+)?Z?$/, '').trim();
  const named =
    /^(\d{1,2})[\s.-]+([a-z]{3})[a-z]*\.?,?[\s.-]+(\d{2}|\d{4})$/i.exec(plain) ??
    (([, m, d, y]) => (m ? [plain, d, m, y] : null))(
      /^([a-z]{3})[a-z]*\.?\s+(\d{1,2}),?\s+(\d{2}|\d{4})$/i.exec(plain) ?? [],
    );
  if (named) return day(named[3], MONTHS.indexOf(String(named[2]).toLowerCase()) + 1, named[1]);
  const iso = /^(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})$/.exec(plain) ?? /^(\d{4})(\d{2})(\d{2})$/.exec(plain);
  if (iso) return day(iso[1], iso[2], iso[3]);
  const [, first, sign, second, year] = /^(\d{1,2})([-/.])(\d{1,2})\2(\d{2}|\d{4})$/.exec(plain) ?? [];
  if (first === undefined) return { kind: 'none' };
  const [one, two] = [Number(first), Number(second)];
  if (sign === '.' || one > 12 || one === two) return day(year, second, first);
  if (two > 12) return day(year, first, second);
  if (order === '') return { kind: 'twoWays' };
  return order === 'dmy' ? day(year, second, first) : day(year, first, second);
}

function day(y: string | undefined, m: string | number | undefined, d: string | undefined): ReadDay {
  // Two digits as POSIX has them: 69–99 are of the twentieth century.
  const year = String(y).length === 2 ? Number(y) + (Number(y) >= 69 ? 1900 : 2000) : Number(y);
  const date = new Date(Date.UTC(year, Number(m) - 1, Number(d)));
  // A month that there is not leads into another year, and a day that it has not to another day.
  if (date.getUTCFullYear() !== year || date.getUTCDate() !== Number(d)) return { kind: 'none' };
  return { kind: 'day', on: date.toISOString().slice(0, 10) };
}

/** Whether the day or the month comes first in these cells, where one of them can only be read one way; '' where none says
 *  or they contradict each other. */
export function orderSaid(texts: readonly string[]): ChoicesInput['dates'] {
  const said = new Set<string>();
  for (const text of texts) {
    const [, first, second] = /^(\d{1,2})[-/](\d{1,2})[-/](?:\d{2}|\d{4})\b/.exec(text.trim()) ?? [];
    if (Number(first) > 12) said.add('dmy');
    if (Number(second) > 12) said.add('mdy');
  }
  return said.size === 1 ? ([...said][0] as 'dmy' | 'mdy') : '';
}

/** A number's decimal sign as the person said it, where it can be read two ways. */
export function withPoint(text: string, decimal: ChoicesInput['decimal']): string {
  if (decimal === 'comma') return text.replace(/(\d)\.(?=\d{3}(?:\D|$))/g, '$1').replace(/(\d),(?=\d)/g, '$1.');
  if (decimal === 'point') return text.replace(/(\d),(?=\d{3}(?:\D|$))/g, '$1');
  return text;
}

const BARE_NUMBER = /^[-+−]?[\d.,\s]*\d[\d.,]*(?:\s*\d+\/\d+)?$/;

/** How the rows of one sheet are read into words for the forms: by the columns chosen and the answers given. */
export interface RowReader {
  /** Words of one row by field, and messages by field where a cell can be read two ways, or no way at all. */
  read: (cells: readonly string[]) => { words: Record<string, string>; problems: Record<string, string> };
  /** The cell of a field as it stands in the file; '' where it has no column. */
  cellOf: (name: string, cells: readonly string[]) => string;
}

export function rowReader(sheet: Sheet, fields: readonly Field[], choices: ChoicesInput): RowReader {
  const columns = fields.flatMap((field) => {
    const column = choices.columns[field.name];
    return column === undefined ? [] : [{ field, column }];
  });
  const orders = new Map(
    columns
      .filter((c) => c.field.type === 'day')
      .map(
        (c) => [c.field.name, choices.dates || orderSaid(sheet.rows.map((row) => row.cells[c.column] ?? ''))] as const,
      ),
  );
  const units = new Map(columns.map((c) => [c.field.name, unitOfHead(sheet.columns[c.column] ?? '')] as const));

  const readCell = (field: Field, raw: string, problems: Record<string, string>): string => {
    if (raw === '' || field.type === 'text') return raw;
    if (field.type === 'quantity') {
      const pointed = withPoint(raw, choices.decimal);
      const unit = units.get(field.name);
      if (!unit || !BARE_NUMBER.test(pointed)) return pointed;
      return unit === 'ppm' ? `${Number(pointed.replace(',', '.')) / 10_000} %` : `${pointed} ${unit}`;
    }
    if (field.type === 'day') {
      const read = readDay(raw, orders.get(field.name) ?? '');
      if (read.kind === 'day') return read.on;
      problems[field.name] =
        read.kind === 'twoWays'
          ? `“${raw}” can be read two ways: say below whether the day or the month comes first.`
          : `“${raw}” is not a day that I can read: try 2026-03-31.`;
      return '';
    }
    const word = field.words?.[headOf(raw)];
    if (word === undefined) {
      const known = [...new Set(Object.values(field.words ?? {}))].join(', ');
      problems[field.name] = `“${raw}” is none of: ${known}.`;
      return '';
    }
    return word;
  };

  return {
    cellOf: (name, cells) => cells[columns.find((c) => c.field.name === name)?.column ?? -1] ?? '',
    read: (cells) => {
      const problems: Record<string, string> = {};
      const typed: Record<string, string> = {};
      for (const field of fields) if (field.otherwise !== undefined) typed[field.name] = field.otherwise;
      for (const { field, column } of columns) {
        const value = readCell(field, cells[column] ?? '', problems);
        if (value !== '') typed[field.name] = value;
      }
      return { words: typed, problems };
    },
  };
}
