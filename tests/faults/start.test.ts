import { spawnSync } from 'node:child_process';
import {
  chmodSync,
  chownSync,
  closeSync,
  copyFileSync,
  existsSync,
  mkdirSync,
  openSync,
  readdirSync,
  readFileSync,
  statSync,
  truncateSync,
  writeFileSync,
  writeSync,
} from 'node:fs';
import { connect } from 'node:net';
import { join } from 'node:path';
import { describe, expect, test, vi } from 'vitest';
import { readConfig } from '../../server/config.ts';
import { claimDataFolder, StartRefusal } from '../../server/db/dataFolder.ts';
import { checkInBackground } from '../../server/db/integrity.ts';
import { openDatabase } from '../../server/db/open.ts';
import { clockBehindRecord, steadyClock } from '../../server/db/recordClock.ts';
import { freshFolder, NOBODY, start, usedFolder } from '../support/startedService.ts';

const { packageRoot } = readConfig({});

// A start takes seconds on a small machine that does other things beside.
vi.setConfig({ testTimeout: 600_000 });

describe('two services on one data folder', () => {
  test('the second is refused in words and the first goes on', async () => {
    const folder = freshFolder();
    const first = start(folder);
    const url = await first.opened;
    const second = start(folder);
    expect(await second.ended).toBe(3);
    expect(second.said()).toMatch(
      new RegExp(
        `did not start: another Lot & Shade is already running on ${folder} \\(process ${first.child.pid} on `,
      ),
    );
    expect(second.said()).not.toContain('    at ');
    expect((await fetch(`${url}/readyz`)).status).toBe(200);
  });

  test('one that was killed leaves nothing that keeps the next from starting', async () => {
    const folder = freshFolder();
    const first = start(folder);
    await first.opened;
    first.child.kill('SIGKILL');
    await first.ended;
    expect(existsSync(join(folder, 'in-use.txt'))).toBe(true);
    expect(await start(folder).opened).toMatch(/^http/);
  });

  test('a claim that was given up can be made again, and not before', () => {
    const folder = freshFolder();
    const claim = claimDataFolder(folder);
    expect(() => claimDataFolder(folder)).toThrow(StartRefusal);
    claim.release();
    claimDataFolder(folder).release();
    expect(readdirSync(folder)).not.toContain('in-use.txt');
  });
});

describe('a damaged database', () => {
  const damage: Record<string, (file: string) => void> = {
    'something else under its name': (file) => writeFileSync(file, 'a shopping list, not a database\n'.repeat(500)),
    'cut off half-way': (file) => truncateSync(file, Math.floor(statSync(file).size / 2 / 4096) * 4096),
    'written over in the middle': (file) => {
      const handle = openSync(file, 'r+');
      writeSync(handle, Buffer.alloc(40_960, 0xa5), 0, 40_960, 81_920);
      closeSync(handle);
    },
  };
  test.each(Object.keys(damage))('%s: the service says so, does not start, and leaves the file alone', async (kind) => {
    const folder = await usedFolder();
    const file = join(folder, 'studio.sqlite');
    damage[kind]?.(file);
    const before = readFileSync(file);
    const service = start(folder);
    expect(await service.ended).toBe(3);
    expect(service.said()).toContain(`did not start: the database ${file} is damaged (`);
    expect(service.said()).toContain('restore the newest backup');
    expect(service.said()).not.toContain('    at ');
    expect(readFileSync(file).equals(before)).toBe(true);
  });

  test('a file that is large is checked by a process of its own, which finds the damage', async () => {
    const folder = await usedFolder();
    const file = join(folder, 'studio.sqlite');
    expect(await checkInBackground(file).done).toEqual([]);
    damage['written over in the middle']?.(file);
    expect(await checkInBackground(file).done).not.toEqual([]);
  });

  test('one that a newer version wrote is refused in words', async () => {
    const folder = await usedFolder();
    const { sqlite } = openDatabase(join(folder, 'studio.sqlite'));
    sqlite.prepare('insert into __drizzle_migrations (hash, created_at) values (?, ?)').run('later', 9_000_000_000_000);
    sqlite.close();
    const service = start(folder);
    expect(await service.ended).toBe(3);
    expect(service.said()).toContain('written by a newer version of Lot & Shade');
    expect(service.said()).not.toContain('    at ');
  });
});

test('a data folder that cannot be written is refused in words', async () => {
  const folder = await usedFolder();
  const asRoot = process.getuid?.() === 0;
  if (asRoot) {
    chmodSync(folder, 0o755);
    for (const name of readdirSync(folder)) chownSync(join(folder, name), 0, 0);
  } else chmodSync(folder, 0o555);
  const service = start(folder, asRoot ? { uid: NOBODY } : {});
  expect(await service.ended).toBe(3);
  expect(service.said()).toContain(`the data folder ${folder} cannot be written`);
  expect(service.said()).not.toContain('    at ');
});

test('a data folder that is a file is refused in words', async () => {
  const file = join(freshFolder(), 'data');
  writeFileSync(file, '');
  const service = start(file);
  expect(await service.ended).toBe(3);
  expect(service.said()).toContain(`${file} is a file, not a folder`);
});

test('a setting that will not do is refused in words', async () => {
  const service = start(freshFolder(), {}, { PORT: 'eighty' });
  expect(await service.ended).toBe(3);
  expect(service.said()).toContain('did not start: PORT="eighty" will not do');
});

