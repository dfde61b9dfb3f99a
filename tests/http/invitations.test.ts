import type { Response } from 'light-my-request';
import { describe, expect, test } from 'vitest';
import { auditEntries, invitations, people, signIns } from '../../server/db/tables/studio.ts';
import type { App } from '../../server/http/app.ts';
import { insertPerson } from '../../server/people/queries.ts';
import { makeToken, openSignIn } from '../../server/people/signIn.ts';
import { freshStudio, type TestStudio } from '../support/app.ts';

const HOUR = 3_600_000;
const HOST = 'studio.test';

/** A browser that nobody is signed in on, or with a cookie of its own. */
const visit = (app: App, url: string, form?: Record<string, string>, cookie?: string): Promise<Response> =>
  app.inject({
    method: form ? 'POST' : 'GET',
    url,
    remoteAddress: '192.168.1.50',
    headers: {
      host: HOST,
      origin: `http://${HOST}`,
      'user-agent': 'Mozilla/5.0 (X11; Linux x86_64) Firefox/140.0',
      ...(form ? { 'content-type': 'application/x-www-form-urlencoded' } : {}),
      ...(cookie ? { cookie } : {}),
    },
    ...(form ? { payload: new URLSearchParams(form).toString() } : {}),
  });
const cookieOf = (answer: Response): string => `studio=${answer.cookies.find((c) => c.name === 'studio')?.value ?? ''}`;

const linkIn = (html: string): string => /\/invitation\/[\w-]{43}/.exec(html)?.[0] ?? '';
const codeIn = (html: string): string =>
  /[2-9A-Z]{4}-[2-9A-Z]{4}/.exec(html.replace(/<svg[\s\S]*?<\/svg>/g, ''))?.[0] ?? '';

async function invited(studio: TestStudio, role = 'dyer'): Promise<string> {
  const made = await studio.page.post('/people/invitations', { role, labourRate: '19,50', note: 'Rui' });
  expect(made.status).toBe(201);
  return linkIn(made.text);
}

const addDyer = ({ deps, clock }: TestStudio, name = 'Ana') =>
  insertPerson(deps.db, {
    name,
    role: 'dyer',
    passphraseHash: null,
    labourRateMinorPerHour: null,
    active: 1,
    createdAt: clock.now,
  });

