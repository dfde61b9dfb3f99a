import http from 'node:http';
import type { AddressInfo } from 'node:net';
import fastifyCompress from '@fastify/compress';
import { parse } from 'csv-parse/sync';
import fc from 'fast-check';
import Fastify, { type FastifyInstance } from 'fastify';
import { expect, onTestFinished, test } from 'vitest';
import { csvLine, keysetPages, sendCsv } from '../../server/http/csv.ts';

/** RFC 4180, section 2: the rule, its cells, and its text as printed there (fields that need no quotes without them,
 *  which rule 5 leaves open). */
const RFC_4180 = [
  {
    rule: '2.1 each record on a line of its own, delimited by CRLF',
    cells: ['aaa', 'bbb', 'ccc'],
    text: 'aaa,bbb,ccc\r\n',
  },
  { rule: '2.6 line breaks in double quotes', cells: ['aaa', 'b\r\nbb', 'ccc'], text: 'aaa,"b\r\nbb",ccc\r\n' },
  { rule: '2.6 commas in double quotes', cells: ['aaa', 'b,bb'], text: 'aaa,"b,bb"\r\n' },
  { rule: '2.7 a double quote is doubled', cells: ['aaa', 'b"bb', 'ccc'], text: 'aaa,"b""bb",ccc\r\n' },
] as const;

test.each(RFC_4180)('RFC 4180 $rule', ({ cells, text }) => {
  expect(csvLine(cells)).toBe(text);
  expect(parse(text)).toEqual([cells]);
});

test.each([
  ['=1+1', "'=1+1"],
  ['+SUM(A1)', "'+SUM(A1)"],
  ['-2+3', "'-2+3"],
  ['@A1', "'@A1"],
  ['\t=1', "'\t=1"],
  ['\r=1', "'\r=1"],
  ['\n=1', "'\n=1"],
  ['-1.5', '-1.5'],
  ['+12', '+12'],
  ['-', "'-"],
  ['a=1', 'a=1'],
])('a spreadsheet does not run %j as a formula', (cell, kept) => {
  expect(parse(csvLine([cell, 'end']))).toEqual([[kept, 'end']]);
});

test('numbers and empty cells are written plainly, and a number that is none is refused', () => {
  expect(csvLine([-12, 0.5, null, ''])).toBe('-12,0.5,,\r\n');
  expect(parse(csvLine([null]))).toEqual([['']]);
  expect(() => csvLine([Number.NaN])).toThrow(TypeError);
});

test('an independent reader gives back every table, spaces, quotes and line breaks included', () => {
  const cell = fc.oneof(
    fc.string({ unit: 'grapheme', maxLength: 12 }),
    fc.string({ unit: fc.constantFrom('"', ',', '\r', '\n', ' ', 'a', "'", ';', 'é') }),
  );
  const plain = cell.filter((text) => !/^[=+\-@\t\r\n＝＋－＠]/.test(text));
  fc.assert(
    fc.property(fc.array(fc.array(plain, { minLength: 3, maxLength: 3 }), { minLength: 1 }), (table) => {
      expect(parse(table.map(csvLine).join(''), { recordDelimiter: '\r\n' })).toEqual(table);
    }),
  );
});

interface Numbered {
  n: number;
}
const COLUMNS = [
  { name: 'n', value: (row: Numbered) => row.n },
  { name: 'words', value: (row: Numbered) => `row ${row.n}, of many` },
];
const page = (from: number, count: number): Numbered[] => Array.from({ length: count }, (_, i) => ({ n: from + i }));

async function listening(build: (app: FastifyInstance) => void): Promise<string> {
  const app = Fastify();
  await app.register(fastifyCompress, { threshold: 1 });
  build(app);
  onTestFinished(() => app.close());
  await app.listen({ host: '127.0.0.1', port: 0 });
  return `http://127.0.0.1:${(app.server.address() as AddressInfo).port}`;
}

/** Reads a response to its end by Node's own client; `broken` when the connection ended before the message did. */
function download(url: string, encoding: string): Promise<{ status: number; bytes: number; broken: boolean }> {
  return new Promise((resolve, reject) => {
    http
      .get(url, { headers: { 'accept-encoding': encoding } }, (response) => {
        let bytes = 0;
        const answer = () => resolve({ status: response.statusCode ?? 0, bytes, broken: !response.complete });
        response.on('data', (chunk: Buffer) => {
          bytes += chunk.length;
        });
        response.on('close', answer);
        response.on('error', answer);
      })
      .on('error', reject);
  });
}

