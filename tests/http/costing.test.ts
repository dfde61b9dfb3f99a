import { parse } from 'csv-parse/sync';
import { describe, expect, test } from 'vitest';
import { customers, orderLines, orders } from '../../server/db/tables/orders.ts';
import type { Deps } from '../../server/deps.ts';
import { freshStudio, MONDAY, type TestStudio } from '../support/app.ts';
import { correctCostLine, type LotWorld, lotWorld, writeLot } from '../support/finishedLots.ts';
import { ranBy } from '../support/statements.ts';

const HOUR = 3_600_000;
const at = (iso: string): number => Date.parse(iso);

async function studioWithWorld(): Promise<TestStudio & { world: LotWorld }> {
  const studio = await freshStudio();
  return { ...studio, world: lotWorld(studio.deps, studio.owner) };
}

/** A file as an independent reader sees it: records by the header's names. */
const read = (text: string): Record<string, string>[] =>
  parse(text, { columns: true, record_delimiter: '\r\n' }) as Record<string, string>[];

/** Money of a column as whole cents, digit by digit, so that no sum passes through a fraction. */
const cents = (rows: readonly Record<string, string>[], column: string): number =>
  rows.reduce((sum, row) => {
    const [, sign = '', whole = '', part = ''] = /^(-?)(\d+)\.(\d{2})$/.exec(row[column] ?? '') ?? [];
    if (whole === '') throw new Error(`${column} is no money: ${row[column]}`);
    return sum + (sign === '-' ? -1 : 1) * (Number(whole) * 100 + Number(part));
  }, 0);

const ledgerSum = (deps: Deps): unknown => deps.sqlite.prepare('select sum(cost_minor) from cost_lines').pluck().get();

describe('a month for the books', () => {
  test('adds to the same cent as CSV by lot, as CSV by line, as JSON, on the page and in the tables', async () => {
    const { page, api, deps, world } = await studioWithWorld();
    for (let day = 1; day <= 12; day++) {
      const lotId = writeLot(world, {
        number: `26-${String(day).padStart(4, '0')}`,
        finishedAt: at(`2026-03-${String(day).padStart(2, '0')}T15:00:00Z`),
        status: day === 4 ? 'abandoned' : 'finished',
        outcome: day === 4 ? null : { firstQuality: 24 - (day % 3), seconds: day % 3 },
        extraCostLines: [
          {
            kind: 'other',
            description: 'collecting the bath',
            quantity: 1,
            quantityUnit: 'piece',
            priceMinor: 33 * day,
            perQuantity: 1,
            costMinor: 33 * day,
          },
        ],
      });
      if (day % 5 === 0) correctCostLine(world, lotId, 4, 7);
    }
    // 12 × 37.83, + 0.33 × (1 + … + 12) = 25.74, − 2 × 27.00 labour taken back
    const total = 12 * 3783 + 2574 - 2 * 2700;
    expect(ledgerSum(deps)).toBe(total);

    const range = 'from=2026-03-01&to=2026-03-31';
    const byLot = read((await page.get(`/history/export.csv?${range}&rows=lot`)).text);
    expect(byLot).toHaveLength(12);
    expect(cents(byLot, 'total_cost')).toBe(total);
    for (const row of byLot) {
      const parts = ['material_cost', 'labour_cost', 'overhead_cost', 'other_cost'].map((c) => cents([row], c));
      expect(parts.reduce((sum, part) => sum + part, 0)).toBe(cents([row], 'total_cost'));
    }
    const byLine = read((await page.get(`/history/export.csv?${range}&rows=costLine`)).text);
    expect(byLine).toHaveLength(12 * 6 + 2);
    expect(cents(byLine, 'cost')).toBe(total);
    for (const row of byLot) {
      expect(
        cents(
          byLine.filter((line) => line['lot'] === row['lot']),
          'cost',
        ),
      ).toBe(cents([row], 'total_cost'));
    }

    const json = (await api.get(`/history?${range}`)).body;
    expect(json.totals).toMatchObject({ lots: 12, totalMinor: total, labourMinor: 12 * 2700 - 2 * 2700 });
    expect(json.lots.reduce((sum: number, lot: { totalMinor: number }) => sum + lot.totalMinor, 0)).toBe(total);
    const shown = (await page.get(`/history?${range}`)).text;
    expect(total).toBe(42_570);
    expect(shown).toContain('€425.70');
  });

  test('a lot that was given up is in it, with what was spent and no unit cost', async () => {
    const { page, world } = await studioWithWorld();
    writeLot(world, { number: '26-0001', finishedAt: MONDAY, status: 'abandoned', outcome: null });
    const [row] = read((await page.get('/history/export.csv')).text);
    expect(row).toMatchObject({ status: 'abandoned', first_quality: '', total_cost: '37.83', unit_cost: '' });
    expect((await page.get('/history')).text).toContain('given up');
  });
});

