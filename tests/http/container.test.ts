import { expect, test } from 'vitest';
import { freshStudio, type TestStudio } from '../support/app.ts';
import { plannedLot } from '../support/benchWorld.ts';
import { attributeOf, elementsOf } from '../support/pageTree.ts';
import { makeWorld, type World } from '../support/world.ts';

/** The container decides unit, target and heading; one that cannot be meant is never proposed. A lot of 30 g at 2 %: the red, 0.12 g,
 *  goes as 12.0 mL of its 1 % solution. */

const DAY_MS = 86_400_000;
const small = { mass: '30 g' };

async function solution(
  studio: TestStudio,
  powder: { id: number },
  more: object = {},
): Promise<{ id: number; code: string }> {
  const made = await studio.api.post(`/stock-lots/${powder.id}/solutions`, {
    volumeUl: 500_000,
    concPpm: 10_000,
    massMg: 5000,
    ...more,
  });
  expect(made.status, made.text).toBe(201);
  return { id: made.body.stockLotId, code: made.body.code };
}

async function redAtBench(more: { solutions?: object[] } = {}) {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const made = [];
  for (const s of more.solutions ?? [{}]) made.push(await solution(studio, w.stock.red, s));
  const { lotId, lineOf } = await plannedLot(studio, w, small);
  const red = lineOf('RR');
  expect([red.unit, red.target]).toEqual(['ul', 12_000]);
  return { studio, w, lotId, red, made };
}

const onHand = async (studio: TestStudio, id: number): Promise<number> =>
  (await studio.api.get(`/stock-lots/${id}`)).body.onHandQuantity;

/** The panel of a line as the page shows it. */
async function panel(studio: TestStudio, lotId: number, componentId: number, text?: string) {
  const page = text ?? (await studio.page.get(`/lots/${lotId}/bench?line=${componentId}`)).text;
  const all = elementsOf(page);
  const now = all.find(
    (e) => attributeOf(e, 'class')?.startsWith('now-weigh') && attributeOf(e, 'data-line') === String(componentId),
  );
  if (!now) throw new Error('The line is on the screen.');
  const inside = page.slice(page.indexOf('class="now-weigh'), page.indexOf('<ul class="weighings"'));
  const words = (pattern: RegExp): string => pattern.exec(inside)?.[1]?.replace(/<[^>]+>/g, '') ?? '';
  return {
    heading: words(/<p class="now-what">([\s\S]*?)<\/p>/).trim(),
    target: words(/<p class="now-target">([\s\S]*?)<\/p>/),
    instead: words(/<p class="now-instead"[^>]*>([\s\S]*?)<\/p>/),
    unit: words(/<span class="unit">([\s\S]*?)<\/span>/),
    measure: words(/name="measure" value="([^"]*)"/),
    chosen:
      /value="(\d+)"[^>]*checked/.exec(inside)?.[1] ??
      /<input type="hidden" name="stockLotId" value="(\d+)"/.exec(inside)?.[1] ??
      null,
    text: inside.replace(/<[^>]+>/g, ' ').replace(/\s+/g, ' '),
  };
}

const typed = (componentId: number, stockLotId: number, amount: string, measure: string) => ({
  componentId: String(componentId),
  stockLotId: String(stockLotId),
  amount,
  measure,
});

test('a number typed for the solution is not booked as so many grams of powder: the page asks for what the jar holds', async () => {
  const { studio, w, lotId, red, made } = await redAtBench();
  const jar = w.stock.red;
  const seen = await panel(studio, lotId, red.componentId);
  expect(seen).toMatchObject({
    heading: 'Colour 1: EstuaryRR Hip red, 1 % solution',
    target: '12.0 mL',
    unit: 'mL',
    instead: '',
  });
  expect(seen.chosen).toBe(String(made[0]?.id));
  expect(seen.text).toContain(`${jar.code} (245.00 g left) planned as 1 % solution`);
  const before = await onHand(studio, jar.id);
  // Without script: the other container is chosen in the form that says mL.
  const refused = await studio.page.post(
    `/lots/${lotId}/weighings`,
    typed(red.componentId, jar.id, '12', seen.measure),
  );
  expect(refused.status).toBe(422);
  expect(refused.text).toContain(
    'R-1 is weighed: type grams. The screen asked for what another container holds when “12” was typed',
  );
  expect(await onHand(studio, jar.id)).toBe(before);
  const powder = await panel(studio, lotId, red.componentId, refused.text);
  expect(powder).toMatchObject({
    heading: 'Colour 1: EstuaryRR Hip red, powder',
    target: '0.12 g',
    instead: 'in place of 12.0 mL of 1 % solution',
    unit: 'g',
    chosen: String(jar.id),
  });
  const weighed = await studio.page.post(
    `/lots/${lotId}/weighings`,
    typed(red.componentId, jar.id, '0.12', powder.measure),
  );
  expect(weighed.status, weighed.text).toBe(303);
  expect(await onHand(studio, jar.id)).toBe(before - 120);
  const after = (await studio.api.get(`/lots/${lotId}`)).body.lines.find((l: { code: string }) => l.code === 'RR');
  expect([after.actual, after.state]).toEqual([12_000, 'within']);
});

