import fc from 'fast-check';
import { expect, test } from 'vitest';
import { RULES } from '../../server/backup/queries.ts';
import { recordWeighing } from '../../server/bench/recordWeighing.ts';
import { voidEntry } from '../../server/bench/voidEntry.ts';
import { addForgottenCost } from '../../server/costing/additions.ts';
import { correctCostLine, standingLines } from '../../server/costing/corrections.ts';
import { materialProof, stockContradictions, stockProof } from '../../server/costing/stockProof.ts';
import { finishLot } from '../../server/lots/finishLot.ts';
import { planLot } from '../../server/lots/planLot.ts';
import { costLinesOf } from '../../server/lots/queries.ts';
import { insertPerson } from '../../server/people/queries.ts';
import { insertScale, insertStudio, noteValuation, theStudio, updateStudio } from '../../server/settings/queries.ts';
import { closeContainer, reopenContainer } from '../../server/stock/containers.ts';
import { makeSolution, receive, stockTake, waste } from '../../server/stock/ledger.ts';
import { addStockMoney } from '../../server/stock/money.ts';
import { itemsEverReceived } from '../../server/stock/queries.ts';
import { freshDeps, type TestStudio } from '../support/app.ts';
import { planInput } from '../support/lotInputs.ts';
import { makeWorld, type World } from '../support/world.ts';

const MINUTE = 60_000;
const DAY = 86_400_000;

/** What happens to the blue of a studio, as bought and in solution, drawn at random. */
type Deed =
  | { deed: 'dye'; jar: number; amount: number }
  | { deed: 'slip'; jar: number; amount: number }
  | { deed: 'finish' }
  | { deed: 'receive'; mg: number; paid: number; daysLate: number }
  | { deed: 'money'; jar: number; amount: number; daysLate: number }
  | { deed: 'waste' | 'count' | 'dissolve'; jar: number; amount: number }
  | { deed: 'correct'; at: number; to: number; price: number | null }
  | { deed: 'forget'; jar: number; amount: number }
  | { deed: 'close'; jar: number; how: 'empty' | 'discarded' }
  | { deed: 'reopen'; jar: number; amount: number }
  | { deed: 'valuation' };

const jar = fc.nat(9);
const amount = fc.integer({ min: 1, max: 60_000 });
const daysLate = fc.nat(4);
const deed: fc.Arbitrary<Deed> = fc.oneof(
  { weight: 6, arbitrary: fc.record({ deed: fc.constant('dye' as const), jar, amount }) },
  { weight: 1, arbitrary: fc.record({ deed: fc.constant('slip' as const), jar, amount }) },
  { weight: 4, arbitrary: fc.constant({ deed: 'finish' as const }) },
  fc.record({
    deed: fc.constant('receive' as const),
    mg: fc.integer({ min: 1, max: 400_000 }),
    paid: fc.nat(9_000),
    daysLate,
  }),
  fc.record({
    deed: fc.constant('money' as const),
    jar,
    amount: fc.integer({ min: -900, max: 900 }).filter((a) => a !== 0),
    daysLate,
  }),
  fc.record({ deed: fc.constantFrom('waste' as const, 'count' as const, 'dissolve' as const), jar, amount }),
  fc.record({ deed: fc.constant('correct' as const), at: fc.nat(20), to: amount, price: fc.option(fc.nat(5_000)) }),
  fc.record({ deed: fc.constant('forget' as const), jar, amount }),
  fc.record({ deed: fc.constant('close' as const), jar, how: fc.constantFrom('empty' as const, 'discarded' as const) }),
  fc.record({ deed: fc.constant('reopen' as const), jar, amount }),
  fc.constant({ deed: 'valuation' as const }),
);

interface Room {
  studio: Pick<TestStudio, 'deps' | 'owner' | 'clock'>;
  world: World;
  jars: number[];
  lot: { id: number; componentId: number } | null;
  closed: number[];
  n: number;
}

async function freshRoom(costing: 'specific' | 'movingAverage'): Promise<Room> {
  const { deps, clock } = await freshDeps();
  insertStudio(deps.db, {
    name: 'Test Works',
    currency: 'EUR',
    zone: 'Europe/Lisbon',
    units: 'metric',
    labourRateMinorPerHour: 0,
    overheadRateMinorPerHour: 0,
    weighingTolerancePpm: 20_000,
    weighingFloorPpm: 10_000,
    stockConcPpm: 10_000,
    costing,
    sample: 0,
    createdAt: clock.now,
  });
  insertScale(deps.db, { name: 'Dye scale', readabilityMg: 10, capacityMg: null, isDefault: 1 });
  const person = { name: 'Inês', role: 'owner' as const };
  const rest = { passphraseHash: null, labourRateMinorPerHour: null, active: 1, createdAt: clock.now };
  const owner = { personId: insertPerson(deps.db, { ...person, ...rest }).id, ...person };
  const studio = { deps, owner, clock };
  const world = makeWorld(studio);
  clock.now += 6 * DAY;
  return { studio, world, jars: [world.stock.blue.id], lot: null, closed: [], n: 0 };
}

