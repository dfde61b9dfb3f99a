import fastifySwagger from '@fastify/swagger';
import type { FastifyInstance, RouteOptions } from 'fastify';
import { jsonSchemaTransform, jsonSchemaTransformObject } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { type ErrorCode, errorCatalogue } from '../errors.ts';
import { NO_BODY, NOTHING } from './apiScope.ts';
import { Problem } from './problems.ts';

declare module 'fastify' {
  interface FastifyContextConfig {
    /** What a route answers that is a file and not JSON. */
    download?: { type: string; what: string };
  }
}

/* The document says nothing that the routes do not: bodies, queries and answers are their schemas, and what holds for all of them
 * (refusals, sign-in) is added here once. */

type Json = Record<string, unknown>;
interface Operation extends Json {
  parameters?: Json[];
  requestBody?: { content: Record<string, Json> };
  responses: Record<string, Json>;
}

const MUTATING = new Set(['post', 'put', 'delete']);
const byStatus = Map.groupBy(Object.entries(errorCatalogue), ([, { status }]) => String(status));
const refusalName = (status: string): string => `Refused${status}`;

/** Every status that refuses, with the codes that it may carry. */
function refusals(): Json {
  return Object.fromEntries(
    [...byStatus].map(([status, codes]) => [
      refusalName(status),
      {
        description: codes.map(([code, { means }]) => `\`${code}\`: ${means}`).join('\n\n'),
        content: {
          'application/problem+json': {
            schema: {
              allOf: [
                { $ref: '#/components/schemas/Problem' },
                { type: 'object', properties: { code: { enum: codes.map(([code]) => code) } } },
              ],
            },
          },
        },
      },
    ]),
  );
}

/** The statuses by which an operation may refuse, told from what it takes and does. */
function refusalsOf(path: string, method: string, operation: Operation, open: boolean): string[] {
  const types = Object.keys(operation.requestBody?.content ?? {});
  const writes = MUTATING.has(method) && !path.startsWith('/api/v1/calc/');
  const takes = (operation.parameters?.length ?? 0) > 0 || types.length > 0;
  const codes: (ErrorCode | false)[] = [
    !open && 'notSignedIn',
    !open && 'notAllowed',
    path.includes('{') && 'notFound',
    types.length > 0 && 'unreadableRequest',
    types.length > 0 && 'tooLarge',
    types.includes('multipart/form-data') && 'notAnImage',
    takes && 'invalidInput',
    writes && 'conflict',
    writes && 'diskFull',
    'busy',
    'internal',
  ];
  return codes.filter((code) => code !== false).map((code) => String(errorCatalogue[code].status));
}

const UPLOADED = { type: 'string', format: 'binary' };

/** A route as its schemas describe it, with what they cannot say: files that it takes or gives. */
function describe(input: { schema?: Json; url: string; route: RouteOptions }): { schema: Json; url: string } {
  if (!input.url.startsWith('/api/')) return { schema: { hide: true }, url: input.url };
  const { querystring, body, ...rest } = input.schema ?? {};
  const taken = {
    ...(querystring === NOTHING ? {} : { querystring }),
    ...(body === NO_BODY ? {} : { body }),
  };
  const { schema, url } = jsonSchemaTransform({ ...input, schema: { ...rest, ...taken } } as never) as {
    schema: Json;
    url: string;
  };
  const { upload, download, may } = input.route.config ?? {};
  schema['description'] = [schema['description'] ?? `${schema['summary']}.`, MAY[may ?? '']]
    .filter(Boolean)
    .join('\n\n');
  if (may === 'anyone') schema['security'] = [];
  if (upload) {
    const fields = z.toJSONSchema(upload.fields, { io: 'input' }) as { properties?: Json; required?: string[] };
    schema['consumes'] = ['multipart/form-data'];
    schema['body'] = {
      type: 'object',
      properties: { [upload.file]: { ...UPLOADED, description: upload.of }, ...fields.properties },
      required: [upload.file, ...(fields.required ?? [])],
    };
  }
  if (download) {
    const content = { [download.type]: { schema: download.type.startsWith('text/') ? { type: 'string' } : UPLOADED } };
    schema['response'] = { 200: { description: download.what, content } };
  }
  return { schema, url };
}

