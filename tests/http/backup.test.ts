import { execFileSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import {
  appendFileSync,
  copyFileSync,
  cpSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  symlinkSync,
  truncateSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setImmediate as nextTurn } from 'node:timers/promises';
import sharp from 'sharp';
import { describe, expect, onTestFinished, test } from 'vitest';
import { ArchiveDamage, readArchive, writeArchive } from '../../server/backup/archive.ts';
import { backUpWhenDue } from '../../server/backup/daily.ts';
import { isDailyDue, lastOccurrence } from '../../server/backup/dueTimes.ts';
import { listRuns } from '../../server/backup/queries.ts';
import { restoreArchive } from '../../server/backup/restore.ts';
import { theStudioKey } from '../../server/backup/studioKey.ts';
import { clearLeftovers, takeBackup } from '../../server/backup/takeBackup.ts';
import { verdict, verifyStudio } from '../../server/backup/verify.ts';
import { applyMigrations, newestMigrationAt } from '../../server/db/migrate.ts';
import { isOpenElsewhere, type OpenDatabase, openDatabase, openForReading } from '../../server/db/open.ts';
import type { Deps } from '../../server/deps.ts';
import { storePhoto } from '../../server/photos/store.ts';
import { receive } from '../../server/stock/ledger.ts';
import { freshDeps, freshStudio, MONDAY, type TestStudio } from '../support/app.ts';
import { startServer } from '../support/browser.ts';
import { compiled } from '../support/compiled.ts';
import { makeWorld, type World } from '../support/world.ts';

const HOUR = 3_600_000;
const KEY = '0123456789ABCDEFGHJKMNPQRSTVWXYZ';
const ROOT = join(import.meta.dirname, '..', '..');

function freshFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'lot-and-shade-backup-'));
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  return folder;
}

const photo = (shade: number): Promise<Buffer> =>
  sharp({ create: { width: 80, height: 60, channels: 3, background: { r: shade, g: 90, b: 120 } } })
    .jpeg()
    .toBuffer();

/** A studio with something of everything that a backup must keep. */
async function workedStudio(): Promise<TestStudio & { world: World }> {
  const studio = await freshStudio();
  const world = makeWorld(studio);
  for (const shade of [20, 200]) await storePhoto(studio.deps, await photo(shade), studio.owner);
  mkdirSync(join(studio.deps.config.dataDir, 'voices', 'ab'), { recursive: true });
  const voice = Buffer.from('RIFF, said the vat');
  const sha256 = createHash('sha256').update(voice).digest('hex');
  mkdirSync(join(studio.deps.config.dataDir, 'voices', sha256.slice(0, 2)), { recursive: true });
  writeFileSync(join(studio.deps.config.dataDir, 'voices', sha256.slice(0, 2), `${sha256}.wav`), voice);
  studio.deps.sqlite
    .prepare(
      "insert into voices (sha256, media_type, byte_size, stored_at, stored_by) values (?, 'audio/wav', ?, 1, ?)",
    )
    .run(sha256, voice.length, studio.owner.personId);
  return { ...studio, world };
}

/** A lot dyed by the world's recipe: one reading voided, one discarded, two hours of labour. */
async function finishedLot({ api, owner }: TestStudio, w: World): Promise<number> {
  const made = await api.post('/lots', {
    fibreId: w.linenId,
    methodId: w.methodId,
    goodsText: '24 napkins',
    pieces: 24,
    goodsOwner: 'studio',
    mass: { found: 'weighedDry', massMg: 1_200_000 },
    colours: [{ revisionId: w.revisionId, depthPpm: 20_000 }],
  });
  expect(made.status, made.text).toBe(201);
  const { lotId } = made.body;
  const stock: Record<string, number> = {
    RB: w.stock.blue.id,
    RY: w.stock.yellow.id,
    RR: w.stock.red.id,
    SODA: w.stock.soda.id,
    SALT: w.stock.salt.id,
  };
  const weigh = (l: { componentId: number; code: string }, amount: number, clientId: string) =>
    api.post(`/lots/${lotId}/weighings`, {
      componentId: l.componentId,
      stockLotId: stock[l.code],
      massMg: amount,
      confirmed: true,
      clientId,
    });
  const { lines } = (await api.get(`/lots/${lotId}`)).body;
  await weigh(lines[0], 99_000, 'mistaken-1');
  const mistaken = (await api.get(`/lots/${lotId}`)).body.log.find((e: { kind: string }) => e.kind === 'weighing');
  const voided = await api.post(`/log/${mistaken.logEntryId ?? mistaken.entryId ?? mistaken.id}/voiding`, {
    reason: 'a slip of the keys',
    clientId: 'voiding-1',
  });
  expect(voided.status, voided.text).toBeLessThan(300);
  for (const l of lines) await weigh(l, l.planned, `weigh-${l.code}-1`);
  const done = await api.post(`/lots/${lotId}/outcome`, {
    firstQuality: 24,
    labour: [{ personId: owner.personId, durationS: 7200 }],
    clientId: 'finish-0001',
  });
  expect(done.status, done.text).toBe(201);
  return lotId;
}

