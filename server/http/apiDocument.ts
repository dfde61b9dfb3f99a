import fastifySwagger from '@fastify/swagger';
import type { FastifyInstance } from 'fastify';
import { jsonSchemaTransform, jsonSchemaTransformObject } from 'fastify-type-provider-zod';
import { errorCatalogue } from '../errors.ts';

/** The OpenAPI 3.1 document, made from the schemas of the routes themselves; GET /api/v1/openapi.json. */
export async function installApiDocument(app: FastifyInstance, version: string): Promise<void> {
  await app.register(fastifySwagger, {
    openapi: {
      openapi: '3.1.0',
      info: {
        title: 'Lot & Shade',
        version,
        description: `Swatch library and production log of a hand-dye studio. Quantities are integers in the smallest unit (mg, µL, ppm, money in minor units); times are epoch milliseconds UTC. Refusals are RFC 9457 problem details with a code: ${Object.entries(
          errorCatalogue,
        )
          .map(([code, e]) => `${code} (${e.status})`)
          .join(', ')}.`,
      },
      components: { securitySchemes: { token: { type: 'http', scheme: 'bearer' } } },
      security: [{ token: [] }],
    },
    transform: (input) =>
      input.url.startsWith('/api/') ? jsonSchemaTransform(input as never) : { schema: { hide: true }, url: input.url },
    transformObject: jsonSchemaTransformObject,
  });
  app.get('/api/v1/openapi.json', { config: { may: 'anyone' }, schema: { hide: true } }, async () => app.swagger());
}
