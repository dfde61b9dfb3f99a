import { createHash } from 'node:crypto';
import { describe, expect, test } from 'vitest';
import { correctCostLine } from '../../server/costing/corrections.ts';
import { costLineRowsOf } from '../../server/costing/queries.ts';
import type { StockLotRow } from '../../server/db/tables/stock.ts';
import { noteValuation, theStudio, updateStudio } from '../../server/settings/queries.ts';
import { placeOf } from '../../server/stock/arrival.ts';
import {
  changeContainer,
  closeContainer,
  makeStockSolution,
  receiveContainer,
  reopenContainer,
} from '../../server/stock/containers.ts';
import { issue, makeSolution, receive, redraw, stockTake, takeBack, waste } from '../../server/stock/ledger.ts';
import { addStockMoney } from '../../server/stock/money.ts';
import { movingAverageRate, movingAverageRates } from '../../server/stock/movingAverage.ts';
import {
  ledgerOf,
  onHand,
  shelfItem,
  standingIssuesOf,
  stockLotById,
  strengthChangesOf,
} from '../../server/stock/queries.ts';
import type { ReceiptInput } from '../../server/stock/schemas.ts';
import { contentDigest } from '../../server/stock/sentOnce.ts';
import { shoppingList } from '../../server/stock/shopping.ts';
import { preparedSolution, priceOfSolution } from '../../server/stock/solutions.ts';
import { withShelfWorth, worthOfItem } from '../../server/stock/worth.ts';
import { bareStudio, MONDAY } from '../support/app.ts';
import { lotWorld, writeLot } from '../support/finishedLots.ts';
import { refused } from '../support/refused.ts';
import { statementsOf } from '../support/statements.ts';

/* What the ledger of a studio would lose if one small thing in its rules went wrong. Yellow: 500 g for 42.50; blue: 250 g for 39.00;
 * soda ash: 5 kg for 12.00. A lot is written with 12.6 g, 4.2 g and 40 g of them, and closed the next day. */

const DAY = 86_400_000;
const HOUR = 3_600_000;

async function ledgers() {
  const { deps, clock, owner } = await bareStudio();
  const { db } = deps;
  const world = lotWorld(deps, owner);
  const now = () => ({ at: clock.now, recordedAt: clock.now });
  const auxiliary = (code: string, name: string, form: 'solid' | 'liquid') =>
    deps.sqlite
      .prepare('insert into auxiliaries (code, name, form) values (?, ?, ?) returning id')
      .pluck()
      .get(code, name, form) as number;
  const came = (more: Partial<ReceiptInput> = {}) =>
    receiveContainer(
      deps,
      {
        item: { kind: 'dye', id: world.dyeIds[0] },
        code: '',
        quantity: 100_000,
        priceMinor: 900,
        freightMinor: 0,
        supplier: '',
        makerLot: '',
        strengthPpm: 1_000_000,
        receivedOn: '2026-03-16',
        openedOn: null,
        bestBeforeOn: null,
        note: '',
        clientId: null,
        ...more,
      },
      owner,
    );
  const byAverage = () => updateStudio(db, { costing: 'movingAverage' }, theStudio(db).version);
  const yellow = { dyeId: world.dyeIds[0], auxiliaryId: null, fibreId: null };
  return { deps, clock, owner, db, world, now, auxiliary, came, byAverage, yellow, jars: world.stockLotIds };
}
const beside = (fields: Record<string, string>) => ({ code: 'invalidInput', said: fields });