const migrations = (deps: Deps): string => join(deps.config.packageRoot, 'migrations');

const restore = (deps: Deps, file: string, dataDir: string) =>
  restoreArchive({
    file,
    dataDir,
    keepAs: 'before-restore',
    newestMigration: newestMigrationAt(migrations(deps)),
    check: () => undefined,
  });

function openIn(dataDir: string): OpenDatabase {
  const open = openDatabase(join(dataDir, 'studio.sqlite'));
  onTestFinished(() => {
    open.sqlite.close();
  });
  return open;
}

/** Written by the backup and the restore themselves, and the ways in, which a restore ends. */
const NOT_THE_SAME = new Set([
  'record_links',
  'table_sums',
  'backup_runs',
  'audit_entries',
  'restores',
  'restored_standings',
  'people',
  'sign_ins',
  'api_tokens',
  'invitations',
]);

/** The rows of every table, each as text, in the order in which they were written. */
function rowsOf({ sqlite }: Pick<OpenDatabase, 'sqlite'>): Record<string, string[]> {
  const tables = sqlite
    .prepare("select name from sqlite_master where type = 'table' and name not like 'sqlite_%' order by name")
    .pluck()
    .all() as string[];
  return Object.fromEntries(
    tables
      .filter((t) => !NOT_THE_SAME.has(t))
      .map((t) => [
        t,
        sqlite
          .prepare(`select * from "${t}"`)
          .all()
          .map((row) => JSON.stringify(row)),
      ]),
  );
}

/** Every row of every table, as text. */
function everything(
  { sqlite }: Pick<OpenDatabase, 'sqlite'>,
  except: readonly string[] = ['backup_runs', 'table_sums'],
) {
  const tables = sqlite
    .prepare("select name from sqlite_master where type = 'table' and name not like 'sqlite_%' order by name")
    .pluck()
    .all() as string[];
  return Object.fromEntries(
    tables
      .filter((t) => !except.includes(t))
      .map((t) => [t, JSON.stringify(sqlite.prepare(`select * from "${t}"`).all())]),
  );
}

const filesBelow = (folder: string): string[] =>
  readdirSync(folder, { recursive: true, withFileTypes: true })
    .filter((e) => e.isFile())
    .map((e) => join(e.parentPath, e.name).slice(folder.length + 1))
    .sort();

