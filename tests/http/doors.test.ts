import { request as httpRequest } from 'node:http';
import type { AddressInfo } from 'node:net';
import { describe, expect, onTestFinished, test } from 'vitest';
import { buildApp } from '../../server/app.ts';
import { readConfig } from '../../server/config.ts';
import { apiTokens, auditEntries, signIns } from '../../server/db/tables/studio.ts';
import type { Deps } from '../../server/deps.ts';
import { trustOf } from '../../server/http/visitors.ts';
import { isCommonPassphrase } from '../../server/people/commonPassphrases.ts';
import { insertPerson } from '../../server/people/queries.ts';
import { makeToken, openSignIn } from '../../server/people/signIn.ts';
import { StrangersTries } from '../../server/people/strangersTries.ts';
import { freshStudio, type TestStudio } from '../support/app.ts';
import { visitorAt } from '../support/visitor.ts';

const MINUTE = 60_000;
const PASSPHRASE = 'four unrelated words';
const { packageRoot } = readConfig({});

async function appWith(deps: Deps, changes: Partial<Deps['config']>): Promise<Awaited<ReturnType<typeof buildApp>>> {
  const app = await buildApp({ ...deps, config: { ...deps.config, ...changes } });
  await app.ready();
  onTestFinished(() => app.close());
  return app;
}
const auditOf = ({ deps }: Pick<TestStudio, 'deps'>) => deps.db.select().from(auditEntries).all();

describe('whose word counts for where a request comes from', () => {
  test.each(['yes', 'true', '0', '0.0.0.0/0', '::/0', '10.0.0.0/33', 'proxy.example', '1, 2', '10.0.0.1/8/8'])(
    'TRUST_PROXY=%s is refused in words',
    (typed) => {
      expect(() => readConfig({ TRUST_PROXY: typed })).toThrow(
        /TRUST_PROXY="[^"]*" will not do: say which reverse proxies in front may tell/,
      );
    },
  );

  test.each([
    ['no', null],
    ['', null],
    ['1', { hops: 1 }],
    ['127.0.0.1', { networks: [{ address: '127.0.0.1', prefix: 32 }] }],
    [
      '10.1.0.0/16, ::1',
      {
        networks: [
          { address: '10.1.0.0', prefix: 16 },
          { address: '::1', prefix: 128 },
        ],
      },
    ],
  ])('TRUST_PROXY=%s is %j', (typed, is) => {
    expect(readConfig({ TRUST_PROXY: typed }).trustProxy).toEqual(is);
  });

  test('a number of hops trusts the nearest only when it is of this network; a list trusts those on it', () => {
    const hops = trustOf({ trustProxy: { hops: 2 } });
    const list = trustOf(readConfig({ TRUST_PROXY: '10.1.0.0/16' }));
    if (!hops || !list) throw new Error('Both trust somebody.');
    expect([hops('127.0.0.1', 0), hops('203.0.113.9', 1), hops('127.0.0.1', 2)]).toEqual([true, true, false]);
    expect([hops('203.0.113.9', 0), hops('::ffff:192.168.1.4', 0)]).toEqual([false, true]);
    expect([list('10.1.2.3', 0), list('::ffff:10.1.2.3', 5), list('10.2.0.1', 0), list('nobody', 0)]).toEqual([
      true,
      true,
      false,
      false,
    ]);
    expect(trustOf({ trustProxy: null })).toBe(false);
  });

  test('the client’s own X-Forwarded-For counts for nothing: thirty names from one address, and no more', async () => {
    const { deps } = await freshStudio();
    const app = await appWith(deps, { trustProxy: { hops: 1 } });
    const statuses: number[] = [];
    for (let i = 0; i < 33; i++) {
      // The proxy at 127.0.0.1 adds the address that it saw, whatever the client wrote before it.
      const proxied = {
        'x-forwarded-for': `10.9.9.${i}, 203.0.113.7`,
        'x-forwarded-proto': 'https',
        origin: 'https://studio.test',
      };
      const answer = await visitorAt(app, { address: '127.0.0.1' }).post(
        '/sign-in',
        { name: `Nobody ${i}`, passphrase: 'x' },
        proxied,
      );
      statuses.push(answer.statusCode);
    }
    expect(statuses.filter((s) => s === 401)).toHaveLength(30);
    expect(statuses.slice(30)).toEqual([429, 429, 429]);
    const addresses = new Set(
      deps.db
        .select()
        .from(auditEntries)
        .all()
        .map((e) => e.address),
    );
    expect([...addresses]).toEqual(['203.0.113.7']);
  }, 120_000);

  test('X-Forwarded-Host is nobody’s word, not even a proxy’s: links name the host of the connection', async () => {
    const { deps, owner } = await freshStudio();
    const cookies = { studio: openSignIn(deps, owner.personId, 'test') };
    for (const trustProxy of [null, { hops: 1 }]) {
      const app = await appWith(deps, { trustProxy });
      const made = await visitorAt(app, { address: '127.0.0.1', host: 'studio.example', cookies }).post(
        `/people/invitations`,
        { role: 'dyer', labourRate: '', note: '' },
        { 'x-forwarded-host': 'evil.example' },
      );
      expect(made.statusCode).toBe(201);
      expect(made.body).toContain('http://studio.example/invitation/');
      expect(made.body).not.toContain('evil.example');
    }
  });

  test('HOSTS: other names are answered in words and get nothing; the health addresses go on', async () => {
    const { deps, api } = await freshStudio();
    const hosts = readConfig({ HOSTS: 'Studio.Example, studio.local,[::1]' }).hosts;
    expect(hosts).toEqual(['studio.example', 'studio.local', '[::1]']);
    expect(() => readConfig({ HOSTS: 'http://studio.example' })).toThrow(/HOSTS=.*will not do/);
    const app = await appWith(deps, { hosts });
    const at = (url: string, host: string) =>
      app.inject({ url, headers: { host, authorization: `Bearer ${api.token}` } });
    for (const host of ['studio.example', 'STUDIO.example:8420', 'studio.local:80', '[::1]:8420', 'studio.example.'])
      expect((await at('/api/v1/fibres', host)).statusCode, host).toBe(200);
    for (const host of ['evil.example', 'studio.example.evil.example', '127.0.0.1', 'xstudio.local', '']) {
      const refused = await at('/api/v1/fibres', host);
      expect([refused.statusCode, refused.json().code], host).toEqual([421, 'wrongHost']);
    }
    const page = await visitorAt(app, { host: 'evil.example' }).get('/sign-in');
    expect(page.statusCode).toBe(421);
    expect(page.body).toContain('This studio is not found under that name.');
    expect((await visitorAt(app, { host: 'evil.example' }).get('/static/base.css')).statusCode).toBe(421);
    for (const url of ['/healthz', '/readyz'])
      expect((await visitorAt(app, { host: 'evil.example' }).get(url)).statusCode).toBe(200);
  });
});

