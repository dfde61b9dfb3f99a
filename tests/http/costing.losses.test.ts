import { describe, expect, test } from 'vitest';
import { lastTwelveMonths, usualRanges } from '../../server/costing/ranges.ts';
import { lotLines } from '../../server/db/tables/lots.ts';
import { orderLines } from '../../server/db/tables/orders.ts';
import { freshStudio, MONDAY, type TestStudio } from '../support/app.ts';
import { type LotWorld, lotWorld, writeLot } from '../support/finishedLots.ts';

/* What a studio would lose if one small thing in its books went wrong: a lot in the wrong month, a customer who pays for
 * another’s mishap, a cent a piece. */

const at = (iso: string): number => Date.parse(iso);

async function studioWithWorld(): Promise<TestStudio & { world: LotWorld }> {
  const studio = await freshStudio();
  return { ...studio, world: lotWorld(studio.deps, studio.owner) };
}

interface Quote {
  lines: {
    orderLineId: number;
    costMinor: number;
    setUpMinor: number;
    lots: { number: string; costMinor: number; isActual: boolean; sharedBy: string | null; status: string }[];
    price: {
      lineMinor: number;
      pieceMinor: number | null;
      byMinimum: boolean;
      markupPct: number | null;
      marginPct: number | null;
    } | null;
  }[];
  totalMinor: number | null;
}

const quoted = async ({ api, world }: TestStudio & { world: LotWorld }, query: string): Promise<Quote> =>
  (await api.get(`/orders/${world.orderId}/quote?${query}`)).body;

const orderLine = ({ deps, world }: TestStudio & { world: LotWorld }, more: Partial<typeof orderLines.$inferInsert>) =>
  deps.db
    .insert(orderLines)
    .values({ orderId: world.orderId, ordinal: 2, description: 'scarves', ...more })
    .returning()
    .get().id;

describe('a quote', () => {
  test('rounds a piece up to the cent and never down, so that the line is not under what was asked', async () => {
    const studio = await studioWithWorld();
    writeLot(studio.world, { number: '26-0001', finishedAt: MONDAY, estimateMinor: 2_401 }, true);
    // 24.01 at a markup of 0: 24 pieces at 1.0004… are 1.01 each and 24.24 together.
    const [line] = (await quoted(studio, 'basis=markup&pct=0')).lines;
    expect(line?.price).toMatchObject({ pieceMinor: 101, lineMinor: 2_424, byMinimum: false });
    // What is said of it is said of the price that is charged: 23 of 2401, and 23 of 2424.
    expect(line?.price?.markupPct).toBeCloseTo((100 * 23) / 2401, 9);
    expect(line?.price?.marginPct).toBeCloseTo((100 * 23) / 2424, 9);
  });

  test('leaves the lot out that was given up: that is the studio’s loss and no customer’s', async () => {
    const studio = await studioWithWorld();
    writeLot(studio.world, { number: '26-0001', finishedAt: MONDAY, status: 'abandoned', outcome: null });
    expect(await quoted(studio, 'basis=markup&pct=50')).toMatchObject({
      lines: [{ costMinor: 0, lots: [], price: null }],
      totalMinor: null,
    });
    writeLot(studio.world, { number: '26-0002', finishedAt: MONDAY });
    const { lines, totalMinor } = await quoted(studio, 'basis=markup&pct=0&setUpMinor=100');
    expect(lines[0]?.lots).toEqual([
      expect.objectContaining({
        number: '26-0002',
        costMinor: 3_783,
        isActual: true,
        sharedBy: null,
        status: 'finished',
      }),
    ]);
    // 37.83 and one set-up of 1.00, in 24 pieces of 1.6179… each: 1.62.
    expect(lines[0]).toMatchObject({ costMinor: 3_783, setUpMinor: 100, price: { pieceMinor: 162, lineMinor: 3_888 } });
    expect(totalMinor).toBe(3_888);
  });

  test.each([
    ['mass', { masses: [400_000, 200_000], pieces: [24, 8] }, [667, 333]],
    ['pieces', { masses: [400_000, null], pieces: [24, 8] }, [750, 250]],
    ['equally', { masses: [400_000, null], pieces: [24, null] }, [500, 500]],
  ] as const)('shares a lot out among the lines that it serves by %s, to the cent', async (by, said, parts) => {
    const studio = await studioWithWorld();
    const { world, deps } = studio;
    const lineIds = [world.orderLineId, orderLine(studio, { pieces: 8 })];
    const lotId = writeLot(
      world,
      { number: '26-0001', finishedAt: MONDAY, estimateMinor: 1_000, orderLineIds: [] },
      true,
    );
    lineIds.forEach((id, i) => {
      deps.sqlite.prepare('update order_lines set dry_mass_mg = ? where id = ?').run(said.masses[i], id);
      deps.db
        .insert(lotLines)
        .values({ lotId, orderLineId: id, pieces: said.pieces[i] ?? null })
        .run();
    });
    const { lines } = await quoted(studio, 'basis=markup&pct=0');
    expect(lines.map((l) => [l.lots[0]?.sharedBy, l.costMinor])).toEqual(parts.map((part) => [by, part]));
  });

  test('prices a line whose pieces are not known as a whole', async () => {
    const studio = await studioWithWorld();
    studio.deps.db.run(`update order_lines set pieces = null where id = ${studio.world.orderLineId}`);
    writeLot(studio.world, { number: '26-0001', finishedAt: MONDAY, estimateMinor: 2_401 }, true);
    const [line] = (await quoted(studio, 'basis=margin&pct=40')).lines;
    // 24.01 / 0.6 = 40.0166…
    expect(line?.price).toMatchObject({ pieceMinor: null, lineMinor: 4_002, byMinimum: false });
  });

  test('says when the least that is charged was charged, and not when it was reached anyway', async () => {
    const studio = await studioWithWorld();
    writeLot(studio.world, { number: '26-0001', finishedAt: MONDAY, estimateMinor: 2_400 }, true);
    const price = async (minimumMinor: number) =>
      (await quoted(studio, `basis=markup&pct=0&minimumMinor=${minimumMinor}`)).lines[0]?.price;
    expect(await price(2_400)).toMatchObject({ lineMinor: 2_400, byMinimum: false });
    expect(await price(2_401)).toMatchObject({ lineMinor: 2_424, byMinimum: true });
  });

  test('of work that cost nothing has no markup, and of nothing charged no margin', async () => {
    const studio = await studioWithWorld();
    writeLot(studio.world, { number: '26-0001', finishedAt: MONDAY, estimateMinor: 0 }, true);
    const price = async (query: string) => (await quoted(studio, query)).lines[0]?.price;
    expect(await price('basis=markup&pct=50')).toMatchObject({ lineMinor: 0, markupPct: null, marginPct: null });
    expect(await price('basis=markup&pct=50&minimumMinor=2400')).toMatchObject({
      lineMinor: 2_400,
      markupPct: null,
      marginPct: 100,
    });
  });

  test('of an order that is not there is not found', async () => {
    const { api } = await studioWithWorld();
    expect((await api.get('/orders/999/quote?basis=markup&pct=50')).status).toBe(404);
  });
});

