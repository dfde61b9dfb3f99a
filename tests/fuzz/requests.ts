import fc from 'fast-check';
import type { Form, Living } from './living.ts';

/* Requests made from the service's own API document: some that its schemas accept, some that miss by one thing, and some that
   nobody would send in good faith. */

export interface JsonSchema {
  $ref?: string;
  type?: string | readonly string[];
  enum?: readonly unknown[];
  const?: unknown;
  anyOf?: readonly JsonSchema[];
  oneOf?: readonly JsonSchema[];
  allOf?: readonly JsonSchema[];
  properties?: Readonly<Record<string, JsonSchema>>;
  required?: readonly string[];
  additionalProperties?: boolean | JsonSchema;
  items?: JsonSchema;
  prefixItems?: readonly JsonSchema[];
  minItems?: number;
  maxItems?: number;
  minLength?: number;
  maxLength?: number;
  pattern?: string;
  format?: string;
  minimum?: number;
  maximum?: number;
  exclusiveMinimum?: number;
  exclusiveMaximum?: number;
  default?: unknown;
}
interface Operation {
  parameters?: readonly { in: 'path' | 'query' | 'header'; name: string; required?: boolean; schema: JsonSchema }[];
  requestBody?: { content?: Readonly<Record<string, { schema?: JsonSchema }>> };
}
export interface ApiDocument {
  paths: Readonly<Record<string, Readonly<Record<string, Operation>>>>;
  components?: { schemas?: Readonly<Record<string, JsonSchema>> };
}

export type Manner = 'valid' | 'nearValid' | 'hostile';
export interface FuzzRequest {
  route: string;
  manner: Manner;
  method: string;
  url: string;
  headers: Record<string, string>;
  payload: string | null;
}

/** Strings that have broken something somewhere: SQL, markup, templates, format characters, escapes, halves of characters. */
export const HOSTILE_STRINGS: readonly string[] = [
  '',
  ' ',
  '\0',
  'a\0b',
  '\u202e\u0000\ufeff',
  '\ud800',
  '\udfff\ud800',
  '👩🏽‍🚀'.repeat(50),
  "' OR 1=1 --",
  "'; DROP TABLE lots; --",
  '" OR ""="',
  '%00',
  '%',
  '_%',
  '<script>alert(1)</script>',
  '"><img src=x onerror=alert(1)>',
  '#{7*7}{{7*7}}<%= 7*7 %>',
  '../../../../etc/passwd',
  '..\\..\\windows',
  'file:///etc/passwd',
  '=1+1',
  '=HYPERLINK("http://x","y")',
  '\r\nset-cookie: a=b',
  '__proto__',
  'constructor',
  'NaN',
  'Infinity',
  '-0',
  '1e400',
  '1e-400',
  '9007199254740993',
  '99999999999999999999999999',
  '0x10',
  '1,5',
  '-1',
  '2026-02-30',
  '0000-00-00',
  '9999-12-31',
  '2026-13-01T25:61:61Z',
  'a'.repeat(5000),
  '🧶'.repeat(3000),
  '((((((((((((((((((((a+)+)+)+)+)+)+',
  '"*" NEAR/0 OR AND NOT (',
];
const HOSTILE_NUMBERS: readonly number[] = [
  0,
  -0,
  -1,
  0.5,
  1e-9,
  1e21,
  -1e21,
  1e308,
  2 ** 31,
  2 ** 53,
  2 ** 53 + 2,
  2 ** 63,
  -(2 ** 63),
  8.64e15,
  8.64e15 + 1,
];

const hostileString = fc.constantFrom(...HOSTILE_STRINGS);
const hostileNumber = fc.constantFrom(...HOSTILE_NUMBERS);
const hostileJson: fc.Arbitrary<unknown> = fc.oneof(
  fc.constant(null),
  fc.boolean(),
  hostileNumber,
  hostileString,
  fc.array(hostileString, { maxLength: 4 }),
  fc.constant([]),
  fc.constant({}),
  fc.constant(nested(200)),
  fc.jsonValue({ maxDepth: 3 }),
);
function nested(depth: number): unknown {
  let value: unknown = 1;
  for (let i = 0; i < depth; i++) value = i % 2 ? [value] : { a: value };
  return value;
}