test('what was sent before an update of the service is known after it: its digest is made of the same words', async () => {
  const { deps, db, owner, jars, now, came } = await ledgers();
  let n = 0;
  const sent = () => ({ ...now(), clientId: `phone-00000${++n}` });
  const id = () => `phone-00000${++n}`;
  const digestOf = (table: string) =>
    deps.sqlite.prepare(`select content_digest from ${table} where client_id = ?`).pluck().get(`phone-00000${n}`);
  const sha = (deed: string, json: string) => createHash('sha256').update(`${deed}\n${json}`).digest('hex');

  waste(db, { stockLotId: jars.yellow, quantity: 5, reason: 'spilt' }, owner, sent());
  expect(digestOf('stock_ledger')).toBe(sha('waste', `{"quantity":5,"reason":"spilt","stockLotId":${jars.yellow}}`));
  stockTake(db, { stockLotId: jars.yellow, countedQuantity: 400, reason: 'counted' }, owner, sent());
  expect(digestOf('stock_ledger')).toBe(
    sha('stockTake', `{"countedQuantity":400,"reason":"counted","stockLotId":${jars.yellow}}`),
  );
  const bare = { supplier: '', makerLot: '', openedOn: null, bestBeforeOn: null, note: '' };
  came({ code: 'N-1', clientId: id() });
  expect(digestOf('stock_ledger')).toBe(
    sha(
      'receipt',
      `{"bestBeforeOn":null,"code":"N-1","freightMinor":0,"item":{"id":1,"kind":"dye"},"makerLot":"","note":"","openedOn":null,"priceMinor":900,"quantity":100000,"receivedOn":"2026-03-16","strengthPpm":1000000,"supplier":""}`,
    ),
  );
  const lot = {
    ...bare,
    code: 'N-2',
    kind: 'dye',
    dyeId: 1,
    auxiliaryId: null,
    fibreId: null,
    unit: 'mg',
    strengthPpm: 1_000_000,
    receivedOn: '2026-03-16',
    priceMinor: 1,
    freightMinor: 0,
    receivedQuantity: 5,
    sourceStockLotId: null,
    concPpm: null,
  } as const;
  receive(db, lot, owner, sent());
  expect(digestOf('stock_ledger')).toBe(
    sha(
      'receipt',
      `{"auxiliaryId":null,"bestBeforeOn":null,"code":"N-2","concPpm":null,"dyeId":1,"fibreId":null,"freightMinor":0,"kind":"dye","makerLot":"","note":"","openedOn":null,"priceMinor":1,"receivedOn":"2026-03-16","receivedQuantity":5,"sourceStockLotId":null,"strengthPpm":1000000,"supplier":"","unit":"mg"}`,
    ),
  );
  const dissolved = { massMg: 1_000, concPpm: 10_000, bestBeforeOn: null, note: '' };
  const page = { ...dissolved, code: 'S-1', madeUpUl: null, wantedUl: null, madeOn: null };
  makeStockSolution(deps, jars.blue, { ...page, clientId: id() }, owner);
  expect(digestOf('stock_ledger')).toBe(
    sha(
      'solution',
      `{"bestBeforeOn":null,"code":"S-1","concPpm":10000,"madeOn":null,"madeUpUl":null,"massMg":1000,"note":"","sourceStockLotId":${jars.blue},"wantedUl":null}`,
    ),
  );
  const rule = { ...dissolved, sourceStockLotId: jars.blue, code: 'S-2', volumeUl: 100_000, madeOn: '2026-03-16' };
  makeSolution(db, rule, owner, sent());
  expect(digestOf('stock_ledger')).toBe(
    sha(
      'solution',
      `{"bestBeforeOn":null,"code":"S-2","concPpm":10000,"madeOn":"2026-03-16","massMg":1000,"note":"","sourceStockLotId":${jars.blue},"volumeUl":100000}`,
    ),
  );
  closeContainer(deps, { stockLotId: jars.soda, how: 'empty', reason: '', clientId: id() }, owner);
  expect(digestOf('stock_ledger')).toBe(sha('closing', `{"how":"empty","reason":"","stockLotId":${jars.soda}}`));
  const bill = { stockLotId: jars.blue, kind: 'bill', amountMinor: 5, on: null, reason: 'bill' } as const;
  addStockMoney(deps, { ...bill, clientId: id() }, owner);
  expect(digestOf('stock_money')).toBe(
    sha('stockMoney', `{"amountMinor":5,"kind":"bill","on":null,"reason":"bill","stockLotId":${jars.blue}}`),
  );
  reopenContainer(deps, { stockLotId: jars.soda, countedQuantity: 7, reason: 'found', clientId: id() }, owner);
  expect(digestOf('stock_ledger')).toBe(
    sha('reopening', `{"countedQuantity":7,"reason":"found","stockLotId":${jars.soda}}`),
  );
});

test('a digest is of what was said: lists in their order, fields in any, without the id and what the server found out', () => {
  const sha = createHash('sha256').update('plan\n{"a":{"b":1,"c":[{"x":1,"y":null},"b","a"]},"z":""}').digest('hex');
  const sent = { z: '', a: { c: [{ y: null, x: 1 }, 'b', 'a'], b: 1 }, left: undefined };
  expect(contentDigest('plan', { ...sent, clientId: 'phone-1', at: 5, derived: ['at'] })).toBe(sha);
  expect(contentDigest('plan', { ...sent, at: 5 })).not.toBe(sha);
  expect(contentDigest('plan', { ...sent, a: { c: ['b', 'a'], b: 1 } })).not.toBe(sha);
});

