import readXlsx from 'read-excel-file/node';
import { describe, expect, test } from 'vitest';
import { orderLines } from '../../server/db/tables/orders.ts';
import { costLineColumns, lotColumns, moneyWriter, thousandths } from '../../server/exports/columns.ts';
import { declaredRoutes } from '../../server/people/guards.ts';
import { insertPerson } from '../../server/people/queries.ts';
import { openSignIn } from '../../server/people/signIn.ts';
import { theStudio, updateStudio } from '../../server/settings/queries.ts';
import { freshStudio, MONDAY } from '../support/app.ts';
import { lotWorld, writeLot } from '../support/finishedLots.ts';
import { readPage } from '../support/readPage.ts';

/* What the owner and the accountant would lose if one small thing on the pages of the books went wrong: a condition that is gone on
 * the next page, a file without its name, a figure that opens to other lines. A lot costs yellow 1.07, blue 0.66, soda ash 0.10,
 * labour 27.00 and overhead 9.00: 37.83. */

const DAY = 86_400_000;
const at = (iso: string): number => Date.parse(iso);

async function books() {
  const studio = await freshStudio();
  const world = lotWorld(studio.deps, studio.owner);
  studio.clock.now += DAY;
  const lotId = writeLot(world, { number: '26-0001', finishedAt: studio.clock.now });
  const read = async (path: string) => {
    const answer = await studio.page.get(path);
    return { status: answer.status, ...readPage(answer.text), text: answer.text.replace(/\s+/g, ' ') };
  };
  const send = async (path: string, form: Record<string, string>) => {
    const answer = await studio.page.post(path, form);
    return { status: answer.status, location: answer.headers['location'] ?? '', ...readPage(answer.text) };
  };
  const lineIds = studio.deps.sqlite
    .prepare('select id from cost_lines where lot_id = ? order by ordinal')
    .pluck()
    .all(lotId) as number[];
  const recipeId = studio.deps.sqlite.prepare('select id from recipes').pluck().get() as number;
  return { ...studio, world, lotId, lineIds, recipeId, read, send };
}
const asked = (href: string | undefined): Record<string, string> =>
  Object.fromEntries(new URLSearchParams(href?.split('?')[1]));

test('every page of the books has a name in the tab and a head, and the navigation says where one is', async () => {
  const s = await books();
  const saved = (await s.api.post('/exports/saved', { name: 'month' })).body.savedExportId as number;
  const urls = declaredRoutes(s.app)
    .filter(
      ({ method, url }) =>
        method.includes('GET') &&
        /^\/(costing|history|exports|orders\/:id\/quote)(\/|$)/.test(url) &&
        !/file\.|export\./.test(url),
    )
    .map(({ url }) => url);
  expect(urls.length).toBeGreaterThan(12);
  for (const url of urls) {
    const id = /exports/.test(url)
      ? saved
      : /lines/.test(url)
        ? s.lineIds[0]
        : /orders/.test(url)
          ? s.world.orderId
          : /shades/.test(url)
            ? s.recipeId
            : s.lotId;
    const shown = await s.read(url.replace(':id', String(id)) + (url === '/costing/lines' ? '?by=lot' : ''));
    expect([url, shown.status]).toEqual([url, 200]);
    expect(shown.title, url).toMatch(/^[A-Z].* · Test Works$/);
    expect(shown.heading, url).not.toBe('');
    const section = url.endsWith('paper')
      ? null
      : url.startsWith('/orders')
        ? '/orders'
        : url.startsWith('/costing')
          ? '/costing'
          : '/history';
    expect([url, shown.section]).toEqual([url, section]);
    if (url.startsWith('/orders')) expect(shown.title).toContain('O-1');
    if (url === '/costing/lots/:id') expect(shown.title).toContain('26-0001');
    if (url === '/costing/shades/:id') expect(shown.title).toContain('Leaf');
    if (url === '/exports/:id/edit') expect(shown.title).toContain('month');
  }
});

