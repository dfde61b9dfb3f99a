import { z } from 'zod';
import { NextPage } from '../http/paging.ts';
import {
  countField,
  durationSField,
  idField,
  jsonDay,
  jsonId,
  jsonQuantity,
  MOST,
  massMgField,
  moneyMinorField,
  optionalDay,
  optionalId,
  optionalMoneyMinor,
  optionalText,
  requiredText,
  versionField,
  volumeUlField,
} from '../typedFields.ts';

/** What costs are looked at by, and the kinds of cost, in the order in which they are shown. */
export const groupings = ['lot', 'order', 'customer', 'shade', 'method', 'fibre', 'month'] as const;
export type Grouping = (typeof groupings)[number];
export const costKinds = ['dye', 'auxiliary', 'goods', 'labour', 'overhead', 'other'] as const;
export type CostKind = (typeof costKinds)[number];

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

const rows = z.enum(['lot', 'costLine'], { error: 'One row a lot, or one row a costLine?' });

export const ExportFilter = z
  .object({
    ...fields,
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

export const SavedExportForm = z
  .object({
    name: requiredText('A name, to find it again: “month for the accountant”.', 80),
    rows,
    format,
    span: z.enum(spans, { error: 'Which days?' }),
    ...fields,
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

// ── costs by what they were for ──
export const CostingFilter = z
  .object({
    ...fields,
    by: z.enum(groupings, { error: 'By what?' }).default('shade'),
  })
  .refine(inOrder, OUT_OF_ORDER);
export const GroupFilter = z
  .object({
    ...fields,
    by: z.enum(groupings, { error: 'By what?' }),
    /** The group's key; '' for what is in none. Left out: everything. */
    of: z.string().max(40).optional(),
    kind: z.enum(costKinds).optional(),
    page: z.coerce.number().int().min(1).max(100_000).default(1),
  })
  .refine(inOrder, OUT_OF_ORDER);

// ── quotes ──
export const QuoteForm = (currency: string) =>
  z
    .object({
      basis: z.enum(['markup', 'margin'], { error: 'On the cost, or of the price?' }),
      pct: z
        .string()
        .trim()
        .regex(/^\d{1,3}([.,]\d{1,2})?$/, 'A percentage: “60”, “33.3”.')
        .transform((v) => Number(v.replace(',', '.'))),
      setUp: optionalMoneyMinor(currency),
      minimum: optionalMoneyMinor(currency),
    })
    .refine((q) => q.basis === 'markup' || q.pct < 100, {
      error: 'A margin is under 100 %: the goods cost something.',
      path: ['pct'],
    });

// ── corrections and rework ──
const QUANTITY_FIELD = {
  mg: () => massMgField('How much was it?'),
  ul: () => volumeUlField('How much was it?'),
  s: () => durationSField('How long was it?'),
  piece: () => countField('How many?'),
} as const;
/** A correction as typed: what stands instead, in the line's own unit. */
export const CorrectionForm = (line: { currency: string; unit: keyof typeof QUANTITY_FIELD; isRemoval: boolean }) =>
  line.isRemoval
    ? z.object({ stands: z.literal('nothing'), reason: requiredText('Say why, for the books.', 300) })
    : z.object({
        stands: z.literal('line'),
        quantity: QUANTITY_FIELD[line.unit](),
        price: moneyMinorField(line.currency, 'What it costs; 0 for nothing.'),
        perQuantity: QUANTITY_FIELD[line.unit](),
        reason: requiredText('Say why, for the books.', 300),
      });
export const CorrectionBody = z
  .object({
    reason: z.string().trim().min(1).max(300),
    replacement: z
      .object({
        quantity: z.number().int().positive().max(1e12),
        priceMinor: z.number().int().min(0).max(1e12),
        perQuantity: z.number().int().positive().max(1e12),
      })
      .nullable()
      .meta({ description: 'in the unit of the line; null when nothing stands instead' }),
  })
  .meta({ id: 'NewCostCorrection' });

// ── what was forgotten ──
export const forgottenKinds = ['material', 'labour', 'overhead', 'other', 'credit'] as const;
const creditTo = z.enum(['studio', 'customer'], { error: 'Who gets the money?' });
export type ForgottenKind = (typeof forgottenKinds)[number];
const always = {
  reason: requiredText('Say why, for the books.', 300),
  clientId: z
    .string()
    .regex(/^[\w-]{8,64}$/)
    .optional(),
};
const ticked = z
  .string()
  .optional()
  .transform((v) => v === 'yes');
/** A forgotten cost as typed; the container says whether its quantity is a mass or a volume. */
export const AdditionForm = (on: { what: ForgottenKind; currency: string; unit: 'mg' | 'ul' }) => {
  const duration = durationSField('How long was it?');
  const rate = optionalMoneyMinor(on.currency);
  return z.discriminatedUnion('what', [
    z.object({
      what: z.literal('material'),
      stockLotId: idField('From which container?'),
      quantity: QUANTITY_FIELD[on.unit](),
      wasted: ticked,
      recalledConfirmed: ticked,
      ...always,
    }),
    z.object({
      what: z.literal('labour'),
      personId: idField('Whose time was it?'),
      duration,
      rate,
      withOverhead: ticked,
      ...always,
    }),
    z.object({ what: z.literal('overhead'), duration, rate, ...always }),
    z.object({
      what: z.literal('other'),
      description: requiredText('Say what it was for.', 120),
      cost: moneyMinorField(on.currency, 'What it cost.'),
      ...always,
    }),
    z.object({
      what: z.literal('credit'),
      to: creditTo,
      description: requiredText('Say what it was for.', 120),
      amount: moneyMinorField(on.currency, 'How much was it?'),
      ...always,
    }),
  ]);
};
const addition = {
  reason: z.string().trim().min(1).max(300),
  clientId: z
    .string()
    .regex(/^[\w-]{8,64}$/)
    .optional()
    .meta({
      description: 'made by the client; the same id sent again is answered with what was written the first time',
    }),
};
const jsonDurationS = z.number().int().positive().max(10_000_000);
const jsonRate = z
  .number()
  .int()
  .min(0)
  .max(1e12)
  .nullable()
  .default(null)
  .meta({ description: 'minor units an hour; the rate of today when left out' });
export const AdditionBody = z
  .discriminatedUnion('what', [
    z.object({
      what: z.literal('material'),
      stockLotId: jsonId,
      quantity: jsonQuantity.meta({ description: 'mg, or µL of a liquid and of a solution' }),
      wasted: z.boolean().default(false),
      recalledConfirmed: z
        .boolean()
        .default(false)
        .meta({ description: 'of a recalled container: something of it really is in these goods' }),
      ...addition,
    }),
    z.object({
      what: z.literal('labour'),
      personId: jsonId,
      durationS: jsonDurationS,
      rateMinorPerHour: jsonRate,
      withOverhead: z.boolean().default(true),
      ...addition,
    }),
    z.object({ what: z.literal('overhead'), durationS: jsonDurationS, rateMinorPerHour: jsonRate, ...addition }),
    z.object({
      what: z.literal('other'),
      description: z.string().trim().min(1).max(120),
      costMinor: z.number().int().min(0).max(1e12),
      ...addition,
    }),
    z.object({
      what: z.literal('credit'),
      to: creditTo.meta({ description: 'studio: money back, the lot costs less; customer: let off, it costs more' }),
      description: z.string().trim().min(1).max(120),
      amountMinor: z.number().int().positive().max(1e12),
      ...addition,
    }),
  ])
  .meta({ id: 'NewForgottenCost' });
/** Lines as a correction or an addition wrote them. */
export const WrittenLinesResource = z
  .object({
    lines: z.array(
      z.object({
        costLineId: jsonId,
        ordinal: z.number().int(),
        kind: z.enum(costKinds),
        description: z.string(),
        stockLotId: jsonId.nullable(),
        quantity: z.number().int(),
        quantityUnit: z.enum(['mg', 'ul', 's', 'piece']),
        priceMinor: z.number().int(),
        perQuantity: z.number().int(),
        costMinor: z.number().int(),
        valuation: z.enum(['specific', 'movingAverage']).nullable(),
        correction: z.enum(['reversal', 'replacement', 'addition']).nullable(),
        correctsId: jsonId.nullable(),
        reason: z.string(),
        writtenAt: z.number().int(),
      }),
    ),
  })
  .meta({ id: 'WrittenCostLines' });

export const ReworkForm = z.object({ ofNumber: optionalText(40) });

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
        unit: z.enum(['mg', 'ul']),
        lineCostMinor: money,
        ledgerCostMinor: money,
      }),
    ),
  })
  .meta({ id: 'Reconciliation' });

