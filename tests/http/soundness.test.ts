import { closeSync, openSync, readdirSync, readFileSync, rmSync, writeFileSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, onTestFinished, test } from 'vitest';
import { backupState } from '../../server/backup/backupState.ts';
import { isArchiveTrialDue } from '../../server/backup/dueTimes.ts';
import { listRuns } from '../../server/backup/queries.ts';
import { takeBackup } from '../../server/backup/takeBackup.ts';
import { tryDatabase, tryNewestArchive, tryWhenDue } from '../../server/backup/trials.ts';
import { openDatabase } from '../../server/db/open.ts';
import { shutRestored } from '../../server/people/afterRestore.ts';
import { addBenchDevice, benchCode, invite, passphraseLink } from '../../server/people/invitations.ts';
import { listPeople } from '../../server/people/queries.ts';
import { freshStudio, studioOver, type TestStudio } from '../support/app.ts';
import { makeWorld } from '../support/world.ts';

const HOUR = 3_600_000;
const DAY = 24 * HOUR;

/** A studio whose database is a file. */
async function onDisk(): Promise<TestStudio> {
  const { deps, clock, owner } = await freshStudio();
  makeWorld({ deps, owner } as TestStudio);
  const file = join(deps.config.dataDir, 'studio.sqlite');
  await deps.sqlite.backup(file);
  const open = openDatabase(file);
  onTestFinished(() => {
    open.sqlite.close();
  });
  return studioOver({ ...deps, ...open }, clock, owner);
}

/** Writes over the page of an index on the disk, as a bad sector would. */
function damage({ sqlite }: TestStudio['deps']): void {
  sqlite.pragma('wal_checkpoint(TRUNCATE)');
  const root = sqlite
    .prepare("select rootpage from sqlite_master where name = 'audit_entries_person'")
    .pluck()
    .get() as number;
  const handle = openSync(sqlite.name, 'r+');
  writeSync(handle, Buffer.alloc(4096, 0xa5), 0, 4096, (root - 1) * 4096);
  closeSync(handle);
}

const keepOne = ({ page }: TestStudio) =>
  page.post('/settings/backup', { daily: 'yes', dailyAt: '03:30', keepCount: '1', warnAfterHours: '48', version: '1' });
const archives = ({ deps }: TestStudio): string[] => readdirSync(deps.config.backupDir).sort();

describe('a backup is good once it was tried', () => {
  test('a damaged database makes no archive, thins out none, and is read only from then on', {
    timeout: 300_000,
  }, async () => {
    const studio = await onDisk();
    const { deps, clock, page, api } = studio;
    await takeBackup(deps, { how: 'button', by: null });
    const before = archives(studio);
    await keepOne(studio);
    damage(deps);
    clock.now += HOUR;
    await expect(takeBackup(deps, { how: 'button', by: null })).rejects.toThrow();
    expect(archives(studio)).toEqual(before);
    expect(listRuns(deps.db, 1)[0]?.failure).not.toBe('');
    const refused = await api.post('/fibres', { name: 'Hemp', class: 'cellulose', kind: 'cloth' });
    expect([refused.status, refused.body.code]).toEqual([503, 'damaged']);
    for (const path of ['/', '/fibres'])
      expect((await page.get(path)).text, path).toContain('Nothing can be saved any more.');
    expect((await page.get('/fibres')).status).toBe(200);
    // Arithmetic needs no record.
    expect((await api.post('/calc/dye-mass', { goodsDryMassG: 100, depthPct: 2 })).status).toBe(200);
  });

  test('damage is found by the daily check as well, and the check that finds none is not made again that day', async () => {
    const { deps, clock, page } = await onDisk();
    expect(await tryWhenDue(deps)).toEqual(['database']);
    expect(await tryWhenDue(deps)).toEqual([]);
    damage(deps);
    clock.now += DAY;
    expect(await tryWhenDue(deps)).toEqual(['database']);
    expect((await page.get('/')).text).toContain('The database file is damaged');
    expect(await tryDatabase(deps)).toContain('damaged');
  });

  test('a studio that breaks a rule is archived, and takes no good one’s place', async () => {
    const studio = await onDisk();
    const { deps, clock, page } = studio;
    const { file } = await takeBackup(deps, { how: 'button', by: null });
    const goodAt = clock.now;
    await keepOne(studio);
    deps.sqlite.exec(
      'drop trigger recipe_components_no_update; update recipe_components set share_ppm = share_ppm + 1',
    );
    for (let i = 0; i < 3; i++) {
      clock.now += HOUR;
      expect((await takeBackup(deps, { how: 'button', by: null })).failure).toContain(
        'shares of a recipe add to 100 %',
      );
    }
    expect(archives(studio)).toEqual(['studio-2026-03-16-090000.zip', 'studio-2026-03-16-120000.zip']);
    expect(backupState(deps.db, clock.now)).toMatchObject({ lastGoodAt: goodAt });
    expect((await page.get('/settings/backup')).text).toContain('not good');
    expect(readFileSync(file).length).toBeGreaterThan(0);
  });

  test('a clock that ran ahead does not have the new archives thinned out, nor hides that none is made', async () => {
    const studio = await freshStudio();
    const { deps, clock } = studio;
    await keepOne(studio);
    clock.now += 365 * DAY;
    await takeBackup(deps, { how: 'button', by: null });
    clock.now -= 364 * DAY;
    expect(backupState(deps.db, clock.now).isOld).toBe(true);
    const { file } = await takeBackup(deps, { how: 'button', by: null });
    expect(archives(studio).map((name) => join(deps.config.backupDir, name))).toEqual([file]);
    expect(backupState(deps.db, clock.now).isOld).toBe(false);
  });
});