describe('the ledger', () => {
  test('of a new jar says no more than what came, and what went without a word has none', async () => {
    const { db, owner, jars, now } = await ledgers();
    expect(stockLotById(db, jars.blue)).toMatchObject({ recalledAt: null, recallReason: '', closedAt: null });
    issue(db, { stockLotId: jars.blue, quantity: 5, lotId: null, weighingId: null }, owner, now());
    expect(ledgerOf(db, jars.blue, null, 9).map((e) => [e.kind, e.reason])).toEqual([
      ['issue', ''],
      ['receipt', ''],
    ]);
  });

  test('keeps the reason as it was meant, and says of a solution which one its powder became', async () => {
    const { deps, db, owner, jars, now } = await ledgers();
    expect(waste(db, { stockLotId: jars.blue, quantity: 5, reason: ' spilt ' }, owner, now()).reason).toBe('spilt');
    const page = { concPpm: 10_000, massMg: 1_000, madeUpUl: null, wantedUl: null, code: '', madeOn: null, note: '' };
    const made = makeStockSolution(deps, jars.blue, { ...page, bestBeforeOn: null, clientId: null }, owner);
    // Nobody sold it; it has the maker's lot of its powder.
    expect(made).toMatchObject({ supplier: '', makerLot: 'P-78', code: 'B1-A-S1' });
    expect(ledgerOf(db, jars.blue, null, 1)[0]).toMatchObject({
      reason: 'stock solution B1-A-S1',
      solutionId: made.id,
      clientId: null,
    });
  });

  test('has late money at the moment it is written down, of an earlier day at its beginning, and no digest without an id', async () => {
    const { deps, owner, came, clock } = await ledgers();
    const jar = came({ receivedOn: '2026-03-10' });
    clock.now += HOUR;
    const pay = (on: string | null) =>
      addStockMoney(
        deps,
        { stockLotId: jar.id, kind: 'bill', amountMinor: 5, on, reason: ' bill 17 ', clientId: null },
        owner,
      );
    expect([pay('2026-03-16').at, pay(null).at]).toEqual([clock.now, clock.now]);
    // Lisbon keeps the time of Greenwich in winter.
    expect(pay('2026-03-12')).toMatchObject({
      at: Date.UTC(2026, 2, 12),
      reason: 'bill 17',
      clientId: null,
      contentDigest: null,
    });
  });

  test('gives a solution its share of all that its powder cost, freight and late bills in it', async () => {
    const { deps, owner, came, clock } = await ledgers();
    const jar = came({ freightMinor: 100 });
    const bill = { kind: 'bill', amountMinor: 500, on: null, reason: 'bill 17', clientId: null } as const;
    addStockMoney(deps, { ...bill, stockLotId: jar.id }, owner);
    clock.now += HOUR;
    const page = { concPpm: 10_000, massMg: 10_000, madeUpUl: null, wantedUl: null, code: '', madeOn: null, note: '' };
    const made = makeStockSolution(deps, jar.id, { ...page, bestBeforeOn: null, clientId: null }, owner);
    // 9.00, 1.00 and 5.00 for 100 g: a tenth of it.
    expect(made.priceMinor).toBe(150);
  });

  test('a count of now finds what the ledger holds, although our own clock was set back', async () => {
    const { db, owner, jars, now, clock } = await ledgers();
    clock.now += 2 * HOUR;
    waste(db, { stockLotId: jars.blue, quantity: 50_000, reason: 'spilt' }, owner, now());
    clock.now -= HOUR;
    const counted = stockTake(db, { stockLotId: jars.blue, countedQuantity: 190_000, reason: 'counted' }, owner, now());
    // 250 g less 50 g, and 190 g found.
    expect([counted.quantity, onHand(db, jars.blue)]).toEqual([-10_000, 190_000]);
  });

  test('a corrected weighing stands where the first one stood, before a count of the same moment', async () => {
    const { db, owner, jars, world, deps } = await ledgers();
    const lotId = writeLot(world, { number: '26-0001', finishedAt: MONDAY + DAY }, true);
    const [weighed] = standingIssuesOf(db, lotId, jars.yellow);
    if (!weighed) throw new Error('yellow was weighed');
    const { at, weighingId } = weighed;
    const when = { at, recordedAt: MONDAY + DAY };
    stockTake(db, { stockLotId: jars.yellow, countedQuantity: 480_000, reason: 'counted' }, owner, when);
    const drawn = [{ weighingId, at, quantity: 10_000, place: placeOf(weighed) }];
    redraw(db, { stockLotId: jars.yellow, lotId, drawn, reason: 'misread' }, owner, MONDAY + DAY);
    expect(standingIssuesOf(db, lotId, jars.yellow).map((e) => e.quantity)).toEqual([-10_000]);
    // What was counted after it was counted, whatever the reading.
    expect(onHand(deps.db, jars.yellow)).toBe(480_000);
  });

  test('no solution is made of a liquid', async () => {
    const { deps, owner, came, auxiliary, db } = await ledgers();
    const vinegar = came({ item: { kind: 'auxiliary', id: auxiliary('AC', 'Vinegar', 'liquid') } });
    expect(vinegar).toMatchObject({ unit: 'ul', code: 'AC-1', kind: 'auxiliary' });
    const page = { concPpm: 10_000, massMg: 1_000, madeUpUl: null, wantedUl: null, code: '', madeOn: null, note: '' };
    const powder = beside({ sourceStockLotId: 'A stock solution is made from a container of powder.' });
    expect(
      refused(() => makeStockSolution(deps, vinegar.id, { ...page, bestBeforeOn: null, clientId: null }, owner)),
    ).toEqual(powder);
    expect(onHand(db, vinegar.id)).toBe(100_000);
  });

  test('who saves a note changes no strength; who changes the strength is remembered with the old one', async () => {
    const { deps, db, owner, jars, clock } = await ledgers();
    const jar = stockLotById(db, jars.blue) as StockLotRow;
    const { supplier, makerLot, strengthPpm, openedOn, bestBeforeOn } = jar;
    const kept = { supplier, makerLot, strengthPpm, openedOn, bestBeforeOn };
    changeContainer(deps, jar, { ...kept, note: 'half full' }, 1, owner);
    expect(strengthChangesOf(db, jars.blue)).toEqual([]);
    changeContainer(deps, jar, { ...kept, note: '', strengthPpm: 900_000 }, 2, owner);
    expect(strengthChangesOf(db, jars.blue)).toEqual([
      { wasPpm: 1_000_000, isPpm: 900_000, at: clock.now, personName: 'Inês' },
    ]);
  });

  test('goods without a letter in their name have a label of their own', async () => {
    const { deps, db, came } = await ledgers();
    const id = deps.sqlite
      .prepare("insert into fibres (name, class, kind) values ('—', 'cellulose', 'cloth') returning id")
      .pluck()
      .get() as number;
    expect(shelfItem(db, 'fibre', id)?.code).toBe(`F${id}`);
    expect(came({ item: { kind: 'fibre', id } }).code).toBe(`F${id}-1`);
    deps.sqlite.exec(`update fibres set name = '2 Tablecloths, hemmed' where id = ${id}`);
    expect(shelfItem(db, 'fibre', id)?.code).toBe('2');
    deps.sqlite.exec(`update fibres set name = '(tablecloths)' where id = ${id}`);
    expect(shelfItem(db, 'fibre', id)?.code).toBe('TABLECLO');
    expect(shelfItem(db, 'fibre', 999)).toBeUndefined();
    expect(shelfItem(db, 'auxiliary', 999)).toBeUndefined();
    expect(shelfItem(db, 'dye', 999)).toBeUndefined();
  });

  test.each([
    ['dye', 'Yellow', 'dyes'],
    ['auxiliary', 'Soda ash', 'auxiliaries'],
    ['fibre', 'Linen, natural', 'fibres'],
  ] as const)('of %s takes nothing in that is put away', async (kind, name, table) => {
    const { deps, db, world, came } = await ledgers();
    const id = { dye: world.dyeIds[0], auxiliary: world.auxiliaryId, fibre: world.fibreId }[kind];
    expect(shelfItem(db, kind, id)).toMatchObject({ kind, id, name, unit: 'mg', archived: false });
    deps.sqlite.prepare(`update ${table} set archived_at = 1 where id = ?`).run(id);
    expect(refused(() => came({ item: { kind, id } }))).toEqual(
      beside({ item: `${name} is put away; put it back first.` }),
    );
  });
});

