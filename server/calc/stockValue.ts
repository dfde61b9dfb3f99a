import { CalcError, finiteIn } from './calcError.ts';
import { nearestInteger } from './rounding.ts';

/** How what leaves stock is valued: at what its own container cost, or at the average of everything that is in stock. */
export type Valuation = 'specific' | 'movingAverage';

/** What happens to the money of one material, in the order in which it happened. Quantities in the container's own unit. */
export type ValueEvent = { readonly at: number; readonly stockLotId: number } & (
  | { readonly what: 'receipt'; readonly quantity: number; readonly paidMinor: number }
  /** Powder that became a solution: the solution is `stockLotId`, and its price went over with it. */
  | {
      readonly what: 'dissolved';
      readonly quantity: number;
      readonly sourceId: number;
      readonly massMg: number;
      readonly movedMinor: number;
    }
  /** Late freight or a late bill; below nothing for a credit. */
  | { readonly what: 'money'; readonly amountMinor: number }
  /** What a cost line booked to a lot; below nothing where one took another back. `ownMinor`: what the stock gave for it, where a
   *  person corrected the price and the books say something else. */
  | { readonly what: 'booked'; readonly quantity: number; readonly costMinor: number; readonly ownMinor: number | null }
  /** Thrown away, counted otherwise, or gone into customers' goods, which carry no cost. Negative when it is gone. */
  | {
      readonly what: 'writtenOff';
      readonly entryId: number;
      readonly as: 'waste' | 'counted' | 'withoutCost';
      readonly quantity: number;
    }
  /** A write-off that did not happen after all. */
  | { readonly what: 'takenBack'; readonly entryId: number; readonly quantity: number }
);

/** From when on a studio has valued its stock so. */
export interface ValuationSpan {
  readonly from: number;
  readonly valuation: Valuation;
}

export interface StockWorth {
  /** Receipts with their freight, late freight and bills, less credits. */
  paidMinor: number;
  /** As the cost lines of lots say it, corrections included. */
  issuedMinor: number;
  wasteMinor: number;
  /** What stock-takes found missing, less what they found too much. */
  countedMinor: number;
  /** What went into customers' own goods without a cost line. */
  withoutCostMinor: number;
  /** What rounding to the minor unit had left in a container, or in the average, when it was empty. */
  roundingMinor: number;
  /** What a late receipt, a late bill, a credit, a corrected price or another valuation changed for what had left stock already. */
  priceDifferenceMinor: number;
  inStockMinor: number;
}

/** The worth of one container at that time. Under a moving average it is the container's part of the whole, unrounded. */
export interface ContainerWorth {
  quantity: number;
  valueMinor: number;
  /** Its quantity at its own price, unrounded, and how far from that whole minor units may have carried it; null under a moving
   *  average, where it has no price of its own. */
  ownMinor: number | null;
  mostRoundedMinor: number;
}

export interface ItemWorth extends StockWorth {
  containers: ReadonlyMap<number, ContainerWorth>;
  /** Money and quantity (in the unit as bought) that the next issue is valued by; null before any receipt. */
  average: { valueMinor: number; quantity: number } | null;
}

interface Container {
  perUnit: number;
  received: number;
  paidMinor: number;
  quantity: number;
  /** At its own price; only kept while that is how the stock is valued. */
  valueMinor: number;
  roundings: number;
}

/** Below this nothing is left of a mass that came about by fractions, in mg. */
const NOTHING_MG = 1e-3;
/** Roundings to a whole unit are half a unit off at most. */
const mostRounded = (roundings: number): number => roundings / 2 + 1;
const whole = (value: number): number => nearestInteger({ value, field: 'value' });

