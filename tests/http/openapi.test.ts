import spectralCore from '@stoplight/spectral-core';
import { oas } from '@stoplight/spectral-rulesets';
import { expect, test } from 'vitest';
import { errorCatalogue } from '../../server/errors.ts';
import { declaredRoutes } from '../../server/people/guards.ts';
import { freshStudio } from '../support/app.ts';

type Json = Record<string, unknown>;
interface Operation {
  operationId?: string;
  summary?: string;
  tags?: string[];
  parameters?: { name: string; in: string }[];
  responses: Record<string, { $ref?: string; content?: Json }>;
}
interface ApiDocument {
  openapi: string;
  paths: Record<string, Record<string, Operation>>;
  components: { schemas: Record<string, Json>; responses: Record<string, Json> };
}

async function documentOf(): Promise<{ document: ApiDocument; body: string; routes: string[] }> {
  const { app } = await freshStudio();
  const answer = await app.inject({ url: '/api/v1/openapi.json' });
  expect(answer.statusCode).toBe(200);
  // A pattern in an address marks the short name of a route that is described under its long one.
  const routes = declaredRoutes(app)
    .flatMap(({ method, url }) => method.split(',').map((m) => ({ method: m, url })))
    .filter(
      ({ method, url }) =>
        url.startsWith('/api/v1/') && method !== 'HEAD' && !url.endsWith('openapi.json') && !url.includes('('),
    )
    .map(({ method, url }) => `${method} ${url.replace(/:(\w+)/g, '{$1}')}`);
  return { document: answer.json() as ApiDocument, body: answer.body, routes };
}
const operationsOf = (document: ApiDocument): { name: string; path: string; method: string; of: Operation }[] =>
  Object.entries(document.paths).flatMap(([path, methods]) =>
    Object.entries(methods).map(([method, of]) => ({ name: `${method.toUpperCase()} ${path}`, path, method, of })),
  );

test('the OpenAPI document is made from the routes themselves: every route of the API is in it, and every reference leads somewhere', async () => {
  const { document, body, routes } = await documentOf();
  expect(document.openapi).toBe('3.1.0');
  const operations = operationsOf(document);
  const described = new Set(operations.map(({ name }) => name));
  expect(routes.length).toBeGreaterThan(60);
  expect(routes.filter((route) => !described.has(route))).toEqual([]);
  expect(
    operations.filter(({ of }) => !of.summary || !of.tags?.length || !of.tags.every(Boolean)).map(({ name }) => name),
  ).toEqual([]);
  const ids = operations.map(({ of }) => of.operationId ?? '');
  expect(ids.filter((id, i) => id === '' || ids.indexOf(id) !== i)).toEqual([]);
  const references = [...body.matchAll(/"\$ref":"#\/components\/(\w+)\/([^"]+)"/g)];
  const known = document.components as unknown as Record<string, Json>;
  expect(references.filter(([, kind = '', name = '']) => !(name in (known[kind] ?? {})))).toEqual([]);
});

test('what the shelf and the books answer is told as well; 204 says nothing', async () => {
  const { document } = await documentOf();
  const books = operationsOf(document).filter(({ path }) =>
    /^\/api\/v1\/(stock|costing|history|exports|cost-lines|orders\/\{id\}\/quote)/.test(path),
  );
  const told = ({ of }: (typeof books)[number]): boolean =>
    /"properties":\{"|"\$ref"|"text\/csv"|"binary"/.test(JSON.stringify([of.responses['200'], of.responses['201']]));
  expect(books.length).toBeGreaterThan(20);
  expect(books.filter((operation) => !told(operation)).map(({ name }) => name)).toEqual([
    'DELETE /api/v1/exports/saved/{id}',
  ]);
});

test('no shape is described twice, and none that nothing takes or gives', async () => {
  const { document, body } = await documentOf();
  const names = Object.keys(document.components.schemas);
  expect(names.filter((name) => !body.includes(`"#/components/schemas/${name}"`))).toEqual([]);
  const bodies = names.map((name) => JSON.stringify(document.components.schemas[name]));
  expect(names.filter((_, i) => bodies.indexOf(bodies[i] ?? '') !== i)).toEqual([]);
});

test('every operation declares its refusals, each a problem with its codes', async () => {
  const { document } = await documentOf();
  for (const { name, path, method, of } of operationsOf(document)) {
    const refused = Object.entries(of.responses).filter(([status]) => Number(status) >= 400);
    expect(
      refused.every(([status, { $ref }]) => $ref === `#/components/responses/Refused${status}`),
      name,
    ).toBe(true);
    const statuses = refused.map(([status]) => status);
    expect(statuses, name).toEqual(expect.arrayContaining(['500', '503']));
    if (path.includes('{')) expect(statuses, name).toContain('404');
    if (method !== 'get') expect(statuses, name).toContain('422');
  }
  const declared = JSON.stringify(document.components.responses);
  // Only the doors count tries, and a request under a foreign name reaches no operation.
  expect(Object.keys(errorCatalogue).filter((code) => !declared.includes(`"${code}"`))).toEqual([
    'wrongHost',
    'tooManyTries',
  ]);
});

test('the recommended rules of the field’s linter find nothing', { timeout: 600_000 }, async () => {
  const { body } = await documentOf();
  const linter = new spectralCore.Spectral();
  linter.setRuleset({ extends: [[oas as never, 'recommended']] });
  const found = await linter.run(body);
  expect(found.map(({ code, path, message }) => `${String(code)} at ${path.join('.')}: ${message}`)).toEqual([]);
});

test('what a problem’s type leads to tells what it means', async () => {
  const { api } = await freshStudio();
  const refused = await api.post('/fibres', {});
  const { body: kind } = await api.get(refused.body.type.replace('/api/v1', ''));
  expect(kind).toEqual({ type: refused.body.type, code: 'invalidInput', ...errorCatalogue.invalidInput });
  expect((await api.get('/problems')).body.problems).toHaveLength(Object.keys(errorCatalogue).length);
  expect((await api.get('/problems/moon-phase')).status).toBe(404);
});