test('whose word counts for where a request comes from is said by number or address; “yes” would be everybody’s', async () => {
  const folder = freshFolder();
  const service = start(folder, {}, { TRUST_PROXY: 'yes' });
  expect(await service.ended).toBe(3);
  expect(service.said()).toContain('did not start: TRUST_PROXY="yes" will not do: say which reverse proxies');
  const named = start(folder, {}, { TRUST_PROXY: '127.0.0.1', HOSTS: 'studio.example' });
  const url = await named.opened;
  expect((await fetch(`${url}/healthz`)).status).toBe(200);
  // Asked for by its address, which is not one of its names.
  expect((await fetch(`${url}/sign-in`, { redirect: 'manual' })).status).toBe(421);
});

test('the terminal of a first run prints a link that holds the code, and nothing else opens the form', async () => {
  const service = start(freshFolder());
  const url = await service.opened;
  await expect.poll(() => service.said(), { timeout: 60_000 }).toMatch(/\n {2}\d{6}\n/);
  const link = new RegExp(`${url}/first-run\\?code=(\\d{6})`).exec(service.said());
  const form = {
    studioName: 'Tide Works',
    currency: 'EUR',
    zone: 'Europe/Lisbon',
    units: 'metric',
    readabilityMg: '10',
    ownerName: 'Inês',
    passphrase: 'four unrelated words',
  };
  const post = (fields: Record<string, string>): Promise<Response> =>
    fetch(`${url}/first-run`, {
      method: 'POST',
      headers: { origin: String(url) },
      body: new URLSearchParams(fields),
      redirect: 'manual',
    });
  // From this very machine, as a proxy on it would connect.
  expect((await post(form)).status).toBe(422);
  const shown = await (await fetch(link?.[0] ?? '')).text();
  expect(shown).toContain(`name="code" value="${link?.[1]}"`);
  expect((await post({ ...form, code: link?.[1] ?? '' })).status).toBe(303);
});

test('a port that is in use is worth another try', async () => {
  const first = start(freshFolder());
  const { port } = new URL((await first.opened) ?? '');
  const second = start(freshFolder(), {}, { PORT: port });
  expect(await second.ended).toBe(1);
  expect(second.said()).toContain(`did not start: port ${port} is in use`);
});

describe('a Node that is too old', () => {
  const pretend = `data:text/javascript,Object.defineProperty(process.versions, 'node', { value: '20.20.2' })`;

  test('is refused in words, before anything is opened, where no other was brought', () => {
    const bare = freshFolder();
    mkdirSync(join(bare, 'server'));
    for (const name of ['package.json', 'server/launch.js']) copyFileSync(join(packageRoot, name), join(bare, name));
    const { status, stderr } = spawnSync(process.execPath, ['--import', pretend, join(bare, 'server', 'launch.js')], {
      env: { ...process.env, DATA_DIR: join(bare, 'data'), PORT: '0' },
      encoding: 'utf8',
    });
    expect(status).toBe(3);
    expect(stderr).toMatch(/^Lot & Shade did not start: it needs Node \d+\.\d+ or later, and this is Node 20\.20\.2\./);
    expect(stderr).not.toContain('    at ');
    expect(readdirSync(bare).sort()).toEqual(['package.json', 'server']);
  });
});

describe('SIGTERM', () => {
  test('what is under way is answered first; the folder is given up', async () => {
    const folder = freshFolder();
    const service = start(folder);
    const url = new URL((await service.opened) ?? '');
    const body = JSON.stringify({ goodsDryMassG: 100, depthPct: 2 });
    const socket = connect({ host: url.hostname, port: Number(url.port) });
    let answer = '';
    socket.on('data', (chunk: Buffer) => {
      answer += chunk.toString();
    });
    const closed = new Promise((resolve) => socket.once('close', resolve));
    const head = `POST /api/v1/calc/dye-mass HTTP/1.1\r\nhost: ${url.host}\r\ncontent-type: application/json\r\nconnection: close\r\ncontent-length: ${body.length}\r\n\r\n`;
    socket.write(head + body.slice(0, 10));
    // Another request, answered: by then the service has read the head of the first.
    await fetch(new URL('/healthz', url), { headers: { connection: 'close' } });
    service.child.kill('SIGTERM');
    await new Promise<void>((resolve) => {
      const look = (): void => {
        if (service.said().includes('SIGTERM: finishing what is under way')) resolve();
      };
      service.child.stdout?.on('data', look);
      look();
    });
    socket.write(body.slice(10));
    await closed;
    expect(answer).toMatch(/^HTTP\/1\.1 200 /);
    expect(answer).toContain('{"massG":2}');
    expect(await service.ended).toBe(0);
    expect(existsSync(join(folder, 'in-use.txt'))).toBe(false);
    expect(existsSync(join(folder, 'studio.sqlite-wal'))).toBe(false);
  });
});

describe('the clock', () => {
  test('set back a little it stands still; set back a lot it is followed, with a warning', () => {
    let machine = 1_000_000_000_000;
    const warnings: string[] = [];
    const now = steadyClock(
      () => machine,
      (words) => warnings.push(words),
    );
    expect(now()).toBe(1_000_000_000_000);
    machine -= 90_000;
    expect(now()).toBe(1_000_000_000_000);
    machine += 90_001;
    expect(now()).toBe(1_000_000_000_001);
    machine -= 86_400_000;
    expect(now()).toBe(machine);
    expect(warnings).toHaveLength(1);
    expect(warnings[0]).toContain('set back by 86400 s');
    expect(now()).toBe(machine);
    expect(warnings).toHaveLength(1);
  });

  test('behind the newest entry it is said at start', () => {
    const newest = Date.UTC(2026, 2, 16, 9);
    expect(clockBehindRecord(newest + 1, newest)).toBeNull();
    expect(clockBehindRecord(0, null)).toBeNull();
    expect(clockBehindRecord(Date.UTC(1970, 0, 1), newest)).toContain('says 1970-01-01T00:00:00.000Z');
  });
});