describe('a backup', () => {
  test('restores into an empty folder to the same studio, row for row and byte for byte', async () => {
    const { deps, world: _ } = await workedStudio();
    const { file, fileCount } = await takeBackup(deps, { how: 'button', by: null });
    expect(fileCount).toBe(1 + 4 + 1); // database, two photos in two sizes, one recording
    const dataDir = join(freshFolder(), 'data');
    const { keptIn, manifest } = await restore(deps, file, dataDir);
    expect([keptIn, manifest.studioName]).toEqual([null, 'Test Works']);
    const restored = openIn(dataDir);
    expect(everything(restored)).toEqual(everything(deps));
    for (const folder of ['photos', 'voices']) {
      const [was, is] = [join(deps.config.dataDir, folder), join(dataDir, folder)];
      expect(filesBelow(is)).toEqual(filesBelow(was));
      for (const name of filesBelow(was)) expect(readFileSync(join(is, name))).toEqual(readFileSync(join(was, name)));
    }
    expect(verdict(await verifyStudio(restored.db, dataDir))).toMatchObject({ isWell: true });
    expect(filesBelow(deps.config.dataDir).filter((f) => f.includes('.backup-'))).toEqual([]);
  });

  test('is a zip file that other programs read, with the manifest as text', async () => {
    const { deps } = await workedStudio();
    const { file } = await takeBackup(deps, { how: 'button', by: null });
    // Python's own zip module, where there is one: no reader of ours.
    const listed = execFileSync('python3', ['-c', PYTHON_CHECK, file], { encoding: 'utf8' });
    expect(listed.trim()).toBe('8 files, every hash as the manifest says');
  });

  test('taken while people write restores on a fresh copy of the service to the studio of that moment, whole, with all that was acknowledged before', {
    timeout: 600_000,
  }, async () => {
    const studio = await workedStudio();
    const { deps, owner, world, api } = studio;
    await finishedLot(studio, world);
    const { db, sqlite } = await onDisk(deps);
    const disk: Deps = { ...deps, db, sqlite };
    // Large enough for many steps of copying.
    const filler = sqlite.prepare('insert into customers (name, note) values (?, ?)');
    sqlite.transaction(() => {
      for (let i = 0; i < 6000; i++) filler.run(`customer ${i}`, 'x'.repeat(1500));
    })();
    let stop = false;
    let acknowledged = 0;
    const writer = (async () => {
      while (!stop) {
        const n = acknowledged + 1;
        receive(
          db,
          {
            code: `W-${String(n).padStart(5, '0')}`,
            kind: 'dye',
            dyeId: world.dyeIds.blue,
            auxiliaryId: null,
            fibreId: null,
            unit: 'mg',
            supplier: '',
            makerLot: '',
            strengthPpm: 1_000_000,
            receivedOn: '2026-03-16',
            openedOn: null,
            bestBeforeOn: null,
            priceMinor: 100,
            freightMinor: 0,
            receivedQuantity: 1000 + n,
            sourceStockLotId: null,
            concPpm: null,
            note: '',
          },
          owner,
          { at: deps.now(), recordedAt: deps.now() },
        );
        acknowledged = n;
        if (n % 5 === 0) await storePhoto(disk, await photo(n % 250), owner);
        await nextTurn();
      }
    })();
    while (acknowledged < 20) await nextTurn();
    const before = acknowledged;
    const { file } = await takeBackup(disk, { how: 'button', by: null });
    const after = acknowledged;
    stop = true;
    await writer;
    expect(after).toBeGreaterThan(before); // people did write meanwhile

    // What a clone has, built and used as the README says: npm run restore, npm run verify, and the service.
    const clone = freshFolder();
    for (const part of ['server', 'views', 'seed', 'static', 'migrations', 'package.json', 'package-lock.json']) {
      cpSync(join(ROOT, part), join(clone, part), { recursive: true });
    }
    symlinkSync(join(ROOT, 'node_modules'), join(clone, 'node_modules'));
    const { DATA_DIR: _, ...env } = process.env;
    const npm = (...args: string[]): string =>
      execFileSync('npm', ['run', '--silent', ...args], {
        cwd: clone,
        env: { ...env, INIT_CWD: clone },
        encoding: 'utf8',
      });
    expect(npm('restore', '--', file, '--key', theStudioKey(deps.config.dataDir))).toContain('Restored Test Works');
    expect(npm('verify')).toContain('All is well');
    const dataDir = join(clone, 'data');
    const restored = openIn(dataDir);

    // Row for row the same; of the tables written meanwhile, the rows up to that moment.
    const written = ['stock_lots', 'stock_ledger', 'photos'];
    const [was, is] = [rowsOf({ sqlite }), rowsOf(restored)];
    expect(Object.keys(is)).toEqual(Object.keys(was));
    for (const [table, rows] of Object.entries(is)) {
      const before = was[table] ?? [];
      expect(rows, table).toEqual(written.includes(table) ? before.slice(0, rows.length) : before);
    }
    // A picture that was being stored at that moment may have its file already and its row not yet.
    expect(filesBelow(join(dataDir, 'photos')).length).toBeGreaterThanOrEqual(2 * (is['photos'] ?? []).length);
    for (const name of filesBelow(join(dataDir, 'photos'))) {
      expect(readFileSync(join(dataDir, 'photos', name))).toEqual(
        readFileSync(join(deps.config.dataDir, 'photos', name)),
      );
    }
    // And to those who ask the service: the same resources, once an owner has come in with the code of the terminal.
    const served = await startServer({ dataDir, main: join(clone, 'dist', 'main.js') });
    try {
      expect(
        (await fetch(`${served.url}/api/v1/lots`, { headers: { authorization: `Bearer ${api.token}` } })).status,
      ).toBe(401);
      const entered = await fetch(`${served.url}/after-restore`, {
        method: 'POST',
        redirect: 'manual',
        headers: { origin: served.url },
        body: new URLSearchParams({
          code: served.firstRunCode,
          ownerId: String(owner.personId),
          passphrase: 'a jar of woad and weld',
        }),
      });
      expect([entered.status, entered.headers.get('location')]).toEqual([303, '/people/after-restore']);
      const cookie = entered.headers.getSetCookie()[0]?.split(';')[0] ?? '';
      for (const path of [
        '/swatches',
        '/recipes',
        '/auxiliaries',
        '/fibres',
        '/methods',
        '/lots',
        '/lots/1',
        '/recipes/1',
      ]) {
        const answer = await fetch(`${served.url}/api/v1${path}`, {
          headers: { cookie },
        });
        expect(answer.status, path).toBe(200);
        // When a lot would be ready is reckoned from now.
        const apart = (text: string): unknown => JSON.parse(text, (key, value) => (key === 'readyAt' ? null : value));
        expect(apart(await answer.text()), path).toEqual(apart((await api.get(path)).text));
      }
    } finally {
      await served.stop();
    }

    const codes = restored.sqlite
      .prepare("select code from stock_lots where code like 'W-%' order by code")
      .pluck()
      .all();
    expect(codes.length).toBeGreaterThanOrEqual(before);
    expect(codes).toEqual(Array.from({ length: codes.length }, (_, i) => `W-${String(i + 1).padStart(5, '0')}`));
    expect(verdict(await verifyStudio(restored.db, dataDir))).toMatchObject({ isWell: true });
  });

  test('made by another process while a server holds the file open is whole too', async () => {
    const { deps } = await workedStudio();
    await onDisk(deps);
    const said = command('backup', deps.config.dataDir);
    const file = said.split('\n')[0] ?? '';
    expect(file).toContain(join(deps.config.dataDir, 'backups', 'studio-'));
    await readArchive(file, null);
    expect(isOpenElsewhere(join(deps.config.dataDir, 'studio.sqlite'))).toBe(true);
  });

  test('keeps the newest, as many as the studio wants, and leaves other files alone', async () => {
    const { deps, clock, page } = await freshStudio();
    await page.post('/settings/backup', {
      daily: 'yes',
      dailyAt: '04:15',
      keepCount: '2',
      warnAfterHours: '30',
      version: '1',
    });
    mkdirSync(deps.config.backupDir, { recursive: true });
    writeFileSync(join(deps.config.backupDir, 'holiday.zip'), 'mine');
    for (let i = 0; i < 4; i++) {
      clock.now += HOUR;
      await takeBackup(deps, { how: 'button', by: null });
    }
    expect(readdirSync(deps.config.backupDir).sort()).toEqual([
      'holiday.zip',
      'studio-2026-03-16-120000.zip',
      'studio-2026-03-16-130000.zip',
    ]);
    expect(listRuns(deps.db, 10).map((r) => r.removedAt !== null)).toEqual([false, false, true, true]);
  });

  test('that cannot be written says why, leaves nothing half-made, and does not count as good', async () => {
    const { deps, page } = await freshStudio();
    writeFileSync(deps.config.backupDir, 'a file where the folder should be');
    await expect(takeBackup(deps, { how: 'button', by: null })).rejects.toThrow();
    expect(listRuns(deps.db, 1)[0]).toMatchObject({ finishedAt: MONDAY, byteSize: null });
    expect(listRuns(deps.db, 1)[0]?.failure).not.toBe('');
    expect((await page.get('/settings/backup')).text).toContain('none yet');
    expect(readdirSync(deps.config.dataDir).filter((f) => f.startsWith('.backup-'))).toEqual([]);
  });
});