describe('strangers', () => {
  test('sign-outs without a sign-in are nobody’s deed', async () => {
    const studio = await freshStudio();
    for (let i = 0; i < 40; i++) await visitorAt(studio.app).post('/sign-out');
    expect(auditOf(studio)).toEqual([]);
    const cookies = { studio: openSignIn(studio.deps, studio.owner.personId, 'test') };
    await visitorAt(studio.app, { cookies }).post('/sign-out');
    expect(auditOf(studio)).toMatchObject([{ action: 'POST /sign-out', personId: studio.owner.personId }]);
  });

  test('a thousand refused tries are a dozen lines of the audit, the last of which says how many', async () => {
    const studio = await freshStudio();
    const { app, clock } = studio;
    const visitor = visitorAt(app);
    for (let i = 0; i < 1000; i++) expect((await visitor.post('/invitation/nothing')).statusCode).toBe(404);
    const lines = auditOf(studio);
    // 1, 2, 4 … 512.
    expect(lines).toHaveLength(10);
    expect(lines.at(-1)).toMatchObject({ status: 404, detail: '512 such tries within the hour' });
    clock.now += 61 * MINUTE;
    await visitor.post('/invitation/nothing');
    expect(auditOf(studio)).toHaveLength(11);
  }, 120_000);

  test('nor does it help to come from many addresses', () => {
    const fold = new StrangersTries();
    let written = 0;
    for (let i = 0; i < 5000; i++) {
      const address = `2001:db8::${i.toString(16)}`;
      if (fold.count({ action: 'POST /sign-in', address, now: i }) !== null) written++;
    }
    // Fifty of their own, and the others as one: 1, 2, 4 … 4096.
    expect(written).toBe(50 + 13);
  });

  test('an address that nothing happens at writes no line, whoever posts to it', async () => {
    const studio = await freshStudio();
    const visitor = visitorAt(studio.app);
    for (let i = 0; i < 20; i++) expect((await visitor.post('/after-restore')).statusCode).toBe(303);
    expect(auditOf(studio)).toEqual([]);
  });

  test('hold up no device that was let in before: six wrong tries elsewhere, and its owner still comes in', async () => {
    const studio = await freshStudio();
    const { app, deps, owner } = studio;
    const known = visitorAt(app, { address: '192.168.1.20' });
    expect((await known.post('/sign-in', { name: 'Inês', passphrase: PASSPHRASE, to: '/' })).statusCode).toBe(303);
    await known.post('/sign-out');
    const stranger = visitorAt(app, { address: '192.168.1.66' });
    for (let i = 0; i < 6; i++)
      expect((await stranger.post('/sign-in', { name: 'inês', passphrase: `no ${i}` })).statusCode).toBe(401);
    expect((await stranger.post('/sign-in', { name: 'Inês', passphrase: PASSPHRASE })).statusCode).toBe(429);
    expect((await known.post('/sign-in', { name: 'Inês', passphrase: PASSPHRASE })).statusCode).toBe(303);
    // What they carry is no mark: a made-up one, and that of somebody else's device.
    const other = insertPerson(deps.db, {
      name: 'Rui',
      role: 'dyer',
      passphraseHash: null,
      labourRateMinorPerHour: null,
      active: 1,
      createdAt: 0,
    });
    expect(other.id).not.toBe(owner.personId);
    const made = visitorAt(app, { address: '192.168.1.67', cookies: { device: 'x'.repeat(43) } });
    expect((await made.post('/sign-in', { name: 'Inês', passphrase: PASSPHRASE })).statusCode).toBe(429);
    const mark = known.cookies.get('device') ?? '';
    const theirs = visitorAt(app, { address: '192.168.1.68', cookies: { device: mark } });
    for (let i = 0; i < 6; i++)
      expect((await theirs.post('/sign-in', { name: 'Rui', passphrase: `no ${i}` })).statusCode).toBe(401);
    expect((await theirs.post('/sign-in', { name: 'Rui', passphrase: 'x' })).statusCode).toBe(429);
  }, 120_000);

  test('a known device guesses no more often than others', async () => {
    const { app } = await freshStudio();
    const known = visitorAt(app);
    await known.post('/sign-in', { name: 'Inês', passphrase: PASSPHRASE });
    await known.post('/sign-out');
    for (let i = 0; i < 6; i++)
      expect((await known.post('/sign-in', { name: 'Inês', passphrase: `no ${i}` })).statusCode).toBe(401);
    expect((await known.post('/sign-in', { name: 'Inês', passphrase: PASSPHRASE })).statusCode).toBe(429);
    // Its own tries close no other device.
    const fresh = visitorAt(app, { address: '192.168.1.99' });
    expect((await fresh.post('/sign-in', { name: 'Inês', passphrase: PASSPHRASE })).statusCode).toBe(303);
  }, 120_000);

  test('thirty failures of an address do not close it to a device that was let in', async () => {
    const { app } = await freshStudio();
    const known = visitorAt(app);
    await known.post('/sign-in', { name: 'Inês', passphrase: PASSPHRASE });
    const stranger = visitorAt(app);
    for (let i = 0; i < 30; i++) await stranger.post('/sign-in', { name: `Nobody ${i}`, passphrase: 'x' });
    expect((await stranger.post('/sign-in', { name: 'Inês', passphrase: PASSPHRASE })).statusCode).toBe(429);
    expect((await known.post('/sign-in', { name: 'Inês', passphrase: PASSPHRASE })).statusCode).toBe(303);
  }, 120_000);

  test('ten wrong bench codes from the tablet’s own address do not close it', async () => {
    const studio = await freshStudio();
    const { app, page } = studio;
    const added = await page.post('/people/bench-devices', { name: 'tablet' });
    const at = String(added.headers['location']);
    const code = async (): Promise<string> =>
      /[2-9A-Z]{4}-[2-9A-Z]{4}/.exec(
        (await page.post(`${at}/bench-code`)).text.replace(/<svg[\s\S]*?<\/svg>/g, ''),
      )?.[0] ?? '';
    const tablet = visitorAt(app);
    expect((await tablet.post('/bench-device', { code: await code() })).statusCode).toBe(303);
    await tablet.post('/sign-out');
    const stranger = visitorAt(app);
    for (let i = 0; i < 10; i++)
      expect((await stranger.post('/bench-device', { code: `2222-22${10 + i}` })).statusCode).toBe(422);
    expect((await stranger.post('/bench-device', { code: await code() })).statusCode).toBe(429);
    expect((await tablet.post('/bench-device', { code: await code() })).statusCode).toBe(303);
  });

  test('at the door close nobody’s own page, and the page closes nobody’s door', async () => {
    const { app } = await freshStudio();
    const owner = visitorAt(app);
    await owner.post('/sign-in', { name: 'Inês', passphrase: PASSPHRASE });
    const stranger = visitorAt(app, { address: '192.168.1.66' });
    for (let i = 0; i < 7; i++) await stranger.post('/sign-in', { name: 'Inês', passphrase: `no ${i}` });
    const changed = await owner.post('/account/passphrase', {
      current: PASSPHRASE,
      passphrase: 'seven quiet indigo vats',
      tokens: 'end',
    });
    expect(changed.statusCode).toBe(303);
  }, 120_000);
});