describe('a range of days', () => {
  const numbers = async (studio: TestStudio, range: string): Promise<string[]> =>
    (await studio.page.get(`/history/export.csv?columns=lot&${range}`)).text.trim().split('\r\n').slice(1).sort();

  test('has its first moment in it, and the first moment after it not', async () => {
    const studio = await studioWithWorld();
    // Lisbon keeps UTC in winter; the clocks go forward on 29 March 2026.
    for (const [number, iso] of [
      ['before', '2026-02-28T23:59:59.999Z'],
      ['first', '2026-03-01T00:00:00.000Z'],
      ['last', '2026-03-31T22:59:59.999Z'],
      ['after', '2026-03-31T23:00:00.000Z'],
    ] as const)
      writeLot(studio.world, { number, finishedAt: at(iso) });
    expect(await numbers(studio, 'from=2026-03-01&to=2026-03-31')).toEqual(['first', 'last']);
    expect(await numbers(studio, 'from=2026-04-01&to=2026-04-30')).toEqual(['after']);
    expect(await numbers(studio, 'from=2026-03-01')).toEqual(['after', 'first', 'last']);
    expect(await numbers(studio, 'to=2026-03-31')).toEqual(['before', 'first', 'last']);
  });

  test('is a month, a year, or the twelve months that end with this one', () => {
    expect(usualRanges('2026-03-31')).toEqual([
      { label: 'this month', from: '2026-03-01', to: '2026-03-31' },
      // A month before 31 March is February.
      { label: 'last month', from: '2026-02-01', to: '2026-02-28' },
      { label: 'this year', from: '2026-01-01', to: '2026-12-31' },
      { label: 'last year', from: '2025-01-01', to: '2025-12-31' },
      { label: 'everything', from: '', to: '' },
    ]);
    expect(usualRanges('2028-02-29')[1]).toEqual({ label: 'last month', from: '2028-01-01', to: '2028-01-31' });
    expect(usualRanges('2026-01-01')[1]).toEqual({ label: 'last month', from: '2025-12-01', to: '2025-12-31' });
    expect(lastTwelveMonths('2026-03-16')).toEqual({ label: 'twelve months', from: '2025-04-01', to: '2026-03-31' });
  });

  test.each(['12', '2026-3-1', '2026-02-30', '26-03-01', '2026-13-01', '2026-03-01T10:00', '01/03/2026', 'yesterday'])(
    '%s is no day to begin or end with',
    async (text) => {
      const { api, page } = await studioWithWorld();
      for (const end of ['from', 'to']) {
        const refused = await api.get(`/exports/lots.csv?${end}=${encodeURIComponent(text)}`);
        expect([end, refused.status, Object.keys(refused.body.fields ?? {})]).toEqual([end, 422, [end]]);
        expect((await page.get(`/history?${end}=${encodeURIComponent(text)}`)).status).toBe(422);
      }
    },
  );

  test('ends on the day on which it begins, or later', async () => {
    const { api } = await studioWithWorld();
    expect((await api.get('/exports/lots.csv?from=2026-03-01&to=2026-03-01')).status).toBe(200);
    expect((await api.get('/exports/lots.csv?from=2026-03-02&to=2026-03-01')).body.fields).toEqual({
      to: 'The last day lies before the first.',
    });
  });
});