describe('a form of the books', () => {
  test('opens with what stands, exactly and as one would type it', async () => {
    const s = await books();
    const typed = async (path: string) => (await s.read(path)).typed;
    const lineOf = (kind: string, unit: string, quantity: number, perQuantity: number): number => {
      s.clock.now += 1;
      return s.deps.sqlite
        .prepare(
          `insert into cost_lines (lot_id, ordinal, kind, description, quantity, quantity_unit, price_minor, per_quantity, cost_minor, written_at, written_by, reason, added)
          values (?, (select max(ordinal) + 1 from cost_lines), ?, 'x', ?, ?, 5, ?, 5, ?, 1, 'late', 1) returning id`,
        )
        .pluck()
        .get(s.lotId, kind, quantity, unit, perQuantity, s.clock.now) as number;
    };
    const stands = async (id: number | undefined) => {
      const { stands: which, quantity, perQuantity, price } = await typed(`/costing/lines/${id}/correction/new`);
      expect(which).toBe('line');
      return [quantity, price, perQuantity];
    };
    expect(await stands(s.lineIds[0])).toEqual(['12.6 g', '42.50', '500 g']);
    expect(await stands(s.lineIds[3])).toEqual(['1 h 30 min', '18.00', '1 h']);
    expect(await stands(lineOf('auxiliary', 'ul', 12_345, 1_000_000))).toEqual(['12.345 mL', '0.05', '1000 mL']);
    expect(await stands(lineOf('labour', 's', 61, 3_600))).toEqual(['61 s', '0.05', '1 h']);
    expect(await stands(lineOf('other', 'piece', 3, 1))).toEqual(['3', '0.05', '1']);

    const id = expect.stringMatching(/^[\w-]{36}$/);
    const added = (what: string) => typed(`/costing/lots/${s.lotId}/additions/new${what}`);
    expect(await added('')).toMatchObject({ what: 'material', clientId: id, stockLotId: '' });
    expect(await added('?what=nothing')).toMatchObject({ what: 'material' });
    for (const what of ['labour', 'overhead', 'other', 'credit'])
      expect(await added(`?what=${what}`)).toMatchObject({ what, clientId: id });

    expect(await typed(`/orders/${s.world.orderId}/quote`)).toEqual({
      basis: 'markup',
      pct: '60',
      setUp: '',
      minimum: '',
    });
    expect(await typed('/exports/new')).toMatchObject({ rows: 'lot', format: 'xlsx', span: 'lastMonth', version: '1' });
    expect(await typed('/exports/new?rows=costLine&span=fixed&from=2026-01-01')).toMatchObject({
      rows: 'costLine',
      span: 'fixed',
      from: '2026-01-01',
    });
    expect((await s.read('/exports/new')).heading).toBe('Save an export');
    expect(await typed(`/costing/lots/${s.lotId}`)).toMatchObject({ ofNumber: '' });
  });

  test('offers every container by what it holds, and everybody with what an hour of theirs costs', async () => {
    const s = await books();
    updateStudio(
      s.deps.db,
      { labourRateMinorPerHour: 2_400, overheadRateMinorPerHour: 900 },
      theStudio(s.deps.db).version,
    );
    await s.api.post('/stock-lots', {
      fibreId: s.world.fibreId,
      quantity: 5_000_000,
      priceMinor: 1,
      receivedOn: '2026-03-16',
    });
    const form = (what: string) => s.read(`/costing/lots/${s.lotId}/additions/new?what=${what}`);
    const material = await form('material');
    expect(material.options['stockLotId']).toEqual([
      'Choose a container',
      'Goods: LINEN-1 · Linen, natural',
      'Dyes: B1-A · Blue',
      'Dyes: Y1-A · Yellow',
      'Auxiliaries: SODA-A · Soda ash',
    ]);
    expect(material.text).toContain('what was paid for that container');
    expect(material.options['personId']).toBeUndefined();
    const labour = await form('labour');
    expect(labour.options['personId']?.sort()).toEqual([
      'Choose a person',
      'Inês, €24.00 an hour',
      'Rui, €18.00 an hour',
    ]);
    expect(labour.text).toContain('With overhead for the same time, €9.00 an hour');
    expect(labour.typed['withOverhead']).toBe('yes');
    updateStudio(s.deps.db, { costing: 'movingAverage' }, theStudio(s.deps.db).version);
    expect((await form('material')).text).toContain('what the moving average was');
  });

  test('that is refused is the same form with what was typed, and the words stand beside the field', async () => {
    const s = await books();
    await s.api.post('/exports/saved', { name: 'month' });
    const soda = String(s.world.stockLotIds.soda);
    const lot = `/costing/lots/${s.lotId}`;
    const long = 'x'.repeat(301);
    const forms = [
      [
        `${lot}/additions`,
        'Add a forgotten cost',
        { what: 'material', quantity: '5 mL', stockLotId: soda, reason: 'x' },
        ['quantity'],
      ],
      [
        `${lot}/additions`,
        'Add a forgotten cost',
        { what: 'material', reason: long },
        ['quantity: How much was it?', 'reason: At most 300 characters.', 'stockLotId: From which container?'],
      ],
      [
        `${lot}/additions`,
        'Add a forgotten cost',
        { what: 'labour', rate: 'much', reason: '' },
        ['duration: How long was it?', 'personId: Whose time was it?', 'rate', 'reason: Say why, for the books.'],
      ],
      [`${lot}/additions`, 'Add a forgotten cost', { what: 'overhead', duration: '5 kg', reason: 'x' }, ['duration']],
      [
        `${lot}/additions`,
        'Add a forgotten cost',
        { what: 'other', reason: 'x' },
        ['cost: What it cost.', 'description: Say what it was for.'],
      ],
      [
        `${lot}/additions`,
        'Add a forgotten cost',
        { what: 'credit', reason: 'x' },
        ['amount: How much was it?', 'description: Say what it was for.', 'to: Who gets the money?'],
      ],
      [
        `/costing/lines/${s.lineIds[0]}/correction`,
        'Correct a cost line',
        { stands: 'line', quantity: '5 mL', price: '' },
        [
          'perQuantity: How much was it?',
          'price: What it costs; 0 for nothing.',
          'quantity',
          'reason: Say why, for the books.',
        ],
      ],
      [
        `/costing/lines/${s.lineIds[3]}/correction`,
        'Correct a cost line',
        { stands: 'line', quantity: '', price: '5', perQuantity: '1 h', reason: 'x' },
        ['quantity: How long was it?'],
      ],
      [
        `/costing/lines/${s.lineIds[0]}/correction`,
        'Correct a cost line',
        { stands: 'nothing', reason: ' ' },
        ['reason: Say why, for the books.'],
      ],
      [`${lot}/rework`, 'Cost of lot 26-0001', { ofNumber: '26-9999' }, ['ofNumber: There is no lot 26-9999.']],
      ['/exports', 'Save an export', { name: '', rows: 'lot', format: 'csv', span: 'lastMonth' }, ['name']],
      [
        '/exports',
        'Save an export',
        { name: 'x', rows: 'lot', format: 'csv', span: 'fixed', from: '2026-03-02', to: '2026-03-01' },
        ['to: The last day lies before the first.'],
      ],
      [
        '/exports/1',
        'Change an export',
        { name: 'x', rows: 'lot', format: 'csv', span: 'lastMonth', order: 'O-9', version: '1' },
        ['order: There is no order O-9.'],
      ],
    ] as const;
    for (const [path, heading, form, fields] of forms) {
      const again = await s.send(path, form);
      expect([path, again.status, again.heading]).toEqual([path, 422, heading]);
      expect(Object.keys(again.errors).sort()).toEqual(fields.map((f) => f.split(': ')[0]));
      for (const said of fields.filter((f) => f.includes(': ')))
        expect(again.errors[said.slice(0, said.indexOf(': '))]).toBe(said.slice(said.indexOf(': ') + 2));
      for (const words of Object.values(again.errors)) expect(words).not.toBe('');
      for (const [name, typed] of Object.entries(form)) expect([name, again.typed[name]]).toEqual([name, typed]);
    }
    const stale = { name: 'x', rows: 'lot', format: 'csv', span: 'lastMonth', version: '9' };
    expect((await s.send('/exports/1', stale)).status).toBe(409);
    expect((await s.send('/exports/9', stale)).status).toBe(404);
  });

  test('leads on to where what it wrote is seen', async () => {
    const s = await books();
    const lot = `/costing/lots/${s.lotId}`;
    const other = writeLot(s.world, { number: '26-0002', finishedAt: s.clock.now, outcome: { rework: 2 } });
    const [yellow, blue, , labour] = s.lineIds;
    const wine = (await s.api.post('/auxiliaries', { code: 'AC', name: 'Vinegar', form: 'liquid' })).body.auxiliaryId;
    const bottle = (
      await s.api.post('/stock-lots', {
        auxiliaryId: wine,
        quantity: 1_000_000,
        priceMinor: 300,
        receivedOn: '2026-03-16',
      })
    ).body.stockLotId as number;
    s.clock.now += DAY;
    const right = { stands: 'line', quantity: '10 g', price: '42.50', perQuantity: '500 g', reason: 'misread' };
    for (const [path, form, to] of [
      [
        `${lot}/additions`,
        { what: 'material', stockLotId: String(bottle), quantity: '50 mL', reason: 'forgotten' },
        `${lot}#lines`,
      ],
      [
        `${lot}/additions`,
        {
          what: 'material',
          stockLotId: String(s.world.stockLotIds.yellow),
          quantity: '2 g',
          wasted: 'yes',
          reason: 'forgotten',
        },
        `${lot}#lines`,
      ],
      [
        `${lot}/additions`,
        { what: 'labour', personId: '1', duration: '30 min', rate: '20', reason: 'forgotten' },
        `${lot}#lines`,
      ],
      [`${lot}/additions`, { what: 'overhead', duration: '30 min', rate: '6', reason: 'forgotten' }, `${lot}#lines`],
      [`${lot}/additions`, { what: 'other', description: 'bus', cost: '5', reason: 'forgotten' }, `${lot}#lines`],
      [
        `${lot}/additions`,
        { what: 'credit', to: 'customer', description: 'stain', amount: '3', reason: 'forgotten' },
        `${lot}#lines`,
      ],
      [`/costing/lines/${yellow}/correction`, right, `${lot}#lines`],
      [`/costing/lines/${blue}/correction`, { stands: 'nothing', reason: 'misread' }, `${lot}#lines`],
      [
        `/costing/lines/${labour}/correction`,
        { stands: 'line', quantity: '1 h', price: '18', perQuantity: '1 h', reason: 'misread' },
        `${lot}#lines`,
      ],
      [`${lot}/rework`, { ofNumber: '26-0002' }, `${lot}#rework`],
      [
        '/exports',
        {
          name: 'x',
          rows: 'costLine',
          format: 'csv',
          span: 'fixed',
          from: '2026-01-01',
          to: '',
          'costLine.column.lot': 'yes',
          'costLine.column.cost': 'yes',
          'costLine.column.kind': 'no',
          'lot.column.lot': 'yes',
        },
        '/exports',
      ],
      ['/exports/1', { name: 'y', rows: 'lot', format: 'xlsx', span: 'everything', version: '1' }, '/exports'],
    ] as const)
      expect([path, await s.send(path, form)]).toMatchObject([path, { status: 303, location: to }]);
    const written = s.deps.sqlite
      .prepare(
        'select kind, quantity, cost_minor, wasted from cost_lines where lot_id = ? and (added = 1 or corrects_id is not null) order by ordinal',
      )
      .raw()
      .all(s.lotId);
    expect(written).toEqual([
      // 50 mL of a litre for 3.00; 2 g of 500 g for 42.50.
      ['auxiliary', 50_000, 15, 0],
      ['dye', 2_000, 17, 1],
      ['labour', 1_800, 1_000, 0],
      ['overhead', 1_800, 300, 0],
      ['other', 1, 500, 0],
      ['other', 1, 300, 0],
      ['dye', -12_600, -107, 0],
      ['dye', 10_000, 85, 0],
      ['dye', -4_200, -66, 0],
      ['labour', -5_400, -2_700, 0],
      ['labour', 3_600, 1_800, 0],
    ]);
    const csv = (await s.page.get('/history/export.csv?rows=costLine&columns=quantity,wasted,correction,reason')).text;
    expect(csv).toContain('\r\n2,yes,addition,forgotten\r\n');
    expect(csv).toContain('\r\n50,no,addition,forgotten\r\n');
    expect((await s.read(lot)).typed['ofNumber']).toBe('26-0002');
    expect((await s.read(lot)).links).toContain(`/costing/lots/${other}`);
    expect((await s.api.get('/exports/saved')).body.savedExports).toMatchObject([
      { name: 'y', rows: 'lot', format: 'xlsx', span: 'everything', from: null, to: null, columns: [], version: 2 },
    ]);
  });

  test('of a lot that is open, or of none, is not shown', async () => {
    const s = await books();
    const open = writeLot(s.world, { number: '26-0009', finishedAt: s.clock.now }, true);
    const status = async (path: string) => (await s.page.get(path)).status;
    expect([await status(`/costing/lots/${open}`), await status('/costing/lots/999')]).toEqual([404, 404]);
    expect([
      await status(`/costing/lots/${open}/additions/new`),
      await status('/costing/lots/999/additions/new'),
    ]).toEqual([409, 404]);
    expect([await status('/costing/lines/999/correction/new'), await status('/costing/shades/999')]).toEqual([
      404, 404,
    ]);
    expect([await status('/orders/999/quote'), await status('/orders/999/quote/paper')]).toEqual([404, 404]);
    expect([await status('/exports/999/edit'), await status('/exports/999/file.csv')]).toEqual([404, 404]);
    expect((await s.page.post('/exports/999/removal')).status).toBe(404);
  });
});