describe('one row a lot', () => {
  test('says what the page of the lot says, in documented units', async () => {
    const { page, world } = await studioWithWorld();
    writeLot(world, {
      number: '26-0042',
      finishedAt: at('2026-03-10T15:00:00Z'),
      dryMassMg: 1_234_560,
      goodsText: '24 napkins, "damask"',
      outcome: { firstQuality: 22, seconds: 2, secondsValueMinor: 500 },
    });
    const rows = read((await page.get('/history/export.csv?from=2026-03-10&to=2026-03-10')).text);
    expect(rows).toEqual([
      {
        lot: '26-0042',
        finished_on: '2026-03-10',
        status: 'finished',
        customers: 'Café Foz',
        orders: 'O-1',
        method: 'Immersion, warm',
        fibre: 'Linen, natural',
        goods: '24 napkins, "damask"',
        shades: 'Leaf',
        pieces: '24',
        dry_mass_g: '1234.56',
        first_quality: '22',
        seconds: '2',
        rework: '0',
        scrap: '0',
        seconds_value: '5.00',
        material_cost: '1.83',
        labour_cost: '27.00',
        overhead_cost: '9.00',
        other_cost: '0.00',
        total_cost: '37.83',
        of_which_wasted: '0.00',
        estimate: '40.00',
        // (37.83 − 5.00) / 22
        unit_cost: '1.4923',
        rework_of: '',
        currency: 'EUR',
      },
    ]);
  });

  test('names every customer and order once, and the waste apart', async () => {
    const { page, deps, world } = await studioWithWorld();
    const guild = deps.db.insert(customers).values({ name: 'Archive; the Guild' }).returning().get();
    const order = deps.db
      .insert(orders)
      .values({ number: 'O-2', customerId: guild.id, orderedOn: '2026-03-02', status: 'open' })
      .returning()
      .get();
    const lines = [1, 2].map(
      (ordinal) =>
        deps.db.insert(orderLines).values({ orderId: order.id, ordinal, description: 'scarf' }).returning().get().id,
    );
    writeLot(world, {
      number: '26-0001',
      finishedAt: MONDAY,
      orderLineIds: [world.orderLineId, ...lines],
      extraCostLines: [
        {
          kind: 'dye',
          description: 'Yellow, discarded',
          dyeId: world.dyeIds[0],
          stockLotId: world.stockLotIds.yellow,
          quantity: 2_000,
          quantityUnit: 'mg',
          priceMinor: 4_250,
          perQuantity: 500_000,
          costMinor: 17,
          wasted: 1,
        },
      ],
    });
    const [row] = read((await page.get('/history/export.csv')).text);
    expect(row).toMatchObject({
      customers: 'Archive; the Guild; Café Foz',
      orders: 'O-1; O-2',
      of_which_wasted: '0.17',
      material_cost: '2.00',
    });
  });
});