test('the reverse: grams are not booked as millilitres of a solution', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const { lotId, lineOf } = await plannedLot(studio, w);
  const made = await solution(studio, w.stock.red);
  const red = lineOf('RR');
  const seen = await panel(studio, lotId, red.componentId);
  expect(seen).toMatchObject({ target: '4.80 g', unit: 'g', chosen: String(w.stock.red.id) });
  expect(seen.text).toContain('a solution, planned as powder');
  const refused = await studio.page.post(
    `/lots/${lotId}/weighings`,
    typed(red.componentId, made.id, '4.8', seen.measure),
  );
  expect(refused.status).toBe(422);
  expect(await panel(studio, lotId, red.componentId, refused.text)).toMatchObject({
    heading: 'Colour 1: EstuaryRR Hip red, 1 % solution',
    target: '480.0 mL',
    instead: 'in place of 4.80 g',
    unit: 'mL',
  });
  expect(await onHand(studio, made.id)).toBe(500_000);
});

test('a unit typed with the number must fit the container, whatever the screen asked for', async () => {
  const { studio, w, lotId, red, made } = await redAtBench();
  const { measure } = await panel(studio, lotId, red.componentId);
  const send = (stockLotId: number, amount: string) =>
    studio.page.post(`/lots/${lotId}/weighings`, typed(red.componentId, stockLotId, amount, measure));
  const volume = await send(w.stock.red.id, '12 mL');
  expect([volume.status, volume.text.includes('“12 mL” is a volume, and R-1 is weighed')]).toEqual([422, true]);
  const mass = await send(made[0]?.id ?? 0, '12 g');
  expect([mass.status, mass.text.includes(`“12 g” is a mass, and ${made[0]?.code} is measured by volume`)]).toEqual([
    422,
    true,
  ]);
  // A unit that fits says itself what is meant.
  expect((await send(w.stock.red.id, '120 mg')).status).toBe(303);
  const api = { componentId: red.componentId, stockLotId: w.stock.red.id, clientId: 'unit-00001' };
  const wrong = await studio.api.post(`/lots/${lotId}/weighings`, { ...api, volumeUl: 120 });
  expect([wrong.status, Object.keys(wrong.body.fields)]).toEqual([422, ['volumeUl']]);
  for (const none of [{}, { massMg: 120, volumeUl: 120 }])
    expect((await studio.api.post(`/lots/${lotId}/weighings`, { ...api, ...none })).status).toBe(422);
  expect((await studio.api.post(`/lots/${lotId}/weighings`, { ...api, massMg: 120 })).status).toBe(201);
});

test('what is expired, empty, of another strength or form is never proposed, and says why', async () => {
  const { studio, w, lotId, red, made } = await redAtBench({
    solutions: [{ bestBeforeOn: '2026-01-12', madeOn: '2026-01-06' }, { volumeUl: 250_000, concPpm: 20_000 }, {}],
  });
  const [old, strong, good] = made;
  expect((await panel(studio, lotId, red.componentId)).chosen).toBe(String(good?.id));
  // Below nothing by its card.
  await studio.api.post(`/stock-lots/${good?.id}/stock-takes`, { countedQuantity: 0, reason: 'counted' });
  const none = await panel(studio, lotId, red.componentId);
  expect(none.chosen).toBeNull();
  expect(none).toMatchObject({ heading: 'Colour 1: EstuaryRR Hip red, 1 % solution', target: '12.0 mL', unit: 'mL' });
  expect(none.text).toContain('past its best-before, 12 Jan 2026');
  expect(none.text).toContain('empty by its card');
  expect(none.text).toMatch(
    /2 % solution \(250\.0?0? ?mL left\) planned as 1 % solution|2 % solution \([\d.]+ mL left\) planned as 1 % solution/,
  );
  const unchosen = await studio.page.post(`/lots/${lotId}/weighings`, {
    componentId: String(red.componentId),
    amount: '12',
    measure: none.measure,
  });
  expect(unchosen.status).toBe(422);
  // It may be chosen all the same, by somebody who knows better.
  const twice = await studio.page.post(
    `/lots/${lotId}/weighings`,
    typed(red.componentId, strong?.id ?? 0, '6 mL', none.measure),
  );
  expect(twice.status, twice.text).toBe(303);
  // Taken from once, it is still not proposed: nor is one that passed its best-before since.
  const next = await plannedLot(studio, w, small);
  expect((await panel(studio, next.lotId, next.lineOf('RR').componentId)).chosen).toBeNull();
  void old;
});

