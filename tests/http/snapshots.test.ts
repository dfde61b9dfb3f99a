import readXlsx from 'read-excel-file/node';
import { describe, expect, test } from 'vitest';
import { RULES } from '../../server/backup/queries.ts';
import { customers, orderLines, orders } from '../../server/db/tables/orders.ts';
import { theStudio, updateStudio } from '../../server/settings/queries.ts';
import { freshStudio, type TestStudio } from '../support/app.ts';
import { makeWorld, type World } from '../support/world.ts';

interface Line {
  componentId: number;
  code: string;
  name: string;
  actual: number | null;
  corrected: number | null;
  state: string;
  difference: number | null;
  weighings: { strengthPpm: number; stockLotCode: string }[];
}
interface LotBody {
  number: string;
  dryMassMg: number;
  readyAt: number | null;
  lines: Line[];
  colours: {
    lotColourId: number;
    recipeName: string;
    depthPpm: number;
    dyedDepthPpm: number;
    correctedDepthPpm: number | null;
  }[];
  costLines: { costLineId: number; description: string; quantity: number; priceMinor: number; perQuantity: number }[];
  renamed: { kind: string; name: string; nowCalled: string }[];
}

interface Dyed extends TestStudio {
  w: World;
  lotId: number;
  orderId: number;
  orderLineIds: [number, number];
  customerId: number;
}

const lotOf = async (s: Dyed): Promise<LotBody> => (await s.api.get(`/lots/${s.lotId}`)).body;
const lineOf = (lot: LotBody, code: string): Line => {
  const found = lot.lines.find((l) => l.code === code);
  if (!found) throw new Error(`no line ${code}`);
  return found;
};

/** 1.2 kg at 2 % in 50/30/20: 12.00, 7.20 and 4.80 g, for two lines of one order of the weavers' guild. */
async function onBench(): Promise<Dyed> {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const { db } = studio.deps;
  const customerId = db.insert(customers).values({ name: 'Weavers’ Guild' }).returning().get().id;
  const orderId = db
    .insert(orders)
    .values({ number: '2026-007', customerId, orderedOn: '2026-03-02', status: 'open' })
    .returning()
    .get().id;
  const [first, second] = [1, 2].map(
    (ordinal) =>
      db
        .insert(orderLines)
        .values({
          orderId,
          ordinal,
          description: `napkins ${ordinal}`,
          pieces: 12,
          dryMassMg: ordinal === 1 ? 300_000 : 900_000,
          toleranceFormula: 'CIEDE2000',
          toleranceMilli: 1500,
        })
        .returning()
        .get().id,
  );
  const planned = await studio.api.post('/lots', {
    fibreId: w.linenId,
    methodId: w.methodId,
    goodsText: '24 napkins',
    pieces: 24,
    goodsOwner: 'studio',
    mass: { found: 'weighedDry', massMg: 1_200_000 },
    coverage: 'eachOverAll',
    colours: [{ revisionId: w.revisionId, depthPpm: 20_000 }],
    orderLines: [
      { orderLineId: first, pieces: 12 },
      { orderLineId: second, pieces: 12 },
    ],
  });
  expect(planned.status, planned.text).toBe(201);
  return {
    ...studio,
    w,
    lotId: planned.body.lotId,
    orderId,
    orderLineIds: [first ?? 0, second ?? 0],
    customerId,
  };
}

let sent = 0;
const clientId = (): string => {
  sent += 1;
  return `snapshot-${sent}`;
};

async function weigh(s: Dyed, code: string, stockLotId: number, amount: number, more: { at?: number } = {}) {
  const { componentId } = lineOf(await lotOf(s), code);
  return s.api.post(`/lots/${s.lotId}/weighings`, {
    componentId,
    stockLotId,
    massMg: amount,
    clientId: clientId(),
    ...more,
  });
}

async function finish(s: Dyed, more: Record<string, unknown> = {}): Promise<void> {
  const answer = await s.api.post(`/lots/${s.lotId}/outcome`, {
    firstQuality: 24,
    clientId: clientId(),
    unweighedConfirmed: true,
    labour: [{ stepId: null, personId: s.owner.personId, durationS: 3600 }],
    ...more,
  });
  expect(answer.status, answer.text).toBe(201);
}