describe('one browser, one sign-in', () => {
  test('the one before ends when another begins, whoever’s it was', async () => {
    const studio = await freshStudio();
    const { app, deps } = studio;
    const browser = visitorAt(app);
    await browser.post('/sign-in', { name: 'Inês', passphrase: PASSPHRASE });
    const first = browser.cookies.get('studio') ?? '';
    await browser.post('/sign-in', { name: 'Inês', passphrase: PASSPHRASE });
    const second = browser.cookies.get('studio') ?? '';
    expect(second).not.toBe(first);
    expect((await visitorAt(app, { cookies: { studio: first } }).get('/account')).statusCode).toBe(303);
    expect((await browser.get('/account')).statusCode).toBe(200);
    // Another browser is none of its business.
    const elsewhere = visitorAt(app);
    await elsewhere.post('/sign-in', { name: 'Inês', passphrase: PASSPHRASE });
    expect((await browser.get('/account')).statusCode).toBe(200);
    const live = deps.db
      .select()
      .from(signIns)
      .all()
      .filter((s) => s.revokedAt === null);
    // The harness's own, and one a browser.
    expect(live).toHaveLength(3);
  });

  test('a removed person’s stream ends, as one’s own does at sign-out, and nobody else’s', async () => {
    const studio = await freshStudio();
    const { deps, app, owner, page } = studio;
    const { lotWorld, writeLot } = await import('../support/finishedLots.ts');
    writeLot(lotWorld(deps, owner), { number: '26-0001', finishedAt: deps.now() });
    const ana = insertPerson(deps.db, {
      name: 'Ana',
      role: 'dyer',
      passphraseHash: null,
      labourRateMinorPerHour: null,
      active: 1,
      createdAt: 0,
    });
    await app.listen({ port: 0, host: '127.0.0.1' });
    const { port } = app.server.address() as AddressInfo;
    const follow = (personId: number, method = 'GET') =>
      new Promise<{ status: number; type: string; ended: Promise<void>; isOver: () => boolean; cookie: string }>(
        (resolve, reject) => {
          const cookie = `studio=${openSignIn(deps, personId, 'test')}`;
          const asked = httpRequest(
            { host: '127.0.0.1', port, path: '/lots/1/live', method, headers: { cookie } },
            (answer) => {
              let over = false;
              const ended = new Promise<void>((done) => answer.once('close', done));
              ended.then(() => {
                over = true;
              });
              answer.resume();
              resolve({
                status: answer.statusCode ?? 0,
                type: answer.headers['content-type'] ?? '',
                ended,
                isOver: () => over,
                cookie,
              });
            },
          );
          asked.on('error', reject);
          asked.end();
          onTestFinished(() => void asked.destroy());
        },
      );
    const [hers, mine, other] = [await follow(ana.id), await follow(owner.personId), await follow(owner.personId)];
    expect([hers.status, mine.status]).toEqual([200, 200]);
    await page.post(`/people/${ana.id}/standing`, { active: 'no' });
    await hers.ended;
    await app.inject({
      method: 'POST',
      url: '/sign-out',
      headers: { host: 'studio.test', origin: 'http://studio.test', cookie: mine.cookie },
    });
    await mine.ended;
    expect(other.isOver()).toBe(false);

    const head = await follow(owner.personId, 'HEAD');
    await head.ended;
    expect([head.status, head.type]).toEqual([200, 'text/event-stream; charset=utf-8']);
  }, 60_000);
});

