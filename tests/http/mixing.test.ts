import { expect, test } from 'vitest';
import { freshStudio, type TestStudio } from '../support/app.ts';
import { makeWorld, type World } from '../support/world.ts';

interface OrderBody {
  orderId: number;
  status: string;
  version: number;
  lines: { orderLineId: number; mixingNote: string; lots: { lotId: number; number: string }[] }[];
}

async function orderOf(studio: TestStudio): Promise<OrderBody> {
  const customer = await studio.api.post('/customers', { name: 'Guild of the Long Table' });
  const order = await studio.api.post('/orders', {
    customerId: customer.body.customerId,
    orderedOn: '2026-03-10',
    lines: [{ description: '24 napkins', pieces: 24 }],
  });
  expect(order.status, order.text).toBe(201);
  return order.body as OrderBody;
}

/** A lot for the line; `begun` puts something in its cup. */
async function lotFor(studio: TestStudio, w: World, orderLineId: number, begun: boolean): Promise<number> {
  const lot = await studio.api.post('/lots', {
    fibreId: w.linenId,
    methodId: w.methodId,
    goodsText: '12 napkins',
    pieces: 12,
    mass: { found: 'weighedDry', massMg: 600_000 },
    colours: [{ revisionId: w.revisionId, depthPpm: 20_000 }],
    orderLines: [{ orderLineId, pieces: 12 }],
    morePiecesConfirmed: true,
  });
  expect(lot.status, lot.text).toBe(201);
  const { lotId } = lot.body as { lotId: number };
  if (begun) {
    const note = await studio.api.post(`/lots/${lotId}/log`, {
      kind: 'note',
      text: 'in the bath',
      clientId: `begun-${lotId}-note`,
    });
    expect(note.status, note.text).toBe(201);
  }
  return lotId;
}

const read = async (studio: TestStudio, orderId: number): Promise<OrderBody> =>
  (await studio.api.get(`/orders/${orderId}`)).body as OrderBody;

test('goods of two lots go out on one line only with a note, on the page and by the API', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const order = await orderOf(studio);
  const lineId = order.lines[0]?.orderLineId ?? 0;
  await lotFor(studio, w, lineId, true);
  const second = await lotFor(studio, w, lineId, true);

  const byApi = await studio.api.post(`/orders/${order.orderId}/readiness`);
  expect(byApi.status).toBe(422);
  expect(JSON.stringify(byApi.body)).toContain('26-0001 and 26-0002');
  const byPage = await studio.page.post(`/orders/${order.orderId}/readiness`);
  expect(byPage.status).toBe(422);
  expect(byPage.text).toContain('comes from lots 26-0001 and 26-0002');
  expect((await read(studio, order.orderId)).status).toBe('inWork');

  const empty = await studio.page.post(`/order-lines/${lineId}/mixing`, { [`mixingNote.${lineId}`]: '  ' });
  expect(empty.status).toBe(422);
  expect(empty.text).toContain('Say how they go together');

  const noted = await studio.page.post(`/order-lines/${lineId}/mixing`, {
    [`mixingNote.${lineId}`]: 'Bundled apart by lot <12 and 12>',
  });
  expect(noted.status).toBe(303);
  const after = await read(studio, order.orderId);
  expect(after.lines[0]?.mixingNote).toBe('Bundled apart by lot <12 and 12>');
  expect(after.version).toBeGreaterThan(order.version);
  expect((await studio.page.get(`/orders/${order.orderId}`)).text).toContain('Bundled apart by lot &lt;12 and 12&gt;');
  const lotPage = (await studio.page.get(`/lots/${second}`)).text;
  expect(lotPage).toContain('Bundled apart by lot &lt;12 and 12&gt;');
  expect(lotPage).toContain('26-0001');

  expect((await studio.page.post(`/orders/${order.orderId}/readiness`, { shortConfirmed: 'yes' })).status).toBe(303);
  expect((await studio.page.post(`/orders/${order.orderId}/delivery`)).status).toBe(303);
  const late = await studio.api.post(`/order-lines/${lineId}/mixing`, { note: 'alike after all' });
  expect(late.status).toBe(409);
  expect((await read(studio, order.orderId)).lines[0]?.mixingNote).toBe('Bundled apart by lot <12 and 12>');
});

test('one lot in work, or a second that is only planned or was given up, asks for no note', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const order = await orderOf(studio);
  const lineId = order.lines[0]?.orderLineId ?? 0;
  const first = await lotFor(studio, w, lineId, true);
  await lotFor(studio, w, lineId, false);
  const givenUp = await lotFor(studio, w, lineId, true);
  const abandoned = await studio.api.post(`/lots/${givenUp}/abandonment`, {
    reason: 'boiled dry',
    clientId: 'given-up-0001',
  });
  expect(abandoned.status, abandoned.text).toBe(201);
  expect((await studio.page.get(`/lots/${first}`)).text).not.toContain('nobody has noted');
  expect((await studio.api.post(`/orders/${order.orderId}/readiness`, { shortConfirmed: true })).body.status).toBe(
    'ready',
  );
});

test('a second lot that comes to the bench while the order is ready holds up the delivery', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const order = await orderOf(studio);
  const lineId = order.lines[0]?.orderLineId ?? 0;
  const first = await lotFor(studio, w, lineId, true);
  const second = await lotFor(studio, w, lineId, false);
  expect((await studio.api.post(`/orders/${order.orderId}/readiness`, { shortConfirmed: true })).body.status).toBe(
    'ready',
  );
  await studio.api.post(`/lots/${second}/log`, { kind: 'note', text: 'begun', clientId: 'second-lot-begun' });
  expect((await studio.api.post(`/orders/${order.orderId}/delivery`)).status).toBe(422);
  expect((await studio.page.get(`/lots/${first}`)).text).toContain('nobody has noted');
  expect((await studio.api.post(`/order-lines/${lineId}/mixing`, { note: 'compared, alike' })).status).toBe(200);
  expect((await studio.api.post(`/orders/${order.orderId}/delivery`)).body.status).toBe('delivered');
});
