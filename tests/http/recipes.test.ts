import { eq } from 'drizzle-orm';
import { expect, test } from 'vitest';
import { CALCULATIONS } from '../../server/calculators/table.ts';
import { dyes } from '../../server/db/tables/materials.ts';
import { recipeComponents, recipeRevisions } from '../../server/db/tables/recipes.ts';
import { createRecipe } from '../../server/recipes/revisions.ts';
import { TRADE_ARITHMETIC } from '../reference/tradeArithmetic.ts';
import { freshStudio, type TestStudio } from '../support/app.ts';
import { statementsOf } from '../support/statements.ts';

type Body = Record<string, unknown>;
interface Revision {
  revisionId: number;
  number: number;
  entryStyle: string;
  totalDepthPpm: number;
  components: { dyeName: string; sharePpm: number; depthPpm: number }[];
}

const shelf = ({ deps }: TestStudio) => {
  const dye = (code: string, dyeClass: 'reactive' | 'acid' = 'reactive') =>
    deps.db.insert(dyes).values({ code, name: code, class: dyeClass }).returning().get().id;
  return { lemon: dye('Lemon'), blue: dye('Blue'), black: dye('Black'), navy: dye('Navy', 'acid') };
};

/** 400 g at 2 % split 50/30/20. */
const SPLIT = TRADE_ARITHMETIC.find((r) => r.id === 'HB052');

const slate = (ids: ReturnType<typeof shelf>) => ({
  name: 'Slate',
  dyeClass: 'reactive',
  entryStyle: 'split',
  totalDepth: '2',
  shares: '50/30/20',
  'dyeId.0': String(ids.blue),
  'amount.0': '',
  'dyeId.1': String(ids.black),
  'amount.1': '',
  'dyeId.4': String(ids.lemon),
  'amount.4': '',
});

test('a total depth split 50/30/20 gives each dye its own depth, and the masses in print', async () => {
  const studio = await freshStudio();
  const saved = await studio.page.post('/recipes', slate(shelf(studio)));
  expect(saved.status).toBe(303);
  const at = saved.headers['location'] as string;
  const { revisions } = (await studio.api.get(at)).body as { revisions: Revision[] };
  expect(revisions[0]).toMatchObject({
    number: 1,
    entryStyle: 'split',
    totalDepthPpm: 20_000,
    components: [
      { dyeName: 'Blue', sharePpm: 500_000, depthPpm: 10_000 },
      { dyeName: 'Black', sharePpm: 300_000, depthPpm: 6_000 },
      { dyeName: 'Lemon', sharePpm: 200_000, depthPpm: 4_000 },
    ],
  });
  const scaled = await studio.api.get(
    `/recipe-revisions/${revisions[0]?.revisionId}/masses?goodsDryMassMg=${CALCULATIONS['component-masses'].input.parse(SPLIT?.inputs).goodsDryMassG * 1000}`,
  );
  const lines = scaled.body.lines as { roundedMg: number; exactMg: number }[];
  expect(lines.map((l) => l.roundedMg / 1000)).toEqual(SPLIT?.expected);
  const part = await studio.page.part('get', `${at}?goods=400`);
  expect(part.text).toMatch(/4\.00 g[\s\S]*2\.40 g[\s\S]*1\.60 g[\s\S]*8\.00 g/);
  expect(part.text).not.toContain('<h1');
});

test('own depths of each dye give the total and exact shares of it', async () => {
  const studio = await freshStudio();
  const ids = shelf(studio);
  const made = await studio.api.post('/recipes', {
    name: 'Thirds',
    dyeClass: 'reactive',
    entryStyle: 'ownDepths',
    components: [ids.blue, ids.black, ids.lemon].map((dyeId) => ({ dyeId, depthPpm: 5_000 })),
  });
  expect(made.status).toBe(201);
  const [revision] = made.body.revisions as Revision[];
  expect(revision?.totalDepthPpm).toBe(15_000);
  expect(revision?.components.map((c) => c.depthPpm)).toEqual([5_000, 5_000, 5_000]);
  expect(revision?.components.reduce((sum, c) => sum + c.sharePpm, 0)).toBe(1_000_000);
});