describe('the newest archive, restored for trial', () => {
  test('passes, leaves nothing behind, and is due again in a week', { timeout: 300_000 }, async () => {
    const { deps, clock, page } = await onDisk();
    const { file } = await takeBackup(deps, { how: 'button', by: null });
    expect(await tryNewestArchive(deps)).toBe('');
    expect(readdirSync(deps.config.dataDir).filter((name) => name.startsWith('.'))).toEqual([]);
    const due = (now: number, startedAt: number): boolean =>
      isArchiveTrialDue({
        now,
        dailyAt: '03:30',
        zone: 'Europe/Lisbon',
        newestFile: file,
        last: { startedAt, file, failure: '' },
      });
    expect([due(clock.now + 6 * DAY, clock.now), due(clock.now + 7 * DAY, clock.now)]).toEqual([false, true]);
    expect(due(clock.now, clock.now + DAY), 'a clock that ran ahead').toBe(true);
    expect((await page.get('/')).text).not.toMatch(/for trial/);
    clock.now += 10 * DAY + 1;
    expect((await page.get('/')).text).toContain('No backup has been restored for trial since');
  });

  test.each<[string, (file: string) => void, string]>([
    ['missing', (file) => rmSync(file), 'It is no longer there.'],
    ['another file under its name', (file) => writeFileSync(file, 'a holiday'), 'its hash differs'],
    ['cut short', (file) => writeFileSync(file, readFileSync(file).subarray(0, 5000)), 'its hash differs'],
  ])('%s: Today says so, to the owner with the way on', { timeout: 300_000 }, async (_, spoil, words) => {
    const { deps, page } = await onDisk();
    const { file } = await takeBackup(deps, { how: 'button', by: null });
    spoil(file);
    expect(await tryNewestArchive(deps)).toContain(words);
    const today = (await page.get('/')).text;
    expect(today).toContain('did not come back when it was restored for trial.');
    expect(today).toContain(words);
  });
});

test('nothing that opened the studio of the archive opens the restored one; an owner opens it by the terminal’s code', async () => {
  const studio = await freshStudio();
  const { deps, owner, page, api, clock } = studio;
  const link = invite(deps, { role: 'dyer', labourRateMinorPerHour: null, note: '' }, owner);
  const lost = passphraseLink(deps, owner.personId, owner);
  const tablet = addBenchDevice(deps, 'tablet');
  const code = benchCode(deps, tablet.id, owner);
  const known = listPeople(deps.db);
  const differing = shutRestored(deps.db, {
    now: clock.now,
    archive: 'studio.zip',
    archiveMadeAt: clock.now - DAY,
    keptIn: '/kept',
    replaced: [
      ...known.map((p) => (p.id === tablet.id ? { ...p, active: 0 } : p)),
      { id: 99, name: 'Rui', role: 'dyer', active: 1, createdAt: 7 },
    ],
  });
  expect(differing.map((d) => [d.name, d.archive?.active ?? null, d.replaced?.active ?? null])).toEqual([
    ['tablet', 1, 0],
    ['Rui', null, 1],
  ]);
  expect((await page.get('/')).status).toBe(303);
  expect((await api.get('/fibres')).status).toBe(401);
  for (const token of [link, lost]) expect((await page.get(`/invitation/${token}`)).status).toBe(404);
  expect((await page.post('/bench-device', { code })).status).toBe(422);
  expect((await page.post('/sign-in', { name: 'Inês', passphrase: 'four unrelated words' })).status).toBe(401);
  expect((await page.get('/sign-in')).headers['location']).toBe('/after-restore');
  const form = { code: deps.firstRunCode, ownerId: String(owner.personId), passphrase: 'a jar of woad and weld' };
  const wrong = await page.post('/after-restore', { ...form, code: '000000' });
  expect(wrong.status).toBe(422);
  expect(wrong.text).toContain('That is not the code in the server’s terminal.');
  expect((await page.post('/after-restore', { ...form, ownerId: String(tablet.id) })).status).toBe(422);
  const entered = await page.post('/after-restore', form);
  expect([entered.status, entered.headers['location']]).toEqual([303, '/people/after-restore']);
  const cookie = String(entered.headers['set-cookie']).split(';')[0] ?? '';
  const shown = (await page.get('/people/after-restore').set('cookie', cookie)).text;
  expect(shown).toContain('tablet has left');
  expect(shown).toContain('Rui');
  expect((await page.get('/').set('cookie', cookie)).text).toContain('The standing of 2 people');
  // Once only.
  expect((await page.post('/after-restore', form)).headers['location']).toBe('/');
  expect((await page.post('/people/after-restore/settlement').set('cookie', cookie)).status).toBe(303);
  expect((await page.get('/').set('cookie', cookie)).text).not.toContain('This studio came out of a backup');
});
