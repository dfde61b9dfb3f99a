import { parse } from 'csv-parse/sync';
import { expect, test } from 'vitest';
import { declaredRoutes } from '../../server/people/guards.ts';
import { insertPerson } from '../../server/people/queries.ts';
import { openSignIn } from '../../server/people/signIn.ts';
import { theStudio, updateStudio } from '../../server/settings/queries.ts';
import { closeContainer } from '../../server/stock/containers.ts';
import { freshStudio, MONDAY } from '../support/app.ts';
import { lotWorld, writeLot } from '../support/finishedLots.ts';
import { readPage } from '../support/readPage.ts';

/* What a dyer would lose if one small thing on the pages of stock went wrong: a tab without a name, a form that forgot what was
 * typed, a button that leads nowhere, a list that lost its condition on the second page. */

async function shelf() {
  const studio = await freshStudio();
  const { deps, owner } = studio;
  const world = lotWorld(deps, owner);
  const lotId = writeLot(world, { number: '26-0001', finishedAt: MONDAY });
  const { yellow, blue, soda } = world.stockLotIds;
  const liquid = (
    await studio.api.post('/auxiliaries', { code: 'AC', name: 'Vinegar', form: 'liquid', hazardCodes: '', sdsUrl: '' })
  ).body.auxiliaryId as number;
  const bottle = (
    await studio.api.post('/stock-lots', {
      auxiliaryId: liquid,
      quantity: 1_000_000,
      priceMinor: 300,
      receivedOn: '2026-03-02',
    })
  ).body.stockLotId as number;
  const solution = (await studio.api.post(`/stock-lots/${blue}/solutions`, { concPpm: 10_000, massMg: 5_000 })).body
    .stockLotId as number;
  const read = async (path: string) => {
    const answer = await studio.page.get(path);
    return { status: answer.status, ...readPage(answer.text), text: answer.text.replace(/\s+/g, ' ') };
  };
  const send = async (path: string, form: Record<string, string>) => {
    const answer = await studio.page.post(path, form);
    return { status: answer.status, location: answer.headers['location'] ?? '', ...readPage(answer.text) };
  };
  return { ...studio, world, lotId, yellow, blue, soda, bottle, solution, liquid, read, send };
}

test('every page of stock has a name in the tab and a head, and the navigation says where one is', async () => {
  const s = await shelf();
  closeContainer(s.deps, { stockLotId: s.soda, how: 'discarded', reason: 'caked' }, s.owner);
  await s.api.post(`/stock-lots/${s.yellow}/recall`, { reason: 'maker’s notice' });
  const codes = { [s.yellow]: 'Y1-A', [s.blue]: 'B1-A', [s.soda]: 'SODA-A' };
  const idOf = (url: string): number =>
    url.includes('reopening') ? s.soda : url.includes('lifting') ? s.yellow : s.blue;
  const urls = declaredRoutes(s.app)
    .filter(({ method, url }) => method.includes('GET') && /^\/stock(\/|$)/.test(url) && !url.endsWith('.csv'))
    .map(({ url }) => url);
  expect(urls.length).toBeGreaterThan(12);
  for (const url of urls) {
    const id = idOf(url);
    const shown = await s.read(url.replace(':id', String(id)));
    expect([url, shown.status, shown.section]).toEqual([url, 200, '/stock']);
    expect(shown.title, url).toMatch(/^[A-Z].* · Test Works$/);
    expect(shown.heading, url).not.toBe('');
    if (url.includes(':id')) expect(shown.title, url).toContain(codes[id]);
  }
});