test('what a crash left of a backup is cleared away after a day, and nothing else', async () => {
  const { deps, clock } = await freshStudio();
  const { dataDir, backupDir } = deps.config;
  mkdirSync(backupDir, { recursive: true });
  const kept = [
    join(dataDir, 'notes.sqlite'),
    join(backupDir, 'holiday.zip.part'),
    join(backupDir, 'studio-2026-01-01-000000.zip'),
  ];
  const left = [
    join(dataDir, '.backup-1.sqlite'),
    join(dataDir, '.backup-1.sqlite-wal'),
    join(backupDir, 'studio-2026-01-01-000001.zip.part'),
  ];
  for (const file of [...kept, ...left]) writeFileSync(file, 'x');
  // The age of a file is its own; the studio's clock is moved to it.
  clock.now = statSync(left[0] ?? '').mtimeMs + 60_000;
  await clearLeftovers(deps);
  expect([...kept, ...left].every((file) => existsSync(file))).toBe(true);
  clock.now += 24 * HOUR;
  await clearLeftovers(deps);
  expect([kept.every((file) => existsSync(file)), left.some((file) => existsSync(file))]).toEqual([true, false]);
});

describe('a damaged archive is refused, and nothing is touched', () => {
  async function made(): Promise<{ deps: Deps; file: string; dataDir: string }> {
    const { deps } = await workedStudio();
    const { file } = await takeBackup(deps, { how: 'button', by: null });
    const dataDir = join(freshFolder(), 'data');
    mkdirSync(dataDir);
    writeFileSync(join(dataDir, 'studio.sqlite'), 'the studio that is there');
    return { deps, file, dataDir };
  }

  test.each([
    ['cut short', (file: string) => truncateSync(file, readFileSync(file).length - 200)],
    ['cut in half', (file: string) => truncateSync(file, readFileSync(file).length >> 1)],
    ['empty', (file: string) => truncateSync(file, 0)],
    ['with one byte changed', (file: string) => flip(file, 0.4)],
    ['with a byte of a photo changed', (file: string) => flip(file, 0.9)],
    ['with something after its end', (file: string) => appendFileSync(file, Buffer.alloc(70_000))],
  ])('%s', async (_, damage) => {
    const { deps, file, dataDir } = await made();
    damage(file);
    await expect(restore(deps, file, dataDir)).rejects.toThrow(ArchiveDamage);
    expect(filesBelow(dataDir)).toEqual(['studio.sqlite']);
    expect(readFileSync(join(dataDir, 'studio.sqlite'), 'utf8')).toBe('the studio that is there');
  });

  const head = { madeAt: 1, studioName: 'x', serviceVersion: '0', migratedTo: 0 };
  test.each([
    ['../outside.sqlite'],
    ['/etc/outside'],
    ['photos/../../outside'],
    ['photos\\..\\outside'],
    ['config.json'],
    ['photos/ab/readme.txt'],
  ])('a file called %s is no file of a studio', async (path) => {
    const { deps } = await freshDeps();
    const folder = freshFolder();
    const from = join(folder, 'content');
    writeFileSync(from, 'x');
    const file = join(folder, 'made.zip');
    // A writer refuses some of these names itself.
    const written = await writeArchive(
      file,
      head,
      [
        { path: 'studio.sqlite', from },
        { path, from },
      ],
      KEY,
    ).catch(() => null);
    if (written === null) return;
    await expect(restore(deps, file, join(folder, 'data'))).rejects.toThrow(ArchiveDamage);
    expect(existsSync(join(folder, 'outside.sqlite'))).toBe(false);
  });

  test('one of a newer version is refused in a sentence', async () => {
    const { deps } = await freshDeps();
    const folder = freshFolder();
    const from = join(folder, 'content');
    writeFileSync(from, 'x');
    const file = join(folder, 'made.zip');
    await writeArchive(file, { ...head, migratedTo: Number.MAX_SAFE_INTEGER }, [{ path: 'studio.sqlite', from }], KEY);
    await expect(restore(deps, file, join(folder, 'data'))).rejects.toThrow('newer version');
  });
});