test('a file is streamed in pages, read by keyset, as an attachment', async () => {
  const rows = page(1, 25);
  const reads: (number | null)[] = [];
  const url = await listening((app) => {
    app.get('/file', async (_, reply) =>
      sendCsv(
        reply,
        'März 2026.csv',
        COLUMNS,
        keysetPages<Numbered, number>(
          (after) => {
            reads.push(after);
            return rows.filter((row) => row.n > (after ?? 0)).slice(0, 10);
          },
          (row) => row.n,
        ),
      ),
    );
  });
  const response = await fetch(`${url}/file`);
  expect(response.headers.get('content-type')).toBe('text/csv; charset=utf-8; header=present');
  expect(response.headers.get('content-disposition')).toBe(
    `attachment; filename="M-rz-2026.csv"; filename*=UTF-8''M%C3%A4rz%202026.csv`,
  );
  const read = parse(await response.text(), { columns: true }) as { n: string; words: string }[];
  expect(read).toEqual(rows.map(({ n }) => ({ n: String(n), words: `row ${n}, of many` })));
  expect(reads).toEqual([null, 10, 20, 25]);
});

test('an export of nothing is its header', async () => {
  const url = await listening((app) => {
    app.get('/file', async (_, reply) => sendCsv(reply, 'none.csv', COLUMNS, []));
  });
  expect(await (await fetch(`${url}/file`)).text()).toBe('n,words\r\n');
});

test('another request is answered while a long export is under way', async () => {
  let answered = false;
  let pagesBefore = 0;
  const url = await listening((app) => {
    app.get('/quick', async () => {
      answered = true;
      return 'ok';
    });
    app.get('/file', async (_, reply) => {
      const pages = function* () {
        for (let i = 0; i < 2000; i++) {
          if (!answered) pagesBefore = i;
          yield page(i * 50, 50);
        }
      };
      return sendCsv(reply, 'long.csv', COLUMNS, pages());
    });
  });
  const file = await fetch(`${url}/file`);
  const reader = (file.body as ReadableStream<Uint8Array>).getReader();
  await reader.read();
  expect(await (await fetch(`${url}/quick`)).text()).toBe('ok');
  for (let part = await reader.read(); !part.done; part = await reader.read());
  expect(pagesBefore).toBeLessThan(1999);
});

test.each(['identity', 'gzip'])(
  'a failure half-way breaks the connection, so that the file looks broken (%s)',
  async (encoding) => {
    const url = await listening((app) => {
      app.get('/file', async (_, reply) =>
        sendCsv(
          reply,
          'broken.csv',
          COLUMNS,
          (async function* () {
            for (let i = 0; i < 40; i++) yield page(i * 500, 500);
            throw new Error('the disk is gone');
          })(),
        ),
      );
    });
    const got = await download(`${url}/file`, encoding);
    expect(got.status).toBe(200);
    expect(got.bytes).toBeGreaterThan(0);
    expect(got.broken).toBe(true);
  },
);

test('a failure before the first page is an ordinary refusal, not a file', async () => {
  const url = await listening((app) => {
    app.get('/file', async (_, reply) =>
      sendCsv(
        reply,
        'never.csv',
        COLUMNS,
        (async function* (): AsyncGenerator<Numbered[]> {
          yield await Promise.reject(new Error('no such month'));
        })(),
      ),
    );
  });
  const response = await fetch(`${url}/file`);
  expect(response.status).toBe(500);
  expect(response.headers.get('content-disposition')).toBeNull();
});

test('a reader who goes away ends the export', async () => {
  let closed: () => void = () => {};
  const ended = new Promise<void>((resolve) => {
    closed = resolve;
  });
  const url = await listening((app) => {
    app.get('/file', async (_, reply) =>
      sendCsv(
        reply,
        'left.csv',
        COLUMNS,
        (async function* () {
          try {
            for (let i = 0; ; i++) yield page(i * 500, 500);
          } finally {
            closed();
          }
        })(),
      ),
    );
  });
  const leaving = http.get(`${url}/file`, (response) => {
    response.on('error', () => {});
    response.once('data', () => leaving.destroy());
  });
  leaving.on('error', () => {});
  await ended;
});