test('a form opens with what is usual, so that one types the rest only', async () => {
  const s = await shelf();
  const opened = async (path: string) => (await s.read(path)).typed;
  const id = expect.stringMatching(/^[\w-]{36}$/);
  expect(await opened(`/stock/new?item=dye-${s.world.dyeIds[1]}`)).toMatchObject({
    item: `dye-${s.world.dyeIds[1]}`,
    strength: '100',
    receivedOn: '2026-03-16',
    clientId: id,
    code: '',
  });
  expect((await opened('/stock/new'))['item']).toBe('');
  expect(await opened(`/stock/${s.blue}/stock-takes/new`)).toEqual({ clientId: id, counted: '', reason: 'counted' });
  expect(await opened(`/stock/${s.blue}/wastes/new`)).toEqual({ clientId: id, quantity: '', reason: '' });
  expect(await opened(`/stock/${s.blue}/money/new`)).toMatchObject({ clientId: id, kind: 'freight', on: '2026-03-16' });
  expect(await opened(`/stock/${s.blue}/closing/new`)).toEqual({ clientId: id, how: 'empty', reason: '' });
  expect(await opened(`/stock/${s.blue}/solutions/new`)).toMatchObject({
    clientId: id,
    conc: '1',
    madeOn: '2026-03-16',
    bestBeforeOn: '',
    volume: '',
  });
  s.deps.sqlite.prepare('update dyes set solution_life_days = 14').run();
  expect((await opened(`/stock/${s.blue}/solutions/new`))['bestBeforeOn']).toBe('2026-03-30');
  expect(await opened(`/stock/${s.blue}/edit`)).toEqual({
    version: '1',
    supplier: 'the usual',
    makerLot: 'P-78',
    strength: '100',
    openedOn: '',
    bestBeforeOn: '',
    note: '',
  });
  const kept = { supplier: 'x', makerLot: 'y', strengthPpm: 1_100_000, note: 'z' };
  const days = { openedOn: '2026-03-16', bestBeforeOn: '2027-03-16' };
  await s.api.put(`/stock-lots/${s.blue}`, { ...kept, ...days, version: 1 });
  expect(await opened(`/stock/${s.blue}/edit`)).toMatchObject({
    ...days,
    supplier: 'x',
    strength: '110',
    version: '2',
  });
  // Opened again, a container has in it what closing took out of its ledger: 250 g less 4.2 g and 5 g, and half a litre of vinegar.
  const gone = async (stockLotId: number, how: 'empty' | 'discarded') => {
    closeContainer(s.deps, { stockLotId, how, reason: 'by mistake' }, s.owner);
    return (await opened(`/stock/${stockLotId}/reopening/new`))['counted'];
  };
  expect(await gone(s.blue, 'discarded')).toBe('240.8 g');
  await s.api.post(`/stock-lots/${s.bottle}/wastes`, { quantity: 500_000, reason: 'spilt' });
  expect(await gone(s.bottle, 'empty')).toBe('500 mL');
  await s.api.post(`/stock-lots/${s.soda}/stock-takes`, { countedQuantity: 0, reason: 'all gone' });
  expect(await gone(s.soda, 'empty')).toBe('');
});

test('what may be received is offered by what it is, with the label that it will get', async () => {
  const s = await shelf();
  s.deps.sqlite.prepare('update auxiliaries set archived_at = 1 where id = ?').run(s.liquid);
  const empty = await s.read('/stock/new');
  expect(empty.options['item']).toEqual([
    'Choose a dye, an auxiliary or goods',
    'Dyes: B1 · Blue',
    'Dyes: Y1 · Yellow',
    'Auxiliaries: Soda ash',
    'Goods: Linen, natural',
  ]);
  expect(empty.text).toContain('it is made from the code of what it holds');
  const goods = await s.read(`/stock/new?item=fibre-${s.world.fibreId}`);
  expect(goods.text).toContain('it becomes <b>LINEN-1</b>');
  expect(goods.typed['item']).toBe(`fibre-${s.world.fibreId}`);
  const soda = `auxiliary-${s.world.auxiliaryId}`;
  expect((await s.read(`/stock/new?item=${soda}`)).typed['item']).toBe(soda);
  expect((await s.read(`/stock/new?item=dye-${s.world.dyeIds[1]}`)).text).toContain('it becomes <b>B1-1</b>');
  expect((await s.read('/stock/new?item=dye-999')).status).toBe(200);
});