describe('an invitation', () => {
  test('lets one person in, once, under a name and passphrase of their own', async () => {
    const studio = await freshStudio();
    const { app, deps } = studio;
    const link = await invited(studio);
    expect((await visit(app, link)).body).toContain('You are invited as dyer');
    const entered = await visit(app, link, { name: 'Rui', passphrase: 'seven quiet indigo vats' });
    expect([entered.statusCode, entered.headers.location]).toEqual([303, '/']);
    expect((await visit(app, '/fibres', undefined, cookieOf(entered))).statusCode).toBe(200);
    expect((await visit(app, '/people', undefined, cookieOf(entered))).statusCode).toBe(403);
    const rui = deps.db
      .select()
      .from(people)
      .all()
      .find((p) => p.name === 'Rui');
    expect(rui).toMatchObject({ role: 'dyer', labourRateMinorPerHour: 1950, active: 1 });

    expect((await visit(app, link)).statusCode).toBe(404);
    expect((await visit(app, link, { name: 'Eva', passphrase: 'seven quiet indigo vats' })).statusCode).toBe(404);
    expect(deps.db.select().from(people).all()).toHaveLength(2);
    const again = await visit(app, '/sign-in', { name: 'Rui', passphrase: 'seven quiet indigo vats' });
    expect(again.statusCode).toBe(303);
  });

  test('is shown once and kept as a hash', async () => {
    const studio = await freshStudio();
    const link = await invited(studio);
    const token = link.split('/').at(-1) ?? 'x';
    expect((await studio.page.get('/people')).text).not.toContain(token);
    expect(JSON.stringify(studio.deps.db.select().from(invitations).all())).not.toContain(token);
    expect(JSON.stringify(studio.deps.db.select().from(auditEntries).all())).not.toContain(token);
  });

  test('ends after three days, or when it is taken back', async () => {
    const studio = await freshStudio();
    const { app, clock, page, deps } = studio;
    const first = await invited(studio);
    clock.now += 72 * HOUR - 1;
    expect((await visit(app, first)).statusCode).toBe(200);
    clock.now += 1;
    expect((await visit(app, first)).statusCode).toBe(404);

    const second = await invited(studio);
    const id = deps.db.select().from(invitations).all().at(-1)?.id;
    expect((await page.post(`/people/invitations/${id}/revocation`)).status).toBe(303);
    expect((await visit(app, second)).statusCode).toBe(404);
    expect((await page.post(`/people/invitations/${id}/revocation`)).status).toBe(404);
  });

  test.each([
    [{ name: 'INêS', passphrase: 'seven quiet indigo vats' }, 'f-name-error'],
    [{ name: ' ', passphrase: 'seven quiet indigo vats' }, 'f-name-error'],
    [{ name: 'Rui', passphrase: 'short' }, 'f-passphrase-error'],
  ])('%j is answered beside the field, and the link stays good', async (form, error) => {
    const studio = await freshStudio();
    const link = await invited(studio);
    const refused = await visit(studio.app, link, form);
    expect(refused.statusCode).toBe(422);
    expect(refused.body).toContain(error);
    expect(refused.body).not.toContain(form.passphrase);
    expect((await visit(studio.app, link)).statusCode).toBe(200);
  });

  test('used twice at once it lets one in', async () => {
    const studio = await freshStudio();
    const link = await invited(studio);
    const answers = await Promise.all(
      ['Rui', 'Eva', 'Zé'].map((name) => visit(studio.app, link, { name, passphrase: 'seven quiet indigo vats' })),
    );
    expect(answers.map((a) => a.statusCode).sort()).toEqual([303, 404, 404]);
    expect(studio.deps.db.select().from(people).all()).toHaveLength(2);
  });

  test('a made-up link opens nothing', async () => {
    const { app } = await freshStudio();
    expect((await visit(app, `/invitation/${'A'.repeat(43)}`)).statusCode).toBe(404);
  });
});

describe('a bench device', () => {
  async function device(studio: TestStudio): Promise<{ id: string; code: string }> {
    const added = await studio.page.post('/people/bench-devices', { name: 'Tablet at the vats' });
    const id = String(added.headers['location']).split('/').at(-1) ?? '';
    const made = await studio.page.post(`/people/${id}/bench-code`);
    expect(made.status).toBe(201);
    return { id, code: codeIn(made.text) };
  }

  test('signs in by the code on the owner’s screen, typed as people type, and may log and look', async () => {
    const studio = await freshStudio();
    const { app } = studio;
    const { code } = await device(studio);
    const entered = await visit(app, '/bench-device', { code: ` ${code.toLowerCase().replace('-', ' ')} ` });
    expect([entered.statusCode, entered.headers.location]).toEqual([303, '/']);
    const cookie = cookieOf(entered);
    expect((await visit(app, '/lots', undefined, cookie)).statusCode).toBe(200);
    expect((await visit(app, '/fibres', { name: 'x' }, cookie)).statusCode).toBe(403);
    // May log: what it is told is that there is no such lot, not that it may not.
    expect((await visit(app, '/lots/1/log', { kind: 'note' }, cookie)).statusCode).not.toBe(403);
  });

  test('a code works once, for ten minutes, and the newest only', async () => {
    const studio = await freshStudio();
    const { app, clock, page } = studio;
    const { id, code } = await device(studio);
    expect((await visit(app, '/bench-device', { code })).statusCode).toBe(303);
    expect((await visit(app, '/bench-device', { code })).statusCode).toBe(422);
    const second = codeIn((await page.post(`/people/${id}/bench-code`)).text);
    const third = codeIn((await page.post(`/people/${id}/bench-code`)).text);
    expect((await visit(app, '/bench-device', { code: second })).statusCode).toBe(422);
    clock.now += 10 * 60_000;
    expect((await visit(app, '/bench-device', { code: third })).statusCode).toBe(422);
  });

  test('ten wrong codes from one address close the door to it, and to no other', async () => {
    const studio = await freshStudio();
    const { app } = studio;
    const { code } = await device(studio);
    for (let i = 0; i < 10; i++) {
      expect((await visit(app, '/bench-device', { code: `2222-22${10 + i}` })).statusCode).toBe(422);
    }
    expect((await visit(app, '/bench-device', { code })).statusCode).toBe(429);
    const elsewhere = await app.inject({
      method: 'POST',
      url: '/bench-device',
      remoteAddress: '192.168.1.51',
      headers: { host: HOST, origin: `http://${HOST}`, 'content-type': 'application/x-www-form-urlencoded' },
      payload: `code=${code}`,
    });
    expect(elsewhere.statusCode).toBe(303);
  });

  test('has no passphrase link, and a person has no code', async () => {
    const studio = await freshStudio();
    const { id } = await device(studio);
    expect((await studio.page.post(`/people/${id}/passphrase-link`)).status).toBe(409);
    expect((await studio.page.post(`/people/${addDyer(studio).id}/bench-code`)).status).toBe(409);
  });
});