export interface Known {
  /** A number that ids are likely to have in the seeded studio. */
  highestId: number;
  now: number;
}

/** Values that a schema accepts, as far as it can be told from the document. */
function valid(schema: JsonSchema, document: ApiDocument, known: Known, name = '', depth = 0): fc.Arbitrary<unknown> {
  const again = (s: JsonSchema, n = name): fc.Arbitrary<unknown> => valid(s, document, known, n, depth + 1);
  if (schema.$ref) {
    const target = document.components?.schemas?.[schema.$ref.split('/').at(-1) ?? ''];
    return target && depth < 12 ? again(target) : fc.constant(null);
  }
  if (schema.const !== undefined) return fc.constant(schema.const);
  if (schema.enum) return fc.constantFrom(...schema.enum);
  const either = schema.anyOf ?? schema.oneOf;
  if (either && either.length > 0) return fc.oneof(...either.map((s) => again(s)));
  if (schema.allOf)
    return fc.tuple(...schema.allOf.map((s) => again(s))).map((parts) => Object.assign({}, ...(parts as object[])));
  if (Array.isArray(schema.type)) {
    return fc.oneof(...(schema.type as string[]).map((type) => again({ ...schema, type })));
  }
  switch (schema.type) {
    case 'null':
      return fc.constant(null);
    case 'boolean':
      return fc.boolean();
    case 'integer':
    case 'number':
      return number(schema, known, name);
    case 'string':
      return text(schema, known, name);
    case 'array':
      return schema.prefixItems
        ? fc.tuple(...schema.prefixItems.map((s) => again(s)))
        : fc.array(again(schema.items ?? {}), {
            minLength: schema.minItems ?? 0,
            maxLength: Math.min(schema.maxItems ?? 4, Math.max(4, schema.minItems ?? 0)),
          });
    case 'object': {
      const properties = schema.properties ?? {};
      const required = new Set(schema.required ?? []);
      return fc.record(Object.fromEntries(Object.entries(properties).map(([key, s]) => [key, again(s, key)])), {
        requiredKeys: Object.keys(properties).filter((key) => required.has(key)),
      });
    }
    default:
      return fc.jsonValue({ maxDepth: 1 });
  }
}

function number(schema: JsonSchema, known: Known, name: string): fc.Arbitrary<number> {
  const whole = schema.type === 'integer';
  const min =
    schema.minimum ?? (schema.exclusiveMinimum !== undefined ? schema.exclusiveMinimum + (whole ? 1 : 1e-6) : -1000);
  const max =
    schema.maximum ??
    (schema.exclusiveMaximum !== undefined
      ? schema.exclusiveMaximum - (whole ? 1 : 1e-6)
      : Math.max(min, 0) + 2_000_000);
  if (/(^i|I)d$/.test(name)) return fc.integer({ min: Math.max(1, min), max: Math.max(1, known.highestId) });
  if (/^(at|.*At|since|after|before)$/.test(name) && max >= known.now)
    return fc.integer({ min: Math.max(min, known.now - 400 * 86_400_000), max: Math.min(max, known.now + 3_600_000) });
  if (/version/i.test(name)) return fc.integer({ min: 1, max: 3 });
  if (!whole) return fc.double({ min, max, noNaN: true });
  const [low, high] = [Math.max(min, Number.MIN_SAFE_INTEGER), Math.min(max, Number.MAX_SAFE_INTEGER)];
  return fc.oneof(
    { weight: 3, arbitrary: fc.integer({ min: low, max: Math.max(low, Math.min(high, low + 2_000_000)) }) },
    { weight: 1, arbitrary: fc.constantFrom(low, high) },
  );
}

const day = fc
  .date({ min: new Date(Date.UTC(2025, 0, 1)), max: new Date(Date.UTC(2027, 0, 1)), noInvalidDate: true })
  .map((d) => d.toISOString().slice(0, 10));