test('what is done with a container leads back to it, late money to its table, a recall to whom to tell', async () => {
  const s = await shelf();
  for (const [jar, deed, form, to] of [
    ['blue', '/stock-takes', { counted: '200 g', reason: 'month-end' }, ''],
    ['blue', '/wastes', { quantity: '5 g', reason: 'spilt' }, ''],
    ['bottle', '/wastes', { quantity: '5 mL', reason: 'spilt' }, ''],
    ['bottle', '/stock-takes', { counted: '0', reason: 'month-end' }, ''],
    ['blue', '/money', { kind: 'bill', amount: '5.00', on: '2026-03-16', reason: 'bill 17' }, '#money'],
    ['blue', '', { supplier: '', makerLot: '', strength: '110', version: '1' }, ''],
    ['blue', '/recall', { reason: 'maker’s notice' }, '/touched'],
    ['blue', '/closing', { how: 'empty' }, ''],
  ] as const) {
    const at = `/stock/${s[jar]}`;
    expect(await s.send(`${at}${deed}`, form)).toMatchObject({ status: 303, location: `${at}${to}` });
  }
});

test('a receipt and a solution lead to what is new on the shelf; opening again and lifting to where one was', async () => {
  const s = await shelf();
  const receipt = { quantity: '50 g', price: '5', freight: '', strength: '100', receivedOn: '2026-03-16' };
  const came = await s.send('/stock', { ...receipt, item: `dye-${s.world.dyeIds[0]}` });
  expect([came.status, (await s.read(came.location)).heading]).toEqual([303, 'Y1-1']);
  expect((await s.api.get(came.location.replace('stock', 'stock-lots'))).body).toMatchObject({
    freightMinor: 0,
    priceMinor: 500,
  });
  const dissolve = { volume: '500 mL', conc: '1', mass: '5', madeOn: '2026-03-16' };
  const made = await s.send(`/stock/${s.yellow}/solutions`, dissolve);
  expect([made.status, (await s.read(made.location)).heading]).toEqual([303, 'Y1-A-S1']);
  // Pressed twice it is made once.
  const once = { ...dissolve, clientId: 'form-0000001' };
  const first = await s.send(`/stock/${s.yellow}/solutions`, once);
  expect((await s.send(`/stock/${s.yellow}/solutions`, once)).location).toBe(first.location);
  closeContainer(s.deps, { stockLotId: s.soda, how: 'empty', reason: '' }, s.owner);
  const opened = await s.send(`/stock/${s.soda}/reopening`, { counted: '5 kg', reason: 'the wrong sack' });
  expect([opened.status, opened.location]).toEqual([303, `/stock/${s.soda}`]);
  await s.api.post(`/stock-lots/${s.blue}/recall`, { reason: 'maker’s notice' });
  const lifted = await s.send(`/stock/${s.blue}/recall-lifting`, { reason: 'tested' });
  expect([lifted.status, lifted.location]).toEqual([303, `/stock/${s.blue}`]);
});