describe('a strength that was typed', () => {
  const asked = { massMg: 5_000, concPpm: 10_000, madeUpUl: null, wantedUl: null };
  test.each([
    // 5 g of 1 % are 500 mL.
    [{}, { volumeUl: 500_000, concPpm: 10_000 }],
    [{ madeUpUl: 500_000 }, { volumeUl: 500_000, concPpm: 10_000 }],
    // In 400 mL, a quarter more: 1.25 %; in 625 mL, a fifth less: 0.8 %. Both are still what somebody may have meant.
    [{ madeUpUl: 400_000 }, { volumeUl: 400_000, concPpm: 12_500 }],
    [{ madeUpUl: 625_000 }, { volumeUl: 625_000, concPpm: 8_000 }],
    [{ wantedUl: 400_000 }, { volumeUl: 500_000, concPpm: 10_000 }],
    [{ wantedUl: 625_000 }, { volumeUl: 500_000, concPpm: 10_000 }],
    // Made up to a volume that was measured, the volume wanted says nothing.
    [
      { wantedUl: 5_000_000, madeUpUl: 510_000 },
      { volumeUl: 510_000, concPpm: 9_804 },
    ],
  ])('%j', (more, made) => {
    expect(preparedSolution({ ...asked, ...more })).toEqual(made);
  });

  test.each([
    [
      { madeUpUl: 399_000 },
      { madeUpTo: 'That makes 1.25 % instead of 1 %. Check mass and volume, or ask for another strength.' },
    ],
    [
      { madeUpUl: 5_000_000 },
      { madeUpTo: 'That makes 0.1 % instead of 1 %. Check mass and volume, or ask for another strength.' },
    ],
    [{ wantedUl: 399_999 }, { mass: '5 g makes 500 mL of 1 % solution, not 399.999 mL. Check what was typed.' }],
    [{ wantedUl: 5_000_000 }, { mass: '5 g makes 500 mL of 1 % solution, not 5000 mL. Check what was typed.' }],
  ])('%j is a slip of the keys', (more, said) => {
    expect(refused(() => preparedSolution({ ...asked, ...more }))).toEqual(beside(said));
  });
});

