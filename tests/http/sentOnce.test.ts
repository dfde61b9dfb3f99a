import { sql } from 'drizzle-orm';
import { expect, test } from 'vitest';
import { contentDigest } from '../../server/stock/sentOnce.ts';
import { freshStudio, type TestStudio } from '../support/app.ts';
import { plannedLot } from '../support/benchWorld.ts';
import { makeWorld } from '../support/world.ts';

/** One id, one content: whatever is sent under an id that names something else is refused, and nothing of it is written. */

const rows = ({ deps }: TestStudio): unknown =>
  deps.db.get(
    sql`select (select count(*) from log_entries) as log, (select count(*) from stock_ledger) as ledger, (select count(*) from cost_lines) as costs, (select count(*) from stock_lots) as containers`,
  );

test('at the bench: every deed under the id of every other is a conflict, and the same again answers the first', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const { api } = studio;
  const { lotId, lineOf, steps } = await plannedLot(studio, w);
  const other = await plannedLot(studio, w);
  const at = studio.clock.now;
  const blue = lineOf('RB').componentId;
  const weighing = { componentId: blue, stockLotId: w.stock.blue.id, massMg: 500, at };
  const drawing = { columns: 4, rows: 4, cells: Array(16).fill(1), ice: [], clamps: [], lines: [] };
  const deeds: [string, object][] = [
    [`/lots/${lotId}/weighings`, weighing],
    [`/lots/${lotId}/log`, { kind: 'note', text: 'grey skin on the soda', at }],
    [`/lots/${lotId}/log`, { kind: 'temperature', text: '41 °C', tempC: 41, at }],
    [`/lots/${lotId}/log`, { kind: 'field', text: '90', label: 'Pick-up', at }],
    [`/lots/${lotId}/deviations`, { instead: 'placement', did: 'folded', at }],
    [`/lots/${lotId}/placements`, { of: 'cloth', drawing, text: '', at }],
    [`/lots/${lotId}/steps`, { stepId: steps[0]?.stepId, kind: 'stepStart', at }],
    [
      `/lots/${lotId}/steps`,
      { stepId: steps[0]?.stepId, kind: 'stepEnd', thenStepId: steps[1]?.stepId, at: at + 1000 },
    ],
    [`/lots/${lotId}/steps`, { stepId: steps[1]?.stepId, kind: 'stepEnd', at: at + 2000 }],
  ];
  const sent: { url: string; body: object; entryId: number }[] = [];
  for (const [i, [url, deed]] of deeds.entries()) {
    const body = { ...deed, clientId: `deed-0000${i}` };
    const answer = await api.post(url, body);
    expect([url, answer.status], answer.text).toEqual([url, 201]);
    sent.push({ url, body, entryId: answer.body.entryId });
  }
  const voiding = { reason: 'wrong jar', clientId: 'deed-void-1', at };
  const voided = await api.post(`/log/${sent[0]?.entryId}/voiding`, voiding);
  expect(voided.status, voided.text).toBe(201);
  const before = rows(studio);
  studio.clock.now += 60_000;
  for (const { url, body, entryId } of sent) {
    const again = await api.post(url, body);
    expect([url, again.status, again.body.entryId]).toEqual([url, 201, entryId]);
  }
  expect((await api.post(`/log/${sent[0]?.entryId}/voiding`, voiding)).body.entryId).toBe(voided.body.entryId);

  const ids = [...sent.map((s) => (s.body as { clientId: string }).clientId), voiding.clientId];
  for (const clientId of ids)
    for (const { url, body } of sent) {
      if ((body as { clientId: string }).clientId === clientId) continue;
      const refused = await api.post(url, { ...body, clientId });
      expect([url, clientId, refused.status, refused.body.code]).toEqual([url, clientId, 409, 'idReused']);
    }
  const changed: [string, object][] = [
    [`/lots/${lotId}/weighings`, { ...sent[0]?.body, massMg: 900 }],
    [`/lots/${lotId}/weighings`, { ...sent[0]?.body, stockLotId: w.stock.yellow.id }],
    [`/lots/${lotId}/weighings`, { ...sent[0]?.body, at: at + 1 }],
    [`/lots/${other.lotId}/weighings`, { ...sent[0]?.body, componentId: other.lineOf('RB').componentId }],
    [`/lots/${lotId}/log`, { ...sent[1]?.body, text: 'grey skin on the soda, lifted off' }],
    [`/lots/${lotId}/log`, { ...sent[1]?.body, kind: 'deviation' }],
    [`/lots/${lotId}/log`, { ...sent[1]?.body, stepId: steps[0]?.stepId }],
    [`/lots/${lotId}/log`, { ...sent[2]?.body, tempC: 14 }],
    [`/lots/${lotId}/log`, { ...sent[3]?.body, label: 'Dips' }],
    [`/lots/${lotId}/deviations`, { ...sent[4]?.body, did: 'placed' }],
    [`/lots/${lotId}/placements`, { ...sent[5]?.body, drawing: { ...drawing, cells: Array(16).fill(0), ice: [1] } }],
    [`/lots/${lotId}/steps`, { ...sent[7]?.body, thenStepId: steps[2]?.stepId }],
    [`/log/${sent[0]?.entryId}/voiding`, { ...voiding, reason: 'wrong line' }],
    [`/log/${sent[1]?.entryId}/voiding`, voiding],
    [`/lots/${lotId}/abandonment`, { reason: 'torn', clientId: 'deed-00001' }],
    [`/lots/${lotId}/outcome`, { firstQuality: 24, unweighedConfirmed: true, clientId: 'deed-00001' }],
  ];
  for (const [url, body] of changed) {
    const refused = await api.post(url, body);
    expect([url, refused.status, refused.body.code], JSON.stringify(body)).toEqual([url, 409, 'idReused']);
  }
  expect(rows(studio)).toEqual(before);
  expect((await api.get(`/lots/${lotId}`)).body.status).toBe('onBench');
});

