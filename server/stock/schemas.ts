import { z } from 'zod';
import { pagedByNumber } from '../http/paging.ts';
import {
  dayField,
  jsonDay,
  jsonId,
  jsonMoneyMinor,
  jsonQuantity,
  MOST,
  massMgField,
  massMgOrNothingField,
  moneyMinorField,
  optionalDay,
  optionalMoneyMinor,
  optionalText,
  optionalVolumeUl,
  pctPpmField,
  requiredText,
  versionField,
  volumeUlField,
  volumeUlOrNothingField,
} from '../typedFields.ts';

export const stockKind = z.enum(['dye', 'auxiliary', 'fibre']);
/** Powder and goods are counted by mass, liquids by volume. */
export const unit = z.enum(['mg', 'ul']);
export type Unit = z.output<typeof unit>;

/** A thing on the shelf as a form names it: 'dye-3', 'auxiliary-12', 'fibre-1'. */
export const itemKey = z
  .string({ error: 'Choose what the container holds.' })
  .regex(/^(dye|auxiliary|fibre)-[1-9]\d{0,14}$/, 'Choose what the container holds.')
  .transform((key): StockItem => {
    const [kind, id] = key.split('-');
    return { kind: stockKind.parse(kind), id: Number(id) };
  });
export interface StockItem {
  kind: z.output<typeof stockKind>;
  id: number;
}

const STRENGTH = { minPpm: 10_000, maxPpm: 10_000_000 };
export const clientIdField = () =>
  z
    .string()
    .regex(/^[\w-]{8,64}$/)
    .optional();
const quantityField = (unit: Unit, missing: string) => (unit === 'mg' ? massMgField(missing) : volumeUlField(missing));

/** What the receive form says; the item decides whether its quantity is a mass or a volume. */
export const ReceiptForm = (in_: { currency: string; unit: Unit }) =>
  z.object({
    item: itemKey,
    code: optionalText(24),
    quantity: quantityField(
      in_.unit,
      in_.unit === 'mg' ? 'How much: “250 g”, “1 lb”.' : 'How much: “500 mL”, “1 gal”.',
    ),
    price: moneyMinorField(in_.currency, 'What was paid for it; 0 for a gift.'),
    freight: optionalMoneyMinor(in_.currency),
    supplier: optionalText(80),
    makerLot: optionalText(60),
    strength: pctPpmField('100 % unless the seller says otherwise.', STRENGTH),
    receivedOn: dayField('The day it came.'),
    openedOn: optionalDay(),
    bestBeforeOn: optionalDay(),
    note: optionalText(),
    clientId: clientIdField(),
  });

/** What may be changed on a container later: never what was received and paid. */
export const ContainerForm = z.object({
  supplier: optionalText(80),
  makerLot: optionalText(60),
  strength: pctPpmField('100 % unless the seller says otherwise.', STRENGTH),
  openedOn: optionalDay(),
  bestBeforeOn: optionalDay(),
  note: optionalText(),
  version: versionField(),
});

export const StockTakeForm = (unit: Unit) =>
  z.object({
    counted:
      unit === 'mg'
        ? massMgOrNothingField('What is there: “182 g”, or 0.')
        : volumeUlOrNothingField('What is there: “350 mL”, or 0.'),
    reason: requiredText('Say why, for the ledger: “month-end count”.', 200),
    clientId: clientIdField(),
  });

export const WasteForm = (unit: Unit) =>
  z.object({
    quantity: quantityField(unit, 'How much was lost?'),
    reason: requiredText('Say why, for the ledger: “spilt”, “past its life”.', 200),
    clientId: clientIdField(),
  });

const moneyKind = z.enum(['freight', 'bill', 'credit'], { error: 'Freight, a bill or a credit?' });
export const StockMoneyForm = (currency: string) =>
  z.object({
    kind: moneyKind,
    amount: moneyMinorField(currency, 'How much was it?'),
    on: optionalDay(),
    reason: requiredText('Say what it was for, with the number of the bill or the note.', 200),
    clientId: clientIdField(),
  });