describe('the price of a solution', () => {
  /** A jar of 100 g for 1.00, of which so many solutions of 0.4 g were made and booked at that. */
  async function jarWith(made: number, bookedMinor: number) {
    const { deps, db, came, owner, world } = await ledgers();
    const jar = came({ priceMinor: 100 });
    for (let i = 0; i < made; i++) {
      const id = deps.sqlite
        .prepare(
          `insert into stock_lots (code, kind, dye_id, unit, strength_ppm, received_on, price_minor, freight_minor, received_quantity, source_stock_lot_id, conc_ppm)
          values (?, 'dye', ?, 'ul', 1000000, '2026-03-16', ?, 0, 40000, ?, 10000) returning id`,
        )
        .pluck()
        .get(`S-${i}`, world.dyeIds[0], bookedMinor, jar.id);
      deps.sqlite
        .prepare(
          "insert into stock_ledger (stock_lot_id, kind, quantity, at, recorded_at, by_person_id, solution_id) values (?, 'issue', -400, ?, ?, ?, ?)",
        )
        .run(jar.id, MONDAY, MONDAY, owner.personId, id);
    }
    return (massMg: number) => priceOfSolution(db, jar, massMg, MONDAY);
  }

  test.each([
    // 0.4 c each: 0.4, 0.8, 1.2, 1.6 and 2.0 c are 0, 1, 1, 2 and 2.
    [0, 0, 400, 0],
    [1, 0, 400, 1],
    // Half a cent is one.
    [0, 0, 500, 1],
    [0, 0, 499, 0],
    // Ten were booked at nothing, as once was done: the next bears a cent at most, however much is owed.
    [10, 0, 400, 1],
    [10, 0, 10_400, 11],
    [10, 0, 10_000, 10],
    // Ten were booked at a cent each: the next bears no less than its own whole cents.
    [10, 1, 400, 0],
    [10, 1, 10_400, 10],
    [2, 1, 10_000, 10],
  ])('after %d at %d, %d mg are %d', async (made, booked, massMg, price) => {
    expect((await jarWith(made, booked))(massMg)).toBe(price);
  });
});

