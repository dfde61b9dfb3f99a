import { CalcError, finiteIn } from './calcError.ts';
import { largestRemainder, nearestInteger } from './rounding.ts';

const positive = { min: 0, exclusiveMin: true };

/** Cost of one unit of a receipt:  c = (price + freight and duty − discount) / usable quantity, in minor units per unit of quantity
 *  Money in minor units ≥ 0, discount at most what was paid · quantity > 0. Not rounded: a gram costs fractions of a cent.
 *  Throws CalcError. Sources: IAS 2 Inventories, IASB; IRS Publication 538, 2000. */
export function unitCostMinor(input: {
  priceMinor: number;
  freightMinor: number;
  discountMinor: number;
  quantity: number;
}): number {
  const paid =
    finiteIn('priceMinor', input.priceMinor, { min: 0 }) + finiteIn('freightMinor', input.freightMinor, { min: 0 });
  const total = paid - finiteIn('discountMinor', input.discountMinor, { min: 0, max: paid });
  return total / finiteIn('quantity', input.quantity, positive);
}

/** Cost of a quantity, rounded once to the minor unit. quantity ≥ 0 in the unit of unitCostMinor. Throws CalcError.
 *  Follows from the cost of one unit. */
export function costMinorOfQuantity(input: { quantity: number; unitCostMinor: number }): number {
  const quantity = finiteIn('quantity', input.quantity, { min: 0 });
  return nearestInteger({
    value: quantity * finiteIn('unitCostMinor', input.unitCostMinor, { min: 0 }),
    field: 'quantity',
  });
}

/** Moving average after a receipt:  c = (Q₁·c₁ + Q₂·c₂) / (Q₁ + Q₂), taken over any number of holdings
 *  quantity ≥ 0, not all 0 · unitCost ≥ 0. Throws CalcError. Source: IAS 2 Inventories, IASB (weighted average). */
export function movingAverageUnitCost(input: {
  holdings: readonly { readonly quantity: number; readonly unitCost: number }[];
}): number {
  let quantity = 0;
  let value = 0;
  for (const holding of input.holdings) {
    quantity += finiteIn('quantity', holding.quantity, { min: 0 });
    value += holding.quantity * finiteIn('unitCost', holding.unitCost, { min: 0 });
  }
  if (!(quantity > 0)) throw new CalcError('outOfRange', 'quantity', 'an average needs some stock to be taken over');
  return value / quantity;
}

/** One entry of an item's stock in its own order: a receipt says what was paid for it, freight in it; anything else moves quantity only. */
export interface StockEvent {
  readonly quantity: number;
  readonly paidMinor?: number;
}

/** Moving average after a run of receipts and issues: each receipt is averaged with what is on hand then; issues, waste and
 *  counts leave the average as it is. Stock at or below nothing carries no weight: the next receipt sets the average.
 *  quantity signed, in one unit; of a receipt > 0 · paidMinor ≥ 0.
 *  Returns the average as the fraction that it is (so much money for so much), or null before any receipt.
 *  Throws CalcError. Source: IAS 2 Inventories, IASB (weighted average, taken as each shipment is received). */
export function movingAverageAfter(input: {
  events: readonly StockEvent[];
}): { valueMinor: number; quantity: number; unitCostMinor: number } | null {
  let onHand = 0;
  let average: { valueMinor: number; quantity: number; unitCostMinor: number } | null = null;
  for (const { quantity, paidMinor } of input.events) {
    if (paidMinor === undefined) {
      onHand += finiteIn('quantity', quantity);
      continue;
    }
    const received = finiteIn('quantity', quantity, positive);
    const unitCost = unitCostMinor({ priceMinor: paidMinor, freightMinor: 0, discountMinor: 0, quantity: received });
    const held: number = average === null ? 0 : Math.max(0, onHand);
    const next: number = movingAverageUnitCost({
      holdings: [
        { quantity: held, unitCost: average?.unitCostMinor ?? 0 },
        { quantity: received, unitCost },
      ],
    });
    average = { unitCostMinor: next, quantity: held + received, valueMinor: next * (held + received) };
    onHand += received;
  }
  return average;
}