test('a photo and a voice note under a used id are refused too, and no picture is left behind', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const { lotId } = await plannedLot(studio, w);
  const { default: sharp } = await import('sharp');
  const picture = (background: string) =>
    sharp({ create: { width: 32, height: 32, channels: 3, background } })
      .jpeg()
      .toBuffer();
  const send = async (what: 'photos' | 'voices', file: Buffer, clientId: string) =>
    studio.page
      .send('post', `/api/v1/lots/${lotId}/${what}`)
      .set('authorization', `Bearer ${studio.api.token}`)
      .field('clientId', clientId)
      .field('text', 'the vat')
      .attach(what === 'photos' ? 'photo' : 'voice', file, what === 'photos' ? 'a.jpg' : 'a.wav');
  const wav = Buffer.concat([Buffer.from('RIFF'), Buffer.alloc(4), Buffer.from('WAVEfmt '), Buffer.alloc(64)]);
  await studio.api.post(`/lots/${lotId}/log`, { kind: 'note', text: 'a note', clientId: 'note-00001' });
  const first = await send('photos', await picture('#456'), 'photo-0001');
  expect(first.status, first.text).toBe(201);
  expect((await send('photos', await picture('#456'), 'photo-0001')).body.entryId).toBe(first.body.entryId);
  const photos = () => studio.deps.db.get(sql`select count(*) as n from photos`);
  const before = photos();
  for (const [what, file, id] of [
    ['photos', await picture('#a21'), 'photo-0001'],
    ['photos', await picture('#a22'), 'note-00001'],
    ['voices', wav, 'photo-0001'],
  ] as const) {
    const refused = await send(what, file, id);
    expect([what, id, refused.status, refused.body.code], refused.text).toEqual([what, id, 409, 'idReused']);
  }
  expect(photos()).toEqual(before);
});