describe('restoring over a used studio', () => {
  test('keeps what was there, whole, in a folder of its own', async () => {
    const { deps } = await workedStudio();
    const { file } = await takeBackup(deps, { how: 'button', by: null });
    const dataDir = join(freshFolder(), 'data');
    await restore(deps, file, dataDir);
    const first = openDatabase(join(dataDir, 'studio.sqlite'));
    first.sqlite.prepare("insert into customers (name) values ('only in the used one')").run();
    first.sqlite.close();
    const { keptIn } = await restore(deps, file, dataDir);
    expect(keptIn).toBe(join(dataDir, 'before-restore'));
    const names = (folder: string): unknown[] =>
      openIn(folder).sqlite.prepare("select name from customers where name like 'only%'").pluck().all();
    expect(names(dataDir)).toEqual([]);
    expect(names(keptIn ?? '')).toEqual(['only in the used one']);
    expect(filesBelow(join(keptIn ?? '', 'photos'))).toEqual(filesBelow(join(dataDir, 'photos')));
  });

  test('a second safety copy never overwrites the first: the restore is refused', async () => {
    const { deps } = await workedStudio();
    const { file } = await takeBackup(deps, { how: 'button', by: null });
    const dataDir = join(freshFolder(), 'data');
    await restore(deps, file, dataDir);
    await restore(deps, file, dataDir);
    await expect(restore(deps, file, dataDir)).rejects.toThrow('in the way');
    expect(existsSync(join(dataDir, 'studio.sqlite'))).toBe(true);
  });

  test('by the commands: backup, restore, verify, as a person runs them', async () => {
    const { deps } = await workedStudio();
    const { sqlite } = await onDisk(deps);
    const archive = join(freshFolder(), 'mine.zip');
    command('backup', deps.config.dataDir, archive);
    expect(() => command('restore', deps.config.dataDir, archive)).toThrow(/The server is running/);
    sqlite.close();
    const said = command('restore', deps.config.dataDir, archive);
    expect(said).toContain('Restored Test Works');
    expect(said).toContain('is kept in');
    expect(command('verify', deps.config.dataDir)).toContain('All is well.');
    expect(command('verify', deps.config.dataDir, archive)).toContain('All is well.');
    expect(() => command('verify', deps.config.dataDir, join(deps.config.dataDir, 'none.zip'))).toThrow();
  });
});

