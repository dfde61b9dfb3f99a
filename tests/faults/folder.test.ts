import { spawnSync } from 'node:child_process';
import { randomUUID } from 'node:crypto';
import {
  copyFileSync,
  existsSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  statSync,
  truncateSync,
  unlinkSync,
  writeFileSync,
} from 'node:fs';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import Database from 'better-sqlite3';
import { beforeAll, describe, expect, test, vi } from 'vitest';
import { readConfig } from '../../server/config.ts';
import { applyMigrations } from '../../server/db/migrate.ts';
import { openDatabase } from '../../server/db/open.ts';
import type { Deps } from '../../server/deps.ts';
import { makeToken, openSignIn } from '../../server/people/signIn.ts';
import { found } from '../support/app.ts';
import { compiled } from '../support/compiled.ts';
import { freshFolder, type Started, start } from '../support/startedService.ts';

const { packageRoot } = readConfig({});

// A start takes seconds on a small machine that does other things beside.
vi.setConfig({ testTimeout: 120_000 });

interface Studio {
  folder: string;
  file: string;
  token: string;
  cookie: string;
}

/** A studio that was worked in: its database, and a picture. */
async function studioFolder(name = 'Tide'): Promise<Studio> {
  const folder = freshFolder();
  const file = join(folder, 'studio.sqlite');
  const open = openDatabase(file);
  await applyMigrations(open, join(packageRoot, 'migrations'));
  const config = readConfig({ DATA_DIR: folder, LOG_LEVEL: 'silent' });
  const deps: Deps = { config, ...open, now: Date.now, newId: randomUUID, firstRunCode: '' };
  const { personId } = found(deps);
  open.sqlite.prepare('insert into customers (name) values (?)').run(name);
  const { token } = makeToken(deps, { name: 'test', scope: 'write', expiresAt: null }, personId);
  const cookie = `studio=${openSignIn(deps, personId, 'test')}`;
  open.sqlite.close();
  mkdirSync(join(folder, 'photos', 'ab'), { recursive: true });
  writeFileSync(join(folder, 'photos', 'ab', `${'a'.repeat(64)}-1600.webp`), 'a picture');
  return { folder, file, token, cookie };
}

const saveFibre = (url: string, { token }: Studio, name: string): Promise<Response> =>
  fetch(`${url}/api/v1/fibres`, {
    method: 'POST',
    headers: { authorization: `Bearer ${token}`, 'content-type': 'application/json' },
    body: JSON.stringify({ name, class: 'cellulose', kind: 'cloth' }),
  });

async function opened(service: Started): Promise<string> {
  const url = await service.opened;
  if (url === undefined) throw new Error(service.said());
  return url;
}

/** Runs it until it has written down which database it works with, and ends it. */
async function workedIn(studio: Studio, how: 'SIGTERM' | 'SIGKILL' = 'SIGTERM'): Promise<void> {
  const service = start(studio.folder);
  await saveFibre(await opened(service), studio, `cloth ${randomUUID()}`);
  service.child.kill(how);
  await service.ended;
}

function verifiedByCommand(folder: string): { status: number | null; stdout: string } {
  const { status, stdout } = spawnSync(process.execPath, [compiled('server/commands/verify.ts')], {
    env: { ...process.env, DATA_DIR: folder },
    encoding: 'utf8',
  });
  return { status, stdout };
}

async function refused(folder: string, words: RegExp, settings: Record<string, string> = {}): Promise<void> {
  const before = readdirSync(folder).filter((name) => !name.startsWith('in-use'));
  const service = start(folder, {}, settings);
  expect(await service.opened, 'it opens').toBeUndefined();
  expect(await service.ended).toBe(3);
  expect(service.said()).toMatch(words);
  expect(service.said()).not.toContain('    at ');
  expect(
    readdirSync(folder).filter((name) => !name.startsWith('in-use')),
    'nothing was made in the folder',
  ).toEqual(before);
}

beforeAll(() => {
  compiled('server/main.ts');
}, 600_000);

