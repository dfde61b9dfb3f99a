import Fastify from 'fastify';
import type { InjectOptions, Response } from 'light-my-request';
import { describe, expect, onTestFinished, test } from 'vitest';
import { buildApp } from '../../server/app.ts';
import { CALCULATIONS } from '../../server/calculators/table.ts';
import { apiTokens, people, signIns } from '../../server/db/tables/studio.ts';
import type { Actor, Deps } from '../../server/deps.ts';
import type { App } from '../../server/http/app.ts';
import { insertTry } from '../../server/people/doorQueries.ts';
import { type DeclaredRoute, declaredRoutes, demandDeclaredRoutes } from '../../server/people/guards.ts';
import { insertPerson } from '../../server/people/queries.ts';
import { routeTable, routeTableText } from '../../server/people/routeTable.ts';
import { makeToken, openSignIn } from '../../server/people/signIn.ts';
import { findStudio } from '../../server/settings/queries.ts';
import { freshDeps, freshStudio } from '../support/app.ts';

const MINUTE = 60_000;
const DAY = 24 * 60 * MINUTE;
const PASSPHRASE = 'four unrelated words';

/** A browser somewhere on the network, as one request: at the server's own machine when nothing else is said. */
interface Visit {
  method?: 'GET' | 'POST';
  url: string;
  form?: Record<string, string>;
  address?: string;
  host?: string;
  cookie?: string;
  headers?: Record<string, string | undefined>;
}

function visit(app: App, v: Visit): Promise<Response> {
  const host = v.host ?? 'localhost:8420';
  const headers: Record<string, string | undefined> = {
    host,
    ...(v.method === 'POST' ? { origin: `http://${host}`, 'content-type': 'application/x-www-form-urlencoded' } : {}),
    ...(v.cookie === undefined ? {} : { cookie: v.cookie }),
    ...v.headers,
  };
  const options: InjectOptions = {
    method: v.method ?? 'GET',
    url: v.url,
    remoteAddress: v.address ?? '127.0.0.1',
    headers: Object.fromEntries(Object.entries(headers).filter((h): h is [string, string] => h[1] !== undefined)),
    ...(v.form ? { payload: new URLSearchParams(v.form).toString() } : {}),
  };
  return app.inject(options);
}

async function appOver(deps: Deps): Promise<App> {
  const app = await buildApp(deps);
  await app.ready();
  onTestFinished(() => app.close());
  return app;
}

const cookieOf = (response: Response): string => {
  const cookie = response.cookies.find((c) => c.name === 'studio');
  return `studio=${cookie?.value ?? ''}`;
};

const FIRST_RUN = {
  code: '314159',
  studioName: 'Tide Works',
  currency: 'EUR',
  zone: 'Europe/Lisbon',
  units: 'metric',
  readabilityMg: '10',
  ownerName: 'Inês',
  passphrase: PASSPHRASE,
};