test('a form that is refused is the same form with what was typed, and the words stand beside the field', async () => {
  const s = await shelf();
  const forms = [
    ['stock-takes', 'blue', 'Count B1-A', { counted: '5 mL', reason: ' ' }, ['counted', 'reason']],
    ['stock-takes', 'blue', 'Count B1-A', {}, ['counted: What is there: “182 g”, or 0.', 'reason']],
    ['stock-takes', 'bottle', 'Count AC-1', {}, ['counted: What is there: “350 mL”, or 0.', 'reason']],
    ['wastes', 'blue', 'Write off from B1-A', { reason: 'spilt' }, ['quantity: How much was lost?']],
    ['wastes', 'bottle', 'Write off from AC-1', { quantity: '5 g', reason: 'x' }, ['quantity']],
    [
      'money',
      'blue',
      'Late money on B1-A',
      { kind: 'gift' },
      ['amount: How much was it?', 'kind: Freight, a bill or a credit?', 'reason'],
    ],
    [
      'closing',
      'blue',
      'Close B1-A',
      { how: 'discarded', reason: ' ' },
      ['reason: Say why it is thrown away, for the ledger.'],
    ],
    ['closing', 'blue', 'Close B1-A', { how: 'lost' }, ['how: Empty, or thrown away?']],
    ['recall', 'blue', 'Recall B1-A', { reason: '' }, ['reason']],
    ['reopening', 'blue', 'Open B1-A again', { reason: 'x' }, ['counted: What is in it: “182 g”, or 0.']],
    ['reopening', 'bottle', 'Open AC-1 again', { reason: 'x' }, ['counted: What is in it: “350 mL”, or 0.']],
    ['recall-lifting', 'blue', 'Lift the recall of B1-A', {}, ['reason']],
    ['', 'blue', 'Edit B1-A', { strength: '2000', version: '1' }, ['strength']],
    ['', 'blue', 'Edit B1-A', { strength: '0.5', version: '1', note: 'x' }, ['strength']],
    [
      'solutions',
      'blue',
      'Make a solution of B1-A',
      { conc: '60', code: 'mine' },
      ['conc', 'madeOn: The day it was made.', 'mass', 'volume: How much solution: “500 mL”.'],
    ],
  ] as const;
  for (const [deed, jar, heading, form, fields] of forms) {
    const again = await s.send(deed === '' ? `/stock/${s[jar]}` : `/stock/${s[jar]}/${deed}`, form);
    expect([again.status, again.heading, again.section]).toEqual([422, heading, '/stock']);
    expect(again.title).toContain(heading.split(' ').find((w) => w.includes('-')));
    expect(Object.keys(again.errors).sort()).toEqual(fields.map((f) => f.split(': ')[0]));
    for (const said of fields.filter((f) => f.includes(': ')))
      expect(again.errors[said.slice(0, said.indexOf(': '))]).toBe(said.slice(said.indexOf(': ') + 2));
    for (const words of Object.values(again.errors)) expect(words).not.toBe('');
    for (const [name, typed] of Object.entries(form))
      if (!['kind', 'how'].includes(name)) expect([name, again.typed[name]]).toEqual([name, typed]);
  }
});

test('a receipt that is refused asks for what is missing in the unit of what came', async () => {
  const s = await shelf();
  const asked = async (item: string) => (await s.send('/stock', { item, receivedOn: '', strength: '' })).errors;
  expect(await asked('')).toMatchObject({
    item: 'Choose what the container holds.',
    quantity: 'How much: “250 g”, “1 lb”.',
    price: 'What was paid for it; 0 for a gift.',
    receivedOn: 'The day it came.',
    strength: '100 % unless the seller says otherwise.',
  });
  expect((await asked(`auxiliary-${s.liquid}`))['quantity']).toBe('How much: “500 mL”, “1 gal”.');
});

test('nothing is done with a container that is closed, open or cleared already, or that holds no powder', async () => {
  const s = await shelf();
  const said = async (path: string) => {
    const { status, text } = await s.read(path);
    return [status, /Container [^<.]*\.|A stock solution is made from a container of powder\./.exec(text)?.[0]];
  };
  expect(await said(`/stock/${s.blue}/reopening/new`)).toEqual([409, 'Container B1-A is open.']);
  const none = await s.read('/stock/999');
  expect([none.status, none.text.includes('There is no such container.')]).toEqual([404, true]);
  expect(await said(`/stock/${s.blue}/recall-lifting/new`)).toEqual([409, 'Container B1-A is not recalled.']);
  const powder = 'A stock solution is made from a container of powder.';
  for (const id of [s.bottle, s.solution]) expect(await said(`/stock/${id}/solutions/new`)).toEqual([409, powder]);
  const goods = (
    await s.api.post('/stock-lots', {
      fibreId: s.world.fibreId,
      quantity: 1_000_000,
      priceMinor: 1,
      receivedOn: '2026-03-02',
    })
  ).body.stockLotId;
  expect(await said(`/stock/${goods}/solutions/new`)).toEqual([409, powder]);
  await s.api.post(`/stock-lots/${s.yellow}/recall`, { reason: 'maker’s notice' });
  expect(await said(`/stock/${s.yellow}/solutions/new`)).toEqual([
    409,
    'Container Y1-A is recalled: make no solution from it.',
  ]);
  closeContainer(s.deps, { stockLotId: s.blue, how: 'empty', reason: '' }, s.owner);
  for (const deed of ['stock-takes', 'wastes', 'closing', 'solutions'])
    expect(await said(`/stock/${s.blue}/${deed}/new`)).toEqual([409, 'Container B1-A is closed.']);
});