describe('every day', () => {
  // Lisbon changes to summer time on 29 March 2026 at 01:00 UTC (European Union's rule: last Sunday in March).
  test.each([
    ['2026-03-16T03:29:59Z', '2026-03-15T03:30:00Z'],
    ['2026-03-16T03:30:00Z', '2026-03-16T03:30:00Z'],
    ['2026-03-29T02:29:00Z', '2026-03-28T03:30:00Z'],
    ['2026-03-29T02:30:00Z', '2026-03-29T02:30:00Z'],
  ])('at %s the last time for it was %s', (now, due) => {
    expect(new Date(lastOccurrence(Date.parse(now), '03:30', 'Europe/Lisbon')).toISOString()).toBe(
      new Date(due).toISOString(),
    );
  });

  const at = (text: string): number => Date.parse(`2026-03-16T${text}:00Z`);
  test.each([
    ['never made', null, null, true],
    ['made since', at('03:31'), at('03:31'), false],
    ['made yesterday only', at('03:31') - 24 * HOUR, at('03:31') - 24 * HOUR, true],
    ['failed half an hour ago', at('08:30'), null, false],
    ['failed an hour ago', at('08:00'), null, true],
    ['made under a clock that ran ahead', at('03:31') + 365 * 24 * HOUR, at('03:31') + 365 * 24 * HOUR, true],
  ])('%s', (_, triedAt, madeAt, due) => {
    expect(isDailyDue({ now: at('09:00'), dailyAt: '03:30', zone: 'Europe/Lisbon', triedAt, madeAt })).toBe(due);
  });

  test('one is made, and no second on the same day; none when switched off', async () => {
    const { deps, clock, page } = await freshStudio();
    expect(await backUpWhenDue(deps)).toBe(true);
    expect(await backUpWhenDue(deps)).toBe(false);
    clock.now += 24 * HOUR;
    expect(await backUpWhenDue(deps)).toBe(true);
    clock.now += 24 * HOUR;
    await page.post('/settings/backup', { dailyAt: '03:30', keepCount: '14', warnAfterHours: '48', version: '1' });
    expect(await backUpWhenDue(deps)).toBe(false);
  });

  test('a new folder without a studio is left alone', async () => {
    const { deps } = await freshDeps();
    expect(await backUpWhenDue(deps)).toBe(false);
  });
});

describe('the backup page', () => {
  test('one button makes an archive, which can be downloaded and is told on the page', async () => {
    const { page, deps } = await workedStudio();
    expect((await page.post('/settings/backups')).status).toBe(303);
    const shown = (await page.get('/settings/backup')).text;
    expect(shown).toContain('16 Mar 2026');
    const href = /\/settings\/backups\/\d+\/file/.exec(shown)?.[0] ?? '';
    const got = await page
      .get(href)
      .buffer(true)
      .parse(binary as never);
    expect(got.headers['content-type']).toBe('application/zip');
    expect(
      createHash('sha256')
        .update(got.body as Buffer)
        .digest('hex'),
    ).toBe(listRuns(deps.db, 1)[0]?.sha256);
    rmSync(join(deps.config.backupDir, 'studio-2026-03-16-090000.zip'));
    expect((await page.get(href)).status).toBe(404);
    expect((await page.get('/settings/backup')).text).toContain('no longer there');
  });

  test.each([
    ['dailyAt', '25:00'],
    ['dailyAt', 'noon'],
    ['keepCount', '0'],
    ['keepCount', 'many'],
    ['warnAfterHours', ''],
  ])('%s “%s” is answered beside the field', async (name, value) => {
    const { page } = await freshStudio();
    const form = { daily: 'yes', dailyAt: '03:30', keepCount: '14', warnAfterHours: '48', version: '1', [name]: value };
    const refused = await page.post('/settings/backup', form);
    expect(refused.status).toBe(422);
    expect(refused.text).toContain(`f-${name}-error`);
  });

  test('Today says when the last good one is older than the studio wants', async () => {
    const { deps, clock, page, api } = await freshStudio();
    const warned = async (): Promise<boolean> =>
      /last good backup is of|no backup of this studio/.test((await page.get('/')).text);
    expect(await warned()).toBe(false); // a new studio has as long for its first
    clock.now += 48 * HOUR + 1;
    expect(await warned()).toBe(true);
    await takeBackup(deps, { how: 'button', by: null });
    expect(await warned()).toBe(false);
    const madeAt = clock.now;
    clock.now += 48 * HOUR;
    expect(await warned()).toBe(false);
    clock.now += 1;
    expect(await warned()).toBe(true);
    expect((await api.get('/today')).body.backup).toMatchObject({ lastGoodAt: madeAt, isOld: true });
  });
});