export interface StockLayer {
  readonly quantity: number;
  readonly unitCost: number;
}

/** An issue from layers in order of receipt: the oldest is used up first.
 *  layers oldest first, quantity ≥ 0, unitCost ≥ 0 · quantity > 0 to issue, at most what is there.
 *  Returns what is drawn from each layer with its cost, unrounded, and the layers left. Throws CalcError('mismatch', 'quantity') when
 *  there is not enough. Source: IAS 2 Inventories, IASB (first in, first out). */
export function fifoIssue(input: { layers: readonly StockLayer[]; quantity: number }): {
  draws: { layerIndex: number; quantity: number; cost: number }[];
  cost: number;
  layersLeft: StockLayer[];
} {
  let wanted = finiteIn('quantity', input.quantity, positive);
  const draws: { layerIndex: number; quantity: number; cost: number }[] = [];
  const layersLeft = input.layers.map((layer, layerIndex): StockLayer => {
    const held = finiteIn('layerQuantity', layer.quantity, { min: 0 });
    const unitCost = finiteIn('unitCost', layer.unitCost, { min: 0 });
    const quantity = Math.min(held, wanted);
    if (quantity > 0) draws.push({ layerIndex, quantity, cost: quantity * unitCost });
    wanted -= quantity;
    return { quantity: held - quantity, unitCost };
  });
  if (wanted > 1e-9 * input.quantity) {
    throw new CalcError('mismatch', 'quantity', `there is not enough in stock: ${Number(wanted.toPrecision(6))} short`);
  }
  return { draws, cost: draws.reduce((sum, draw) => sum + draw.cost, 0), layersLeft };
}

/** Overhead rate:  estimated overhead / estimated base, the base usually labour hours or labour cost of a normal year.
 *  overheads ≥ 0 · base > 0. Throws CalcError. Source: Job-order costing, accounting4management.com. */
export function overheadRate(input: { overheads: readonly number[]; base: number }): number {
  const total = input.overheads.reduce((sum, overhead) => sum + finiteIn('overhead', overhead, { min: 0 }), 0);
  return total / finiteIn('base', input.base, positive);
}

/** Labour or overhead of a time, rounded once:  minor = rate per hour · s / 3600. Both ≥ 0. Throws CalcError. Definition. */
export function costMinorOfTime(input: { durationS: number; rateMinorPerHour: number }): number {
  const hours = finiteIn('durationS', input.durationS, { min: 0 }) / 3600;
  const rate = finiteIn('rateMinorPerHour', input.rateMinorPerHour, { min: 0 });
  return nearestInteger({ value: hours * rate, field: 'durationS' });
}

/** Cost of one good piece:  (materials + labour + overhead + rework − seconds' net value) / good pieces, in minor units, unrounded
 *  Costs in minor units ≥ 0 · secondsNetValueMinor what the seconds will bring, less selling them · goodCount whole, ≥ 1.
 *  Normal loss is thereby carried by the good pieces. Throws CalcError('outOfRange', 'goodCount') when no piece is good: there is no
 *  unit cost then, only a loss. Common practice. */
export function unitCostMinorPerGoodPiece(input: {
  materialsMinor: number;
  labourMinor: number;
  overheadMinor: number;
  reworkMinor: number;
  secondsNetValueMinor: number;
  goodCount: number;
}): number {
  if (!Number.isInteger(finiteIn('goodCount', input.goodCount, { min: 1 }))) {
    throw new CalcError('outOfRange', 'goodCount', 'goodCount must be a whole number of pieces');
  }
  const spent =
    finiteIn('materialsMinor', input.materialsMinor, { min: 0 }) +
    finiteIn('labourMinor', input.labourMinor, { min: 0 }) +
    finiteIn('overheadMinor', input.overheadMinor, { min: 0 }) +
    finiteIn('reworkMinor', input.reworkMinor, { min: 0 });
  return (spent - finiteIn('secondsNetValueMinor', input.secondsNetValueMinor, { min: 0 })) / input.goodCount;
}