// ── costs and quotes as JSON ──
const byKind = z.object({ dye: money, auxiliary: money, goods: money, labour: money, overhead: money, other: money });
const figures = {
  byKind,
  totalMinor: money,
  estimateMinor: money,
  dryMassMg: z.number().int(),
  goodPieces: z.number().int(),
  perKgMinor: z.number().nullable(),
  perPieceMinor: z.number().nullable(),
};
export const CostGroupsResource = z
  .object({
    currency: z.string(),
    by: z.enum(groupings),
    lotCount: z.number().int(),
    total: z.object(figures),
    groups: z.array(
      z.object({
        key: z.string(),
        label: z.string().meta({ description: 'the name that its newest lot was closed under' }),
        labelNow: z.string().meta({ description: 'what that is called now' }),
        ...figures,
        lots: z.array(z.object({ lotId: jsonId, number: z.string(), sharePpm: z.number().int(), totalMinor: money })),
      }),
    ),
  })
  .meta({ id: 'CostGroups' });

export const JobResource = z
  .object({
    ownMinor: money,
    wastedMinor: money,
    reworkMinor: money,
    secondsValueMinor: money,
    goodCount: z.number().int(),
    startedCount: z.number().int(),
    unitCostMinor: z.number().nullable(),
    stockUnitCostMinor: z.number().nullable().meta({ description: 'without what was weighed and thrown away' }),
    yieldPct: z.number().nullable(),
    rightFirstTimePct: z.number().nullable(),
    reworks: z.array(
      z.object({
        lotId: jsonId,
        number: z.string(),
        status: z.string(),
        costMinor: money,
        firstQuality: z.number().int(),
        secondsValueMinor: money,
      }),
    ),
  })
  .meta({ id: 'LotJob' });