function text(schema: JsonSchema, known: Known, name: string): fc.Arbitrary<string> {
  const { minLength = 0, maxLength = 60 } = schema;
  if (schema.format === 'date' || /On$|^(from|to)$/.test(name)) return day;
  if (/(^i|I)d$/.test(name) && schema.pattern) return fc.integer({ min: 1, max: known.highestId }).map(String);
  if (name === 'clientId' || schema.format === 'uuid') return fc.uuid();
  if (schema.pattern) {
    try {
      return fc.stringMatching(new RegExp(schema.pattern, 'u'));
    } catch {
      return fc.string({ minLength, maxLength: Math.min(maxLength, 60) });
    }
  }
  return fc.oneof(
    fc.string({ minLength: Math.max(minLength, 1), maxLength: Math.min(maxLength, 40), unit: 'grapheme' }),
    fc
      .constantFrom('Linen', 'Estuary', 'RB', '24 napkins', '<b>bold</b>', 'A & B')
      .filter((s) => s.length >= minLength && s.length <= maxLength),
  );
}

type Change = [which: number, other: unknown, how: number];

/** One thing of a value changed: left out, of another type, out of range, or one more than was asked for. */
function withChange(value: unknown, [which, other, how]: Change): unknown {
  const copy = structuredClone(value);
  const places: { holder: Record<string, unknown>; key: string }[] = [];
  const walk = (v: unknown): void => {
    if (typeof v !== 'object' || v === null) return;
    for (const key of Object.keys(v)) {
      places.push({ holder: v as Record<string, unknown>, key });
      walk((v as Record<string, unknown>)[key]);
    }
  };
  walk(copy);
  const place = places[which % Math.max(1, places.length)];
  if (!place) return other;
  if (how === 0) delete place.holder[place.key];
  else if (how === 1) place.holder['more'] = other;
  else place.holder[place.key] = other;
  return copy;
}
const nearValid = (base: fc.Arbitrary<unknown>): fc.Arbitrary<unknown> =>
  fc.tuple(base, fc.tuple(fc.nat(), hostileJson, fc.nat(3))).map(([value, change]) => withChange(value, change));

const hostileHeaders: fc.Arbitrary<Record<string, string>> = fc.oneof(
  { weight: 5, arbitrary: fc.constant({}) },
  {
    weight: 1,
    arbitrary: fc.constantFrom<Record<string, string>>(
      { 'content-type': 'text/plain' },
      { 'content-type': 'application/json; charset=utf-16' },
      { 'content-type': 'application/x-www-form-urlencoded' },
      { 'content-type': 'multipart/form-data' },
      { 'content-type': 'multipart/form-data; boundary=x' },
      { 'content-type': 'application/json', 'content-encoding': 'gzip' },
      { accept: 'text/html' },
      { 'accept-encoding': 'gzip, br, zstd, *;q=0' },
      { 'if-none-match': '*' },
      { range: 'bytes=0-18446744073709551615' },
      { cookie: `studio=${'a'.repeat(3000)}; studio=; =; __proto__=x` },
      { authorization: 'Bearer' },
      { authorization: `Bearer ${'x'.repeat(4000)}` },
      { 'x-forwarded-for': '::1, 127.0.0.1, <script>' },
      { 'hx-request': 'true', 'hx-request-type': 'partial' },
      { 'last-event-id': '-1' },
    ),
  },
);

const badPayload = fc.constantFrom(
  '',
  '{',
  'null',
  '[]',
  '"text"',
  '{"a":1,}',
  '{"__proto__":{"isAdmin":true}}',
  '{"constructor":{"prototype":{"x":1}}}',
  `${'['.repeat(20_000)}${']'.repeat(20_000)}`,
  '\ufeff{}',
  'a=b&a=c&a[]=d&a[b]=c',
  '--x\r\ncontent-disposition: form-data; name="photo"; filename="a.jpg"\r\n\r\nnot a picture\r\n--x--\r\n',
  '--x\r\ncontent-disposition: form-data\r\n\r\n',
  '--x\r\n'.repeat(500),
);

const resolved = (schema: JsonSchema | undefined, document: ApiDocument): JsonSchema | undefined =>
  schema?.$ref ? document.components?.schemas?.[schema.$ref.split('/').at(-1) ?? ''] : schema;