async function dyed(amounts: { blue?: number } = {}): Promise<Dyed> {
  const s = await onBench();
  await weigh(s, 'RB', s.w.stock.blue.id, amounts.blue ?? 12_000);
  await weigh(s, 'RY', s.w.stock.yellow.id, 7200);
  await weigh(s, 'RR', s.w.stock.red.id, 4800);
  await weigh(s, 'SALT', s.w.stock.salt.id, 1_200_000);
  await weigh(s, 'SODA', s.w.stock.soda.id, 360_000);
  return s;
}

async function setStrength(s: Dyed, stockLotId: number, strengthPpm: number): Promise<void> {
  const { version, supplier, makerLot, openedOn, bestBeforeOn, note } = (await s.api.get(`/stock-lots/${stockLotId}`))
    .body;
  const saved = await s.api.put(`/stock-lots/${stockLotId}`, {
    version,
    supplier,
    makerLot,
    openedOn,
    bestBeforeOn,
    note,
    strengthPpm,
  });
  expect(saved.status, saved.text).toBe(200);
}

const correct = (s: Dyed, line: LotBody['costLines'][number] | undefined, quantity: number) =>
  s.api.post(`/cost-lines/${line?.costLineId}/correction`, {
    reason: 'the scale was read wrong',
    replacement: { quantity, priceMinor: line?.priceMinor, perQuantity: line?.perQuantity },
  });

/** Bodies of pages without what the layout puts around them. */
const text = async (s: Dyed, url: string): Promise<string> => {
  const answer = await s.page.get(url);
  expect(answer.status, url).toBe(200);
  return answer.text.replace(/\s+/g, ' ');
};
const cells = (csv: string): string[][] =>
  csv
    .trim()
    .split('\r\n')
    .map((l) => l.split(','));
const sayNothingWrong = (s: Dyed): void => {
  for (const { name, broken } of RULES) expect(broken(s.deps.db), name).toEqual([]);
};

describe('the strength of a container', () => {
  test('set right after the lot was finished leaves its weighings, its depth and a read-out of it as they were', async () => {
    const s = await dyed();
    await finish(s);
    const before = await lotOf(s);
    const pageBefore = await text(s, `/lots/${s.lotId}`);
    s.clock.now += 3_600_000;
    await setStrength(s, s.w.stock.blue.id, 1_280_000);
    expect(await lotOf(s)).toEqual(before);
    expect(lineOf(before, 'RB')).toMatchObject({ actual: 12_000, state: 'within', difference: 0 });
    expect(lineOf(before, 'RB').weighings).toMatchObject([{ strengthPpm: 1_000_000 }]);
    expect(await text(s, `/lots/${s.lotId}`)).toBe(pageBefore);
    // 12.00 g · 1.28 would have been 15.36 g and +28 %.
    expect(pageBefore).not.toContain('28.0 %');
    expect(await text(s, `/stock/${s.w.stock.blue.id}`)).toContain('100 % until');
    sayNothingWrong(s);
  });

  test('counts for a reading as it was known at the time of the reading, however late that reaches us', async () => {
    const s = await onBench();
    const readAt = s.clock.now;
    s.clock.now += 60_000;
    await setStrength(s, s.w.stock.blue.id, 1_250_000);
    s.clock.now += 60_000;
    await weigh(s, 'RB', s.w.stock.blue.id, 6000, { at: readAt });
    await weigh(s, 'RB', s.w.stock.blue.id, 4800);
    // 6.00 g at 100 % and 4.80 g at 125 %: 6.00 + 6.00.
    expect(lineOf(await lotOf(s), 'RB')).toMatchObject({ actual: 12_000, state: 'within' });
    expect(lineOf(await lotOf(s), 'RB').weighings.map((w) => w.strengthPpm)).toEqual([1_000_000, 1_250_000]);
  });

  test('is that of the day on which a solution was made, when it is written down later', async () => {
    const s = await onBench();
    s.clock.now += 2 * 86_400_000;
    await setStrength(s, s.w.stock.blue.id, 1_250_000);
    const made = (madeOn: string, code: string) =>
      s.api.post(`/stock-lots/${s.w.stock.blue.id}/solutions`, { concPpm: 10_000, massMg: 5000, madeOn, code });
    const early = await made('2026-03-16', 'B-1-early');
    expect(early.status, early.text).toBe(201);
    expect(early.body.strengthPpm).toBe(1_000_000);
    expect((await made('2026-03-18', 'B-1-late')).body.strengthPpm).toBe(1_250_000);
  });

  test('is noted with its time and its person, and cannot be changed behind the note', async () => {
    const s = await onBench();
    const { sqlite } = s.deps;
    expect(() => sqlite.exec(`update stock_lots set strength_ppm = 900000 where id = ${s.w.stock.blue.id}`)).toThrow(
      'a change of strength is noted first',
    );
    await setStrength(s, s.w.stock.blue.id, 900_000);
    expect(sqlite.prepare('select was_ppm, is_ppm, at, by_person_id from strength_changes').all()).toEqual([
      { was_ppm: 1_000_000, is_ppm: 900_000, at: s.clock.now, by_person_id: s.owner.personId },
    ]);
    expect(() => sqlite.exec('update strength_changes set at = 0')).toThrow('never rewritten');
    expect(() => sqlite.exec('delete from strength_changes')).toThrow('never rewritten');
    expect(() =>
      sqlite.exec(
        `insert into strength_changes (stock_lot_id, was_ppm, is_ppm, at, by_person_id) values (${s.w.stock.blue.id}, 1, 2, 0, 1)`,
      ),
    ).toThrow('begins with the strength that stands');
  });
});

