import { Readable } from 'node:stream';
import { setImmediate as nextTurn } from 'node:timers/promises';
import type { FastifyReply } from 'fastify';
import { ZipFile } from 'yazl';

/** What one cell may hold: text, a decimal kept digit by digit, a calendar day 'YYYY-MM-DD', a heading, or nothing. */
export type XlsxCell = string | { number: string; money?: boolean } | { day: string } | { heading: string } | null;

export interface XlsxSheet {
  /** At most 31 characters, none of []:*?/\. */
  name: string;
  /** Widths of columns in characters. */
  widths: readonly number[];
  /** Rows in pages; the first row stays in sight when one scrolls. Read only when the sheets before it are written. */
  pages: () => Iterable<readonly (readonly XlsxCell[])[]> | AsyncIterable<readonly (readonly XlsxCell[])[]>;
}

/** Rows that a sheet can hold. Source: ECMA-376 implementations, SpreadsheetML limits of the common spreadsheet programs. */
export const MOST_ROWS = 1_048_576;

const HEAD = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n';
const MAIN = 'http://schemas.openxmlformats.org/spreadsheetml/2006/main';
const OFFICE = 'http://schemas.openxmlformats.org/officeDocument/2006/relationships';
const PACKAGE = 'http://schemas.openxmlformats.org/package/2006';
const TYPE = 'application/vnd.openxmlformats-officedocument.spreadsheetml';
export const XLSX_TYPE = `${TYPE}.sheet`;

/** Control characters but tab and line ends, and halves of a surrogate pair. */
const NOT_XML =
  // biome-ignore lint/suspicious/noControlCharactersInRegex: they are what is removed
  /[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]|[\ud800-\udbff](?![\udc00-\udfff])|(?<![\ud800-\udbff])[\udc00-\udfff]/g;

/** Text of an element. What XML 1.0 cannot carry is left out; _xHHHH_ would be read as an escape and is escaped itself. */
const text = (value: string): string =>
  value
    .replace(/_(?=x[0-9A-Fa-f]{4}_)/g, '_x005F_')
    .replace(NOT_XML, '')
    .replace(/[&<>]/g, (c) => (c === '&' ? '&amp;' : c === '<' ? '&lt;' : '&gt;'))
    .replaceAll('\r', '&#13;');
const attribute = (value: string): string => text(value).replaceAll('"', '&quot;');

const STYLE = { plain: 0, heading: 1, money: 2, day: 3 } as const;
const DAY_MS = 86_400_000;
/** Day 0 of a spreadsheet's calendar, 30 December 1899: later days count as if 1900 had been a leap year. */
const DAY_ZERO = Date.UTC(1899, 11, 30);

/** A, B, … Z, AA, … */
function columnName(index: number): string {
  let name = '';
  for (let n = index + 1; n > 0; n = Math.floor((n - 1) / 26)) name = String.fromCharCode(65 + ((n - 1) % 26)) + name;
  return name;
}

function cellXml(cell: XlsxCell, at: string): string {
  if (cell === null || cell === '') return '';
  if (typeof cell === 'string')
    return `<c r="${at}" t="inlineStr"><is><t xml:space="preserve">${text(cell)}</t></is></c>`;
  if ('heading' in cell)
    return `<c r="${at}" t="inlineStr" s="${STYLE.heading}"><is><t xml:space="preserve">${text(cell.heading)}</t></is></c>`;
  if ('day' in cell) {
    const serial = (Date.parse(`${cell.day}T00:00:00Z`) - DAY_ZERO) / DAY_MS;
    if (!Number.isInteger(serial)) throw new TypeError(`"${cell.day}" is no calendar day.`);
    return `<c r="${at}" s="${STYLE.day}"><v>${serial}</v></c>`;
  }
  if (!/^-?\d+(?:\.\d+)?$/.test(cell.number)) throw new TypeError(`"${cell.number}" is no decimal.`);
  return `<c r="${at}"${cell.money ? ` s="${STYLE.money}"` : ''}><v>${cell.number}</v></c>`;
}

async function* sheetXml(sheet: XlsxSheet): AsyncGenerator<string> {
  const cols = sheet.widths
    .map((width, i) => `<col min="${i + 1}" max="${i + 1}" width="${width}" customWidth="1"/>`)
    .join('');
  yield `${HEAD}<worksheet xmlns="${MAIN}"><sheetViews><sheetView workbookViewId="0"><pane ySplit="1" topLeftCell="A2" activePane="bottomLeft" state="frozen"/></sheetView></sheetViews>${cols ? `<cols>${cols}</cols>` : ''}<sheetData>`;
  let rows = 0;
  for await (const page of sheet.pages()) {
    let xml = '';
    for (const row of page) {
      rows += 1;
      xml += `<row r="${rows}">${row.map((cell, i) => cellXml(cell, `${columnName(i)}${rows}`)).join('')}</row>`;
    }
    if (rows > MOST_ROWS) throw new RangeError('More rows than a sheet can hold.');
    if (xml !== '') yield xml;
    await nextTurn();
  }
  yield '</sheetData></worksheet>';
}

