import { z } from 'zod';
import { optionalDay, optionalId, optionalText } from '../typedFields.ts';

const inOrder = (range: { from: string | null; to: string | null }): boolean =>
  range.from === null || range.to === null || range.from <= range.to;
const OUT_OF_ORDER = { error: 'The last day lies before the first.', path: ['to'] };

const fields = {
  from: optionalDay(),
  to: optionalDay(),
  /** An order's number, as on its page. */
  order: optionalText(60),
  customerId: optionalId(),
  methodId: optionalId(),
  fibreId: optionalId(),
};

/** Which closed lots: by the studio day on which they were finished, and by whom and what they were for. */
export const HistoryFilter = z
  .object({
    ...fields,
    /** Where the list goes on: 'finishedAt.lotId' of the last lot shown. */
    after: z
      .string()
      .regex(/^\d{1,16}\.\d{1,15}$/, 'Open the page again.')
      .optional(),
  })
  .refine(inOrder, OUT_OF_ORDER);
export type HistoryFilterInput = z.output<typeof HistoryFilter>;

export const ExportFilter = z
  .object({
    ...fields,
    rows: z.enum(['lot', 'costLine'], { error: 'One row a lot, or one row a costLine?' }).default('lot'),
  })
  .refine(inOrder, OUT_OF_ORDER);

const money = z.number().int();

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

export const HistoryLotResource = z
  .object({
    lotId: z.number().int(),
    number: z.string(),
    status: z.enum(['finished', 'abandoned']),
    finishedAt: z.number().int(),
    finishedOn: z.string(),
    customers: z.string(),
    orders: z.string(),
    methodName: z.string(),
    fibreName: z.string(),
    goodsText: z.string(),
    shades: z.string(),
    pieces: z.number().int().nullable(),
    dryMassMg: z.number().int(),
    firstQuality: z.number().int().nullable(),
    seconds: z.number().int().nullable(),
    rework: z.number().int().nullable(),
    scrap: z.number().int().nullable(),
    secondsValueMinor: money.nullable(),
    materialMinor: money,
    labourMinor: money,
    overheadMinor: money,
    otherMinor: money,
    totalMinor: money,
    wastedMinor: money,
    estimateMinor: money,
    unitCostMinor: z.number().nullable(),
  })
  .meta({ id: 'BatchHistoryLot' });

export const HistoryResource = z
  .object({
    currency: z.string(),
    totals: HistoryTotalsResource,
    lots: z.array(HistoryLotResource),
    nextAfter: z.string().nullable(),
  })
  .meta({ id: 'BatchHistory' });

const ColumnResource = z
  .object({ name: z.string(), unit: z.string(), meaning: z.string() })
  .meta({ id: 'ExportColumn' });
export const ColumnsResource = z
  .object({ lot: z.array(ColumnResource), costLine: z.array(ColumnResource) })
  .meta({ id: 'ExportColumns' });