test('what somebody may not do in the books is not offered to them', async () => {
  const s = await books();
  await s.api.post('/exports/saved', { name: 'month' });
  const as = async (role: 'owner' | 'dyer' | 'viewer') => {
    const personId =
      role === 'owner'
        ? s.owner.personId
        : insertPerson(s.deps.db, {
            name: role,
            role,
            passphraseHash: null,
            labourRateMinorPerHour: null,
            active: 1,
            createdAt: MONDAY,
          }).id;
    const headers = { cookie: `studio=${openSignIn(s.deps, personId, 'test')}` };
    const body = async (url: string) => (await s.app.inject({ url, headers })).body;
    const shown = (await body(`/costing/lots/${s.lotId}`)) + (await body('/exports'));
    return ['additions/new', 'correction/new', '/rework"', '/edit"'].filter((words) => shown.includes(words));
  };
  expect(await as('owner')).toEqual(['additions/new', 'correction/new', '/rework"', '/edit"']);
  expect(await as('dyer')).toEqual(['/rework"', '/edit"']);
  expect(await as('viewer')).toEqual([]);
});

describe('conditions', () => {
  test('go on from view to view, and from the sums to their lines', async () => {
    const s = await books();
    const conditions = {
      from: '2026-03-01',
      to: '2026-03-31',
      order: 'O-1',
      customerId: String(s.world.customerId),
      methodId: String(s.world.methodId),
      fibreId: String(s.world.fibreId),
    };
    const query = String(new URLSearchParams(conditions));
    const costing = await s.read(`/costing?${query}&by=customer`);
    expect(costing.typed).toMatchObject({ ...conditions, by: 'customer' });
    const tabs = costing.links.filter((l) => l.startsWith('/costing?') && !l.includes('from=2025'));
    expect(tabs.slice(0, 7).map(asked)).toEqual(
      ['lot', 'order', 'customer', 'shade', 'method', 'fibre', 'month'].map((by) => ({ ...conditions, by })),
    );
    const ranges = costing.links
      .filter((l) => l.startsWith('/costing?'))
      .slice(7, 13)
      .map(asked);
    // It is the 17th of March 2026.
    expect(ranges.map((r) => [r['from'], r['to'], r['by'], r['order']])).toEqual([
      ['2025-04-01', '2026-03-31', 'customer', 'O-1'],
      ['2026-03-01', '2026-03-31', 'customer', 'O-1'],
      ['2026-02-01', '2026-02-28', 'customer', 'O-1'],
      ['2026-01-01', '2026-12-31', 'customer', 'O-1'],
      ['2025-01-01', '2025-12-31', 'customer', 'O-1'],
      ['', '', 'customer', 'O-1'],
    ]);
    expect(costing.text).toMatch(/aria-current="true"[^>]*>this month</);
    expect(costing.text.match(/aria-current="true"/g)).toHaveLength(1);
    const lines = costing.links.filter((l) => l.startsWith('/costing/lines?'));
    expect(asked(lines[0])).toEqual({ ...conditions, by: 'customer', of: String(s.world.customerId), kind: 'dye' });
    expect(asked(lines.at(-1))).toEqual({ ...conditions, by: 'customer' });
    expect(costing.links).toContain(`/customers/${s.world.customerId}`);
    // Of nothing typed it is the twelve months that end with this one.
    expect((await s.read('/costing')).typed).toMatchObject({ from: '2025-04-01', to: '2026-03-31', by: 'shade' });
    expect((await s.read('/costing?from=&to=')).typed).toMatchObject({ from: '', to: '' });
    expect((await s.read('/costing?to=2026-01-31')).typed).toMatchObject({ from: '', to: '2026-01-31' });

    const history = await s.read(`/history?${query}`);
    expect(history.typed).toMatchObject(conditions);
    const files = history.links.filter((l) => l.startsWith('/history/export'));
    expect(files.map((l) => [l.split('?')[0], asked(l)])).toEqual([
      ['/history/export.csv', { ...conditions, rows: 'lot' }],
      ['/history/export.csv', { ...conditions, rows: 'costLine' }],
      ['/history/export.xlsx', { ...conditions, rows: 'lot' }],
      ['/history/export.xlsx', { ...conditions, rows: 'costLine' }],
    ]);
    expect(asked(history.links.find((l) => l.startsWith('/exports/new')))).toEqual({ ...conditions, span: 'fixed' });
    expect((await s.read('/history')).typed).toMatchObject({ from: '2026-03-01', to: '2026-03-31' });
    const open = await s.read('/history?from=&to=');
    expect(asked(open.links.find((l) => l.startsWith('/history/export')))).toEqual({ rows: 'lot' });
    expect(open.links).toContain('/history?from=&to=');
    expect(open.options['customerId']).toEqual(['any', 'Café Foz']);
    expect(open.options['methodId']).toEqual(['any', 'Immersion, warm']);
    expect(open.options['fibreId']).toEqual(['any', 'Linen, natural']);
    expect(costing.options).toMatchObject({
      customerId: ['any', 'Café Foz'],
      methodId: ['any', 'Immersion, warm'],
      fibreId: ['any', 'Linen, natural'],
    });
    expect((await s.read('/exports/new')).options).toMatchObject({
      customerId: ['any', 'Café Foz'],
      methodId: ['any', 'Immersion, warm'],
      fibreId: ['any', 'Linen, natural'],
    });
  });

  test.each(['/costing', '/history'])(
    'that cannot be found on %s are told beside their field, and nothing is summed',
    async (path) => {
      const s = await books();
      const wrong = await s.read(`${path}?from=2026-03-02&to=2026-03-01`);
      expect([wrong.status, wrong.errors]).toEqual([422, { to: 'The last day lies before the first.' }]);
      const none = await s.read(`${path}?from=&to=&order=O-9`);
      expect([none.status, none.errors, none.typed['order']]).toEqual([
        422,
        { order: 'There is no order O-9.' },
        'O-9',
      ]);
      for (const shown of [wrong, none]) {
        expect(shown.text).not.toContain('€37.83');
        expect(shown.text).not.toContain('id="sums"');
      }
      expect((await s.api.get(`${path}?from=&to=&order=O-9`)).body.fields).toEqual({ order: 'There is no order O-9.' });
      expect((await s.api.get(`${path}?from=&to=&order=o-1`)).status).toBe(200);
    },
  );
});