describe('first run', () => {
  test('every page leads there until there is a studio, and not afterwards', async () => {
    const { deps } = await freshDeps();
    const app = await appOver(deps);
    const door = await visit(app, { url: '/fibres' });
    expect([door.statusCode, door.headers.location]).toEqual([303, '/sign-in?to=%2Ffibres']);
    const next = await visit(app, { url: '/sign-in?to=%2Ffibres' });
    expect([next.statusCode, next.headers.location]).toEqual([303, '/first-run']);
    expect((await visit(app, { url: '/first-run' })).statusCode).toBe(200);

    const saved = await visit(app, { method: 'POST', url: '/first-run', form: FIRST_RUN });
    expect([saved.statusCode, saved.headers.location]).toEqual([303, '/']);
    expect((await visit(app, { url: '/fibres', cookie: cookieOf(saved) })).statusCode).toBe(200);
    const again = await visit(app, { url: '/first-run' });
    expect([again.statusCode, again.headers.location]).toEqual([303, '/']);
  });

  test('the link of the terminal holds the code; the sample studio is left out when unticked', async () => {
    const { deps } = await freshDeps();
    const app = await appOver(deps);
    const linked = (await visit(app, { url: `/first-run?code=${deps.firstRunCode}` })).body;
    expect(linked).toContain(`<input type="hidden" name="code" value="${deps.firstRunCode}">`);
    expect(linked).not.toContain('One-time code');
    await visit(app, { method: 'POST', url: '/first-run', form: FIRST_RUN });
    expect(findStudio(deps.db)).toMatchObject({ name: 'Tide Works', currency: 'EUR', sample: 0 });
    expect(deps.db.select().from(people).all()).toMatchObject([{ name: 'Inês', role: 'owner' }]);
    // OWASP Password Storage Cheat Sheet: scrypt with N = 2^16, r = 8, p = 2. The other tests sign in by a hash of less cost.
    expect(deps.db.select().from(people).all()[0]?.passphraseHash).toMatch(/^scrypt\$65536\$8\$2\$/);
    expect(deps.sqlite.prepare('select count(*) from swatches').pluck().get()).toBe(0);
  });

  test.each([
    ['at the server itself, where a proxy may stand', {}],
    ['from another machine', { address: '192.168.1.40', host: '192.168.1.20:8420' }],
    ['from another machine that claims to be here', { address: '192.168.1.40', host: 'localhost:8420' }],
    ['here, but under a name that another site chose', { host: 'evil.example' }],
    ['through a proxy', { headers: { 'x-forwarded-for': '192.168.1.40' } }],
  ] as [string, Partial<Visit>][])('%s it asks for the code in the terminal', async (_, from) => {
    const { deps } = await freshDeps();
    const app = await appOver(deps);
    expect((await visit(app, { ...from, url: '/first-run' })).body).toContain('name="code"');

    const { code, ...rest } = FIRST_RUN;
    const without = await visit(app, { ...from, method: 'POST', url: '/first-run', form: rest });
    expect(without.statusCode).toBe(422);
    expect(without.body).toContain('id="f-code-error"');
    expect(without.body).toContain('value="Tide Works"');
    expect(without.body).not.toContain(PASSPHRASE);
    expect(findStudio(deps.db)).toBeUndefined();

    const wrong = await visit(app, { ...from, method: 'POST', url: '/first-run', form: { ...rest, code: '000000' } });
    expect(wrong.statusCode).toBe(422);
    expect(wrong.body).toContain('id="f-code-error"');
    expect(code).toBe(deps.firstRunCode);
    expect((await visit(app, { ...from, method: 'POST', url: '/first-run', form: FIRST_RUN })).statusCode).toBe(303);
  });

  test('ten wrong codes and the right one no longer helps there, while another address still gets in', async () => {
    const { deps } = await freshDeps();
    const app = await appOver(deps);
    const post = async (code: string, address = '192.168.1.40'): Promise<number> =>
      (
        await visit(app, {
          method: 'POST',
          url: '/first-run',
          address,
          host: '192.168.1.20:8420',
          form: { ...FIRST_RUN, code },
        })
      ).statusCode;
    for (let i = 0; i < 10; i++) expect(await post(String(100_000 + i))).toBe(422);
    expect(await post(deps.firstRunCode)).toBe(429);
    expect(findStudio(deps.db)).toBeUndefined();
    expect(await post(deps.firstRunCode, '192.168.1.41')).toBe(303);
  });

  test('a second set-up is refused and changes nothing', async () => {
    const { app, deps } = await freshStudio();
    const before = findStudio(deps.db);
    const second = await visit(app, {
      method: 'POST',
      url: '/first-run',
      form: { ...FIRST_RUN, studioName: 'Mine now', ownerName: 'Mallory' },
    });
    expect(second.statusCode).toBe(409);
    expect(second.cookies).toEqual([]);
    expect(findStudio(deps.db)).toEqual(before);
    expect(deps.db.select().from(people).all()).toHaveLength(1);
  });

  test.each([
    ['studioName', '  '],
    ['currency', 'euros'],
    ['zone', 'Atlantis/Capital'],
    ['units', 'cubits'],
    ['readabilityMg', '3'],
    ['ownerName', ''],
    ['passphrase', 'too short'],
  ])('%s "%s" is answered beside the field, and nothing is saved', async (field, typed) => {
    const { deps } = await freshDeps();
    const app = await appOver(deps);
    const refused = await visit(app, { method: 'POST', url: '/first-run', form: { ...FIRST_RUN, [field]: typed } });
    expect(refused.statusCode).toBe(422);
    expect(refused.body).toMatch(/class="field[^"]* has-error"/);
    expect(findStudio(deps.db)).toBeUndefined();
  });
});