describe('names', () => {
  const RENAMES: readonly [table: string, column: string, was: string, is: string][] = [
    ['fibres', 'name', 'Linen, plain', 'Flax cloth'],
    ['methods', 'name', 'Immersion, reactive', 'Long bath'],
    ['recipes', 'name', 'Estuary', 'Mudflat'],
    ['dyes', 'code', 'RB', 'NB'],
    ['dyes', 'name', 'Tide blue', 'Navy'],
    ['auxiliaries', 'name', 'Soda ash', 'Sodium carbonate'],
    ['customers', 'name', 'Weavers’ Guild', 'Guild of the Estuary'],
    ['orders', 'number', '2026-007', '2026-700'],
    ['stock_lots', 'maker_lot', 'M-B-1', 'M-B-1x'],
    ['people', 'name', 'Inês', 'Ines M.'],
  ];
  const rename = (s: Dyed): void => {
    for (const [table, column, was, is] of RENAMES) {
      const { changes } = s.deps.sqlite.prepare(`update ${table} set ${column} = ? where ${column} = ?`).run(is, was);
      expect(changes, `${table}.${column} ${was}`).toBe(1);
    }
  };

  test('of a finished lot are those of its closing everywhere, with what they are called now beside them', async () => {
    const s = await dyed();
    await finish(s);
    const { lotColourId } = (await lotOf(s)).colours[0] ?? {};
    const swatch = await s.page.post(`/lots/${s.lotId}/swatch`, {
      code: 'S-9',
      name: 'Off the lot',
      lotColourId: String(lotColourId),
      dyedOn: '2026-03-16',
      readingSource: 'typed',
      illuminant: 'D65',
      observer: '10',
    });
    const swatchAt = swatch.headers['location'] as string;
    const files = ['/history/export.csv?rows=lot', '/history/export.csv?rows=costLine'];
    const before = await Promise.all(files.map(async (url) => (await s.page.get(`${url}&from=&to=`)).text));
    const workbook = async () =>
      JSON.stringify(
        await readXlsx(
          (
            await s.api
              .get('/exports/lots.xlsx?rows=lot')
              .buffer(true)
              .parse((res, done) => {
                const chunks: Buffer[] = [];
                (res as unknown as NodeJS.ReadableStream)
                  .on('data', (chunk: Buffer) => chunks.push(chunk))
                  .on('end', () => done(null, Buffer.concat(chunks)));
              })
          ).body as Buffer,
        ),
      );
    rename(s);

    const page = await text(s, `/lots/${s.lotId}`);
    for (const [table, column, was, is] of RENAMES) {
      if (table === 'stock_lots') continue;
      expect(page, `${table}.${column}`).toContain(was);
      if (table === 'people' || (table === 'dyes' && column === 'code')) continue;
      expect(page, `${table}.${column}`).toMatch(new RegExp(`now (called )?(NB )?${is}<`));
    }
    const lot = await lotOf(s);
    expect(lot).toMatchObject({ fibreName: 'Linen, plain', methodName: 'Immersion, reactive' });
    expect(lot.colours[0]?.recipeName).toBe('Estuary');
    expect(lineOf(lot, 'RB').name).toBe('Tide blue');
    expect(lot.renamed).toContainEqual({
      kind: 'dye',
      id: s.w.dyeIds.blue,
      code: 'RB',
      name: 'Tide blue',
      nowCalled: 'NB Navy',
    });
    expect((lot as unknown as { orderLines: unknown[] }).orderLines[0]).toMatchObject({
      orderNumber: '2026-007',
      customerName: 'Weavers’ Guild',
    });

    // Both files stay equal to the byte, the workbook has the same names.
    expect(await Promise.all(files.map(async (url) => (await s.page.get(`${url}&from=&to=`)).text))).toEqual(before);
    for (const was of ['Linen, plain', 'Immersion, reactive', 'Estuary', 'Weavers’ Guild', '2026-007'])
      expect(await workbook()).toContain(was);
    const history = await text(s, '/history?from=&to=');
    for (const is of ['Flax cloth', 'Long bath', 'Mudflat', 'Guild of the Estuary'])
      expect(history).toContain(`now called ${is}`);
    expect((await s.api.get('/history')).body.lots[0]).toMatchObject({
      customers: 'Weavers’ Guild',
      customersNow: 'Guild of the Estuary',
      orders: '2026-007',
      shades: 'Estuary',
      shadesNow: 'Mudflat',
      methodName: 'Immersion, reactive',
      fibreName: 'Linen, plain',
    });

    for (const [by, was, is] of [
      ['shade', 'Estuary', 'Mudflat'],
      ['method', 'Immersion, reactive', 'Long bath'],
      ['fibre', 'Linen, plain', 'Flax cloth'],
      ['customer', 'Weavers’ Guild', 'Guild of the Estuary'],
      ['order', '2026-007, Weavers’ Guild', '2026-700, Guild of the Estuary'],
    ]) {
      expect((await s.api.get(`/costing?by=${by}`)).body.groups).toMatchObject([{ label: was, labelNow: is }]);
      expect(await text(s, `/costing?by=${by}&from=&to=`)).toContain(`now called ${is}`);
    }
    const lines = (await text(s, '/costing/lines?by=lot&from=&to=')).replace(/<[^>]+>/g, '');
    expect(lines).toContain('RB Tide blue');

    const list = await text(s, '/lots');
    for (const was of ['Linen, plain', 'Estuary', 'Weavers’ Guild']) expect(list).toContain(was);
    // Found by the old name and by the new.
    for (const words of ['Estuary', 'Mudflat', 'Weavers', 'Guild of the']) {
      const found = (await s.api.get(`/lots?words=${encodeURIComponent(words)}`)).body.lots;
      expect(found, words).toMatchObject([{ lotId: s.lotId, colours: 'Estuary', customers: 'Weavers’ Guild' }]);
    }
    for (const paper of ['label', 'sheet']) {
      const printed = await text(s, `/lots/${s.lotId}/${paper}`);
      for (const was of ['Linen, plain', 'Estuary', 'Weavers’ Guild', '2026-007'])
        expect(printed, paper).toContain(was);
      for (const is of ['Flax cloth', 'Mudflat', 'Guild of the Estuary']) expect(printed, paper).not.toContain(is);
    }
    const card = await text(s, swatchAt);
    for (const [was, is] of [
      ['Linen, plain', 'Flax cloth'],
      ['Immersion, reactive', 'Long bath'],
      ['Estuary', 'Mudflat'],
      ['Tide blue', 'NB Navy'],
    ]) {
      expect(card).toContain(was);
      expect(card).toContain(`now called ${is}`);
    }
    expect((await s.api.get(swatchAt)).body).toMatchObject({
      recipeName: 'Estuary',
      namesNow: { recipeName: 'Mudflat' },
    });
    expect(await text(s, `${swatchAt}/card`)).toContain('Linen, plain');
    const touched = (await s.api.get(`/stock-lots/${s.w.stock.blue.id}/touched`)).body.orders;
    expect(touched).toMatchObject([
      { number: '2026-007', customerName: 'Weavers’ Guild', customerNameNow: 'Guild of the Estuary' },
      { number: '2026-007' },
    ]);
    expect(await text(s, `/stock/${s.w.stock.blue.id}/touched`)).toContain('now called Guild of the Estuary');
    sayNothingWrong(s);
  });

  test('of a lot on the bench are those of today', async () => {
    const s = await dyed();
    rename(s);
    expect(await text(s, `/lots/${s.lotId}`)).not.toContain('Linen, plain');
    expect(lineOf(await lotOf(s), 'NB').name).toBe('Navy');
    await finish(s);
    expect((await lotOf(s)).renamed).toEqual([]);
    expect((await s.api.get('/history')).body.lots[0]).toMatchObject({ customers: 'Guild of the Estuary' });
  });

  test('of what comes to a closed lot later, a jar and the person who adds it, are kept when they come', async () => {
    const s = await onBench();
    await weigh(s, 'RB', s.w.stock.blue.id, 12_000);
    await finish(s);
    const added = await s.api.post(`/lots/${s.lotId}/cost-lines`, {
      what: 'material',
      stockLotId: s.w.stock.red.id,
      quantity: 4800,
      reason: 'forgotten',
    });
    expect(added.status, added.text).toBe(201);
    const file = async () => (await s.page.get('/history/export.csv?rows=costLine&from=&to=')).text;
    const before = await file();
    expect(before).toContain('R-1,M-R-1');
    s.deps.sqlite.exec("update stock_lots set maker_lot = 'other' where code = 'R-1'");
    s.deps.sqlite.exec("update people set name = 'Ines M.'");
    s.deps.sqlite.exec("update dyes set code = 'XX' where code = 'RR'");
    expect(await file()).toBe(before);
    sayNothingWrong(s);
  });
});

