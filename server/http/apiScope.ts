import { z } from 'zod';
import type { App } from './app.ts';

/** What a route takes that declares no body or no query: nothing. */
export const NOTHING = z.object({});
export const NO_BODY = z.object({}).nullish();

/** What holds for every route of the API. A route that says too little of itself stops the service at start. */
export function apiScope(api: App): void {
  api.addHook('onRequest', async (_request, reply) => {
    // Asked for anew each time, and kept by nobody between.
    reply.header('cache-control', 'private, no-cache');
  });
  api.addHook('onRoute', (route) => {
    const { schema } = route;
    if (route.method === 'HEAD' || schema?.hide) return;
    if (!schema?.operationId || !schema.summary)
      throw new Error(`${route.method} ${route.url} has no operationId or no summary`);
    schema.querystring ??= NOTHING;
    const writes = route.method === 'POST' || route.method === 'PUT';
    if (writes && !route.config?.upload) schema.body ??= NO_BODY;
  });
}