const signInVisit = (over: Partial<Visit> & { name?: string; passphrase?: string; to?: string } = {}): Visit => {
  const { name = 'Inês', passphrase = PASSPHRASE, to = '/', ...rest } = over;
  return { method: 'POST', url: '/sign-in', form: { name, passphrase, to }, ...rest };
};

describe('signing in and out', () => {
  test('name and passphrase open the studio; signing out closes it on the server too', async () => {
    const { app } = await freshStudio();
    const entered = await visit(app, signInVisit({ to: '/fibres' }));
    expect([entered.statusCode, entered.headers.location]).toEqual([303, '/fibres']);
    const cookie = cookieOf(entered);
    expect((await visit(app, { url: '/fibres', cookie })).statusCode).toBe(200);
    expect((await visit(app, { url: '/sign-in', cookie })).headers.location).toBe('/');

    const left = await visit(app, { method: 'POST', url: '/sign-out', cookie });
    expect([left.statusCode, left.headers.location]).toEqual([303, '/sign-in']);
    expect((await visit(app, { url: '/fibres', cookie })).statusCode).toBe(303);
  });

  test('the name may be typed in other letters; a wrong passphrase and an unknown name read the same', async () => {
    const { app } = await freshStudio();
    expect((await visit(app, signInVisit({ name: ' inês ' }))).statusCode).toBe(303);
    const wrong = await visit(app, signInVisit({ passphrase: 'four unrelated wards' }));
    const unknown = await visit(app, signInVisit({ name: 'Nobody' }));
    expect([wrong.statusCode, unknown.statusCode]).toEqual([401, 401]);
    expect(wrong.cookies).toEqual([]);
    expect(wrong.body).toContain('value="Inês"');
    expect(wrong.body).not.toContain('wards');
    expect(unknown.body.replaceAll('Nobody', 'Inês')).toBe(wrong.body);
  });

  test('the cookie is out of reach of scripts and other sites, and its token is kept only as a hash', async () => {
    const { app, deps } = await freshStudio();
    const cookie = (await visit(app, signInVisit())).cookies[0];
    expect(cookie).toMatchObject({ name: 'studio', httpOnly: true, sameSite: 'Lax', path: '/', maxAge: 30 * 86_400 });
    expect(cookie).not.toHaveProperty('secure');
    expect(cookie).not.toHaveProperty('domain');
    expect(String(cookie?.value).length).toBeGreaterThanOrEqual(43); // 256 bits in base64url
    expect(JSON.stringify(deps.db.select().from(signIns).all())).not.toContain(cookie?.value);
  });

  test('behind a proxy that says https the cookie is Secure', async () => {
    const { deps } = await freshStudio();
    const app = await appOver({ ...deps, config: { ...deps.config, trustProxy: { hops: 1 } } });
    const entered = await visit(
      app,
      signInVisit({
        host: 'studio.example',
        headers: { 'x-forwarded-proto': 'https', 'x-forwarded-for': '203.0.113.9', origin: 'https://studio.example' },
      }),
    );
    expect(entered.statusCode).toBe(303);
    expect(entered.cookies[0]).toMatchObject({ secure: true, httpOnly: true });
  });

  test('a sign-in ends after thirty days, or when its person is no longer active', async () => {
    const { app, deps, clock, owner } = await freshStudio();
    const cookie = `studio=${openSignIn(deps, owner.personId, 'test')}`;
    const status = async (): Promise<number> => (await visit(app, { url: '/fibres', cookie })).statusCode;
    clock.now += 30 * DAY - 1;
    expect(await status()).toBe(200);
    clock.now += 1;
    expect(await status()).toBe(303);
    clock.now -= DAY;
    expect(await status()).toBe(200);
    deps.db.update(people).set({ active: 0 }).run();
    expect(await status()).toBe(303);
    expect((await visit(app, signInVisit())).statusCode).toBe(401);
  });

  test('a made-up cookie opens nothing', async () => {
    const { app } = await freshStudio();
    expect((await visit(app, { url: '/fibres', cookie: 'studio=AAAA' })).statusCode).toBe(303);
    expect((await visit(app, { url: '/api/v1/fibres', cookie: 'studio=' })).statusCode).toBe(401);
  });

  test.each([
    '//evil.example',
    '/\\evil.example',
    '\\\\evil.example',
    'https://evil.example/',
    'javascript:alert(1)',
    '/\t/evil.example',
    ' //evil.example',
    'evil.example',
    '/fibres\r\nset-cookie: a=b',
  ])('to=%j leads home, not away', async (to) => {
    const { app, deps, owner } = await freshStudio();
    expect((await visit(app, signInVisit({ to }))).headers.location).toBe('/');
    const signedIn = `studio=${openSignIn(deps, owner.personId, 'test')}`;
    const url = `/sign-in?to=${encodeURIComponent(to)}`;
    expect((await visit(app, { url, cookie: signedIn })).headers.location).toBe('/');
    expect((await visit(app, { url })).body).toContain('name="to" value="/"');
  });
});