describe('the day of the closing', () => {
  test('stays in its month when the studio moves to another zone: history, files, Costing, label', async () => {
    const s = await dyed();
    updateStudio(s.deps.db, { zone: 'Europe/Lisbon' }, theStudio(s.deps.db).version);
    // 23:30 on the last day of March in Lisbon (UTC+1), which is 11:30 on the first of April in Auckland.
    s.clock.now = Date.UTC(2026, 2, 31, 22, 30);
    await finish(s);
    const seen = async () => {
      const history = (await s.api.get('/history?from=2026-03-01&to=2026-03-31')).body;
      return {
        lots: history.lots.map((l: { finishedOn: string }) => l.finishedOn),
        sum: history.totals.lots,
        later: (await s.api.get('/history?from=2026-04-01&to=2027-12-31')).body.totals.lots,
        lot: cells((await s.page.get('/history/export.csv?rows=lot&from=2026-03-31&to=2026-03-31')).text)[1]?.[1],
        costLine: cells((await s.page.get('/history/export.csv?rows=costLine&from=2026-03-31&to=2026-03-31')).text)
          .slice(1)
          .map((c) => `${c[1]} ${c[2]}`),
        months: (await s.api.get('/costing?by=month')).body.groups.map((g: { key: string }) => g.key),
        label: (await text(s, `/lots/${s.lotId}/label`)).includes('31 Mar 2026'),
        page: (await text(s, `/lots/${s.lotId}`)).includes('31 Mar 2026'),
      };
    };
    const before = await seen();
    expect(before).toMatchObject({ lots: ['2026-03-31'], sum: 1, later: 0, lot: '2026-03-31', months: ['2026-03'] });
    expect(new Set(before.costLine)).toEqual(new Set(['2026-03-31 2026-03-31']));
    expect([before.label, before.page]).toEqual([true, true]);
    updateStudio(s.deps.db, { zone: 'Pacific/Auckland' }, theStudio(s.deps.db).version);
    expect(await seen()).toEqual(before);
    expect(await text(s, `/lots/${s.lotId}`)).toContain('times of Europe/Lisbon');
    expect(await text(s, `/lots/${s.lotId}/swatch`)).toContain('value="2026-03-31"');
    sayNothingWrong(s);
  });

  test('a lot of the first day is not one of the year before, whichever zone the studio goes to', async () => {
    const s = await dyed();
    updateStudio(s.deps.db, { zone: 'Pacific/Auckland' }, theStudio(s.deps.db).version);
    // 00:30 on 1 January in Auckland is 11:30 on 31 December UTC.
    s.clock.now = Date.UTC(2026, 11, 31, 11, 30);
    await finish(s);
    updateStudio(s.deps.db, { zone: 'America/Los_Angeles' }, theStudio(s.deps.db).version);
    expect((await s.api.get('/history?from=2026-01-01&to=2026-12-31')).body.totals.lots).toBe(0);
    expect((await s.api.get('/history?from=2027-01-01&to=2027-01-01')).body.totals.lots).toBe(1);
  });
});