test('a solution is worked out while one types, as far as can be read', async () => {
  const s = await shelf();
  const part = async (query: string) =>
    (await s.page.part('get', `/stock/${s.blue}/solutions/new?${query}`)).text
      .replace(/<[^>]*>/g, '')
      .replace(/\s+/g, ' ');
  expect(await part('conc=1')).toContain('Type volume and strength');
  const asked = await part('volume=500+mL&conc=2');
  // 2 % w/v is 2 g in 100 mL.
  expect(asked).toMatch(/Weigh 10\.00 g of powder, make up to 500 mL/);
  expect(asked).not.toContain('weighed, make up');
  for (const half of ['', '+', 'abc', '0']) expect(await part(`volume=500+mL&conc=2&mass=${half}`)).toBe(asked);
  expect(await part('volume=500+mL&conc=2&mass=10.2')).toContain('With 10.20 g weighed, make up to 510.0 mL');
  expect(await part('volume=50+L&conc=2')).toContain('The ledger shows only 240.80 g in this container.');
  // By a scale that reads to a tenth of a gram.
  s.deps.sqlite.prepare('update scales set readability_mg = 100').run();
  expect(await part('volume=500+mL&conc=2')).toContain('Weigh 10.0 g');
  // The whole page is no part: what was typed stands in it.
  const whole = await s.read(`/stock/${s.blue}/solutions/new?volume=500+mL&conc=2&code=S-9`);
  expect(whole.typed).toMatchObject({ volume: '500 mL', conc: '2', code: 'S-9' });
  const refused = await s.page.part('post', `/stock/${s.blue}/solutions`, { volume: '500 mL', conc: '2' });
  expect([refused.status, readPage(refused.text).typed['volume']]).toEqual([422, '500 mL']);
});

