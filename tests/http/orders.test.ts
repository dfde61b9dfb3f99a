import { eq } from 'drizzle-orm';
import { expect, test } from 'vitest';
import { lotLines, lotOutcomes, lots } from '../../server/db/tables/lots.ts';
import { openOrderLines, orderLineById } from '../../server/orders/queries.ts';
import { takeInWork } from '../../server/orders/statuses.ts';
import { freshStudio, MONDAY, type TestStudio } from '../support/app.ts';
import { lotWorld, writeLot } from '../support/finishedLots.ts';

type Body = Record<string, unknown>;
interface Line {
  orderLineId: number;
  goodPieces: number;
  lots: { number: string; goodPieces: number | null }[];
  wantedRevisionId: number | null;
  wantedSwatchId: number | null;
}

const NAPKINS = {
  newCustomer: 'Estuary Weavers Guild',
  number: '2026-007',
  orderedOn: '2026-03-02',
  dueOn: '2026-03-13',
  'description.0': '24 napkins',
  'pieces.0': '24',
  'dryMass.0': '1 lb 4 oz',
  'wantedNote.0': 'a shade deeper',
  'toleranceFormula.0': 'CIEDE2000',
  'toleranceLimit.0': '1,5',
  'price.0': '312',
  'description.2': '2 runners',
  'price.2': '88,50',
};

const taken = async ({ page }: TestStudio, form: Record<string, string> = NAPKINS): Promise<string> => {
  const saved = await page.post('/orders', form);
  expect(saved.status).toBe(303);
  return saved.headers['location'] as string;
};

test('an order keeps its new customer, its lines and what was agreed', async () => {
  const studio = await freshStudio();
  const at = await taken(studio);
  const order = (await studio.api.get(at)).body as Body & { lines: (Line & Body)[] };
  expect(order).toMatchObject({
    number: '2026-007',
    customerName: 'Estuary Weavers Guild',
    status: 'open',
    dueOn: '2026-03-13',
  });
  // 1 lb 4 oz avoirdupois = 566.990 4625 g (NIST SP 811, Appendix B)
  expect(order.lines.map((l) => [l['description'], l['pieces'], l['dryMassMg'], l['priceMinor']])).toEqual([
    ['24 napkins', 24, 566_990, 31_200],
    ['2 runners', null, null, 8_850],
  ]);
  expect(order.lines[0]).toMatchObject({
    toleranceFormula: 'CIEDE2000',
    toleranceMilli: 1500,
    wantedNote: 'a shade deeper',
  });
  const page = await studio.page.get(at);
  expect(page.text).toContain('€400.50');
  expect(page.text).toContain('3 days overdue');
  expect(page.text).toContain(`/lots/new?orderLineId=${order.lines[0]?.orderLineId}`);
});

test('the next number follows the highest of the year, and a taken one is refused', async () => {
  const studio = await freshStudio();
  await taken(studio);
  expect((await studio.page.get('/orders/new')).text).toContain('value="2026-008"');
  const again = await studio.page.post('/orders', { ...NAPKINS, newCustomer: 'Somebody else' });
  expect(again.status).toBe(422);
  expect(again.text).toMatch(/id="f-number-error">/);
  const namesake = await studio.page.post('/orders', { ...NAPKINS, number: 'X', newCustomer: 'estuary weavers guild' });
  expect(namesake.text).toMatch(/id="f-newCustomer-error">[^<]*in the list already/);
  expect(((await studio.api.get('/customers')).body.customers as Body[]).map((c) => c['name'])).toEqual([
    'Estuary Weavers Guild',
  ]);
  const proposed = await studio.api.post('/orders', {
    customerId: 1,
    orderedOn: '2027-01-04',
    lines: [{ description: 'gauze' }],
  });
  expect([proposed.status, proposed.body.number]).toEqual([201, '2027-001']);
});