/** What a material's stock is worth, and where what was paid for it has gone, after a run of events:
 *    in stock = Σ paid − Σ issued as booked − Σ written off,   a balance: nothing gets lost between the four.
 *  Specific identification: each container at its own price for a unit, (price + freight + later bills − credits) / received.
 *  Moving average: money by quantity on hand, anew with each receipt, late bill and credit; of what left before that nothing is
 *  rewritten. Where stock had run below nothing, a receipt covers first what was taken before it came. What then belongs to
 *  nothing in stock is a price difference of its day; what whole minor units leave over in an emptied container is rounding.
 *  events in the order of time · spans in the order of time, the first from the beginning · `until` an instant, included.
 *  Throws CalcError. Sources: IAS 2 Inventories, IASB (specific identification; weighted average as each shipment is received);
 *  the handling of negative stock and of late price changes is common practice. */
export function stockWorth(input: {
  events: readonly ValueEvent[];
  /** Powder in a unit of a container: 1 as bought, mg a µL of a solution. */
  perUnit: ReadonlyMap<number, number>;
  spans: readonly ValuationSpan[];
  until: number;
}): ItemWorth {
  const walk = new Walk(input.perUnit, input.spans[0]?.valuation ?? 'specific');
  // A jar has its price from the first entry on, even where something was taken of it before it was written down.
  for (const event of input.events) walk.price(event);
  const spans = input.spans.slice(1);
  for (let i = 0; i < input.events.length; ) {
    const at = input.events[i]?.at ?? 0;
    if (at > input.until) break;
    while (spans[0] && spans[0].from <= at) walk.value(spans.shift()?.valuation ?? 'specific');
    // What has one time belongs together: a correction takes a line back and writes another.
    for (let event = input.events[i]; event && event.at === at; event = input.events[++i]) walk.take(event);
    walk.settle();
    const next = input.events[i];
    if (next && next.at < at) throw new CalcError('outOfRange', 'events', 'events must be in the order of time');
  }
  while (spans[0] && spans[0].from <= input.until) walk.value(spans.shift()?.valuation ?? 'specific');
  return walk.worth();
}

class Walk {
  private readonly sums = {
    paidMinor: 0,
    issuedMinor: 0,
    wasteMinor: 0,
    countedMinor: 0,
    withoutCostMinor: 0,
    roundingMinor: 0,
    priceDifferenceMinor: 0,
  };
  private readonly containers = new Map<number, Container>();
  private readonly writtenOff = new Map<number, { as: 'waste' | 'counted' | 'withoutCost'; minor: number }>();
  private readonly touched = new Set<Container>();
  private pool = { valueMinor: 0, quantity: 0, roundings: 0 };
  private lastRate: { valueMinor: number; quantity: number } | null = null;
  private readonly perUnit: ReadonlyMap<number, number>;
  private valuation: Valuation;

  constructor(perUnit: ReadonlyMap<number, number>, valuation: Valuation) {
    this.perUnit = perUnit;
    this.valuation = valuation;
  }

  private get isAverage(): boolean {
    return this.valuation === 'movingAverage';
  }

  private of(stockLotId: number): Container {
    const known = this.containers.get(stockLotId);
    if (known) return known;
    const perUnit = finiteIn('perUnit', this.perUnit.get(stockLotId) ?? 1, { min: 0 });
    const made = { perUnit, received: 0, paidMinor: 0, quantity: 0, valueMinor: 0, roundings: 0 };
    this.containers.set(stockLotId, made);
    return made;
  }

  price(event: ValueEvent): void {
    if (event.what !== 'receipt' && event.what !== 'dissolved') return;
    const c = this.of(event.stockLotId);
    c.received = finiteIn('quantity', event.quantity, { min: 0, exclusiveMin: true });
    c.paidMinor = event.what === 'receipt' ? event.paidMinor : event.movedMinor;
  }

