import { describe, expect, test } from 'vitest';
import { keptAnswers } from '../../server/db/tables/doors.ts';
import { insertPerson } from '../../server/people/queries.ts';
import { makeToken } from '../../server/people/signIn.ts';
import { freshStudio, type TestStudio } from '../support/app.ts';

const DAY = 86_400_000;
const LINEN = { name: 'Linen', class: 'cellulose', kind: 'cloth' };

const keyed = ({ api }: TestStudio, url: string, key: string, body: unknown) =>
  api.post(url, body).set('idempotency-key', key);
const count = ({ deps }: TestStudio, table: string): number =>
  deps.sqlite.prepare(`select count(*) from ${table}`).pluck().get() as number;

interface Document {
  paths: Record<
    string,
    Record<
      string,
      {
        operationId: string;
        responses: Record<string, unknown>;
        parameters?: { name: string; in: string; description?: string; required?: boolean }[];
      }
    >
  >;
}
const documentOf = async ({ app }: TestStudio): Promise<Document> =>
  (await app.inject({ url: '/api/v1/openapi.json' })).json();

describe('an Idempotency-Key', () => {
  test('the same sent again creates nothing and is answered as the first time', async () => {
    const studio = await freshStudio();
    const first = await keyed(studio, '/fibres', 'a-1', LINEN);
    const again = await keyed(studio, '/fibres', 'a-1', LINEN);
    expect([first.status, again.status]).toEqual([201, 201]);
    expect(again.text).toBe(first.text);
    expect(again.headers['content-type']).toBe(first.headers['content-type']);
    expect([first.headers['idempotency-replayed'], again.headers['idempotency-replayed']]).toEqual([undefined, 'true']);
    expect(count(studio, 'fibres')).toBe(1);
  });

  test('other content, or another address, under the same key is a conflict', async () => {
    const studio = await freshStudio();
    await keyed(studio, '/fibres', 'a-1', LINEN);
    const other = await keyed(studio, '/fibres', 'a-1', { ...LINEN, name: 'Hemp' });
    expect([other.status, other.body.code]).toEqual([409, 'idReused']);
    const elsewhere = await keyed(studio, '/customers', 'a-1', { name: 'Linen' });
    expect([elsewhere.status, elsewhere.body.code]).toEqual([409, 'idReused']);
    expect([count(studio, 'fibres'), count(studio, 'customers')]).toEqual([1, 0]);
  });

  test('each person has keys of their own', async () => {
    const studio = await freshStudio();
    const { deps, app } = studio;
    const rui = insertPerson(deps.db, {
      name: 'Rui',
      role: 'dyer',
      passphraseHash: null,
      labourRateMinorPerHour: null,
      active: 1,
      createdAt: 0,
    });
    const { token } = makeToken(deps, { name: 'x', scope: 'write', expiresAt: null }, rui.id);
    await keyed(studio, '/fibres', 'a-1', LINEN);
    const theirs = await app.inject({
      method: 'POST',
      url: '/api/v1/fibres',
      headers: { authorization: `Bearer ${token}`, 'idempotency-key': 'a-1' },
      payload: { ...LINEN, name: 'Hemp' },
    });
    expect(theirs.statusCode).toBe(201);
    expect(count(studio, 'fibres')).toBe(2);
  });

  test('what was refused may be put right under the same key', async () => {
    const studio = await freshStudio();
    expect((await keyed(studio, '/fibres', 'a-1', { ...LINEN, class: 'wood' })).status).toBe(422);
    expect((await keyed(studio, '/fibres', 'a-1', LINEN)).status).toBe(201);
    // A rule's refusal, not only a schema's.
    expect((await keyed(studio, '/fibres', 'a-2', LINEN)).status).toBe(422);
    expect((await keyed(studio, '/fibres', 'a-2', { ...LINEN, name: 'Hemp' })).status).toBe(201);
    expect(count(studio, 'fibres')).toBe(2);
  });

  test('is kept for a day, and is gone afterwards', async () => {
    const studio = await freshStudio();
    const { clock, deps } = studio;
    await keyed(studio, '/fibres', 'a-1', LINEN);
    clock.now += DAY - 1;
    expect((await keyed(studio, '/fibres', 'a-1', LINEN)).headers['idempotency-replayed']).toBe('true');
    clock.now += 1;
    expect((await keyed(studio, '/fibres', 'a-1', { ...LINEN, name: 'Hemp' })).status).toBe(201);
    clock.now += DAY;
    await keyed(studio, '/fibres', 'a-9', { ...LINEN, name: 'Ramie' });
    expect(
      deps.db
        .select()
        .from(keptAnswers)
        .all()
        .map((k) => k.key),
    ).toEqual(['a-9']);
  });

  test('of two that are sent at once one creates, and the other is told to wait or gets its answer', async () => {
    const studio = await freshStudio();
    const answers = await Promise.all([1, 2, 3, 4].map(() => keyed(studio, '/fibres', 'a-1', LINEN)));
    for (const { status, headers } of answers)
      expect(status === 201 || (status === 409 && headers['idempotency-replayed'] === undefined)).toBe(true);
    expect(answers.some(({ status }) => status === 201)).toBe(true);
    expect(count(studio, 'fibres')).toBe(1);
  });

  test('one whose service ended meanwhile is not sent through a second time unasked', async () => {
    const studio = await freshStudio();
    await keyed(studio, '/fibres', 'a-1', LINEN);
    // As the service leaves it that ends between the beginning and the answer.
    studio.deps.db.update(keptAnswers).set({ status: null, body: null }).run();
    const again = await keyed(studio, '/fibres', 'a-1', LINEN);
    expect([again.status, again.body.code]).toEqual([409, 'conflict']);
    expect(again.body.detail).toContain('Look whether that was recorded');
    expect(count(studio, 'fibres')).toBe(1);
  });

  test.each(['', ' ', 'a b', 'x'.repeat(256), 'é'])('%j is no key', async (key) => {
    const studio = await freshStudio();
    const answer = await studio.app.inject({
      method: 'POST',
      url: '/api/v1/fibres',
      headers: { authorization: `Bearer ${studio.api.token}`, 'idempotency-key': key },
      payload: LINEN,
    });
    expect([answer.statusCode, answer.json().code]).toEqual([422, 'invalidInput']);
    expect(answer.json().fields).toHaveProperty('idempotency-key');
    expect(count(studio, 'fibres')).toBe(0);
  });

  test('a picture sent again is kept once; another picture under its key is a conflict', async () => {
    const studio = await freshStudio();
    const sharp = (await import('sharp')).default;
    const picture = (shade: number) =>
      sharp({ create: { width: 40, height: 40, channels: 3, background: { r: shade, g: 90, b: 90 } } })
        .jpeg()
        .toBuffer();
    const [one, other] = [await picture(20), await picture(200)];
    const send = (bytes: Buffer) =>
      studio.page
        .send('post', '/api/v1/photos')
        .set('idempotency-key', 'p-1')
        .attach('photo', bytes, { filename: 'a.jpg', contentType: 'image/jpeg' });
    const first = await send(one);
    const again = await send(one);
    const conflict = await send(other);
    expect([first.status, again.status, conflict.status]).toEqual([201, 201, 409]);
    expect(again.text).toBe(first.text);
    expect(again.headers['idempotency-replayed']).toBe('true');
    expect(count(studio, 'photos')).toBe(1);
  });

  test('every POST that creates takes one, and says so in the document; no other does', async () => {
    const { paths } = await documentOf(await freshStudio());
    const operations = Object.values(paths).flatMap((methods) => Object.entries(methods));
    const taking = operations.filter(([, o]) =>
      o.parameters?.some((p) => p.in === 'header' && p.name === 'Idempotency-Key'),
    );
    const creating = operations.filter(([method, o]) => method === 'post' && '201' in o.responses);
    expect(creating.length).toBeGreaterThan(25);
    expect(taking.map(([, o]) => o.operationId).sort()).toEqual(creating.map(([, o]) => o.operationId).sort());
    for (const [, o] of taking) {
      const key = o.parameters?.find((p) => p.name === 'Idempotency-Key');
      expect(key?.description).toContain('answered as the first time');
      expect(key?.required ?? false).toBe(false);
      expect(Object.keys(o.responses)).toContain('409');
    }
  });
});