const same = (a: unknown, b: unknown): boolean => JSON.stringify(a) === JSON.stringify(b);
const referencesIn = (value: unknown): string[] =>
  [...JSON.stringify(value).matchAll(/"#\/components\/schemas\/([^"]+)"/g)].map((found) => found[1] ?? '');
const referTo = <T>(value: T, from: string, to: string): T =>
  JSON.parse(JSON.stringify(value).replaceAll(`"#/components/schemas/${from}"`, `"#/components/schemas/${to}"`)) as T;

/** Keeps what is referred to. What is taken and given alike has one name: a shape is called …Input only where it differs. */
function tidied<
  Document extends { paths: Json; components: { schemas: Record<string, Json>; responses: Record<string, Json> } },
>(whole: Document): Document {
  let document = whole;
  for (let changed = true; changed; ) {
    changed = false;
    for (const name of Object.keys(document.components.schemas)) {
      const plain = name.replace(/Input$/, '');
      const { [name]: taken, ...others } = document.components.schemas;
      const given = others[plain];
      const asIfGiven =
        given && taken && referTo({ ...taken, additionalProperties: given['additionalProperties'] }, name, plain);
      if (plain === name || !given || !same(sorted(asIfGiven), sorted(given))) continue;
      document = referTo({ ...document, components: { ...document.components, schemas: others } }, name, plain);
      changed = true;
    }
  }
  const { components, ...rest } = document;
  const { schemas, ...others } = components;
  const reached = new Set<string>();
  const reach = (names: readonly string[]): void => {
    for (const name of names) {
      if (reached.has(name)) continue;
      reached.add(name);
      reach(referencesIn(schemas[name] ?? {}));
    }
  };
  reach(referencesIn([rest, others]));
  const used = JSON.stringify(rest);
  const kept = <T>(all: Record<string, T>, which: (name: string) => boolean): Record<string, T> =>
    Object.fromEntries(Object.entries(all).filter(([name]) => which(name)));
  return {
    ...document,
    components: {
      ...components,
      schemas: kept(schemas, (name) => reached.has(name)),
      responses: kept(components.responses, (name) => used.includes(`"#/components/responses/${name}"`)),
    },
  };
}

const MAY: Record<string, string> = {
  anyone: 'Needs no sign-in.',
  look: 'For everybody who is signed in, and for tokens that only read.',
  log: 'For everybody who works, the bench too.',
  work: 'For owners and dyers.',
  own: 'For owners.',
};

/** What the usual readers of such documents cannot make sense of, said in another way: a list of a fixed length is a list of that
 *  many, and what a field is when it is left out stands in words, since by the keyword `default` generators of clients demand the field. */
function readable(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(readable);
  if (typeof value !== 'object' || value === null) return value;
  const walked = Object.fromEntries(Object.entries(value).map(([key, v]) => [key, readable(v)])) as Json;
  const fixed = walked['prefixItems'];
  if (walked['type'] === 'array' && Array.isArray(fixed) && fixed.every((item) => same(item, fixed[0]))) {
    const { prefixItems: _, ...rest } = walked;
    return { ...rest, items: fixed[0], minItems: fixed.length, maxItems: fixed.length };
  }
  // A field may be called `properties` too.
  if (walked['type'] !== 'object') return walked;
  const required = new Set(Array.isArray(walked['required']) ? walked['required'] : []);
  const properties = Object.entries((walked['properties'] ?? {}) as Record<string, Json>).map(([name, field]) => {
    if (required.has(name) || field['default'] === undefined) return [name, field];
    const { default: usual, description, ...rest } = field;
    return [
      name,
      { ...rest, description: [description, `${JSON.stringify(usual)} when left out`].filter(Boolean).join('; ') },
    ];
  });
  return walked['properties'] ? { ...walked, properties: Object.fromEntries(properties) } : walked;
}