test('the shelf is shown by kind and by item; what is closed comes in pages that keep their condition', async () => {
  const s = await shelf();
  const shown = async (query: string) => {
    const { text, links } = await s.read(`/stock?${query}`);
    const codes = ['Y1-A', 'B1-A', 'B1-A-S1', 'SODA-A', 'AC-1'];
    return { codes: codes.filter((c) => text.includes(`>${c}<`)), links, text };
  };
  expect((await shown('')).codes).toEqual(['Y1-A', 'B1-A', 'B1-A-S1', 'SODA-A', 'AC-1']);
  expect((await shown('kind=dye')).codes).toEqual(['Y1-A', 'B1-A', 'B1-A-S1']);
  const blue = await shown(`item=dye-${s.world.dyeIds[1]}`);
  expect(blue.codes).toEqual(['B1-A', 'B1-A-S1']);
  expect(blue.text).toContain('<h1>Stock: Blue</h1>');
  expect(blue.links).toContain(`/stock?item=dye-${s.world.dyeIds[1]}&closed=yes`);
  expect((await shown(`item=auxiliary-${s.liquid}`)).codes).toEqual(['AC-1']);
  expect((await shown(`item=fibre-${s.world.fibreId}`)).codes).toEqual([]);
  expect((await shown('item=dye-999')).text).toContain('<h1>Stock</h1>');
  expect((await shown('closed=yes')).codes).toEqual([]);

  // 51 closed jars of soda: fifty on the first page, and one on the next; of exactly fifty there is no next.
  const { soda } = s;
  s.deps.sqlite
    .prepare(
      `insert into stock_lots (code, kind, auxiliary_id, unit, strength_ppm, received_on, price_minor, freight_minor, received_quantity, closed_at)
      select 'OLD-' || value, 'auxiliary', (select auxiliary_id from stock_lots where id = ?), 'mg', 1000000, '2025-01-01', 0, 0, 1000, 1
      from json_each(?)`,
    )
    .run(soda, JSON.stringify(Array.from({ length: 51 }, (_, i) => i + 1)));
  const item = `auxiliary-${s.world.auxiliaryId}`;
  const [first, more] = ['/stock?closed=yes', `/stock?closed=yes&kind=auxiliary&item=${item}`];
  const old = (text: string) => [...text.matchAll(/>(OLD-\d+)</g)].length;
  const next = async (path: string) => (await s.read(path)).links.find((l) => l.includes('before='));
  const page = await s.read(more);
  expect(old(page.text)).toBe(50);
  const href = (await next(more)) ?? '';
  expect(Object.fromEntries(new URLSearchParams(href.split('?')[1]))).toEqual({
    closed: 'yes',
    kind: 'auxiliary',
    item,
    before: expect.stringMatching(/^\d+$/),
  });
  const rest = await s.read(href);
  expect([old(rest.text), rest.links.some((l) => l.includes('before='))]).toEqual([1, false]);
  expect(await next(first)).toMatch(/^\/stock\?closed=yes&before=\d+$/);
  expect(await next('/stock?closed=yes&kind=dye')).toBeUndefined();
  expect(await next('/stock')).toBeUndefined();
});

test('a ledger of exactly one page has no next one', async () => {
  const s = await shelf();
  // Receipt and issue of blue and the powder of its solution stand already.
  for (let n = 4; n <= 50; n++) await s.api.post(`/stock-lots/${s.yellow}/wastes`, { quantity: 10, reason: `${n}` });
  const at = `/stock/${s.yellow}`;
  const pager = async (path: string) => (await s.read(path)).links.filter((l) => l === at || l.includes('before='));
  expect(await pager(at)).toEqual([]);
  await s.api.post(`/stock-lots/${s.yellow}/wastes`, { quantity: 10, reason: '50' });
  const [next = ''] = await pager(at);
  expect(next).toMatch(new RegExp(`^${at}\\?before=\\d+$`));
  expect(await pager(next)).toEqual([at]);
});

test('what somebody may not do is not offered to them', async () => {
  const s = await shelf();
  await s.api.post(`/stock-lots/${s.yellow}/recall`, { reason: 'maker’s notice' });
  const as = async (role: 'dyer' | 'bench' | 'viewer' | 'owner') => {
    const { personId } =
      role === 'owner'
        ? s.owner
        : {
            personId: insertPerson(s.deps.db, {
              name: role,
              role,
              passphraseHash: null,
              labourRateMinorPerHour: null,
              active: 1,
              createdAt: MONDAY,
            }).id,
          };
    const cookie = `studio=${openSignIn(s.deps, personId, 'test')}`;
    const links = async (url: string) => readPage((await s.app.inject({ url, headers: { cookie } })).body).links;
    const offered = [
      ...(await links('/stock')),
      ...(await links(`/stock/${s.blue}`)),
      ...(await links(`/stock/${s.yellow}`)),
    ];
    return ['/stock/new', 'edit', 'stock-takes/new', 'closing/new', 'recall-lifting/new'].filter((end) =>
      offered.some((href) => href.endsWith(end)),
    );
  };
  expect(await as('owner')).toEqual(['/stock/new', 'edit', 'stock-takes/new', 'closing/new', 'recall-lifting/new']);
  expect(await as('dyer')).toEqual(['/stock/new', 'edit', 'stock-takes/new', 'closing/new']);
  expect(await as('bench')).toEqual(['stock-takes/new']);
  expect(await as('viewer')).toEqual([]);
});