describe('what was judged', () => {
  test('stays: when it was ready, and whether a reading was within the tolerance of its day', async () => {
    const s = await dyed({ blue: 12_200 });
    await finish(s);
    const before = await lotOf(s);
    expect(before.readyAt).not.toBeNull();
    s.clock.now += 40 * 86_400_000;
    updateStudio(s.deps.db, { weighingTolerancePpm: 1000 }, theStudio(s.deps.db).version);
    expect(await lotOf(s)).toEqual(before);
    updateStudio(s.deps.db, { weighingTolerancePpm: 200_000 }, theStudio(s.deps.db).version);
    expect(await lotOf(s)).toEqual(before);
  });

  test('its shade was judged by the card as it was read then, and a new reading of the card is told beside that', async () => {
    const s = await dyed();
    const { sqlite } = s.deps;
    const swatch = await s.page.post('/swatches', {
      code: 'STD',
      name: 'Standard',
      revisionId: String(s.w.revisionId),
      depth: '2',
      fibreId: String(s.w.linenId),
      methodId: String(s.w.methodId),
      dyedOn: '2026-03-10',
      'colour.0': '40 0 0',
      readingSource: 'instrument',
      illuminant: 'D65',
      observer: '10',
    });
    expect(swatch.status, swatch.text).toBe(303);
    const swatchId = Number(swatch.headers['location']?.split('/').at(-1));
    const planned = await s.api.post('/lots', {
      fibreId: s.w.linenId,
      methodId: s.w.methodId,
      goodsText: 'more napkins',
      pieces: null,
      goodsOwner: 'studio',
      mass: { found: 'weighedDry', massMg: 600_000 },
      coverage: 'eachOverAll',
      colours: [{ revisionId: s.w.revisionId, swatchId, depthPpm: 20_000 }],
      orderLines: [],
    });
    expect(planned.status, planned.text).toBe(201);
    const other: Dyed = { ...s, lotId: planned.body.lotId };
    await weigh(other, 'RB', s.w.stock.blue.id, 6000);
    await finish(other);
    const read = (what: string, colour: string) =>
      s.page.post(`/${what}/readings`, {
        'colour.0': colour,
        readingSource: 'instrument',
        illuminant: 'D65',
        observer: '10',
      });
    s.clock.now += 60_000;
    await read(`lots/${other.lotId}`, '41 0 0');
    const judged = /CIEDE2000 [\d.]+ from swatch STD/.exec(await text(s, `/lots/${other.lotId}`))?.[0];
    expect(judged).toBeDefined();
    s.clock.now += 60_000;
    await read(`swatches/${swatchId}`, '60 0 0');
    const later = await text(s, `/lots/${other.lotId}`);
    expect(later).toContain(judged);
    expect(later).toContain('Its card has been read anew since; by that, CIEDE2000');
    sqlite.exec(`update colour_readings set withdrawn_at = ${s.clock.now + 1} where swatch_id = ${swatchId}`);
    expect(await text(s, `/lots/${other.lotId}`)).toContain('withdrawn since');
  });

  test('what had been agreed for its lines keeps their shares of the cost and the tolerance of the shade', async () => {
    const s = await dyed();
    await finish(s);
    const shares = async (): Promise<number[]> =>
      (await s.api.get(`/orders/${s.orderId}/quote?basis=markup&pct=50`)).body.lines.map(
        (l: { costMinor: number }) => l.costMinor,
      );
    const before = await shares();
    // 300 and 900 g of 6852: a quarter, and the rest.
    expect(before).toEqual([1713, 5139]);
    expect(await text(s, `/lots/${s.lotId}`)).toContain('tolerance CIEDE2000 1.5');
    s.deps.sqlite.exec('update order_lines set dry_mass_mg = 600000, tolerance_milli = 100, description = description');
    expect(await shares()).toEqual(before);
    expect(await text(s, `/lots/${s.lotId}`)).toContain('tolerance CIEDE2000 1.5');
    // The order goes to another customer: the lot was dyed for the guild, and its cost stays with the guild.
    s.deps.sqlite.exec(
      "insert into customers (name) values ('Café'); update orders set customer_id = (select max(id) from customers)",
    );
    expect((await s.api.get('/costing?by=customer')).body.groups).toMatchObject([{ label: 'Weavers’ Guild' }]);
    expect((await s.api.get(`/history?customerId=${s.customerId}`)).body.totals.lots).toBe(1);
  });
});

