import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { randomUUID } from 'node:crypto';
import {
  copyFileSync,
  cpSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  rmSync,
  statSync,
  utimesSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { createInterface } from 'node:readline';
import { setTimeout as wait } from 'node:timers/promises';
import { pathToFileURL } from 'node:url';
import sharp from 'sharp';
import { readConfig } from '../../server/config.ts';
import { openDatabase, openForReading } from '../../server/db/open.ts';
import { makeToken } from '../../server/people/signIn.ts';
import { compiled } from '../support/compiled.ts';
import { closedStudio } from './flips.ts';

/* A second site, tried: Litestream replicates the database of a studio under load into a folder that stands for the other site, and its
   pictures and recordings are copied after it. The machine is killed; the studio is restored from that folder alone. `npm run
   test:replica -- 5` tells, for each kill, how much of what was acknowledged has not come through. */

const { packageRoot } = readConfig({});
const COPY_EVERY_MS = 1000;
const say = (line = ''): void => {
  process.stdout.write(`${line}\n`);
};

/** The program itself; its package has no script that would install it. */
/** Brought on demand and not by `npm ci`: not every registry has it for every platform that the service runs on. */
const PACKAGE = `@flydotio/litestream-${process.platform}-${process.arch}`;
const litestream = (): string =>
  process.env['LITESTREAM_PATH'] ?? join(import.meta.dirname, '../../node_modules', PACKAGE, 'litestream');

const rsync = spawnSync('rsync', ['--version']).status === 0;

/** What `rsync -a` does with files that only ever come: those that are new or of another size or time. */
function copyFiles(from: string, to: string): void {
  for (const folder of ['photos', 'voices']) {
    if (!existsSync(join(from, folder))) continue;
    if (rsync) {
      spawnSync('rsync', ['-a', '--exclude', '.*', `${join(from, folder)}/`, join(to, folder)]);
      continue;
    }
    for (const entry of readdirSync(join(from, folder), { recursive: true, withFileTypes: true })) {
      if (!entry.isFile() || entry.name.startsWith('.')) continue;
      const source = join(entry.parentPath, entry.name);
      const target = join(to, source.slice(from.length));
      const [is, was] = [statSync(source), statSync(target, { throwIfNoEntry: false })];
      if (was && was.size === is.size && Math.abs(was.mtimeMs - is.mtimeMs) < 1000) continue;
      mkdirSync(dirname(target), { recursive: true });
      copyFileSync(source, `${target}.part`);
      utimesSync(`${target}.part`, is.atime, is.mtime);
      cpSync(`${target}.part`, target, { preserveTimestamps: true });
      rmSync(`${target}.part`);
    }
  }
}

async function startService(dataDir: string, replicaDir: string): Promise<{ child: ChildProcess; url: string }> {
  const child = spawn(process.execPath, [compiled('server/main.ts')], {
    cwd: packageRoot,
    env: {
      ...process.env,
      PORT: '0',
      HOST: '127.0.0.1',
      DATA_DIR: dataDir,
      REPLICA_DIR: replicaDir,
      LOG_LEVEL: 'error',
    },
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  const url = await new Promise<string>((resolve, reject) => {
    createInterface({ input: child.stdout }).on('line', (line) => {
      const address = /http:\/\/127\.0\.0\.1:\d+/.exec(line)?.[0];
      if (address) resolve(address);
    });
    child.once('exit', () => reject(new Error('The service did not start.')));
  });
  return { child, url };
}

interface Entry {
  clientId: string;
  at: number;
}

async function writeNotes(
  url: string,
  token: string,
  lotId: number,
  acknowledged: Entry[],
  isOver: () => boolean,
): Promise<void> {
  while (!isOver()) {
    const clientId = randomUUID();
    try {
      const answer = await fetch(`${url}/api/v1/lots/${lotId}/log`, {
        method: 'POST',
        headers: { authorization: `Bearer ${token}`, 'content-type': 'application/json' },
        body: JSON.stringify({ clientId, at: Date.now(), kind: 'note', text: `note ${clientId}` }),
      });
      if (answer.ok) acknowledged.push({ clientId, at: Date.now() });
    } catch {}
    await wait(15);
  }
}

async function writePhotos(url: string, token: string, isOver: () => boolean): Promise<number> {
  let stored = 0;
  while (!isOver()) {
    const background = { r: stored % 256, g: Math.floor(Math.random() * 256), b: Math.floor(Math.random() * 256) };
    const picture = await sharp({ create: { width: 60, height: 40, channels: 3, background } })
      .jpeg()
      .toBuffer();
    const form = new FormData();
    form.append('photo', new Blob([new Uint8Array(picture)], { type: 'image/jpeg' }), 'photo.jpg');
    try {
      const answer = await fetch(`${url}/api/v1/photos`, {
        method: 'POST',
        headers: { authorization: `Bearer ${token}` },
        body: form,
      });
      if (answer.ok) stored += 1;
    } catch {}
    await wait(300);
  }
  return stored;
}

export interface ReplicaRound {
  acknowledged: number;
  lost: number;
  /** From the oldest entry that has not come through to the kill; 0 when all has. */
  lostS: number;
  photos: number;
  /** Pictures that the restored record names and whose file had not been copied yet. */
  photosMissing: number;
  /** What Today said of the replica before the kill. */
  told: { at: number | null; isBehind: boolean } | null;
  /** What verify finds wrong besides those pictures: must be empty. */
  wrong: string[];
}

export async function replicaRound(forMs: number): Promise<ReplicaRound> {
  const folder = mkdtempSync(join(tmpdir(), 'lot-and-shade-replica-'));
  const [dataDir, site, restored] = ['studio', 'site', 'restored'].map((name) => join(folder, name)) as [
    string,
    string,
    string,
  ];
  const children: ChildProcess[] = [];
  try {
    const { owner } = await closedStudio(dataDir);
    const file = join(dataDir, 'studio.sqlite');
    const open = openDatabase(file);
    const deps = { db: open.db, now: Date.now } as Parameters<typeof makeToken>[0];
    const { token } = makeToken(deps, { name: 'replica', scope: 'write', expiresAt: null }, owner.personId);
    const lotId = open.sqlite.prepare("select id from lots where status = 'onBench' limit 1").pluck().get() as number;
    open.sqlite.close();
    rmSync(join(dataDir, 'studio.stamp'));
    const replicaDir = join(site, 'database');
    mkdirSync(replicaDir, { recursive: true });
    const config = join(folder, 'litestream.yml');
    writeFileSync(
      config,
      `dbs:\n  - path: ${file}\n    replicas:\n      - type: file\n        path: ${replicaDir}\n        sync-interval: 1s\n`,
    );
    const service = await startService(dataDir, replicaDir);
    const replication = spawn(litestream(), ['replicate', '-config', config], { stdio: 'ignore' });
    children.push(service.child, replication);
    let over = false;
    const isOver = (): boolean => over;
    const acknowledged: Entry[] = [];
    const copying = (async () => {
      while (!over) {
        copyFiles(dataDir, site);
        await wait(COPY_EVERY_MS);
      }
    })();
    const writing = [1, 2, 3, 4].map(() => writeNotes(service.url, token, lotId, acknowledged, isOver));
    const storing = writePhotos(service.url, token, isOver);
    await wait(forMs);
    const today = await fetch(`${service.url}/api/v1/today`, { headers: { authorization: `Bearer ${token}` } });
    const { replica } = (await today.json()) as { replica: ReplicaRound['told'] };
    // The machine goes: all of it at once.
    const killedAt = Date.now();
    over = true;
    for (const child of children) child.kill('SIGKILL');
    const [, photos] = await Promise.all([copying, storing, ...writing]);

    mkdirSync(restored);
    const back = spawnSync(
      litestream(),
      ['restore', '-o', join(restored, 'studio.sqlite'), pathToFileURL(replicaDir).href],
      { encoding: 'utf8' },
    );
    if (back.status !== 0) throw new Error(`litestream restore: ${back.stderr}`);
    for (const name of ['photos', 'voices'])
      if (existsSync(join(site, name))) cpSync(join(site, name), join(restored, name), { recursive: true });
    const verified = spawnSync(process.execPath, [compiled('server/commands/verify.ts')], {
      cwd: packageRoot,
      env: { ...process.env, DATA_DIR: restored },
      encoding: 'utf8',
    });
    const wrong = verified.stdout
      .split('\n')
      .filter((line) => line.startsWith('WRONG') && !line.includes('every photo is there'));
    if (verified.status === 2) wrong.push(verified.stderr);
    const photosMissing = new Set([...verified.stdout.matchAll(/([0-9a-f]{64})\S* is missing/g)].map((m) => m[1])).size;
    const { sqlite } = openForReading(join(restored, 'studio.sqlite'));
    const kept = new Set(sqlite.prepare('select client_id from log_entries').pluck().all() as string[]);
    sqlite.close();
    const sent = acknowledged.filter((e) => e.at <= killedAt);
    const lost = sent.filter((e) => !kept.has(e.clientId));
    const lostS = lost.length === 0 ? 0 : (killedAt - Math.min(...lost.map((e) => e.at))) / 1000;
    return { acknowledged: sent.length, lost: lost.length, lostS, photos, photosMissing, told: replica, wrong };
  } finally {
    for (const child of children) child.kill('SIGKILL');
    rmSync(folder, { recursive: true, force: true });
  }
}

if (process.argv[1] !== undefined && import.meta.url === pathToFileURL(process.argv[1]).href) {
  const rounds = Number(process.argv[2] ?? 5);
  if (!existsSync(litestream()))
    throw new Error(
      `Litestream is not here. Bring it by "npm install --no-save ${PACKAGE}@1.0.1", or say where it is by LITESTREAM_PATH.`,
    );
  say(
    rsync
      ? 'Files go by rsync.'
      : 'There is no rsync here: files are copied by the test itself, those that are new or of another size or time.',
  );
  say();
  say('kill  acknowledged  not come through  seconds lost  pictures  not copied yet  verify');
  let failed = false;
  for (let round = 1; round <= rounds; round++) {
    const r = await replicaRound(6000 + Math.floor(Math.random() * 6000));
    failed ||= r.wrong.length > 0 || r.told === null || r.told.at === null || r.told.isBehind;
    say(
      `${String(round).padStart(4)}${String(r.acknowledged).padStart(14)}${String(r.lost).padStart(18)}${r.lostS.toFixed(2).padStart(14)}${String(r.photos).padStart(10)}${String(r.photosMissing).padStart(16)}  ${r.wrong.length === 0 ? 'clean' : r.wrong.join('; ')}`,
    );
  }
  process.exitCode = failed ? 1 : 0;
}