const asQuery = (pairs: readonly [string, unknown][]): string => {
  const query = pairs
    .filter(([, v]) => v !== undefined)
    .map(([k, v]) => `${safeEscape(k)}=${safeEscape(typeof v === 'object' ? JSON.stringify(v) : String(v))}`)
    .join('&');
  return query === '' ? '' : `?${query}`;
};
/** encodeURIComponent throws on half a character. */
const safeEscape = (value: string): string => encodeURIComponent(value.replace(/\p{Surrogate}/gu, '\ufffd'));

const BOUNDARY = 'an-edge-of-the-fuzzing';
/** A form with a file, a byte a character; changed in its words, or in the bytes of the file. */
function multipart({ words, file }: Form, changed: Change | null): string {
  const spoilt = (bytes: Buffer, [which, , how]: Change): Buffer =>
    how === 0
      ? bytes.subarray(0, which % bytes.length)
      : (bytes.map((b, i) => (i === which % bytes.length ? b ^ 0x55 : b)) as Buffer);
  const inWords = changed !== null && changed[2] > 1 && Object.keys(words).length > 0;
  const said = inWords ? (withChange(words, changed) as Record<string, unknown>) : words;
  const bytes = changed !== null && !inWords ? spoilt(file.bytes, changed) : file.bytes;
  const parts = Object.entries(said ?? {}).map(
    ([name, value]) =>
      `--${BOUNDARY}\r\ncontent-disposition: form-data; name="${safeEscape(name)}"\r\n\r\n${Buffer.from(typeof value === 'string' ? value : (JSON.stringify(value) ?? '')).toString('latin1')}\r\n`,
  );
  return `${parts.join('')}--${BOUNDARY}\r\ncontent-disposition: form-data; name="${file.field}"; filename="${file.name}"\r\ncontent-type: ${file.type}\r\n\r\n${Buffer.from(bytes).toString('latin1')}\r\n--${BOUNDARY}--\r\n`;
}

/** What goes over the wire: forms with files are kept a byte a character. */
export const bytesOf = ({ headers, payload }: FuzzRequest): string | Buffer | null =>
  payload !== null && headers['content-type']?.endsWith(BOUNDARY) ? Buffer.from(payload, 'latin1') : payload;

export interface FuzzRoute {
  name: string;
  /** Fields of its body. */
  fields: readonly string[];
  request: fc.Arbitrary<FuzzRequest>;
}

/** Better values than the document tells of. */
export interface Better {
  /** Path values and body that fit what the studio holds at the moment, by route; null when nothing fits. */
  living?: (route: string, pick: (n: number) => number) => Living | null;
}

