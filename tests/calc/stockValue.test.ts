import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  type ItemWorth,
  stockWorth,
  unaccountedMinor,
  type Valuation,
  type ValueEvent,
} from '../../server/calc/stockValue.ts';

const ALWAYS = (valuation: Valuation) => [{ from: Number.MIN_SAFE_INTEGER, valuation }];
const worthOf = (
  events: readonly ValueEvent[],
  valuation: Valuation,
  until = Number.MAX_SAFE_INTEGER,
  perUnit = new Map<number, number>(),
): ItemWorth => stockWorth({ events, perUnit, spans: ALWAYS(valuation), until });

const receipt = (at: number, stockLotId: number, quantity: number, paidMinor: number): ValueEvent => ({
  what: 'receipt',
  at,
  stockLotId,
  quantity,
  paidMinor,
});
const booked = (at: number, stockLotId: number, quantity: number, costMinor: number): ValueEvent => ({
  what: 'booked',
  at,
  stockLotId,
  quantity,
  costMinor,
  ownMinor: null,
});
const gone = (at: number, stockLotId: number, quantity: number, entryId = at): ValueEvent => ({
  what: 'writtenOff',
  at,
  stockLotId,
  entryId,
  as: 'waste',
  quantity: -quantity,
});
const money = (at: number, stockLotId: number, amountMinor: number): ValueEvent => ({
  what: 'money',
  at,
  stockLotId,
  amountMinor,
});

describe('a perpetual moving average', () => {
  // Worked by hand, as textbooks of cost accounting do it (common practice): 100 g at 10, 200 g at 11.50.
  const first = [receipt(1, 1, 100, 1000), receipt(2, 2, 200, 2300)];

  test('goes on from what is left after each receipt and issue', () => {
    // (1000 + 2300) / 300 = 11. 150 g go at 11 = 1650; 1650 is left in 150 g. 50 g at 15 come: (1650 + 750) / 200 = 12.
    const events = [...first, booked(3, 1, 150, 1650), receipt(4, 3, 50, 750)];
    expect(worthOf(events, 'movingAverage', 2).average).toEqual({ valueMinor: 3300, quantity: 300 });
    expect(worthOf(events, 'movingAverage', 3)).toMatchObject({ issuedMinor: 1650, inStockMinor: 1650 });
    expect(worthOf(events, 'movingAverage').average).toEqual({ valueMinor: 2400, quantity: 200 });
  });

  test('a receipt that is written down late flows into what is still there, and the booked issue stays', () => {
    // 11.99 were booked for 150 g before anybody wrote the second receipt down: 77.00 paid, 65.01 in stock and not 61.80.
    const late = [receipt(1, 1, 500, 4000), receipt(2, 2, 250, 3700), booked(3, 1, 150, 1199)];
    expect(worthOf(late, 'movingAverage')).toMatchObject({
      paidMinor: 7700,
      issuedMinor: 1199,
      priceDifferenceMinor: 0,
      inStockMinor: 6501,
      average: { valueMinor: 6501, quantity: 600 },
    });
  });

  test('late freight is for what is left, and of nothing left a price difference', () => {
    const some = worthOf([...first, booked(3, 1, 150, 1650), money(4, 1, 150)], 'movingAverage');
    expect(some).toMatchObject({ paidMinor: 3450, inStockMinor: 1800, priceDifferenceMinor: 0 });
    expect(some.average).toEqual({ valueMinor: 1800, quantity: 150 });
    const none = worthOf([...first, booked(3, 1, 300, 3300), money(4, 1, 150)], 'movingAverage');
    expect(none).toMatchObject({ inStockMinor: 0, priceDifferenceMinor: 150, roundingMinor: 0 });
  });

  test('a credit takes no more from stock than is there', () => {
    const w = worthOf([...first, booked(3, 1, 280, 3080), money(4, 2, -300)], 'movingAverage');
    // 20 g are left, worth 220: 80 of the credit are for what has gone.
    expect(w).toMatchObject({ inStockMinor: 0, priceDifferenceMinor: -80 });
    expect(unaccountedMinor(w)).toBe(0);
  });

  test('what was taken before it came is paid by the receipt that comes', () => {
    // 120 g are booked at 10 from 100 g: 200 too much for 20 g. The next 50 g cost 15: 20 of them were used, 300 and not 200.
    const short = [receipt(1, 1, 100, 1000), booked(2, 1, 120, 1200)];
    expect(worthOf(short, 'movingAverage')).toMatchObject({ inStockMinor: -200, priceDifferenceMinor: 0 });
    const after = worthOf([...short, receipt(3, 2, 50, 750)], 'movingAverage');
    expect(after).toMatchObject({ inStockMinor: 450, priceDifferenceMinor: 100 });
    expect(unaccountedMinor(after)).toBe(0);
  });

  test('what whole units leave over is rounding when stock is empty', () => {
    // 100 c for 300 g: three times 100 g at a third of a euro are 33 c each, 1 c is left of nothing.
    const w = worthOf(
      [receipt(1, 1, 300, 100), booked(2, 1, 100, 33), booked(3, 1, 100, 33), booked(4, 1, 100, 33)],
      'movingAverage',
    );
    expect(w).toMatchObject({ issuedMinor: 99, roundingMinor: 1, priceDifferenceMinor: 0, inStockMinor: 0 });
  });
});