describe('a login that is none', () => {
  test.each(['Bearer', 'Bearer ', 'Bearer a b', 'bearer\tls_x', 'Bearer ls_madeup', ' Bearer x'])(
    'Authorization %j skips nothing and falls back on no cookie',
    async (authorization) => {
      const { app, deps, owner } = await freshStudio();
      const cookie = `studio=${openSignIn(deps, owner.personId, 'test')}`;
      for (const url of ['/api/v1/fibres', '/fibres']) {
        const answer = await app.inject({
          method: 'POST',
          url,
          headers: { cookie, authorization, origin: 'https://evil.example', host: 'studio.test' },
          payload: { name: 'Linen', class: 'cellulose', kind: 'cloth' },
        });
        expect([401, 403], `${url} ${authorization}`).toContain(answer.statusCode);
      }
      expect(deps.sqlite.prepare('select count(*) from fibres').pluck().get()).toBe(0);
    },
  );

  test.each(['Basic eDp5', 'Digest x', 'Bearerx ls_y'])(
    'one of another kind (%s) does not skip the cross-site check either',
    async (authorization) => {
      const { app, deps, owner } = await freshStudio();
      const answer = await app.inject({
        method: 'POST',
        url: '/fibres',
        headers: {
          cookie: `studio=${openSignIn(deps, owner.personId, 'test')}`,
          authorization,
          origin: 'https://evil.example',
          host: 'studio.test',
        },
        payload: {},
      });
      expect(answer.statusCode).toBe(403);
    },
  );
});