const perKgByKind = z.object({
  dye: z.number(),
  auxiliary: z.number(),
  goods: z.number(),
  labour: z.number(),
  overhead: z.number(),
  other: z.number(),
});
export const ShadeCostResource = z
  .object({
    name: z.string(),
    lots: z.array(
      z.object({
        lotId: jsonId,
        number: z.string(),
        finishedAt: z.number().int(),
        dryMassMg: z.number().int(),
        depthPpm: z.number().int().meta({ description: 'as planned' }),
        dyedDepthPpm: z.number().int().meta({ description: 'by what was weighed, or corrected since' }),
        shadeCount: z.number().int(),
        totalMinor: money,
        perKg: z.number(),
        perKgByKind,
      }),
    ),
    change: z
      .object({
        earlierMinorPerKg: money,
        laterMinorPerKg: money,
        differenceMinor: money,
        lines: z.array(
          z.object({
            kind: z.enum(costKinds),
            label: z.string(),
            unit: z.enum(['mg', 'ul', 's', 'piece']),
            earlierQuantityPerKg: z.number(),
            laterQuantityPerKg: z.number(),
            priceEffectMinor: money,
            quantityEffectMinor: money,
          }),
        ),
      })
      .nullable(),
  })
  .meta({ id: 'ShadeCost' });

export const QuoteTermsQuery = z
  .object({
    basis: z.enum(['markup', 'margin']).meta({ description: 'markup is on the cost, margin of the price' }),
    pct: z.coerce.number().min(0).max(999),
    setUpMinor: z.coerce.number().int().min(0).max(MOST).default(0).meta({ description: 'for each lot' }),
    minimumMinor: z.coerce.number().int().min(0).max(MOST).default(0).meta({ description: 'for each line' }),
  })
  .refine((q) => q.basis === 'markup' || q.pct < 100, { error: 'a margin is under 100 %', path: ['pct'] });

export const QuoteResource = z
  .object({
    currency: z.string(),
    totalMinor: money.nullable(),
    lines: z.array(
      z.object({
        orderLineId: jsonId,
        description: z.string(),
        pieces: z.number().int().nullable(),
        agreedMinor: money.nullable(),
        costMinor: money,
        setUpMinor: money,
        lots: z.array(
          z.object({
            lotId: jsonId,
            number: z.string(),
            status: z.string(),
            isActual: z.boolean(),
            costMinor: money,
            sharedBy: z.enum(['mass', 'pieces', 'equally']).nullable(),
          }),
        ),
        price: z
          .object({
            lineMinor: money,
            pieceMinor: money.nullable(),
            byMinimum: z.boolean(),
            markupPct: z.number().nullable(),
            marginPct: z.number().nullable(),
          })
          .nullable(),
      }),
    ),
  })
  .meta({ id: 'Quote' });

const worthSums = {
  paidMinor: money.meta({ description: 'receipts with freight, late freight and bills, less credits' }),
  issuedMinor: money.meta({ description: 'by the cost lines of closed lots, corrections included' }),
  writtenOffMinor: money,
  roundingMinor: money.meta({ description: 'part of what was written off' }),
  inStockMinor: money,
  onBenchMinor: money.meta({ description: 'part of what is in stock: weighed out for lots that have not been closed' }),
  differenceMinor: money.meta({ description: 'paid − issued − written off − in stock: 0' }),
};
export const StockWorthResource = z
  .object({
    currency: z.string(),
    on: z.string(),
    materials: z.array(
      z.object({
        kind: z.enum(['dye', 'auxiliary', 'fibre']),
        itemId: jsonId,
        code: z.string(),
        name: z.string(),
        ...worthSums,
        wasteMinor: money,
        countedMinor: money,
        withoutCostMinor: money.meta({ description: 'gone into customers’ own goods' }),
        priceDifferenceMinor: money.meta({
          description: 'what late money, a late receipt or a corrected price changed for what had left',
        }),
        wrong: z.array(z.string()).meta({ description: 'in what the record contradicts it; empty when all is well' }),
      }),
    ),
    total: z.object(worthSums),
  })
  .meta({ id: 'StockWorth' });
