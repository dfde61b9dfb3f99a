import { expect, test } from 'vitest';
import { auxiliaries } from '../../server/db/tables/materials.ts';
import { TRADE_ARITHMETIC } from '../reference/tradeArithmetic.ts';
import { freshStudio, type TestStudio } from '../support/app.ts';

const printed = (id: string) => {
  const row = TRADE_ARITHMETIC.find((r) => r.id === id);
  if (!row) throw new Error(`no reference row ${id}`);
  return { expected: row.expected as number, tolerance: row.tolerance };
};

const shelf = ({ deps }: TestStudio) => {
  const add = (code: string, form: 'solid' | 'liquid', bulkDensityGPerL: number | null) =>
    deps.db.insert(auxiliaries).values({ code, name: code, form, bulkDensityGPerL }).returning().get().id;
  return {
    lightSoda: add('light soda', 'solid', 610),
    soda: add('soda', 'solid', null),
    vinegar: add('vinegar', 'liquid', null),
  };
};

const SOAK = {
  name: 'Soak and batch',
  dyeClass: 'reactive',
  bathRatio: '1:20',
  soakRatio: '8:1',
  loss: '5',
  cautions: 'Lid on.',
  'stepName.0': 'Soak',
  'duration.0': '20 min',
  'temp.0': '86 F',
  'handsOn.0': '5',
  'stepName.3': 'Batch',
  'duration.3': '1 h 30',
  'label.0': 'Fold',
  'kind.0': 'choice',
  'choices.0': 'accordion, star',
  'kind.1': 'text',
};

type Body = Record<string, unknown>;

test('a method keeps its typed times, ratios and rows in the smallest units, empty rows left out', async () => {
  const studio = await freshStudio();
  const { soda } = shelf(studio);
  const saved = await studio.page.post('/methods', {
    ...SOAK,
    'auxiliaryId.0': String(soda),
    'amount.0': '1 oz/gal',
    'basis.0': 'gPerL',
    'vessel.0': 'bath',
    'basis.1': 'owg',
    'vessel.1': 'bath',
  });
  expect(saved.status).toBe(303);
  const method = (await studio.api.get(saved.headers['location'] as string)).body as Body;
  expect(method).toMatchObject({
    dyeClass: 'reactive',
    bathMlPerKg: 20_000,
    soakMlPerKg: 8_000,
    lossPpm: 50_000,
    version: 1,
    steps: [
      { name: 'Soak', durationS: 1200, tempC: 30, handsOnS: 300, note: '' },
      { name: 'Batch', durationS: 5400, tempC: null, handsOnS: 0, note: '' },
    ],
    fields: [{ label: 'Fold', kind: 'choice', unit: '', choices: ['accordion', 'star'] }],
  });
  const [line] = method['auxiliaries'] as { amountMilli: number; asTyped: string }[];
  expect(line?.asTyped).toBe('1 oz/gal');
  const { expected } = printed('HB016');
  expect(line?.amountMilli).toBe(Math.round(expected * 1000));
  const shown = await studio.page.get(saved.headers['location'] as string);
  expect(shown.text).toContain('1 h 30 min');
  expect(shown.text).toContain('typed “1 oz/gal”');
});

test('the list adds up the steps of each method by itself', async () => {
  const { page, api } = await freshStudio();
  await page.post('/methods', { ...SOAK, name: 'A' });
  await page.post('/methods', { name: 'B', 'stepName.0': 'Simmer', 'duration.0': '1 h', 'handsOn.0': '10 min' });
  await page.post('/methods', { name: 'C' });
  const { methods } = (await api.get('/methods')).body as { methods: Body[] };
  expect(methods.map((m) => [m['name'], m['durationS'], m['handsOnS'], m['stepCount']])).toEqual([
    ['A', 6600, 300, 2],
    ['B', 3600, 600, 1],
    ['C', 0, 0, 0],
  ]);
});

test('a cup per gallon becomes grams by the bulk density of the grade, and is refused without one', async () => {
  const studio = await freshStudio();
  const { lightSoda, soda, vinegar } = shelf(studio);
  const cup = { ...SOAK, 'amount.2': '1 cup/gal', 'basis.2': 'gPerL', 'vessel.2': 'soak' };
  const saved = await studio.page.post('/methods', { ...cup, 'auxiliaryId.2': String(lightSoda) });
  const body = (await studio.api.get(saved.headers['location'] as string)).body as Body;
  const { expected, tolerance } = printed('HB089');
  const [line] = body['auxiliaries'] as { amountMilli: number; asTyped: string }[];
  expect(Math.abs((line?.amountMilli ?? 0) / 1000 - expected)).toBeLessThanOrEqual(tolerance);
  expect(line?.asTyped).toBe('1 cup/gal');

  const refused = await studio.page.post('/methods', { ...cup, name: 'Another', 'auxiliaryId.2': String(soda) });
  expect(refused.status).toBe(422);
  expect(refused.text).toMatch(/id="f-amount-2-error">[^<]*grade in the jar/);
  expect(refused.text).toContain('value="1 cup/gal"');
  const liquid = await studio.page.post('/methods', { ...cup, name: 'Another', 'auxiliaryId.2': String(vinegar) });
  expect(liquid.text).toMatch(/id="f-amount-2-error">[^<]*is a liquid/);
  expect((await studio.api.get('/methods')).body.methods).toHaveLength(1);
});

