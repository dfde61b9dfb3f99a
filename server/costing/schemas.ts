import { z } from 'zod';
import { clientId, clientIdField, stockKind } from '../stock/schemas.ts';
import {
  countField,
  durationSField,
  idField,
  jsonId,
  jsonMoneyMinor,
  jsonQuantity,
  MOST,
  massMgField,
  moneyMinorField,
  optionalDay,
  optionalId,
  optionalMoneyMinor,
  optionalText,
  requiredText,
  volumeUlField,
} from '../typedFields.ts';

/** What costs are looked at by, and the kinds of cost, in the order in which they are shown. */
export const groupings = ['lot', 'order', 'customer', 'shade', 'method', 'fibre', 'month'] as const;
export type Grouping = (typeof groupings)[number];
export const costKinds = ['dye', 'auxiliary', 'goods', 'labour', 'overhead', 'other'] as const;
export type CostKind = (typeof costKinds)[number];

export const inOrder = (range: { from: string | null; to: string | null }): boolean =>
  range.from === null || range.to === null || range.from <= range.to;
export const OUT_OF_ORDER = { error: 'The last day lies before the first.', path: ['to'] };

/** What closed lots are found by. */
export const closedLotFields = {
  from: optionalDay(),
  to: optionalDay(),
  /** An order's number, as on its page. */
  order: optionalText(60),
  customerId: optionalId(),
  methodId: optionalId(),
  fibreId: optionalId(),
};
const LotsAsked = z.object(closedLotFields);
export type LotsAsked = z.output<typeof LotsAsked>;

// ── costs by what they were for ──
export const CostingFilter = z
  .object({
    ...closedLotFields,
    by: z.enum(groupings, { error: 'By what?' }).default('shade'),
  })
  .refine(inOrder, OUT_OF_ORDER);
export const GroupFilter = z
  .object({
    ...closedLotFields,
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
        quantity: jsonQuantity,
        priceMinor: jsonMoneyMinor,
        perQuantity: jsonQuantity,
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
  clientId: clientIdField(),
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
  clientId,
};
const jsonDurationS = z.number().int().positive().max(10_000_000);
const jsonRate = z
  .number()
  .int()
  .min(0)
  .max(MOST)
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
      costMinor: jsonMoneyMinor,
      ...addition,
    }),
    z.object({
      what: z.literal('credit'),
      to: creditTo.meta({ description: 'studio: money back, the lot costs less; customer: let off, it costs more' }),
      description: z.string().trim().min(1).max(120),
      amountMinor: jsonQuantity,
      ...addition,
    }),
  ])
  .meta({ id: 'NewForgottenCost' });
const quantityUnit = z.enum(['mg', 'ul', 's', 'piece']);

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
        quantityUnit,
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
export type WrittenLines = z.output<typeof WrittenLinesResource>;
export type WrittenLine = WrittenLines['lines'][number];

export const ReworkForm = z.object({ ofNumber: optionalText(40) });

export const money = z.number().int();

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
export type CostGroupShown = z.output<typeof CostGroupsResource>['groups'][number];

/** What a lot's good pieces cost when everything is counted that was spent on them. Abnormal waste is an expense of its day, not a value
 *  of the stock. */
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
export type Job = z.output<typeof JobResource>;

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
            unit: quantityUnit,
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
export type ShadeCost = z.output<typeof ShadeCostResource>;

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
export type Quote = z.output<typeof QuoteResource>;
export type QuoteLine = Quote['lines'][number];

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
        kind: stockKind,
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
export type StockWorth = z.output<typeof StockWorthResource>;