test('an outcome is written once under its id; another outcome, or giving the lot up, under that id is a conflict', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const { lotId } = await plannedLot(studio, w);
  const note = { kind: 'note', text: 'dyed at dusk', clientId: 'note-00001' };
  await studio.api.post(`/lots/${lotId}/log`, note);
  const outcome = { firstQuality: 20, seconds: 4, unweighedConfirmed: true, clientId: 'outcome-01' };
  const misused = await studio.api.post(`/lots/${lotId}/outcome`, { ...outcome, clientId: note.clientId });
  expect([misused.status, misused.body.code]).toEqual([409, 'idReused']);
  expect((await studio.api.get(`/lots/${lotId}`)).body.status).toBe('onBench');
  expect((await studio.api.post(`/lots/${lotId}/outcome`, outcome)).status).toBe(201);
  expect((await studio.api.post(`/lots/${lotId}/outcome`, outcome)).status).toBe(201);
  const changed = await studio.api.post(`/lots/${lotId}/outcome`, { ...outcome, firstQuality: 24, seconds: 0 });
  expect([changed.status, changed.body.code]).toEqual([409, 'idReused']);
  const given = await studio.api.post(`/lots/${lotId}/abandonment`, { reason: 'torn', clientId: outcome.clientId });
  expect([given.status, given.body.code]).toEqual([409, 'idReused']);
  expect((await studio.api.get(`/lots/${lotId}`)).body.outcome).toMatchObject({ firstQuality: 20, seconds: 4 });
  // A forgotten cost: the same again is one line, another under its id is refused.
  const cost = { what: 'other', description: 'courier', costMinor: 900, reason: 'came late', clientId: 'cost-00001' };
  const added = await studio.api.post(`/lots/${lotId}/cost-lines`, cost);
  expect(added.status, added.text).toBe(201);
  expect((await studio.api.post(`/lots/${lotId}/cost-lines`, cost)).status).toBe(201);
  const lines = () => studio.deps.db.get(sql`select count(*) as n from cost_lines`);
  const before = lines();
  for (const other of [{ costMinor: 500 }, { description: 'a courier' }, { reason: 'came later' }]) {
    const refused = await studio.api.post(`/lots/${lotId}/cost-lines`, { ...cost, ...other });
    expect([refused.status, refused.body.code], refused.text).toEqual([409, 'idReused']);
  }
  expect(lines()).toEqual(before);
});

test('at the shelf: a receipt, waste, count, solution, closing and reopening keep to their ids', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const { api } = studio;
  const jar = w.stock.blue.id;
  const receipt = {
    dyeId: w.dyeIds.blue,
    quantity: 100_000,
    priceMinor: 900,
    supplier: 'a dye merchant',
    receivedOn: '2026-03-02',
    clientId: 'receipt-01',
  };
  const solution = { volumeUl: 500_000, concPpm: 10_000, massMg: 5000, clientId: 'solution-1' };
  const waste = { quantity: 3000, reason: 'clumped', clientId: 'waste-0001' };
  const count = { countedQuantity: 400_000, reason: 'counted', clientId: 'count-0001' };
  const deeds: [string, { clientId: string }, object][] = [
    ['/stock-lots', receipt, { priceMinor: 950 }],
    [`/stock-lots/${jar}/solutions`, solution, { massMg: 5001, volumeUl: 500_100 }],
    [`/stock-lots/${jar}/wastes`, waste, { quantity: 30_000 }],
    [
      `/stock-lots/${jar}/wastes`,
      { ...waste, clientId: 'waste-0002', reason: 'spilt' } as typeof waste,
      { reason: 'dropped' },
    ],
    [`/stock-lots/${jar}/stock-takes`, count, { countedQuantity: 40_000 }],
    [
      `/stock-lots/${w.stock.red.id}/closing`,
      { how: 'empty', clientId: 'closing-01' } as { clientId: string },
      { how: 'discarded', reason: 'old' },
    ],
  ];
  for (const [url, body] of deeds) {
    const first = await api.post(url, body);
    expect([url, Math.floor(first.status / 100)], first.text).toEqual([url, 2]);
  }
  const before = rows(studio);
  studio.clock.now += 60_000;
  for (const [url, body, change] of deeds) {
    const again = await api.post(url, body);
    expect([url, Math.floor(again.status / 100)], again.text).toEqual([url, 2]);
    const refused = await api.post(url, { ...body, ...change });
    expect([url, refused.status, refused.body.code], refused.text).toEqual([url, 409, 'idReused']);
    for (const [otherUrl, other] of deeds) {
      if (other.clientId === body.clientId) continue;
      const mixed = await api.post(otherUrl, { ...other, clientId: body.clientId });
      expect([otherUrl, body.clientId, mixed.status, mixed.body.code], mixed.text).toEqual([
        otherUrl,
        body.clientId,
        409,
        'idReused',
      ]);
    }
  }
  expect(rows(studio)).toEqual(before);
});