describe('one row a cost line', () => {
  test('leads from the cost to the container, the maker’s lot and the rate', async () => {
    const { page, world } = await studioWithWorld();
    const lotId = writeLot(world, { number: '26-0042', finishedAt: at('2026-03-10T15:00:00Z') });
    correctCostLine(world, lotId, 3, 6);
    const rows = read((await page.get('/history/export.csv?from=2026-03-10&to=2026-03-10&rows=costLine')).text);
    expect(rows).toHaveLength(6);
    expect(rows[0]).toEqual({
      lot: '26-0042',
      finished_on: '2026-03-10',
      written_on: '2026-03-10',
      line: '1',
      kind: 'dye',
      description: 'Yellow',
      code: 'Y1',
      container: 'Y1-A',
      makers_lot: 'P-77',
      quantity: '12.6',
      unit: 'g',
      price: '42.50',
      per_quantity: '500',
      cost: '1.07',
      wasted: 'no',
      corrects: '',
      person: '',
      valuation: '',
      correction: '',
      reason: '',
      corrected_by: '',
      currency: 'EUR',
    });
    expect(rows[3]).toMatchObject({ kind: 'labour', quantity: '5400', unit: 's', per_quantity: '3600', person: 'Rui' });
    expect(rows[5]).toMatchObject({ quantity: '-40', cost: '-0.10', corrects: '3' });
    for (const row of rows) {
      const exact = (Number(row['quantity']) * Number(row['price'])) / Number(row['per_quantity']);
      expect(Math.abs(exact - Number(row['cost']))).toBeLessThanOrEqual(0.005 + 1e-9);
    }
  });

  test('a maker’s lot that looks like a formula stays text', async () => {
    const { page, world } = await studioWithWorld();
    writeLot(world, { number: '26-0001', finishedAt: MONDAY });
    const text = (await page.get('/history/export.csv?rows=costLine')).text;
    expect(text).toContain(`"'=S,""1"""`);
    expect(read(text)[2]?.['makers_lot']).toBe(`'=S,"1"`);
  });
});