describe('a new passphrase', () => {
  test('asks what becomes of the tokens, names them, and does what was said', async () => {
    const { app, deps, owner, page } = await freshStudio();
    makeToken(deps, { name: 'scale at the sink', scope: 'write', expiresAt: null }, owner.personId);
    makeToken(deps, { name: 'long gone', scope: 'read', expiresAt: deps.now() - 1 }, owner.personId);
    const shown = (await page.get('/account')).text;
    expect(shown).toContain('<b>scale at the sink</b>: may read and record, last used never');
    expect(shown).not.toContain('long gone');
    const change = { current: PASSPHRASE, passphrase: 'seven quiet indigo vats' };
    const asked = await page.post('/account/passphrase', change);
    expect(asked.status).toBe(422);
    expect(asked.text).toContain('Say whether these tokens go on.');
    const live = () =>
      deps.db
        .select()
        .from(apiTokens)
        .all()
        .filter((t) => t.revokedAt === null).length;
    const before = live();
    expect((await page.post('/account/passphrase', { ...change, tokens: 'keep' })).status).toBe(303);
    expect(live()).toBe(before);

    const link =
      /\/invitation\/[\w-]{43}/.exec((await page.post(`/people/${owner.personId}/passphrase-link`)).text)?.[0] ?? '';
    const lost = visitorAt(app);
    expect((await lost.get(link)).body).toContain('scale at the sink');
    expect((await lost.post(link, { passphrase: 'nine quiet indigo vats' })).statusCode).toBe(422);
    expect((await lost.post(link, { passphrase: 'nine quiet indigo vats', tokens: 'end' })).statusCode).toBe(303);
    expect(live()).toBe(0);
  }, 120_000);

  test('who has no token is not asked', async () => {
    const { deps, page } = await freshStudio();
    deps.db.update(apiTokens).set({ revokedAt: 1 }).run();
    expect((await page.get('/account')).text).not.toContain('name="tokens"');
    const change = { current: PASSPHRASE, passphrase: 'seven quiet indigo vats' };
    expect((await page.post('/account/passphrase', change)).status).toBe(303);
  });

  // Leaked ones of the list, and what people make of such words to get to twelve characters.
  test.each([
    'passwordpassword',
    'Password1234!',
    'P@ssw0rd2026!',
    '123456789012',
    '20261130120000',
    'qwertyuiop12',
    'qwerty123456',
    'aaaaaaaaaaaa',
    'abababababab',
    'iloveyou2024',
    'sunshine1234',
    'letmein!!!!!!',
    '1q2w3e4r5t6y',
    'leavemealone',
    'abcdefghijkl',
    'lotandshade1',
    'Tide Works 2026',
    'ines ines ines',
    'INÊS tide works',
  ])('“%s” is among the first that a guesser tries', async (typed) => {
    expect(await isCommonPassphrase(packageRoot, typed, ['Inês', 'Tide Works'])).toBe(true);
  });

  test.each([
    'four unrelated words',
    'correct horse battery staple',
    'a jar of woad and weld',
    'two grey ravens',
    'Inês is dyeing the river',
    'g7#kQ!zp0Rx-',
    '!#%&/()=?*+-',
    '水曜日の藍染め工房で朝早く',
  ])('“%s” is not', async (typed) => {
    expect(await isCommonPassphrase(packageRoot, typed, ['Inês', 'Tide Works'])).toBe(false);
  });

  test('a common one is refused beside its field at every door where one is chosen, and nothing is saved', async () => {
    const { app, page, deps, owner } = await freshStudio();
    const words = 'That is among the first that somebody would try.';
    const own = await page.post('/account/passphrase', {
      current: PASSPHRASE,
      passphrase: 'password1234',
      tokens: 'keep',
    });
    expect([own.status, own.text.includes(words)]).toEqual([422, true]);
    const invited = await page.post('/people/invitations', { role: 'dyer', labourRate: '', note: '' });
    const link = /\/invitation\/[\w-]{43}/.exec(invited.text)?.[0] ?? '';
    const door = await visitorAt(app).post(link, { name: 'Rui', passphrase: 'testworks2026' });
    expect([door.statusCode, door.body.includes(words)]).toEqual([422, true]);
    const lost =
      /\/invitation\/[\w-]{43}/.exec((await page.post(`/people/${owner.personId}/passphrase-link`)).text)?.[0] ?? '';
    const again = await visitorAt(app).post(lost, { passphrase: 'iloveyou2024', tokens: 'keep' });
    expect([again.statusCode, again.body.includes(words)]).toEqual([422, true]);
    expect(deps.sqlite.prepare('select count(*) from people').pluck().get()).toBe(1);
  }, 120_000);
});

