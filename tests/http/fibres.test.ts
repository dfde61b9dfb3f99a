import { expect, test } from 'vitest';
import { freshStudio } from '../support/app.ts';

const LINEN = {
  name: 'Linen, natural',
  class: 'cellulose',
  kind: 'cloth',
  arealMass: '5.6 oz/yd²',
  width: '140 cm',
  regain: '12',
  uptake: '100',
  costPerKg: '18,50',
};

test('a fibre typed in ounces per square yard is kept in grams per square metre', async () => {
  const { page, api } = await freshStudio();
  const saved = await page.post('/fibres', LINEN);
  expect(saved.status).toBe(303);
  const fibre = (await api.get(saved.headers['location'] as string)).body as Record<string, unknown>;
  // 5.6 oz/yd² × 33.90575 g/m² (NIST SP 811, Appendix B)
  expect(fibre['arealMassMgPerM2']).toBe(189_872);
  expect(fibre).toMatchObject({
    name: 'Linen, natural',
    widthMm: 1400,
    regainPpm: 120_000,
    costMinorPerKg: 1850,
    version: 1,
  });
  expect((await page.get('/fibres')).text).toContain('Linen, natural');
});

test('a refused fibre keeps what was typed, with the message beside the field', async () => {
  const { page, api } = await freshStudio();
  const refused = await page.post('/fibres', { ...LINEN, arealMass: 'heavyish', regain: '80' });
  expect(refused.status).toBe(422);
  expect(refused.text).toContain('value="heavyish"');
  expect(refused.text).toMatch(/id="f-arealMass-error">[^<]*heavyish[^<]*</);
  expect(refused.text).toMatch(/id="f-regain-error">[^<]*50 %/);
  expect((await api.get('/fibres')).body.fibres).toEqual([]);
});

test('a second fibre of the same name is refused beside the name', async () => {
  const { page } = await freshStudio();
  await page.post('/fibres', LINEN);
  const again = await page.post('/fibres', { ...LINEN, name: 'LINEN, natural' });
  expect(again.status).toBe(422);
  expect(again.text).toContain('f-name-error');
});

test('saving over a newer version is a stale edit, not a loss', async () => {
  const { page, api } = await freshStudio();
  const at = (await page.post('/fibres', LINEN)).headers['location'] as string;
  expect((await page.post(at, { ...LINEN, note: 'first', version: '1' })).status).toBe(303);
  const late = await page.post(at, { ...LINEN, note: 'second', version: '1' });
  expect(late.status).toBe(409);
  expect(late.text).toContain('second');
  expect((await api.get(at)).body.note).toBe('first');
});

test('nobody without a sign-in sees or saves a fibre', async () => {
  const { app } = await freshStudio();
  const page = await app.inject({ url: '/fibres' });
  expect([page.statusCode, page.headers.location]).toEqual([303, '/sign-in?to=%2Ffibres']);
  const api = await app.inject({ url: '/api/v1/fibres' });
  expect([api.statusCode, api.json().code]).toEqual([401, 'notSignedIn']);
  const posted = await app.inject({
    method: 'POST',
    url: '/fibres',
    payload: 'name=x',
    headers: { 'content-type': 'application/x-www-form-urlencoded' },
  });
  expect(posted.statusCode).toBe(403);
});