describe('guessing', () => {
  test('six failures close one account for a quarter of an hour, and no other', async () => {
    const { app, deps, clock } = await freshStudio();
    insertPerson(deps.db, {
      name: 'Rui',
      role: 'dyer',
      passphraseHash: deps.db.select().from(people).all()[0]?.passphraseHash ?? null,
      labourRateMinorPerHour: null,
      active: 1,
      createdAt: clock.now,
    });
    for (let i = 0; i < 6; i++) {
      expect((await visit(app, signInVisit({ passphrase: `wrong words ${i}` }))).statusCode).toBe(401);
    }
    const refused = await visit(app, signInVisit());
    expect(refused.statusCode).toBe(429);
    expect(refused.body).toContain('Wait a quarter of an hour');
    expect((await visit(app, signInVisit({ address: '192.168.1.40', host: '192.168.1.20' }))).statusCode).toBe(429);
    expect((await visit(app, signInVisit({ name: 'Rui' }))).statusCode).toBe(303);
    clock.now += 15 * MINUTE - 1;
    expect((await visit(app, signInVisit())).statusCode).toBe(429);
    clock.now += 2;
    expect((await visit(app, signInVisit())).statusCode).toBe(303);
  });

  test('guesses sent all at once are counted as well', async () => {
    const { app } = await freshStudio();
    const answers = await Promise.all(
      Array.from({ length: 9 }, (_, i) => visit(app, signInVisit({ passphrase: `wrong words ${i}` }))),
    );
    const statuses = answers.map((a) => a.statusCode).sort();
    expect(statuses).toEqual([401, 401, 401, 401, 401, 401, 429, 429, 429]);
  });

  test('an account that was entered begins its count anew', async () => {
    const { app, deps, clock } = await freshStudio();
    const fail = (n: number): void => {
      for (let i = 0; i < n; i++) {
        clock.now += 1000;
        insertTry(deps.db, { account: 'inês', address: '10.0.0.9', deviceHash: null }, clock.now);
      }
    };
    fail(5);
    clock.now += 1000;
    expect((await visit(app, signInVisit())).statusCode).toBe(303);
    fail(5);
    clock.now += 1000;
    expect((await visit(app, signInVisit())).statusCode).toBe(303);
    fail(6);
    expect((await visit(app, signInVisit())).statusCode).toBe(429);
  });

  test('thirty failures from one address close the door to that address, whatever the names', async () => {
    const { app, deps, clock } = await freshStudio();
    for (let i = 0; i < 30; i++) {
      insertTry(deps.db, { account: `guess ${i}`, address: '192.168.1.66', deviceHash: null }, clock.now);
    }
    const host = '192.168.1.20';
    expect((await visit(app, signInVisit({ host, address: '192.168.1.66' }))).statusCode).toBe(429);
    expect((await visit(app, signInVisit({ host, address: '192.168.1.67' }))).statusCode).toBe(303);
  });
});