test('a day in the past is read as a day, and what cannot be read is told', async () => {
  const s = await shelf();
  const past = async (on: string) => {
    const { errors, typed, text } = await s.read(`/stock/${s.blue}?on=${on}`);
    return [errors['on'], typed['on'], /At the end of [^<]*<b>([^<]*)/.exec(text)?.[1]];
  };
  expect(await past('2026-03-16')).toEqual([undefined, '2026-03-16', '240.8 g']);
  expect(await past('2026-03-15')).toEqual([undefined, '2026-03-15', '0 g']);
  expect(await past('')).toEqual([undefined, '', undefined]);
  expect(await past('soon')).toEqual(['That is not a day: try 2026-03-31.', 'soon', undefined]);
});

test('under a moving average the shelf, the jar and its solution stand at what the books have', async () => {
  const s = await shelf();
  updateStudio(s.deps.db, { costing: 'movingAverage' }, theStudio(s.deps.db).version);
  // Another 250 g for 78.00: 39.00 and 78.00, less 0.66 that went to the lot, are 116.34 for 495.8 g: 23.46 for 100 g.
  await s.api.post('/stock-lots', {
    dyeId: s.world.dyeIds[1],
    quantity: 250_000,
    priceMinor: 7_800,
    receivedOn: '2026-03-16',
  });
  const jar = await s.read(`/stock/${s.blue}`);
  // 240.8 g of it in this jar: 56.50; 5 g in the bottle: 1.17.
  expect(jar.text).toContain('Value of what is left</dt><dd>€56.50');
  expect(jar.text).toContain('€1.17');
  expect((await s.read('/stock?kind=dye')).text).toContain('€56.50');
});