export const StockMoneyBody = z
  .object({
    kind: moneyKind,
    amountMinor: jsonQuantity.meta({ description: 'more than nothing, of a credit too' }),
    on: jsonDay.nullable().default(null).meta({ description: 'day of the bill or the credit note; today when null' }),
    reason: z.string().trim().min(1).max(200),
    clientId: z
      .string()
      .regex(/^[\w-]{8,64}$/)
      .optional(),
  })
  .meta({ id: 'NewStockMoney' });
export const StockMoneyResource = z
  .object({
    moneyId: jsonId,
    stockLotId: jsonId,
    kind: moneyKind,
    amountMinor: z.number().int().meta({ description: 'below nothing of a credit' }),
    reason: z.string(),
    at: z.number().int(),
    recordedAt: z.number().int(),
    byPersonId: jsonId,
  })
  .meta({ id: 'StockMoney' });
export type StockMoney = z.output<typeof StockMoneyResource>;

export const closingHow = z.enum(['empty', 'discarded'], { error: 'Empty, or thrown away?' });
export const ClosingForm = z
  .object({ how: closingHow, reason: optionalText(200), clientId: clientIdField() })
  .superRefine(({ how, reason }, ctx) => {
    if (how === 'discarded' && reason === '')
      ctx.addIssue({ code: 'custom', path: ['reason'], message: 'Say why it is thrown away, for the ledger.' });
  });

export const RecallForm = z.object({
  reason: requiredText('Say why: “maker’s notice of 3 March, wrong shade”.', 300),
});

export const ReopeningForm = (unit: Unit) =>
  z.object({
    counted:
      unit === 'mg'
        ? massMgOrNothingField('What is in it: “182 g”, or 0.')
        : volumeUlOrNothingField('What is in it: “350 mL”, or 0.'),
    reason: requiredText('Say why, for the ledger: “closed the wrong jar”.', 200),
    clientId: clientIdField(),
  });

export const LiftingForm = z.object({
  reason: requiredText('Say why: “the maker’s second notice, tested against the old jar”.', 300),
});

/** The solution form while it is being filled in: nothing is demanded yet. */
export const SolutionQuestion = z.object({
  volume: volumeUlField('How much solution?'),
  conc: pctPpmField('How strong: “1 %”?', { minPpm: 10, maxPpm: 500_000 }),
  mass: z.string().optional(),
  madeUpTo: z.string().optional(),
});

export const SolutionForm = z.object({
  volume: volumeUlField('How much solution: “500 mL”.'),
  conc: pctPpmField('How strong: “1 %” is 10 g in a litre.', { minPpm: 10, maxPpm: 500_000 }),
  mass: massMgField('The powder as weighed: “5.02 g”.'),
  madeUpTo: optionalVolumeUl(),
  code: optionalText(24),
  madeOn: dayField('The day it was made.'),
  bestBeforeOn: optionalDay(),
  note: optionalText(),
  clientId: clientIdField(),
});

// ── the API's bodies and resources ──
export const clientId = clientIdField().meta({
  description: 'made by the client; the same id sent again is answered with what was written the first time',
});
const at = z
  .number()
  .int()
  .positive()
  .optional()
  .meta({ description: 'when it happened, epoch ms UTC; now when left out' });
const strengthPpm = z
  .number()
  .int()
  .min(STRENGTH.minPpm)
  .max(STRENGTH.maxPpm)
  .default(1_000_000)
  .meta({ description: 'against the standard strength, ppm' });
const reason = z.string().trim().min(1).max(300);
const quantity = jsonQuantity.meta({ description: 'mg, or µL of a liquid and of a solution' });

const onlyOneItem = (
  item: { dyeId?: number | undefined; auxiliaryId?: number | undefined; fibreId?: number | undefined },
  ctx: z.RefinementCtx,
): void => {
  if ([item.dyeId, item.auxiliaryId, item.fibreId].filter((id) => id !== undefined).length !== 1)
    ctx.addIssue({ code: 'custom', path: ['dyeId'], message: 'exactly one of dyeId, auxiliaryId, fibreId' });
};