describe('requests that another site made', () => {
  const send = async (headers: Record<string, string | undefined>): Promise<Response> => {
    const { app, deps, owner } = await freshStudio();
    const answer = await visit(app, {
      method: 'POST',
      url: '/fibres',
      cookie: `studio=${openSignIn(deps, owner.personId, 'test')}`,
      form: { name: 'Linen', class: 'cellulose', kind: 'cloth' },
      headers,
    });
    expect(deps.sqlite.prepare('select count(*) from fibres').pluck().get()).toBe(answer.statusCode === 303 ? 1 : 0);
    return answer;
  };

  test.each([
    ['Sec-Fetch-Site: cross-site', { 'sec-fetch-site': 'cross-site' }],
    ['Sec-Fetch-Site: same-site (another port or subdomain)', { 'sec-fetch-site': 'same-site' }],
    [
      'Sec-Fetch-Site: cross-site with our own Origin',
      { 'sec-fetch-site': 'cross-site', origin: 'http://localhost:8420' },
    ],
    ['a foreign Origin', { origin: 'https://evil.example' }],
    ['our host on another port', { origin: 'http://localhost:9999' }],
    ['a host that begins like ours', { origin: 'http://localhost:8420.evil.example' }],
    ['Origin: null', { origin: 'null' }],
    ['an Origin that is none', { origin: 'localhost' }],
    ['neither header', { origin: undefined }],
    ['neither, with a login of another kind', { origin: undefined, authorization: 'Basic eDp5' }],
  ] as [string, Record<string, string | undefined>][])('%s: refused', async (_, headers) => {
    const answer = await send(headers);
    expect(answer.statusCode).toBe(403);
    expect(answer.body).toContain('did not come from a page of this studio');
  });

  test.each([
    ['Sec-Fetch-Site: same-origin', { 'sec-fetch-site': 'same-origin', origin: undefined }],
    ['our own Origin', { origin: 'http://localhost:8420' }],
  ] as [string, Record<string, string | undefined>][])('%s: accepted', async (_, headers) => {
    expect((await send(headers)).statusCode).toBe(303);
  });

  test('the API refuses a browser of another site in its own shape', async () => {
    const { app, deps, owner } = await freshStudio();
    const answer = await app.inject({
      method: 'POST',
      url: '/api/v1/fibres',
      headers: { cookie: `studio=${openSignIn(deps, owner.personId, 'test')}`, origin: 'https://evil.example' },
      payload: { name: 'Linen', class: 'cellulose', kind: 'cloth' },
    });
    expect([answer.statusCode, answer.json().code]).toEqual([403, 'crossSite']);
    expect(answer.headers['content-type']).toContain('application/problem+json');
  });

  test('no other site may read an answer', async () => {
    const { app, api } = await freshStudio();
    const answer = await app.inject({
      url: '/api/v1/fibres',
      headers: { authorization: `Bearer ${api.token}`, origin: 'https://evil.example' },
    });
    expect(answer.headers).not.toHaveProperty('access-control-allow-origin');
  });
});

