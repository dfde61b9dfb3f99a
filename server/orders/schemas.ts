import { z } from 'zod';
import { LOT_STATUSES } from '../calc/lotTerms.ts';
import {
  dayField,
  idField,
  jsonCount,
  jsonDay,
  jsonId,
  jsonMoneyMinor,
  jsonQuantity,
  optionalCount,
  optionalDay,
  optionalId,
  optionalMassMg,
  optionalMoneyMinor,
  optionalNumber,
  optionalText,
  requiredText,
  versionField,
} from '../typedFields.ts';

export const orderStatus = z.enum(['open', 'inWork', 'ready', 'delivered', 'cancelled']);
export type OrderStatus = z.output<typeof orderStatus>;
/** Delivered or cancelled: its lines and notes stand as they are. */
export const isClosed = (status: OrderStatus): boolean => status === 'delivered' || status === 'cancelled';
const toleranceFormulas = ['CIEDE2000', 'CMC(2:1)', 'CMC(1:1)', 'CIE76', 'by eye'] as const;

// ───────────── customers ─────────────
export const CustomerForm = z.object({
  name: requiredText('Who is it?', 120),
  contact: optionalText(300),
  note: optionalText(),
  version: versionField().optional(),
});
export const CustomerBody = z
  .object({
    name: z.string().trim().min(1).max(120),
    contact: z.string().max(300).default(''),
    note: z.string().max(2000).default(''),
  })
  .meta({ id: 'NewCustomer' });
export type CustomerInput = z.output<typeof CustomerBody>;
export const CustomerResource = CustomerBody.extend({
  customerId: jsonId,
  version: z.number().int(),
  archived: z.boolean(),
}).meta({ id: 'Customer' });
export type Customer = z.output<typeof CustomerResource>;
/** A customer in the list, with what they have ordered. */
export type CustomerInList = Customer & { openOrders: number; orderCount: number; lastOrderedOn: string | null };

// ───────────── lines ─────────────
/** One line as typed. The wanted shade may be named by a swatch's code, a recipe's name, words, or any of them together. */
export const OrderLineForm = (currency: string) =>
  z.object({
    description: requiredText('What is ordered? “24 napkins, hemmed”.', 200),
    fibreId: optionalId(),
    pieces: optionalCount(),
    dryMass: optionalMassMg('g'),
    wantedSwatch: optionalText(60),
    wantedRecipe: optionalText(120),
    wantedNote: optionalText(500),
    toleranceFormula: z
      .enum(['', ...toleranceFormulas], { error: 'Choose one from the list.' })
      .optional()
      .transform((v) => (v === undefined || v === '' ? null : v)),
    toleranceLimit: optionalNumber({ min: 0.01, max: 50 }),
    price: optionalMoneyMinor(currency),
  });
export type OrderLineWords = z.output<ReturnType<typeof OrderLineForm>>;

export const OrderLineBody = z
  .object({
    description: z.string().trim().min(1).max(200),
    fibreId: jsonId.nullable().default(null),
    pieces: jsonCount.nullable().default(null),
    dryMassMg: jsonQuantity.nullable().default(null),
    wantedSwatchId: jsonId.nullable().default(null),
    wantedRevisionId: jsonId.nullable().default(null),
    wantedNote: z.string().max(500).default(''),
    toleranceFormula: z.enum(toleranceFormulas).nullable().default(null),
    toleranceMilli: z
      .number()
      .int()
      .positive()
      .max(50_000)
      .nullable()
      .default(null)
      .meta({ description: 'largest difference accepted, thousandths of the named formula’s unit' }),
    priceMinor: jsonMoneyMinor.nullable().default(null),
  })
  .meta({ id: 'NewOrderLine' });
export type OrderLineInput = z.output<typeof OrderLineBody>;

export const MixingBody = z.object({ note: z.string().trim().min(1).max(1000) }).meta({ id: 'NewMixingNote' });