describe('people', () => {
  test('a role counts from the next request on', async () => {
    const studio = await freshStudio();
    const { app, page, deps } = studio;
    const ana = addDyer(studio);
    const cookie = `studio=${openSignIn(deps, ana.id, 'test')}`;
    expect((await visit(app, '/fibres/new', undefined, cookie)).statusCode).toBe(200);
    expect((await page.post(`/people/${ana.id}`, { name: 'Ana', role: 'viewer', labourRate: '21' })).status).toBe(303);
    expect((await visit(app, '/fibres/new', undefined, cookie)).statusCode).toBe(403);
    expect(
      deps.db
        .select()
        .from(people)
        .all()
        .find((p) => p.id === ana.id)?.labourRateMinorPerHour,
    ).toBe(2100);
  });

  test('one who left is out at once, by every way, and may be let in again', async () => {
    const studio = await freshStudio();
    const { app, page, deps } = studio;
    const ana = addDyer(studio);
    const cookie = `studio=${openSignIn(deps, ana.id, 'test')}`;
    const { token } = makeToken(deps, { name: 'sheet', scope: 'read', expiresAt: null }, ana.id);
    const link = linkIn((await page.post(`/people/${ana.id}/passphrase-link`)).text);
    const byToken = async () =>
      (await app.inject({ url: '/api/v1/fibres', headers: { authorization: `Bearer ${token}` } })).statusCode;
    expect([await byToken(), (await visit(app, link)).statusCode]).toEqual([200, 200]);

    expect((await page.post(`/people/${ana.id}/standing`, { active: 'no' })).status).toBe(303);
    expect((await visit(app, '/fibres', undefined, cookie)).statusCode).toBe(303);
    expect([await byToken(), (await visit(app, link)).statusCode]).toEqual([401, 404]);

    expect((await page.post(`/people/${ana.id}/standing`, { active: 'yes' })).status).toBe(303);
    expect((await visit(app, '/fibres', undefined, cookie)).statusCode).toBe(303); // that sign-in stays ended
    expect(await byToken()).toBe(401);
  });

  test('the last owner stays one', async () => {
    const studio = await freshStudio();
    const { page, owner } = studio;
    const demoted = await page.post(`/people/${owner.personId}`, { name: 'Inês', role: 'dyer', labourRate: '' });
    expect(demoted.status).toBe(422);
    expect(demoted.text).toContain('only owner');
    expect((await page.post(`/people/${owner.personId}/standing`, { active: 'no' })).status).toBe(422);
    const other = addDyer(studio);
    await page.post(`/people/${other.id}`, { name: 'Ana', role: 'owner', labourRate: '' });
    expect((await page.post(`/people/${owner.personId}`, { name: 'Inês', role: 'dyer', labourRate: '' })).status).toBe(
      303,
    );
  });

  test('a lost passphrase is replaced by a link, and every device signed out', async () => {
    const studio = await freshStudio();
    const { app, page, deps, owner } = studio;
    const before = `studio=${openSignIn(deps, owner.personId, 'lost phone')}`;
    const link = linkIn((await page.post(`/people/${owner.personId}/passphrase-link`)).text);
    const entered = await visit(app, link, { passphrase: 'seven quiet indigo vats', tokens: 'keep' });
    expect(entered.statusCode).toBe(303);
    expect((await visit(app, '/fibres', undefined, before)).statusCode).toBe(303);
    expect((await visit(app, '/fibres', undefined, cookieOf(entered))).statusCode).toBe(200);
    const old = await visit(app, '/sign-in', { name: 'Inês', passphrase: 'four unrelated words' });
    expect(old.statusCode).toBe(401);
  });
});