describe('a folder that has lost its database is no new studio', () => {
  test('deleted, the pictures still there', async () => {
    const { folder, file } = await studioFolder();
    rmSync(file);
    await refused(folder, /did not start: .*studio\.sqlite is missing, yet a studio has been worked in here: .*photos/);
  });

  test('emptied', async () => {
    const { folder, file } = await studioFolder();
    truncateSync(file, 0);
    await refused(folder, /studio\.sqlite is empty, yet/);
  });

  test('only recordings are left, or only backups on another disk, or only copies from before an upgrade or a restore', async () => {
    const voices = freshFolder();
    mkdirSync(join(voices, 'voices', 'cd'), { recursive: true });
    writeFileSync(join(voices, 'voices', 'cd', `${'c'.repeat(64)}.wav`), 'said');
    await refused(voices, /is missing, yet .*voices/);
    const [data, backups] = [freshFolder(), freshFolder()];
    writeFileSync(join(backups, 'studio-2026-03-16-033000.zip'), 'an archive');
    await refused(data, /is missing, yet .*npm run restore/, { BACKUP_DIR: backups });
    for (const name of ['studio.sqlite.before-0016_questions', 'studio.stamp', 'studio.sqlite-wal']) {
      const folder = freshFolder();
      writeFileSync(join(folder, name), 'something');
      await refused(folder, new RegExp(`is missing, yet .*${name}`));
      expect(readFileSync(join(folder, name), 'utf8')).toBe('something');
    }
    const replaced = freshFolder();
    mkdirSync(join(replaced, 'before-restore-2026-03-16-033000'));
    await refused(replaced, /is missing, yet .*before-restore/);
  });

  test('a sound database in which no studio was ever set up, over pictures', async () => {
    const { folder, file } = await studioFolder();
    rmSync(file);
    const open = openDatabase(file);
    await applyMigrations(open, join(packageRoot, 'migrations'));
    open.sqlite.close();
    await refused(folder, /there is no studio in .*studio\.sqlite, yet/);
  });

  test('an empty folder, and one in which the first-run page was left alone, are new ones', async () => {
    const folder = freshFolder();
    const first = start(folder);
    await opened(first);
    first.child.kill('SIGKILL');
    await first.ended;
    expect(await opened(start(folder))).toMatch(/^http/);
  });
});

describe('a database that is another than the folder last worked with', () => {
  test('an older copy, or another studio’s, is refused until somebody says that it was meant', async () => {
    const studio = await studioFolder();
    await workedIn(studio);
    const older = join(freshFolder(), 'older.sqlite');
    copyFileSync(studio.file, older);
    await workedIn(studio);
    copyFileSync(older, studio.file);
    await refused(studio.folder, /is not the database with which .* has last worked: it was replaced by an older copy/);
    const other = await studioFolder('Other');
    await workedIn(other);
    copyFileSync(other.file, studio.file);
    await refused(studio.folder, /is not the database with which/);
    rmSync(join(studio.folder, 'studio.stamp'));
    expect(await opened(start(studio.folder))).toMatch(/^http/);
  });

  test('a write-ahead log that went missing after the service was killed is missed', async () => {
    const studio = await studioFolder();
    await workedIn(studio, 'SIGKILL');
    const wal = `${studio.file}-wal`;
    expect(existsSync(wal)).toBe(true);
    renameSync(wal, join(studio.folder, 'kept-wal'));
    await refused(studio.folder, /studio\.sqlite-wal is missing\. The service was stopped by force/);
    const { status, stdout } = verifiedByCommand(studio.folder);
    expect([status, stdout]).toEqual([
      1,
      expect.stringMatching(/WRONG {2}nothing that was acknowledged is missing\n.*record/),
    ]);
    renameSync(join(studio.folder, 'kept-wal'), wal);
    expect(await opened(start(studio.folder))).toMatch(/^http/);
  });

  test('a write-ahead log that another program has carried over into the database is not missed', async () => {
    const studio = await studioFolder();
    await workedIn(studio, 'SIGKILL');
    const other = new Database(studio.file);
    other.prepare('select count(*) from fibres').get();
    other.close();
    expect(existsSync(`${studio.file}-wal`)).toBe(false);
    expect(await opened(start(studio.folder))).toMatch(/^http/);
  });

  test('a write-ahead log that was cut off is missed, and what was in it is named', async () => {
    const studio = await studioFolder();
    await workedIn(studio, 'SIGKILL');
    truncateSync(`${studio.file}-wal`, Math.floor(0.6 * statSync(`${studio.file}-wal`).size));
    await refused(studio.folder, /does not hold all that was acknowledged.*missing are/s);
    const { status, stdout } = verifiedByCommand(studio.folder);
    expect([status, stdout]).toEqual([1, expect.stringContaining('missing are')]);
    expect(stdout).not.toContain('All is well');
  });

  test('killed and started again, stopped and started again, and backed up in between, it is the same', async () => {
    const studio = await studioFolder();
    await workedIn(studio, 'SIGKILL');
    // The command is the last to close the file, and takes the write-ahead log with it.
    const backup = spawnSync(process.execPath, [compiled('server/commands/backup.ts')], {
      env: { ...process.env, DATA_DIR: studio.folder, BACKUP_DIR: freshFolder() },
      encoding: 'utf8',
    });
    expect(backup.status, backup.stdout + backup.stderr).toBe(0);
    expect(existsSync(`${studio.file}-wal`)).toBe(false);
    await workedIn(studio);
    await workedIn(studio, 'SIGKILL');
    await workedIn(studio);
  });
});