const happened = (r: Room) => {
  r.studio.clock.now += MINUTE;
  r.n += 1;
  return { clientId: `deed-${String(r.n).padStart(8, '0')}`, at: r.studio.clock.now };
};

function lotInHand(r: Room): { id: number; componentId: number } {
  if (r.lot) return r.lot;
  const { deps, owner } = r.studio;
  const { id } = planLot(
    deps,
    planInput(r.world, {
      goodsText: 'cloth',
      pieces: null,
      goodsOwner: 'customer',
      mass: { found: 'weighedDry', massMg: 1_000_000 },
      colours: [
        { revisionId: r.world.revisionId, swatchId: null, depthPpm: 20_000, sharePpm: 1_000_000, placement: '' },
      ],
      solutions: 'never',
    }),
    owner,
  );
  const componentId = deps.sqlite
    .prepare('select id from lot_components where lot_id = ? and dye_id = ?')
    .pluck()
    .get(id, r.world.dyeIds.blue) as number;
  r.lot = { id, componentId };
  return r.lot;
}

function act(r: Room, d: Deed): void {
  const { deps, owner, clock } = r.studio;
  const stockLotId = 'jar' in d ? (r.jars[d.jar % r.jars.length] ?? 0) : 0;
  const row = deps.sqlite
    .prepare(
      'select code, conc_ppm as concPpm, closed_at as closedAt, received_quantity as received from stock_lots where id = ?',
    )
    .get(stockLotId) as { code: string; concPpm: number | null; closedAt: number | null; received: number } | undefined;
  const isOpen = row?.closedAt === null;
  const { at } = happened(r);
  const when = { at, recordedAt: at };
  if (d.deed === 'dye' || d.deed === 'slip') {
    if (!isOpen) return;
    const { id: lotId, componentId } = lotInHand(r);
    const reading = { lotId, componentId, stockLotId, amount: d.amount, confirmed: true, ...happened(r) };
    const entry = recordWeighing(deps, reading, owner);
    if (d.deed === 'slip') voidEntry(deps, { entryId: entry.id, reason: 'slip', ...happened(r) }, owner);
  } else if (d.deed === 'finish') {
    if (!r.lot) return;
    const outcome = {
      firstQuality: 1,
      seconds: 0,
      rework: 0,
      scrap: 0,
      secondsValueMinor: 0,
      note: '',
      doDifferently: '',
    };
    finishLot(deps, { lotId: r.lot.id, ...outcome, labour: [], unweighedConfirmed: true, ...happened(r) }, owner);
    r.closed.push(r.lot.id);
    r.lot = null;
  } else if (d.deed === 'receive') {
    const receivedAt = at - d.daysLate * DAY;
    const made = receive(
      deps.db,
      {
        code: `B-late-${r.n}`,
        kind: 'dye',
        dyeId: r.world.dyeIds.blue,
        auxiliaryId: null,
        fibreId: null,
        unit: 'mg',
        supplier: '',
        makerLot: '',
        strengthPpm: 1_000_000,
        receivedOn: new Date(receivedAt).toISOString().slice(0, 10),
        openedOn: null,
        bestBeforeOn: null,
        priceMinor: d.paid,
        freightMinor: d.paid % 7,
        receivedQuantity: d.mg,
        sourceStockLotId: null,
        concPpm: null,
        note: '',
      },
      owner,
      { at: receivedAt, recordedAt: at },
    );
    r.jars.push(made.id);
  } else if (d.deed === 'money') {
    if (row?.concPpm !== null) return;
    const on = new Date(clock.now - d.daysLate * DAY).toISOString().slice(0, 10);
    const kind = d.amount < 0 ? 'credit' : 'freight';
    const input = { stockLotId, kind, amountMinor: Math.abs(d.amount), on, reason: 'note 1', clientId: null } as const;
    try {
      addStockMoney(deps, input, owner);
    } catch (error) {
      // Before it came, or more than was paid: refused, and nothing of it is there.
      expect((error as { code?: string }).code).toBe('invalidInput');
    }
  } else if (d.deed === 'waste') {
    if (isOpen) waste(deps.db, { stockLotId, quantity: d.amount, reason: 'spilt' }, owner, when);
  } else if (d.deed === 'count') {
    if (isOpen) stockTake(deps.db, { stockLotId, countedQuantity: d.amount, reason: 'count' }, owner, when);
  } else if (d.deed === 'dissolve') {
    if (!isOpen || row?.concPpm !== null) return;
    const made = { sourceStockLotId: stockLotId, code: `S-${r.n}`, massMg: d.amount, volumeUl: d.amount * 100 };
    const day = new Date(at).toISOString().slice(0, 10);
    r.jars.push(
      makeSolution(deps.db, { ...made, concPpm: 10_000, madeOn: day, bestBeforeOn: null, note: '' }, owner, when).id,
    );
  } else if (d.deed === 'correct') {
    const lotId = r.closed[d.at % Math.max(1, r.closed.length)];
    const lines = lotId === undefined ? [] : standingLines(costLinesOf(deps.db, lotId));
    const line = lines[d.at % Math.max(1, lines.length)];
    if (!line) return;
    const open = deps.sqlite
      .prepare('select closed_at is null from stock_lots where id = ?')
      .pluck()
      .get(line.stockLotId);
    if (open !== 1) return;
    const { perQuantity, priceMinor } = line;
    const replacement = { quantity: d.to, perQuantity, priceMinor: d.price ?? priceMinor };
    correctCostLine(deps, { costLineId: line.id, reason: 'found out', replacement }, owner);
  } else if (d.deed === 'forget') {
    const lotId = r.closed.at(-1);
    if (lotId === undefined || !isOpen) return;
    const cost = { what: 'material' as const, stockLotId, quantity: d.amount, wasted: false };
    try {
      addForgottenCost(deps, { lotId, cost, reason: 'forgotten', clientId: null }, owner);
    } catch (error) {
      expect((error as { fields?: Record<string, string> }).fields?.['stockLotId']).toMatch(/came after the lot/);
    }
  } else if (d.deed === 'close') closeContainer(deps, { stockLotId, how: d.how, reason: 'old' }, owner);
  else if (d.deed === 'reopen') {
    if (!isOpen) reopenContainer(deps, { stockLotId, countedQuantity: d.amount, reason: 'found' }, owner);
  } else {
    const before = theStudio(deps.db);
    const costing = before.costing === 'specific' ? 'movingAverage' : 'specific';
    updateStudio(deps.db, { costing }, before.version);
    const change = {
      valuationBefore: before.costing,
      valuation: costing,
      changedAt: at,
      changedBy: owner.personId,
    } as const;
    noteValuation(deps.db, change);
  }
}