/** A receipt as the API takes it. */
export const ReceiptBody = z
  .object({
    dyeId: jsonId.optional(),
    auxiliaryId: jsonId.optional(),
    fibreId: jsonId.optional(),
    code: z.string().trim().max(24).default('').meta({ description: 'label; proposed when left out' }),
    quantity,
    priceMinor: jsonMoneyMinor,
    freightMinor: jsonMoneyMinor.default(0),
    supplier: z.string().max(80).default(''),
    makerLot: z.string().max(60).default(''),
    strengthPpm,
    receivedOn: jsonDay,
    openedOn: jsonDay.nullable().default(null),
    bestBeforeOn: jsonDay.nullable().default(null),
    note: z.string().max(2000).default(''),
    clientId,
  })
  .superRefine(onlyOneItem)
  .meta({ id: 'NewStockLot' });

/** One type behind both doors. */
export interface ReceiptInput {
  item: StockItem;
  code: string;
  quantity: number;
  priceMinor: number;
  freightMinor: number;
  supplier: string;
  makerLot: string;
  strengthPpm: number;
  receivedOn: string;
  openedOn: string | null;
  bestBeforeOn: string | null;
  note: string;
  clientId: string | null;
}

export const receiptInputOf = (form: z.output<ReturnType<typeof ReceiptForm>>): ReceiptInput => ({
  item: form.item,
  code: form.code,
  quantity: form.quantity,
  priceMinor: form.price,
  freightMinor: form.freight ?? 0,
  supplier: form.supplier,
  makerLot: form.makerLot,
  strengthPpm: form.strength,
  receivedOn: form.receivedOn,
  openedOn: form.openedOn,
  bestBeforeOn: form.bestBeforeOn,
  note: form.note,
  clientId: form.clientId ?? null,
});

export const receiptInputOfBody = ({
  dyeId,
  auxiliaryId,
  fibreId,
  clientId: id,
  ...body
}: z.output<typeof ReceiptBody>): ReceiptInput => ({
  ...body,
  item:
    dyeId !== undefined
      ? { kind: 'dye', id: dyeId }
      : auxiliaryId !== undefined
        ? { kind: 'auxiliary', id: auxiliaryId }
        : { kind: 'fibre', id: fibreId ?? 0 },
  clientId: id ?? null,
});

export const ContainerChange = z
  .object({
    supplier: z.string().max(80),
    makerLot: z.string().max(60),
    strengthPpm: z.number().int().min(STRENGTH.minPpm).max(STRENGTH.maxPpm),
    openedOn: jsonDay.nullable(),
    bestBeforeOn: jsonDay.nullable(),
    note: z.string().max(2000),
    version: z.number().int(),
  })
  .meta({ id: 'StockLotChange' });
export type ContainerChanges = Omit<z.output<typeof ContainerChange>, 'version'>;

export const containerChangesOf = (form: z.output<typeof ContainerForm>): ContainerChanges => ({
  supplier: form.supplier,
  makerLot: form.makerLot,
  strengthPpm: form.strength,
  openedOn: form.openedOn,
  bestBeforeOn: form.bestBeforeOn,
  note: form.note,
});

const counted = (what: string) =>
  z
    .number()
    .int()
    .min(0)
    .max(MOST)
    .meta({ description: `${what}, in the unit of the stock lot` });

export const StockTakeBody = z
  .object({
    countedQuantity: counted('what was found'),
    reason,
    at,
    clientId,
  })
  .meta({ id: 'NewStockTake' });
export const WasteBody = z.object({ quantity, reason, at, clientId }).meta({ id: 'NewWaste' });
export const ClosingBody = z
  .object({ how: closingHow, reason: z.string().trim().max(300).default(''), clientId })
  .superRefine(({ how, reason: why }, ctx) => {
    if (how === 'discarded' && why === '') ctx.addIssue({ code: 'custom', path: ['reason'], message: 'say why' });
  })
  .meta({ id: 'NewClosing' });
