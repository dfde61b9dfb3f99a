import { randomUUID } from 'node:crypto';
import { readdirSync } from 'node:fs';
import { request as httpRequest } from 'node:http';
import { type AddressInfo, connect, type Socket } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { DrizzleQueryError, type SQL, sql } from 'drizzle-orm';
import sharp from 'sharp';
import { describe, expect, onTestFinished, test } from 'vitest';
import { asRefusal } from '../../server/errors.ts';
import { freshStudio, type TestStudio } from '../support/app.ts';
import { makeWorld } from '../support/world.ts';

/** Rows of every table but the audit's and the sign-ins', which are written beside a request rather than by it. */
function rowCounts({ deps }: TestStudio): Record<string, number> {
  const names = deps.sqlite
    .prepare(
      "select name from sqlite_master where type = 'table' and name not like 'sqlite_%' and name <> 'audit_entries'",
    )
    .pluck()
    .all() as string[];
  return Object.fromEntries(
    names.map((name) => [name, deps.sqlite.prepare(`select count(*) from "${name}"`).pluck().get() as number]),
  );
}

const PLAN = (world: ReturnType<typeof makeWorld>) => ({
  fibreId: world.linenId,
  methodId: world.methodId,
  goodsText: '24 napkins',
  mass: { found: 'weighedDry', massMg: 1_200_000 },
  colours: [{ revisionId: world.revisionId, depthPpm: 20_000 }],
});

describe('a full disk', () => {
  test('refuses in words, saves nothing by halves, still shows the record, and takes entries again once there is space', async () => {
    const studio = await freshStudio();
    const world = makeWorld(studio);
    const { sqlite } = studio.deps;
    const planned = await studio.api.post('/lots', PLAN(world));
    expect(planned.status).toBe(201);
    const lotId = planned.body.lotId as number;
    const note = () =>
      studio.api.post(`/lots/${lotId}/log`, {
        clientId: randomUUID(),
        at: studio.deps.now(),
        kind: 'note',
        text: 'x'.repeat(4000),
      });
    // SQLite answers SQLITE_FULL at this many pages, as it does when the file system refuses one more.
    const pages = sqlite.pragma('page_count', { simple: true }) as number;
    sqlite.pragma(`max_page_count = ${pages + 2}`);
    let refused = await note();
    for (let i = 0; i < 20 && refused.status === 201; i++) refused = await note();
    expect([refused.status, refused.body.code]).toEqual([507, 'diskFull']);
    expect(refused.body.detail).toContain('Nothing of this was saved');

    const before = rowCounts(studio);
    expect((await studio.api.post('/lots', PLAN(world))).status).toBe(507);
    const page = await studio.page.post('/fibres', {
      name: 'Hemp, plain',
      class: 'cellulose',
      kind: 'cloth',
      note: 'x'.repeat(3900),
    });
    expect([507, 422]).toContain(page.status);
    expect(rowCounts(studio)).toEqual(before);
    studio.clock.now += 600_000;
    const shown = await studio.api.get(`/lots/${lotId}`);
    expect(shown.status).toBe(200);
    expect((await studio.page.get(`/lots/${lotId}`)).status).toBe(200);

    sqlite.pragma(`max_page_count = ${pages + 10_000}`);
    expect((await note()).status).toBe(201);
    expect(sqlite.pragma('integrity_check', { simple: true })).toBe('ok');
  });

  test('of the file system is the same to the visitor', () => {
    for (const code of ['ENOSPC', 'EDQUOT', 'SQLITE_FULL'])
      expect(asRefusal(Object.assign(new Error('disk'), { code }))).toMatchObject({ code: 'diskFull', status: 507 });
  });
});

test('a database that can no longer be written says so, and goes on showing what it has', async () => {
  const studio = await freshStudio();
  const world = makeWorld(studio);
  studio.deps.sqlite.pragma('query_only = ON');
  // Long enough for the sign-in to be noted as in use, which is a write beside every page.
  studio.clock.now += 600_000;
  const refused = await studio.api.post('/lots', PLAN(world));
  expect([refused.status, refused.body.code]).toEqual([503, 'readOnly']);
  expect((await studio.page.get('/fibres')).status).toBe(200);
  expect((await studio.page.post('/sign-out')).status).toBe(503);
});