/** Sums of the raw tables in whole numbers, told apart from everything that the service works out. */
function rawSums(r: Room, until: number): { paid: bigint; issued: bigint; held: Map<number, bigint> } {
  const all = (query: string) => r.studio.deps.sqlite.prepare(query).all() as Record<string, number | null>[];
  const sum = (rows: Record<string, number | null>[], key: string): bigint =>
    rows.reduce((total, row) => total + BigInt(row[key] ?? 0), 0n);
  const dye = r.world.dyeIds.blue;
  const bought =
    all(`select s.id, s.price_minor + s.freight_minor as paid from stock_lots s join stock_ledger e on e.stock_lot_id = s.id and e.kind = 'receipt'
    where s.dye_id = ${dye} and s.source_stock_lot_id is null and e.at <= ${until}`);
  const late = all(`select amount_minor as paid from stock_money where at <= ${until}`);
  const lines =
    all(`select c.cost_minor as cost from cost_lines c join lots t on t.id = c.lot_id where c.dye_id = ${dye}
    and iif(c.corrects_id is null and c.added = 0, t.finished_at, c.written_at) <= ${until}`);
  const moves = all(
    `select e.stock_lot_id as id, e.quantity from stock_ledger e join stock_lots s on s.id = e.stock_lot_id where s.dye_id = ${dye} and e.at <= ${until}`,
  );
  const held = new Map<number, bigint>();
  for (const m of moves) held.set(m['id'] ?? 0, (held.get(m['id'] ?? 0) ?? 0n) + BigInt(m['quantity'] ?? 0));
  return { paid: sum(bought, 'paid') + sum(late, 'paid'), issued: sum(lines, 'cost'), held };
}

test('paid = issued + written off + in stock at every instant, under both valuations and between them', async () => {
  await fc.assert(
    fc.asyncProperty(
      fc.constantFrom('specific' as const, 'movingAverage' as const),
      fc.array(deed, { minLength: 3, maxLength: 24 }),
      async (costing, history) => {
        const r = await freshRoom(costing);
        for (const d of history) act(r, d);
        const { deps, clock } = r.studio;
        const blue = itemsEverReceived(deps.db).find((i) => i.dyeId === r.world.dyeIds.blue);
        if (!blue) throw new Error('there is no blue');
        const instants = deps.sqlite
          .prepare(
            'select at from stock_ledger union select at from stock_money union select changed_at from valuation_changes order by 1',
          )
          .pluck()
          .all() as number[];
        for (const until of [...instants, clock.now + DAY]) {
          const m = materialProof(deps.db, blue, until);
          const { paid, issued, held } = rawSums(r, until);
          expect([BigInt(m.paidMinor), BigInt(m.issuedMinor)]).toEqual([paid, issued]);
          expect(BigInt(m.issuedMinor + m.writtenOffMinor + m.inStockMinor)).toBe(paid);
          expect(m.wrong).toEqual([]);
          // Nothing in stock and on the bench is worth nothing.
          const isEmpty = [...held.values()].every((q) => q === 0n);
          if (isEmpty && r.lot === null && until > clock.now) expect(m.inStockMinor).toBe(0);
        }
        expect(stockContradictions(deps.db)).toEqual([]);
        expect((await stockProof(deps.db, clock.now)).total.differenceMinor).toBe(0);
        expect(RULES.flatMap(({ name, broken }) => broken(deps.db).map((words) => `${name}: ${words}`))).toEqual([]);
      },
    ),
    { numRuns: Number(process.env['WORTH_RUNS'] ?? 12) },
  );
}, 120_000);