test('a refused order keeps every line as typed, messages beside them, and no customer is left behind', async () => {
  const studio = await freshStudio();
  const refused = await studio.page.post('/orders', {
    ...NAPKINS,
    dueOn: '2026-02-30',
    'dryMass.0': 'a lot',
    'price.2': 'dear',
  });
  expect(refused.status).toBe(422);
  expect(refused.text).toContain('id="f-dueOn-error"');
  expect(refused.text).toMatch(/id="f-dryMass-0-error">[^<]*a lot/);
  expect(refused.text).toMatch(/id="f-price-2-error">/);
  expect(refused.text).toContain('value="2 runners"');
  const unmeasured = await studio.page.post('/orders', { ...NAPKINS, 'toleranceFormula.0': '' });
  expect(unmeasured.text).toMatch(/id="f-toleranceFormula-0-error">[^<]*formula/);
  const unlimited = await studio.page.post('/orders', { ...NAPKINS, 'toleranceLimit.0': '' });
  expect(unlimited.text).toMatch(/id="f-toleranceLimit-0-error">/);
  const early = await studio.page.post('/orders', { ...NAPKINS, dueOn: '2026-03-01' });
  expect(early.text).toMatch(/id="f-dueOn-error">Due before/);
  const nobody = await studio.page.post('/orders', { ...NAPKINS, newCustomer: '' });
  expect(nobody.text).toContain('id="f-customerId-error"');
  const unknown = await studio.page.post('/orders', {
    ...NAPKINS,
    'wantedSwatch.0': 'SW-9',
    'wantedRecipe.2': 'Mauve',
  });
  expect(unknown.text).toMatch(/id="f-wantedSwatch-0-error">[^<]*SW-9/);
  expect(unknown.text).toMatch(/id="f-wantedRecipe-2-error">[^<]*Mauve/);
  expect((await studio.api.get('/customers')).body.customers).toEqual([]);
  expect((await studio.api.get('/orders')).body.orders).toEqual([]);
});

test('the wanted shade is found by the words on its card', async () => {
  const studio = await freshStudio();
  const world = lotWorld(studio.deps, studio.owner);
  const at = await taken(studio, { ...NAPKINS, 'wantedSwatch.0': 'l-1', 'wantedRecipe.2': 'LEAF, revision 1' });
  const { lines } = (await studio.api.get(at)).body as { lines: Line[] };
  expect(lines[0]?.wantedSwatchId).toBe(world.swatchId);
  expect(lines[1]?.wantedRevisionId).toBe(world.revisionId);
  const page = await studio.page.get(at);
  expect(page.text).toContain('Leaf on linen');
  const form = await studio.page.get(`/order-lines/${lines[1]?.orderLineId}/edit`);
  expect(form.text).toContain('value="Leaf, revision 1"');
});

test('an order goes from open over work and readiness to delivery, and by no other way', async () => {
  const studio = await freshStudio();
  const at = await taken(studio);
  const goes = async (noun: string) => {
    const answer = await studio.api.post(`${at}/${noun}`);
    return answer.status === 200 ? answer.body.status : answer.body.code;
  };
  expect(await goes('delivery')).toBe('conflict');
  expect(await goes('work')).toBe('inWork');
  expect(await goes('work')).toBe('conflict');
  expect(await goes('readiness')).toBe('ready');
  expect(await goes('delivery')).toBe('delivered');
  expect(await goes('cancellation')).toBe('conflict');
  const page = await studio.page.get(at);
  expect(page.text).toContain(`${at}/reopening`);
  expect(page.text).not.toContain(`${at}/delivery`);
  expect(page.text).not.toContain('overdue');
  const closed = await studio.api.post(`${at}/lines`, { description: 'one more' });
  expect([closed.status, closed.body.code]).toEqual([409, 'conflict']);
  expect(await goes('reopening')).toBe('open');
  expect(await goes('cancellation')).toBe('cancelled');
  expect((await studio.page.post(`${at}/nonsense`)).status).toBe(404);
});

