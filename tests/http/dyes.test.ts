import { expect, test } from 'vitest';
import { receive, waste } from '../../server/stock/ledger.ts';
import { freshStudio, MONDAY, type TestStudio } from '../support/app.ts';
import { statementsOf } from '../support/statements.ts';

const TURQUOISE = {
  name: 'Fibre-reactive turquoise',
  code: 'T1',
  class: 'reactive',
  colourant: 'single',
  ciName: 'C.I. Reactive Blue 21',
  shownHex: '#0A8FA6',
  pale: '0,5',
  medium: '2',
  deep: '6',
  solutionLifeDays: '7',
  hazardCodes: 'H317 H334',
  sdsUrl: 'https://sheets.example/t1.pdf',
};

/** 250 g of a dye for 30 € with 5 € freight, received on the Monday. */
const containerOf = (studio: TestStudio, dyeId: number, code: string, more: { bestBeforeOn?: string } = {}) =>
  receive(
    studio.deps.db,
    {
      code,
      kind: 'dye',
      dyeId,
      auxiliaryId: null,
      fibreId: null,
      unit: 'mg',
      supplier: 'a wholesaler',
      makerLot: 'M-77',
      strengthPpm: 1_000_000,
      receivedOn: '2026-03-16',
      openedOn: null,
      bestBeforeOn: more.bestBeforeOn ?? null,
      priceMinor: 3000,
      freightMinor: 500,
      receivedQuantity: 250_000,
      sourceStockLotId: null,
      concPpm: null,
      note: '',
    },
    studio.owner,
    { at: MONDAY, recordedAt: MONDAY },
  );

