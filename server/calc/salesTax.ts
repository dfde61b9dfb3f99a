import { CalcError, finiteIn } from './calcError.ts';
import { costMinor } from './rounding.ts';

/* Tax on sales. Money in major units, rates in %. An outline of arithmetic, not advice: local law says what is taxed and how it is
   rounded. */

const rate = (ratePct: number): number => finiteIn('ratePct', ratePct, { min: 0, max: 1000 }) / 100;

/** Tax on a net price, and the price with it:  incl = net · (1 + r). netAmount ≥ 0. Unrounded. Throws CalcError.
 *  Source: tax guides for retailers and examination answers on value added tax, by kind. */
export function taxOnNet(input: { netAmount: number; ratePct: number }): { taxAmount: number; grossAmount: number } {
  const net = finiteIn('netAmount', input.netAmount, { min: 0 });
  const taxAmount = net * rate(input.ratePct);
  return { taxAmount, grossAmount: net + taxAmount };
}

/** Net price and tax within a price that includes it:  tax = incl · r / (1 + r), of which the fraction is told (7/47 at 17.5 %).
 *  grossAmount ≥ 0. Unrounded. Throws CalcError. Source: as taxOnNet. */
export function taxInGross(input: { grossAmount: number; ratePct: number }): {
  netAmount: number;
  taxAmount: number;
  fraction: number;
} {
  const gross = finiteIn('grossAmount', input.grossAmount, { min: 0 });
  const r = rate(input.ratePct);
  const fraction = r / (1 + r);
  return { netAmount: gross - gross * fraction, taxAmount: gross * fraction, fraction };
}

export const TAX_ROUNDINGS = ['perLine', 'perInvoice'] as const;

/** Tax of an invoice, rounded line by line or once on the sum: the two may differ by some minor units, so the way is stated.
 *  netAmounts in major units of the currency. Throws CalcError. Definition. */
export function invoiceTaxMinor(input: {
  netAmounts: readonly number[];
  ratePct: number;
  rounding: (typeof TAX_ROUNDINGS)[number];
  currency: string;
}): number {
  const taxes = input.netAmounts.map((netAmount) => taxOnNet({ netAmount, ratePct: input.ratePct }).taxAmount);
  const minor = (amount: number): number => costMinor({ amount, currency: input.currency, field: 'netAmounts' });
  if (taxes.length === 0) throw new CalcError('missing', 'netAmounts', 'netAmounts must have a line');
  return input.rounding === 'perLine'
    ? taxes.reduce((sum, tax) => sum + minor(tax), 0)
    : minor(taxes.reduce((sum, tax) => sum + tax, 0));
}

/** Price at which a shop that keeps a share leaves the maker what is wanted:  price = net / (1 − share). makerNetAmount ≥ 0, shopSharePct
 *  under 100. Throws CalcError. Source: consignment notes for craft sellers, by kind. */
export function consignmentPrice(input: { makerNetAmount: number; shopSharePct: number }): number {
  const share = finiteIn('shopSharePct', input.shopSharePct, { min: 0, max: 99.999 }) / 100;
  return finiteIn('makerNetAmount', input.makerNetAmount, { min: 0 }) / (1 - share);
}

/** Wholesale and retail by the usual ladder:  wholesale = factor · (materials + labour + overhead). Amounts ≥ 0, factor > 0.
 *  Throws CalcError. Source: pricing guides for makers, by kind (factor 2 for wholesale, 2.5 to 3 for retail). */
export function ladderPrice(input: {
  materialsAmount: number;
  labourAmount: number;
  overheadAmount: number;
  factor: number;
}): number {
  const cost = (['materialsAmount', 'labourAmount', 'overheadAmount'] as const).reduce(
    (sum, field) => sum + finiteIn(field, input[field], { min: 0 }),
    0,
  );
  return cost * finiteIn('factor', input.factor, { min: 0, exclusiveMin: true });
}