describe('the range', () => {
  test('goes by the studio’s days, across the change to summer time', async () => {
    const { page, world } = await studioWithWorld();
    // Lisbon: UTC until 2026-03-29 01:00 UTC, then UTC+1.
    const moments = {
      '26-0001': '2026-03-27T23:59:59Z', // 27th
      '26-0002': '2026-03-28T00:00:00Z', // 28th, first instant
      '26-0003': '2026-03-28T23:59:59Z', // 28th, last second
      '26-0004': '2026-03-29T22:59:59Z', // 29th, last second of a day of 23 hours
      '26-0005': '2026-03-29T23:00:00Z', // 30th, first instant
    };
    for (const [number, iso] of Object.entries(moments)) writeLot(world, { number, finishedAt: at(iso) });
    const lots = async (query: string): Promise<string[]> =>
      read((await page.get(`/history/export.csv?${query}`)).text).map((r) => `${r['lot']} ${r['finished_on']}`);
    expect(await lots('from=2026-03-28&to=2026-03-28')).toEqual(['26-0002 2026-03-28', '26-0003 2026-03-28']);
    expect(await lots('from=2026-03-29&to=2026-03-29')).toEqual(['26-0004 2026-03-29']);
    expect(await lots('from=2026-03-30')).toEqual(['26-0005 2026-03-30']);
    expect(await lots('to=2026-03-27')).toEqual(['26-0001 2026-03-27']);
    expect(await lots('')).toHaveLength(5);
  });

  test('without ends the page shows this month, and says where the last lot lies when there is none', async () => {
    const { page, world } = await studioWithWorld();
    writeLot(world, { number: '26-0001', finishedAt: at('2026-02-10T12:00:00Z') });
    const empty = (await page.get('/history')).text;
    expect(empty).toContain('value="2026-03-01"');
    expect(empty).toContain('The last lot was closed on 10 Feb 2026');
    const everything = (await page.get('/history?from=&to=')).text;
    expect(everything).toContain('26-0001');
  });

  test('a studio without a finished lot is told where costs come from', async () => {
    const { page } = await freshStudio();
    expect((await page.get('/history')).text).toContain('No lot has been finished yet');
    const csv = await page.get('/history/export.csv');
    expect(csv.status).toBe(200);
    expect(csv.text.trim().split('\r\n')).toHaveLength(1);
  });

  test('what cannot be read is named beside its field, and nothing is guessed', async () => {
    const { page, api } = await studioWithWorld();
    const refused = await page.get('/history?from=2026-02-30&to=2026-03-01&order=O-9');
    expect(refused.status).toBe(422);
    expect(refused.text).toMatch(/id="f-from-error">[^<]*not a day/);
    expect(refused.text).toContain('value="O-9"');
    expect((await page.get('/history?from=&to=&order=O-9')).text).toMatch(/id="f-order-error">There is no order O-9/);
    expect((await page.get('/history?from=2026-03-02&to=2026-03-01')).text).toMatch(/id="f-to-error">[^<]*before/);
    for (const query of [
      'from=yesterday',
      'rows=everything',
      'methodId=x',
      'from=2026-03-02&to=2026-03-01',
      'order=O-9',
    ]) {
      const answer = await api.get(`/exports/lots.csv?${query}`);
      expect([answer.status, answer.body.code], query).toEqual([422, 'invalidInput']);
      expect((await page.get(`/history/export.csv?${query}`)).status, query).toBe(422);
    }
  });

  test('filters by order, customer, method and fibre', async () => {
    const { page, deps, world } = await studioWithWorld();
    const other = deps.sqlite.prepare("insert into methods (name) values ('Vat') returning id").pluck().get() as number;
    const silk = deps.sqlite
      .prepare("insert into fibres (name, class, kind) values ('Silk', 'protein', 'yarn') returning id")
      .pluck()
      .get() as number;
    writeLot(world, { number: '26-0001', finishedAt: MONDAY });
    writeLot(world, { number: '26-0002', finishedAt: MONDAY + HOUR, methodId: other, orderLineIds: [] });
    writeLot(world, { number: '26-0003', finishedAt: MONDAY + 2 * HOUR, fibreId: silk, orderLineIds: [] });
    const lots = async (query: string): Promise<(string | undefined)[]> =>
      read((await page.get(`/history/export.csv?${query}`)).text).map((r) => r['lot']);
    expect(await lots('order=o-1')).toEqual(['26-0001']);
    expect(await lots(`customerId=${world.customerId}`)).toEqual(['26-0001']);
    expect(await lots(`methodId=${other}`)).toEqual(['26-0002']);
    expect(await lots(`fibreId=${silk}`)).toEqual(['26-0003']);
    expect(await lots(`fibreId=${silk}&methodId=${other}`)).toEqual([]);
    const shown = (await page.get(`/history?from=&to=&fibreId=${silk}`)).text;
    expect(shown).toContain('26-0003');
    expect(shown).not.toContain('26-0001');
    expect(shown).toContain(`href="/history/export.csv?fibreId=${silk}&amp;rows=lot"`);
  });
});