describe('verify finds what was broken behind the service’s back', () => {
  /** Breaks something with the database's own guards off, then says which rules are broken. */
  async function broken(
    damage: (studio: TestStudio & { world: World; lotId: number }) => void | Promise<void>,
  ): Promise<string[]> {
    const studio = await workedStudio();
    const lotId = await finishedLot(studio, studio.world);
    expect(verdict(await verifyStudio(studio.deps.db, studio.deps.config.dataDir))).toMatchObject({ isWell: true });
    const { sqlite } = studio.deps;
    const triggers = sqlite.prepare("select name, sql from sqlite_master where type = 'trigger'").all() as {
      name: string;
      sql: string;
    }[];
    for (const { name } of triggers) sqlite.exec(`drop trigger "${name}"`);
    sqlite.pragma('foreign_keys = OFF');
    sqlite.pragma('ignore_check_constraints = ON');
    const changes = sqlite.prepare('select total_changes()').pluck();
    const before = changes.get();
    await damage({ ...studio, lotId });
    const isRowChanged = changes.get() !== before;
    for (const { sql } of triggers) sqlite.exec(sql);
    const names = (await verifyStudio(studio.deps.db, studio.deps.config.dataDir))
      .filter((c) => c.wrong.length > 0)
      .map((c) => c.name);
    // Whatever rule it breaks or not, a row that the service did not write is noticed as one.
    expect(names.some((name) => name.endsWith('written'))).toBe(isRowChanged);
    return names.filter((name) => !name.endsWith('written'));
  }
  const run =
    (sql: string) =>
    ({ deps }: TestStudio) => {
      expect(deps.sqlite.prepare(sql).run().changes).toBeGreaterThan(0);
    };

  test.each([
    [
      'a ledger entry that is gone',
      "delete from stock_ledger where kind = 'issue' and weighing_id is not null and id = (select max(id) from stock_ledger where weighing_id is not null)",
      'what was weighed left its container, and what was voided came back',
    ],
    [
      'a receipt that was altered',
      "update stock_ledger set quantity = quantity + 1 where kind = 'receipt' and id = 1",
      'every container was received once, as its first entry says',
    ],
    [
      'a share that was altered',
      'update recipe_components set share_ppm = share_ppm + 1 where ordinal = 1',
      'shares of a recipe add to 100 %, and its depths to the total',
    ],
    [
      'a cost that was altered',
      'update cost_lines set cost_minor = cost_minor + 1 where id = (select min(id) from cost_lines)',
      'every cost line is its quantity × its price',
    ],
    [
      'labour that was altered',
      'update lot_labour set duration_s = duration_s + 60',
      'labour in the cost of a closed lot is what was logged',
    ],
    ['a customer that is gone', 'delete from fibres', 'every reference leads somewhere'],
    ['an outcome that is gone', 'delete from lot_outcomes', 'a finished lot has its outcome and its end in the log'],
  ])('%s', async (_, sql, rule) => {
    expect(await broken(run(sql))).toContain(rule);
  });

  test('a solution whose powder never left its jar', async () => {
    expect(
      await broken((studio) => {
        const { deps, owner, world } = studio;
        receive(
          deps.db,
          {
            code: 'B-1-S1',
            kind: 'dye',
            dyeId: world.dyeIds.blue,
            auxiliaryId: null,
            fibreId: null,
            unit: 'ul',
            supplier: '',
            makerLot: '',
            strengthPpm: 1_000_000,
            receivedOn: '2026-03-16',
            openedOn: null,
            bestBeforeOn: null,
            priceMinor: 0,
            freightMinor: 0,
            receivedQuantity: 100_000,
            sourceStockLotId: world.stock.blue.id,
            concPpm: 10_000,
            note: '',
          },
          owner,
          { at: deps.now(), recordedAt: deps.now() },
        );
      }),
    ).toEqual(['every stock solution took its powder from its source']);
  });

  test('a photo that is gone, and one that was changed', async () => {
    const photos = (studio: TestStudio): string[] =>
      filesBelow(join(studio.deps.config.dataDir, 'photos')).map((f) => join(studio.deps.config.dataDir, 'photos', f));
    expect(await broken((s) => rmSync(photos(s)[0] ?? ''))).toEqual(['every photo is there and unchanged']);
    expect(await broken((s) => flip(photos(s).find((f) => f.includes('-1600')) ?? '', 0.5))).toEqual([
      'every photo is there and unchanged',
    ]);
  });

  test('a recording that was changed', async () => {
    const voice = (s: TestStudio): string => {
      const folder = join(s.deps.config.dataDir, 'voices');
      return join(folder, filesBelow(folder)[0] ?? '');
    };
    expect(await broken((s) => appendFileSync(voice(s), 'x'))).toEqual(['every recording is there and unchanged']);
  });

  test('a file that no row names is a note, not a fault', async () => {
    const { deps } = await workedStudio();
    const left = join(deps.config.dataDir, 'photos', 'ff', `${'f'.repeat(64)}-640.webp`);
    mkdirSync(join(deps.config.dataDir, 'photos', 'ff'), { recursive: true });
    writeFileSync(left, 'left by a power cut');
    const checks = await verifyStudio(deps.db, deps.config.dataDir);
    expect(verdict(checks).isWell).toBe(true);
    expect(checks.flatMap((c) => c.notes)).toEqual([`${left} belongs to nothing`]);
  });

  test('a file that is no longer a database', async () => {
    const { deps } = await workedStudio();
    await onDisk(deps);
    const copy = join(freshFolder(), 'studio.sqlite');
    const { file } = await takeBackup(deps, { how: 'button', by: null });
    const dataDir = join(freshFolder(), 'data');
    await restore(deps, file, dataDir);
    copyFileSync(join(dataDir, 'studio.sqlite'), copy);
    const bytes = readFileSync(copy);
    bytes.fill(0xff, 3 * 4096, 9 * 4096);
    writeFileSync(copy, bytes);
    const open = openForReading(copy);
    onTestFinished(() => {
      open.sqlite.close();
    });
    const checks = await verifyStudio(open.db, dataDir);
    expect(verdict(checks).isWell).toBe(false);
  });
});