describe('one’s own account', () => {
  test('the passphrase is changed by who knows the old one; other devices are signed out', async () => {
    const studio = await freshStudio();
    const { app, page, deps, owner } = studio;
    const other = `studio=${openSignIn(deps, owner.personId, 'other')}`;
    const wrong = await page.post('/account/passphrase', { current: 'no idea at all', passphrase: 'seven quiet vats' });
    expect(wrong.status).toBe(422);
    expect(wrong.text).toContain('f-current-error');
    const right = await page.post('/account/passphrase', {
      current: 'four unrelated words',
      passphrase: 'seven quiet indigo vats',
      tokens: 'keep',
    });
    expect([right.status, right.headers['location']]).toEqual([303, '/account?saved=passphrase']);
    expect((await page.get('/account')).status).toBe(200);
    expect((await visit(app, '/account', undefined, other)).statusCode).toBe(303);
    expect((await visit(app, '/sign-in', { name: 'Inês', passphrase: 'seven quiet indigo vats' })).statusCode).toBe(
      303,
    );
  });

  test('guesses at the old passphrase are throttled', async () => {
    const { page } = await freshStudio();
    const guess = async (i: number) =>
      (await page.post('/account/passphrase', { current: `guess ${i}`, passphrase: 'seven quiet indigo vats' })).status;
    for (let i = 0; i < 6; i++) expect(await guess(i)).toBe(422);
    expect(await guess(6)).toBe(429);
  });

  test('devices are listed and signed out, one’s own by oneself, all by the owner, and nobody else’s', async () => {
    const studio = await freshStudio();
    const { app, page, deps, owner } = studio;
    const ana = addDyer(studio);
    const anas = `studio=${openSignIn(deps, ana.id, 'Mozilla/5.0 (iPad) Safari/605')}`;
    const keyOf = (personId: number): string =>
      deps.db
        .select()
        .from(signIns)
        .all()
        .findLast((s) => s.personId === personId)
        ?.tokenHash.slice(0, 16) ?? '';
    const mine = await visit(app, '/account', undefined, anas);
    expect(mine.body).toContain('Safari on iPad');
    const owners = keyOf(owner.personId);
    expect((await visit(app, `/account/sign-ins/${owners}/revocation`, {}, anas)).statusCode).toBe(404);
    expect((await page.get('/account')).status).toBe(200);
    expect((await page.post(`/people/${ana.id}/sign-ins/${keyOf(ana.id)}/revocation`)).status).toBe(303);
    expect((await visit(app, '/account', undefined, anas)).statusCode).toBe(303);
  });

  test('signing out everywhere else keeps this device', async () => {
    const { app, page, deps, owner } = await freshStudio();
    const other = `studio=${openSignIn(deps, owner.personId, 'other')}`;
    expect((await page.post('/account/other-sign-ins/revocation')).status).toBe(303);
    expect((await page.get('/account')).status).toBe(200);
    expect((await visit(app, '/account', undefined, other)).statusCode).toBe(303);
  });
});