  take(event: ValueEvent): void {
    const c = this.of(event.stockLotId);
    this.touched.add(c);
    switch (event.what) {
      case 'receipt':
        this.receive(c, event.quantity, event.paidMinor);
        return;
      case 'dissolved':
        this.dissolve(c, event);
        return;
      case 'money':
        this.charge(c, event.amountMinor);
        return;
      case 'booked':
        this.book(c, event);
        return;
      case 'writtenOff': {
        const minor = -this.worthOf(c, event.quantity);
        this.writtenOff.set(event.entryId, { as: event.as, minor });
        this.sums[`${event.as}Minor`] += minor;
        this.move(c, event.quantity, -minor);
        return;
      }
      case 'takenBack': {
        const { as, minor } = this.writtenOff.get(event.entryId) ?? { as: 'counted' as const, minor: 0 };
        this.writtenOff.delete(event.entryId);
        this.sums[`${as}Minor`] -= minor;
        this.move(c, event.quantity, minor);
        return;
      }
    }
  }

  /** A quantity at the price of the moment, in whole units; negative of one that leaves. */
  private worthOf(c: Container, quantity: number): number {
    if (!this.isAverage) return c.received === 0 ? 0 : whole((quantity * c.paidMinor) / c.received);
    const rate = this.pool.quantity > NOTHING_MG ? this.pool : this.lastRate;
    return rate === null ? 0 : whole((quantity * c.perUnit * rate.valueMinor) / rate.quantity);
  }

  private move(c: Container, quantity: number, valueMinor: number): void {
    c.quantity += quantity;
    c.valueMinor += valueMinor;
    c.roundings += 1;
    this.pool.quantity += quantity * c.perUnit;
    this.pool.valueMinor += valueMinor;
    this.pool.roundings += 1;
  }

  private receive(c: Container, quantity: number, paidMinor: number): void {
    this.sums.paidMinor += paidMinor;
    const { quantity: before, valueMinor } = this.pool;
    this.move(c, quantity, paidMinor);
    if (!this.isAverage || before >= -NOTHING_MG) return;
    // What was taken before it came was paid by it: at its price, whatever it was booked at.
    const left = this.pool.quantity > 0 ? this.pool.quantity / (quantity * c.perUnit) : 0;
    const stillOwed = this.pool.quantity < 0 ? whole((valueMinor * this.pool.quantity) / before) : 0;
    this.differ(whole(paidMinor * left) + stillOwed);
  }

  private dissolve(c: Container, event: Extract<ValueEvent, { what: 'dissolved' }>): void {
    const source = this.of(event.sourceId);
    this.touched.add(source);
    c.quantity += event.quantity;
    source.quantity -= event.massMg;
    source.roundings += 1;
    c.valueMinor += event.movedMinor;
    source.valueMinor -= event.movedMinor;
  }

  private charge(c: Container, amountMinor: number): void {
    this.sums.paidMinor += amountMinor;
    c.paidMinor += amountMinor;
    const held = this.isAverage
      ? this.pool.quantity > NOTHING_MG
        ? Math.max(amountMinor, -this.pool.valueMinor)
        : 0
      : c.received === 0
        ? 0
        : whole((amountMinor * c.quantity) / c.received);
    this.move(c, 0, held);
    this.sums.priceDifferenceMinor += amountMinor - held;
  }

  private book(c: Container, event: Extract<ValueEvent, { what: 'booked' }>): void {
    const { quantity, costMinor, ownMinor } = event;
    this.sums.issuedMinor += costMinor;
    let gave = ownMinor ?? costMinor;
    if (!this.isAverage && c.received > 0) {
      const own = this.worthOf(c, quantity);
      // A rate that is kept in whole units may be a unit off; anything more is another price than the container's.
      gave = Math.abs(own - costMinor) <= 1 ? costMinor : own;
    }
    this.move(c, -quantity, -gave);
    this.sums.priceDifferenceMinor += gave - costMinor;
  }

  /** Sets the pool's money to what it is worth, and says the rest. */
  private differ(valueMinor: number): void {
    this.sums.priceDifferenceMinor += this.pool.valueMinor - valueMinor;
    this.pool.valueMinor = valueMinor;
  }

