import type { FastifyReply } from 'fastify';
import { minorUnitDecimals } from '../calc/rounding.ts';
import { filterOf } from '../costing/closedLotFilter.ts';
import { type ClosedLotFilter, calledNames, closedLotSums, costLineTotals, type LotKey } from '../costing/queries.ts';
import { takesParts } from '../costing/split.ts';
import { stockProof } from '../costing/stockProof.ts';
import type { Db } from '../db/open.ts';
import type { Deps } from '../deps.ts';
import { found, invalid } from '../errors.ts';
import { keysetPages, sendCsv } from '../http/csv.ts';
import { MOST_ROWS, sendXlsx, type XlsxCell } from '../http/xlsx.ts';
import { newestLink, theStudio } from '../settings/queries.ts';
import { chosenColumns, costLineColumns, type ExportColumn, lotColumns, shareColumn } from './columns.ts';
import { costLinesPage, type HistoryCostLine, type HistoryLot, lotsPage } from './history.ts';
import { cellOf, proofRows, widthOf } from './present.ts';
import { savedExportById } from './queries.ts';
import { reconciliation, type Written } from './reconcile.ts';
import { wantedOf } from './savedExports.ts';
import type { ExportWanted, FileFormat } from './schemas.ts';

/** Small enough that what is read is written and forgotten before the garbage collector keeps it for long. */
const LOTS_A_READ = 40;

function* costLinePages(db: Db, filter: ClosedLotFilter) {
  const names = calledNames(db);
  let after: LotKey | null = null;
  for (;;) {
    const { lines, last }: ReturnType<typeof costLinesPage> = costLinesPage(db, filter, after, LOTS_A_READ, names);
    if (last === null) return;
    yield lines;
    after = last;
  }
}

const lotPages = (db: Db, filter: ClosedLotFilter) =>
  keysetPages<HistoryLot, LotKey>(
    (after) => lotsPage(db, filter, after, LOTS_A_READ),
    (lot) => lot,
  );

type Pages<Row> = Iterable<readonly Row[]>;

async function sendRows<Row>(
  reply: FastifyReply,
  deps: Deps,
  file: {
    format: FileFormat;
    name: string;
    rows: 'lot' | 'costLine';
    filter: ClosedLotFilter;
    columns: ExportColumn<Row>[];
    pages: () => Pages<Row>;
    costOf: (row: Row) => number;
  },
): Promise<FastifyReply> {
  const { db } = deps;
  const { columns, pages } = file;
  const seal = newestLink(db);
  // A file of rows has no room for it beside them.
  if (file.format === 'csv' && seal) reply.header('record-seal', `${seal.links} ${seal.link}`);
  if (file.format === 'csv') return sendCsv(reply, `${file.name}.csv`, columns, pages());
  const { currency } = theStudio(db);
  const written: Written = { rows: 0, costMinor: 0 };
  return sendXlsx(reply, `${file.name}.xlsx`, {
    moneyDecimals: minorUnitDecimals({ currency }),
    at: deps.now(),
    sheets: [
      {
        name: file.rows === 'lot' ? 'Lots' : 'Cost lines',
        widths: columns.map(widthOf),
        pages: function* () {
          yield [columns.map((c): XlsxCell => ({ heading: c.name }))];
          for (const page of pages()) {
            for (const row of page) {
              written.rows += 1;
              written.costMinor += file.costOf(row);
            }
            yield page.map((row) => columns.map((c) => cellOf(c, row)));
          }
        },
      },
      {
        name: 'Columns',
        widths: [20, 18, 90],
        pages: () => [
          [
            ['Column', 'Unit', 'Meaning'].map((heading): XlsxCell => ({ heading })),
            ...columns.map((c): XlsxCell[] => [c.name, c.unit, c.meaning]),
          ],
        ],
      },
      {
        name: 'Reconciliation',
        widths: [60, 16, 16, 14, 8, 16, 16, 14, 30],
        // Read last, after the rows, and so over the same lots.
        pages: async function* () {
          const stock = await stockProof(db, file.filter.endAt - 1);
          yield proofRows(reconciliation(db, file.filter), stock, written, file.rows, currency);
        },
      },
      {
        name: 'The record',
        widths: [20, 70],
        pages: (): XlsxCell[][][] => [
          [
            [{ heading: 'Entries by then' }, { heading: 'Seal of the newest' }],
            [{ number: String(seal?.links ?? 0) }, seal?.link ?? ''],
          ],
        ],
      },
    ],
  });
}

/** Streams the batch history as a file: both doors' one answer. */
export async function sendExport(
  reply: FastifyReply,
  deps: Deps,
  wanted: ExportWanted,
  format: FileFormat,
  savedName?: string,
): Promise<FastifyReply> {
  const { db } = deps;
  const filter = filterOf(db, wanted);
  const studio = theStudio(db);
  const span = [wanted.from && `from ${wanted.from}`, wanted.to && `to ${wanted.to}`].filter(Boolean).join(' ');
  const name = [
    savedName ?? 'batch history',
    span,
    savedName === undefined && wanted.rows === 'costLine' && 'cost lines',
  ]
    .filter(Boolean)
    .join(' ');
  const base = { format, name, filter };
  const share = <Row extends { sharePpm: number }>(): ExportColumn<Row>[] =>
    takesParts(filter) ? [shareColumn((row) => row.sharePpm)] : [];
  if (format === 'xlsx') {
    const rows = wanted.rows === 'lot' ? closedLotSums(db, filter).lots : costLineTotals(db, filter).lines;
    if (rows >= MOST_ROWS) throw invalid({ to: 'More rows than a sheet can hold: choose fewer days, or CSV.' });
  }
  if (wanted.rows === 'costLine') {
    return sendRows(reply, deps, {
      ...base,
      rows: 'costLine',
      columns: [...chosenColumns(costLineColumns(studio), wanted.columns), ...share<HistoryCostLine>()],
      pages: () => costLinePages(db, filter),
      costOf: ({ line }) => line.costMinor,
    });
  }
  return sendRows(reply, deps, {
    ...base,
    rows: 'lot',
    columns: [...chosenColumns(lotColumns(studio), wanted.columns), ...share<HistoryLot>()],
    pages: () => lotPages(db, filter),
    costOf: (lot) => lot.totalMinor,
  });
}

/** A saved export as a file, for today. */
export function sendSavedExport(
  reply: FastifyReply,
  deps: Deps,
  id: number,
  format: FileFormat,
): Promise<FastifyReply> {
  const saved = found(savedExportById(deps.db, id), 'saved export');
  return sendExport(reply, deps, wantedOf(deps.db, saved, deps.now()), format, saved.name);
}