const stylesXml = (moneyDecimals: number): string => {
  const money = moneyDecimals > 0 ? `#,##0.${'0'.repeat(moneyDecimals)}` : '#,##0';
  return `${HEAD}<styleSheet xmlns="${MAIN}"><numFmts count="2"><numFmt numFmtId="164" formatCode="${money}"/><numFmt numFmtId="165" formatCode="yyyy\\-mm\\-dd"/></numFmts><fonts count="2"><font><sz val="11"/><name val="Calibri"/></font><font><b/><sz val="11"/><name val="Calibri"/></font></fonts><fills count="2"><fill><patternFill patternType="none"/></fill><fill><patternFill patternType="gray125"/></fill></fills><borders count="1"><border/></borders><cellStyleXfs count="1"><xf/></cellStyleXfs><cellXfs count="4"><xf xfId="0"/><xf xfId="0" fontId="1" applyFont="1"/><xf xfId="0" numFmtId="164" applyNumberFormat="1"/><xf xfId="0" numFmtId="165" applyNumberFormat="1"/></cellXfs></styleSheet>`;
};

/** A workbook as a stream that never holds more than a page of rows. Source of the format: ECMA-376, Office Open XML. */
export function xlsxStream(input: { sheets: readonly XlsxSheet[]; moneyDecimals: number; at: number }): Readable {
  const { sheets } = input;
  const zip = new ZipFile();
  const mtime = new Date(input.at);
  const add = (path: string, xml: string): void => zip.addBuffer(Buffer.from(xml), path, { mtime });
  const numbered = <T>(of: (sheet: XlsxSheet, n: number) => T): T[] => sheets.map((sheet, i) => of(sheet, i + 1));
  add(
    '[Content_Types].xml',
    `${HEAD}<Types xmlns="${PACKAGE}/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/><Override PartName="/xl/workbook.xml" ContentType="${TYPE}.sheet.main+xml"/><Override PartName="/xl/styles.xml" ContentType="${TYPE}.styles+xml"/>${numbered((_, n) => `<Override PartName="/xl/worksheets/sheet${n}.xml" ContentType="${TYPE}.worksheet+xml"/>`).join('')}</Types>`,
  );
  add(
    '_rels/.rels',
    `${HEAD}<Relationships xmlns="${PACKAGE}/relationships"><Relationship Id="rId1" Type="${OFFICE}/officeDocument" Target="xl/workbook.xml"/></Relationships>`,
  );
  add(
    'xl/workbook.xml',
    `${HEAD}<workbook xmlns="${MAIN}" xmlns:r="${OFFICE}"><sheets>${numbered((sheet, n) => `<sheet name="${attribute(sheet.name)}" sheetId="${n}" r:id="rId${n}"/>`).join('')}</sheets></workbook>`,
  );
  add(
    'xl/_rels/workbook.xml.rels',
    `${HEAD}<Relationships xmlns="${PACKAGE}/relationships">${numbered((_, n) => `<Relationship Id="rId${n}" Type="${OFFICE}/worksheet" Target="worksheets/sheet${n}.xml"/>`).join('')}<Relationship Id="rId${sheets.length + 1}" Type="${OFFICE}/styles" Target="styles.xml"/></Relationships>`,
  );
  add('xl/styles.xml', stylesXml(input.moneyDecimals));
  sheets.forEach((sheet, i) => {
    zip.addReadStreamLazy(`xl/worksheets/sheet${i + 1}.xml`, { mtime }, (done) =>
      done(null, Readable.from(sheetXml(sheet), { objectMode: false })),
    );
  });
  const out = new Readable().wrap(zip.outputStream);
  // A failure half-way ends the connection, so that a broken file looks broken.
  zip.on('error', (error: Error) => out.destroy(error));
  zip.end();
  return out;
}

/** Sends a workbook to be kept, streamed. */
export function sendXlsx(
  reply: FastifyReply,
  filename: string,
  workbook: { sheets: readonly XlsxSheet[]; moneyDecimals: number; at: number },
): FastifyReply {
  return reply
    .type(XLSX_TYPE)
    .header(
      'content-disposition',
      `attachment; filename="${filename.replace(/[^\w.-]+/g, '-')}"; filename*=UTF-8''${encodeURIComponent(filename)}`,
    )
    .header('cache-control', 'no-store')
    .send(xlsxStream(workbook));
}