test('shares typed by the row must be a hundred per cent, thirds as one writes them included', async () => {
  const studio = await freshStudio();
  const ids = shelf(studio);
  const rows = (a: string, b: string, c: string) => ({
    ...slate(ids),
    shares: '',
    'amount.0': a,
    'amount.1': b,
    'amount.4': c,
  });
  const short = await studio.page.post('/recipes', rows('50', '30', '18'));
  expect(short.status).toBe(422);
  expect(short.text).toMatch(/id="f-components-error">The shares add to 98 %/);
  const blank = await studio.page.post('/recipes', rows('50', '50', ''));
  expect(blank.text).toContain('id="f-amount-4-error"');
  const thirds = await studio.page.post('/recipes', rows('33,3', '33,3', '33,3'));
  expect(thirds.status).toBe(303);
  const { revisions } = (await studio.api.get(thirds.headers['location'] as string)).body as { revisions: Revision[] };
  expect(revisions[0]?.components.reduce((sum, c) => sum + c.sharePpm, 0)).toBe(1_000_000);
  expect(revisions[0]?.components.reduce((sum, c) => sum + c.depthPpm, 0)).toBe(20_000);
  const two = await studio.page.post('/recipes', { ...slate(ids), name: 'Two', shares: '70/30' });
  expect(two.text).toMatch(/id="f-shares-error">2 shares for 3 dyes/);
  const noTotal = await studio.page.post('/recipes', { ...slate(ids), name: 'None', totalDepth: '' });
  expect(noTotal.text).toContain('id="f-totalDepth-error"');
  const api = await studio.api.post('/recipes', {
    name: 'Off',
    dyeClass: 'reactive',
    entryStyle: 'split',
    totalDepthPpm: 20_000,
    components: [{ dyeId: ids.blue, sharePpm: 999_999 }],
  });
  expect([api.status, api.body.code]).toEqual([422, 'invalidInput']);
});

test('a dye of another class, or named twice, is refused beside its row', async () => {
  const studio = await freshStudio();
  const ids = shelf(studio);
  const refused = await studio.page.post('/recipes', {
    ...slate(ids),
    'dyeId.1': String(ids.navy),
    'dyeId.4': String(ids.blue),
  });
  expect(refused.status).toBe(422);
  expect(refused.text).toMatch(/id="f-dyeId-1-error">Navy is an acid dye; this recipe is fibre-reactive/);
  expect(refused.text).toMatch(/id="f-dyeId-4-error">[^<]*already/);
  expect(refused.text).toContain('value="50/30/20"');
  expect((await studio.api.get('/recipes')).body.recipes).toEqual([]);
});

test('a change is a new revision; the old one stands, whatever tries to rewrite it', async () => {
  const studio = await freshStudio();
  const ids = shelf(studio);
  const at = (await studio.page.post('/recipes', slate(ids))).headers['location'] as string;
  const form = await studio.page.get(`${at}/revisions/new`);
  expect(form.text).toContain('revision 2');
  expect(form.text).not.toContain('Navy');
  studio.deps.db.update(dyes).set({ archivedAt: studio.clock.now }).where(eq(dyes.id, ids.lemon)).run();
  expect((await studio.page.get(`${at}/revisions/new`)).text).toMatch(/selected>Lemon/);
  studio.clock.now += 86_400_000;
  const saved = await studio.page.post(`${at}/revisions`, {
    fromRevision: '1',
    entryStyle: 'ownDepths',
    'dyeId.0': String(ids.blue),
    'amount.0': '1.1',
    'dyeId.1': String(ids.black),
    'amount.1': '0.6',
    why: 'too green',
  });
  expect(saved.status).toBe(303);
  const { revisions } = (await studio.api.get(at)).body as { revisions: Revision[] };
  expect(revisions.map((r) => [r.number, r.totalDepthPpm, r.components.length])).toEqual([
    [2, 17_000, 2],
    [1, 20_000, 3],
  ]);
  const { db } = studio.deps;
  expect(() => db.update(recipeRevisions).set({ totalDepthPpm: 1 }).run()).toThrow(/never changes/);
  expect(() => db.delete(recipeComponents).run()).toThrow(/never changes/);
  const page = await studio.page.get(at);
  expect(page.text).toContain('too green');
  expect(page.text).toMatch(/taken out/);
  expect(page.text).toMatch(/paler/);
});

test('while it is typed, the formula is shown both ways, or what is still missing', async () => {
  const studio = await freshStudio();
  const ids = shelf(studio);
  const { name: _n, dyeClass: _c, ...formula } = slate(ids);
  const query = new URLSearchParams(formula);
  const whole = await studio.page.part('get', `/recipes/formula?${query}`);
  expect(whole.text).toMatch(/Blue[\s\S]*50 %[\s\S]*1 %[\s\S]*Black[\s\S]*30 %[\s\S]*0\.6 %[\s\S]*20 %[\s\S]*0\.4 %/);
  query.set('shares', '50/30');
  expect((await studio.page.part('get', `/recipes/formula?${query}`)).text).toContain('80 %, not to 100 %');
  expect((await studio.page.part('get', '/recipes/formula?entryStyle=split')).text).toContain('Choose dyes');
});