const LotServing = z.object({
  lotId: jsonId,
  number: z.string(),
  status: z.enum(LOT_STATUSES),
  pieces: z.number().int().nullable(),
  goodPieces: z.number().int().nullable(),
});
export const OrderLineResource = OrderLineBody.extend({
  orderLineId: jsonId,
  ordinal: z.number().int(),
  mixingNote: z.string().meta({ description: 'how goods of several lots go together on this line; empty when unsaid' }),
  lots: z.array(LotServing),
  goodPieces: z.number().int(),
}).meta({ id: 'OrderLine' });
export type OrderLine = z.output<typeof OrderLineResource>;
/** A lot that serves a line; one that is shared serves other lines too, and its good pieces are shared out. */
export type LotOnLine = OrderLine['lots'][number] & { shared: boolean };
/** A line as the page of its order shows it: with its goods, and the shade that is wanted with its colour. */
export type OrderLineShown = Omit<OrderLine, 'lots'> & {
  lots: LotOnLine[];
  fibre: { id: number; name: string } | null;
  swatch: (WantedSwatch & { hex: string | null; bands: readonly { hex: string; share: number }[] }) | null;
  recipe: WantedRecipe | null;
  /** Numbers of the lots whose goods come together on this line, when they are several. */
  mixedLots: readonly string[];
};
export interface WantedSwatch {
  swatchId: number;
  code: string;
  name: string;
  depthPpm: number;
}
export interface WantedRecipe {
  recipeId: number;
  revisionId: number;
  name: string;
  number: number;
  totalDepthPpm: number;
}

// ───────────── orders ─────────────
export const OrderHeadForm = z.object({
  number: requiredText('An order needs a number.', 40),
  customerId: idField('Who ordered it?'),
  orderedOn: dayField('When was it ordered?'),
  dueOn: optionalDay(),
  note: optionalText(),
  version: versionField().optional(),
});
export const NewOrderForm = (currency: string) =>
  OrderHeadForm.extend({
    newCustomer: optionalText(120),
    customerId: optionalId(),
    lines: z
      .array(OrderLineForm(currency))
      .min(1, 'What is ordered? An order has at least one line.')
      .max(40, 'At most forty lines.'),
  });
export type NewOrderWords = z.output<ReturnType<typeof NewOrderForm>>;

const headShape = {
  number: z.string().trim().min(1).max(40).optional().meta({ description: 'proposed by the studio when left out' }),
  customerId: jsonId,
  orderedOn: jsonDay,
  dueOn: jsonDay.nullable().default(null),
  note: z.string().max(2000).default(''),
};
export const OrderBody = z
  .object({ ...headShape, lines: z.array(OrderLineBody).min(1).max(40) })
  .meta({ id: 'NewOrder' });
export type OrderInput = z.output<typeof OrderBody>;
export const OrderHeadBody = z.object({ ...headShape, version: z.number().int() }).meta({ id: 'ChangedOrder' });
export type OrderHeadInput = Omit<OrderInput, 'lines'>;

export const OrderListed = z
  .object({
    orderId: jsonId,
    number: z.string(),
    customerId: jsonId,
    customerName: z.string(),
    orderedOn: jsonDay,
    dueOn: jsonDay.nullable(),
    status: orderStatus,
    lineCount: z.number().int(),
    priceMinor: z.number().int().nullable(),
  })
  .meta({ id: 'OrderListed' });
export type OrderInList = z.output<typeof OrderListed>;
export const OrderResource = OrderListed.omit({ lineCount: true, priceMinor: true })
  .extend({ note: z.string(), version: z.number().int(), lines: z.array(OrderLineResource) })
  .meta({ id: 'Order' });
export type Order = z.output<typeof OrderResource>;

/** What is said with a move; nothing is needed. */
export const MoveBody = z
  .object({
    shortConfirmed: z
      .boolean()
      .default(false)
      .meta({ description: 'that the order is ready with fewer good pieces than it wants' }),
  })
  .nullish()
  .meta({ id: 'OrderMove' });