test('lots tell a line how many good pieces there are; a shared lot is shared out by its planned pieces', async () => {
  const studio = await freshStudio();
  const { db } = studio.deps;
  const world = lotWorld(studio.deps, studio.owner);
  const added = await studio.api.post(`/orders/${world.orderId}/lines`, { description: 'runners', pieces: 8 });
  expect(added.status).toBe(201);
  const secondId = (added.body as Line).orderLineId;
  writeLot(world, { number: '26-0001', finishedAt: MONDAY - 86_400_000, outcome: { firstQuality: 20 } });
  const at = MONDAY - 3_600_000;
  const shared = writeLot(world, { number: '26-0002', finishedAt: at, orderLineIds: [] }, true);
  db.insert(lotLines)
    .values([
      { lotId: shared, orderLineId: world.orderLineId, pieces: 4 },
      { lotId: shared, orderLineId: secondId, pieces: 8 },
    ])
    .run();
  const judged = { seconds: 0, rework: 0, scrap: 0, judgedAt: at, judgedBy: studio.owner.personId };
  db.insert(lotOutcomes)
    .values({ lotId: shared, firstQuality: 9, ...judged })
    .run();
  db.update(lots).set({ status: 'finished', finishedAt: at }).where(eq(lots.id, shared)).run();
  writeLot(world, { number: '26-0003', finishedAt: MONDAY + 3_600_000 }, true);
  const { lines } = (await studio.api.get(`/orders/${world.orderId}`)).body as { lines: Line[] };
  expect(lines.map((l) => [l.goodPieces, l.lots.map((lot) => [lot.number, lot.goodPieces])])).toEqual([
    [
      23,
      [
        ['26-0001', 20],
        ['26-0002', 3],
        ['26-0003', null],
      ],
    ],
    [6, [['26-0002', 6]]],
  ]);
  const page = await studio.page.get(`/orders/${world.orderId}`);
  expect(page.text).toMatch(/23<small> of 24/);
  expect(page.text).toContain('on the bench');
  const removal = await studio.api.post(`/order-lines/${secondId}/removal`);
  expect([removal.status, removal.body.code]).toEqual([409, 'conflict']);
});

test('a line is changed against the version of its order, both versions shown when it was overtaken', async () => {
  const studio = await freshStudio();
  const at = await taken(studio);
  const { lines, version } = (await studio.api.get(at)).body as { lines: Line[]; version: number };
  const edit = `/order-lines/${lines[0]?.orderLineId}`;
  const form = { description: '24 napkins', pieces: '24', version: String(version) };
  expect((await studio.page.post(edit, { ...form, pieces: '26' })).status).toBe(303);
  const late = await studio.page.post(edit, { ...form, pieces: '22' });
  expect(late.status).toBe(409);
  expect(late.text).toContain('<td>26</td><td>22</td>');
  expect(
    (await studio.page.post(at, { number: '2026-007', customerId: '1', orderedOn: '2026-03-02', version: '1' })).status,
  ).toBe(409);
  expect((await studio.page.post(`/order-lines/${lines[1]?.orderLineId}/removal`)).status).toBe(303);
  const last = await studio.page.post(`${edit}/removal`);
  expect(last.status).toBe(409);
  expect(((await studio.api.get(at)).body.lines as Body[]).map((l) => l['pieces'])).toEqual([26]);
});