/** Markup, on cost:  100 · (price − cost) / cost. cost > 0 · price ≥ 0. A markup of 50 % is a margin of 33.3 %: always say which.
 *  Throws CalcError. Definition. */
export function markupPct(input: { priceMinor: number; costMinor: number }): number {
  const cost = finiteIn('costMinor', input.costMinor, positive);
  return (100 * (finiteIn('priceMinor', input.priceMinor, { min: 0 }) - cost)) / cost;
}

/** Margin, on price:  100 · (price − cost) / price. price > 0 · cost ≥ 0. Throws CalcError. Definition. */
export function marginPct(input: { priceMinor: number; costMinor: number }): number {
  const price = finiteIn('priceMinor', input.priceMinor, positive);
  return (100 * (price - finiteIn('costMinor', input.costMinor, { min: 0 }))) / price;
}

/** margin = markup / (1 + markup/100). markupPct > −100. Throws CalcError. Follows from the definitions. */
export function marginPctOfMarkup(input: { markupPct: number }): number {
  const markup = finiteIn('markupPct', input.markupPct, { min: -100, exclusiveMin: true });
  return markup / (1 + markup / 100);
}

/** markup = margin / (1 − margin/100). marginPct under 100. Throws CalcError. Follows from the definitions. */
export function markupPctOfMargin(input: { marginPct: number }): number {
  const margin = finiteIn('marginPct', input.marginPct);
  if (margin >= 100)
    throw new CalcError('outOfRange', 'marginPct', 'a margin is under 100 %: the goods cost something');
  return margin / (1 - margin / 100);
}

/** Price of a cost at a markup, or at a margin, rounded up to the minor unit: what was promised is reached, never missed by half
 *  a unit.   price ≥ cost · (1 + markup/100)     price ≥ cost / (1 − margin/100)
 *  costMinor whole, ≥ 0 · markupPct ≥ −100, marginPct under 100, both to six decimals. Throws CalcError. Definition; rounding up is
 *  common practice. */
export function priceMinor(input: { costMinor: number } & ({ markupPct: number } | { marginPct: number })): number {
  const cost = nearestInteger({ value: finiteIn('costMinor', input.costMinor, { min: 0 }), field: 'costMinor' });
  if ('marginPct' in input) markupPctOfMargin(input);
  const pct =
    'markupPct' in input
      ? finiteIn('markupPct', input.markupPct, { min: -100 })
      : finiteIn('marginPct', input.marginPct, { max: 100 });
  // In millionths of a per cent, as whole numbers: 0.1 + 0.2 must not cost somebody a cent.
  const hundred = 100_000_000n;
  const part = BigInt(nearestInteger({ value: pct * 1e6, field: 'pct' }));
  const [over, under] = 'markupPct' in input ? [hundred + part, hundred] : [hundred, hundred - part];
  return Number((BigInt(cost) * over + under - 1n) / under);
}

/** Right first time:  100 · lots passed with no addition, strip or redye / lots dyed; yield:  100 · good / started.
 *  Counts ≥ 0, part at most whole, whole > 0. Throws CalcError. Definition. */
export function passedPct(input: { passedCount: number; startedCount: number }): number {
  const started = finiteIn('startedCount', input.startedCount, positive);
  return (100 * finiteIn('passedCount', input.passedCount, { min: 0, max: started })) / started;
}

/** A shared cost handed out by mass (or another key), in minor units that add to exactly the total.
 *  totalMinor whole, negative for a reversal · keys ≥ 0, not all 0. Largest remainder, ties to the earlier. Throws CalcError.
 *  Shared bath cost goes by dry mass; set-up by lot (common practice). */
export function allocatedMinor(input: { totalMinor: number; keys: readonly number[] }): number[] {
  return largestRemainder({ weights: input.keys, total: input.totalMinor, field: 'totalMinor' });
}