test('groups have their own page and name, and what is in none says so', async () => {
  const s = await books();
  writeLot(s.world, { number: '26-0002', finishedAt: s.clock.now - DAY, orderLineIds: [] });
  const { lotId, world, recipeId } = s;
  const first = async (by: string) => {
    const page = await s.read(`/costing?from=&to=&by=${by}`);
    const [table = ''] = page.text.split('<tfoot>');
    const heads = [...table.matchAll(/<tr> ?<th scope="row">(?:<a href="([^"]*)">)?([^<]*)/g)].map(
      ([, href, label]) => [label?.trim(), href],
    );
    const api = (await s.api.get(`/costing?by=${by}`)).body.groups as { label: string; labelNow: string }[];
    expect(api.map((g) => g.label)).toEqual(heads.map(([label]) => label));
    expect(api.map((g) => g.labelNow)).toEqual(heads.map(([label]) => label));
    return heads;
  };
  expect((await first('lot'))[0]).toEqual(['26-0001', `/costing/lots/${lotId}`]);
  expect(await first('order')).toEqual([
    ['O-1, Café Foz', `/orders/${world.orderId}`],
    ['for no order', undefined],
  ]);
  expect(await first('customer')).toEqual([
    ['Café Foz', `/customers/${world.customerId}`],
    ['for no customer', undefined],
  ]);
  expect(await first('shade')).toEqual([['Leaf', `/costing/shades/${recipeId}`]]);
  expect(await first('method')).toEqual([['Immersion, warm', `/methods/${world.methodId}`]]);
  expect(await first('fibre')).toEqual([['Linen, natural', `/fibres/${world.fibreId}`]]);
  expect(await first('month')).toEqual([['March 2026', undefined]]);
  s.deps.sqlite.exec("update customers set name = 'Café Mar'");
  const renamed = await s.read('/costing?from=&to=&by=customer');
  expect(renamed.text).toMatch(/Café Foz<\/a>[^€]*now called Café Mar/);
});