describe('who did what', () => {
  const actions = ({ deps }: TestStudio) =>
    deps.db
      .select()
      .from(auditEntries)
      .all()
      .map((e) => [e.personId, e.door, e.action, e.path, e.status]);

  test('every change is written down by whichever door, refused ones of the signed-in too; looking is not', async () => {
    const studio = await freshStudio();
    const { page, api, app, deps, owner } = studio;
    await page.get('/fibres');
    await page.post('/fibres', { name: 'Linen', class: 'cellulose', kind: 'cloth', uptake: '100' });
    await page.post('/fibres', { name: '', class: 'cellulose', kind: 'cloth' });
    await api.post('/fibres', { name: 'Wool', class: 'protein', kind: 'yarn' });
    const ana = addDyer(studio);
    const cookie = `studio=${openSignIn(deps, ana.id, 'test')}`;
    await visit(app, '/settings/tokens', { name: 'x', scope: 'read' }, cookie);
    const me = owner.personId;
    expect(actions(studio)).toEqual([
      [me, 'page', 'POST /fibres', '/fibres', 303],
      [me, 'api', 'POST /api/v1/fibres', '/api/v1/fibres', 201],
      [ana.id, 'page', 'POST /settings/tokens', '/settings/tokens', 403],
    ]);
    expect(deps.db.select().from(auditEntries).all()[1]?.tokenId).toBeGreaterThan(0);
  });

  test('so are sign-ins, with the person meant, and never a name that may be a passphrase', async () => {
    const studio = await freshStudio();
    const { app, deps, owner } = studio;
    const good = await visit(app, '/sign-in', { name: 'Inês', passphrase: 'four unrelated words' });
    await visit(app, '/sign-in', { name: 'inês', passphrase: 'four unrelated wards' });
    await visit(app, '/sign-in', { name: 'four unrelated words', passphrase: 'Inês' });
    await visit(app, '/sign-out', {}, cookieOf(good));
    const entries = deps.db.select().from(auditEntries).all();
    expect(entries.map((e) => [e.personId, e.action, e.status, e.address])).toEqual([
      [owner.personId, 'POST /sign-in', 303, '192.168.1.50'],
      [owner.personId, 'POST /sign-in', 401, '192.168.1.50'],
      [null, 'POST /sign-in', 401, '192.168.1.50'],
      [owner.personId, 'POST /sign-out', 303, '192.168.1.50'],
    ]);
    expect(JSON.stringify(entries)).not.toContain('unrelated');
  });

  test('the database itself keeps it from being rewritten', async () => {
    const studio = await freshStudio();
    await studio.page.post('/fibres', { name: 'Linen', class: 'cellulose', kind: 'cloth', uptake: '100' });
    const { sqlite } = studio.deps;
    expect(() => sqlite.prepare('update audit_entries set person_id = null').run()).toThrow('never rewritten');
    expect(() => sqlite.prepare('delete from audit_entries').run()).toThrow('never rewritten');
  });

  test('the page names person, action and address, filtered by person; the API says the same', async () => {
    const studio = await freshStudio();
    const { page, api } = studio;
    await page.post('/fibres', { name: 'Linen <b>', class: 'cellulose', kind: 'cloth', uptake: '100' });
    const ana = addDyer(studio);
    const all = (await page.get('/audit')).text;
    expect(all).toContain('fibres: added one');
    expect((await page.get(`/audit?personId=${ana.id}`)).text).toContain('Nothing yet');
    const { body } = await api.get('/audit-entries');
    expect(body.auditEntries[0]).toMatchObject({ action: 'POST /fibres', personName: 'Inês', door: 'page' });
  });

  test('a failing audit does not undo what was answered', async () => {
    const studio = await freshStudio();
    studio.deps.sqlite.exec('drop table audit_entries');
    const saved = await studio.page.post('/fibres', {
      name: 'Linen',
      class: 'cellulose',
      kind: 'cloth',
      uptake: '100',
    });
    expect(saved.status).toBe(303);
  });
});