describe('specific identification', () => {
  test('each container goes at its own price', () => {
    const w = worthOf(
      [receipt(1, 1, 100, 1000), receipt(2, 2, 200, 2300), booked(3, 2, 100, 1150), gone(4, 1, 20)],
      'specific',
    );
    expect(w).toMatchObject({ issuedMinor: 1150, wasteMinor: 200, inStockMinor: 1950 });
    expect([w.containers.get(1)?.valueMinor, w.containers.get(2)?.valueMinor]).toEqual([800, 1150]);
  });

  test('a credit is shared between what is left and what has gone', () => {
    // 60 of 100 g have gone: of a credit of 300, 120 are for the 40 g left (280 at 7 c) and 180 for what was booked at 10.
    const w = worthOf([receipt(1, 1, 100, 1000), booked(2, 1, 60, 600), money(3, 1, -300)], 'specific');
    expect(w).toMatchObject({ paidMinor: 700, inStockMinor: 280, priceDifferenceMinor: -180 });
  });

  test('a corrected price is a difference, and stock keeps its own', () => {
    const back: ValueEvent = { ...booked(3, 1, -50, -500), at: 3 };
    const dearer: ValueEvent = { what: 'booked', at: 3, stockLotId: 1, quantity: 50, costMinor: 800, ownMinor: 500 };
    for (const valuation of ['specific', 'movingAverage'] as const) {
      const w = worthOf([receipt(1, 1, 100, 1000), booked(2, 1, 50, 500), back, dearer], valuation);
      expect(w).toMatchObject({ issuedMinor: 800, priceDifferenceMinor: -300, inStockMinor: 500 });
    }
  });

  test('what was thrown away and taken back is worth what it was', () => {
    const back: ValueEvent = { what: 'takenBack', at: 4, stockLotId: 1, entryId: 2, quantity: 30 };
    for (const valuation of ['specific', 'movingAverage'] as const) {
      const events = [receipt(1, 1, 70, 100), gone(2, 1, 30), receipt(3, 2, 30, 900), back];
      expect(worthOf(events, valuation)).toMatchObject({ wasteMinor: 0, inStockMinor: 1000, priceDifferenceMinor: 0 });
    }
  });
});

test('another valuation from a day on leaves what was written off before as it was', () => {
  const events = [receipt(1, 1, 100, 1000), receipt(2, 2, 100, 3000), gone(3, 1, 10), gone(5, 1, 10)];
  const spans = [...ALWAYS('specific'), { from: 4, valuation: 'movingAverage' as const }];
  const at = (until: number) => stockWorth({ events, perUnit: new Map(), spans, until });
  // 10 g at 10, then 10 g at (900 + 3000) / 190 = 20.53.
  expect([at(3).wasteMinor, at(4).wasteMinor, at(5).wasteMinor]).toEqual([100, 100, 305]);
  const back = [...spans, { from: 6, valuation: 'specific' as const }];
  const w = stockWorth({ events, perUnit: new Map(), spans: back, until: 9 });
  // 80 g at 10 and 100 g at 30 are 3800; of 4000, 100 and 205 had been written off: 3695.
  expect(w).toMatchObject({ inStockMinor: 3800, priceDifferenceMinor: -105 });
  expect(unaccountedMinor(w)).toBe(0);
});

// ── against a model of its own: whole numbers and fractions of them, nothing else ──
interface Fraction {
  n: bigint;
  d: bigint;
}
const rounded = ({ n, d }: Fraction): bigint => {
  const m = n < 0n ? -n : n;
  const q = (2n * m + d) / (2n * d);
  return n < 0n ? -q : q;
};