describe('API tokens', () => {
  const call = (app: App, token: string, method: 'GET' | 'POST' = 'GET', url = '/api/v1/fibres'): Promise<Response> =>
    app.inject({
      method,
      url,
      headers: { authorization: `Bearer ${token}` },
      ...(method === 'POST' ? { payload: { name: `Linen ${token.length}`, class: 'cellulose', kind: 'cloth' } } : {}),
    });
  const outcome = (r: Response): [number, string | undefined] => [r.statusCode, r.json().code];

  test('a reading token reads and does not write; a writing one does both', async () => {
    const { app, deps, owner } = await freshStudio();
    const read = makeToken(deps, { name: 'sheet', scope: 'read', expiresAt: null }, owner.personId).token;
    const write = makeToken(deps, { name: 'scale', scope: 'write', expiresAt: null }, owner.personId).token;
    expect((await call(app, read)).statusCode).toBe(200);
    expect(outcome(await call(app, read, 'POST'))).toEqual([403, 'notAllowed']);
    expect((await call(app, write, 'POST')).statusCode).toBe(201);
  });

  test('a token opens no page, not even with a cookie beside it', async () => {
    const { app, api, deps, owner } = await freshStudio();
    expect((await call(app, api.token, 'GET', '/fibres')).statusCode).toBe(403);
    const both = await app.inject({
      method: 'POST',
      url: '/fibres',
      headers: {
        authorization: `Bearer ${api.token}`,
        cookie: `studio=${openSignIn(deps, owner.personId, 'test')}`,
        'content-type': 'application/x-www-form-urlencoded',
      },
      payload: 'name=Linen&class=cellulose&kind=cloth',
    });
    expect(both.statusCode).toBe(403);
  });

  test('made in Settings it is shown once, stored as a hash, and ends when revoked or run out', async () => {
    const { app, page, deps, clock } = await freshStudio();
    const made = await page.post('/settings/tokens', { name: 'sheet', scope: 'write', days: '30' });
    const token = /ls_[\w-]{40}/.exec(made.text)?.[0] ?? '';
    expect(made.status).toBe(201);
    expect(made.headers['cache-control']).toBe('no-store');
    expect((await call(app, token)).statusCode).toBe(200);
    expect((await page.get('/settings')).text).not.toContain(token);
    expect(JSON.stringify(deps.db.select().from(apiTokens).all())).not.toContain(token);

    clock.now += 30 * DAY;
    expect(outcome(await call(app, token))).toEqual([401, 'notSignedIn']);
    clock.now -= DAY;
    expect((await call(app, token)).statusCode).toBe(200);

    const { id } = deps.db
      .select()
      .from(apiTokens)
      .all()
      .find((t) => t.name === 'sheet') ?? { id: 0 };
    expect((await page.post(`/settings/tokens/${id}/revocation`)).status).toBe(303);
    expect(outcome(await call(app, token))).toEqual([401, 'notSignedIn']);
    expect((await page.post(`/settings/tokens/${id}/revocation`)).status).toBe(404);
  });

  test.each([['ls_madeup'], ['']])('"%s" is no token', async (token) => {
    const { app } = await freshStudio();
    expect(outcome(await call(app, token))).toEqual([401, 'notSignedIn']);
  });

  test('a bad token is refused even where a cookie would do', async () => {
    const { app, deps, owner } = await freshStudio();
    const answer = await app.inject({
      url: '/api/v1/fibres',
      headers: {
        authorization: 'Bearer ls_madeup',
        cookie: `studio=${openSignIn(deps, owner.personId, 'test')}`,
      },
    });
    expect(answer.statusCode).toBe(401);
  });

  test('it does what its person may, no more, and nothing once that person is gone', async () => {
    const { app, deps, clock } = await freshStudio();
    const viewer = insertPerson(deps.db, {
      name: 'Ana',
      role: 'viewer',
      passphraseHash: null,
      labourRateMinorPerHour: null,
      active: 1,
      createdAt: clock.now,
    });
    const { token } = makeToken(deps, { name: 'sheet', scope: 'write', expiresAt: null }, viewer.id);
    expect((await call(app, token)).statusCode).toBe(200);
    expect(outcome(await call(app, token, 'POST'))).toEqual([403, 'notAllowed']);
    deps.db.update(people).set({ active: 0 }).run();
    expect((await call(app, token)).statusCode).toBe(401);
  });
});

