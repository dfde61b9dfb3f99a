import supertest from 'supertest';
import { describe, expect, test } from 'vitest';
import { makeToken } from '../../server/people/signIn.ts';
import { TRADE_ARITHMETIC } from '../reference/tradeArithmetic.ts';
import { freshStudio } from '../support/app.ts';

describe('calculators for scripts', () => {
  test('answer every published figure, for a token that may only read', async () => {
    const { app, deps, owner } = await freshStudio();
    const { token } = makeToken(deps, { name: 'script', scope: 'read', expiresAt: null }, owner.personId);
    for (const row of TRADE_ARITHMETIC) {
      const answer = await supertest(app.server)
        .post(`/api/v1/calc/${row.topic}`)
        .set('authorization', `Bearer ${token}`)
        .send(row.inputs);
      expect(answer.status, `${row.id} ${answer.text}`).toBe(200);
      expect(answer.body).toMatchObject({ topic: row.topic, unit: row.unit });
      const values: number[] = [answer.body.value].flat();
      [row.expected].flat().forEach((expected, index) => {
        const off = Math.abs((values[index] ?? Number.NaN) - expected);
        expect(off, `${row.id}: ${values[index]} against ${expected}`).toBeLessThanOrEqual(row.tolerance * (1 + 1e-9));
      });
    }
  });

  test('list what they take, and every listed topic is one of the published ones or says what it needs', async () => {
    const { app, api } = await freshStudio();
    const list = await supertest(app.server).get('/api/v1/calc');
    expect(list.status).toBe(200);
    const topics: { topic: string; inputs: string }[] = list.body.topics;
    expect(topics.map(({ topic }) => topic)).toEqual(
      expect.arrayContaining(TRADE_ARITHMETIC.map(({ topic }) => topic)),
    );
    for (const { topic } of topics) {
      const empty = await api.post(`/calc/${topic}`);
      expect(empty.status, topic).toBe(422);
      expect(Object.values(empty.body.fields).join(), topic).toMatch(/need|must|give/);
    }
  });

  test('refuse a cup of soda ash without its grade, beside the field', async () => {
    const { api } = await freshStudio();
    const answer = await api.post('/calc/cup-to-g', { cupUS: 1 });
    expect(answer.status).toBe(422);
    expect(answer.headers['content-type']).toContain('application/problem+json');
    expect(answer.body).toMatchObject({ code: 'invalidInput', status: 422 });
    expect(answer.body.fields.bulkDensity).toContain('grade');
  });

  test.each([
    ['an unknown calculation', '/api/v1/calc/horoscope', '{"goodsG":1}', 404],
    ['a field it does not know', '/api/v1/calc/dye-mass', '{"goodsG":1,"depthPct":2,"mood":3}', 422],
    ['an inherited name', '/api/v1/calc/constructor', '{}', 404],
    ['a list for a body', '/api/v1/calc/dye-mass', '[1,2]', 422],
    ['broken JSON', '/api/v1/calc/dye-mass', '{"goodsG":', 400],
    ['numbers past all bounds', '/api/v1/calc/dye-mass', '{"goodsG":1e308,"depthPct":1e308}', 422],
    ['no number at all', '/api/v1/calc/dye-mass', '{"goodsG":"NaN","depthPct":2}', 422],
  ])('refuse %s', async (_, url, body, status) => {
    const { app, api } = await freshStudio();
    const answer = await supertest(app.server)
      .post(url)
      .set('authorization', `Bearer ${api.token}`)
      .set('content-type', 'application/json')
      .send(body);
    expect(answer.status, answer.text).toBe(status);
  });

  test('stand in the API document', async () => {
    const { app } = await freshStudio();
    const document = await supertest(app.server).get('/api/v1/openapi.json');
    expect(document.body.paths['/api/v1/calc/{topic}']?.post?.responses?.['200']).toBeDefined();
  });
});

test('a script calculates without a token, while another site’s page may not post', async () => {
  const { app } = await freshStudio();
  const ask = (headers: Record<string, string>) =>
    app.inject({ method: 'POST', url: '/api/v1/calc/dye-mass', payload: { goodsG: 125, depthPct: 2 }, headers });
  expect((await ask({})).json()).toMatchObject({ value: 2.5, unit: 'g' });
  expect((await ask({ origin: 'http://elsewhere.test' })).statusCode).toBe(403);
  expect((await ask({ 'sec-fetch-site': 'cross-site', origin: 'http://elsewhere.test' })).statusCode).toBe(403);
  expect((await ask({ cookie: 'studio=x' })).statusCode).toBe(403);
  expect((await app.inject({ method: 'POST', url: '/api/v1/fibres', payload: {} })).statusCode).toBe(401);
});