describe('what stock is worth', () => {
  test('customers’ own goods carry no cost: what went of them is worth nothing to anybody', async () => {
    const { db, owner, world, came, deps, now, clock } = await ledgers();
    const cloth = came({ item: { kind: 'fibre', id: world.fibreId }, quantity: 10_000_000, priceMinor: 5_000 });
    const lotId = deps.sqlite
      .prepare(
        `insert into lots (number, status, method_id, fibre_id, goods_text, dry_mass_mg, goods_owner, mass_found, coverage, loss_ppm,
          readability_mg, estimate_minor, plan_json, planned_at, planned_by, goods_stock_lot_id)
        values ('26-0001', 'onBench', ?, ?, 'napkins', 2000000, 'customer', 'weighedDry', 'eachOverAll', 0, 10, 0, '{}', 1, ?, ?) returning id`,
      )
      .pluck()
      .get(world.methodId, world.fibreId, owner.personId, cloth.id) as number;
    clock.now += HOUR;
    const used = issue(db, { stockLotId: cloth.id, quantity: 2_000_000, lotId, weighingId: null }, owner, now());
    const goods = { dyeId: null, auxiliaryId: null, fibreId: world.fibreId };
    // 2 kg of 10 kg for 50.00.
    const taken = worthOfItem(db, goods, clock.now);
    expect(taken).toMatchObject({ paidMinor: 5_000, withoutCostMinor: 1_000, inStockMinor: 4_000, onBenchMinor: 0 });
    takeBack(db, used, owner, clock.now, 'never cut');
    expect(worthOfItem(db, goods, clock.now)).toMatchObject({ withoutCostMinor: 0, inStockMinor: 5_000 });
  });

  test('goods go at what their own container cost, however the studio values its dyes', async () => {
    const { db, owner, world, came, byAverage, clock, now } = await ledgers();
    byAverage();
    const item = { kind: 'fibre', id: world.fibreId } as const;
    const cheap = came({ item, quantity: 10_000_000, priceMinor: 5_000 });
    const dear = came({ item, quantity: 10_000_000, priceMinor: 9_000 });
    clock.now += HOUR;
    waste(db, { stockLotId: cheap.id, quantity: 10_000_000, reason: 'moth' }, owner, now());
    const goods = { dyeId: null, auxiliaryId: null, fibreId: world.fibreId };
    expect(worthOfItem(db, goods, clock.now)).toMatchObject({ wasteMinor: 5_000, inStockMinor: 9_000 });
    // A list of goods has no average to show.
    expect(withShelfWorth(db, [dear], clock.now)).toEqual([dear]);
  });

  test('a waste that is taken back is back with its money', async () => {
    const { db, owner, jars, yellow, clock, now } = await ledgers();
    clock.now += HOUR;
    const spilt = waste(db, { stockLotId: jars.yellow, quantity: 100_000, reason: 'spilt' }, owner, now());
    // 100 g of 500 g for 42.50.
    expect(worthOfItem(db, yellow, clock.now)).toMatchObject({ wasteMinor: 850, inStockMinor: 3_400 });
    takeBack(db, spilt, owner, clock.now, 'swept up again');
    expect(worthOfItem(db, yellow, clock.now)).toMatchObject({ wasteMinor: 0, countedMinor: 0, inStockMinor: 4_250 });
  });

  test('a price that is corrected in the books is no other price of what stock gave for it', async () => {
    const { deps, db, owner, world, yellow, byAverage, clock } = await ledgers();
    byAverage();
    clock.now += DAY;
    const lotId = writeLot(world, { number: '26-0001', finishedAt: clock.now });
    const [line] = costLineRowsOf(db, lotId);
    clock.now += DAY;
    const replacement = { quantity: 10_000, priceMinor: 8_500, perQuantity: 500_000 };
    correctCostLine(deps, { costLineId: line?.id ?? 0, reason: 'twice the price', replacement }, owner);
    // 10 g at 85.00 for 500 g are booked as 1.70; stock gave 10 g at 42.50 for it, 0.85.
    expect(worthOfItem(db, yellow, clock.now)).toMatchObject({
      paidMinor: 4_250,
      issuedMinor: 170,
      priceDifferenceMinor: -85,
      inStockMinor: 4_165,
    });
  });

  test('the average is of each item by itself, and of a solution by the powder in it', async () => {
    const { deps, db, owner, jars, world, byAverage, clock, came } = await ledgers();
    byAverage();
    came({ quantity: 500_000, priceMinor: 5_750 });
    const page = { concPpm: 10_000, massMg: 5_000, madeUpUl: null, wantedUl: null, code: '', madeOn: null, note: '' };
    const bottle = makeStockSolution(deps, jars.yellow, { ...page, bestBeforeOn: null, clientId: null }, owner);
    const of = (id: number) => stockLotById(db, id) as StockLotRow;
    clock.now += HOUR;
    const all = [jars.yellow, jars.blue, jars.soda, bottle.id].map(of);
    // Yellow 42.50 and 57.50 for a kilogram; 100 µL of its solution for each of its mg.
    const rates = [
      [jars.yellow, { priceMinor: 10_000, perQuantity: 1_000_000 }],
      [jars.blue, { priceMinor: 3_900, perQuantity: 250_000 }],
      [jars.soda, { priceMinor: 1_200, perQuantity: 5_000_000 }],
      [bottle.id, { priceMinor: 10_000, perQuantity: 100_000_000 }],
    ];
    expect([...movingAverageRates(db, all, clock.now)]).toEqual(rates);
    expect(all.map((c) => [c.id, movingAverageRate(db, c, clock.now)])).toEqual(rates);
    // A reading of before the first receipt goes by all that was bought, and by nothing twice.
    expect(movingAverageRate(db, of(jars.yellow), Date.UTC(2026, 0, 1))).toEqual(rates[0]?.[1]);
    // Each on its shelf: 495 g of 100.00 a kilogram in the first jar, 5 g in the bottle.
    const shelf = withShelfWorth(db, all, clock.now).map((c) => c.valueMinor ?? 0);
    expect(shelf[0]).toBeCloseTo(4_950, 6);
    expect(shelf[3]).toBeCloseTo(50, 6);
    // Weighed out for a lot that is not closed it stands on the bench, and is on the shelf no more.
    writeLot(world, { number: '26-0001', finishedAt: clock.now }, true);
    const worth = worthOfItem(db, { dyeId: world.dyeIds[0], auxiliaryId: null, fibreId: null }, clock.now);
    expect(worth.onBenchMinor).toBe(126);
    expect(withShelfWorth(db, [of(jars.yellow)], clock.now)[0]?.valueMinor).toBeCloseTo(4_824, 6);
    closeContainer(deps, { stockLotId: bottle.id, how: 'discarded', reason: 'old' }, owner);
    expect(withShelfWorth(db, [of(bottle.id)], clock.now)[0]?.valueMinor).toBe(0);
  });

  test('a studio that changes its ways goes on from what the books had on that day', async () => {
    const { db, owner, jars, clock, now, came } = await ledgers();
    // Yellow: 500 g for 42.50 and 100 g for 20.00; 100 g of the cheap jar spoil, at 8.50.
    came({ priceMinor: 2_000 });
    clock.now += HOUR;
    waste(db, { stockLotId: jars.yellow, quantity: 100_000, reason: 'damp' }, owner, now());
    clock.now += HOUR;
    const before = clock.now;
    clock.now += HOUR;
    noteValuation(db, {
      valuation: 'movingAverage',
      valuationBefore: 'specific',
      changedAt: clock.now,
      changedBy: owner.personId,
    });
    updateStudio(db, { costing: 'movingAverage' }, theStudio(db).version);
    const jar = stockLotById(db, jars.yellow) as StockLotRow;
    // From then on 34.00 and 20.00 for 500 g.
    expect(movingAverageRate(db, jar, clock.now)).toEqual({ priceMinor: 5_400, perQuantity: 500_000 });
    // Asked for an average of before, it is 62.50 for 600 g throughout: five sixths of that for 500 g.
    expect(movingAverageRate(db, jar, before)).toEqual({ priceMinor: 5_208, perQuantity: 500_000 });
  });

  test('the books of an item are gone through once, however many jars it lies in', async () => {
    const { deps, db, jars, clock, came } = await ledgers();
    const jar = stockLotById(db, jars.yellow) as StockLotRow;
    const others = [came(), came(), came()];
    const count = (containers: StockLotRow[]) =>
      statementsOf(deps, async () => void movingAverageRates(db, containers, clock.now));
    const one = await count([jar]);
    // Each of the others asks only whether it is a solution.
    expect(await count([jar, ...others])).toBe(one + 3);
  });

  test('a studio that values its jars by themselves asks for no average', async () => {
    const { db, jars, clock } = await ledgers();
    const jar = stockLotById(db, jars.yellow) as StockLotRow;
    expect(withShelfWorth(db, [jar], clock.now)).toEqual([jar]);
  });
});

