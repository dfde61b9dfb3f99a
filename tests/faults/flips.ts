import { randomUUID } from 'node:crypto';
import {
  closeSync,
  copyFileSync,
  cpSync,
  mkdirSync,
  mkdtempSync,
  openSync,
  readSync,
  rmSync,
  statSync,
  truncateSync,
  writeSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import Database from 'better-sqlite3';
import { sowSampleStudio } from '../../seed/studio.ts';
import { verdict } from '../../server/backup/verify.ts';
import { recordEntry } from '../../server/bench/recordEntry.ts';
import { verifyFolder } from '../../server/commands/trying.ts';
import { readConfig } from '../../server/config.ts';
import { watchFile } from '../../server/db/fileWatch.ts';
import { applyMigrations } from '../../server/db/migrate.ts';
import { openDatabase } from '../../server/db/open.ts';
import { noteHeads } from '../../server/db/proof/heads.ts';
import type { Actor, Deps } from '../../server/deps.ts';
import { recordAction } from '../../server/people/audit.ts';
import { setUpStudio } from '../../server/people/firstRun.ts';

/* What a bad disk or a foreign hand does to a studio: one byte of its closed database is turned over, or the write-ahead log that a
   kill has left is cut off somewhere. Whether a row is another than before is read from the files by nothing of the service;
   `verify` must notice every such change and name what was changed. `npm run test:flips -- 200 50 [seed]`. */

export interface FlipOptions {
  flips: number;
  cuts: number;
  seed: number;
  say?: (line: string) => void;
}

interface Tally {
  tried: number;
  /** A row is another than before, or can no longer be read. */
  changed: number;
  /** Of these: the row, or the last of what is missing, is named. */
  named: number;
  /** Of these: noticed, and the table or the damaged page is named. */
  noticed: number;
  /** Nothing that a row holds has changed, and something is reported all the same: an index, a trigger, free space. */
  besides: number;
}
export interface FlipResult {
  flips: Tally;
  cuts: Tally;
  /** Where a change went by unnoticed: must be empty. */
  missed: string[];
}

const newTally = (): Tally => ({ tried: 0, changed: 0, named: 0, noticed: 0, besides: 0 });

/** Chance that is the same for the same seed. */
function dice(seed: number): (below: number) => number {
  let state = seed >>> 0;
  return (below) => {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    return Math.floor((state / 4_294_967_296) * below);
  };
}

/** Every row of every table, byte for byte, by its table and key; null where the file cannot be read to its end. */
function rowsIn(file: string): Map<string, string> | null {
  const sqlite = new Database(file, { readonly: true });
  const rows = new Map<string, string>();
  try {
    const tables = sqlite
      .prepare("select name from sqlite_master where type = 'table' and name not like 'sqlite\\_%' escape '\\'")
      .pluck()
      .all() as string[];
    for (const table of tables) {
      const columns = sqlite.prepare('select name, pk from pragma_table_info(?)').all(table) as {
        name: string;
        pk: number;
      }[];
      const keyed = columns.filter((c) => c.pk > 0 && table !== '__drizzle_migrations').map((c) => `"${c.name}"`);
      const key = keyed.length > 0 ? keyed.join(` || ' ' || `) : 'rowid';
      const held = columns.map((c) => `typeof("${c.name}") || ':' || coalesce(hex(cast("${c.name}" as blob)), '')`);
      for (const [id, content] of sqlite
        .prepare(`select ${key}, ${held.join(` || ',' || `)} from "${table}"`)
        .raw()
        .all() as [string | number, string][])
        rows.set(`${table} ${id}`, content);
    }
    return rows;
  } catch {
    return null;
  } finally {
    sqlite.close();
  }
}

const difference = (before: Map<string, string>, after: Map<string, string>): string[] => [
  ...[...before].filter(([key, content]) => after.get(key) !== content).map(([key]) => key),
  ...[...after.keys()].filter((key) => !before.has(key)),
];

/** The sample studio in a folder, closed. */
export async function closedStudio(dataDir: string): Promise<{ deps: Deps; owner: Actor }> {
  mkdirSync(dataDir, { recursive: true });
  const config = readConfig({ DATA_DIR: dataDir, LOG_LEVEL: 'silent', TZ: 'Europe/Lisbon' });
  const open = openDatabase(join(dataDir, 'studio.sqlite'));
  open.sqlite.pragma('synchronous = OFF');
  await applyMigrations(open, join(config.packageRoot, 'migrations'));
  const deps: Deps = { config, ...open, now: Date.now, newId: randomUUID, firstRunCode: '314159' };
  const input = {
    studioName: 'Test Works',
    currency: 'EUR',
    zone: 'Europe/Lisbon',
    units: 'metric' as const,
    readabilityMg: 10,
    ownerName: 'Inês',
    passphrase: 'four unrelated words',
  };
  const owner: Actor = { personId: await setUpStudio(deps, input), name: 'Inês', role: 'owner' };
  await sowSampleStudio(deps, owner);
  watchFile(open.sqlite).close();
  return { deps, owner };
}

/** A folder as a kill leaves it: entries acknowledged one after another, and none carried over from the write-ahead log. */
async function killedStudio(from: string, dataDir: string, entries: number, owner: Actor): Promise<void> {
  const working = `${dataDir}.at-work`;
  cpSync(from, working, { recursive: true });
  const config = readConfig({ DATA_DIR: working, LOG_LEVEL: 'silent', TZ: 'Europe/Lisbon' });
  const open = openDatabase(join(working, 'studio.sqlite'));
  const watch = watchFile(open.sqlite);
  open.sqlite.pragma('wal_autocheckpoint = 0');
  const deps: Deps = { config, ...open, now: Date.now, newId: randomUUID, firstRunCode: '314159' };
  const lotId = open.sqlite.prepare("select id from lots where status = 'onBench' limit 1").pluck().get() as number;
  const seen = open.sqlite.prepare('update scales set name = ? where id = 1');
  for (let i = 0; i < entries; i++) {
    const what = i % 4;
    if (what === 0) seen.run(`Balance, looked after ${i} times`);
    else if (what === 1)
      recordAction(deps, { personId: 1, door: 'page', action: 'POST /scales', path: '', status: 200, address: '' });
    else
      recordEntry(
        deps,
        { lotId, clientId: randomUUID(), kind: 'note', text: `note ${i}`, stepId: null, photoId: null, at: Date.now() },
        owner,
      );
    noteHeads(open.sqlite);
  }
  mkdirSync(dataDir);
  for (const name of ['studio.sqlite', 'studio.sqlite-wal', 'studio.heads', 'studio.stamp'])
    copyFileSync(join(working, name), join(dataDir, name));
  watch.close();
  rmSync(working, { recursive: true });
}

function turnOver(file: string, at: number, bits: number): void {
  const handle = openSync(file, 'r+');
  const byte = Buffer.alloc(1);
  readSync(handle, byte, 0, 1, at);
  byte[0] = (byte[0] ?? 0) ^ bits;
  writeSync(handle, byte, 0, 1, at);
  closeSync(handle);
}

/** What `npm run verify` would print of a folder. */
async function verified(dataDir: string): Promise<{ said: string; isWell: boolean }> {
  const config = readConfig({ DATA_DIR: dataDir, LOG_LEVEL: 'silent', TZ: 'Europe/Lisbon' });
  const { lines, isWell } = verdict(await verifyFolder(config));
  return { said: lines.join('\n'), isWell };
}

export async function runFlips({ flips, cuts, seed, say = () => undefined }: FlipOptions): Promise<FlipResult> {
  const folder = mkdtempSync(join(tmpdir(), 'lot-and-shade-flips-'));
  const chance = dice(seed);
  const result: FlipResult = { flips: newTally(), cuts: newTally(), missed: [] };
  try {
    const closed = join(folder, 'closed');
    const { owner } = await closedStudio(closed);
    const before = rowsIn(join(closed, 'studio.sqlite'));
    if (before === null) throw new Error('the studio cannot be read');
    const judge = async (tally: Tally, dataDir: string, whole: Map<string, string>, what: string): Promise<void> => {
      const after = rowsIn(join(dataDir, 'studio.sqlite'));
      const changed = after === null ? null : difference(whole, after);
      const { said, isWell } = await verified(dataDir);
      tally.tried += 1;
      if (changed !== null && changed.length === 0) {
        if (!isWell) tally.besides += 1;
        return;
      }
      tally.changed += 1;
      // Proof tables are named by what they prove.
      const names = (changed ?? []).some((key) => new RegExp(`\\b${key}\\b`).test(said));
      if (isWell) result.missed.push(`${what}: ${changed?.join(', ') ?? 'it cannot be read'}`);
      else if (names) tally.named += 1;
      else {
        tally.noticed += 1;
        say(
          `  ${what}: ${changed?.slice(0, 3).join(', ') ?? 'unreadable'} → ${said
            .split('\n')
            .filter((l) => !l.startsWith('ok'))
            .slice(0, 3)
            .join(' ')
            .replace(/\s+/g, ' ')
            .slice(0, 160)}`,
        );
      }
    };
    const tried = join(folder, 'tried');
    const size = statSync(join(closed, 'studio.sqlite')).size;
    cpSync(closed, tried, { recursive: true });
    for (let i = 0; i < flips; i++) {
      const [at, bits] = [chance(size), 1 + chance(255)];
      copyFileSync(join(closed, 'studio.sqlite'), join(tried, 'studio.sqlite'));
      turnOver(join(tried, 'studio.sqlite'), at, bits);
      await judge(result.flips, tried, before, `byte ${at} ^ ${bits}`);
      for (const left of ['-wal', '-shm']) rmSync(join(tried, `studio.sqlite${left}`), { force: true });
    }
    const killed = join(folder, 'killed');
    await killedStudio(closed, killed, 40, owner);
    const cut = join(folder, 'cut');
    cpSync(killed, cut, { recursive: true });
    const whole = rowsIn(join(cut, 'studio.sqlite'));
    if (whole === null) throw new Error('the killed studio cannot be read');
    const logSize = statSync(join(killed, 'studio.sqlite-wal')).size;
    for (let i = 0; i < cuts; i++) {
      rmSync(cut, { recursive: true });
      cpSync(killed, cut, { recursive: true });
      const at = chance(logSize);
      truncateSync(join(cut, 'studio.sqlite-wal'), at);
      await judge(result.cuts, cut, whole, `log cut at ${at} of ${logSize}`);
    }
    return result;
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

if (process.argv[1] !== undefined && import.meta.url === pathToFileURL(process.argv[1]).href) {
  const [flips = 200, cuts = 50, seed = 1] = process.argv.slice(2).map(Number);
  const say = (line: string): void => {
    process.stdout.write(`${line}\n`);
  };
  say(`${flips} bytes turned over, ${cuts} cuts of the log, seed ${seed}`);
  const result = await runFlips({ flips, cuts, seed, say });
  say('');
  say('                    tried  a row changed  named  noticed  missed  no row changed, and reported');
  for (const [name, t] of [
    ['bytes turned over', result.flips],
    ['cuts of the log', result.cuts],
  ] as const) {
    const missed = t.changed - t.named - t.noticed;
    say(
      `${name.padEnd(18)}${String(t.tried).padStart(7)}${String(t.changed).padStart(15)}${String(t.named).padStart(7)}${String(t.noticed).padStart(9)}${String(missed).padStart(8)}${String(t.besides).padStart(30)}`,
    );
  }
  for (const line of result.missed) say(`MISSED ${line}`);
  process.exitCode = result.missed.length > 0 ? 1 : 0;
}
