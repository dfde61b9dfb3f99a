import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { exportForm, exportsPage } from '../../views/costing/exportsPage.ts';
import type { FormState } from '../../views/kit/field.ts';
import { minorUnitDecimals } from '../calc/rounding.ts';
import type { Db } from '../db/open.ts';
import type { SavedExportRow } from '../db/tables/costing.ts';
import type { Deps } from '../deps.ts';
import { invalid, notFound } from '../errors.ts';
import type { App } from '../http/app.ts';
import { keysetPages, sendCsv } from '../http/csv.ts';
import { submitForm, typedBody } from '../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../http/page.ts';
import { MOST_ROWS, sendXlsx, XLSX_TYPE, type XlsxCell } from '../http/xlsx.ts';
import { actorOf, allows } from '../people/guards.ts';
import { newestLink, theStudio } from '../settings/queries.ts';
import { today } from '../settings/today.ts';
import { idParams } from '../typedFields.ts';
import {
  chosenColumns,
  costLineColumns,
  costLinesPage,
  type ExportColumn,
  type HistoryCostLine,
  type HistoryLot,
  lotColumns,
  lotsPage,
  moneyWriter,
  shareColumn,
  thousandths,
} from './exports.ts';
import { documented, filterOf } from './historyPages.ts';
import {
  type ClosedLotFilter,
  calledNames,
  closedLotSums,
  costLineTotals,
  historyChoices,
  type LotKey,
  listSavedExports,
  orderNumberOf,
  savedExportById,
} from './queries.ts';
import { type Reconciliation, reconciliation, type Written } from './reconcile.ts';
import { changeExport, columnsOf, daysOfSpan, forgetExport, saveExport, wantedOf } from './savedExports.ts';
import {
  ColumnsResource,
  ExportFilter,
  type ExportWanted,
  HistoryFilter,
  ReconciliationResource,
  SavedExportBody,
  SavedExportForm,
  SavedExportResource,
} from './schemas.ts';
import { takesParts } from './split.ts';
import { stockProof } from './stockProof.ts';

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

/** A column's value as a cell: what is a number or a day to the reader is one to the spreadsheet too, digit by digit. */
function cellOf<Row>(column: ExportColumn<Row>, row: Row): XlsxCell {
  const value = column.value(row);
  if (value === null || value === '') return null;
  if (column.cell === 'day') return { day: String(value) };
  return column.cell === undefined ? String(value) : { number: String(value), money: column.cell === 'money' };
}

const widthOf = (column: ExportColumn<never>): number =>
  column.cell === undefined ? Math.max(column.name.length + 2, 16) : Math.max(column.name.length + 2, 11);