test('a dye typed into the form is kept in parts per million and shown with its bands and chip', async () => {
  const { page, api } = await freshStudio();
  const saved = await page.post('/dyes', TURQUOISE);
  expect(saved.status).toBe(303);
  const at = saved.headers['location'] as string;
  expect((await api.get(at)).body).toMatchObject({
    code: 'T1',
    class: 'reactive',
    singleColourant: true,
    palePpm: 5000,
    mediumPpm: 20_000,
    deepPpm: 60_000,
    solutionLifeDays: 7,
    shownHex: '#0a8fa6',
    onHandMg: 0,
    openContainers: 0,
    version: 1,
  });
  const shown = (await page.get(at)).text;
  expect(shown).toContain('C.I. Reactive Blue 21');
  expect(shown).toContain('0.5 % · 2 % · 6 %');
  expect(shown).toContain('fill="#0a8fa6"');
  expect(shown).toMatch(/href="https:\/\/sheets\.example\/t1\.pdf" rel="noopener/);
  expect(shown).toContain('Nothing on the shelf');
  expect((await page.get('/dyes')).text).toContain('none on the shelf');
});

test.each(['javascript:alert(1)', 'ftp://sheets.example/x', 'sheets.example/x', 'https://sheets.example/" onclick="x'])(
  'a safety data sheet at %s is refused beside its field, in both doors',
  async (sdsUrl) => {
    const { page, api } = await freshStudio();
    const refused = await page.post('/dyes', { ...TURQUOISE, sdsUrl });
    expect(refused.status).toBe(422);
    expect(refused.text).toContain('f-sdsUrl-error');
    expect(refused.text).not.toContain(`href="${sdsUrl}"`);
    const problem = await api.post('/dyes', { code: 'T1', name: 'Turquoise', class: 'reactive', sdsUrl });
    expect([problem.status, Object.keys(problem.body.fields)]).toEqual([422, ['sdsUrl']]);
    expect((await api.get('/dyes')).body.dyes).toEqual([]);
  },
);

test('a refused dye keeps what was typed: bands that fall, a colour that is none, a code that is taken', async () => {
  const { page } = await freshStudio();
  const falling = await page.post('/dyes', { ...TURQUOISE, medium: '7', shownHex: 'teal' });
  expect(falling.status).toBe(422);
  expect(falling.text).toContain('value="teal"');
  expect(falling.text).toContain('f-shownHex-error');
  expect((await page.post('/dyes', { ...TURQUOISE, medium: '7' })).text).toContain('f-deep-error');
  await page.post('/dyes', TURQUOISE);
  const again = await page.post('/dyes', { ...TURQUOISE, code: 't1' });
  expect([again.status, again.text.includes('f-code-error')]).toEqual([422, true]);
});

test('on hand is what open, sound containers hold together; warnings are words', async () => {
  const studio = await freshStudio();
  const { page, api, deps, owner } = studio;
  const at = (await page.post('/dyes', TURQUOISE)).headers['location'] as string;
  const dyeId = Number(at.split('/').at(-1));
  const first = containerOf(studio, dyeId, 'T1-1', { bestBeforeOn: '2026-03-30' });
  const second = containerOf(studio, dyeId, 'T1-2');
  expect((await api.get(at)).body).toMatchObject({ onHandMg: 500_000, openContainers: 2 });
  expect((await page.get(at)).text).toContain('use within 14 days');

  const when = { at: MONDAY, recordedAt: MONDAY };
  waste(deps.db, { stockLotId: first.id, quantity: 249_000, reason: 'spilt' }, owner, when);
  waste(deps.db, { stockLotId: second.id, quantity: 230_000, reason: 'spilt' }, owner, when);
  expect((await api.get(at)).body.onHandMg).toBe(21_000);
  const list = (await page.get('/dyes')).text;
  expect(list).toContain('nearly out');
  expect(list).toContain('21 g');

  deps.sqlite.prepare("update stock_lots set recalled_at = 1, recall_reason = 'x' where id = ?").run(second.id);
  expect((await api.get(at)).body.onHandMg).toBe(1000);
  expect((await page.get('/dyes')).text).toContain('a container is recalled');
  deps.sqlite.prepare('update stock_lots set closed_at = 1 where id = ?').run(first.id);
  expect((await api.get(at)).body).toMatchObject({ onHandMg: 0, openContainers: 1 });
  expect((await page.get(at)).text).toContain('1 closed container');
});

test('the list asks as often for twenty dyes as for two', async () => {
  const studio = await freshStudio();
  const { deps, page, api } = studio;
  const counted = (): Promise<number> => statementsOf(deps, () => page.get('/dyes'));
  const add = async (n: number): Promise<void> => {
    const { body } = await api.post('/dyes', { code: `D${n}`, name: `Dye ${n}`, class: 'acid' });
    containerOf(studio, body.dyeId, `D${n}-1`);
  };
  for (let n = 1; n <= 2; n++) await add(n);
  const few = await counted();
  for (let n = 3; n <= 20; n++) await add(n);
  expect(await counted()).toBe(few);
});

test('recipes and swatches that use a dye are on its page and in the API', async () => {
  const studio = await freshStudio();
  const { deps, api, page, owner } = studio;
  const dye = (await api.post('/dyes', { code: 'R1', name: 'Red', class: 'reactive' })).body.dyeId as number;
  const other = (await api.post('/dyes', { code: 'Y1', name: 'Yellow', class: 'reactive' })).body.dyeId as number;
  const fibre = (await api.post('/fibres', { name: 'Linen', class: 'cellulose', kind: 'cloth' })).body
    .fibreId as number;
  const run = (sql: string, ...values: unknown[]): number =>
    Number(deps.sqlite.prepare(sql).run(...values).lastInsertRowid);
  const method = run("insert into methods (name) values ('Cold batch')");
  const revision = (recipeId: number, number: number, dyeId: number): number => {
    const id = run(
      "insert into recipe_revisions (recipe_id, number, entry_style, total_depth_ppm, made_at, made_by) values (?, ?, 'split', 20000, 1, ?)",
      recipeId,
      number,
      owner.personId,
    );
    run('insert into recipe_components values (?, 1, ?, 1000000, 20000)', id, dyeId);
    return id;
  };
  const recipe = run("insert into recipes (name, dye_class) values ('Brick', 'reactive')");
  const first = revision(recipe, 1, dye);
  revision(recipe, 2, other);
  run(
    "insert into swatches (code, name, revision_id, depth_ppm, fibre_id, method_id, dyed_on, made_by) values ('S-1', 'Brick on linen', ?, 20000, ?, ?, '2026-03-01', ?)",
    first,
    fibre,
    method,
    owner.personId,
  );
  expect((await api.get(`/dyes/${dye}/uses`)).body).toEqual({
    recipes: [{ recipeId: recipe, name: 'Brick', usedInRevision: 1, latestRevision: 2 }],
    swatches: [{ swatchId: 1, code: 'S-1', name: 'Brick on linen', depthPpm: 20_000 }],
    swatchCount: 1,
  });
  const shown = (await page.get(`/dyes/${dye}`)).text;
  expect(shown).toContain('up to revision 1; no longer in 2');
  expect(shown).toContain('href="/swatches/1"');
});

test('a stale edit is no loss, an unknown dye is not here, and a dye put away leaves the list and comes back', async () => {
  const { page, api } = await freshStudio();
  const at = (await page.post('/dyes', TURQUOISE)).headers['location'] as string;
  expect((await page.post(at, { ...TURQUOISE, note: 'first', version: '1' })).status).toBe(303);
  const late = await page.post(at, { ...TURQUOISE, note: 'second', version: '1' });
  expect([late.status, late.text.includes('second')]).toEqual([409, true]);
  expect((await api.get(at)).body.note).toBe('first');
  expect((await page.get('/dyes/99')).status).toBe(404);
  expect((await page.post(`${at}/archiving`, { archived: 'yes' })).status).toBe(303);
  expect((await api.get('/dyes')).body.dyes).toEqual([]);
  expect((await page.get('/dyes')).text).toContain('Put away (1)');
  await page.post(`${at}/archiving`, { archived: 'no' });
  expect((await api.get('/dyes')).body.dyes).toHaveLength(1);
});