/** Every operation of the document with an arbitrary of requests to it. */
export function fuzzRoutes(document: ApiDocument, known: Known, better: Better = {}): FuzzRoute[] {
  return Object.entries(document.paths).flatMap(([path, operations]) =>
    Object.entries(operations).map(([method, operation]) => {
      const route = `${method.toUpperCase()} ${path}`;
      const parameters = operation.parameters ?? [];
      const of = (place: string) => parameters.filter((p) => p.in === place);
      const schema = operation.requestBody?.content?.['application/json']?.schema;
      const body: fc.Arbitrary<unknown> = schema ? valid(schema, document, known) : fc.constant(undefined);
      const values = (p: { name: string; schema: JsonSchema; required?: boolean }): fc.Arbitrary<unknown> => {
        const good = valid(p.schema, document, known, p.name);
        return p.required ? good : fc.option(good, { nil: undefined, freq: 1 });
      };
      const request = (
        manner: Manner,
        pathValue: (p: { name: string; schema: JsonSchema }) => fc.Arbitrary<unknown>,
        queryValue: (p: { name: string; schema: JsonSchema; required?: boolean }) => fc.Arbitrary<unknown>,
        payload: fc.Arbitrary<string | null>,
        headers: fc.Arbitrary<Record<string, string>>,
        moreQuery: fc.Arbitrary<[string, unknown][]>,
      ): fc.Arbitrary<FuzzRequest> =>
        fc
          .record({
            paths: fc.tuple(...of('path').map(pathValue)),
            queries: fc.tuple(...of('query').map(queryValue)),
            payload,
            headers,
            moreQuery,
          })
          .map(({ paths, queries, ...r }) => {
            let i = 0;
            const filled = path.replace(/\{[^}]+\}/g, () => safeEscape(String(paths[i++])));
            const pairs: [string, unknown][] = of('query').map((p, n) => [p.name, queries[n]]);
            return {
              route,
              manner,
              method: method.toUpperCase(),
              url: `${filled}${asQuery([...pairs, ...r.moreQuery])}`,
              headers: { ...(r.payload === null ? {} : { 'content-type': 'application/json' }), ...r.headers },
              payload: r.payload,
            };
          });
      const goodPath = (p: { name: string; schema: JsonSchema }): fc.Arbitrary<unknown> =>
        p.name === 'id' || /Id$/.test(p.name)
          ? fc.integer({ min: 1, max: known.highestId })
          : valid(p.schema, document, known, p.name);
      const none = fc.constant(null);
      const nothingMore = fc.constant<[string, unknown][]>([]);
      const sent = (a: fc.Arbitrary<unknown>): fc.Arbitrary<string | null> =>
        a.map((v) => (v === undefined ? null : JSON.stringify(v)));
      /** A living request, whole or with one thing of its body changed; an ordinary valid one where nothing fits. */
      const lively = (change: fc.Arbitrary<Change | null>): fc.Arbitrary<FuzzRequest> =>
        fc
          .tuple(
            request('valid', goodPath, values, sent(body), fc.constant({}), nothingMore),
            fc.array(fc.nat(), { minLength: 12, maxLength: 12 }),
            change,
          )
          .map(([plain, chances, changed]) => {
            let i = 0;
            const living = better.living?.(route, (n) => (chances[i++ % chances.length] ?? 0) % Math.max(1, n));
            if (!living) return plain;
            let at = 0;
            const filled = path.replace(/\{[^}]+\}/g, () => String(living.path[at++]));
            const { body: json, query = {}, form } = living;
            const alter = <T>(value: T): T => (changed ? (withChange(value, changed) as T) : value);
            return {
              ...plain,
              manner: changed ? ('nearValid' as const) : plain.manner,
              url: `${filled}${asQuery(Object.entries(living.query ? alter(query) : {}))}`,
              ...(form
                ? {
                    headers: { 'content-type': `multipart/form-data; boundary=${BOUNDARY}` },
                    payload: multipart(form, changed),
                  }
                : json === undefined
                  ? { headers: {}, payload: null }
                  : { headers: { 'content-type': 'application/json' }, payload: JSON.stringify(alter(json)) }),
            };
          });
      const takesBody = method !== 'get' && method !== 'delete';
      return {
        name: route,
        fields: Object.keys(resolved(schema, document)?.properties ?? {}),
        request: fc.oneof(
          ...(better.living
            ? [
                { weight: 6, arbitrary: lively(fc.constant(null)) },
                { weight: 3, arbitrary: lively(fc.tuple(fc.nat(), hostileJson, fc.nat(3))) },
              ]
            : []),
          { weight: 5, arbitrary: request('valid', goodPath, values, sent(body), fc.constant({}), nothingMore) },
          {
            weight: 4,
            arbitrary: request(
              'nearValid',
              (p) => fc.oneof({ weight: 5, arbitrary: goodPath(p) }, { weight: 1, arbitrary: hostileNumber }),
              (p) => fc.oneof(values(p), hostileNumber, hostileString),
              schema ? sent(nearValid(body)) : takesBody ? sent(fc.constantFrom(undefined, {}, { more: 1 })) : none,
              fc.constant({}),
              nothingMore,
            ),
          },
          {
            weight: 3,
            arbitrary: request(
              'hostile',
              (p) => fc.oneof(goodPath(p), hostileString, hostileNumber),
              () => fc.oneof(hostileString, hostileNumber, fc.constant(undefined)),
              takesBody ? fc.oneof(badPayload, sent(hostileJson), sent(nearValid(body))) : none,
              hostileHeaders,
              fc.array(
                fc.tuple(fc.constantFrom(...of('query').map((p) => p.name), 'x', '__proto__', 'limit'), hostileString),
                {
                  maxLength: 3,
                },
              ),
            ),
          },
        ),
      };
    }),
  );
}