const sorted = (value: unknown): unknown => {
  if (Array.isArray(value)) return value.map(sorted);
  if (typeof value !== 'object' || value === null) return value;
  return Object.fromEntries(
    Object.entries(value)
      .filter(([, v]) => v !== undefined)
      .toSorted(([a], [b]) => (a < b ? -1 : 1))
      .map(([key, v]) => [key, sorted(v)]),
  );
};

/** 'idempotency-key' → 'Idempotency-Key', as documents write it; on the way they are all small. */
const headerName = (name: string): string => name.replace(/(^|-)[a-z]/g, (first) => first.toUpperCase());

/** What holds for every address, a paragraph each. */
const API_WORDS: readonly string[] = [
  'Swatch library and production log of a hand-dye studio. Everything that its pages do, by the same rules.',
  'Send a token, made in Settings under API tokens, as `Authorization: Bearer …`. A token that may read can use every GET and the calculators; one that may read and record can do what its owner’s role may. The calculators need no token.',
  'Quantities are integers in the smallest unit, which ends their name: Mg, Ul (µL), Ppm (1 % is 10 000 ppm), Minor (money). Times (…At) are epoch milliseconds UTC; days (…On) are written 2026-03-16 and are the studio’s.',
  'An entry carries a `clientId` that the sender makes up. The same entry sent again, after an answer was lost, is recorded once and answered as the first time; other content under a used id is refused.',
  'Every POST that creates something takes an `Idempotency-Key`, a name of the sender’s own making. Within a day the same request with the same key, of the same person, is answered as the first time (`Idempotency-Replayed: true`) and creates nothing more; other content under it is refused (409).',
  'What is hard to believe (`needsConfirming`) is recorded once it comes with `confirmed`: look at it first. A way out of an over-weighed line carries the figures that it was chosen on, as `GET …/ways-out/:componentId` hands them out, and is applied on these or becomes a question.',
];

/** The OpenAPI 3.1 document, made from the schemas of the routes themselves; GET /api/v1/openapi.json. */
export async function installApiDocument(app: FastifyInstance, version: string): Promise<void> {
  const tags = new Set<string>();
  app.addHook('onRoute', (route) => {
    for (const tag of route.schema?.tags ?? []) tags.add(tag);
  });
  await app.register(fastifySwagger, {
    openapi: {
      openapi: '3.1.0',
      info: {
        title: 'Lot & Shade',
        version,
        description: [
          ...API_WORDS,
          'Keys and queries that are not known are refused. Refusals are RFC 9457 problems with a `code`, described at /api/v1/problems.',
          'The guide’s section for scripts, /guide/scripts, has the whole way by curl.',
          'A list that may be long takes `limit`, and `after` with what the answer before called `next`.',
        ].join('\n\n'),
        contact: { name: 'whoever looks after this studio’s computer' },
        license: { name: 'see the project’s README', url: 'about:blank' },
      },
      servers: [{ url: '/', description: 'this studio' }],
      components: { securitySchemes: { token: { type: 'http', scheme: 'bearer' } }, responses: refusals() as never },
      security: [{ token: [] }],
    },
    transform: (input) => describe(input as never) as never,
    transformObject: (input) => {
      const document = jsonSchemaTransformObject(input) as unknown as {
        tags?: Json[];
        paths: Record<string, Record<string, Operation>>;
        components: { schemas: Record<string, Json> };
      };
      for (const [path, methods] of Object.entries(document.paths))
        for (const [method, operation] of Object.entries(methods)) {
          for (const parameter of operation.parameters ?? [])
            if (parameter['in'] === 'header') parameter['name'] = headerName(String(parameter['name']));
          for (const status of refusalsOf(path, method, operation, same(operation['security'], [])))
            operation.responses[status] = { $ref: `#/components/responses/${refusalName(status)}` };
        }
      document.tags = [...tags].toSorted().map((name) => ({ name }));
      document.components.schemas['Problem'] ??= z.toJSONSchema(Problem) as Json;
      return tidied(readable(document) as never);
    },
  });
  app.get('/api/v1/openapi.json', { config: { may: 'anyone' }, schema: { hide: true } }, async () => app.swagger());
}