const jar = fc.nat(2);
const deeds = fc.array(
  fc.oneof(
    fc.record({
      deed: fc.constant('receive' as const),
      jar,
      quantity: fc.integer({ min: 1, max: 900_000 }),
      paid: fc.nat(50_000),
    }),
    fc.record({
      deed: fc.constantFrom('issue' as const, 'waste' as const),
      jar,
      quantity: fc.integer({ min: 1, max: 300_000 }),
    }),
    fc.record({
      deed: fc.constant('money' as const),
      jar,
      amount: fc.integer({ min: -3000, max: 3000 }).filter((a) => a !== 0),
    }),
    fc.record({ deed: fc.constant('empty' as const), jar }),
  ),
  { minLength: 1, maxLength: 40 },
);

describe('under any history', () => {
  test('a moving average is money by quantity, whole unit by whole unit', () => {
    fc.assert(
      fc.property(deeds, (history) => {
        const events: ValueEvent[] = [];
        let jars = 0;
        // The model: money and milligrams in stock.
        let value = 0n;
        let mass = 0n;
        let [paid, issued, wasted, other] = [0n, 0n, 0n, 0n];
        for (const [i, d] of history.entries()) {
          const at = i + 1;
          if (d.deed === 'receive') {
            events.push(receipt(at, ++jars, d.quantity, d.paid));
            paid += BigInt(d.paid);
            value += BigInt(d.paid);
            mass += BigInt(d.quantity);
          } else if (jars === 0) continue;
          else if (d.deed === 'money') {
            events.push(money(at, (d.jar % jars) + 1, d.amount));
            paid += BigInt(d.amount);
            if (mass > 0n) value += BigInt(d.amount);
            else other += BigInt(d.amount);
            if (value < 0n) {
              other += value;
              value = 0n;
            }
          } else {
            const quantity = d.deed === 'empty' ? mass : BigInt(d.quantity) < mass ? BigInt(d.quantity) : mass;
            if (quantity === 0n) continue;
            const cost = rounded({ n: quantity * value, d: mass });
            const stockLotId = (d.jar % jars) + 1;
            if (d.deed === 'waste') {
              events.push(gone(at, stockLotId, Number(quantity)));
              wasted += cost;
            } else {
              events.push(booked(at, stockLotId, Number(quantity), Number(cost)));
              issued += cost;
            }
            value -= cost;
            mass -= quantity;
            if (mass === 0n) {
              other += value;
              value = 0n;
            }
          }
          const w = worthOf(events, 'movingAverage', at);
          expect([w.paidMinor, w.issuedMinor, w.wasteMinor, w.inStockMinor].map(BigInt)).toEqual([
            paid,
            issued,
            wasted,
            value,
          ]);
          expect(BigInt(w.roundingMinor + w.priceDifferenceMinor)).toBe(other);
          expect(unaccountedMinor(w)).toBe(0);
        }
      }),
      { numRuns: 150 },
    );
  });

  test('each container is worth its quantity at its own price, within what whole units carry', () => {
    fc.assert(
      fc.property(deeds, (history) => {
        const events: ValueEvent[] = [];
        const model: { received: bigint; paid: bigint; mass: bigint; deeds: number }[] = [];
        for (const [i, d] of history.entries()) {
          const at = i + 1;
          if (d.deed === 'receive') {
            model.push({ received: BigInt(d.quantity), paid: BigInt(d.paid), mass: BigInt(d.quantity), deeds: 0 });
            events.push(receipt(at, model.length, d.quantity, d.paid));
            continue;
          }
          const stockLotId = (d.jar % Math.max(1, model.length)) + 1;
          const c = model[stockLotId - 1];
          if (!c) continue;
          c.deeds += 1;
          if (d.deed === 'money') {
            if (c.paid + BigInt(d.amount) < 0n) continue;
            c.paid += BigInt(d.amount);
            events.push(money(at, stockLotId, d.amount));
          } else {
            const quantity = d.deed === 'empty' ? c.mass : BigInt(d.quantity);
            if (quantity === 0n) continue;
            const cost = Number(rounded({ n: quantity * c.paid, d: c.received }));
            events.push(
              d.deed === 'waste'
                ? gone(at, stockLotId, Number(quantity))
                : booked(at, stockLotId, Number(quantity), cost),
            );
            c.mass -= quantity;
          }
          const w = worthOf(events, 'specific', at);
          expect(unaccountedMinor(w)).toBe(0);
          model.forEach((m, n) => {
            const own = w.containers.get(n + 1);
            expect(BigInt(own?.quantity ?? 0)).toBe(m.mass);
            const exact = Number(m.mass * m.paid) / Number(m.received);
            expect(Math.abs((own?.valueMinor ?? 0) - exact)).toBeLessThanOrEqual(m.deeds / 2 + 1e-6);
            if (m.mass === 0n) expect(own?.valueMinor).toBe(0);
          });
        }
      }),
      { numRuns: 150 },
    );
  });
});