/** Another connection, to a file in the data folder that holds what the in-memory studio holds. */
async function onDisk(deps: Deps): Promise<OpenDatabase> {
  const file = join(deps.config.dataDir, 'studio.sqlite');
  await deps.sqlite.backup(file);
  const open = openDatabase(file);
  await applyMigrations(open, migrations(deps));
  onTestFinished(() => {
    open.sqlite.close();
  });
  return open;
}

/** Runs a command as npm does, without the build before it. */
const command = (name: string, dataDir: string, ...args: string[]): string =>
  execFileSync(process.execPath, [compiled(`server/commands/${name}.ts`), ...args], {
    cwd: ROOT,
    env: { ...process.env, DATA_DIR: dataDir, BACKUP_DIR: '', INIT_CWD: ROOT },
    encoding: 'utf8',
    stdio: ['ignore', 'pipe', 'pipe'],
  });

function flip(file: string, where: number): void {
  const bytes = readFileSync(file);
  const at = Math.floor(bytes.length * where);
  bytes[at] = (bytes[at] ?? 0) ^ 0x55;
  writeFileSync(file, bytes);
}

const binary = (response: NodeJS.ReadableStream, done: (error: Error | null, body: Buffer) => void): void => {
  const chunks: Buffer[] = [];
  response.on('data', (chunk: Buffer) => chunks.push(chunk));
  response.on('end', () => done(null, Buffer.concat(chunks)));
};

const PYTHON_CHECK = `
import sys, json, hashlib, zipfile
z = zipfile.ZipFile(sys.argv[1])
assert z.testzip() is None
m = json.loads(z.read('manifest.json'))
for f in m['files']:
    data = z.read(f['path'])
    assert len(data) == f['byteSize'] and hashlib.sha256(data).hexdigest() == f['sha256'], f['path']
print(len(z.namelist()), 'files, every hash as the manifest says')
`;