/** Why a container is recalled, or its recall lifted. */
export const RecallBody = z.object({ reason }).meta({ id: 'RecallReason' });
export const ReopeningBody = z
  .object({
    countedQuantity: counted('what is in it'),
    reason,
    clientId,
  })
  .meta({ id: 'NewReopening' });
export const SolutionBody = z
  .object({
    concPpm: z
      .number()
      .int()
      .min(10)
      .max(500_000)
      .meta({ description: 'strength wanted, % w/v × 10 000: 10 000 is 1 %' }),
    massMg: z.number().int().positive().meta({ description: 'powder as weighed' }),
    volumeUl: z
      .number()
      .int()
      .positive()
      .nullable()
      .default(null)
      .meta({ description: 'made up to; left out: to what gives the strength wanted exactly' }),
    code: z.string().trim().max(24).default(''),
    madeOn: jsonDay.nullable().default(null).meta({ description: 'today when left out' }),
    bestBeforeOn: jsonDay
      .nullable()
      .optional()
      .meta({ description: 'from the dye’s solution life when left out; null for none' }),
    note: z.string().max(2000).default(''),
    clientId,
  })
  .meta({ id: 'NewStockSolution' });

export const StockLotResource = z
  .object({
    stockLotId: jsonId,
    code: z.string(),
    kind: stockKind,
    dyeId: jsonId.nullable(),
    auxiliaryId: jsonId.nullable(),
    fibreId: jsonId.nullable(),
    itemName: z.string(),
    unit,
    supplier: z.string(),
    makerLot: z.string(),
    strengthPpm: z.number().int(),
    receivedOn: z.string(),
    openedOn: z.string().nullable(),
    bestBeforeOn: z.string().nullable(),
    priceMinor: z.number().int(),
    freightMinor: z.number().int(),
    lateMinor: z.number().int().meta({ description: 'late freight and bills, less credits; see its money' }),
    receivedQuantity: z.number().int(),
    onHandQuantity: z.number().int().meta({ description: 'the sum of its ledger' }),
    valueMinor: z.number().int().meta({
      description: 'of what is on hand, at what was paid or at the moving average, as the studio values its stock',
    }),
    sourceStockLotId: jsonId.nullable(),
    concPpm: z.number().int().nullable(),
    note: z.string(),
    recalledAt: z.number().int().nullable(),
    recallReason: z.string(),
    closedAt: z.number().int().nullable(),
    version: z.number().int(),
  })
  .meta({ id: 'StockLot' });
export type StockLot = z.output<typeof StockLotResource>;

export const StockLotEventsResource = z
  .object({
    events: z.array(
      z.object({
        eventId: jsonId,
        kind: z.enum(['closed', 'reopened', 'recalled', 'recallLifted']),
        reason: z.string(),
        throughId: jsonId
          .nullable()
          .meta({ description: 'the container of powder whose recall or lifting this solution followed' }),
        at: z.number().int(),
        byPersonId: jsonId.nullable(),
        personName: z.string().nullable(),
      }),
    ),
  })
  .meta({ id: 'StockLotEvents' });
export type StockLotEvent = z.output<typeof StockLotEventsResource>['events'][number];

export const LedgerEntryResource = z
  .object({
    entryId: jsonId,
    stockLotId: jsonId,
    kind: z.enum(['receipt', 'issue', 'waste', 'stockTake', 'reversal']),
    quantity: z.number().int().meta({ description: 'signed, in the unit of the stock lot' }),
    at: z.number().int(),
    recordedAt: z.number().int(),
    byPersonId: jsonId,
    reason: z.string(),
    lotId: jsonId.nullable(),
    weighingId: jsonId.nullable(),
    solutionId: jsonId.nullable(),
    reversesId: jsonId.nullable(),
    clientId: z.string().nullable(),
    balancesId: jsonId.nullable().meta({
      description: 'the count that this entry holds good: it had seen already what reached the ledger after it',
    }),
    causedById: jsonId.nullable().meta({ description: 'the late entry that made it necessary' }),
  })
  .meta({ id: 'LedgerEntry' });