describe('a database that is taken away while the service runs', () => {
  const ways: Record<string, { by: (studio: Studio, older: string) => void; words: RegExp }> = {
    deleted: { by: ({ file }) => unlinkSync(file), words: /The database file was deleted/ },
    'replaced by an older copy': {
      by: ({ file, folder }, older) => {
        copyFileSync(older, join(folder, 'new'));
        renameSync(join(folder, 'new'), file);
      },
      words: /Another file was put in the place of the database/,
    },
    'written over by an older copy': {
      by: ({ file }, older) => copyFileSync(older, file),
      words: /Something else has written over the database file/,
    },
    emptied: { by: ({ file }) => truncateSync(file, 0), words: /Something else has written over the database file/ },
    'robbed of its write-ahead log': {
      by: ({ file }) => unlinkSync(`${file}-wal`),
      words: /write-ahead log .* was deleted or replaced/,
    },
    'moved away with its folder': {
      by: ({ folder }) => {
        renameSync(folder, `${folder}-away`);
      },
      words: /The database file was deleted, or its folder was taken away/,
    },
  };
  test.each(Object.keys(ways))(
    '%s: nothing is acknowledged any more, every page says why, what can be read is read',
    async (way) => {
      const studio = await studioFolder();
      await workedIn(studio);
      const older = join(freshFolder(), 'older.sqlite');
      copyFileSync(studio.file, older);
      const service = start(studio.folder);
      const url = await opened(service);
      expect((await saveFibre(url, studio, 'Hemp')).status).toBe(201);
      const taken = ways[way];
      taken?.by(studio, older);
      const answer = await saveFibre(url, studio, 'Ramie');
      expect(answer.status).toBe(503);
      expect(await answer.json()).toMatchObject({
        code: 'notTheFile',
        detail: expect.stringMatching(taken?.words ?? /./),
      });
      for (const path of ['/', '/fibres', '/settings', '/nothing-here']) {
        const page = await (await fetch(`${url}${path}`, { headers: { cookie: studio.cookie } })).text();
        expect(page, path).toContain('Nothing can be saved any more.');
      }
      const fibres = await (
        await fetch(`${url}/api/v1/fibres`, { headers: { authorization: `Bearer ${studio.token}` } })
      ).text();
      expect(fibres).toContain('Hemp');
      expect(fibres).not.toContain('Ramie');
      expect((await fetch(`${url}/readyz`)).status).toBe(503);
      expect(service.said()).toMatch(taken?.words ?? /./);
      // Put back or not, it stays so until the next start.
      expect((await saveFibre(url, studio, 'Ramie')).status).toBe(503);
      service.child.kill('SIGTERM');
      expect(await service.ended).toBe(0);
      if (existsSync(`${studio.folder}-away`)) renameSync(`${studio.folder}-away`, studio.folder);
    },
  );

  test('within seconds, also when nobody writes', async () => {
    const studio = await studioFolder();
    const service = start(studio.folder);
    await opened(service);
    unlinkSync(studio.file);
    for (let i = 0; i < 300 && !service.said().includes('The database file was deleted'); i++) await wait(100);
    expect(service.said()).toContain('The database file was deleted');
    // What its write-ahead log held is left for whoever mends it, and the next start does not make a new studio.
    service.child.kill('SIGTERM');
    await service.ended;
    await refused(studio.folder, /is missing, yet/);
  });
});
