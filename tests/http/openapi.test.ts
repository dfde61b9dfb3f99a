import { expect, test } from 'vitest';
import { declaredRoutes } from '../../server/people/guards.ts';
import { freshStudio } from '../support/app.ts';

test('the OpenAPI document is made from the routes themselves: every route of the API is in it, and every reference leads somewhere', async () => {
  const { app } = await freshStudio();
  const answer = await app.inject({ url: '/api/v1/openapi.json' });
  expect(answer.statusCode).toBe(200);
  const document = answer.json() as {
    openapi: string;
    paths: Record<string, Record<string, { summary?: string; tags?: string[] }>>;
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
      .filter(([, m]) => !m.summary || !m.tags?.length)
      .map(([method]) => `${method} ${path}`),
  );
  expect(untold).toEqual([]);
  const references = [...answer.body.matchAll(/"\$ref":"#\/components\/schemas\/([^"]+)"/g)].map((m) => m[1] ?? '');
  expect(references.filter((name) => !(name in document.components.schemas))).toEqual([]);
});