test('a figure opens to its own lines, kind by kind', async () => {
  const s = await books();
  const lines = async (query: string) => {
    const { status, heading, text } = await s.read(`/costing/lines?${query}`);
    const rows = [...text.matchAll(/<tr id="line-/g)].length;
    return [status, heading, rows, /Together <b class="big-number">([^<]*)/.exec(text)?.[1]];
  };
  expect(await lines('by=lot')).toEqual([200, 'Cost: All lots', 5, '€37.83']);
  const of = `by=shade&of=${s.recipeId}`;
  expect(await lines(of)).toEqual([200, 'Cost: Leaf', 5, '€37.83']);
  expect(await lines(`${of}&kind=dye`)).toEqual([200, 'Dye: Leaf', 2, '€1.73']);
  expect(await lines(`${of}&kind=auxiliary`)).toEqual([200, 'Auxiliaries: Leaf', 1, '€0.10']);
  expect(await lines(`${of}&kind=labour`)).toEqual([200, 'Labour: Leaf', 1, '€27.00']);
  expect(await lines(`${of}&kind=overhead`)).toEqual([200, 'Overhead: Leaf', 1, '€9.00']);
  // No lot has any.
  expect(await lines(`${of}&kind=goods`)).toEqual([200, 'Goods: Leaf', 0, '€0.00']);
  expect(await lines(`${of}&kind=other`)).toEqual([200, 'Other: Leaf', 0, '€0.00']);
  expect(await lines('by=month&of=2026-03')).toEqual([200, 'Cost: March 2026', 5, '€37.83']);
  expect((await s.page.get('/costing/lines?by=shade&of=999')).status).toBe(404);
  // The lot, with what its plan foresaw; of one kind no plan is told.
  const { text, links } = await s.read(`/costing/lines?${of}&from=2026-03-01`);
  expect(text).toContain('where their plans foresaw €40.00');
  expect(text).toContain('24 napkins');
  expect((await s.read(`/costing/lines?${of}&kind=dye`)).text).not.toContain('foresaw');
  expect(asked(links.find((l) => l.startsWith('/costing?')))).toEqual({ from: '2026-03-01', to: '', by: 'shade' });
});

test('a lot that others share opens to the part that was asked for', async () => {
  const s = await books();
  const guild = s.deps.sqlite
    .prepare("insert into customers (name) values ('Guild') returning id")
    .pluck()
    .get() as number;
  const order = s.deps.sqlite
    .prepare(
      "insert into orders (number, customer_id, ordered_on, status) values ('O-2', ?, '2026-03-01', 'open') returning id",
    )
    .pluck()
    .get(guild) as number;
  const line = s.deps.db
    .insert(orderLines)
    .values({ orderId: order, ordinal: 1, description: 'scarves' })
    .returning()
    .get().id;
  writeLot(s.world, { number: '26-0002', finishedAt: s.clock.now, orderLineIds: [s.world.orderLineId, line] });
  // Nobody said masses or pieces: half each. Half of 37.83, each kind by itself: 0.53 or 0.54, 0.33, 0.05, 13.50 and 4.50.
  const shown = await s.read(`/costing/lines?by=customer&of=${guild}`);
  expect(shown.text).toMatch(/50(\.0)? % of €37\.83/);
  expect(shown.text).toMatch(/Together <b class="big-number">€18\.9[12]</);
  const history = (await s.api.get(`/history?customerId=${guild}`)).body;
  expect(history.lots).toMatchObject([{ number: '26-0002', sharePpm: 500_000, pieces: 12, dryMassMg: 420_000 }]);
  expect(history.totals).toMatchObject({ lots: 1, labourMinor: 1_350, overheadMinor: 450, estimateMinor: 2_000 });
  expect(history.totals.totalMinor).toBe(history.lots[0].totalMinor);
  const csv = (await s.page.get(`/history/export.csv?customerId=${guild}&columns=lot,labour_cost`)).text;
  expect(csv).toBe('lot,labour_cost,share\r\n26-0002,13.50,50\r\n');
  const file = await s.api
    .get(`/exports/lots.xlsx?customerId=${guild}&rows=costLine`)
    .buffer(true)
    .parse((res, done) => {
      const chunks: Buffer[] = [];
      (res as unknown as NodeJS.ReadableStream)
        .on('data', (c: Buffer) => chunks.push(c))
        .on('end', () => done(null, Buffer.concat(chunks)));
    });
  const sheets = (await readXlsx(file.body as Buffer)) as unknown as { sheet: string; data: unknown[][] }[];
  const proof = sheets.find(({ sheet }) => sheet === 'Reconciliation')?.data ?? [];
  const part = history.totals.totalMinor / 100;
  expect(proof[1]).toEqual([
    'Sum of the rows of this file / part of these lots that the customer or the order carries',
    part,
    part,
    0,
    'EUR',
    null,
    null,
    null,
    null,
  ]);
  expect(sheets[0]?.data[0]?.at(-1)).toBe('share');
});

test('more lots than a screen holds come page by page, each once, with the conditions', async () => {
  const s = await books();
  for (let i = 2; i <= 101; i++)
    writeLot(s.world, {
      number: `26-${String(i).padStart(4, '0')}`,
      finishedAt: s.clock.now + i,
      outcome: null,
      status: 'abandoned',
    });
  const numbers = (text: string) => [...new Set([...text.matchAll(/>(?:Lot )?(26-\d{4})</g)].map((m) => m[1]))];
  const first = await s.read('/history?from=2026-03-01&to=');
  expect([numbers(first.text).length, numbers(first.text)[0]]).toEqual([100, '26-0101']);
  const next = first.links.find((l) => l.includes('after='));
  expect(asked(next)).toEqual({ from: '2026-03-01', to: '', after: expect.stringMatching(/^\d+\.\d+$/) });
  const second = await s.read(next ?? '');
  expect(numbers(second.text)).toEqual(['26-0001']);
  expect(second.links.some((l) => l.includes('after='))).toBe(false);
  expect(second.links).toContain('/history?from=2026-03-01&to=');
  expect((await s.api.get('/history')).body.next).toBe(asked(next)['after']);
  expect((await s.page.get('/history?after=x')).status).toBe(422);

  const groups = await s.read('/costing?from=&to=&by=lot');
  expect(groups.text).toContain('21 older lots are in the sum and not shown');
  expect(numbers(groups.text).length).toBe(80);
  expect((await s.read('/costing?from=&to=&by=shade')).text).not.toContain('are in the sum and not shown');
  const pages = `/costing/lines?by=shade&of=${s.recipeId}&from=2026-03-01&kind=labour`;
  const one = await s.read(pages);
  // The newest stand first.
  expect([numbers(one.text).length, numbers(one.text)[0]]).toEqual([60, '26-0101']);
  expect(one.text).toContain('101 lots make <b>€2,727.00</b>');
  const more = one.links.find((l) => l.includes('page='));
  expect(asked(more)).toEqual({
    from: '2026-03-01',
    to: '',
    by: 'shade',
    of: String(s.recipeId),
    kind: 'labour',
    page: '2',
  });
  const two = await s.read(more ?? '');
  expect([numbers(two.text).length, numbers(two.text)[40]]).toEqual([41, '26-0001']);
  expect(two.links.filter((l) => l.includes('page=')).map((l) => asked(l)['page'])).toEqual(['1']);
  const all = await s.read('/costing/lines?by=lot&from=&to=');
  expect(asked(all.links.find((l) => l.includes('page=')))).toEqual({ from: '', to: '', by: 'lot', page: '2' });
});

describe('a file', () => {
  test('has the name of what is in it', async () => {
    const s = await books();
    const named = async (path: string) =>
      decodeURIComponent(
        /filename\*=UTF-8''(.*)$/.exec((await s.page.get(path)).headers['content-disposition'] ?? '')?.[1] ?? '',
      );
    expect(await named('/history/export.csv')).toBe('batch history.csv');
    expect(await named('/history/export.csv?rows=costLine&from=2026-03-01')).toBe(
      'batch history from 2026-03-01 cost lines.csv',
    );
    expect(await named('/history/export.csv?from=2026-03-01&to=2026-03-31')).toBe(
      'batch history from 2026-03-01 to 2026-03-31.csv',
    );
    expect(await named('/history/export.xlsx?to=2026-03-31')).toBe('batch history to 2026-03-31.xlsx');
    const save = { name: 'month', rows: 'costLine', format: 'csv', span: 'lastMonth' };
    const { savedExportId: id } = (await s.api.post('/exports/saved', save)).body;
    const month = 'month from 2026-02-01 to 2026-02-28';
    expect([await named(`/exports/${id}/file.csv`), await named(`/exports/${id}/file.xlsx`)]).toEqual([
      `${month}.csv`,
      `${month}.xlsx`,
    ]);
    const api = async (path: string) =>
      decodeURIComponent((await s.api.get(path)).headers['content-disposition'] ?? '');
    for (const path of [`/exports/saved/${id}/file`, `/exports/saved/${id}`])
      for (const format of ['csv', 'xlsx']) expect(await api(`${path}.${format}`)).toContain(`${month}.${format}`);
    for (const format of ['csv', 'xlsx'])
      expect((await s.api.get(`/exports/saved/999/file.${format}`)).status).toBe(404);
  });

  test('explains each column, and what is counted, weighed or paid says in what', () => {
    const studio = { currency: 'EUR' };
    const cells = {
      EUR: 'money',
      'EUR per piece': 'number',
      day: 'day',
      g: 'number',
      pieces: 'number',
      'see unit': 'number',
      '': undefined,
    } as const;
    for (const column of [...lotColumns(studio), ...costLineColumns(studio)]) {
      expect(column.meaning, column.name).toMatch(/^[\p{L}\d(].{5,}/u);
      expect(Object.keys(cells), column.name).toContain(column.unit);
      // A line's number is a number of nothing.
      if (!['line', 'corrects'].includes(column.name))
        expect([column.name, column.cell]).toEqual([column.name, cells[column.unit as keyof typeof cells]]);
      else expect(column.cell).toBe('number');
      if (/_(g|on|cost|value)$|^(cost|price|estimate)$/.test(column.name))
        expect(column.unit, column.name).not.toBe('');
      if (/^(pieces|first_quality|seconds|rework|scrap|per_quantity|quantity)$/.test(column.name))
        expect(column.unit, column.name).not.toBe('');
    }
  });

  test.each([
    [0, '0', '0.00'],
    [5, '0.005', '0.05'],
    [-5, '-0.005', '-0.05'],
    [12_600, '12.6', '126.00'],
    [-1_000, '-1', '-10.00'],
    [100, '0.1', '1.00'],
    [9_007_199_254_740_991, '9007199254740.991', '90071992547409.91'],
    [-2_000_000_000_000_000, '-2000000000000', '-20000000000000.00'],
    [1_000_000_000_000_050, '1000000000000.05', '10000000000000.50'],
  ])('writes %d exactly, in thousandths and in cents', (whole, thousandth, cents) => {
    expect([thousandths(whole), moneyWriter('EUR')(whole)]).toEqual([thousandth, cents]);
  });

  test('writes money in the digits of its currency', () => {
    expect([moneyWriter('JPY')(-1_205), moneyWriter('JPY')(0), moneyWriter('TND')(5)]).toEqual(['-1205', '0', '0.005']);
  });

  test('proves on its last sheet that it ties, container by container and material by material', async () => {
    const s = await books();
    const ac = (await s.api.post('/auxiliaries', { code: 'AC', name: 'Vinegar', form: 'liquid' })).body.auxiliaryId;
    const bottle = (
      await s.api.post('/stock-lots', {
        auxiliaryId: ac,
        quantity: 1_000_000,
        priceMinor: 300,
        receivedOn: '2026-03-16',
      })
    ).body.stockLotId;
    s.clock.now += DAY;
    await s.api.post(`/lots/${s.lotId}/cost-lines`, {
      what: 'material',
      stockLotId: bottle,
      quantity: 50_000,
      reason: 'forgotten',
    });
    await s.api.post(`/stock-lots/${s.world.stockLotIds.blue}/wastes`, { quantity: 50_000, reason: 'spilt' });
    const file = async (rows: string) => {
      const answer = await s.api
        .get(`/exports/lots.xlsx?rows=${rows}`)
        .buffer(true)
        .parse((res, done) => {
          const chunks: Buffer[] = [];
          (res as unknown as NodeJS.ReadableStream)
            .on('data', (c: Buffer) => chunks.push(c))
            .on('end', () => done(null, Buffer.concat(chunks)));
        });
      return (await readXlsx(answer.body as Buffer)) as unknown as { sheet: string; data: unknown[][] }[];
    };
    const sheets = await file('costLine');
    expect(sheets.map(({ sheet }) => sheet)).toEqual(['Cost lines', 'Columns', 'Reconciliation', 'The record']);
    expect(sheets[1]?.data[0]).toEqual(['Column', 'Unit', 'Meaning']);
    const rows = (sheets[2]?.data ?? []).map((row) => {
      const cut = [...row];
      while (cut.length > 0 && cut.at(-1) === null) cut.pop();
      return cut;
    });
    // 37.83 and 0.15; 56.8 g and 50 mL; in materials 1.07, 0.66, 0.10 and 0.15.
    expect(rows.map((row) => row.slice(1))).toEqual([
      ['One side', 'Other side', 'Difference', 'Unit'],
      [37.98, 37.98, 0, 'EUR'],
      [37.98, 37.98, 0, 'EUR'],
      [6, 6, 0, 'rows'],
      [56.8, 56.8, 0, 'g'],
      [50, 50, 0, 'mL'],
      [1.98, 1.98, 0, 'EUR'],
      [],
      ['By cost lines', 'By ledger', 'Difference', 'Unit', 'Cost by lines', 'By ledger', 'Difference', 'Of'],
      [4.2, 4.2, 0, 'g', 0.66, 0.66, 0, 'Blue'],
      [12.6, 12.6, 0, 'g', 1.07, 1.07, 0, 'Yellow'],
      [40, 40, 0, 'g', 0.1, 0.1, 0, 'Soda ash'],
      [50, 50, 0, 'mL', 0.15, 0.15, 0, 'Vinegar'],
      [],
      [],
      ['Paid', 'Issued', 'Written off', null, 'Of it rounding', 'In stock', 'Difference', 'Of it weighed out'],
      // Of the blue 50 g of 250 g for 39.00 were spilt.
      [39, 0.66, 7.8, 'EUR', 0, 30.54, 0, 0],
      [42.5, 1.07, 0, 'EUR', 0, 41.43, 0, 0],
      [12, 0.1, 0, 'EUR', 0, 11.9, 0, 0],
      [3, 0.15, 0, 'EUR', 0, 2.85, 0, 0],
      [96.5, 1.98, 7.8, 'EUR', 0, 86.72, 0, 0],
    ]);
    const heads = rows.map((row) => row[0]).filter(Boolean);
    expect(heads.slice(9)).toEqual([
      'Y1-A',
      'SODA-A',
      'AC-1',
      expect.stringMatching(/^Where the money of each material has gone/),
      'Material',
      'B1 Blue',
      'Y1 Yellow',
      'SODA Soda ash',
      'AC Vinegar',
      'Together',
    ]);
    expect(heads.slice(0, 9).map((words) => String(words).length > 3)).toEqual(Array(9).fill(true));
    const lots = await file('lot');
    expect(lots[0]?.sheet).toBe('Lots');
    expect(lots[2]?.data[3]?.slice(0, 5)).toEqual(['Rows of this file (one a lot)', 1, null, null, 'rows']);
    const columns = (sheet: unknown[][] | undefined) => (sheet ?? []).slice(1).map((row) => row[0]);
    expect(columns(lots[1]?.data)).toEqual(lots[0]?.data[0]);
  });
});

test('a saved export opens as it was saved, and its list says what it is', async () => {
  const s = await books();
  const { world } = s;
  const saved = {
    name: 'spring',
    rows: 'costLine',
    format: 'csv',
    span: 'fixed',
    from: '2026-03-01',
    to: '2026-05-31',
    order: 'O-1',
    customerId: world.customerId,
    methodId: world.methodId,
    fibreId: world.fibreId,
    columns: ['lot', 'cost'],
  };
  const { savedExportId: id, ...kept } = (await s.api.post('/exports/saved', saved)).body;
  expect(kept).toEqual({ ...saved, version: 1 });
  expect((await s.read(`/exports/${id}/edit`)).typed).toEqual({
    version: '1',
    name: 'spring',
    rows: 'costLine',
    format: 'csv',
    span: 'fixed',
    from: '2026-03-01',
    to: '2026-05-31',
    order: 'O-1',
    customerId: String(world.customerId),
    methodId: String(world.methodId),
    fibreId: String(world.fibreId),
    'costLine.column.lot': 'yes',
    'costLine.column.cost': 'yes',
  });
  const list = (await s.read('/exports')).text;
  expect(list).toMatch(/spring.*one row a cost line · 2 columns · order O-1/);
  expect(list).toMatch(/fixed days.*from 1 Mar 2026 to 31 May 2026/);
  const plain = (await s.api.post('/exports/saved', { name: 'all', span: 'everything' })).body.savedExportId as number;
  expect((await s.read(`/exports/${plain}/edit`)).typed).toMatchObject({
    from: '',
    to: '',
    order: '',
    customerId: '',
    methodId: '',
    fibreId: '',
  });
  expect((await s.read('/exports')).text).toMatch(
    /all<\/h2>.*one row a lot · all columns<\/p>.*whenever it was closed/,
  );
  // The file is that of these conditions: another order's lot is not in it.
  writeLot(world, { number: '26-0002', finishedAt: at('2026-03-20T12:00:00Z'), orderLineIds: [] });
  const csv = (await s.page.get(`/exports/${id}/file.csv`)).text.trim().split('\r\n');
  expect([csv[0], csv.length, csv[1]]).toEqual(['lot,cost,share', 6, '26-0001,1.07,100']);
});

test('a shade shows its last two lots side by side, and those that are asked for', async () => {
  const s = await books();
  const shade = `/costing/shades/${s.recipeId}`;
  const alone = await s.read(shade);
  expect([alone.status, alone.errors]).toEqual([200, {}]);
  const [second, third] = [1, 2].map((i) =>
    writeLot(s.world, { number: `26-000${i + 1}`, finishedAt: s.clock.now + i * DAY, dryMassMg: 840_000 / i }),
  );
  const chosen = async (query = '') => {
    const { typed, status, errors } = await s.read(`${shade}${query}`);
    return [status, typed['earlier'], typed['later'], errors];
  };
  expect(await chosen()).toEqual([200, String(second), String(third), {}]);
  expect(await chosen(`?earlier=${s.lotId}&later=${second}`)).toEqual([200, String(s.lotId), String(second), {}]);
  expect((await chosen('?later=999'))[0]).toBe(422);
  const api = async (query: string) => (await s.api.get(`${shade}?${query}`)).body;
  expect((await api('')).change).toBeNull();
  expect((await api(`earlier=${s.lotId}`)).change).toBeNull();
  // 37.83 on 0.84 kg and on 0.42 kg: 45.04 and 90.07 a kilogram.
  expect((await api(`earlier=${s.lotId}&later=${third}`)).change).toMatchObject({
    earlierMinorPerKg: 4_504,
    laterMinorPerKg: 9_007,
    differenceMinor: 4_503,
  });
});

test('the cost of a lot says what its plan foresaw, what was agreed, and what it dyed again', async () => {
  const s = await books();
  s.deps.sqlite.prepare('update order_lines set price_minor = 8800, pieces = 22').run();
  s.deps.sqlite
    .prepare(
      "insert into order_lines (order_id, ordinal, description, pieces, price_minor) values (?, 2, 'given away', 5, 0)",
    )
    .run(s.world.orderId);
  const line = s.deps.sqlite
    .prepare("select id from order_lines where description = 'given away'")
    .pluck()
    .get() as number;
  const lot = writeLot(s.world, {
    number: '26-0002',
    finishedAt: s.clock.now,
    orderLineIds: [s.world.orderLineId, line],
  });
  const { text } = await s.read(`/costing/lots/${lot}`);
  // Agreed 4.00 a piece; 37.83 over 22 good pieces are 1.7195…: 132.6 % on cost, 57.0 % of price.
  expect(text).toMatch(
    /napkins<\/th><td class="num">€4\.00<\/td><td class="num">132\.6 %<\/td><td class="num">57\.0 %/,
  );
  expect(text).not.toContain('given away');
  expect(text).toContain('This lot is noted as no other lot’s rework.');
  const spoilt = writeLot(s.world, {
    number: '26-0003',
    finishedAt: s.clock.now,
    outcome: { firstQuality: 0, seconds: 24 },
  });
  expect((await s.read(`/costing/lots/${spoilt}`)).text).not.toContain('Agreed prices');
});

test('a quote is reckoned as it is asked for, on the sheet and on the customer’s copy', async () => {
  const s = await books();
  const quote = `/orders/${s.world.orderId}/quote`;
  const usual = await s.read(quote);
  // 37.83 at 60 % on 24 pieces: 2.522, so 2.53 and 60.72.
  expect(usual.text).toContain('€60.72');
  expect(asked(usual.links.find((l) => l.startsWith(`${quote}/paper`)))).toEqual({
    basis: 'markup',
    pct: '60',
    setUp: '',
    minimum: '',
  });
  const terms = 'basis=margin&pct=33,3&setUp=1.00&minimum=100';
  const sheet = await s.read(`${quote}?${terms}`);
  expect(sheet.typed).toEqual({ basis: 'margin', pct: '33,3', setUp: '1.00', minimum: '100' });
  // 100.00 on 24 pieces: 4.17 and 100.08.
  expect(sheet.text).toContain('minimum charge');
  const paper = await s.read(`${quote}/paper?${terms}`);
  expect(paper.text).toContain('€100.08');
  expect(paper.text).toContain('Test Works');
  expect(paper.text).toContain('17 Mar 2026');
  expect(asked(paper.links.find((l) => l.startsWith(`${quote}?`)))).toEqual({
    basis: 'margin',
    pct: '33,3',
    setUp: '1.00',
    minimum: '100',
  });
  expect((await s.api.get(`${quote}?basis=margin&pct=0`)).body).toMatchObject({ currency: 'EUR', totalMinor: 3_792 });
  for (const [query, errors] of [
    ['basis=margin&pct=100', { pct: 'A margin is under 100 %: the goods cost something.' }],
    ['basis=other&pct=5', { basis: 'On the cost, or of the price?' }],
    ['pct=-5', { pct: 'A percentage: “60”, “33.3”.' }],
    ['pct=1234', { pct: 'A percentage: “60”, “33.3”.' }],
    ['pct=5.555', { pct: 'A percentage: “60”, “33.3”.' }],
    ['pct=x5', { pct: 'A percentage: “60”, “33.3”.' }],
  ] as const) {
    const refused = await s.read(`${quote}?${query}`);
    expect([query, refused.status, refused.errors]).toEqual([query, 422, errors]);
    expect(refused.text).not.toContain('Suggested prices');
    expect(refused.links.some((l) => l.includes('/paper'))).toBe(false);
    expect((await s.page.get(`${quote}/paper?${query}`)).status).toBe(422);
  }
  expect((await s.read(`${quote}?basis=markup&pct=100`)).status).toBe(200);
});

test('what stock is worth is told of a day, and a day that is none is refused', async () => {
  const s = await books();
  const shown = await s.read('/costing/stock');
  expect([shown.status, shown.typed['on']]).toEqual([200, '2026-03-17']);
  expect(shown.text).toContain('at what each container cost');
  // The day before the lot was closed nothing had been issued; the day before that nothing had come.
  const total = async (on: string) => (await s.api.get(`/costing/stock${on}`)).body.total;
  expect(await total('?on=2026-03-16')).toMatchObject({ paidMinor: 9_350, issuedMinor: 0 });
  expect(await total('?on=2026-03-15')).toMatchObject({ paidMinor: 0, inStockMinor: 0 });
  expect(await total('')).toMatchObject({ paidMinor: 9_350, issuedMinor: 183, inStockMinor: 9_167 });
  expect((await s.api.get('/costing/stock')).body).toMatchObject({ currency: 'EUR', on: '2026-03-17' });
  const wrong = await s.read('/costing/stock?on=soon');
  expect([wrong.status, wrong.errors, wrong.typed['on']]).toEqual([
    422,
    { on: 'That is not a day: try 2026-03-31.' },
    'soon',
  ]);
  expect(wrong.text).not.toContain('id="stock-worth"');
});