describe('the file', () => {
  test('is one list of columns: header, page and API say the same', async () => {
    const { page, api, world } = await studioWithWorld();
    writeLot(world, { number: '26-0001', finishedAt: MONDAY });
    const documented = (await api.get('/exports/columns')).body;
    const shown = (await page.get('/history')).text;
    for (const rows of ['lot', 'costLine'] as const) {
      const header = (await page.get(`/history/export.csv?rows=${rows}`)).text.split('\r\n')[0];
      expect(documented[rows].map((c: { name: string }) => c.name).join(',')).toBe(header);
      for (const column of documented[rows]) {
        expect(shown).toContain(`<code>${column.name}</code>`);
        expect(column.meaning.length, column.name).toBeGreaterThan(3);
      }
    }
  });

  test('comes to a token that may read, and to nobody else', async () => {
    const { app, api, page, world } = await studioWithWorld();
    writeLot(world, { number: '26-0001', finishedAt: MONDAY });
    const file = await api.get('/exports/lots.csv?rows=costLine&from=2026-03-01');
    expect(file.headers['content-type']).toContain('text/csv');
    expect(file.headers['content-disposition']).toContain('batch%20history%20from%202026-03-01%20cost%20lines.csv');
    expect(file.text).toBe((await page.get('/history/export.csv?rows=costLine&from=2026-03-01')).text);
    expect((await app.inject({ url: '/api/v1/exports/lots.csv' })).statusCode).toBe(401);
    expect((await app.inject({ url: '/history/export.csv' })).statusCode).toBe(303);
  });

  test('is read in pages of a fixed number of statements, and loses nothing where they meet', async () => {
    const { page, api, deps, world } = await studioWithWorld();
    const write = (from: number, to: number): void => {
      deps.db.transaction(() => {
        for (let n = from; n <= to; n++) {
          // Many closed in the same instant, so that a page ends among equals.
          writeLot(world, { number: `L-${String(n).padStart(4, '0')}`, finishedAt: MONDAY + (n >> 5) * HOUR });
        }
      });
    };
    const statements = async (url: string): Promise<number> => {
      const ran = await ranBy(deps, () => page.get(url).expect(200));
      return ran.filter(({ source }) => /from closed_lots l|from cost_lines/.test(source)).length;
    };
    write(1, 10);
    const few = [
      await statements('/history/export.csv'),
      await statements('/history'),
      await statements('/history/export.csv?rows=costLine'),
    ];
    // A page of lots and one that finds no further; the screen's lots, its sums, and three that prove them; keys of lots, their lines, no
    // further. What nothing was renamed of asks for no names.
    expect(few).toEqual([2, 5, 3]);
    write(11, 20);
    expect([
      await statements('/history/export.csv'),
      await statements('/history'),
      await statements('/history/export.csv?rows=costLine'),
    ]).toEqual(few);

    write(21, 520);
    const byLot = read((await page.get('/history/export.csv')).text);
    expect(byLot.map((r) => r['lot'])).toEqual(
      Array.from({ length: 520 }, (_, i) => `L-${String(i + 1).padStart(4, '0')}`),
    );
    const byLine = read((await page.get('/history/export.csv?rows=costLine')).text);
    expect(byLine).toHaveLength(520 * 5);
    expect(cents(byLine, 'cost')).toBe(ledgerSum(deps));
    expect(cents(byLot, 'total_cost')).toBe(ledgerSum(deps));

    // The screen and the JSON go on from where they stopped, newest first.
    const seen: string[] = [];
    for (let after = ''; ; ) {
      const body: { lots: { number: string }[]; next: string | null } = (
        await api.get(`/history${after && `?after=${after}`}`)
      ).body;
      seen.push(...body.lots.map((lot) => lot.number));
      if (body.next === null) break;
      after = body.next;
    }
    expect(seen).toEqual(byLot.map((r) => r['lot']).reverse());
    const first = (await page.get('/history')).text;
    const more = /href="([^"]*after=[^"]*)">More/.exec(first)?.[1]?.replaceAll('&amp;', '&') ?? '';
    const second = (await page.get(more)).text;
    expect(first).toContain('L-0520');
    expect(second).toContain('L-0420');
    expect(second).not.toContain('L-0421');
  });

  test('a currency without a minor unit has no decimals, one with three has three', async () => {
    const { page, deps, world } = await studioWithWorld();
    writeLot(world, { number: '26-0001', finishedAt: MONDAY });
    const total = async (currency: string): Promise<string | undefined> => {
      deps.sqlite.prepare('update studio set currency = ?').run(currency);
      return read((await page.get('/history/export.csv')).text)[0]?.['total_cost'];
    };
    expect(await total('JPY')).toBe('3783');
    expect(await total('KWD')).toBe('3.783');
  });
});