test('the list of a recall is a file of every lot, swatch and order line, with whom to tell', async () => {
  const s = await shelf();
  s.deps.sqlite.exec(`update customers set name = 'Café Foz, Porto', contact = 'ring at noon'`);
  writeLot(s.world, { number: '26-0002', finishedAt: MONDAY }, true);
  s.deps.sqlite
    .prepare(
      `insert into swatches (code, name, revision_id, depth_ppm, fibre_id, method_id, lot_id, dyed_on, made_by)
      select 'L-2', 'Leaf again', revision_id, depth_ppm, fibre_id, method_id, ?, dyed_on, made_by from swatches`,
    )
    .run(s.lotId);
  const unlotted = s.deps.sqlite
    .prepare(
      `insert into swatches (code, name, revision_id, depth_ppm, fibre_id, method_id, dyed_on, made_by)
      select 'L-3', 'Leaf by hand', revision_id, depth_ppm, fibre_id, method_id, dyed_on, made_by from swatches limit 1 returning id`,
    )
    .pluck()
    .get();
  s.deps.sqlite.prepare('insert into swatch_stock_lots values (?, ?)').run(unlotted, s.blue);
  const lotOf = (number: string, status: string, goods: number | null) =>
    s.deps.sqlite
      .prepare(
        `insert into lots (number, status, method_id, fibre_id, goods_text, dry_mass_mg, goods_owner, mass_found, coverage, loss_ppm,
          readability_mg, estimate_minor, plan_json, planned_at, planned_by, goods_stock_lot_id)
        values (?, ?, ?, ?, 'napkins', 2000000, 'studio', 'weighedDry', 'eachOverAll', 0, 10, 0, '{}', 1, ?, ?) returning id`,
      )
      .pluck()
      .get(number, status, s.world.methodId, s.world.fibreId, s.owner.personId, goods) as number;
  s.deps.sqlite
    .prepare(
      `insert into lot_components (lot_id, ordinal, kind, dye_id, basis, planned_mass_mg, step, stock_lot_id)
      values (?, 1, 'dye', ?, 'owg', 100, 10, ?)`,
    )
    .run(lotOf('26-0003', 'planned', null), s.world.dyeIds[1], s.blue);
  const file = await s.page.get(`/stock/${s.blue}/touched.csv`);
  expect(file.headers['content-disposition']).toContain('touched-by-B1-A.csv');
  const rows = parse(file.text, { columns: true }) as Record<string, string>[];
  const none = { name: '', status: '', container: '', quantity: '', unit: '', customer: '', contact: '' };
  const lot = { ...none, thing: 'lot', name: '24 napkins', container: 'B1-A', quantity: '4.2', unit: 'g' };
  const line = {
    ...none,
    thing: 'order line',
    number: 'O-1',
    name: 'napkins',
    status: 'inWork',
    contact: 'ring at noon',
  };
  expect(rows).toEqual([
    { ...lot, number: '26-0002', lot: '26-0002', status: 'onBench' },
    { ...lot, number: '26-0001', lot: '26-0001', status: 'finished' },
    { ...none, thing: 'planned lot', number: '26-0003', lot: '26-0003', status: 'planned', container: 'B1-A' },
    { ...none, thing: 'swatch', number: 'L-3', name: 'Leaf by hand', lot: '' },
    { ...none, thing: 'swatch', number: 'L-2', name: 'Leaf again', lot: '26-0001' },
    { ...line, lot: '26-0001', customer: 'Café Foz (now called Café Foz, Porto)' },
    { ...line, lot: '26-0002', customer: 'Café Foz, Porto' },
  ]);
  const shown = await s.read(`/stock/${s.blue}/touched`);
  expect(shown.heading).toBe('What B1-A went into');
  // A bolt is in the lot whose goods it is, without a quantity by the scale.
  const bolt = (
    await s.api.post('/stock-lots', {
      fibreId: s.world.fibreId,
      quantity: 5_000_000,
      priceMinor: 1,
      receivedOn: '2026-03-02',
    })
  ).body.stockLotId;
  lotOf('26-0004', 'onBench', bolt);
  const goods = parse((await s.page.get(`/stock/${bolt}/touched.csv`)).text, { columns: true });
  expect(goods).toEqual([
    {
      ...none,
      thing: 'lot',
      number: '26-0004',
      lot: '26-0004',
      name: 'napkins',
      status: 'onBench',
      container: 'LINEN-1',
    },
  ]);
  expect((await s.read(`/stock/${bolt}/touched`)).text).toContain('the goods');
});

test('what is to be bought keeps the days that were asked for, on the page and in the file', async () => {
  const s = await shelf();
  const csv = async (path: string) =>
    (await s.read(path)).links.find((l) => l.startsWith('/stock/shopping.csv'))?.split('?')[1];
  const usual = { windowDays: '90', leadTimeDays: '14', safetyDays: '14', coverDays: '90' };
  expect(Object.fromEntries(new URLSearchParams(await csv('/stock/shopping')))).toEqual(usual);
  const asked = await csv('/stock/shopping?coverDays=30');
  expect(Object.fromEntries(new URLSearchParams(asked))).toEqual({ ...usual, coverDays: '30' });
  const wrong = await s.read('/stock/shopping?windowDays=5&leadTimeDays=1.5&safetyDays=x&coverDays=900');
  expect([wrong.status, wrong.typed['windowDays'], wrong.section]).toEqual([422, '5', '/stock']);
  expect(wrong.errors).toEqual({
    windowDays: 'At least 7.',
    leadTimeDays: 'Whole days.',
    safetyDays: 'A number of days.',
    coverDays: 'At most two years.',
  });
  // What cannot be read changes nothing: the usual days stand.
  expect(Object.fromEntries(new URLSearchParams(await csv('/stock/shopping?windowDays=5')))).toEqual(usual);
  expect((await s.page.get('/stock/shopping.csv?windowDays=5')).status).toBe(422);
});
