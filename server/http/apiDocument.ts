import fastifySwagger from '@fastify/swagger';
import type { FastifyInstance } from 'fastify';
import { jsonSchemaTransform, jsonSchemaTransformObject } from 'fastify-type-provider-zod';
import { errorCatalogue } from '../errors.ts';

/** What holds for every address, a paragraph each. */
const API_WORDS: readonly string[] = [
  'Swatch library and production log of a hand-dye studio. Everything that its pages do, by the same rules.',
  'Send a token, made in Settings, as `Authorization: Bearer …`. A token that may read can use every GET and the calculators; one that may read and record can do what its owner’s role may. The calculators need no token.',
  'Quantities are integers in the smallest unit: mg, µL, ppm (1 % is 10 000 ppm), money in minor units. Times are epoch milliseconds UTC; days are written 2026-03-16 and are the studio’s.',
  'An entry carries a `clientId` that the sender makes up. The same entry sent again, after an answer was lost, is recorded once and answered as the first time; other content under a used id is refused.',
  'What is hard to believe (`needsConfirming`) is recorded once it comes with `confirmed`: look at it first. A way out of an over-weighed line carries the figures that it was chosen on, as `GET …/ways-out/:componentId` hands them out, and is applied on these or becomes a question.',
];

/** The OpenAPI 3.1 document, made from the schemas of the routes themselves; GET /api/v1/openapi.json. */
export async function installApiDocument(app: FastifyInstance, version: string): Promise<void> {
  await app.register(fastifySwagger, {
    openapi: {
      openapi: '3.1.0',
      info: {
        title: 'Lot & Shade',
        version,
        description: [
          ...API_WORDS,
          `Refusals are RFC 9457 problem details with a code: ${Object.entries(errorCatalogue)
            .map(([code, e]) => `${code} (${e.status})`)
            .join(', ')}.`,
        ].join('\n\n'),
      },
      components: { securitySchemes: { token: { type: 'http', scheme: 'bearer' } } },
      security: [{ token: [] }],
      externalDocs: {
        description: 'The guide’s section for scripts, with the whole way by curl',
        url: '/guide/scripts',
      },
    },
    transform: (input) =>
      input.url.startsWith('/api/') ? jsonSchemaTransform(input as never) : { schema: { hide: true }, url: input.url },
    transformObject: jsonSchemaTransformObject,
  });
  app.get('/api/v1/openapi.json', { config: { may: 'anyone' }, schema: { hide: true } }, async () => app.swagger());
}
