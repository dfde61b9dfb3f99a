import supertest from 'supertest';
import { describe, expect, test } from 'vitest';
import { fieldsOf } from '../../server/calculators/calculation.ts';
import { CALCULATIONS } from '../../server/calculators/table.ts';
import { makeToken } from '../../server/people/signIn.ts';
import { BATH_AND_GOODS_ARITHMETIC } from '../reference/bathAndGoodsArithmetic.ts';
import { TRADE_ARITHMETIC } from '../reference/tradeArithmetic.ts';
import { freshStudio } from '../support/app.ts';
import { type Ask, printedAnswer } from '../support/workedInputs.ts';

interface Operation {
  operationId?: string;
  summary?: string;
  description?: string;
  requestBody?: { content: { 'application/json': { schema: Record<string, unknown>; example?: object } } };
}

describe('calculators for scripts', () => {
  test('answer every published figure, for a token that may only read', async () => {
    const { app, deps, owner } = await freshStudio();
    const { token } = makeToken(deps, { name: 'script', scope: 'read', expiresAt: null }, owner.personId);
    const ask: Ask = async (name, inputs) => {
      const answer = await supertest(app.server)
        .post(`/api/v1/calc/${name}`)
        .set('authorization', `Bearer ${token}`)
        .send(inputs as object);
      expect(answer.status, `${name} ${answer.text}`).toBe(200);
      return answer.body;
    };
    for (const row of [...TRADE_ARITHMETIC, ...BATH_AND_GOODS_ARITHMETIC]) {
      const values = await printedAnswer(row, ask);
      const expected = [row.expected].flat();
      expect(values, row.id).toHaveLength(expected.length);
      expected.forEach((one, index) => {
        const off = Math.abs((values[index] ?? Number.NaN) - one);
        expect(off, `${row.id}: ${values[index]} against ${one}`).toBeLessThanOrEqual(row.tolerance * (1 + 1e-9));
      });
    }
  });

  test('stand in the API document, each with a name, formula or source, its own strict body and an example that it answers', async () => {
    const { app } = await freshStudio();
    const { body: document } = await supertest(app.server).get('/api/v1/openapi.json');
    const paths: Record<string, { post?: Operation }> = document.paths;
    const ids = new Set<string>();
    for (const [name, { summary, formula, source }] of Object.entries(CALCULATIONS)) {
      const operation = paths[`/api/v1/calc/${name}`]?.post;
      expect(operation?.summary, name).toBe(summary);
      expect(operation?.operationId, name).toMatch(/^calculate([A-Z][a-z0-9]*)+$/);
      for (const words of [formula, source]) if (words !== undefined) expect(operation?.description).toContain(words);
      ids.add(operation?.operationId ?? '');
      const { schema, example } = operation?.requestBody?.content['application/json'] ?? {};
      const cases = (schema?.['oneOf'] ?? [schema]) as Record<string, unknown>[];
      for (const one of cases) expect(one['additionalProperties'], name).toBe(false);
      expect(example, name).toBeDefined();
      const answer = await supertest(app.server).post(`/api/v1/calc/${name}`).send(example);
      expect(answer.status, `${name} ${answer.text}`).toBe(200);
    }
    expect(ids.size).toBe(Object.keys(CALCULATIONS).length);
    const properties = paths['/api/v1/calc/dye-mass']?.post?.requestBody?.content['application/json'].schema;
    expect(properties).toMatchObject({
      properties: {
        goodsDryMassG: { type: 'number', exclusiveMinimum: 0, title: 'Dry goods', 'x-unit': 'g' },
        sharePct: { minimum: 0, maximum: 100, description: '100 when left out', 'x-unit': '%' },
      },
      required: ['goodsDryMassG', 'depthPct'],
    });
    expect(Object.keys(paths).filter((path) => path.startsWith('/api/v1/calc/'))).toHaveLength(ids.size);
  });

  test('list their inputs and outputs with label and unit', async () => {
    const { app } = await freshStudio();
    const { body } = await supertest(app.server).get('/api/v1/calc');
    const listed: { name: string; inputs: object[] }[] = body.calculations;
    expect(listed.map(({ name }) => name)).toEqual(Object.keys(CALCULATIONS));
    const plain = { isRequired: true, isList: false, whenLeftOut: null, choices: null, fields: [] };
    expect(listed).toContainEqual({
      name: 'depth-of-mass',
      family: 'Dye',
      summary: 'Depth back from a mass of dye',
      inputs: [
        { ...plain, name: 'dyeMassG', label: 'Dye', unit: 'g' },
        { ...plain, name: 'goodsDryMassG', label: 'Dry goods', unit: 'g' },
      ],
      outputs: [{ ...plain, name: 'depthPct', label: 'Depth, on weight of goods', unit: '%' }],
    });
    const inputsOf = (wanted: string) => listed.find(({ name }) => name === wanted)?.inputs;
    expect(inputsOf('dye-mass')).toContainEqual(
      expect.objectContaining({ name: 'strengthPct', isRequired: false, whenLeftOut: 100 }),
    );
    expect(inputsOf('unit-conversion')).toContainEqual(
      expect.objectContaining({ name: 'from', choices: expect.arrayContaining(['oz', 'ozPerYd2', 'degF']) }),
    );
    expect(inputsOf('damp-goods-by-sample')).toContainEqual(
      expect.objectContaining({ name: 'regainPct', isRequired: false }),
    );
    expect(inputsOf('blend-regain')).toMatchObject([
      {
        name: 'parts',
        isList: true,
        fields: [
          { name: 'dryPct', unit: '%' },
          { name: 'regainPct', unit: '%' },
        ],
      },
    ]);
  });

  test('say what is missing beside each field that is needed, and refuse by name what they do not know', async () => {
    const { api } = await freshStudio();
    for (const [name, { input, example }] of Object.entries(CALCULATIONS)) {
      const empty = await api.post(`/calc/${name}`, {});
      expect(empty.status, name).toBe(422);
      expect(empty.headers['content-type']).toContain('application/problem+json');
      expect(Object.values(empty.body.fields).join(), name).toMatch(/This is needed|must be given/);
      const needed = fieldsOf(input, 'input').filter(({ isRequired }) => isRequired);
      const named = Object.keys(empty.body.fields);
      expect(
        needed.map((field) => field.name),
        name,
      ).toEqual(expect.arrayContaining(named));
      const unknown = await api.post(`/calc/${name}`, { ...example, moonPhase: 3 });
      expect(unknown.status, name).toBe(422);
      expect(unknown.body.fields, name).toHaveProperty('moonPhase');
    }
    const missing = await api.post('/calc/cloth-mass', { lengthM: 2 });
    expect(missing.body.fields).toEqual({ arealMassGPerM2: 'This is needed.', widthM: 'This is needed.' });
  });

  test('refuse a cup of soda ash without its bulk density, beside the field', async () => {
    const { api } = await freshStudio();
    const answer = await api.post('/calc/scoop-mass', { volumeMl: 236.6 });
    expect(answer.status).toBe(422);
    expect(answer.body).toMatchObject({ code: 'invalidInput', status: 422 });
    expect(answer.body.fields).toEqual({ bulkDensityKgPerM3: expect.stringContaining('needed') });
  });

  test.each([
    ['an unknown calculation', '/api/v1/calc/horoscope', '{"goodsDryMassG":1}', 404],
    ['the spelling of yesterday', '/api/v1/calc/dye-mass', '{"goodsG":1,"depthPct":2}', 422],
    ['an inherited name', '/api/v1/calc/constructor', '{}', 404],
    ['a list for a body', '/api/v1/calc/dye-mass', '[1,2]', 422],
    ['broken JSON', '/api/v1/calc/dye-mass', '{"goodsDryMassG":', 400],
    ['numbers past all bounds', '/api/v1/calc/dye-mass', '{"goodsDryMassG":1e308,"depthPct":1e308}', 422],
    ['no number at all', '/api/v1/calc/dye-mass', '{"goodsDryMassG":"NaN","depthPct":2}', 422],
    ['a number in words', '/api/v1/calc/dye-mass', '{"goodsDryMassG":"125","depthPct":2}', 422],
    ['what no number can hold', '/api/v1/calc/stock-volume-of-mass', '{"massG":1e308,"stockStrengthPct":1e-9}', 422],
    ['a unit of another kind', '/api/v1/calc/unit-conversion', '{"value":1,"from":"oz","to":"m"}', 422],
  ])('refuse %s', async (_, url, body, status) => {
    const { app, api } = await freshStudio();
    const answer = await supertest(app.server)
      .post(url)
      .set('authorization', `Bearer ${api.token}`)
      .set('content-type', 'application/json')
      .send(body);
    expect(answer.status, answer.text).toBe(status);
  });
});

test('a script calculates without a token, while another site’s page may not post', async () => {
  const { app } = await freshStudio();
  const payload = { goodsDryMassG: 125, depthPct: 2 };
  const ask = (headers: Record<string, string>) =>
    app.inject({ method: 'POST', url: '/api/v1/calc/dye-mass', payload, headers });
  expect((await ask({})).json()).toEqual({ massG: 2.5 });
  expect((await ask({ origin: 'http://elsewhere.test' })).statusCode).toBe(403);
  expect((await ask({ 'sec-fetch-site': 'cross-site', origin: 'http://elsewhere.test' })).statusCode).toBe(403);
  expect((await ask({ cookie: 'studio=x' })).statusCode).toBe(403);
  expect((await app.inject({ method: 'POST', url: '/api/v1/fibres', payload: {} })).statusCode).toBe(401);
});