export type LedgerEntry = z.output<typeof LedgerEntryResource>;
export const LedgerLineResource = LedgerEntryResource.extend({
  balance: z.number().int(),
  personName: z.string(),
  lotNumber: z.string().nullable(),
}).meta({ id: 'LedgerLine' });
export type LedgerEntryLine = z.output<typeof LedgerLineResource>;

export const RecallTrace = z
  .object({
    stockLotId: jsonId,
    containers: z.array(z.object({ stockLotId: jsonId, code: z.string() })),
    lots: z.array(
      z.object({
        lotId: jsonId,
        number: z.string(),
        status: z.string(),
        goodsText: z.string(),
        finishedAt: z.number().int().nullable(),
        throughCode: z.string(),
        quantity: z.number().int().nullable(),
        unit,
      }),
    ),
    plannedLots: z.array(z.object({ lotId: jsonId, number: z.string(), status: z.string(), throughCode: z.string() })),
    swatches: z.array(
      z.object({
        swatchId: jsonId,
        code: z.string(),
        name: z.string(),
        dyedOn: z.string(),
        lotNumber: z.string().nullable(),
      }),
    ),
    orders: z.array(
      z.object({
        orderId: jsonId,
        number: z.string(),
        status: z.string(),
        description: z.string(),
        lotNumber: z.string(),
        customerId: jsonId,
        customerName: z.string().meta({ description: 'as the customer was called when the lot was closed' }),
        customerNameNow: z.string(),
        contact: z.string(),
      }),
    ),
  })
  .meta({ id: 'Touched' });
export type Touched = Omit<z.output<typeof RecallTrace>, 'stockLotId' | 'containers'>;

export const StockFilter = z.object({
  kind: stockKind.optional(),
  item: itemKey.optional(),
  closed: z.enum(['yes', 'no']).optional(),
  before: z.coerce.number().int().positive().optional(),
});
export const StockLotFilter = z.object({
  kind: stockKind.optional(),
  dyeId: z.coerce.number().int().positive().optional(),
  auxiliaryId: z.coerce.number().int().positive().optional(),
  fibreId: z.coerce.number().int().positive().optional(),
  closed: z.enum(['yes', 'no']).default('no').meta({ description: 'open ones all at once, closed ones in pages' }),
  ...pagedByNumber(200),
});
export const LedgerPage = z.object(pagedByNumber(100));

const wholeDays = (least: number) =>
  z.coerce
    .number({ error: 'A number of days.' })
    .int('Whole days.')
    .min(least, `At least ${least}.`)
    .max(730, 'At most two years.');
/** Days by which use becomes a shopping list. */
export const ShoppingRule = z.object({
  windowDays: wholeDays(7),
  leadTimeDays: wholeDays(0),
  safetyDays: wholeDays(0),
  coverDays: wholeDays(0),
});
export const ShoppingResource = z
  .object({
    kind: stockKind,
    itemId: jsonId,
    name: z.string(),
    code: z.string(),
    unit,
    onHandQuantity: z.number().int(),
    inSolutionQuantity: z.number().int(),
    plannedQuantity: z.number().int(),
    meanDailyQuantity: z.number().int(),
    reorderQuantity: z.number().int(),
    lastsDays: z.number().nullable(),
    state: z.enum(['short', 'reorder', 'enough']),
    containers: z.number().int().meta({ description: 'like the last one received' }),
    lastQuantity: z.number().int(),
    lastSupplier: z.string(),
    costMinor: z.number().int().meta({ description: 'at the last price, freight in it' }),
  })
  .meta({ id: 'ItemToBuy' });
export type ItemToBuy = z.output<typeof ShoppingResource>;
