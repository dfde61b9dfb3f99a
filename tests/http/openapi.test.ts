import { expect, test } from 'vitest';
import { declaredRoutes } from '../../server/people/guards.ts';
import { freshStudio } from '../support/app.ts';

test('the OpenAPI document is made from the routes themselves: every route of the API is in it, and every reference leads somewhere', async () => {
  const { app } = await freshStudio();
  const answer = await app.inject({ url: '/api/v1/openapi.json' });
  expect(answer.statusCode).toBe(200);
  const document = answer.json() as {
    openapi: string;
    paths: Record<string, Record<string, { summary?: string; tags?: string[]; responses?: Record<string, object> }>>;
    components: { schemas: Record<string, unknown> };
  };
  expect(document.openapi).toBe('3.1.0');
  const described = new Set(
    Object.entries(document.paths).flatMap(([path, methods]) =>
      Object.keys(methods).map((method) => `${method.toUpperCase()} ${path}`),
    ),
  );
  // A pattern in an address marks the short name of a route that is described under its long one.
  const routes = declaredRoutes(app)
    .flatMap(({ method, url }) => method.split(',').map((m) => ({ method: m, url })))
    .filter(
      ({ method, url }) =>
        url.startsWith('/api/v1/') && method !== 'HEAD' && !url.endsWith('openapi.json') && !url.includes('('),
    )
    .map(({ method, url }) => `${method} ${url.replace(/:(\w+)/g, '{$1}')}`);
  expect(routes.length).toBeGreaterThan(60);
  expect(routes.filter((route) => !described.has(route))).toEqual([]);
  const untold = Object.entries(document.paths).flatMap(([path, methods]) =>
    Object.entries(methods)
      .filter(([, m]) => !m.summary || !m.tags?.length || !m.tags.every(Boolean))
      .map(([method]) => `${method} ${path}`),
  );
  expect(untold).toEqual([]);
  // What the shelf and the books answer is told as well; a file is a file, and 204 says nothing.
  const books = Object.entries(document.paths).filter(
    ([path]) =>
      /^\/api\/v1\/(stock|costing|history|exports|cost-lines|orders\/\{id\}\/quote)/.test(path) &&
      !/\.(csv|xlsx)$/.test(path),
  );
  const silent = books.flatMap(([path, methods]) =>
    Object.entries(methods)
      .filter(([, m]) => !/"properties":\{"|"\$ref"/.test(JSON.stringify(m.responses ?? {})))
      .map(([method]) => `${method} ${path}`),
  );
  expect(books.length).toBeGreaterThan(20);
  expect(silent).toEqual(['delete /api/v1/exports/saved/{id}']);
  const references = [...answer.body.matchAll(/"\$ref":"#\/components\/schemas\/([^"]+)"/g)].map((m) => m[1] ?? '');
  expect(references.filter((name) => !(name in document.components.schemas))).toEqual([]);
});