/** The last sheet: that the rows above are the cost lines, the cost lines the history, and the materials the ledger. */
function* proofRows(
  r: Reconciliation,
  stock: Awaited<ReturnType<typeof stockProof>>,
  written: Written,
  rows: 'lot' | 'costLine',
  currency: string,
): Generator<XlsxCell[][]> {
  const money = moneyWriter(currency);
  const m = (minor: number): XlsxCell => ({ number: money(minor), money: true });
  const n = (count: number): XlsxCell => ({ number: String(count) });
  const q = (whole: number): XlsxCell => ({ number: thousandths(whole) });
  const head = (...words: string[]): XlsxCell[] => words.map((heading) => ({ heading }));
  yield [
    head('What must be equal', 'One side', 'Other side', 'Difference', 'Unit'),
    [
      r.partMinor === r.historyMinor
        ? 'Sum of the rows of this file / sum of the cost lines'
        : 'Sum of the rows of this file / part of these lots that the customer or the order carries',
      m(written.costMinor),
      m(r.partMinor === r.historyMinor ? r.lines.costMinor : r.partMinor),
      m(written.costMinor - (r.partMinor === r.historyMinor ? r.lines.costMinor : r.partMinor)),
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
    [],
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
    ...r.containers.map((c): XlsxCell[] => [
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
    [],
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

type Pages<Row> = Iterable<readonly Row[]>;

async function sendRows<Row>(
  reply: FastifyReply,
  deps: Deps,
  file: {
    format: 'csv' | 'xlsx';
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
          yield* proofRows(reconciliation(db, file.filter), stock, written, file.rows, currency);
          if (seal) yield [[], [`The record held ${seal.links} entries by then. The seal of the newest:`], [seal.link]];
        },
      },
    ],
  });
}

/** Streams the batch history as a file: both doors' one answer. */
async function sendExport(
  reply: FastifyReply,
  deps: Deps,
  wanted: ExportWanted,
  format: 'csv' | 'xlsx',
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

const savedResource = (db: Db, row: SavedExportRow): z.output<typeof SavedExportResource> => ({
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

const found = (db: Db, id: number): SavedExportRow => {
  const row = savedExportById(db, id);
  if (!row) throw notFound('saved export');
  return row;
};

/** Ticked columns of the kind of rows that was chosen, in their written order. */
const shapeOfForm = (typed: FormState['typed']): unknown => ({
  ...typed,
  columns: Object.keys(typed).flatMap((key) => {
    const [, rows, name] = /^(lot|costLine)\.column\.(\w+)$/.exec(key) ?? [];
    return rows === typed['rows'] && name !== undefined && typed[key] === 'yes' ? [name] : [];
  }),
});

export function pages(app: App, deps: Deps): void {
  const { db } = deps;

  for (const format of ['csv', 'xlsx'] as const) {
    app.get(
      `/history/export.${format}`,
      { config: { may: 'look' }, schema: { querystring: ExportFilter } },
      async (request, reply) => sendExport(reply, deps, request.query, format),
    );
    app.get(
      `/exports/:id/file.${format}`,
      { config: { may: 'look' }, schema: { params: idParams } },
      async (request, reply) => {
        const saved = found(db, request.params.id);
        return sendExport(reply, deps, wantedOf(db, saved, deps.now()), format, saved.name);
      },
    );
  }

  app.get('/exports', { config: { may: 'look' } }, async (request, reply) => {
    const todayOn = today(deps);
    return sendPage(request, reply, {
      title: 'Saved exports',
      section: 'history',
      body: exportsPage({
        exports: listSavedExports(db).map((row) => ({
          id: row.id,
          name: row.name,
          rows: row.rowKind,
          format: row.format,
          span: row.span,
          ...daysOfSpan(row, todayOn),
          order: row.orderId === null ? null : orderNumberOf(db, row.orderId),
          columnCount: columnsOf(row).length,
        })),
        mayWork: allows(request.actor, 'work'),
      }),
    });
  });

  const formPage = (form: FormState, saved: SavedExportRow | null): Rendering => {
    const studio = theStudio(db);
    const choices = historyChoices(db);
    const options = (list: { id: number; name: string }[]) =>
      list.map(({ id, name }) => ({ value: String(id), label: name }));
    return {
      title: saved ? `Change ${saved.name}` : 'Save an export',
      section: 'history',
      body: exportForm({
        form,
        savedId: saved?.id ?? null,
        choices: {
          customers: options(choices.customers),
          methods: options(choices.methods),
          fibres: options(choices.fibres),
        },
        columns: { lot: documented(lotColumns(studio)), costLine: documented(costLineColumns(studio)) },
      }),
    };
  };

  app.get('/exports/new', { config: { may: 'work' } }, async (request, reply) =>
    sendPage(
      request,
      reply,
      formPage(
        { typed: { rows: 'lot', format: 'xlsx', span: 'lastMonth', ...typedBody(request.query) }, errors: {} },
        null,
      ),
    ),
  );
  app.post('/exports', { config: { may: 'work' } }, async (request, reply) =>
    submitForm(request, reply, {
      schema: SavedExportForm,
      shape: shapeOfForm,
      save: ({ version: _, ...input }) => {
        saveExport(deps, input, actorOf(request));
        return '/exports';
      },
      again: (form) => formPage(form, null),
    }),
  );
  app.get('/exports/:id/edit', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const row = found(db, request.params.id);
    const typed: Record<string, string> = {
      name: row.name,
      rows: row.rowKind,
      format: row.format,
      span: row.span,
      from: row.fromOn ?? '',
      to: row.toOn ?? '',
      order: row.orderId === null ? '' : (orderNumberOf(db, row.orderId) ?? ''),
      customerId: String(row.customerId ?? ''),
      methodId: String(row.methodId ?? ''),
      fibreId: String(row.fibreId ?? ''),
      version: String(row.version),
    };
    for (const name of columnsOf(row)) typed[`${row.rowKind}.column.${name}`] = 'yes';
    return sendPage(request, reply, formPage({ typed, errors: {} }, row));
  });
  app.post('/exports/:id', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const row = found(db, request.params.id);
    return submitForm(request, reply, {
      schema: SavedExportForm,
      shape: shapeOfForm,
      save: ({ version, ...input }) => {
        changeExport(deps, row.id, input, version ?? 0);
        return '/exports';
      },
      again: (form) => formPage(form, row),
    });
  });
  app.post(
    '/exports/:id/removal',
    { config: { may: 'work' }, schema: { params: idParams } },
    async (request, reply) => {
      forgetExport(deps, request.params.id);
      return seeOther(reply, '/exports');
    },
  );
}

export function api(app: App, deps: Deps): void {
  const { db } = deps;
  const tags = ['Exports'];

  for (const format of ['csv', 'xlsx'] as const) {
    const id = format === 'csv' ? 'Csv' : 'Xlsx';
    const type = format === 'csv' ? 'text/csv' : XLSX_TYPE;
    const what = 'the file, streamed';
    const words = format === 'csv' ? 'CSV' : 'XLSX, with its columns explained and the proof that it ties';
    app.get(
      `/exports/lots.${format}`,
      {
        config: { may: 'look', download: { type, what } },
        schema: {
          operationId: `exportLots${id}`,
          tags,
          summary: `The batch history as ${words}, streamed: one row a lot, or one row a cost line (rows=costLine)`,
          querystring: ExportFilter,
        },
      },
      async (request, reply) => sendExport(reply, deps, request.query, format),
    );
    app.get(
      `/exports/saved/:id/file.${format}`,
      {
        config: { may: 'look', download: { type, what } },
        schema: {
          operationId: `exportSaved${id}`,
          tags,
          summary: `A saved export as ${words}, for today`,
          params: idParams,
        },
      },
      async (request, reply) => {
        const saved = found(db, request.params.id);
        return sendExport(reply, deps, wantedOf(db, saved, deps.now()), format, saved.name);
      },
    );
    // The same by its short name.
    app.get(
      `/exports/saved/:id(^[1-9]\\d*).${format}`,
      { config: { may: 'look' }, schema: { hide: true, params: idParams } },
      async (request, reply) => {
        const saved = found(db, request.params.id);
        return sendExport(reply, deps, wantedOf(db, saved, deps.now()), format, saved.name);
      },
    );
  }

  app.get(
    '/exports/columns',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'listExportColumns',
        tags,
        summary: 'What each column of the exports means',
        response: { 200: ColumnsResource },
      },
    },
    async () => {
      const studio = theStudio(db);
      return { lot: documented(lotColumns(studio)), costLine: documented(costLineColumns(studio)) };
    },
  );

  app.get(
    '/exports/reconciliation',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getReconciliation',
        tags,
        summary: 'That the cost lines are the ledger’s issues (mg, µL) and the sums of the batch history (minor units)',
        querystring: HistoryFilter,
        response: { 200: ReconciliationResource },
      },
    },
    async (request) => reconciliation(db, filterOf(db, request.query)),
  );

  app.get(
    '/exports/saved',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'listSavedExports',
        tags,
        summary: 'Saved exports',
        response: { 200: z.object({ savedExports: z.array(SavedExportResource) }) },
      },
    },
    async () => ({ savedExports: listSavedExports(db).map((row) => savedResource(db, row)) }),
  );
  app.post(
    '/exports/saved',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'addSavedExport',
        tags,
        summary: 'Save an export',
        body: SavedExportBody,
        response: { 201: SavedExportResource },
      },
    },
    async (request, reply) => {
      reply.code(201);
      return savedResource(db, saveExport(deps, request.body, actorOf(request)));
    },
  );
  app.put(
    '/exports/saved/:id',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'saveSavedExport',
        tags,
        summary: 'Change a saved export, against the version that was read',
        params: idParams,
        body: z.object({ export: SavedExportBody, version: z.number().int() }).meta({ id: 'SavedExportChange' }),
        response: { 200: SavedExportResource },
      },
    },
    async (request) =>
      savedResource(db, changeExport(deps, request.params.id, request.body.export, request.body.version)),
  );
  app.delete(
    '/exports/saved/:id',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'deleteSavedExport',
        tags,
        summary: 'Forget a saved export',
        params: idParams,
      },
    },
    async (request, reply) => {
      forgetExport(deps, request.params.id);
      return reply.code(204).send();
    },
  );
}