  /** An empty container, or an empty stock, is worth nothing: what is left over is said for what it is. */
  settle(): void {
    if (this.isAverage) this.settlePool();
    else {
      for (const c of this.touched) this.settleContainer(c);
      if (this.pool.quantity > NOTHING_MG) this.lastRate = { ...this.pool };
    }
    this.touched.clear();
  }

  private settleContainer(c: Container): void {
    if (c.quantity !== 0) return;
    this.leftOver(c.valueMinor, c.roundings);
    this.pool.valueMinor -= c.valueMinor;
    c.valueMinor = 0;
    c.roundings = 0;
  }

  private settlePool(): void {
    const { quantity, valueMinor, roundings } = this.pool;
    if (Math.abs(quantity) <= NOTHING_MG) {
      this.leftOver(valueMinor, roundings);
      this.pool = { valueMinor: 0, quantity: 0, roundings: 0 };
    } else if (quantity < 0 && this.lastRate !== null) {
      const owed = whole((quantity * this.lastRate.valueMinor) / this.lastRate.quantity);
      if (Math.abs(valueMinor - owed) > mostRounded(roundings)) this.differ(owed);
    } else if (quantity > 0) {
      if (valueMinor < 0) this.differ(0);
      this.lastRate = { valueMinor: this.pool.valueMinor, quantity };
    }
  }

  private leftOver(minor: number, roundings: number): void {
    if (Math.abs(minor) <= mostRounded(roundings)) this.sums.roundingMinor += minor;
    else this.sums.priceDifferenceMinor += minor;
  }

  /** The studio values its stock otherwise from here on. */
  value(valuation: Valuation): void {
    if (valuation === this.valuation) return;
    this.valuation = valuation;
    const all = [...this.containers.values()];
    if (this.isAverage) {
      this.pool = {
        valueMinor: all.reduce((sum, c) => sum + c.valueMinor, 0),
        quantity: all.reduce((sum, c) => sum + c.quantity * c.perUnit, 0),
        roundings: all.reduce((sum, c) => sum + c.roundings, 0),
      };
      this.settlePool();
      return;
    }
    const before = this.pool.valueMinor;
    for (const c of all) {
      c.valueMinor = this.worthOf(c, c.quantity);
      c.roundings = 1;
    }
    const after = all.reduce((sum, c) => sum + c.valueMinor, 0);
    this.sums.priceDifferenceMinor += before - after;
    this.pool.valueMinor = after;
  }

  worth(): ItemWorth {
    const all = [...this.containers];
    const inStockMinor = this.isAverage ? this.pool.valueMinor : all.reduce((sum, [, c]) => sum + c.valueMinor, 0);
    const a = this.pool.quantity > NOTHING_MG ? { ...this.pool, valueMinor: inStockMinor } : this.lastRate;
    const partOf = (c: Container): number =>
      a === null || a.quantity === 0 ? 0 : (c.quantity * c.perUnit * a.valueMinor) / a.quantity;
    return {
      ...this.sums,
      inStockMinor,
      containers: new Map(
        all.map(([id, c]) => [
          id,
          {
            quantity: c.quantity,
            valueMinor: this.isAverage ? partOf(c) : c.valueMinor,
            ownMinor: this.isAverage || c.received === 0 ? null : (c.quantity * c.paidMinor) / c.received,
            mostRoundedMinor: mostRounded(c.roundings),
          },
        ]),
      ),
      average: a === null ? null : { valueMinor: a.valueMinor, quantity: a.quantity },
    };
  }
}

/** Whether the four sides add up, by what they are: paid − issued − written off − in stock; 0 when they do. Definition. */
export const unaccountedMinor = (w: StockWorth): number =>
  w.paidMinor -
  w.issuedMinor -
  w.wasteMinor -
  w.countedMinor -
  w.withoutCostMinor -
  w.roundingMinor -
  w.priceDifferenceMinor -
  w.inStockMinor;
