import { spawnSync } from 'node:child_process';
import { existsSync, readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { Secret, TOTP } from 'otpauth';
import { describe, expect, onTestFinished, test } from 'vitest';
import { openDatabase } from '../../server/db/open.ts';
import { codeApps, passkeys, recoveryCodes } from '../../server/db/tables/doors.ts';
import { auditEntries } from '../../server/db/tables/studio.ts';
import { shutRestored } from '../../server/people/afterRestore.ts';
import { hasSecondStep, insertPasskey } from '../../server/people/doorQueries.ts';
import { invitationOf } from '../../server/people/invitations.ts';
import { placeOf } from '../../server/people/passkeys.ts';
import { insertPerson } from '../../server/people/queries.ts';
import { seal, unseal } from '../../server/people/sealed.ts';
import { openSignIn } from '../../server/people/signIn.ts';
import { stepOfCode } from '../../server/people/timeCodes.ts';
import { freshStudio, type TestStudio } from '../support/app.ts';
import { compiled } from '../support/compiled.ts';
import { type Visitor, visitorAt } from '../support/visitor.ts';

const PASSPHRASE = 'four unrelated words';
const MINUTE = 60_000;
const HERE = '/account/second-step';

/** RFC 6238, appendix B: time in seconds, code of eight digits, algorithm. The secrets are '1234567890' repeated to 20, 32 and 64 bytes
 *  (appendix A of its reference implementation). */
const RFC_6238 = [
  [59, '94287082', 'SHA1'],
  [59, '46119246', 'SHA256'],
  [59, '90693936', 'SHA512'],
  [1_111_111_109, '07081804', 'SHA1'],
  [1_111_111_109, '68084774', 'SHA256'],
  [1_111_111_109, '25091201', 'SHA512'],
  [1_111_111_111, '14050471', 'SHA1'],
  [1_111_111_111, '67062674', 'SHA256'],
  [1_111_111_111, '99943326', 'SHA512'],
  [1_234_567_890, '89005924', 'SHA1'],
  [1_234_567_890, '91819424', 'SHA256'],
  [1_234_567_890, '93441116', 'SHA512'],
  [2_000_000_000, '69279037', 'SHA1'],
  [2_000_000_000, '90698825', 'SHA256'],
  [2_000_000_000, '38618901', 'SHA512'],
  [20_000_000_000, '65353130', 'SHA1'],
  [20_000_000_000, '77737706', 'SHA256'],
  [20_000_000_000, '47863826', 'SHA512'],
] as const;
const BYTES = { SHA1: 20, SHA256: 32, SHA512: 64 } as const;
const rfcSecret = (algorithm: keyof typeof BYTES): string =>
  Secret.fromUTF8('1234567890'.repeat(7).slice(0, BYTES[algorithm])).base32;

describe('time-based codes', () => {
  test.each(RFC_6238)('at %i s the code is %s (%s), of step T of RFC 6238', async (seconds, code, algorithm) => {
    const step = await stepOfCode({ secret: rfcSecret(algorithm), code, atMs: seconds * 1000, digits: 8, algorithm });
    expect(step).toBe(Math.floor(seconds / 30));
  });

  test('one step early or late is taken, two are not', async () => {
    const of = { secret: rfcSecret('SHA1'), code: '94287082', digits: 8 };
    // The code of 30 … 59 s.
    expect(await stepOfCode({ ...of, atMs: 0 })).toBe(1);
    expect(await stepOfCode({ ...of, atMs: 89_999 })).toBe(1);
    expect(await stepOfCode({ ...of, atMs: 90_000 })).toBeUndefined();
    expect(await stepOfCode({ ...of, code: '94287083', atMs: 59_000 })).toBeUndefined();
  });
});

/** What an app on a phone shows now. */
const shownAt = (secret: string, atMs: number): string =>
  new TOTP({ secret: Secret.fromBase32(secret), algorithm: 'SHA1', digits: 6, period: 30 }).generate({
    timestamp: atMs,
  });

const signedIn = async ({ app }: Pick<TestStudio, 'app'>, passphrase = PASSPHRASE): Promise<Visitor> => {
  const visitor = visitorAt(app);
  await visitor.post('/sign-in', { name: 'Inês', passphrase, to: '/fibres' });
  return visitor;
};
const codesIn = (html: string): string[] =>
  [...html.matchAll(/<code>([2-9A-Z]{5}(?:-[2-9A-Z]{5}){2})<\/code>/g)].map((m) => m[1] ?? '');

/** Sets an app up as its owner does, and answers its secret and the codes on paper. */
async function withApp(studio: TestStudio, visitor: Visitor): Promise<{ secret: string; paper: string[] }> {
  expect((await visitor.post(`${HERE}/opening`, { current: PASSPHRASE })).statusCode).toBe(303);
  const begun = await visitor.post(`${HERE}/code-app`);
  expect(begun.statusCode).toBe(201);
  const secret = (/<code class="token">([A-Z2-7 ]+)<\/code>/.exec(begun.body)?.[1] ?? '').replaceAll(' ', '');
  // RFC 4226 recommends 160 bits, which are 32 letters of base 32.
  expect(secret).toHaveLength(32);
  const confirmed = await visitor.post(`${HERE}/code-app/confirmation`, { code: shownAt(secret, studio.clock.now) });
  expect(confirmed.statusCode, confirmed.body).toBe(201);
  studio.clock.now += MINUTE;
  return { secret, paper: codesIn(confirmed.body) };
}

describe('codes from an app', () => {
  test('are asked for after the passphrase, and open the studio once each', async () => {
    const studio = await freshStudio();
    const { clock } = studio;
    const { secret, paper } = await withApp(studio, await signedIn(studio));
    expect(new Set(paper).size).toBe(10);

    const first = visitorAt(studio.app);
    const asked = await first.post('/sign-in', { name: 'Inês', passphrase: PASSPHRASE, to: '/fibres' });
    expect([asked.statusCode, asked.headers.location]).toEqual([303, '/second-step']);
    expect(first.cookies.has('studio')).toBe(false);
    expect((await first.get('/fibres')).statusCode).toBe(303);
    expect((await first.get('/second-step')).body).toContain('The second step for Inês');
    const code = shownAt(secret, clock.now);
    const entered = await first.post('/second-step', { code: `${code.slice(0, 3)} ${code.slice(3)}` });
    expect([entered.statusCode, entered.headers.location]).toEqual([303, '/fibres']);
    expect((await first.get('/fibres')).statusCode).toBe(200);

    // The same code, and one of a step before it, seen over the shoulder: used up.
    const second = await signedIn(studio);
    expect((await second.post('/second-step', { code })).statusCode).toBe(422);
    expect((await second.post('/second-step', { code: shownAt(secret, clock.now - 30_000) })).statusCode).toBe(422);
    clock.now += 30_000;
    expect((await second.post('/second-step', { code: shownAt(secret, clock.now) })).statusCode).toBe(303);
  }, 120_000);

  test('without the first step there is no second, and a ticket lasts ten minutes', async () => {
    const studio = await freshStudio();
    const { clock, app } = studio;
    const { secret } = await withApp(studio, await signedIn(studio));
    const stranger = visitorAt(app);
    expect((await stranger.get('/second-step')).headers.location).toBe('/sign-in');
    expect((await stranger.post('/second-step', { code: shownAt(secret, clock.now) })).headers.location).toBe(
      '/sign-in',
    );
    const late = await signedIn(studio);
    clock.now += 10 * MINUTE;
    expect((await late.post('/second-step', { code: shownAt(secret, clock.now) })).headers.location).toBe('/sign-in');
    expect((await late.get('/fibres')).statusCode).toBe(303);
  }, 120_000);

  test('six wrong ones close the second step, for a quarter of an hour, to strangers; not to a known device', async () => {
    const studio = await freshStudio();
    const { clock } = studio;
    const known = await signedIn(studio);
    const { secret } = await withApp(studio, known);
    const stranger = await signedIn(studio);
    for (let i = 0; i < 6; i++)
      expect((await stranger.post('/second-step', { code: `00000 ${i}` })).statusCode).toBe(422);
    expect((await stranger.post('/second-step', { code: shownAt(secret, clock.now) })).statusCode).toBe(429);
    await known.post('/sign-out');
    await known.post('/sign-in', { name: 'Inês', passphrase: PASSPHRASE });
    expect((await known.post('/second-step', { code: shownAt(secret, clock.now) })).statusCode).toBe(303);
  }, 120_000);

  test('nothing is asked for until the app has shown a right code, and a wrong one shows the secret again', async () => {
    const studio = await freshStudio();
    const { deps, owner } = studio;
    const visitor = await signedIn(studio);
    await visitor.post(`${HERE}/opening`, { current: PASSPHRASE });
    const begun = await visitor.post(`${HERE}/code-app`);
    const secret = /<code class="token">([A-Z2-7 ]+)<\/code>/.exec(begun.body)?.[1] ?? '';
    const wrong = await visitor.post(`${HERE}/code-app/confirmation`, { code: '000000' });
    expect(wrong.statusCode).toBe(422);
    expect(wrong.body).toContain(secret);
    expect(hasSecondStep(deps.db, owner.personId)).toBe(false);
    expect((await signedIn(studio)).cookies.has('studio')).toBe(true);
  }, 120_000);

  test('their secret is sealed by a key beside the database, and is in no export', async () => {
    const studio = await freshStudio();
    const { deps, page } = studio;
    const { secret, paper } = await withApp(studio, await signedIn(studio));
    const row = deps.db.select().from(codeApps).get();
    expect(row?.sealedSecret).not.toContain(secret);
    expect(unseal(deps.config.dataDir, row?.sealedSecret ?? '')).toBe(secret);
    const key = join(deps.config.dataDir, 'second-step.key');
    expect(existsSync(key)).toBe(true);
    expect(statSync(key).mode & 0o077).toBe(0);
    // Another key opens nothing, and one that is there is not written over.
    expect(unseal('/nowhere', row?.sealedSecret ?? '')).toBeUndefined();
    const before = readFileSync(key, 'utf8');
    seal(deps.config.dataDir, 'x');
    expect(readFileSync(key, 'utf8')).toBe(before);
    expect(JSON.stringify(deps.db.select().from(recoveryCodes).all())).not.toContain(
      (paper[0] ?? '').replaceAll('-', ''),
    );
    const everything = (await page.get('/settings/export/everything.json')).text;
    for (const table of ['code_apps', 'recovery_codes', 'passkeys', 'known_devices', 'kept_answers'])
      expect(everything).not.toContain(`"${table}"`);
  }, 120_000);
});

describe('codes on paper', () => {
  test('each lets in once when the phone is lost; new ones make the old worthless', async () => {
    const studio = await freshStudio();
    const { paper } = await withApp(studio, await signedIn(studio));
    const [one = '', two = ''] = paper;
    const lost = await signedIn(studio);
    expect((await lost.post('/second-step', { code: one.toLowerCase().replaceAll('-', ' ') })).statusCode).toBe(303);
    const again = await signedIn(studio);
    expect((await again.post('/second-step', { code: one })).statusCode).toBe(422);
    expect((await lost.get(HERE)).body).toContain('Codes on paper left: 9.');

    await lost.post(`${HERE}/opening`, { current: PASSPHRASE });
    const renewed = await lost.post(`${HERE}/recovery-codes`);
    expect(renewed.statusCode).toBe(201);
    expect(codesIn(renewed.body)).toHaveLength(10);
    expect((await again.post('/second-step', { code: two })).statusCode).toBe(422);
    expect((await again.post('/second-step', { code: codesIn(renewed.body)[3] ?? '' })).statusCode).toBe(303);
  }, 120_000);

  test('they are shown once: the page has them no more', async () => {
    const studio = await freshStudio();
    const visitor = await signedIn(studio);
    const { paper } = await withApp(studio, visitor);
    const later = (await visitor.get(HERE)).body;
    for (const code of paper) expect(later).not.toContain(code);
  }, 120_000);
});

describe('changing it', () => {
  test('takes the passphrase, typed within ten minutes on this very sign-in', async () => {
    const studio = await freshStudio();
    const { clock, deps, owner } = studio;
    const visitor = await signedIn(studio);
    expect((await visitor.post(`${HERE}/code-app`)).statusCode).toBe(409);
    expect((await visitor.post(`${HERE}/opening`, { current: 'no idea' })).statusCode).toBe(422);
    await visitor.post(`${HERE}/opening`, { current: PASSPHRASE });
    const other = visitorAt(studio.app, { cookies: { studio: openSignIn(deps, owner.personId, 'other') } });
    expect((await other.post(`${HERE}/code-app`)).statusCode).toBe(409);
    expect((await visitor.post(`${HERE}/code-app`)).statusCode).toBe(201);
    clock.now += 10 * MINUTE;
    expect((await visitor.post(`${HERE}/code-app`)).statusCode).toBe(409);
  }, 120_000);

  test('the other devices, which came in without, are signed out; the last step taken away takes the paper with it', async () => {
    const studio = await freshStudio();
    const { deps, owner } = studio;
    const other = visitorAt(studio.app, { cookies: { studio: openSignIn(deps, owner.personId, 'other') } });
    const visitor = await signedIn(studio);
    await withApp(studio, visitor);
    expect((await other.get('/account')).statusCode).toBe(303);
    expect((await visitor.post(`${HERE}/code-app/removal`)).statusCode).toBe(303);
    expect(deps.db.select().from(recoveryCodes).all()).toEqual([]);
    expect((await signedIn(studio)).cookies.has('studio')).toBe(true);
  }, 120_000);

  test('a link for a new passphrase still asks for the second step', async () => {
    const studio = await freshStudio();
    const { page, owner, clock } = studio;
    const visitor = await signedIn(studio);
    const link =
      /\/invitation\/[\w-]{43}/.exec((await page.post(`/people/${owner.personId}/passphrase-link`)).text)?.[0] ?? '';
    const { secret } = await withApp(studio, visitor);
    const lost = visitorAt(studio.app);
    const chosen = await lost.post(link, { passphrase: 'seven quiet indigo vats', tokens: 'keep' });
    expect([chosen.statusCode, chosen.headers.location]).toEqual([303, '/second-step']);
    expect(lost.cookies.has('studio')).toBe(false);
    expect((await lost.post('/second-step', { code: shownAt(secret, clock.now) })).statusCode).toBe(303);
    expect((await lost.get('/account')).statusCode).toBe(200);
  }, 120_000);
});

describe('owners', () => {
  test('may be asked to have one: without, no other page opens, while scripts go on', async () => {
    const studio = await freshStudio();
    const { deps, page, api, clock } = studio;
    const refused = await page.post('/people/second-step', { required: 'yes' });
    expect(refused.status).toBe(422);
    expect(refused.text).toContain('Set up your own second step first');
    const visitor = await signedIn(studio);
    await withApp(studio, visitor);
    expect((await visitor.post('/people/second-step', { required: 'yes' })).statusCode).toBe(303);

    const person = (name: string, role: 'owner' | 'dyer') =>
      insertPerson(deps.db, {
        name,
        role,
        passphraseHash: null,
        labourRateMinorPerHour: null,
        active: 1,
        createdAt: clock.now,
      });
    const rui = visitorAt(studio.app, { cookies: { studio: openSignIn(deps, person('Rui', 'owner').id, 'x') } });
    for (const url of ['/', '/fibres', '/people', '/settings'])
      expect((await rui.get(url)).headers.location, url).toBe(HERE);
    expect((await rui.post('/fibres', { name: 'Linen', class: 'cellulose', kind: 'cloth' })).statusCode).toBe(403);
    const api403 = await studio.app.inject({
      url: '/api/v1/fibres',
      headers: { cookie: `studio=${rui.cookies.get('studio')}` },
    });
    expect([api403.statusCode, api403.json().code]).toEqual([403, 'secondStepNeeded']);
    const own = await rui.get(HERE);
    expect(own.statusCode).toBe(200);
    expect(own.body).toContain('Owners of this studio need a second step.');
    // Others are not asked, nor are tokens.
    const dyer = visitorAt(studio.app, { cookies: { studio: openSignIn(deps, person('Ana', 'dyer').id, 'x') } });
    expect((await dyer.get('/fibres')).statusCode).toBe(200);
    expect((await api.get('/fibres')).status).toBe(200);
    // The last one cannot be taken away meanwhile.
    expect((await visitor.post(`${HERE}/code-app/removal`)).statusCode).toBe(409);
    expect((await visitor.get('/fibres')).statusCode).toBe(200);
  }, 120_000);

  test('end it for somebody who lost phone and paper, not for themselves', async () => {
    const studio = await freshStudio();
    const { deps, page, owner } = studio;
    const cookies = { studio: openSignIn(deps, owner.personId, 'other') };
    await withApp(studio, visitorAt(studio.app, { cookies }));
    const rui = insertPerson(deps.db, {
      name: 'Rui',
      role: 'owner',
      passphraseHash: null,
      labourRateMinorPerHour: null,
      active: 1,
      createdAt: 0,
    });
    const by = visitorAt(studio.app, { cookies: { studio: openSignIn(deps, rui.id, 'x') } });
    expect((await by.get(`/people/${owner.personId}`)).body).toContain('End the second step');
    expect((await by.post(`/people/${owner.personId}/second-step/removal`)).statusCode).toBe(303);
    expect(hasSecondStep(deps.db, owner.personId)).toBe(false);
    expect((await visitorAt(studio.app, { cookies }).get('/account')).statusCode).toBe(303);
    expect((await page.get('/account')).status).toBe(303);
    expect((await by.post(`/people/${rui.id}/second-step/removal`)).statusCode).toBe(409);
  }, 120_000);
});

test('a restore ends every second step and every device of the archive', async () => {
  const studio = await freshStudio();
  const { deps, owner } = studio;
  const visitor = await signedIn(studio);
  await withApp(studio, visitor);
  insertPasskey(deps.db, {
    personId: owner.personId,
    name: 'phone',
    hostName: 'studio.local',
    credentialId: 'a',
    publicKey: 'b',
    useCount: 0,
    transportsJson: '[]',
    addedAt: 1,
  });
  shutRestored(deps.db, { now: deps.now(), archive: 'x', archiveMadeAt: 1, keptIn: null, replaced: null });
  for (const table of ['passkeys', 'code_apps', 'recovery_codes', 'known_devices'])
    expect(deps.sqlite.prepare(`select count(*) from ${table}`).pluck().get(), table).toBe(0);
  expect(deps.db.select().from(passkeys).all()).toEqual([]);
  const entered = await visitor.post('/after-restore', {
    code: deps.firstRunCode,
    ownerId: String(owner.personId),
    passphrase: 'a jar of woad and weld',
  });
  expect([entered.statusCode, entered.headers.location]).toEqual([303, '/people/after-restore']);
}, 120_000);

test('who has lost everything gets a link in the terminal, while the server may run', async () => {
  const studio = await freshStudio();
  const { deps } = studio;
  const visitor = await signedIn(studio);
  await withApp(studio, visitor);
  await deps.sqlite.backup(join(deps.config.dataDir, 'studio.sqlite'));
  const run = (...args: string[]) =>
    spawnSync(process.execPath, [compiled('server/commands/wayIn.ts'), ...args], {
      env: { ...process.env, DATA_DIR: deps.config.dataDir, HOST: '127.0.0.1', PORT: '8420' },
      encoding: 'utf8',
    });
  expect(run().stderr).toContain('Say for whom: npm run way-in -- NAME. Owners are Inês.');
  expect(run('Nobody').stderr).toContain('Nobody here is called Nobody.');
  const ran = run('inês');
  expect(ran.status, ran.stderr).toBe(0);
  const token = /http:\/\/127\.0\.0\.1:8420\/invitation\/([\w-]{43})\n/.exec(ran.stdout)?.[1] ?? '';
  const open = openDatabase(join(deps.config.dataDir, 'studio.sqlite'));
  onTestFinished(() => {
    open.sqlite.close();
  });
  expect(hasSecondStep(open.db, studio.owner.personId)).toBe(false);
  // The command has the machine's own clock.
  const there = { ...deps, ...open, now: Date.now };
  expect(invitationOf(there, token)).toMatchObject({ kind: 'passphrase', personId: studio.owner.personId });
  expect(open.db.select().from(auditEntries).all().at(-1)).toMatchObject({ action: 'way-in', door: 'command' });
  expect(JSON.stringify(open.db.select().from(auditEntries).all())).not.toContain(token);
}, 120_000);

test('the audit says which steps were taken, and no code', async () => {
  const studio = await freshStudio();
  const { deps, clock } = studio;
  const { secret, paper } = await withApp(studio, await signedIn(studio));
  const visitor = await signedIn(studio);
  await visitor.post('/second-step', { code: '123456' });
  const code = shownAt(secret, clock.now);
  await visitor.post('/second-step', { code });
  const lines = deps.db.select().from(auditEntries).all();
  expect(lines.slice(-3).map((l) => [l.action, l.status, l.detail])).toEqual([
    ['POST /sign-in', 303, 'first of two steps'],
    ['POST /second-step', 422, ''],
    ['POST /second-step', 303, 'second step: code of the app'],
  ]);
  expect(lines.slice(-3).every((l) => l.personId === studio.owner.personId)).toBe(true);
  const all = JSON.stringify(lines);
  for (const secretText of [code, secret, paper[0] ?? 'x']) expect(all).not.toContain(secretText);
}, 120_000);

test('passkeys are for https and for names, and for this computer’s own', () => {
  const at = (protocol: string, host: string) => placeOf({ protocol, host });
  expect(at('https', 'Studio.local:8420')).toEqual({ hostName: 'studio.local', origin: 'https://studio.local:8420' });
  expect(at('http', 'localhost:8420')).toEqual({ hostName: 'localhost', origin: 'http://localhost:8420' });
  for (const [protocol, host] of [
    ['http', 'studio.local:8420'],
    ['https', '192.168.1.20:8420'],
    ['https', '[fd00::1]:8420'],
  ] as const)
    expect(at(protocol, host), host).toBeUndefined();
});