test('what leaves as a whole is written down: a backup, and everything', async () => {
  const studio = await freshStudio();
  const { page } = studio;
  await page.post('/settings/backups');
  await expect
    .poll(async () => /\/settings\/backups\/\d+\/file/.test((await page.get('/settings/backup')).text), {
      timeout: 60_000,
    })
    .toBe(true);
  expect((await page.get('/settings/backups/1/file')).status).toBe(200);
  expect((await page.get('/settings/export/everything.json')).status).toBe(200);
  expect((await page.get('/settings/export/everything.zip')).status).toBe(200);
  expect((await page.get('/settings/backups/99/file')).status).toBe(404);
  await page.get('/settings/export');
  const fetched = auditOf(studio).filter((e) => e.action.startsWith('GET'));
  expect(fetched.map((e) => [e.action, e.personId, e.status])).toEqual([
    ['GET /settings/backups/:id/file', studio.owner.personId, 200],
    ['GET /settings/export/everything.json', studio.owner.personId, 200],
    ['GET /settings/export/everything.zip', studio.owner.personId, 200],
  ]);
  const shown = (await page.get('/audit')).text;
  expect(shown).toContain('downloaded a backup');
  expect(shown).toContain('downloaded everything');
}, 120_000);

test('one person’s requests do not crowd out the others’', async () => {
  const { UnderWay } = await import('../../server/http/underWay.ts');
  const underWay = new UnderWay();
  const left: (() => void)[] = [];
  const enter = (personId: number | null, ip = '10.0.0.1'): void =>
    underWay.enter(
      { actor: personId === null ? null : { personId }, ip } as never,
      { raw: { once: (_: string, leave: () => void) => left.push(leave) } } as never,
    );
  for (let i = 0; i < 200; i++) enter(1);
  expect(() => enter(1)).toThrow('Too much is asked for at once');
  // Neither another person nor a stranger at the same address is held up.
  enter(2);
  enter(null);
  left[0]?.();
  enter(1);
  expect(() => enter(1)).toThrow('Too much is asked for at once');
});