test('an entry of an earlier version has no digest: the same again is known by what it holds, anything else is a conflict', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const { lotId, lineOf } = await plannedLot(studio, w);
  const weighing = {
    componentId: lineOf('RB').componentId,
    stockLotId: w.stock.blue.id,
    massMg: 500,
    clientId: 'old-phone-1',
  };
  const note = { kind: 'note', text: 'a note', clientId: 'old-phone-2' };
  const waste = { quantity: 3000, reason: 'clumped', clientId: 'old-phone-3' };
  const first = await studio.api.post(`/lots/${lotId}/weighings`, weighing);
  await studio.api.post(`/lots/${lotId}/log`, note);
  await studio.api.post(`/stock-lots/${w.stock.red.id}/wastes`, waste);
  // As a migrated studio has them.
  for (const table of ['log_entries', 'stock_ledger']) {
    studio.deps.sqlite.exec(`drop trigger ${table}_no_update; update ${table} set content_digest = null`);
  }
  expect((await studio.api.post(`/lots/${lotId}/weighings`, weighing)).body.entryId).toBe(first.body.entryId);
  expect((await studio.api.post(`/lots/${lotId}/log`, note)).status).toBe(201);
  expect((await studio.api.post(`/stock-lots/${w.stock.red.id}/wastes`, waste)).status).toBe(201);
  const others: [string, object][] = [
    [`/lots/${lotId}/weighings`, { ...weighing, massMg: 900 }],
    [`/lots/${lotId}/weighings`, { ...weighing, clientId: note.clientId }],
    [`/lots/${lotId}/log`, { ...note, text: 'another' }],
    [`/stock-lots/${w.stock.red.id}/wastes`, { ...waste, quantity: 4000 }],
  ];
  for (const [url, body] of others)
    expect([url, (await studio.api.post(url, body)).body.code]).toEqual([url, 'idReused']);
});

test('a digest is of the content, not of the order in which it is written', () => {
  const a = contentDigest('note', {
    text: 'x',
    at: 1,
    deep: { b: 1, a: [2, { d: 1, c: undefined }] },
    clientId: 'one',
  });
  expect(contentDigest('note', { deep: { a: [2, { d: 1 }], b: 1 }, at: 1, text: 'x', clientId: 'two' })).toBe(a);
  expect(a).toMatch(/^[0-9a-f]{64}$/);
  for (const other of [
    { text: 'x', at: 2 },
    { text: 'x', at: 1, deep: { b: 1, a: [{ d: 1 }, 2] } },
  ])
    expect(contentDigest('note', other)).not.toBe(a);
  expect(contentDigest('note', { text: 'x', at: 5, derived: ['at'] })).toBe(contentDigest('note', { text: 'x' }));
  expect(contentDigest('voice', { text: 'x' })).not.toBe(contentDigest('note', { text: 'x' }));
});

test('money of a container under an id that names other money is refused, and nothing of it is written', async () => {
  const studio = await freshStudio();
  const { stock } = makeWorld(studio);
  const send = (amountMinor: number, reason: string) =>
    studio.api.post(`/stock-lots/${stock.blue.id}/money`, {
      kind: 'freight',
      amountMinor,
      reason,
      clientId: 'freight-of-may-1',
    });
  expect((await send(500, 'carrier, bill 17')).status).toBe(201);
  expect((await send(500, 'carrier, bill 17')).status).toBe(201);
  for (const answer of [await send(700, 'carrier, bill 17'), await send(500, 'carrier, bill 18')]) {
    expect([answer.status, answer.body.code]).toEqual([409, 'idReused']);
  }
  expect((await studio.api.get(`/stock-lots/${stock.blue.id}/money`)).body.money).toHaveLength(1);
});