describe('what is to be bought', () => {
  const rule = { windowDays: 90, leadTimeDays: 14, safetyDays: 14, coverDays: 90, leastDays: 28 };

  test('comes by urgency: short for a planned lot, then by how long it lasts, then what there is enough of', async () => {
    const { db, owner, jars, world, clock, now, came, auxiliary } = await ledgers();
    // Yellow comes after blue in the alphabet, and alum, which nobody uses, before both.
    came({ item: { kind: 'auxiliary', id: auxiliary('AL', 'Alum', 'solid') } });
    writeLot(world, { number: '26-0001', finishedAt: MONDAY + DAY }, true);
    clock.now = MONDAY + 90 * DAY;
    const use = (stockLotId: number, quantity: number) =>
      issue(db, { stockLotId, quantity, lotId: null, weighingId: null }, owner, now());
    use(jars.yellow, 400_000);
    use(jars.blue, 230_000);
    use(jars.soda, 90);
    const list = () => shoppingList(db, clock.now, rule).map((i) => [i.code, i.state]);
    // Yellow: 87.4 g at 4.58 g a day last 19 days; blue: 15.8 g at 2.6 g a day last six; soda for ever, and alum longer.
    expect(list()).toEqual([
      ['B1', 'reorder'],
      ['Y1', 'reorder'],
      ['SODA', 'enough'],
      ['AL', 'enough'],
    ]);
    // 7.4 g of yellow left last less than two days.
    use(jars.yellow, 80_000);
    expect(list().slice(0, 2)).toEqual([
      ['Y1', 'reorder'],
      ['B1', 'reorder'],
    ]);
  });

  test('goes by the use of the last quarter, or of the weeks since the first jar came', async () => {
    const { db, owner, jars, now, clock } = await ledgers();
    const use = (stockLotId: number, quantity: number) =>
      issue(db, { stockLotId, quantity, lotId: null, weighingId: null }, owner, now());
    const mean = (code: string) => shoppingList(db, clock.now, rule).find((i) => i.code === code)?.meanDailyQuantity;
    use(jars.yellow, 45_000);
    clock.now = MONDAY + 10 * DAY;
    // Ten days say little: they count as four weeks. After 45 days it is a gram a day, and after 91 nothing of it is left in the quarter.
    expect(mean('Y1')).toBe(1_600);
    clock.now = MONDAY + 45 * DAY;
    expect(mean('Y1')).toBe(1_000);
    clock.now = MONDAY + 91 * DAY;
    expect(mean('Y1')).toBe(0);
  });

  test('is short when planned lots want more than there is, and not when they want just that', async () => {
    const { deps, db, world, clock, owner, jars } = await ledgers();
    const plan = (number: string, massMg: number) => {
      const id = deps.sqlite
        .prepare(
          `insert into lots (number, status, method_id, fibre_id, goods_text, dry_mass_mg, goods_owner, mass_found, coverage, loss_ppm,
            readability_mg, estimate_minor, plan_json, planned_at, planned_by)
          values (?, 'planned', ?, ?, 'napkins', 2000000, 'studio', 'weighedDry', 'eachOverAll', 0, 10, 0, '{}', 1, ?) returning id`,
        )
        .pluck()
        .get(number, world.methodId, world.fibreId, owner.personId);
      deps.sqlite
        .prepare(
          `insert into lot_components (lot_id, ordinal, kind, dye_id, basis, planned_mass_mg, step, stock_lot_id)
          values (?, 1, 'dye', ?, 'owg', ?, 10, ?)`,
        )
        .run(id, world.dyeIds[0], massMg, jars.yellow);
    };
    const item = () => shoppingList(db, clock.now, rule).find((i) => i.code === 'Y1');
    plan('26-0001', 500_000);
    expect(item()).toMatchObject({ state: 'enough', plannedQuantity: 500_000, containers: 0 });
    plan('26-0002', 10);
    expect(item()).toMatchObject({ state: 'short', plannedQuantity: 500_010, containers: 1 });
  });

  test('is ordered again at the very point, one jar at least, and its mean is told to two digits', async () => {
    const { db, owner, came, now, clock, deps } = await ledgers();
    const dye = (code: string) =>
      deps.sqlite
        .prepare("insert into dyes (code, name, class) values (?, ?, 'reactive') returning id")
        .pluck()
        .get(code, code) as number;
    const jar = (code: string, quantity: number) =>
      came({ item: { kind: 'dye', id: dye(code) }, code, quantity, freightMinor: 100 }).id;
    // 90 days at 1 g: at the point with 28 g left, and 1 mg above it with 28.001 g.
    const at = jar('AT', 118_000);
    const above = jar('OVER', 118_001);
    const odd = jar('ODD', 500_000);
    const little = jar('LITTLE', 500_000);
    const none = jar('NONE', 500_000);
    expect(none).toBeGreaterThan(0);
    clock.now = MONDAY + 90 * DAY;
    const use = (stockLotId: number, quantity: number) =>
      issue(db, { stockLotId, quantity, lotId: null, weighingId: null }, owner, now());
    use(at, 90_000);
    use(above, 90_000);
    use(odd, 111_150);
    use(little, 486);
    const item = (code: string, more = {}) =>
      shoppingList(db, clock.now, { ...rule, ...more }).find((i) => i.code === code);
    expect(item('AT')).toMatchObject({
      state: 'reorder',
      reorderQuantity: 28_000,
      lastsDays: 28,
      containers: 1,
      costMinor: 1_000,
    });
    // With nothing to cover nothing is wanted, and a jar is bought all the same: it is time.
    expect(item('AT', { coverDays: 0 })).toMatchObject({ state: 'reorder', containers: 1 });
    expect(item('OVER')).toMatchObject({ state: 'enough', containers: 0, costMinor: 0 });
    // 111.15 g in 90 days are 1.235 g a day; 486 mg are 5.4 mg.
    expect(item('ODD')).toMatchObject({ meanDailyQuantity: 1_200, reorderQuantity: 35_000 });
    expect(item('LITTLE')).toMatchObject({ meanDailyQuantity: 5, reorderQuantity: 150 });
    expect(item('NONE')).toMatchObject({ state: 'enough', meanDailyQuantity: 0, lastsDays: null, containers: 0 });
    // 90 g of 118 g: for 118 days at 1 g, 28 g there, 90 g are wanted; of jars of 118 g one.
    // A clock that was set back before the first receipt takes the list from nobody.
    expect(shoppingList(db, MONDAY - DAY, rule).map((i) => i.state)).toContain('enough');
    // Below nothing there is nothing, and nothing less.
    use(at, 100_000);
    expect(item('AT')).toMatchObject({ onHandQuantity: -72_000, state: 'reorder', lastsDays: 0 });
  });
});