async function takeWayOut(s: Dyed, componentId: number, way: 'moreGoods' | 'deeper'): Promise<void> {
  const { waysOut } = (await s.api.get(`/lots/${s.lotId}/ways-out/${componentId}`)).body;
  const { confirmed } = waysOut.find((w: { way: string }) => w.way === way);
  const sent = { componentId, way, confirmed, clientId: clientId() };
  expect((await s.api.post(`/lots/${s.lotId}/adjustments`, sent)).body.question ?? null).toBeNull();
}

describe('what was really dyed', () => {
  test('a deeper shade is told at its depth wherever the lot stands, the plan beside it', async () => {
    const s = await onBench();
    await weigh(s, 'RB', s.w.stock.blue.id, 12_480);
    const { componentId } = lineOf(await lotOf(s), 'RB');
    await takeWayOut(s, componentId, 'deeper');
    await weigh(s, 'RY', s.w.stock.yellow.id, 7490);
    await weigh(s, 'RR', s.w.stock.red.id, 4990);
    await finish(s);
    // (12.48 + 7.49 + 4.99) g / 24.00 g · 2 % = 2.08 %
    expect((await lotOf(s)).colours[0]).toMatchObject({
      depthPpm: 20_000,
      dyedDepthPpm: 20_800,
      correctedDepthPpm: null,
    });
    const page = await text(s, `/lots/${s.lotId}`);
    expect(page).toContain('at 2.08 %');
    expect(page).toContain('planned 2 %');
    expect(await text(s, `/lots/${s.lotId}/label`)).toContain('2.08 %');
    expect(await text(s, `/lots/${s.lotId}/swatch`)).toContain('Estuary at 2.08 %');
    expect(await text(s, `/recipes/${s.w.recipeId}`)).toContain('at 2.08 %');
    expect(await text(s, `/costing/shades/${s.w.recipeId}`)).toContain('at 2.08 % (planned 2 %)');
    expect((await s.api.get(`/costing/shades/${s.w.recipeId}`)).body.lots).toMatchObject([
      { depthPpm: 20_000, dyedDepthPpm: 20_800 },
    ]);
  });

  test('more goods are the goods of history, files and Costing alike, so that a kilogram costs the same in all', async () => {
    const s = await onBench();
    await weigh(s, 'RB', s.w.stock.blue.id, 14_400);
    const { componentId } = lineOf(await lotOf(s), 'RB');
    await takeWayOut(s, componentId, 'moreGoods');
    await finish(s);
    // 1.2 kg · 14.4 / 12 = 1.44 kg.
    const file = cells((await s.page.get('/history/export.csv?rows=lot&from=&to=&columns=lot,dry_mass_g')).text);
    expect(file[1]).toEqual([(await lotOf(s)).number, '1440']);
    expect((await s.api.get('/history')).body.lots[0].dryMassMg).toBe(1_440_000);
    expect((await s.api.get('/costing?by=lot')).body.groups[0].dryMassMg).toBe(1_440_000);
    expect((await s.api.get('/lots')).body.lots[0].dryMassMg).toBe(1_440_000);
    const page = await text(s, `/lots/${s.lotId}`);
    expect(page).toContain('1.44 kg');
    expect(page).toContain('planned 1.2');
    sayNothingWrong(s);
  });
});

