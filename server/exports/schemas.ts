import { z } from 'zod';
import { closedLotFields, inOrder, money, OUT_OF_ORDER } from '../costing/schemas.ts';
import { NextPage } from '../http/paging.ts';
import { unit } from '../stock/schemas.ts';
import { jsonDay, jsonId, requiredText, versionField } from '../typedFields.ts';

/** Which closed lots: by the studio day on which they were finished, and by whom and what they were for. */
export const HistoryFilter = z
  .object({
    ...closedLotFields,
    /** Where the list goes on: 'finishedAt.lotId' of the last lot shown. */
    after: z
      .string()
      .regex(/^\d{1,16}\.\d{1,15}$/, 'Open the page again.')
      .optional(),
  })
  .refine(inOrder, OUT_OF_ORDER);

export type HistoryFilterInput = z.output<typeof HistoryFilter>;

const rows = z.enum(['lot', 'costLine'], { error: 'One row a lot, or one row a costLine?' });

export const ExportFilter = z
  .object({
    ...closedLotFields,
    rows: rows.default('lot'),
    columns: z
      .string()
      .max(2000)
      .default('')
      .transform((names) =>
        names
          .split(',')
          .map((name) => name.trim())
          .filter(Boolean),
      )
      .meta({ description: 'names of columns, separated by commas, in the order wanted; all when left out' }),
  })
  .refine(inOrder, OUT_OF_ORDER);

export type ExportWanted = z.output<typeof ExportFilter>;

// ── saved exports ──
export const spans = ['fixed', 'thisMonth', 'lastMonth', 'thisYear', 'lastYear', 'everything'] as const;

const format = z.enum(['csv', 'xlsx'], { error: 'CSV or XLSX?' });

export type FileFormat = z.output<typeof format>;

export const SavedExportForm = z
  .object({
    name: requiredText('A name, to find it again: “month for the accountant”.', 80),
    rows,
    format,
    span: z.enum(spans, { error: 'Which days?' }),
    ...closedLotFields,
    columns: z.array(z.string()).default([]),
    version: versionField().optional(),
  })
  .refine(inOrder, OUT_OF_ORDER);

export const SavedExportBody = z
  .object({
    name: z.string().trim().min(1).max(80),
    rows: rows.default('lot'),
    format: format.default('csv'),
    span: z
      .enum(spans)
      .default('lastMonth')
      .meta({ description: 'fixed goes by from and to; the others move with the calendar' }),
    from: jsonDay.nullable().default(null),
    to: jsonDay.nullable().default(null),
    order: z.string().max(60).default('').meta({ description: 'an order’s number' }),
    customerId: jsonId.nullable().default(null),
    methodId: jsonId.nullable().default(null),
    fibreId: jsonId.nullable().default(null),
    columns: z.array(z.string()).max(60).default([]).meta({ description: 'in the order wanted; all when empty' }),
  })
  .refine(inOrder, OUT_OF_ORDER)
  .meta({ id: 'NewSavedExport' });

export type SavedExportInput = Omit<z.output<typeof SavedExportForm>, 'version'>;

export const SavedExportResource = z
  .object({
    savedExportId: jsonId,
    name: z.string(),
    rows,
    format,
    span: z.enum(spans),
    from: z.string().nullable(),
    to: z.string().nullable(),
    order: z.string(),
    customerId: jsonId.nullable(),
    methodId: jsonId.nullable(),
    fibreId: jsonId.nullable(),
    columns: z.array(z.string()),
    version: z.number().int(),
  })
  .meta({ id: 'SavedExport' });

export type SavedExport = z.output<typeof SavedExportResource>;

export const HistoryTotalsResource = z
  .object({
    lots: z.number().int(),
    firstQuality: z.number().int(),
    materialMinor: money,
    labourMinor: money,
    overheadMinor: money,
    otherMinor: money,
    totalMinor: money,
    estimateMinor: money,
  })
  .meta({ id: 'BatchHistoryTotals' });

export type HistoryTotals = z.output<typeof HistoryTotalsResource>;

export const HistoryLotResource = z
  .object({
    lotId: z.number().int(),
    number: z.string(),
    status: z.enum(['finished', 'abandoned']),
    finishedAt: z.number().int(),
    finishedOn: z.string(),
    customers: z
      .string()
      .meta({ description: 'names are those of the closing; …Now says what the same are called now' }),
    customersNow: z.string(),
    orders: z.string(),
    methodName: z.string(),
    methodNameNow: z.string(),
    fibreName: z.string(),
    fibreNameNow: z.string(),
    goodsText: z.string(),
    shades: z.string(),
    shadesNow: z.string(),
    pieces: z.number().int().nullable(),
    dryMassMg: z.number().int(),
    firstQuality: z.number().int().nullable(),
    seconds: z.number().int().nullable(),
    rework: z.number().int().nullable(),
    scrap: z.number().int().nullable(),
    secondsValueMinor: money.nullable(),
    reworkOf: z.string().nullable(),
    materialMinor: money,
    labourMinor: money,
    overheadMinor: money,
    otherMinor: money,
    totalMinor: money,
    wastedMinor: money,
    estimateMinor: money,
    unitCostMinor: z.number().nullable(),
    sharePpm: z.number().int().meta({
      description:
        'how much of the lot the figures are: less than 1 000 000 where a customer or an order is asked for and others share the lot',
    }),
  })
  .meta({ id: 'BatchHistoryLot' });

export type BatchHistoryLot = z.output<typeof HistoryLotResource>;

export const HistoryResource = z
  .object({
    currency: z.string(),
    totals: HistoryTotalsResource,
    lots: z.array(HistoryLotResource),
    next: NextPage,
  })
  .meta({ id: 'BatchHistory' });

const ColumnResource = z
  .object({ name: z.string(), unit: z.string(), meaning: z.string() })
  .meta({ id: 'ExportColumn' });

export type ColumnDoc = z.output<typeof ColumnResource>;

export const ColumnsResource = z
  .object({ lot: z.array(ColumnResource), costLine: z.array(ColumnResource) })
  .meta({ id: 'ExportColumns' });

const quantityTie = z.object({ lineQuantity: z.number().int(), ledgerQuantity: z.number().int() });

export const ReconciliationResource = z
  .object({
    lines: z.object({ lines: z.number().int(), lots: z.number().int(), costMinor: money }),
    historyMinor: money,
    partMinor: money.meta({ description: 'what of it the customer or the order that was asked for carries' }),
    mg: quantityTie,
    ul: quantityTie,
    materialMinor: money,
    ledgerMinor: money,
    valuationDifferenceMinor: money.meta({
      description: 'rounding to the minor unit, moving averages and corrected rates',
    }),
    ties: z.boolean(),
    containers: z.array(
      quantityTie.extend({
        stockLotId: jsonId,
        code: z.string(),
        itemName: z.string(),
        unit,
        lineCostMinor: money,
        ledgerCostMinor: money,
      }),
    ),
  })
  .meta({ id: 'Reconciliation' });

export type Reconciliation = z.output<typeof ReconciliationResource>;