test('a container that was planned from, and has passed its best-before, been emptied or been corrected since, is not proposed', async () => {
  const { studio, lotId, red, made } = await redAtBench({ solutions: [{ bestBeforeOn: '2026-03-17' }] });
  expect((await panel(studio, lotId, red.componentId)).chosen).toBe(String(made[0]?.id));
  studio.clock.now += 3 * DAY_MS;
  const late = await panel(studio, lotId, red.componentId);
  expect([late.chosen, late.text.includes('past its best-before, 17 Mar 2026')]).toEqual([null, true]);

  const other = await freshStudio();
  const w: World = makeWorld(other);
  const planned = await plannedLot(other, w);
  const jar = (await other.api.get(`/stock-lots/${w.stock.red.id}`)).body;
  const { supplier, makerLot, openedOn, bestBeforeOn, note, version } = jar;
  const saved = await other.api.put(`/stock-lots/${w.stock.red.id}`, {
    supplier,
    makerLot,
    openedOn,
    bestBeforeOn,
    note,
    version,
    strengthPpm: 1_280_000,
  });
  expect(saved.status, saved.text).toBe(200);
  const corrected = await panel(other, planned.lotId, planned.lineOf('RR').componentId);
  expect(corrected.chosen).toBeNull();
  expect(corrected.text).toContain('planned at strength 100 %');
});

test('a reading hard to believe is asked about once, in one tap, and booked when it is confirmed', async () => {
  const { studio, lotId, red, made } = await redAtBench();
  const id = made[0]?.id ?? 0;
  const { measure } = await panel(studio, lotId, red.componentId);
  const form = { ...typed(red.componentId, id, '1200', measure), clientId: 'reading-01' };
  const asked = await studio.page.post(`/lots/${lotId}/weighings`, form);
  expect(asked.status).toBe(409);
  expect(asked.text).toContain('1200 mL?');
  expect(asked.text).toContain(
    'holds 500.0 mL by its card, and Hip red wants 12.0 mL. Is the point in the right place?',
  );
  expect(asked.text).toContain(`name="confirmed" value="${id}:1200000">Yes, it is 1200 mL</button>`);
  expect(asked.text).toMatch(/name="amount"[^>]*value="1200"/);
  expect(await onHand(studio, id)).toBe(500_000);
  // What was confirmed of one reading is not confirmed of another.
  const another = await studio.page.post(`/lots/${lotId}/weighings`, {
    ...form,
    amount: '120',
    confirmed: `${id}:1200000`,
  });
  expect(another.status).toBe(409);
  const yes = await studio.page.post(`/lots/${lotId}/weighings`, { ...form, confirmed: `${id}:1200000` });
  expect(yes.status, yes.text).toBe(303);
  expect(await onHand(studio, id)).toBe(500_000 - 1_200_000);

  const body = { componentId: red.componentId, stockLotId: id, volumeUl: 610_000, clientId: 'reading-02' };
  const doubted = await studio.api.post(`/lots/${lotId}/weighings`, body);
  expect([doubted.status, doubted.body.code, doubted.body.doubts]).toEqual([
    409,
    'needsConfirming',
    ['beyondContainer', 'beyondLine'],
  ]);
  expect((await studio.api.post(`/lots/${lotId}/weighings`, { ...body, confirmed: false })).status).toBe(409);
  const confirmed = await studio.api.post(`/lots/${lotId}/weighings`, { ...body, confirmed: true });
  expect(confirmed.status).toBe(201);
  // The same reading, whether or not the word comes with it again.
  expect((await studio.api.post(`/lots/${lotId}/weighings`, body)).body.entryId).toBe(confirmed.body.entryId);
});

test('what a device asked about and kept is never asked again when it arrives, whatever happened meanwhile', async () => {
  const { studio, lotId, red, made } = await redAtBench();
  const id = made[0]?.id ?? 0;
  await studio.api.post(`/stock-lots/${id}/stock-takes`, { countedQuantity: 1000, reason: 'counted' });
  const { measure } = await panel(studio, lotId, red.componentId);
  const kept = { ...typed(red.componentId, id, '12', measure), at: String(studio.clock.now), clientId: 'device-001' };
  const sent = await studio.page.part('post', `/lots/${lotId}/weighings`, { ...kept, confirmed: `${id}:12000` });
  expect(sent.status, sent.text).toBe(200);
  expect(await onHand(studio, id)).toBe(1000 - 12_000);
});

test('a plan takes the oldest jar that is within its best-before, and one past it only where there is no other, with a warning', async () => {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const receipt = { dyeId: w.dyeIds.red, quantity: 50_000, priceMinor: 900, supplier: 'a dye merchant' };
  const receive = async (more: object): Promise<number> => {
    const made = await studio.api.post('/stock-lots', { ...receipt, ...more });
    expect(made.status, made.text).toBe(201);
    return made.body.stockLotId;
  };
  const old = await receive({ receivedOn: '2025-11-03', bestBeforeOn: '2026-03-01' });
  const planned = async () =>
    (await studio.api.get(`/lots/${(await plannedLot(studio, w)).lotId}`)).body.lines.find(
      (l: { code: string }) => l.code === 'RR',
    ).stockLotId;
  expect(await planned()).toBe(w.stock.red.id);
  expect(
    (await studio.api.post(`/stock-lots/${w.stock.red.id}/closing`, { how: 'empty', clientId: 'closing-01' })).status,
  ).toBe(200);
  expect(await planned()).toBe(old);
});
