import { describe, expect, test } from 'vitest';
import type { Actor } from '../../server/deps.ts';
import { allows, declaredRoutes, type May } from '../../server/people/guards.ts';
import { insertPerson } from '../../server/people/queries.ts';
import { makeToken, openSignIn } from '../../server/people/signIn.ts';
import { freshStudio, MONDAY, type TestStudio } from '../support/app.ts';

/* What a studio would lose if one small thing at its doors went wrong. */

const MINUTE = 60_000;

const reader = ({ deps, owner }: TestStudio): string =>
  makeToken(deps, { name: 'spreadsheet', scope: 'read', expiresAt: null }, owner.personId).token;

const calling = ({ app }: TestStudio, method: 'GET' | 'HEAD' | 'POST' | 'PUT' | 'DELETE', url: string, token: string) =>
  app.inject({ method, url, headers: { authorization: `Bearer ${token}` } });

async function savedExport(studio: TestStudio): Promise<number> {
  const saved = await studio.api.post('/exports/saved', { name: 'For the accountant' });
  expect(saved.status, saved.text).toBe(201);
  return saved.body.savedExportId;
}

describe('a token that may read', () => {
  test('deletes nothing, replaces nothing, and reads on', async () => {
    const studio = await freshStudio();
    const token = reader(studio);
    const url = `/api/v1/exports/saved/${await savedExport(studio)}`;
    for (const method of ['DELETE', 'PUT', 'POST'] as const) {
      const { statusCode, body } = await calling(studio, method, method === 'POST' ? '/api/v1/fibres' : url, token);
      expect([method, statusCode], body).toEqual([method, 403]);
      expect(JSON.parse(body)).toMatchObject({ code: 'notAllowed', detail: 'This token may read only.' });
    }
    expect((await calling(studio, 'GET', '/api/v1/exports/saved', token)).json().savedExports).toHaveLength(1);
    expect((await calling(studio, 'HEAD', '/api/v1/exports/saved', token)).statusCode).toBe(200);
  });

  test('no route of the API takes anything but a reading from it', async () => {
    const studio = await freshStudio();
    const token = reader(studio);
    const writing = declaredRoutes(studio.app).filter(
      (r) => r.url.startsWith('/api/v1') && r.may !== 'anyone' && !/^(GET|HEAD)(,(GET|HEAD))*$/.test(r.method),
    );
    expect(writing.length).toBeGreaterThan(50);
    for (const { method, url } of writing) {
      const answer = await calling(studio, method as 'POST', url.replaceAll(/:\w+/g, '1'), token);
      expect([method, url, answer.statusCode]).toEqual([method, url, 403]);
    }
  });
});

describe('a bearer', () => {
  test.each([
    ['another scheme', (t: string) => `Basic ${t}`, 401],
    ['words before it', (t: string) => `my Bearer ${t}`, 401],
    ['words after it', (t: string) => `Bearer ${t} please`, 401],
    ['no token', () => 'Bearer ', 401],
    ['small letters', (t: string) => `bearer ${t}`, 200],
  ])('with %s', async (_, header, status) => {
    const studio = await freshStudio();
    const answer = await studio.app.inject({
      url: '/api/v1/fibres',
      headers: { authorization: header(studio.api.token) },
    });
    expect(answer.statusCode).toBe(status);
  });
});

describe('what each person may', () => {
  const matrix: [Actor['role'], May[]][] = [
    ['owner', ['anyone', 'look', 'log', 'work', 'own']],
    ['dyer', ['anyone', 'look', 'log', 'work']],
    ['bench', ['anyone', 'look', 'log']],
    ['viewer', ['anyone', 'look']],
  ];

  test.each(matrix)('%s', (role, may) => {
    const all: May[] = ['anyone', 'look', 'log', 'work', 'own'];
    expect(all.filter((m) => allows({ personId: 1, name: 'Rui', role }, m))).toEqual(may);
    expect(all.filter((m) => allows(null, m))).toEqual([]);
  });

  test('is held by every route, page and API, whatever it is for', async () => {
    const studio = await freshStudio();
    const routes = declaredRoutes(studio.app).filter((r) => r.may !== 'anyone' && r.method === 'POST');
    for (const [role, may] of matrix) {
      const personId = insertPerson(studio.deps.db, {
        name: `the ${role}`,
        role,
        passphraseHash: null,
        labourRateMinorPerHour: null,
        active: 1,
        createdAt: MONDAY,
      }).id;
      const cookie = `studio=${openSignIn(studio.deps, personId, 'test')}`;
      for (const { url, may: needed } of routes) {
        if (may.includes(needed)) continue;
        const answer = await studio.app.inject({
          method: 'POST',
          url: url.replaceAll(/:\w+/g, '1'),
          headers: { cookie, host: 'studio.test', origin: 'http://studio.test' },
        });
        expect([role, url, answer.statusCode]).toEqual([role, url, 403]);
      }
    }
  });
});

describe('when somebody was last here', () => {
  const tokenSeen = ({ deps }: TestStudio): unknown =>
    deps.sqlite.prepare('select last_used_at from api_tokens').pluck().get();
  const signInSeen = ({ deps }: TestStudio): unknown =>
    deps.sqlite.prepare('select last_seen_at from sign_ins').pluck().get();

  test('is written down once a minute, for tokens and for sign-ins', async () => {
    const studio = await freshStudio();
    await studio.api.get('/fibres');
    await studio.page.get('/fibres');
    expect([tokenSeen(studio), signInSeen(studio)]).toEqual([MONDAY, MONDAY]);
    studio.clock.now += MINUTE;
    await studio.api.get('/fibres');
    await studio.page.get('/fibres');
    expect([tokenSeen(studio), signInSeen(studio)]).toEqual([MONDAY, MONDAY]);
    studio.clock.now += 1;
    await studio.api.get('/fibres');
    await studio.page.get('/fibres');
    expect([tokenSeen(studio), signInSeen(studio)]).toEqual([MONDAY + MINUTE + 1, MONDAY + MINUTE + 1]);
  });

  test('keeps nobody out when the disk takes no more writes', async () => {
    const studio = await freshStudio();
    studio.clock.now += 2 * MINUTE;
    studio.deps.sqlite.pragma('query_only = ON');
    expect((await studio.api.get('/fibres')).status).toBe(200);
    expect((await studio.page.get('/fibres')).status).toBe(200);
    studio.deps.sqlite.pragma('query_only = OFF');
    expect(signInSeen(studio)).toBe(MONDAY);
  });
});

describe('nobody', () => {
  test('is asked to sign in before a page, and told that nothing is here where nothing is', async () => {
    const { app } = await freshStudio();
    expect((await app.inject({ url: '/api/v1/fibres' })).json()).toMatchObject({
      code: 'notSignedIn',
      detail: 'Sign in first.',
    });
    expect((await app.inject({ url: '/api/v1/nothing-here' })).statusCode).toBe(404);
  });

  test('comes in with a token that ran out, and is told so', async () => {
    const { app, deps, owner, clock } = await freshStudio();
    const { token } = makeToken(deps, { name: 'guest', scope: 'read', expiresAt: MONDAY + MINUTE }, owner.personId);
    const ask = () => app.inject({ url: '/api/v1/fibres', headers: { authorization: `Bearer ${token}` } });
    expect((await ask()).statusCode).toBe(200);
    clock.now += MINUTE;
    const late = await ask();
    expect([late.statusCode, late.json().detail]).toEqual([401, 'That token is not (or no longer) valid.']);
  });
});