test('damage met while running is told as damage, not as a bug', () => {
  for (const code of ['SQLITE_CORRUPT', 'SQLITE_CORRUPT_INDEX', 'SQLITE_NOTADB'])
    expect(asRefusal(Object.assign(new Error('malformed'), { code }))).toMatchObject({ code: 'damaged', status: 503 });
  expect(asRefusal(Object.assign(new Error('x'), { code: 'SQLITE_IOERR_WRITE' }))).toMatchObject({ code: 'diskFault' });
  expect(asRefusal(Object.assign(new Error('x'), { code: 'SQLITE_BUSY' }))).toMatchObject({ code: 'busy' });
});

async function listening(studio: TestStudio): Promise<number> {
  await studio.app.listen({ host: '127.0.0.1', port: 0 });
  return (studio.app.server.address() as AddressInfo).port;
}

test('what the database refuses is a refusal, also where the query builder wraps it', async () => {
  const { deps } = await freshStudio();
  const { db } = deps;
  db.run(sql`insert into fibres (id, name, class, kind) values (1, 'Linen', 'cellulose', 'cloth')`);
  db.run(sql`insert into swatch_changes (swatch_id, sequence) values (1, 1)`);
  const refused = (statement: SQL): ReturnType<typeof asRefusal> => {
    try {
      db.run(statement);
    } catch (error) {
      expect((error as { code?: string }).code, 'it comes wrapped').toBeUndefined();
      return asRefusal(error);
    }
    throw new Error('the database took it');
  };
  for (const [statement, expected] of [
    [
      sql`insert into fibres (name, class, kind) values ('Linen', 'cellulose', 'cloth')`,
      { status: 422, fields: { name: 'That is taken already; choose another.' } },
    ],
    [sql`insert into swatch_changes (swatch_id, sequence) values (1, 2)`, { status: 422 }],
    [sql`insert into fibres (name, class, kind) values ('Felt', 'wood', 'cloth')`, { status: 422 }],
    [
      sql`insert into orders (number, customer_id, ordered_on, status) values ('99', 99, '2026-03-16', 'open')`,
      { status: 409 },
    ],
    [sql`update import_rows set line = 1 where 1 = (select raise_no_such_function())`, undefined],
  ] as const) {
    const said = refused(statement);
    if (expected === undefined) expect(said).toBeUndefined();
    else expect(said).toMatchObject(expected);
  }
  const trigger = new DrizzleQueryError(
    'update',
    [],
    Object.assign(new Error('the log is append-only'), { code: 'SQLITE_CONSTRAINT_TRIGGER' }),
  );
  expect(asRefusal(trigger)).toMatchObject({ code: 'conflict', message: 'The log is append-only.' });
});

