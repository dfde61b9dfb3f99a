import type { stockProof } from '../costing/stockProof.ts';
import type { Db } from '../db/open.ts';
import type { SavedExportRow } from '../db/tables/costing.ts';
import type { XlsxCell } from '../http/xlsx.ts';
import { type ExportColumn, moneyWriter, thousandths } from './columns.ts';
import { orderNumberOf } from './queries.ts';
import type { Written } from './reconcile.ts';
import { columnsOf } from './savedExports.ts';
import type { ColumnDoc, Reconciliation, SavedExport } from './schemas.ts';

/** Columns as the page and the API explain them. */
export const documented = (columns: readonly ExportColumn<never>[]): ColumnDoc[] =>
  columns.map(({ name, unit, meaning }) => ({ name, unit, meaning }));

/** A column's value as a cell: what is a number or a day to the reader is one to the spreadsheet too, digit by digit. */
export function cellOf<Row>(column: ExportColumn<Row>, row: Row): XlsxCell {
  const value = column.value(row);
  if (value === null || value === '') return null;
  if (column.cell === 'day') return { day: String(value) };
  return column.cell === undefined ? String(value) : { number: String(value), money: column.cell === 'money' };
}

export const widthOf = (column: ExportColumn<never>): number =>
  column.cell === undefined ? Math.max(column.name.length + 2, 16) : Math.max(column.name.length + 2, 11);

/** Figures as cells. */
const writersOf = (currency: string) => {
  const money = moneyWriter(currency);
  return {
    m: (minor: number): XlsxCell => ({ number: money(minor), money: true }),
    n: (count: number): XlsxCell => ({ number: String(count) }),
    q: (whole: number): XlsxCell => ({ number: thousandths(whole) }),
  };
};
const head = (...words: string[]): XlsxCell[] => words.map((heading) => ({ heading }));

/** What was written to the file beside the cost lines, and these beside the history and the ledger. */
function tieRows(r: Reconciliation, written: Written, rows: 'lot' | 'costLine', currency: string): XlsxCell[][] {
  const { m, n, q } = writersOf(currency);
  const isWhole = r.partMinor === r.historyMinor;
  const expectedMinor = isWhole ? r.lines.costMinor : r.partMinor;
  return [
    head('What must be equal', 'One side', 'Other side', 'Difference', 'Unit'),
    [
      isWhole
        ? 'Sum of the rows of this file / sum of the cost lines'
        : 'Sum of the rows of this file / part of these lots that the customer or the order carries',
      m(written.costMinor),
      m(expectedMinor),
      m(written.costMinor - expectedMinor),
      currency,
    ],
    [
      'Sum of the cost lines / sums of the batch history',
      m(r.lines.costMinor),
      m(r.historyMinor),
      m(r.lines.costMinor - r.historyMinor),
      currency,
    ],
    rows === 'lot'
      ? ['Rows of this file (one a lot)', n(written.rows), null, null, 'rows']
      : ['Rows of this file / cost lines', n(written.rows), n(r.lines.lines), n(written.rows - r.lines.lines), 'rows'],
    [
      'Weighed out by the cost lines / by the stock ledger',
      q(r.mg.lineQuantity),
      q(r.mg.ledgerQuantity),
      q(r.mg.lineQuantity - r.mg.ledgerQuantity),
      'g',
    ],
    [
      'Measured out by the cost lines / by the stock ledger',
      q(r.ul.lineQuantity),
      q(r.ul.ledgerQuantity),
      q(r.ul.lineQuantity - r.ul.ledgerQuantity),
      'mL',
    ],
    [
      'Materials by the cost lines / by the ledger at the containers’ own prices; the difference is rounding, moving averages and corrected rates',
      m(r.materialMinor),
      m(r.ledgerMinor),
      m(r.valuationDifferenceMinor),
      currency,
    ],
  ];
}

/** Container by container: by the cost lines, and by the ledger. */
function containerRows(containers: Reconciliation['containers'], currency: string): XlsxCell[][] {
  const { m, q } = writersOf(currency);
  return [
    head(
      'Container',
      'By cost lines',
      'By ledger',
      'Difference',
      'Unit',
      'Cost by lines',
      'By ledger',
      'Difference',
      'Of',
    ),
    ...containers.map((c): XlsxCell[] => [
      c.code,
      q(c.lineQuantity),
      q(c.ledgerQuantity),
      q(c.lineQuantity - c.ledgerQuantity),
      c.unit === 'mg' ? 'g' : 'mL',
      m(c.lineCostMinor),
      m(c.ledgerCostMinor),
      m(c.lineCostMinor - c.ledgerCostMinor),
      c.itemName,
    ]),
  ];
}

function materialRows(stock: Awaited<ReturnType<typeof stockProof>>, currency: string): XlsxCell[][] {
  const { m } = writersOf(currency);
  return [
    ['Where the money of each material has gone, from its first receipt to the end of these days'],
    head(
      'Material',
      'Paid',
      'Issued',
      'Written off',
      '',
      'Of it rounding',
      'In stock',
      'Difference',
      'Of it weighed out',
    ),
    ...[...stock.materials, { ...stock.total, code: '', name: 'Together' }].map((w): XlsxCell[] => [
      `${w.code} ${w.name}`.trim(),
      m(w.paidMinor),
      m(w.issuedMinor),
      m(w.writtenOffMinor),
      currency,
      m(w.roundingMinor),
      m(w.inStockMinor),
      m(w.differenceMinor),
      m(w.onBenchMinor),
    ]),
  ];
}

/** The last sheet: that the rows above are the cost lines, the cost lines the history, and the materials the ledger. */
export const proofRows = (
  r: Reconciliation,
  stock: Awaited<ReturnType<typeof stockProof>>,
  written: Written,
  rows: 'lot' | 'costLine',
  currency: string,
): XlsxCell[][] => [
  ...tieRows(r, written, rows, currency),
  [],
  ...containerRows(r.containers, currency),
  [],
  ...materialRows(stock, currency),
];

export const savedExportResource = (db: Db, row: SavedExportRow): SavedExport => ({
  savedExportId: row.id,
  name: row.name,
  rows: row.rowKind,
  format: row.format,
  span: row.span,
  from: row.fromOn,
  to: row.toOn,
  order: row.orderId === null ? '' : (orderNumberOf(db, row.orderId) ?? ''),
  customerId: row.customerId,
  methodId: row.methodId,
  fibreId: row.fibreId,
  columns: columnsOf(row),
  version: row.version,
});