test('what is in hand is listed by its day, those without a day last, and counts belong to their own row', async () => {
  const studio = await freshStudio();
  await studio.api.post('/customers', { name: 'Café Foz' });
  await studio.api.post('/customers', { name: 'Never ordered' });
  const order = (number: string, dueOn: string | null) =>
    studio.api.post('/orders', {
      number,
      customerId: 1,
      orderedOn: '2026-01-02',
      dueOn,
      lines: [{ description: 'x' }],
    });
  await order('A', null);
  await order('B', '2026-04-02');
  await order('C', '2026-03-17');
  const { orders } = (await studio.api.get('/orders')).body as { orders: Body[] };
  expect(orders.map((o) => o['number'])).toEqual(['C', 'B', 'A']);
  const page = await studio.page.get('/orders');
  expect(page.text).toContain('due tomorrow');
  expect(page.text).toContain('due in 17 days');
  expect(page.text).toContain('no day agreed');
  const customers = await studio.page.get('/customers');
  expect(customers.text).toMatch(/Café Foz[\s\S]*?<td class="num">3<\/td><td class="num">3<\/td>/);
  expect(customers.text).toMatch(/Never ordered[\s\S]*?<td class="num">—<\/td><td class="num">0<\/td>/);
  expect((await studio.page.get('/customers/1')).text).toContain('due tomorrow');
});

test('a plan finds the lines still to be dyed, and takes their order in work once', async () => {
  const studio = await freshStudio();
  const at = await taken(studio);
  const { db } = studio.deps;
  const found = openOrderLines(db);
  expect(found.map((f) => [f.line.description, f.customer.name, f.order.status])).toEqual([
    ['24 napkins', 'Estuary Weavers Guild', 'open'],
    ['2 runners', 'Estuary Weavers Guild', 'open'],
  ]);
  const orderId = found[0]?.order.id ?? 0;
  takeInWork(db, orderId);
  expect(orderLineById(db, found[0]?.line.id ?? 0)?.order.status).toBe('inWork');
  await studio.api.post(`${at}/readiness`);
  takeInWork(db, orderId);
  expect((await studio.api.get(at)).body.status).toBe('ready');
  expect(openOrderLines(db)).toEqual([]);
});

test('a customer is changed against a version, archived, and keeps the orders', async () => {
  const studio = await freshStudio();
  const at = await taken(studio);
  expect((await studio.page.post('/customers/1', { name: 'Guild', contact: 'Quay 2', version: '1' })).status).toBe(303);
  const late = await studio.page.post('/customers/1', { name: 'The guild', version: '1' });
  expect(late.status).toBe(409);
  expect(late.text).toContain('<td>Guild</td><td>The guild</td>');
  await studio.page.post('/customers/1/archiving');
  expect((await studio.api.get('/customers')).body.customers).toEqual([]);
  expect((await studio.page.get(`${at}/edit`)).text).toContain('>Guild</option>');
  expect((await studio.api.post('/customers/1/restoring')).body.archived).toBe(false);
});

test('what the database holds of a line is what was sent', async () => {
  const studio = await freshStudio();
  const world = lotWorld(studio.deps, studio.owner);
  const sent = {
    description: 'scarves',
    fibreId: world.fibreId,
    pieces: 6,
    dryMassMg: 240_000,
    wantedSwatchId: world.swatchId,
    wantedRevisionId: null,
    wantedNote: '',
    toleranceFormula: 'by eye',
    toleranceMilli: null,
    priceMinor: 9_000,
  };
  const made = await studio.api.post(`/orders/${world.orderId}/lines`, sent);
  expect((await studio.api.get(`/order-lines/${made.body.orderLineId}`)).body).toMatchObject({ ...sent, ordinal: 2 });
  expect(studio.deps.db.select().from(lotLines).where(eq(lotLines.orderLineId, made.body.orderLineId)).all()).toEqual(
    [],
  );
});

test('a price beyond any studio is refused, so that sums of many lines stay exact', async () => {
  const studio = await freshStudio();
  const customer = await studio.api.post('/customers', { name: 'A gallery' });
  const order = {
    customerId: customer.body.customerId,
    orderedOn: '2026-03-01',
    lines: [{ description: 'shawls', priceMinor: Number.MAX_SAFE_INTEGER }],
  };
  const refused = await studio.api.post('/orders', order);
  expect([refused.status, refused.body.code]).toEqual([422, 'invalidInput']);
  expect((await studio.api.get('/orders')).status).toBe(200);
});