test('messages stand beside the rows as typed, and nothing is half-saved', async () => {
  const studio = await freshStudio();
  const { soda } = shelf(studio);
  const refused = await studio.page.post('/methods', {
    ...SOAK,
    soakRatio: '',
    'duration.3': 'a while',
    'auxiliaryId.4': String(soda),
    'amount.4': '',
    'basis.4': 'owg',
    'vessel.4': 'bath',
  });
  expect(refused.status).toBe(422);
  expect(refused.text).toMatch(/id="f-duration-3-error">[^<]*a while/);
  expect(refused.text).toContain('id="f-amount-4-error"');
  const noSoak = await studio.page.post('/methods', {
    ...SOAK,
    soakRatio: '',
    'auxiliaryId.0': String(soda),
    'amount.0': '50',
    'basis.0': 'gPerL',
    'vessel.0': 'soak',
  });
  expect(noSoak.text).toContain('id="f-soakRatio-error"');
  const longHands = await studio.page.post('/methods', { ...SOAK, 'handsOn.3': '2 h' });
  expect(longHands.text).toMatch(/id="f-handsOn-3-error">/);
  const oneChoice = await studio.page.post('/methods', { ...SOAK, 'choices.0': 'star' });
  expect(oneChoice.text).toMatch(/id="f-choices-0-error">/);
  expect((await studio.api.get('/methods')).body.methods).toEqual([]);
});

test('an overtaken edit is refused with both versions shown, and its steps are not lost', async () => {
  const { page, api } = await freshStudio();
  const at = (await page.post('/methods', SOAK)).headers['location'] as string;
  const form = { ...SOAK, version: '1' };
  expect((await page.post(at, { ...form, 'stepName.0': 'Soak longer' })).status).toBe(303);
  const late = await page.post(at, { ...form, 'stepName.0': 'Soak shorter', 'stepName.3': '', 'duration.3': '' });
  expect(late.status).toBe(409);
  expect(late.text).toContain('<td>Soak longer</td><td>Soak shorter</td>');
  expect(late.text).toContain('name="version" value="2"');
  const kept = (await api.get(at)).body as { steps: Body[]; version: number };
  expect([kept.version, kept.steps.map((s) => s['name'])]).toEqual([2, ['Soak longer', 'Batch']]);
  const { version: _v, methodId: _i, archived: _a, ...body } = (await api.get(at)).body as Body;
  expect((await api.put(at, { ...body, version: 1 })).body.code).toBe('staleEdit');
  expect((await api.put(at, { ...body, steps: [], version: 2 })).body).toMatchObject({ steps: [], version: 3 });
});

test('a copy starts with everything of the other but its name', async () => {
  const { page, api } = await freshStudio();
  const at = (await page.post('/methods', SOAK)).headers['location'] as string;
  const form = await page.get(`/methods/new?from=${at.split('/').at(-1)}`);
  expect(form.text).toContain('value="Soak and batch, changed"');
  expect(form.text).toContain('value="1 h 30 min"');
  const copy = await api.post(`${at}/copies`, { name: 'Soak, warm' });
  expect(copy.status).toBe(201);
  const { name: _n, methodId: _i, ...rest } = (await api.get(at)).body as Body;
  expect(copy.body).toMatchObject({ ...rest, name: 'Soak, warm' });
  expect((await api.post(`${at}/copies`, { name: 'SOAK, warm' })).body.fields).toHaveProperty('name');
});

test('an archived method leaves the list and comes back', async () => {
  const { page, api } = await freshStudio();
  const at = (await page.post('/methods', SOAK)).headers['location'] as string;
  expect((await page.post(`${at}/archiving`)).status).toBe(303);
  expect((await api.get('/methods')).body.methods).toEqual([]);
  expect((await page.get(at)).text).toContain('archived');
  expect((await api.post(`${at}/restoring`)).body.archived).toBe(false);
  expect((await api.post('/methods/99/restoring')).status).toBe(404);
});
