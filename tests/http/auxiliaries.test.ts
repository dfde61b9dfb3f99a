import { expect, test } from 'vitest';
import { freshStudio } from '../support/app.ts';

const SODA = {
  name: 'Soda ash, light',
  code: 'SODA',
  form: 'solid',
  hydrate: 'anhydrous',
  grade: 'light',
  bulkDensity: '600',
  solutionConc: '10',
  hazardCodes: 'H319',
};

test('a cup has a mass once the grade’s bulk density is known', async () => {
  const { page, api } = await freshStudio();
  const at = (await page.post('/auxiliaries', SODA)).headers['location'] as string;
  // 1 US cup = 236.588 mL (NIST Handbook 44, Appendix C) × 600 g/L = 141.95 g
  expect((await api.get(at)).body).toMatchObject({
    bulkDensityGPerL: 600,
    solutionConcPpm: 100_000,
    cupMassMg: 141_953,
  });
  expect((await page.get(at)).text).toContain('1 US cup = 142.0 g');
});

test.each([
  { bulkDensityKgPerM3: 570, cupG: 135 },
  { bulkDensityKgPerM3: 650, cupG: 154 },
  { bulkDensityKgPerM3: 1000, cupG: 237 },
  { bulkDensityKgPerM3: 1050, cupG: 248 },
])('a cup of soda ash at $bulkDensityKgPerM3 kg/m³ is $cupG g', async ({ bulkDensityKgPerM3, cupG }) => {
  // Bulk densities of the grades: soda-ash research institute, general information; the cup by NIST Handbook 44.
  const { api } = await freshStudio();
  const { body } = await api.post('/auxiliaries', {
    code: 'SODA',
    name: 'Soda ash',
    form: 'solid',
    grade: 'as stated',
    bulkDensityGPerL: bulkDensityKgPerM3,
  });
  expect(Math.abs(body.cupMassMg / 1000 - cupG)).toBeLessThan(0.5);
});

test('without a bulk density the page says why a cup has no mass, and the API says null', async () => {
  const { page, api } = await freshStudio();
  const at = (await page.post('/auxiliaries', { ...SODA, bulkDensity: '', grade: '' })).headers['location'] as string;
  expect((await api.get(at)).body.cupMassMg).toBeNull();
  const shown = (await page.get(`${at}?scoop=1 cup`)).text;
  expect(shown).toContain('A cup of it has no mass yet.');
  expect(shown).not.toContain('1 US cup =');
});

test('the calculator weighs a scoop as typed, on the page and as a part, and says what it cannot read', async () => {
  const { page } = await freshStudio();
  const at = (await page.post('/auxiliaries', SODA)).headers['location'] as string;
  expect((await page.get(`${at}?scoop=${encodeURIComponent('1½ cups')}`)).text).toContain('212.9 g');
  const part = (await page.part('get', `${at}?scoop=500%20mL`)).text;
  expect(part).toContain('300.0 g');
  expect(part).not.toContain('<h1');
  expect((await page.part('get', `${at}?scoop=a%20fistful`)).text).toMatch(/field-error[^>]*>[^<]*a fistful/);
});

test('a bulk density needs the name of its grade, in both doors', async () => {
  const { page, api } = await freshStudio();
  const refused = await page.post('/auxiliaries', { ...SODA, grade: '' });
  expect([refused.status, refused.text.includes('f-grade-error')]).toEqual([422, true]);
  expect(refused.text).toContain('value="600"');
  const problem = await api.post('/auxiliaries', { code: 'S', name: 'Soda', form: 'solid', bulkDensityGPerL: 600 });
  expect([problem.status, Object.keys(problem.body.fields)]).toEqual([422, ['grade']]);
});

test('a liquid is kept by volume, and its form stands once it has a container', async () => {
  const { page, api } = await freshStudio();
  const { body: acid } = await api.post('/auxiliaries', { code: 'ACID', name: 'Acetic acid 56 %', form: 'liquid' });
  expect(acid.unit).toBe('ul');
  const received = await page.post('/stock', {
    item: `auxiliary-${acid.auxiliaryId}`,
    quantity: '1 L',
    price: '9',
    receivedOn: '2026-03-16',
    strength: '100',
  });
  expect(received.status).toBe(303);
  expect((await api.get(`/auxiliaries/${acid.auxiliaryId}`)).body).toMatchObject({
    onHandQuantity: 1_000_000,
    openContainers: 1,
  });
  const { code, name, version } = acid;
  const changed = await api.put(`/auxiliaries/${acid.auxiliaryId}`, { code, name, version, form: 'solid' });
  expect([changed.status, Object.keys(changed.body.fields)]).toEqual([422, ['form']]);
  expect((await page.get('/auxiliaries')).text).toContain('1 L');
});

test('an auxiliary put away leaves the list; a stale edit is no loss', async () => {
  const { page, api } = await freshStudio();
  const at = (await page.post('/auxiliaries', SODA)).headers['location'] as string;
  expect((await page.post(at, { ...SODA, note: 'first', version: '1' })).status).toBe(303);
  expect((await page.post(at, { ...SODA, note: 'second', version: '1' })).status).toBe(409);
  expect((await api.get(at)).body.note).toBe('first');
  await page.post(`${at}/archiving`, { archived: 'yes' });
  expect((await api.get('/auxiliaries')).body.auxiliaries).toEqual([]);
});