test('words find a recipe by its name and by its dyes, and a dye by its newest revision', async () => {
  const studio = await freshStudio();
  const ids = shelf(studio);
  const at = (await studio.page.post('/recipes', slate(ids))).headers['location'] as string;
  await studio.api.post('/recipes', {
    name: '100 % reed',
    dyeClass: 'reactive',
    entryStyle: 'ownDepths',
    components: [{ dyeId: ids.lemon, depthPpm: 10_000 }],
  });
  const names = async (query: string) =>
    ((await studio.api.get(`/recipes?${query}`)).body.recipes as Body[]).map((r) => r['name']);
  expect(await names('words=slate')).toEqual(['Slate']);
  expect(await names('words=lemon')).toEqual(['100 % reed', 'Slate']);
  expect(await names('words=lemon+blue')).toEqual(['Slate']);
  expect(await names('words=100+%25')).toEqual(['100 % reed']);
  expect(await names(`dyeId=${ids.lemon}`)).toEqual(['100 % reed', 'Slate']);
  await studio.api.post(`${at}/revisions`, {
    fromRevision: 1,
    entryStyle: 'ownDepths',
    components: [{ dyeId: ids.blue, depthPpm: 9_000 }],
  });
  expect(await names(`dyeId=${ids.lemon}`)).toEqual(['100 % reed']);
  const part = await studio.page.part('get', '/recipes?words=reed');
  expect(part.text).toContain('100 % reed');
  expect(part.text).not.toContain('Slate');
});

test('the list asks the database as often for ten recipes as for twenty', async () => {
  const studio = await freshStudio();
  const { blue } = shelf(studio);
  const { db } = studio.deps;
  const add = (from: number, to: number) => {
    for (let i = from; i < to; i++) {
      createRecipe(
        db,
        {
          name: `R${i}`,
          dyeClass: 'reactive',
          note: '',
          why: '',
          entryStyle: 'ownDepths',
          components: [{ dyeId: blue, depthPpm: 100 + i }],
        },
        studio.owner,
        studio.clock.now,
      );
    }
  };
  const statements = (): Promise<number> => statementsOf(studio.deps, () => studio.page.get('/recipes'));
  add(0, 10);
  const ten = await statements();
  add(10, 20);
  expect(await statements()).toBe(ten);
});

test('name and note change against a version; an archived recipe takes no revision', async () => {
  const studio = await freshStudio();
  const ids = shelf(studio);
  const at = (await studio.page.post('/recipes', slate(ids))).headers['location'] as string;
  expect((await studio.page.post(at, { name: 'Slate, greenish', note: '', version: '1' })).status).toBe(303);
  const late = await studio.page.post(at, { name: 'Slate, bluish', note: '', version: '1' });
  expect(late.status).toBe(409);
  expect(late.text).toContain('<td>Slate, greenish</td><td>Slate, bluish</td>');
  await studio.page.post(`${at}/archiving`);
  expect((await studio.api.get('/recipes')).body.recipes).toEqual([]);
  const refused = await studio.api.post(`${at}/revisions`, {
    fromRevision: 1,
    entryStyle: 'ownDepths',
    components: [{ dyeId: ids.blue, depthPpm: 9_000 }],
  });
  expect([refused.status, refused.body.code]).toEqual([409, 'conflict']);
  expect((await studio.api.post(`${at}/restoring`)).body.archived).toBe(false);
});

test('a revision made from one that is not the newest any more is shown beside it, and nothing is lost or laid on top', async () => {
  const studio = await freshStudio();
  const ids = shelf(studio);
  const at = (await studio.page.post('/recipes', slate(ids))).headers['location'] as string;
  const form = await studio.page.get(`${at}/revisions/new`);
  expect(form.text).toContain('name="fromRevision" value="1"');
  const blue = { entryStyle: 'ownDepths', 'dyeId.0': String(ids.blue) };
  const ana = { ...blue, 'amount.0': '1.1', why: 'too green', fromRevision: '1' };
  const rui = { ...blue, 'amount.0': '0.9', why: 'too deep', fromRevision: '1' };
  expect((await studio.page.post(`${at}/revisions`, ana)).status).toBe(303);
  const late = await studio.page.post(`${at}/revisions`, rui);
  expect(late.status).toBe(409);
  expect(late.text).toContain('<td>1.1</td><td>0.9</td>');
  expect(late.text).toContain('<td>too green</td><td>too deep</td>');
  expect(late.text).toContain('name="fromRevision" value="2"');
  const api = await studio.api.post(`${at}/revisions`, {
    fromRevision: 1,
    entryStyle: 'ownDepths',
    components: [{ dyeId: ids.blue, depthPpm: 9_000 }],
  });
  expect([api.status, api.body.code, api.body.latestRevision]).toEqual([409, 'staleEdit', 2]);
  // A form of an earlier version does not say what it was made from: it is shown beside the newest, too.
  const { fromRevision: _, ...older } = rui;
  expect((await studio.page.post(`${at}/revisions`, older)).status).toBe(409);
  const numbers = async () =>
    ((await studio.api.get(at)).body.revisions as Revision[]).map((r) => [r.number, r.totalDepthPpm]);
  expect(await numbers()).toEqual([
    [2, 11_000],
    [1, 20_000],
  ]);
  // Seen and decided: it becomes the next one.
  expect((await studio.page.post(`${at}/revisions`, { ...rui, fromRevision: '2' })).status).toBe(303);
  expect((await numbers())[0]).toEqual([3, 9_000]);
});