describe('what cannot be read', () => {
  test.each([
    ['/fibres/%zz', 'GET', 400],
    ['/%', 'GET', 400],
    ['/fibres/abc', 'GET', 303],
    ['/nothing-here', 'GET', 404],
    ['/nothing-here', 'POST', 404],
  ] as const)('%s (%s) is answered %i in our own words', async (url, method, status) => {
    const { app } = await freshStudio();
    const answer = await app.inject({ url, method, headers: { host: 'studio.test', origin: 'http://studio.test' } });
    expect(answer.statusCode).toBe(status);
    expect(answer.body).not.toMatch(/Cannot read properties|at \w+ \(|FST_/);
    if (status !== 303) expect(answer.headers['content-type']).toContain('text/html');
  });

  test('a bad token on a page address is refused as a page', async () => {
    const { app } = await freshStudio();
    const answer = await app.inject({ url: '/settings', headers: { authorization: 'Bearer ls_madeup' } });
    expect(answer.statusCode).toBe(303);
  });
});

describe('what every answer carries', () => {
  test.each(['/sign-in', '/fibres', '/nothing-here', '/api/v1/fibres', '/static/base.css'])('%s', async (url) => {
    const { app } = await freshStudio();
    const { headers } = await app.inject({ url });
    const policy = String(headers['content-security-policy']);
    expect(policy).not.toMatch(/unsafe-|\*|https?:/);
    expect(policy).toMatch(/default-src 'self'/);
    expect(policy).toMatch(/script-src 'self'(;|$)/);
    expect(policy).toMatch(/style-src 'self'(;|$)/);
    expect(policy).toMatch(/object-src 'none'/);
    expect(policy).toMatch(/base-uri 'none'/);
    expect(policy).toMatch(/form-action 'self'/);
    expect(policy).toMatch(/frame-ancestors 'none'/);
    expect(headers['x-content-type-options']).toBe('nosniff');
    expect(headers['referrer-policy']).toBe('same-origin');
  });
});

/** Answers that stay open: a browser listens. */
const STREAMS = new Set(['GET /lots/:id/live']);

/** Routes open to everybody; whoever adds one says so here. */
const OPEN_TO_ANYONE = [
  'GET /after-restore',
  'POST /after-restore',
  'GET /api/v1/problems',
  'GET /api/v1/problems/:name',
  'GET /first-run',
  'POST /first-run',
  'GET /sign-in',
  'POST /sign-in',
  'POST /sign-out',
  // Behind a secret of their own: a one-time link, a short code.
  'GET /invitation/:token',
  'POST /invitation/:token',
  // Behind the passphrase: a ticket for the second step.
  'GET /second-step',
  'POST /second-step',
  'POST /second-step/passkey',
  'GET /bench-device',
  'POST /bench-device',
  'GET /static/*',
  'GET /static/shared/*',
  // A phone must read how to trust the studio's certificate before it can sign in over https.
  'GET /trust',
  'GET /trust/studio-authority.crt',
  // For whoever watches over the service; nothing of the studio is told.
  'GET /healthz',
  'GET /readyz',
  'GET /api/v1/openapi.json',
  // Stateless arithmetic: nothing of the studio is read or written.
  'GET /api/v1/calc',
  ...Object.keys(CALCULATIONS).map((name) => `POST /api/v1/calc/${name}`),
];

describe('the table of routes', () => {
  const lines = (app: App): (DeclaredRoute & { line: string })[] =>
    declaredRoutes(app).flatMap((route) =>
      route.method
        .split(',')
        .filter((method) => method !== 'HEAD')
        .map((method) => ({ ...route, method, line: `${method} ${route.url}` })),
    );
  const attempt = (app: App, route: { method: string; url: string }, cookie?: string): Promise<Response> =>
    app.inject({
      method: route.method as 'GET',
      url: route.url.replace(/:\w+(\([^)]*\))?/g, '1').replace('*', 'x'),
      headers: { host: 'studio.test', origin: 'http://studio.test', ...(cookie ? { cookie } : {}) },
    });

  test('a route that does not say who may use it keeps the service from starting', async () => {
    const app = Fastify();
    demandDeclaredRoutes(app);
    app.get('/open-to-whom', async () => 'hello');
    await expect(app.ready()).rejects.toThrow('GET /open-to-whom does not declare who may use it');
  });

  test('only these are open to anyone', async () => {
    const { app } = await freshStudio();
    const open = lines(app).filter((r) => r.may === 'anyone');
    expect(open.map((r) => r.line).sort()).toEqual([...OPEN_TO_ANYONE].sort());
    expect(lines(app).length).toBeGreaterThan(OPEN_TO_ANYONE.length + 10);
  });

  test('nobody gets in anywhere else', async () => {
    const { app } = await freshStudio();
    for (const route of lines(app).filter((r) => r.may !== 'anyone')) {
      const answer = await attempt(app, route);
      if (route.url.startsWith('/api/')) {
        expect([answer.statusCode, answer.json().code], route.line).toEqual([401, 'notSignedIn']);
      } else if (route.method === 'GET') {
        expect(answer.statusCode, route.line).toBe(303);
        expect(answer.headers.location, route.line).toMatch(/^\/sign-in\?to=/);
      } else {
        expect(answer.statusCode, route.line).toBe(401);
      }
    }
  });

  test.each([
    ['viewer', ['log', 'work', 'own']],
    ['bench', ['work', 'own']],
    ['dyer', ['own']],
  ] as [Actor['role'], string[]][])('a %s is refused every route for %j', async (role, closed) => {
    const { app, deps, clock } = await freshStudio();
    const person = insertPerson(deps.db, {
      name: 'Ana',
      role,
      passphraseHash: null,
      labourRateMinorPerHour: null,
      active: 1,
      createdAt: clock.now,
    });
    const cookie = `studio=${openSignIn(deps, person.id, 'test')}`;
    const shut = lines(app).filter((r) => closed.includes(r.may));
    expect(shut.length).toBeGreaterThan(0);
    for (const route of shut) expect((await attempt(app, route, cookie)).statusCode, route.line).toBe(403);
  });

  test.each([
    ['owner', ['anyone', 'look', 'log', 'work', 'own']],
    ['dyer', ['anyone', 'look', 'log', 'work']],
    ['bench', ['anyone', 'look', 'log']],
    ['viewer', ['anyone', 'look']],
  ] as [Actor['role'], string[]][])(
    'a %s is let through every route for %j, to whatever it says',
    async (role, open) => {
      const { app, deps, clock } = await freshStudio();
      const person = insertPerson(deps.db, {
        name: 'Ana',
        role,
        passphraseHash: null,
        labourRateMinorPerHour: null,
        active: 1,
        createdAt: clock.now,
      });
      for (const route of lines(app).filter((r) => open.includes(r.may) && !STREAMS.has(r.line))) {
        // Anew each time, since one of the routes signs out.
        const cookie = `studio=${openSignIn(deps, person.id, 'test')}`;
        const answer = await attempt(app, route, cookie);
        expect([401, 403], `${route.line}: ${answer.body.slice(0, 200)}`).not.toContain(answer.statusCode);
        expect(answer.statusCode, `${route.line}: ${answer.body.slice(0, 200)}`).toBeLessThan(500);
      }
    },
  );

  test('the printed table says of each route who may use it', async () => {
    const { app } = await freshStudio();
    const table = routeTable(app);
    expect(table).toContainEqual({ method: 'POST', url: '/fibres', may: 'work', roles: ['owner', 'dyer'] });
    expect(table).toContainEqual({ method: 'GET', url: '/people', may: 'own', roles: ['owner'] });
    expect(table).toContainEqual({
      method: 'POST',
      url: '/lots/:id/weighings',
      may: 'log',
      roles: ['owner', 'dyer', 'bench'],
    });
    expect(table.map((r) => `${r.method} ${r.url}`).sort()).toEqual(
      lines(app)
        .map((r) => r.line)
        .sort(),
    );
    const text = routeTableText(table);
    expect(text.split('\n')).toHaveLength(table.length + 1);
    expect(text).toMatch(/^POST +\/fibres +yes +yes +– +– +–$/m);
    expect(text).toMatch(/^GET +\/sign-in +yes +yes +yes +yes +yes$/m);
  });
});