describe('a correction of the books', () => {
  test('of a dye is told where the figure stands: weigh-up, depth, and a swatch made before it', async () => {
    const s = await dyed();
    await finish(s);
    const lot = await lotOf(s);
    const swatch = await s.page.post(`/lots/${s.lotId}/swatch`, {
      code: 'S-9',
      name: 'Off the lot',
      lotColourId: String(lot.colours[0]?.lotColourId),
      dyedOn: '2026-03-16',
      readingSource: 'typed',
      illuminant: 'D65',
      observer: '10',
    });
    const swatchAt = swatch.headers['location'] as string;
    expect((await s.api.get(swatchAt)).body).toMatchObject({ depthPpm: 20_000, correctedDepthPpm: null });
    const blue = lot.costLines.find((c) => c.description.startsWith('RB'));
    expect((await correct(s, blue, 9600)).status).toBe(201);
    // (9.60 + 7.20 + 4.80) / 24.00 · 2 % = 1.8 %
    const after = await lotOf(s);
    expect(lineOf(after, 'RB')).toMatchObject({ actual: 12_000, corrected: 9600 });
    expect(lineOf(after, 'RY')).toMatchObject({ actual: 7200, corrected: null });
    expect(after.colours[0]).toMatchObject({ depthPpm: 20_000, dyedDepthPpm: 20_000, correctedDepthPpm: 18_000 });
    const page = await text(s, `/lots/${s.lotId}`);
    expect(page).toContain('9.60 g');
    expect(page).toContain('12.00 g by the scale');
    expect(page).toContain('at 1.8 %');
    expect(page).toContain('2 % by the scale');
    const card = await text(s, swatchAt);
    expect(card).toContain('now say <b>1.8 %</b>');
    expect(card).toContain('keeps 2 %');
    expect((await s.api.get(swatchAt)).body).toMatchObject({ depthPpm: 20_000, correctedDepthPpm: 18_000 });
    // A swatch that is made now is made at the depth that stands.
    expect(await text(s, `/lots/${s.lotId}/swatch`)).toContain('at 1.8 %');
    sayNothingWrong(s);
  });

  test('a dye that was forgotten counts too, at the strength that its jar had then', async () => {
    const s = await onBench();
    await setStrength(s, s.w.stock.red.id, 1_250_000);
    await weigh(s, 'RB', s.w.stock.blue.id, 12_000);
    await weigh(s, 'RY', s.w.stock.yellow.id, 7200);
    await finish(s);
    await s.api.post(`/lots/${s.lotId}/cost-lines`, {
      what: 'material',
      stockLotId: s.w.stock.red.id,
      quantity: 3840,
      reason: 'weighed on the other scale',
    });
    s.clock.now += 60_000;
    await setStrength(s, s.w.stock.red.id, 500_000);
    // 3.84 g at 125 % is the 4.80 g of the plan.
    const lot = await lotOf(s);
    expect(lineOf(lot, 'RR')).toMatchObject({ actual: null, corrected: 4800 });
    expect(lot.colours[0]).toMatchObject({ correctedDepthPpm: 20_000 });
    expect(await text(s, `/lots/${s.lotId}`)).toContain('not weighed');
  });
});