describe('clients that misbehave', () => {
  test('every way of hanging has its end', async () => {
    const { app } = await freshStudio();
    const { server } = app;
    expect(server.headersTimeout).toBeGreaterThan(0);
    expect(server.headersTimeout).toBeLessThanOrEqual(30_000);
    expect(server.requestTimeout).toBeGreaterThan(0);
    expect(server.timeout).toBeGreaterThan(15_000);
    expect(server.keepAliveTimeout).toBeGreaterThan(0);
  });

  test('a hundred that begin a request and fall silent leave the others alone', async () => {
    const studio = await freshStudio();
    const port = await listening(studio);
    const sockets: Socket[] = [];
    onTestFinished(() => {
      for (const socket of sockets) socket.destroy();
    });
    for (let i = 0; i < 100; i++) {
      const socket = connect({ host: '127.0.0.1', port });
      await new Promise((resolve) => socket.once('connect', resolve));
      socket.write(
        `POST /sign-in HTTP/1.1\r\nhost: 127.0.0.1\r\n${i % 2 ? 'content-length: 100\r\n\r\nname=' : 'x-slow: '}`,
      );
      socket.on('error', () => {});
      sockets.push(socket);
    }
    expect((await fetch(`http://127.0.0.1:${port}/readyz`)).status).toBe(200);
    expect((await studio.page.get('/fibres')).status).toBe(200);
  });

  test.each([
    ['no HTTP at all', '\x16\x03\x01\x02\x00\x01\x00'],
    ['a head without end', `GET / HTTP/1.1\r\nx: ${'a'.repeat(100_000)}\r\n\r\n`],
    ['two lengths', 'POST /sign-in HTTP/1.1\r\nhost: x\r\ncontent-length: 3\r\ncontent-length: 9\r\n\r\na=b'],
    [
      'length and chunks',
      'POST /sign-in HTTP/1.1\r\nhost: x\r\ncontent-length: 3\r\ntransfer-encoding: chunked\r\n\r\n0\r\n\r\n',
    ],
    ['a broken escape', 'GET /%zz HTTP/1.1\r\nhost: x\r\nconnection: close\r\n\r\n'],
    ['a NUL in the address', 'GET /fibres/%00 HTTP/1.1\r\nhost: x\r\nconnection: close\r\n\r\n'],
  ])('%s is refused without a word about our insides', async (_name, bytes) => {
    const studio = await freshStudio();
    const port = await listening(studio);
    const answer = await new Promise<string>((resolve) => {
      const socket = connect({ host: '127.0.0.1', port });
      let text = '';
      socket.on('data', (chunk: Buffer) => {
        text += chunk.toString();
      });
      socket.on('error', () => resolve(text));
      socket.on('close', () => resolve(text));
      socket.write(bytes, 'latin1');
    });
    expect(answer).toMatch(/^(HTTP\/1\.1 (303|4\d\d) |$)/);
    expect(answer).not.toMatch(/node_modules|\.ts:\d+|at \w+ \(/);
    expect((await fetch(`http://127.0.0.1:${port}/healthz`)).status).toBe(200);
  });
});

/** Sends zeros as one file of a form, in chunks, as long as the service takes them. */
function sendLarge(
  port: number,
  token: string,
  bytes: number,
  announced: boolean,
  named = 'name="photo"; filename="large.jpg"',
): Promise<{ status: number; body: string; sent: number }> {
  return new Promise((resolve) => {
    const head = Buffer.from(`--edge\r\ncontent-disposition: form-data; ${named}\r\ncontent-type: image/jpeg\r\n\r\n`);
    const tail = Buffer.from('\r\n--edge--\r\n');
    const chunk = Buffer.alloc(256 * 1024);
    let sent = 0;
    let status = 0;
    const outgoing = httpRequest({
      host: '127.0.0.1',
      port,
      method: 'POST',
      path: '/api/v1/photos',
      headers: {
        authorization: `Bearer ${token}`,
        'content-type': 'multipart/form-data; boundary=edge',
        ...(announced ? { 'content-length': head.length + bytes + tail.length } : {}),
      },
    });
    outgoing.on('response', (answer) => {
      status = answer.statusCode ?? 0;
      let body = '';
      answer.on('data', (part: Buffer) => {
        body += part.toString();
      });
      answer.on('close', () => resolve({ status, body, sent }));
      answer.on('end', () => outgoing.destroy());
    });
    // The service closes a connection that it will not read to its end; the answer may be lost with it.
    outgoing.on('error', () => resolve({ status, body: '', sent }));
    const pump = (): void => {
      while (sent < bytes && !outgoing.destroyed && status === 0) {
        sent += chunk.length;
        if (!outgoing.write(chunk)) {
          outgoing.once('drain', pump);
          return;
        }
      }
      if (sent >= bytes) outgoing.end(tail);
    };
    outgoing.write(head);
    pump();
  });
}

describe('an upload far beyond the limit', () => {
  test('that says its length is refused at once', async () => {
    const studio = await freshStudio();
    const port = await listening(studio);
    const answer = await sendLarge(port, studio.api.token, 1_000_000_000, true);
    expect([413, 0]).toContain(answer.status);
    expect(answer.sent).toBeLessThan(100_000_000);
    const said = await studio.app.inject({
      method: 'POST',
      url: '/api/v1/photos',
      headers: {
        authorization: `Bearer ${studio.api.token}`,
        'content-type': 'image/jpeg',
        'content-length': '1000000000',
      },
    });
    expect([said.statusCode, said.json().code, said.headers.connection]).toEqual([413, 'tooLarge', 'close']);
  });

  test.each([
    ['as a file', 'name="photo"; filename="large.jpg"'],
    ['as a word of the form', 'name="note"'],
  ])(
    'that does not is cut off on its way %s, with an answer, and nothing of it stays',
    { timeout: 240_000 },
    async (_, named) => {
      const studio = await freshStudio();
      const port = await listening(studio);
      const before = process.memoryUsage();
      let most = 0;
      const watch = setInterval(() => {
        const now = process.memoryUsage();
        most = Math.max(most, now.arrayBuffers - before.arrayBuffers);
      }, 20);
      const answer = await sendLarge(port, studio.api.token, 1_000_000_000, false, named);
      clearInterval(watch);
      expect([answer.status, JSON.parse(answer.body).code]).toEqual([413, 'tooLarge']);
      // A form may hold four files of 25 MB; what is beyond is on its way between the two ends when the answer comes.
      expect(answer.sent).toBeLessThan(130_000_000);
      // One file of 25 MB is held once as chunks and once joined; sender and receiver share this process.
      expect(most).toBeLessThan(100_000_000);
      expect(readdirSync(studio.deps.config.dataDir)).not.toContain('photos');
      const spilled = readdirSync(tmpdir()).filter((name) => name.includes('multipart'));
      expect(spilled).toEqual([]);
      expect((await studio.api.get('/fibres')).status).toBe(200);
    },
  );
});

test('a photo whose row cannot be written leaves no half picture under a good name', async () => {
  const studio = await freshStudio();
  const picture = await sharp({ create: { width: 60, height: 40, channels: 3, background: '#336699' } })
    .jpeg()
    .toBuffer();
  studio.deps.sqlite.pragma('query_only = ON');
  const send = () =>
    studio.app.inject({
      method: 'POST',
      url: '/api/v1/photos',
      headers: { authorization: `Bearer ${studio.api.token}`, 'content-type': 'multipart/form-data; boundary=edge' },
      payload: Buffer.concat([
        Buffer.from(
          '--edge\r\ncontent-disposition: form-data; name="photo"; filename="a.jpg"\r\ncontent-type: image/jpeg\r\n\r\n',
        ),
        picture,
        Buffer.from('\r\n--edge--\r\n'),
      ]),
    });
  expect((await send()).statusCode).toBe(503);
  studio.deps.sqlite.pragma('query_only = OFF');
  expect((await send()).statusCode).toBe(201);
  const files = readdirSync(join(studio.deps.config.dataDir, 'photos'), { recursive: true }).map(String);
  expect(files.filter((name) => name.endsWith('.part'))).toEqual([]);
  expect(files.filter((name) => name.endsWith('.webp'))).toHaveLength(2);
});

test.each([
  ['no boundary', 'multipart/form-data', '--x\r\n\r\n'],
  [
    'cut off',
    'multipart/form-data; boundary=x',
    '--x\r\ncontent-disposition: form-data; name="photo"; filename="a.jpg"\r\n\r\nhalf',
  ],
  ['nothing', 'multipart/form-data; boundary=x', ''],
])('a form that did not arrive whole (%s) is refused as such', async (_name, type, payload) => {
  const studio = await freshStudio();
  const answer = await studio.app.inject({
    method: 'POST',
    url: '/api/v1/photos',
    headers: { authorization: `Bearer ${studio.api.token}`, 'content-type': type },
    payload,
  });
  expect(answer.statusCode).toBeGreaterThanOrEqual(400);
  expect(answer.statusCode).toBeLessThan(500);
});
